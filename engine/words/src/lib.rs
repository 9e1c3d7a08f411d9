//! The words of pages and of the command line, in each language that they are written in. `words/en.txt` has them all; every other file there is a
//! translation. The build makes a constant of each key, so that a word that is nowhere does not compile, and refuses a
//! translation whose keys or placeholders differ.
//!
//! Texts are whole sentences. [`say!`] and [`set!`] put values into their placeholders, and the compiler checks the names.

use std::fmt::{Display, Write};

use maud::{Markup, PreEscaped, Render};

#[cfg(test)]
mod file;
mod language;
mod phrase;

include!(concat!(env!("OUT_DIR"), "/tables.rs"));

pub use crate::{
    language::Language,
    phrase::{Phrase, Value},
};

/// What the words for a page's engine begin with; no worksheet does.
const MARK: &str = "\u{1}words ";

/// A text of the files, with the names of its placeholders.
#[derive(Clone, Copy, Debug)]
pub struct Word<const N: usize> {
    at: u16,
    names: [&'static str; N],
}

/// A text for one of something, and one for any other number.
#[derive(Clone, Copy, Debug)]
pub struct Counted<const N: usize> {
    one: u16,
    other: u16,
    names: [&'static str; N],
}

/// The words of a language.
#[derive(Clone, Copy, Debug)]
pub struct Words<'a> {
    lang: &'a str,
    engine: &'a [&'a str],
    #[cfg(feature = "whole")]
    rest: &'a [&'a str],
}

impl Words<'static> {
    /// The English words.
    pub const ENGLISH: Words<'static> = Words {
        lang: CODES[0],
        engine: &ENGINE_0,
        #[cfg(feature = "whole")]
        rest: &REST_0,
    };
}

impl<'a> Words<'a> {
    /// Another language's words for a page's engine, as [`Language::for_engine`] gives them; English where they are none, or of
    /// another version.
    pub fn with_lines(lines: &'a [&'a str]) -> Self {
        match lines {
            [first, lang, engine @ ..]
                if first.strip_prefix(MARK) == Some(FINGERPRINT) && engine.len() == ENGINE_0.len() =>
            {
                Words {
                    lang,
                    engine,
                    #[cfg(feature = "whole")]
                    rest: Words::ENGLISH.rest,
                }
            }
            _ => Words::ENGLISH,
        }
    }

    /// Whether a text is another language's words as [`Language::for_engine`] gives them, of whichever version.
    pub fn are_lines(text: &str) -> bool {
        text.starts_with(MARK)
    }

    /// The code of the language (BCP 47).
    pub fn lang(&self) -> &'a str {
        self.lang
    }

    /// A text without placeholders.
    pub fn text(&self, word: Word<0>) -> &'a str {
        self.at(word.at)
    }

    /// A text with values in its placeholders; `order` says which value each of them takes. Use [`say!`].
    pub fn filled<const N: usize>(&self, word: Word<N>, order: &[u8; N], values: &[&dyn Display; N]) -> String {
        self.fill(word.at, order, values)
    }

    /// The same for a number of things. Use [`count!`].
    pub fn counted<const N: usize>(
        &self,
        word: Counted<N>,
        number: usize,
        order: &[u8; N],
        values: &[&dyn Display; N],
    ) -> String {
        self.fill(word.form(number), order, values)
    }

    /// The same as HTML: text is escaped, and what stands between asterisks is strong. Use [`set!`].
    pub fn marked<const N: usize>(&self, word: Word<N>, order: &[u8; N], values: &[&dyn Render; N]) -> Markup {
        self.mark(word.at, order, values)
    }

    /// The same for a number of things. Use [`set_count!`].
    pub fn marked_count<const N: usize>(
        &self,
        word: Counted<N>,
        number: usize,
        order: &[u8; N],
        values: &[&dyn Render; N],
    ) -> Markup {
        self.mark(word.form(number), order, values)
    }

    fn at(&self, at: u16) -> &'a str {
        let at = usize::from(at);
        if let Some(text) = self.engine.get(at) {
            return text;
        }
        #[cfg(feature = "whole")]
        if let Some(text) = self.rest.get(at - self.engine.len()) {
            return text;
        }
        ""
    }

    fn fill(&self, at: u16, order: &[u8], values: &[&dyn Display]) -> String {
        let mut filled = String::new();
        for c in self.at(at).chars() {
            match place(c, order).and_then(|at| values.get(at)) {
                Some(value) => {
                    let _ = write!(filled, "{value}");
                }
                None => filled.push(c),
            }
        }
        filled
    }

    fn mark(&self, at: u16, order: &[u8], values: &[&dyn Render]) -> Markup {
        let mut html = String::new();
        let mut is_strong = false;
        for c in self.at(at).chars() {
            match place(c, order).and_then(|at| values.get(at)) {
                Some(value) => value.render_to(&mut html),
                None if c == '*' => {
                    html.push_str(if is_strong { "</strong>" } else { "<strong>" });
                    is_strong = !is_strong;
                }
                None => c.encode_utf8(&mut [0; 4]).render_to(&mut html),
            }
        }
        PreEscaped(html)
    }
}

