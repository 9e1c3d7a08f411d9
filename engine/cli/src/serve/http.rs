//! A request as it is read from a connection, and an answer as it is written: HTTP/1.1 (RFC 9112), one request a
//! connection. What a request may weigh and how long it may take is limited; its body is not wanted.

use std::{
    io::{self, Read, Write},
    net::{Shutdown, TcpStream},
    time::{Duration, Instant},
};

/// The head of a request.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Request {
    pub(super) method: String,
    /// Path and query, as written.
    pub(super) target: String,
    /// Every `Host` header.
    pub(super) hosts: Vec<String>,
}

/// Why there is no request.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// It is no HTTP.
    Malformed,
    /// Its head is longer than [`MOST`] bytes, or has more than [`HEADERS`] headers.
    TooLarge,
    /// It did not come in time.
    TooSlow,
    /// The client has gone.
    Gone,
}

/// Reads the head of a request.
pub(super) fn read(stream: &mut TcpStream) -> Result<Request, Fault> {
    let latest = Instant::now() + PATIENCE;
    let mut head = Vec::with_capacity(1024);
    let mut chunk = [0; 4096];
    loop {
        let left = latest.saturating_duration_since(Instant::now());
        if left.is_zero() || stream.set_read_timeout(Some(left)).is_err() {
            return Err(Fault::TooSlow);
        }
        match stream.read(&mut chunk) {
            Ok(0) => return Err(Fault::Gone),
            Ok(length) => head.extend_from_slice(&chunk[..length]),
            Err(cause) if matches!(cause.kind(), io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut) => {
                return Err(Fault::TooSlow);
            }
            Err(cause) if cause.kind() == io::ErrorKind::Interrupted => {}
            Err(_) => return Err(Fault::Gone),
        }
        match parsed(&head) {
            Ok(Some(request)) => return Ok(request),
            Ok(None) if head.len() > MOST => return Err(Fault::TooLarge),
            Ok(None) => {}
            Err(fault) => return Err(fault),
        }
    }
}

/// The request, once its head is whole.
fn parsed(head: &[u8]) -> Result<Option<Request>, Fault> {
    let mut headers = [httparse::EMPTY_HEADER; HEADERS];
    let mut request = httparse::Request::new(&mut headers);
    match request.parse(head) {
        Ok(httparse::Status::Partial) => return Ok(None),
        Ok(httparse::Status::Complete(length)) if length > MOST => return Err(Fault::TooLarge),
        Ok(httparse::Status::Complete(_)) => {}
        Err(httparse::Error::TooManyHeaders) => return Err(Fault::TooLarge),
        Err(_) => return Err(Fault::Malformed),
    }
    let hosts = request.headers.iter().filter(|header| header.name.eq_ignore_ascii_case("host"));
    let hosts = hosts.map(|header| String::from_utf8_lossy(header.value).into_owned()).collect();
    let text = |text: Option<&str>| text.map(str::to_owned).ok_or(Fault::Malformed);
    Ok(Some(Request { method: text(request.method)?, target: text(request.path)?, hosts }))
}

/// What goes back.
#[derive(Debug)]
pub(super) struct Response {
    /// The status, with its reason.
    pub(super) status: &'static str,
    pub(super) content_type: &'static str,
    /// Further headers, each with its line end.
    pub(super) headers: String,
    pub(super) body: Vec<u8>,
}

impl Response {
    /// An answer with a sentence.
    pub(super) fn sentence(status: &'static str, sentence: &str) -> Self {
        let body = format!("{sentence}\n").into_bytes();
        Self { status, content_type: "text/plain; charset=utf-8", headers: String::new(), body }
    }

    /// Of a request that could not be read; nothing where nobody is there to hear it.
    pub(super) fn of_fault(fault: &Fault) -> Option<Self> {
        Some(match fault {
            Fault::Malformed => Self::sentence("400 Bad Request", "This is no request of HTTP/1.1."),
            Fault::TooLarge => {
                Self::sentence("431 Request Header Fields Too Large", "The head of the request is too large.")
            }
            Fault::TooSlow => Self::sentence("408 Request Timeout", "The request did not come in time."),
            Fault::Gone => return None,
        })
    }

    /// Writes it, without its body where the request asks for the head alone.
    pub(super) fn write(&self, stream: &mut TcpStream, method: &str) -> io::Result<()> {
        let Self { status, content_type, headers, body } = self;
        let head = format!(
            "HTTP/1.1 {status}\r\nContent-Type: {content_type}\r\nContent-Length: {}\r\n{headers}{COMMON}\r\n",
            body.len()
        );
        stream.write_all(head.as_bytes())?;
        if method != "HEAD" {
            stream.write_all(body)?;
        }
        stream.flush()
    }
}

/// Closes a connection so that the client has time to read the answer: what it still sends is read and dropped, up to a limit.
pub(super) fn close(mut stream: TcpStream) {
    let latest = Instant::now() + LINGER;
    let _ = stream.shutdown(Shutdown::Write);
    let _ = stream.set_read_timeout(Some(LINGER / 4));
    let mut dropped = [0; 4096];
    while Instant::now() < latest && stream.read(&mut dropped).is_ok_and(|length| length > 0) {}
}

/// Headers of every answer: nothing is kept, guessed, or handed to pages of other sites.
pub(super) const COMMON: &str = "Connection: close\r\nCache-Control: no-store\r\nX-Content-Type-Options: nosniff\r\n\
                                 Cross-Origin-Resource-Policy: same-origin\r\nReferrer-Policy: no-referrer\r\n";
/// Bytes that the head of a request may have.
const MOST: usize = 16 * 1024;
/// Headers that it may have.
const HEADERS: usize = 100;
/// How long a head may take to come.
const PATIENCE: Duration = Duration::from_secs(5);
/// How long a client is waited for that has its answer.
const LINGER: Duration = Duration::from_secs(1);
