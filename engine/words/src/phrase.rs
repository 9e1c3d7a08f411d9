//! What is to be said, before it is in a language: a text of the files with its values. The engine finds problems without
//! knowing who will read them; a page, a terminal or an editor says them in its own language.

use std::{borrow::Cow, sync::Arc};

use super::{Counted, Word, Words};

/// A sentence, or a piece of one, that can be said in every language of the files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Phrase {
    /// Names, numbers, units, text of a worksheet: the same in every language.
    Plain(String),
    /// A text of the files. Its values stand in the order of its placeholders.
    Text(u16, Vec<Phrase>),
}

impl Phrase {
    /// A text of the files with its values; `order` says which of them each placeholder takes. Use [`phrase!`].
    ///
    /// [`phrase!`]: crate::phrase
    pub fn of<const N: usize>(word: Word<N>, order: &[u8; N], values: &[&dyn Value; N]) -> Self {
        Self::in_order(word.at, order, values)
    }

    /// The same for a number of things. Use [`phrase_count!`].
    ///
    /// [`phrase_count!`]: crate::phrase_count
    pub fn counted<const N: usize>(word: Counted<N>, number: usize, order: &[u8; N], values: &[&dyn Value; N]) -> Self {
        Self::in_order(word.form(number), order, values)
    }

    fn in_order(at: u16, order: &[u8], values: &[&dyn Value]) -> Self {
        let ordered = order.iter().filter_map(|place| values.get(usize::from(*place)));
        Self::Text(at, ordered.map(Value::phrase).collect())
    }

    /// In a language.
    pub fn say(&self, words: Words<'_>) -> String {
        let mut said = String::new();
        self.say_to(words, &mut said);
        said
    }

    /// In English.
    pub fn english(&self) -> String {
        self.say(Words::ENGLISH)
    }

    fn say_to(&self, words: Words<'_>, said: &mut String) {
        match self {
            Self::Plain(text) => said.push_str(text),
            Self::Text(at, values) => {
                for c in words.at(*at).chars() {
                    match values.get((c as usize).wrapping_sub(1)) {
                        Some(value) => value.say_to(words, said),
                        None => said.push(c),
                    }
                }
            }
        }
    }
}

impl From<String> for Phrase {
    fn from(text: String) -> Self {
        Self::Plain(text)
    }
}

impl From<Word<0>> for Phrase {
    fn from(word: Word<0>) -> Self {
        Self::Text(word.at, Vec::new())
    }
}

/// What may stand in a placeholder.
pub trait Value {
    /// The value as a phrase.
    fn phrase(&self) -> Phrase;
}

impl Value for Phrase {
    fn phrase(&self) -> Phrase {
        self.clone()
    }
}

impl Value for Word<0> {
    fn phrase(&self) -> Phrase {
        Phrase::from(*self)
    }
}

impl<V: Value + ?Sized> Value for &V {
    fn phrase(&self) -> Phrase {
        V::phrase(self)
    }
}

macro_rules! plain {
    ($($type:ty),+) => {
        $(impl Value for $type {
            fn phrase(&self) -> Phrase {
                Phrase::Plain(self.to_string())
            }
        })+
    };
}

plain!(str, String, Box<str>, Arc<str>, Cow<'_, str>, char, f64, u8, usize, u32, u64, i32, i64, i128);

impl<V: Value + ?Sized> From<&V> for Phrase {
    fn from(value: &V) -> Self {
        value.phrase()
    }
}

/// A text of the files with its values, to be said later: `phrase!(PROBLEM_NOT_DEFINED, name = name)`.
#[macro_export]
macro_rules! phrase {
    ($key:ident $(,)?) => { $crate::Phrase::from($crate::key::$key) };
    ($key:ident, $($name:ident = $value:expr),+ $(,)?) => {
        $crate::Phrase::of($crate::key::$key, $crate::placed!($key, $($name),+), &[$(&$value as &dyn $crate::Value),+])
    };
}

/// The same for a number of things: `phrase_count!(PROBLEM_MORE_ROWS, rows, n = rows)`.
#[macro_export]
macro_rules! phrase_count {
    ($key:ident, $number:expr, $($name:ident = $value:expr),+ $(,)?) => {
        $crate::Phrase::counted($crate::key::$key, $number, $crate::placed!($key, $($name),+), &[$(&$value as &dyn $crate::Value),+])
    };
}
