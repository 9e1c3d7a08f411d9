//! Labels as the page sets them. One rule for capitals: a label begins a line with a capital, unless its first word is a
//! symbol or an acronym; anywhere else it stands as it was written.

use benchleaf_core::case::capitalised;

use crate::typography::apostrophes;

/// A label as the start of a line; apostrophes as they are set.
pub(crate) fn opening(label: &str) -> String {
    let mut words = label.split_whitespace();
    let first = words.next().unwrap_or("");
    let lower = first.chars().all(|c| c.is_lowercase() || "-,:’'".contains(c));
    // A single letter is a symbol, unless it is the article before another word.
    let word = first.chars().nth(1).is_some();
    let article = first == "a" && words.next().is_some_and(|next| next.starts_with(char::is_alphanumeric));
    apostrophes(&if lower && (word || article) { capitalised(label) } else { label.to_owned() })
}

/// A label inside a sentence: what something is, without how it was found and without punctuation at its end.
pub fn inside(label: &str) -> String {
    let part = first_part(label).trim_end();
    let bare = part.trim_end_matches(['.', ',', ';', ':', '!', '?', '…']).trim_end();
    apostrophes(if bare.is_empty() { part } else { bare })
}

/// What something is called, up to the first comma, semicolon or colon that a space follows; brackets stay whole.
pub(crate) fn first_part(label: &str) -> &str {
    let mut depth = 0_usize;
    let mut letters = label.char_indices().peekable();
    while let Some((at, c)) = letters.next() {
        let ends = letters.peek().is_none_or(|(_, next)| next.is_whitespace());
        match c {
            '(' | '[' => depth += 1,
            ')' | ']' => depth = depth.saturating_sub(1),
            ',' | ';' | ':' if depth == 0 && ends && at > 0 => return &label[..at],
            _ => {}
        }
    }
    label
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_begin_lines_with_a_capital_but_symbols_do_not() {
        for (label, wanted) in [
            ("pulse length", "Pulse length"),
            ("LED current", "LED current"),
            ("mA through the coil", "mA through the coil"),
            ("e", "e"),
            ("a", "a"),
            ("a + b", "a + b"),
            ("a 100 µF capacitor", "A 100 µF capacitor"),
            ("the coil's current", "The coil’s current"),
            ("base-emitter drop, datasheet", "Base-emitter drop, datasheet"),
            ("", ""),
        ] {
            assert_eq!(opening(label), wanted);
        }
    }

    #[test]
    fn a_label_inside_a_sentence_is_what_something_is() {
        for (label, wanted) in [
            ("four cells, in series", "four cells"),
            ("The supply.", "The supply"),
            ("enough left?", "enough left"),
            ("ratio 1:2", "ratio 1:2"),
            ("capacitor (X7R, 10 V), new", "capacitor (X7R, 10 V)"),
            ("motor: stalled", "motor"),
            ("drop at 1,5 A", "drop at 1,5 A"),
            ("its leakage:", "its leakage"),
            ("?", "?"),
            (", x", ", x"),
            ("", ""),
        ] {
            assert_eq!(inside(label), wanted);
        }
    }
}
