//! Inline results in prose: `{t_on}`, `{t_on:ms}`, `{t_on:4}`, `{t_on:range}`, `{t_on:least}`, `{t_on:greatest}`; `{{` is a literal brace.

use std::borrow::Cow;

use benchleaf_words::{Phrase, phrase};

use super::{InlineFormat, InlineRequest};

/// A piece of a text of prose.
#[derive(Clone, Debug, PartialEq)]
pub enum Segment<'a> {
    /// Text as it stands, `{{` already made a brace.
    Text(Cow<'a, str>),
    /// A result to put in.
    Result {
        /// The request as written, braces included.
        source: &'a str,
        /// Where it starts in the text.
        start: usize,
        /// What it asks for; or what is wrong with it.
        request: Result<InlineRequest, Phrase>,
    },
}

/// Splits a text of prose at its inline results.
pub fn split(text: &str) -> Vec<Segment<'_>> {
    let mut segments = Vec::new();
    let mut plain: Cow<'_, str> = Cow::Borrowed("");
    let mut at = 0;
    let push = |plain: &mut Cow<'_, str>, piece: &str| plain.to_mut().push_str(piece);
    while let Some(brace) = text[at..].find('{').map(|offset| at + offset) {
        push(&mut plain, &text[at..brace]);
        if text[brace + 1..].starts_with('{') {
            push(&mut plain, "{");
            at = brace + 2;
            continue;
        }
        if !plain.is_empty() {
            segments.push(Segment::Text(Cow::Owned(std::mem::take(&mut plain).into_owned())));
        }
        let close = text[brace..].find('}').map(|offset| brace + offset + 1);
        let end = close.unwrap_or(text.len());
        let source = &text[brace..end];
        segments.push(Segment::Result { source, start: brace, request: request_of(source) });
        at = end;
    }
    push(&mut plain, &text[at..]);
    if segments.is_empty() && plain.len() == text.len() {
        return vec![Segment::Text(Cow::Borrowed(text))];
    }
    if !plain.is_empty() {
        segments.push(Segment::Text(Cow::Owned(plain.into_owned())));
    }
    segments
}

/// What a text in braces asks for; or what is wrong with it.
pub fn request_of(written: &str) -> Result<InlineRequest, Phrase> {
    match written.strip_prefix('{').and_then(|text| text.strip_suffix('}')) {
        Some(text) => request(text.trim()),
        None => Err(phrase!(SHEET_INLINE_THE_BRACE_IS_NEVER_CLOSED)),
    }
}

fn request(text: &str) -> Result<InlineRequest, Phrase> {
    let (name, format) = match text.split_once(':') {
        Some((name, format)) => (name.trim(), Some(format.trim())),
        None => (text, None),
    };
    let is_name =
        |part: &str| part.starts_with(char::is_alphabetic) && part.chars().all(|c| c.is_alphanumeric() || c == '_');
    if !name.split('.').all(is_name) || name.split('.').count() > 2 {
        return Err(phrase!(SHEET_INLINE_IS_NOT_THE_NAME, name = name));
    }
    let format = match format {
        None => InlineFormat::Plain,
        Some("range") => InlineFormat::Range,
        Some("least") => InlineFormat::Least,
        Some("greatest") => InlineFormat::Greatest,
        Some(digits) if digits.starts_with(|c: char| c.is_ascii_digit()) && !digits.contains('/') => {
            match digits.parse::<u8>().ok().filter(|digits| (1..=15).contains(digits)) {
                Some(digits) => InlineFormat::Digits(digits),
                None => return Err(phrase!(SHEET_INLINE_IS_NOT_A_NUMBER, digits = digits)),
            }
        }
        Some(several) if several.contains(':') => {
            let each = several.split(':').map(|format| Phrase::from(format!("{{{name}:{}}}", format.trim())));
            let either = each.reduce(|first, last| phrase!(SHEET_INLINE_OR, first = first, last = last));
            return Err(phrase!(SHEET_INLINE_A_RESULT_TAKES_ONE_FORMAT, either = either.unwrap_or_else(|| "".into())));
        }
        Some("") => return Err(phrase!(SHEET_INLINE_NOTHING_STANDS_BEHIND_THE_COLON)),
        Some(unit) => InlineFormat::Unit(unit.to_owned()),
    };
    Ok(InlineRequest { name: name.to_owned(), format })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn results(text: &str) -> Vec<String> {
        split(text)
            .into_iter()
            .map(|segment| match segment {
                Segment::Text(text) => format!("={text}"),
                Segment::Result { request: Ok(request), .. } => format!("{}/{:?}", request.name, request.format),
                Segment::Result { request: Err(error), .. } => format!("!{}", error.english()),
            })
            .collect()
    }

    #[test]
    fn every_form_is_read() {
        assert_eq!(results("on for {t_on}."), ["=on for ", "t_on/Plain", "=."]);
        assert_eq!(
            results("{t_on:ms}{t_on:4}{reg.junction:range}"),
            ["t_on/Unit(\"ms\")", "t_on/Digits(4)", "reg.junction/Range"]
        );
        assert_eq!(results("a set {{1, 2}"), ["=a set {1, 2}"]);
        assert_eq!(results("plain"), ["=plain"]);
        assert_eq!(results("{1}"), ["!`1` is not the name of a value: name it in a calc block first"]);
        assert_eq!(results("{open"), ["!the brace is never closed"]);
    }
}
