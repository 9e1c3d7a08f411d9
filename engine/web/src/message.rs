//! What passes through the door: texts in a row, each with its length in front (four bytes, the least first). A request
//! is a worksheet, the caller's options and a reader's changes; an answer begins with its own length.

use benchleaf_core::{Options, change::Change};
use benchleaf_page::{PageOptions, RawHtml};

/// What a page asks for.
pub(crate) struct Request {
    pub(crate) source: String,
    pub(crate) options: Options,
    pub(crate) page: PageOptions,
    pub(crate) changes: Vec<Change>,
}

impl Request {
    /// Reads the worksheet; samples and seed (empty for the worksheet's own); how many texts stand for its raw HTML
    /// (empty where that is shown as text) and those; then name and text of each change. What is missing is empty.
    pub(crate) fn read(bytes: &[u8]) -> Self {
        let mut texts = texts(bytes);
        let mut next = || texts.next().unwrap_or_default();
        let source = next();
        let (samples, seed) = (next().parse().ok(), next().parse().ok());
        let options = Options { samples, seed, ..Options::default() };
        let raw_html = match next().parse::<usize>() {
            Ok(count) => RawHtml::Cleaned((0..count.min(bytes.len())).map(|_| next()).collect()),
            Err(_) => RawHtml::ShownAsText,
        };
        let mut changes = Vec::new();
        while let Some(name) = texts.next() {
            changes.push(Change { name, text: texts.next().unwrap_or_default() });
        }
        Self { source, options, page: PageOptions { raw_html }, changes }
    }
}

/// The texts of a message; reading ends where it does not fit.
fn texts(bytes: &[u8]) -> impl Iterator<Item = String> {
    let mut rest = bytes;
    std::iter::from_fn(move || {
        let (length, behind) = rest.split_first_chunk::<LENGTH>()?;
        let (text, behind) = behind.split_at_checked(u32::from_le_bytes(*length) as usize)?;
        rest = behind;
        Some(String::from_utf8_lossy(text).into_owned())
    })
}

/// An answer that is being written.
pub(crate) struct Answer(Vec<u8>);

impl Answer {
    pub(crate) fn new() -> Self {
        Self(vec![0; LENGTH])
    }

    /// Adds a text.
    pub(crate) fn say(&mut self, text: &str) {
        self.0.extend_from_slice(&(text.len() as u32).to_le_bytes());
        self.0.extend_from_slice(text.as_bytes());
    }

    /// The whole answer with its length in front.
    pub(crate) fn finish(mut self) -> Vec<u8> {
        let length = (self.0.len() as u32).to_le_bytes();
        self.0[..LENGTH].copy_from_slice(&length);
        self.0
    }
}

const LENGTH: usize = 4;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_request_is_read_as_it_was_written_and_half_of_one_as_far_as_it_goes() {
        let mut answer = Answer::new();
        for text in ["# Sheet", "100", "", "1", "<b>", "R_t", "470k"] {
            answer.say(text);
        }
        let bytes = answer.finish();
        let request = Request::read(&bytes[LENGTH..]);
        assert_eq!((request.source.as_str(), request.options.samples, request.options.seed), ("# Sheet", Some(100), None));
        assert_eq!(request.page.raw_html, RawHtml::Cleaned(vec!["<b>".to_owned()]));
        assert_eq!(request.changes, [Change { name: "R_t".to_owned(), text: "470k".to_owned() }]);
        for end in 0..bytes.len() - LENGTH {
            Request::read(&bytes[LENGTH..LENGTH + end]);
        }
    }
}
