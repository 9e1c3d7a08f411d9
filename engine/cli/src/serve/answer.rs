//! From a request to its answer. A request that names another host than this preview is refused: a page of another site
//! could have its own name lead here (DNS rebinding), and would then be taken for one of ours.

use std::{convert::Infallible, sync::Arc};

use benchleaf_core::host::{Host, NoHost};
use benchleaf_publish::{
    folder::Folder,
    live::shared_file,
    marks::INDEX_NAME,
    preview::{Shown, WORKER},
};
use benchleaf_words::key;
use http_body_util::{Either, Full, channel::Channel};
use hyper::{
    Method, Request, Response, StatusCode,
    body::{Bytes, Incoming},
    header::{self, HeaderName, HeaderValue},
};

use super::{pages::Pages, place::Resource};

/// What an answer holds: all of it, or a stream of what changes.
pub(super) type Content = Either<Full<Bytes>, Channel<Bytes>>;

/// Answers a request to the preview on this port.
pub(super) async fn answer(
    request: Request<Incoming>,
    port: u16,
    pages: Arc<Pages>,
) -> Result<Response<Content>, Infallible> {
    let mut hosts = request.headers().get_all(header::HOST).iter();
    let is_own = matches!((hosts.next(), hosts.next()), (Some(host), None) if is_own(host.as_bytes(), port));
    if !is_own {
        return Ok(sentence(StatusCode::MISDIRECTED_REQUEST, pages.words().text(key::PREVIEW_ANSWER_OTHER_HOST)));
    }
    if !matches!(*request.method(), Method::GET | Method::HEAD) {
        let refused = sentence(StatusCode::METHOD_NOT_ALLOWED, pages.words().text(key::PREVIEW_ANSWER_READ_ONLY));
        return Ok(with(refused, header::ALLOW, "GET, HEAD"));
    }
    let target = request.uri();
    // A target with a host would be for a proxy, which this is not.
    let path = if target.authority().is_some() { "" } else { target.path() }.to_owned();
    if path == "/_preview/events" {
        let (sender, events) = Channel::new(1);
        if request.method() == Method::GET {
            tokio::spawn(pages.tell(sender));
        }
        return Ok(response(StatusCode::OK, "text/event-stream", Either::Right(events)));
    }
    let shown = if target.query() == Some("current") { Shown::Current } else { Shown::Sound };
    let words = pages.words();
    let found = tokio::task::spawn_blocking(move || found(&path, shown, &pages)).await;
    let none = || sentence(StatusCode::NOT_FOUND, words.text(key::PREVIEW_ANSWER_NO_PAGE));
    Ok(found.map_or_else(
        |_| sentence(StatusCode::INTERNAL_SERVER_ERROR, words.text(key::PREVIEW_ANSWER_FAULT)),
        |found| found.unwrap_or_else(none),
    ))
}

fn found(path: &str, shown: Shown, pages: &Pages) -> Option<Response<Content>> {
    match path {
        "/_preview/worker.js" => return Some(script(WORKER)),
        "/" if pages.place().only().is_some() => {
            let elsewhere = sentence(StatusCode::FOUND, pages.words().text(key::PREVIEW_ANSWER_ELSEWHERE));
            return Some(with(elsewhere, header::LOCATION, &pages.place().front()));
        }
        _ => {}
    }
    match pages.place().resource(path)? {
        Resource::Engine(name) => Some(script(shared_file(name))),
        Resource::OfSite(link) if link == INDEX_NAME => pages.search_index().map(script),
        page @ (Resource::OfSite(_) | Resource::Sheet(_)) => pages.page(&page, shown).map(html),
        Resource::File(within) => {
            pages.small_picture(&within).map(drawing).or_else(|| picture(pages, within.to_str()?))
        }
    }
}

/// Whether a `Host` header names this computer, at the preview's port.
fn is_own(host: &[u8], port: u16) -> bool {
    let own = |name: &str| {
        host.eq_ignore_ascii_case(format!("{name}:{port}").as_bytes())
            || port == 80 && host.eq_ignore_ascii_case(name.as_bytes())
    };
    ["127.0.0.1", "localhost"].into_iter().any(own)
}

fn html(page: String) -> Response<Content> {
    let response = whole(StatusCode::OK, "text/html; charset=utf-8", page);
    with(response, header::CONTENT_SECURITY_POLICY, "frame-ancestors 'none'")
}

fn script(text: impl Into<Bytes>) -> Response<Content> {
    // The worker's own policy; it asks this preview for news, and nobody for anything else.
    let response = whole(StatusCode::OK, "text/javascript; charset=utf-8", text);
    with(response, header::CONTENT_SECURITY_POLICY, "default-src 'none'; connect-src 'self'")
}

/// The small picture of a page, for the lists.
fn drawing(svg: String) -> Response<Content> {
    let response = whole(StatusCode::OK, "image/svg+xml", svg);
    with(response, header::CONTENT_SECURITY_POLICY, "default-src 'none'; style-src 'unsafe-inline'; img-src data:")
}

/// A picture that is too large to stand in its page.
fn picture(pages: &Pages, within: &str) -> Option<Response<Content>> {
    let bytes = Folder::of(&pages.place().folder().join("_"), &NoHost).picture(within).ok()?;
    let content_type = match bytes.as_slice() {
        [0x89, b'P', ..] => "image/png",
        [0xff, 0xd8, ..] => "image/jpeg",
        [b'R', b'I', b'F', b'F', ..] => "image/webp",
        // A drawing always stands in its page, cleaned.
        _ => return None,
    };
    Some(whole(StatusCode::OK, content_type, bytes))
}

/// An answer with a sentence.
fn sentence(status: StatusCode, sentence: &str) -> Response<Content> {
    whole(status, "text/plain; charset=utf-8", format!("{sentence}\n"))
}

fn whole(status: StatusCode, content_type: &'static str, body: impl Into<Bytes>) -> Response<Content> {
    response(status, content_type, Either::Left(Full::new(body.into())))
}

fn response(status: StatusCode, content_type: &'static str, content: Content) -> Response<Content> {
    let mut response = Response::new(content);
    *response.status_mut() = status;
    let headers = [(header::CONTENT_TYPE, content_type)].into_iter().chain(COMMON);
    response.headers_mut().extend(headers.map(|(name, value)| (name, HeaderValue::from_static(value))));
    response
}

fn with(mut response: Response<Content>, name: HeaderName, value: &str) -> Response<Content> {
    // A value that no header can hold is left out: a path of the preview is in `%` form.
    response.headers_mut().extend(HeaderValue::from_str(value).ok().map(|value| (name, value)));
    response
}

/// Headers of every answer: nothing is kept, guessed, or handed to pages of other sites.
const COMMON: [(HeaderName, &str); 4] = [
    (header::CACHE_CONTROL, "no-store"),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (header::REFERRER_POLICY, "no-referrer"),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_is_this_computer_at_this_port() {
        for host in ["127.0.0.1:7070", "localhost:7070", "LocalHost:7070"] {
            assert!(is_own(host.as_bytes(), 7070), "{host}");
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
            assert!(!is_own(host.as_bytes(), 7070), "{host}");
        }
        assert!(is_own(b"localhost", 80) && is_own(b"127.0.0.1:80", 80));
    }
}
