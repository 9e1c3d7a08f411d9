//! What a call in a program runs: a handbook model or a Rust block. Both are functions of plain numbers in SI base units,
//! of which nothing is known but what comes out.

use crate::{
    handbook::{Model, Output},
    outside::Block,
};

/// A model or a Rust block.
#[derive(Clone, Debug)]
pub enum Callee {
    /// A model of the handbook.
    Model(&'static Model),
    /// A Rust block of the worksheet.
    Block(Block),
}

impl Callee {
    /// How many values it gives.
    pub(crate) fn outputs(&self) -> usize {
        match self {
            Callee::Model(model) => model.fields.len(),
            Callee::Block(block) => block.outputs(),
        }
    }

    /// Whether one of them is true or false.
    pub(crate) fn gives_condition(&self, output: usize) -> bool {
        match self {
            Callee::Model(model) => matches!(model.fields[output].output, Output::Condition),
            Callee::Block(_) => false,
        }
    }

    /// Runs it once.
    pub(crate) fn evaluate(&self, inputs: &[f64], outputs: &mut [f64]) {
        match self {
            Callee::Model(model) => (model.evaluate)(inputs, outputs),
            Callee::Block(block) => block.evaluate(inputs, outputs),
        }
    }
}
