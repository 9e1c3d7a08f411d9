//! Rust blocks in an engine that runs none: their results wait.

use super::Checker;
use crate::{
    results::BlockOutcome,
    sheet::{RustBlock, SeriesRequest},
    span::Span,
};

impl Checker<'_> {
    /// A Rust block: its results are withheld.
    pub(super) fn rust(&mut self, block: &RustBlock, _: Span, _: Span) -> BlockOutcome {
        self.without_values(&block.outputs, true);
        BlockOutcome::NotEvaluated
    }

    /// Series wait as well.
    pub(super) fn series_curves(&mut self, requests: &[SeriesRequest]) {
        requests.iter().for_each(|request| self.await_rust(request.span));
    }
}