/// Which of the values given stands here; nothing where a text has a character of its own.
fn place(c: char, order: &[u8]) -> Option<usize> {
    order.get((c as usize).wrapping_sub(1)).map(|at| usize::from(*at))
}

/// The value that each placeholder takes: the place of its name among those given. A name that is missing, or is none of the
/// text's, stops the build.
pub const fn order<const N: usize>(names: [&str; N], given: [&str; N]) -> [u8; N] {
    let mut order = [0; N];
    let mut at = 0;
    while at < N {
        let mut place = 0;
        while !same(names[at], given[place]) {
            place += 1;
        }
        order[at] = place as u8;
        at += 1;
    }
    order
}

const fn same(a: &str, b: &str) -> bool {
    let (a, b) = (a.as_bytes(), b.as_bytes());
    if a.len() != b.len() {
        return false;
    }
    let mut at = 0;
    while at < a.len() {
        if a[at] != b[at] {
            return false;
        }
        at += 1;
    }
    true
}

impl<const N: usize> Word<N> {
    /// The names of its placeholders.
    pub const fn names(&self) -> [&'static str; N] {
        self.names
    }
}

impl<const N: usize> Counted<N> {
    /// The text that is said of so many things.
    const fn form(self, number: usize) -> u16 {
        if number == 1 { self.one } else { self.other }
    }

    /// The names of its placeholders.
    pub const fn names(&self) -> [&'static str; N] {
        self.names
    }
}

/// The places of named values in a text's placeholders, worked out when the program is built; for the macros below.
#[doc(hidden)]
#[macro_export]
macro_rules! placed {
    ($key:ident, $($name:ident),+) => {{
        const ORDER: [u8; [$(stringify!($name)),+].len()] = $crate::order($crate::key::$key.names(), [$(stringify!($name)),+]);
        &ORDER
    }};
}

/// A text with its placeholders filled: `say!(words, FORMAT_RANGE, low = "1", high = "2 V")`.
#[macro_export]
macro_rules! say {
    ($words:expr, $key:ident, $($name:ident = $value:expr),+ $(,)?) => {
        $words.filled($crate::key::$key, $crate::placed!($key, $($name),+), &[$(&$value as &dyn ::std::fmt::Display),+])
    };
}

/// The same for a number of things: `count!(words, HEAD_ERRORS, errors, n = errors)`.
#[macro_export]
macro_rules! count {
    ($words:expr, $key:ident, $number:expr, $($name:ident = $value:expr),+ $(,)?) => {
        $words.counted($crate::key::$key, $number, $crate::placed!($key, $($name),+), &[$(&$value as &dyn ::std::fmt::Display),+])
    };
}

/// A text as HTML with its placeholders filled; values are HTML, or text that is escaped.
#[macro_export]
macro_rules! set {
    ($words:expr, $key:ident $(,)?) => { $words.marked($crate::key::$key, &[], &[]) };
    ($words:expr, $key:ident, $($name:ident = $value:expr),+ $(,)?) => {
        $words.marked($crate::key::$key, $crate::placed!($key, $($name),+), &[$(&$value as &dyn ::maud::Render),+])
    };
}

