//! How many requirements hold, and how much is wrong: the sum at the head of a page, at the close of a report, and in a
//! site's list.

use std::ops::AddAssign;

use crate::{
    problem::Severity,
    results::{Evaluation, Status},
};

/// Counts over one worksheet or several.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Summary {
    /// Requirements that hold over the whole worst case.
    pub holds: usize,
    /// Requirements that hold at the nominal values alone.
    pub at_risk: usize,
    /// Requirements that do not hold.
    pub broken: usize,
    /// Problems that stopped a value.
    pub errors: usize,
    /// Problems that only warn.
    pub warnings: usize,
}

impl Summary {
    /// The counts of one worksheet.
    pub fn of(evaluation: &Evaluation) -> Self {
        let keeps = |status| evaluation.keeps.iter().filter(|verdict| verdict.status == status).count();
        let problems = |severity| evaluation.problems.iter().filter(|p| p.severity() == severity).count();
        Self {
            holds: keeps(Status::Holds),
            at_risk: keeps(Status::AtRisk),
            broken: keeps(Status::Broken),
            errors: problems(Severity::Error),
            warnings: problems(Severity::Warning),
        }
    }
}

impl AddAssign for Summary {
    fn add_assign(&mut self, other: Self) {
        self.holds += other.holds;
        self.at_risk += other.at_risk;
        self.broken += other.broken;
        self.errors += other.errors;
        self.warnings += other.warnings;
    }
}
