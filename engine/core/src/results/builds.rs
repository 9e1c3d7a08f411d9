//! What builds side by side came to.

use super::{Value, Verdict};
use crate::{
    bill::{BreakEven, Part},
    span::Span,
};

/// Builds that are set side by side.
#[derive(Clone, Debug)]
pub struct BuildSet {
    /// Where the block stands.
    pub span: Span,
    /// The builds, in order.
    pub builds: Vec<Build>,
    /// Where the cheapest changes; the indices are those of `builds`.
    pub break_even: Vec<BreakEven>,
}

/// A build.
#[derive(Clone, Debug)]
pub struct Build {
    /// What it is called.
    pub name: String,
    /// What is compared, in the order of the block; the same in every build.
    pub values: Vec<Value>,
    /// Every requirement of the worksheet, as this build meets it.
    pub keeps: Vec<Verdict>,
    /// Its parts.
    pub parts: Vec<Part>,
}
