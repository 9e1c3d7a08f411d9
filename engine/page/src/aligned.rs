//! Figures in tables: tabular, with the decimal points under one another.

use maud::{Markup, html};

/// What the tables of givens of a page share, so that their columns stand under one another.
#[derive(Clone, Copy)]
pub(crate) struct Columns {
    /// Figures before the decimal point.
    pub(crate) whole: usize,
    /// The stylesheet's class for the width that the labels want.
    pub(crate) words: &'static str,
}

impl Columns {
    /// Wide enough for these numbers and labels.
    pub(crate) fn of<'a>(numbers: impl Iterator<Item = &'a str>, labels: impl Iterator<Item = &'a str>) -> Self {
        let longest = labels.map(|label| label.chars().count()).max();
        Self {
            whole: whole_width(numbers),
            words: match longest.unwrap_or(0) {
                length if length <= SHORT => "few-words",
                length if length <= MIDDLING => "some-words",
                _ => "many-words",
            },
        }
    }
}

/// A column's numbers, and how many figures stand before the point in the widest.
pub(crate) fn whole_width<'a>(numbers: impl Iterator<Item = &'a str>) -> usize {
    numbers.map(|number| before_point(number).chars().count()).max().unwrap_or(1).clamp(1, WIDEST)
}

/// A number whose point stands under that of its neighbours, and its unit.
pub(crate) fn aligned(number: &str, unit: &str, whole: usize) -> Markup {
    let before = before_point(number);
    let after = number.get(before.len()..).unwrap_or("");
    html! {
        span class={ "whole whole-" (whole) } { (before) } (after)
        @if !unit.is_empty() { @if !matches!(unit, "°" | "′" | "″") { "\u{202f}" } (unit) }
    }
}

fn before_point(number: &str) -> &str {
    number.split(['.', '×', 'e', 'E']).next().unwrap_or(number)
}

/// Characters of a label that fit in one line of the narrowest column, and of the next.
const SHORT: usize = 26;
const MIDDLING: usize = 40;

/// The stylesheet has a width for each count of figures up to this.
const WIDEST: usize = 8;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_cut_at_their_point() {
        assert_eq!(before_point("0.55"), "0");
        assert_eq!(before_point("−12"), "−12");
        assert_eq!(before_point("1.23×10⁶"), "1");
        assert_eq!(whole_width(["910", "22.0", "−1234"].into_iter()), 5);
        assert!(aligned("30", "°", 2).into_string().ends_with("30</span>°"));
    }
}
