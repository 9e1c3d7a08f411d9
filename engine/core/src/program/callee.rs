//! What a call in a program runs: a handbook model, a Rust block or a system of differential equations. All are functions
//! of plain numbers in SI base units,
//! of which nothing is known but what comes out.

use std::sync::Arc;

use super::System;
use crate::{
    handbook::{LANES, Model, Output},
    host::{Block, Budget},
};

/// A model, a Rust block or a system.
#[derive(Clone, Debug)]
pub(crate) enum Callee {
    /// A model of the handbook.
    Model(&'static Model),
    /// A Rust block of the worksheet.
    Block(Block),
    /// A system of differential equations.
    System(Arc<System>),
}

impl Callee {
    /// How many values it gives.
    pub(crate) fn outputs(&self) -> usize {
        match self {
            Callee::Model(model) => model.fields.len(),
            Callee::Block(block) => block.outputs(),
            Callee::System(system) => system.outputs(),
        }
    }

    /// Whether one of them is true or false.
    pub(crate) fn gives_condition(&self, output: usize) -> bool {
        match self {
            Callee::Model(model) => matches!(model.fields[output].output, Output::Condition),
            Callee::Block(_) | Callee::System(_) => false,
        }
    }

    /// Runs it on several inputs at once, of which the first `count` are of use; so are the outputs.
    pub(crate) fn lanes(&self, inputs: &[&[f64; LANES]], outputs: &mut [[f64; LANES]], count: usize, budget: &Budget) {
        if let Callee::Model(model) = self {
            return (model.lanes)(inputs, outputs);
        }
        let mut results = vec![0.0; self.outputs()];
        for i in 0..count {
            let inputs: Vec<f64> = inputs.iter().map(|numbers| numbers[i]).collect();
            self.evaluate(&inputs, &mut results, budget);
            outputs.iter_mut().zip(&results).for_each(|(output, result)| output[i] = *result);
        }
    }

    /// Runs it once.
    pub(crate) fn evaluate(&self, inputs: &[f64], outputs: &mut [f64], budget: &Budget) {
        match self {
            Callee::Model(model) => (model.evaluate)(inputs, outputs),
            Callee::Block(block) => block.evaluate(inputs, outputs, budget),
            Callee::System(system) => system.counted(inputs, outputs, budget),
        }
    }
}
