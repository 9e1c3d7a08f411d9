//! How many requirements hold, and how much is wrong: the sum at the head of a page, at the close of a report, and in a
//! site's list.

use std::{fmt, ops::AddAssign};

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

/// `3 requirements hold, 1 at risk, 0 broken; 2 errors, 1 warning`.
impl fmt::Display for Summary {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.holds, self.at_risk, self.broken) {
            (0, 0, 0) => f.write_str("no requirement")?,
            (1, at_risk, broken) => write!(f, "1 requirement holds, {at_risk} at risk, {broken} broken")?,
            (holds, at_risk, broken) => write!(f, "{holds} requirements hold, {at_risk} at risk, {broken} broken")?,
        }
        match (self.errors, self.warnings) {
            (0, 0) => Ok(()),
            (0, warnings) => write!(f, "; {}", counted(warnings, "warning")),
            (errors, 0) => write!(f, "; {}", counted(errors, "error")),
            (errors, warnings) => write!(f, "; {}, {}", counted(errors, "error"), counted(warnings, "warning")),
        }
    }
}

/// `1 error`, `2 errors`.
pub fn counted(count: usize, thing: &str) -> String {
    let ending = if count == 1 { "" } else { "s" };
    format!("{count} {thing}{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_read_as_a_sentence() {
        assert_eq!(Summary::default().to_string(), "no requirement");
        let mut sum = Summary { holds: 1, errors: 1, ..Summary::default() };
        assert_eq!(sum.to_string(), "1 requirement holds, 0 at risk, 0 broken; 1 error");
        sum += Summary { holds: 1, at_risk: 2, broken: 3, errors: 1, warnings: 1 };
        assert_eq!(sum.to_string(), "2 requirements hold, 2 at risk, 3 broken; 2 errors, 1 warning");
    }
}
