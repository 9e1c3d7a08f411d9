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
    /// For a choice: distances of the requirements that the moved registers reach, below zero where one fails.
    pub(crate) kept: Vec<Reg>,
}

impl Search {
    /// Visits the registers that it begins with; what the steps to the watched register read comes on top.
    pub(crate) fn read(&self, visit: impl FnMut(Reg)) {
        let target = match self.goal {
            Goal::Root => None,
            Goal::Nearest(_, target) => Some(target),
        };
        let span = self.span.into_iter().flat_map(|(from, to)| [from, to]);
        self.moved.iter().copied().chain([self.watched]).chain(span).chain(target).for_each(visit);
    }
}

/// How a combination of preferred values stands to the requirements that it reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Standing {
    /// All hold over the whole worst case.
    Holds,
    /// All hold at the nominal values.
    AtRisk,
    /// One fails at the nominal values.
    Broken,
}

/// The goal of a search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Goal {
    /// The watched register is zero.
    Root,
    /// It is as near as possible to the target's register, with values of a series.
    Nearest(Series, Reg),
}
