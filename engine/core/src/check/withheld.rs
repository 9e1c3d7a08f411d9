//! What waits for a Rust block that was not run: it has no value, and nothing is wrong with it.

use benchleaf_words::{Phrase, phrase};

use super::{Binding, Checker};
use crate::{
    lang::ast::Statement,
    problem::{Code, Severity},
    sheet::RustResult,
    span::Span,
};

impl Checker<'_> {
    /// A statement that failed only since a Rust block was not run is no error, and what builds on it is none either.
    pub(super) fn withhold(&mut self, statement: &Statement, reported: usize) {
        let new = &self.problems[reported..];
        let waits = new.iter().any(|problem| problem.code == Code::RustAwaited);
        if waits && new.iter().all(|problem| problem.severity() != Severity::Error) {
            self.withheld.extend(statement.body.defines());
        }
    }

    /// Results of a Rust block that came to no values; `waiting` where it was only not run.
    pub(super) fn without_values(&mut self, results: &[RustResult], waiting: bool) {
        for result in results {
            // What was defined before, or stands here twice, was reported.
            if self.names.contains_key(&result.name.item) {
                continue;
            }
            self.bind(&result.name, Binding::Failed, None, None);
            if waiting {
                self.withheld.insert(result.name.item.clone());
            }
        }
    }

    /// Something that builds on what could not be evaluated.
    pub(super) fn depends(&mut self, name: &str, span: Span, message: impl Into<Phrase>) {
        if self.withheld.contains(name) {
            self.await_rust(span);
        } else {
            self.fail(Code::DependsOnError, span, message);
        }
    }

    /// Something that has no value since a Rust block was not run.
    pub(super) fn await_rust(&mut self, span: Span) {
        self.fail(Code::RustAwaited, span, phrase!(CHECK_WITHHELD_THIS_WAITS_FOR_A_RUST));
    }
}
