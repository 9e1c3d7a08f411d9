//! The `calc` language: text to tokens, tokens to an [`ast`]. Reading never stops at an error: a statement that does not
//! read is reported and left out, and the next line starts afresh.

pub mod ast;
mod code;
mod expression;
mod statement;
mod token;
mod tolerance;
pub mod words;

pub(crate) use expression::Parser;
pub use statement::{Calculation, parse_calc, parse_literal};
pub(crate) use statement::{definition, whole};
pub(crate) use token::{Item, Line, lines};
