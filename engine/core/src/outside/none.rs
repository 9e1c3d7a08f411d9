//! An engine without Rust blocks, as a published page has it: their results, and what follows from them, stay as their
//! author had them, so nothing is ever compiled or run. The types of the engine with them, none of which has a value.

/// Compiles Rust blocks; here nobody does.
pub trait RustBlocks {}

/// Runs nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoRust;

impl RustBlocks for NoRust {}

/// A compiled block. There is none.
#[derive(Clone, Copy, Debug)]
pub enum Block {}

impl Block {
    pub(crate) fn outputs(&self) -> usize {
        match *self {}
    }

    pub(crate) fn evaluate(&self, _: &[f64], _: &mut [f64]) {
        match *self {}
    }

    pub(crate) fn many(&self, _: &[f64], _: usize) -> Vec<f64> {
        match *self {}
    }
}

/// How far an evaluation follows the tolerances through Rust blocks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Fidelity {
    /// As far as everything else.
    #[default]
    Builds,
}

impl Fidelity {
    pub(crate) fn is_nominal(self) -> bool {
        false
    }
}
