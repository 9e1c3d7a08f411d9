//! What several commands say.

use benchleaf_core::{bill::Amount, results::Status, sheet::Signal, summary::Summary};
use benchleaf_words::{Word, Words, count, key, say};

/// `3 requirements hold, 1 at risk, 0 broken; 2 errors, 1 warning`.
pub(crate) fn summary(words: Words<'_>, counts: Summary) -> String {
    let Summary { holds, at_risk, broken, errors, warnings: warned } = counts;
    let keeps = match (holds, at_risk, broken) {
        (0, 0, 0) => words.text(key::SUM_NONE).to_owned(),
        _ => count!(words, SUM_KEEPS, holds, n = holds, at_risk = at_risk, broken = broken),
    };
    let problems: Vec<String> =
        [(errors > 0).then(|| self::errors(words, errors)), (warned > 0).then(|| warnings(words, warned))]
            .into_iter()
            .flatten()
            .collect();
    if problems.is_empty() { keeps } else { format!("{keeps}; {}", problems.join(", ")) }
}

/// `a.md: the worksheet holds 2 errors`, as a line.
pub(crate) fn worksheet_errors(words: Words<'_>, name: &str, count: usize) -> String {
    say!(words, SUM_WORKSHEET_HOLDS, name = name, errors = errors(words, count)) + "\n"
}

/// `Wrote page.html: 3 requirements hold`, as a line.
pub(crate) fn wrote(words: Words<'_>, path: &str, what: &str) -> String {
    say!(words, SUM_WROTE, path = path, what = what) + "\n"
}

/// A verdict as a person reads it.
pub(crate) fn status(status: Status) -> Word<0> {
    match status {
        Status::Holds => key::VERDICT_HOLDS,
        Status::AtRisk => key::VERDICT_AT_RISK,
        Status::Broken => key::VERDICT_BROKEN,
    }
}

/// A signal word as a person reads it.
pub(crate) fn signal(signal: Signal) -> Word<0> {
    match signal {
        Signal::Danger => key::CHECK_LINES_DANGER,
        Signal::Warning => key::CHECK_LINES_WARNING,
        Signal::Caution => key::CHECK_LINES_CAUTION,
        Signal::Notice => key::CHECK_LINES_NOTICE,
    }
}

/// `0.51 EUR and 0.20 USD`.
pub(crate) fn amounts(words: Words<'_>, amounts: Vec<Amount>) -> String {
    let amounts: Vec<String> = amounts.into_iter().map(Amount::shown).collect();
    amounts.join(&format!(" {} ", words.text(key::FORMULA_AND)))
}

fn errors(words: Words<'_>, n: usize) -> String {
    count!(words, HEAD_ERRORS, n, n = n)
}

fn warnings(words: Words<'_>, n: usize) -> String {
    count!(words, SUM_WARNINGS, n, n = n)
}

/// The words that lines begin with, in a column as wide as the longest of them.
#[derive(Clone, Copy)]
pub(crate) struct Heads {
    width: usize,
}

impl Heads {
    pub(crate) fn of(words: Words<'_>, heads: &[Word<0>]) -> Self {
        let longest = heads.iter().map(|head| words.text(*head).chars().count()).max();
        Self { width: longest.unwrap_or_default() + 1 }
    }

    /// A head, filled up to the column behind it.
    pub(crate) fn head(self, head: &str) -> String {
        format!("  {head:<width$} ", width = self.width)
    }

    /// The blanks that stand before a line that goes on below another one.
    pub(crate) fn indent(self) -> String {
        " ".repeat(self.width + 3)
    }
}

#[cfg(test)]
mod tests {
    use benchleaf_words::Language;

    use super::*;

    #[test]
    fn counts_read_as_a_sentence() {
        let english = |counts| summary(Words::ENGLISH, counts);
        assert_eq!(english(Summary::default()), "no requirement");
        let mut sum = Summary { holds: 1, errors: 1, ..Summary::default() };
        assert_eq!(english(sum), "1 requirement holds, 0 at risk, 0 broken; 1 error");
        sum += Summary { holds: 1, at_risk: 2, broken: 3, errors: 1, warnings: 1 };
        assert_eq!(english(sum), "2 requirements hold, 2 at risk, 3 broken; 2 errors, 1 warning");
        let german = Language::find("de").unwrap().words();
        assert_eq!(summary(german, sum), "2 Anforderungen eingehalten, 2 gefährdet, 3 verletzt; 2 Fehler, 1 Warnung");
    }

    #[test]
    fn a_column_is_as_wide_as_the_longest_head() {
        let heads = [key::VERDICT_HOLDS, key::VERDICT_AT_RISK];
        let english = Heads::of(Words::ENGLISH, &heads);
        assert_eq!((english.head("holds").as_str(), english.indent().len()), ("  holds    ", 11));
        let german = Heads::of(Language::find("de").unwrap().words(), &heads);
        assert_eq!(german.head("gefährdet"), "  gefährdet    ");
    }
}
