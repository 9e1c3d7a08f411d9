//! Places in a text as the protocol counts them: lines from 0, and in a line UTF-16 units from 0. A line ends with `\n`, `\r\n`
//! or `\r`. A place behind the end of a line is its end, one behind the last line the end of the text.

use benchleaf_core::span::Span;
use serde_json::{Value, json};

/// Where the lines of a text begin and end.
#[derive(Debug)]
pub(super) struct Lines {
    /// Start of each, and its end without what ends it.
    lines: Vec<(usize, usize)>,
}

impl Lines {
    /// Of a text.
    pub(super) fn of(text: &str) -> Self {
        let bytes = text.as_bytes();
        let (mut lines, mut start, mut at) = (Vec::new(), 0, 0);
        while let Some(byte) = bytes.get(at) {
            let next = match (byte, bytes.get(at + 1)) {
                (b'\r', Some(b'\n')) => at + 2,
                (b'\r' | b'\n', _) => at + 1,
                _ => {
                    at += 1;
                    continue;
                }
            };
            lines.push((start, at));
            (start, at) = (next, next);
        }
        lines.push((start, text.len()));
        Self { lines }
    }

    /// The place of a byte.
    pub(super) fn position(&self, text: &str, offset: usize) -> Value {
        let line = self.lines.partition_point(|(start, _)| *start <= offset).saturating_sub(1);
        let (start, end) = self.lines.get(line).copied().unwrap_or_default();
        let offset = boundary(text, offset.min(end));
        let character = text.get(start..offset).map_or(0, |before| before.encode_utf16().count());
        json!({"line": line, "character": character})
    }

    /// The places of both ends.
    pub(super) fn range(&self, text: &str, span: Span) -> Value {
        json!({"start": self.position(text, span.start), "end": self.position(text, span.end.max(span.start))})
    }

    /// The byte of a place; nothing where it is no place at all.
    pub(super) fn offset(&self, text: &str, position: &Value) -> Option<usize> {
        let (line, character) = (position.get("line")?.as_u64()?, position.get("character")?.as_u64()?);
        let Some((start, end)) = usize::try_from(line).ok().and_then(|line| self.lines.get(line)).copied() else {
            return Some(text.len());
        };
        let mut units = 0;
        for (at, c) in text.get(start..end)?.char_indices() {
            units += c.len_utf16() as u64;
            if units > character {
                return Some(start + at);
            }
        }
        Some(end)
    }
}

/// The nearest place at or before a byte where a character begins.
pub(super) fn boundary(text: &str, offset: usize) -> usize {
    (0..=offset.min(text.len())).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_are_counted_in_utf_16() {
        let text = "aΩ𝄞b\r\nsecond\rthird\n";
        let lines = Lines::of(text);
        for (offset, line, character) in
            [(0, 0, 0), (1, 0, 1), (3, 0, 2), (7, 0, 4), (8, 0, 5), (9, 0, 5), (10, 1, 0), (17, 2, 0), (23, 3, 0)]
        {
            assert_eq!(lines.position(text, offset), json!({"line": line, "character": character}), "{offset}");
        }
        for (line, character, offset) in [
            (0, 0, 0),
            (0, 2, 3),
            (0, 3, 3),
            (0, 4, 7),
            (0, 99, 8),
            (1, 6, 16),
            (3, 0, 23),
            (9, 9, 23),
            (u64::MAX, u64::MAX, 23),
        ] {
            assert_eq!(
                lines.offset(text, &json!({"line": line, "character": character})),
                Some(offset),
                "{line}:{character}"
            );
        }
        for wrong in [json!({}), json!({"line": -1, "character": 0}), json!({"line": 0, "character": "x"}), Value::Null]
        {
            assert_eq!(lines.offset(text, &wrong), None);
        }
    }

    #[test]
    fn every_byte_has_a_place_and_every_character_comes_back() {
        for text in ["", "\n", "\r", "\r\n\r\n", "é\r\n𝄞\rΩ\n\n", "a\u{301}\u{202e}\u{2028}x"] {
            let lines = Lines::of(text);
            for offset in 0..text.len() + 3 {
                lines.position(text, offset);
            }
            for (at, c) in text.char_indices().filter(|(_, c)| !"\r\n".contains(*c)) {
                assert_eq!(lines.offset(text, &lines.position(text, at)), Some(at), "{c:?} in {text:?}");
            }
        }
    }
}
