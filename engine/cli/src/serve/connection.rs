//! The connections of a preview: each has a thread of its own, and there are only so many.

use std::{
    net::{TcpListener, TcpStream},
    sync::{
        Arc,
        atomic::{AtomicUsize, Ordering},
    },
    thread,
    time::Duration,
};

use super::{
    answer::{Answer, answer},
    http::{Response, close, read},
    pages::Pages,
};

/// Takes connections in until the process ends.
pub(super) fn accept(listener: &TcpListener, port: u16, pages: &Arc<Pages>) {
    let open = Arc::new(AtomicUsize::new(0));
    loop {
        let Ok((mut stream, _)) = listener.accept() else {
            // Nothing to be had for the moment, such as a file handle.
            thread::sleep(Duration::from_millis(20));
            continue;
        };
        let _ = stream.set_write_timeout(Some(WRITING));
        let _ = stream.set_nodelay(true);
        let place = Open::take(&open);
        if open.load(Ordering::Relaxed) > MOST_OPEN {
            let _ =
                Response::sentence("503 Service Unavailable", "Too many connections at once.").write(&mut stream, "");
            continue;
        }
        let pages = Arc::clone(pages);
        // A connection that gets no thread is closed.
        let _ = thread::Builder::new().name("connection".to_owned()).spawn(move || {
            handle(stream, port, &pages);
            drop(place);
        });
    }
}

fn handle(mut stream: TcpStream, port: u16, pages: &Pages) {
    let (method, response) = match read(&mut stream) {
        Ok(request) => match answer(&request, port, pages) {
            Answer::Whole(response) => (request.method, Some(response)),
            Answer::Events => return pages.tell(&mut stream),
        },
        Err(fault) => (String::new(), Response::of_fault(&fault)),
    };
    if let Some(response) = response
        && response.write(&mut stream, &method).is_ok()
    {
        close(stream);
    }
}

/// A place among the open connections.
struct Open(Arc<AtomicUsize>);

impl Open {
    fn take(open: &Arc<AtomicUsize>) -> Self {
        open.fetch_add(1, Ordering::Relaxed);
        Self(Arc::clone(open))
    }
}

impl Drop for Open {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Connections that may be open at once.
const MOST_OPEN: usize = 256;
/// How long a client may leave what is written to it unread.
const WRITING: Duration = Duration::from_secs(10);
