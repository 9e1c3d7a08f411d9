//! How messages are drawn.

use benchleaf_words::Words;

/// How messages are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drawing {
    /// With colours, for a person at a terminal.
    Coloured,
    /// Without, for a file or a program.
    Plain,
}

/// How messages are drawn, and the words that they are in.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Look {
    pub(crate) drawing: Drawing,
    pub(crate) words: Words<'static>,
}
