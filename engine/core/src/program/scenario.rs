//! A scenario: the sources of a program, some of them overridden. One checked program runs under many scenarios.

use std::borrow::Cow;

use super::{Program, Source};

/// A program with the sources that one run gives it.
#[derive(Clone, Debug)]
pub(crate) struct Scenario<'p> {
    pub(crate) program: &'p Program,
    pub(crate) sources: Cow<'p, [Source]>,
}

impl<'p> Scenario<'p> {
    /// The sources as the worksheet's author gives them.
    pub(crate) fn authored(program: &'p Program) -> Self {
        Self { program, sources: Cow::Borrowed(&program.sources) }
    }

    /// The same scenario with another nominal value (SI) of one source; its bounds stay. A source that the program does not
    /// have changes nothing.
    pub(crate) fn with_nominal(mut self, source: u32, nominal: f64) -> Self {
        if let Some(source) = self.sources.to_mut().get_mut(source as usize) {
            source.nominal = nominal;
        }
        self
    }

    /// The same scenario with another source in the place of one. A source that the program does not have changes nothing.
    pub(crate) fn with_source(mut self, at: u32, other: Source) -> Self {
        if let Some(source) = self.sources.to_mut().get_mut(at as usize) {
            *source = other;
        }
        self
    }

    /// The nominal values of all sources, SI.
    pub(crate) fn nominal(&self) -> Vec<f64> {
        self.sources.iter().map(|source| source.nominal).collect()
    }
}
