//! What waits for a Rust block that was not run: it has no value, and nothing is wrong with it.

use super::Checker;
use crate::{
    lang::ast::Statement,
    problem::{Code, Severity},
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

    /// Something that builds on what could not be evaluated.
    pub(super) fn depends(&mut self, name: &str, span: Span, message: impl Into<String>) {
        if self.withheld.contains(name) {
            self.await_rust(span);
        } else {
            self.fail(Code::DependsOnError, span, message);
        }
    }

    /// Something that has no value since a Rust block was not run.
    pub(super) fn await_rust(&mut self, span: Span) {
        self.fail(Code::RustAwaited, span, "this waits for a Rust block that was not run");
    }
}
