//! Text as it is set: what must stay on one line, and apostrophes.

/// A number and its unit must not part at a line's end.
pub(crate) fn held_together(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 4);
    let mut before = ' ';
    for (i, c) in text.char_indices() {
        let unit = || text[i + 1..].split([' ', ',', ';', ':', '.']).next().unwrap_or("");
        let joins = c == ' ' && (before.is_ascii_digit() || RAISED.contains(before)) && !WORDS.contains(&unit());
        out.push(if joins { '\u{202f}' } else { c });
        before = c;
    }
    out
}

/// Typewriter apostrophes between letters as they are set.
pub(crate) fn apostrophes(text: &str) -> String {
    if !text.contains('\'') {
        return text.to_owned();
    }
    let mut out = String::with_capacity(text.len());
    let mut chars = text.chars().peekable();
    let mut before = ' ';
    while let Some(c) = chars.next() {
        let inside = before.is_alphanumeric() && chars.peek().is_some_and(|next| next.is_alphabetic());
        out.push(if c == '\'' && inside { '’' } else { c });
        before = c;
    }
    out
}

/// Words that may follow a number and are no unit.
const WORDS: &[&str] = &["to", "and", "above", "below", "it", "is", "bis", "und"];
const RAISED: &str = "⁰¹²³⁴⁵⁶⁷⁸⁹∞";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn number_and_unit_stay_together() {
        assert_eq!(held_together("15.9 s to 36.4 s"), "15.9\u{202f}s to 36.4\u{202f}s");
        assert_eq!(held_together("15.9 to 36.4 s"), "15.9 to 36.4\u{202f}s");
    }
}
