//! What `solve` and `choose` declare: which givens are moved, what is watched, and the goal. Searching is the evaluation's
//! work; a program only says what to search for.

use super::Reg;
use crate::preferred::Series;

/// A search that a program declares.
#[derive(Clone, Debug)]
pub(crate) struct Search {
    /// The registers that are moved: the givens.
    pub(crate) moved: Vec<Reg>,
    /// For a root: one side less the other. For a choice: the value to bring near the target.
    pub(crate) watched: Reg,
    /// The steps from the moved registers to the watched one, in order.
    pub(crate) order: Vec<Reg>,
    /// Registers of the ends of the span, if one is stated.
    pub(crate) span: Option<(Reg, Reg)>,
    /// What the watched register should become.
    pub(crate) goal: Goal,
}

/// The goal of a search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Goal {
    /// The watched register is zero.
    Root,
    /// It is as near as possible to the target's register, with values of a series.
    Nearest(Series, Reg),
}
