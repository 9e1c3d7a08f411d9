//! The `calc` language: text to tokens, tokens to an [`ast`].

pub mod ast;
