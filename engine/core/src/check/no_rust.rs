//! Rust blocks in an engine that runs none: their results wait.

use super::{Binding, Checker};
use crate::{
    results::BlockOutcome,
    sheet::{RustBlock, SeriesRequest},
    span::Span,
};

impl Checker<'_> {
    /// A Rust block: its results are withheld.
    pub(super) fn rust(&mut self, block: &RustBlock, _: Span, _: Span) -> BlockOutcome {
        for result in &block.outputs {
            if !self.names.contains_key(&result.name.item) {
                self.bind(&result.name, Binding::Failed, None, None);
                self.withheld.insert(result.name.item.clone());
            }
        }
        BlockOutcome::NotEvaluated
    }

    /// Series wait as well.
    pub(super) fn series_curves(&mut self, requests: &[SeriesRequest]) {
        requests.iter().for_each(|request| self.await_rust(request.span));
    }
}
