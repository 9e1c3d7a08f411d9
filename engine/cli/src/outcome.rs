//! What a call of the program came to, and the exit status that says so.

use std::process::ExitCode;

use benchleaf_publish::failure::Failure;

/// What a call came to, the better first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// Everything was done, and for `check` every requirement holds.
    Fine,
    /// `check` found a requirement broken, or at risk where that counts; `verify` found a figure that differs; `vary` could not
    /// work a line out; the editor left `lsp` without a word.
    RequirementBroken,
    /// A worksheet holds an error.
    WorksheetError,
    /// The command is wrong, or something could not be read or written.
    Failed,
}

impl Outcome {
    /// The exit status: 0, 1, 2 or 3.
    pub fn status(self) -> u8 {
        self as u8
    }

    /// The worse of two.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        self.max(other)
    }
}

impl From<&Failure> for Outcome {
    fn from(failure: &Failure) -> Self {
        match failure {
            Failure::Fault { .. } => Outcome::WorksheetError,
            _ => Outcome::Failed,
        }
    }
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        ExitCode::from(outcome.status())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_outcome_wins() {
        let order = [Outcome::Fine, Outcome::RequirementBroken, Outcome::WorksheetError, Outcome::Failed];
        assert_eq!(order.map(Outcome::status), [0, 1, 2, 3]);
        assert_eq!(Outcome::Failed.and(Outcome::WorksheetError), Outcome::Failed);
        assert_eq!(Outcome::Fine.and(Outcome::RequirementBroken), Outcome::RequirementBroken);
    }
}
