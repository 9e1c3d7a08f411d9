//! Inline results: splits the text of prose into plain text and the requests between braces.

use std::borrow::Cow;

use super::{InlineFormat, InlineRequest};

/// A piece of prose.
#[derive(Clone, Debug, PartialEq)]
pub enum Segment<'a> {
    /// Text to show; `{{` is a literal brace already.
    Text(Cow<'a, str>),
    /// A result.
    Result {
        /// As written, with its braces.
        source: &'a str,
        /// What it asks for, or what is wrong with it.
        request: Result<InlineRequest, String>,
    },
}

/// Splits text at its inline results.
pub fn split(text: &str) -> Vec<Segment<'_>> {
    let mut segments = Vec::new();
    let mut plain = String::new();
    let mut rest = text;
    while let Some(at) = rest.find('{') {
        plain.push_str(&rest[..at]);
        let after = &rest[at + 1..];
        if let Some(tail) = after.strip_prefix('{') {
            plain.push('{');
            rest = tail;
            continue;
        }
        let Some(end) = after.find('}') else {
            plain.push('{');
            rest = after;
            continue;
        };
        if !plain.is_empty() {
            segments.push(Segment::Text(Cow::Owned(std::mem::take(&mut plain))));
        }
        segments.push(Segment::Result { source: &rest[at..at + end + 2], request: request(&after[..end]) });
        rest = &after[end + 1..];
    }
    plain.push_str(rest);
    if !plain.is_empty() {
        segments.push(Segment::Text(Cow::Owned(plain)));
    }
    segments
}

fn request(text: &str) -> Result<InlineRequest, String> {
    let (name, format) = match text.split_once(':') {
        None => (text, InlineFormat::Plain),
        Some((name, "range")) => (name, InlineFormat::Range),
        Some((name, format)) => match format.parse() {
            Ok(digits) => (name, InlineFormat::Digits(digits)),
            Err(_) => (name, InlineFormat::Unit(format.to_owned())),
        },
    };
    if name.is_empty() {
        Err("no name between the braces".to_owned())
    } else {
        Ok(InlineRequest { name: name.trim().to_owned(), format })
    }
}
