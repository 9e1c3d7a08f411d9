//! From a request to its answer. A request that names another host than this preview is refused: a page of another site
//! could have its own name lead here (DNS rebinding), and would then be taken for one of ours.

use benchleaf_core::host::{Host, NoHost};
use benchleaf_publish::{
    folder::Folder,
    live::shared_script,
    preview::{Shown, WORKER},
};

use super::{
    http::{Request, Response},
    pages::Pages,
    place::Resource,
};

/// What a request gets.
pub(super) enum Answer {
    /// This, and the connection is closed.
    Whole(Response),
    /// A stream of what changes.
    Events,
}

/// Answers a request to the preview on this port.
pub(super) fn answer(request: &Request, port: u16, pages: &Pages) -> Answer {
    let refused = |status, sentence: &str| Answer::Whole(Response::sentence(status, sentence));
    if !matches!(request.hosts.as_slice(), [host] if is_own(host, port)) {
        return refused("421 Misdirected Request", "This preview answers to this computer's own name alone.");
    }
    if !matches!(request.method.as_str(), "GET" | "HEAD") {
        let mut response = Response::sentence("405 Method Not Allowed", "A preview is read, and nothing else.");
        response.headers.push_str("Allow: GET, HEAD\r\n");
        return Answer::Whole(response);
    }
    let (path, query) = request.target.split_once('?').unwrap_or((&request.target, ""));
    match path {
        "/_preview/events" if request.method == "GET" => return Answer::Events,
        "/_preview/events" => return refused("200 OK", ""),
        "/_preview/worker.js" => return Answer::Whole(script(WORKER.as_bytes().to_vec())),
        "/" if pages.place().only().is_some() => {
            let headers = format!("Location: {}\r\n", pages.place().front());
            return Answer::Whole(Response {
                headers,
                ..Response::sentence("302 Found", "The worksheet is elsewhere.")
            });
        }
        _ => {}
    }
    let shown = if query == "current" { Shown::Current } else { Shown::Sound };
    let found = match pages.place().resource(path) {
        Some(Resource::Engine) => Some(script(shared_script().into_bytes())),
        Some(page @ (Resource::List | Resource::Sheet(_))) => pages.page(&page, shown).map(html),
        Some(Resource::File(within)) => within.to_str().and_then(|within| picture(pages, within)),
        None => None,
    };
    found.map_or_else(|| refused("404 Not Found", "The preview shows no such page."), Answer::Whole)
}

/// Whether a `Host` header names this computer, at the preview's port.
fn is_own(host: &str, port: u16) -> bool {
    let own = |name: &str| {
        host.eq_ignore_ascii_case(&format!("{name}:{port}")) || port == 80 && host.eq_ignore_ascii_case(name)
    };
    ["127.0.0.1", "localhost"].into_iter().any(own)
}

fn html(page: String) -> Response {
    let headers = "Content-Security-Policy: frame-ancestors 'none'\r\n".to_owned();
    Response { status: "200 OK", content_type: "text/html; charset=utf-8", headers, body: page.into_bytes() }
}

fn script(body: Vec<u8>) -> Response {
    // The worker's own policy; it asks this preview for news, and nobody for anything else.
    let headers = "Content-Security-Policy: default-src 'none'; connect-src 'self'\r\n".to_owned();
    Response { status: "200 OK", content_type: "text/javascript; charset=utf-8", headers, body }
}

/// A picture that is too large to stand in its page.
fn picture(pages: &Pages, within: &str) -> Option<Response> {
    let bytes = Folder::of(&pages.place().folder().join("_"), &NoHost).picture(within).ok()?;
    let content_type = match bytes.as_slice() {
        [0x89, b'P', ..] => "image/png",
        [0xff, 0xd8, ..] => "image/jpeg",
        [b'R', b'I', b'F', b'F', ..] => "image/webp",
        // A drawing always stands in its page, cleaned.
        _ => return None,
    };
    Some(Response { status: "200 OK", content_type, headers: String::new(), body: bytes })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_is_this_computer_at_this_port() {
        for host in ["127.0.0.1:7070", "localhost:7070", "LocalHost:7070"] {
            assert!(is_own(host, 7070), "{host}");
        }
        for host in [
            "",
            "127.0.0.1",
            "localhost:7071",
            "evil.example:7070",
            "127.0.0.1.evil.example:7070",
            "localhost.:7070",
            "0.0.0.0:7070",
        ] {
            assert!(!is_own(host, 7070), "{host}");
        }
        assert!(is_own("localhost", 80) && is_own("127.0.0.1:80", 80));
    }
}
