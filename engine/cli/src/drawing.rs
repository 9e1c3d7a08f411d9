//! How messages are drawn.

/// How messages are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drawing {
    /// With colours, for a person at a terminal.
    Coloured,
    /// Without, for a file or a program.
    Plain,
}
