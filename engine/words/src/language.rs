//! The languages that pages can be in.

use super::CODES;
#[cfg(feature = "whole")]
use super::{FINGERPRINT, KEYS, MARK, TABLES, Words, key};

/// A language of the files.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Language(usize);

impl Language {
    /// English.
    pub const ENGLISH: Language = Language(0);

    /// All of them, English first.
    pub fn all() -> impl Iterator<Item = Language> {
        (0..CODES.len()).map(Language)
    }

    /// The one with this code.
    pub fn find(code: &str) -> Option<Self> {
        CODES.iter().position(|known| *known == code).map(Language)
    }

    /// The one that a locale names, as POSIX writes it (`de_AT.UTF-8`) or as a language tag (`de-AT`).
    pub fn of_locale(locale: &str) -> Option<Self> {
        Self::find(locale.split(['_', '-', '.', '@']).next()?)
    }

    /// Its code (BCP 47).
    pub fn code(self) -> &'static str {
        CODES[self.0]
    }
}

#[cfg(feature = "whole")]
impl Language {
    /// What its speakers call it.
    pub fn name(self) -> &'static str {
        self.words().text(key::LANGUAGE_NAME)
    }

    /// Its words.
    pub fn words(self) -> Words<'static> {
        TABLES[self.0]
    }

    /// Its words for a page's engine, a line each, behind two lines for the engine to know them by; nothing for English,
    /// which the engine has.
    pub fn for_engine(self) -> Option<String> {
        let words = self.words();
        let first = format!("{MARK}{FINGERPRINT}");
        let lines = [first.as_str(), words.lang].into_iter().chain(words.engine.iter().copied());
        (self != Self::ENGLISH).then(|| lines.collect::<Vec<_>>().join("\n"))
    }

    /// The keys and texts of a group (`script`, `site`, `search`, `preview`), with the names of placeholders in braces.
    pub fn group(self, group: &'static str) -> impl Iterator<Item = (&'static str, String)> {
        let words = self.words();
        let keyed = KEYS.iter().enumerate().filter(move |(_, (of, _, _))| *of == group);
        keyed.map(move |(at, (_, key, names))| {
            let named: Vec<String> = names.iter().map(|name| format!("{{{name}}}")).collect();
            let named: Vec<&dyn std::fmt::Display> = named.iter().map(|name| name as &dyn std::fmt::Display).collect();
            let order: Vec<u8> = (0..named.len() as u8).collect();
            (*key, words.fill(at as u16, &order, &named))
        })
    }
}
