//! The preview's server: HTTP/1.1 by `hyper`, one request a connection, all connections on one thread; pages are made on
//! others. There are only so many connections at once, and what a request may weigh and how long it may take is limited.

use std::{future::poll_fn, sync::Arc, time::Duration};

use hyper::{server::conn::http1, service::service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::{
    io::AsyncWrite,
    net::{TcpListener, TcpStream},
    sync::Semaphore,
    time::{sleep, timeout},
};
use tokio_io_timeout::TimeoutStream;

use super::{answer::answer, pages::Pages};

/// Takes connections in until the process ends. One that is too many waits until another has ended.
pub(super) async fn accept(listener: TcpListener, port: u16, pages: Arc<Pages>) {
    let places = Arc::new(Semaphore::new(MOST_OPEN));
    while let Ok(place) = Arc::clone(&places).acquire_owned().await {
        let Ok((stream, _)) = listener.accept().await else {
            // Nothing to be had for the moment, such as a file handle.
            sleep(Duration::from_millis(20)).await;
            continue;
        };
        let pages = Arc::clone(&pages);
        tokio::spawn(async move {
            handle(stream, port, pages).await;
            drop(place);
        });
    }
}

async fn handle(stream: TcpStream, port: u16, pages: Arc<Pages>) {
    let _ = stream.set_nodelay(true);
    let mut stream = TimeoutStream::new(stream);
    stream.set_write_timeout(Some(WRITING));
    let service = service_fn(move |request| Box::pin(answer(request, port, Arc::clone(&pages))));
    let mut connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(PATIENCE)
        .max_headers(HEADERS)
        .max_buf_size(MOST)
        .keep_alive(false)
        .title_case_headers(true)
        .auto_date_header(false)
        .serve_connection(TokioIo::new(Box::pin(stream)), service);
    // What goes wrong here concerns this client alone, who has been told what could be told.
    let _ = poll_fn(|context| connection.poll_without_shutdown(context)).await;
    let mut stream = connection.into_parts().io.into_inner();
    if poll_fn(|context| stream.as_mut().poll_shutdown(context)).await.is_ok() {
        let _ = timeout(LINGER, drop_the_rest(stream.get_ref())).await;
    }
}

/// What a client still sends is read and dropped, so that it has time to read its answer: a connection that is closed before
/// may take the answer with it.
async fn drop_the_rest(stream: &TcpStream) {
    let mut dropped = [0; 4096];
    while stream.readable().await.is_ok() {
        match stream.try_read(&mut dropped) {
            Ok(1..) => {}
            Err(cause) if cause.kind() == std::io::ErrorKind::WouldBlock => {}
            _ => return,
        }
    }
}

/// Connections that may be open at once.
const MOST_OPEN: usize = 256;
/// Bytes that the head of a request may have.
const MOST: usize = 16 * 1024;
/// Headers that it may have.
const HEADERS: usize = 100;
/// How long a head may take to come.
const PATIENCE: Duration = Duration::from_secs(5);
/// How long a client may leave what is written to it unread.
const WRITING: Duration = Duration::from_secs(10);
/// How long a client is waited for that has its answer.
const LINGER: Duration = Duration::from_secs(1);