/// The same for a number of things.
#[macro_export]
macro_rules! set_count {
    ($words:expr, $key:ident, $number:expr, $($name:ident = $value:expr),+ $(,)?) => {
        $words.marked_count($crate::key::$key, $number, $crate::placed!($key, $($name),+), &[$(&$value as &dyn ::maud::Render),+])
    };
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::{file, *};

    /// The build refuses all of these too; this says what it looks for.
    #[test]
    fn a_translation_has_the_keys_and_placeholders_of_the_english_words() {
        let english = file::read("[a: page]\nx = {n} of {all}\ny.one = one\ny.other = {n} more\n").unwrap();
        let faults = |text: &str| file::compared(&english, &file::read(text).unwrap());
        let good = "[a: page]\nx = von {all} {n}\ny.one = {n} weitere\ny.other = {n} weitere\n";
        assert!(faults(good).is_empty(), "{:?}", faults(good));
        for (text, fault) in [
            (
                good.replace("{all}", "{alle}"),
                "`a.x` has the placeholders [\"alle\", \"n\"], in English [\"n\", \"all\"]",
            ),
            (good.replace("x = von {all} {n}\n", ""), "`a.x` is missing"),
            (good.replace("von {all} {n}", ""), "`a.x` is empty"),
            (format!("{good}z = neu\n"), "`a.z` is not in English"),
            (good.replace(": page", ": site"), "`a.x` is in the group site, in English in page"),
        ] {
            assert!(faults(&text).iter().any(|found| found == fault), "{fault}: {:?}", faults(&text));
        }
        for wrong in
            ["x = 1\n", "[a: page]\nx\n", "[a: nothing]\n", "[a: page]\nx = 1\nx = 2\n", "[a: page]\nx.one = 1\n"]
        {
            assert!(file::read(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn values_stand_where_the_language_wants_them() {
        let german = Language::find("de").unwrap().words();
        assert_eq!(say!(german, FORMAT_RANGE, high = "2 V", low = 1), "1 bis 2 V");
        assert_eq!(count!(german, HEAD_ERRORS, 2, n = 2), "2 Fehler");
        assert_eq!(count!(Words::ENGLISH, HEAD_ERRORS, 1, n = 1), "1 error");
        let set = set!(Words::ENGLISH, STEPS_WAIT, what = "a < b");
        assert_eq!(set.into_string(), "<strong>Wait: </strong>a &lt; b");
    }

    #[test]
    fn a_phrase_is_said_in_every_language_with_phrases_within_it() {
        let range = phrase!(FORMAT_RANGE, high = phrase!(FORMAT_NO_END), low = 1);
        let said = phrase!(HEAD_LINE, n = phrase!(FORMAT_LIST, first = range, last = "\u{1}\u{2}"));
        assert_eq!(said.english(), "line 1 to no end and \u{1}\u{2}");
        assert_eq!(said.say(Language::find("de").unwrap().words()), "Zeile 1 bis ohne Ende und \u{1}\u{2}");
        assert_eq!(phrase_count!(HEAD_ERRORS, 1, n = 1).english(), "1 error");
        assert_eq!(phrase_count!(HEAD_ERRORS, 3, n = 3).english(), "3 errors");
    }

    #[test]
    fn an_engine_speaks_the_language_that_it_is_handed_and_english_if_that_is_of_another_version() {
        let lines = Language::find("de").unwrap().for_engine().unwrap();
        assert!(Words::are_lines(&lines) && Language::ENGLISH.for_engine().is_none());
        let handed: Vec<&str> = lines.split('\n').collect();
        let words = Words::with_lines(&handed);
        assert_eq!((words.lang(), words.text(key::VERDICT_BROKEN)), ("de", "verletzt"));
        let other = lines.replacen(FINGERPRINT, "0123", 1);
        assert_eq!(Words::with_lines(&other.split('\n').collect::<Vec<_>>()).lang(), "en");
        assert_eq!(Words::with_lines(&handed[..handed.len() - 1]).lang(), "en");
    }

    #[test]
    fn each_file_is_a_language() {
        let codes: Vec<&str> = Language::all().map(Language::code).collect();
        assert_eq!(codes.len(), fs::read_dir("words").unwrap().count());
        assert_eq!(codes[0], "en");
        assert_eq!(Language::find("xx"), None);
    }
}
