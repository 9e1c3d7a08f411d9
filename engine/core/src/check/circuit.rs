//! Circuits: the netlist from a block's lines, a look over it, and whether drawing and list of parts name the same parts.

use std::collections::HashSet;

use benchleaf_words::phrase;

use super::{
    Binding, Checker,
    netlist::{Known, build},
};
use crate::{
    bill::Bought,
    circuit::{Circuit, Potential, Role, inspect},
    problem::Code,
    sheet::CircuitBlock,
    span::Span,
    units::{QuantityType, ValueType},
};

impl Known for Checker<'_> {
    fn quantity(&self, name: &str) -> Option<QuantityType> {
        match &self.names.get(name)?.binding {
            Binding::Value(typed) => match typed.value_type {
                ValueType::Quantity(quantity) => Some(quantity),
                ValueType::Condition => None,
            },
            _ => None,
        }
    }

    fn designators(&self, name: &str) -> Vec<String> {
        let part = self.checked.parts.iter().find(|part| part.name.as_deref() == Some(name));
        part.map(|part| part.designators.clone()).unwrap_or_default()
    }

    fn value_of(&self, designator: &str) -> Option<String> {
        let part = self.checked.parts.iter().find(|part| part.designators.iter().any(|known| known == designator))?;
        part.name.clone().filter(|name| self.quantity(name).is_some())
    }

    fn failed(&self, name: &str) -> bool {
        matches!(self.names.get(name).map(|entry| &entry.binding), Some(Binding::Failed))
    }
}

impl Checker<'_> {
    pub(super) fn circuit(&mut self, block: &CircuitBlock, span: Span) {
        let mut problems = Vec::new();
        let circuit = build(block, span, self, &mut problems);
        // What did not read would look like pins left open.
        if problems.is_empty() && !block.broken {
            problems = inspect(&circuit, &self.potentials(&circuit));
        }
        problems.into_iter().for_each(|problem| self.report(problem));
        self.checked.circuits.push(circuit);
    }

    /// Nominal potentials where a rail or a drive is a given.
    fn potentials(&self, circuit: &Circuit) -> Vec<Potential> {
        let given = |name: &str| {
            let source = self.names.get(name).and_then(|entry| entry.source)?;
            let source = self.checked.program.sources.get(source as usize)?;
            Some(Potential::Volts(source.nominal))
        };
        let of = |(index, net): (usize, &crate::circuit::Net)| match (net.role, &net.name) {
            (Role::Ground, _) => Potential::Volts(0.0),
            (Role::Rail, Some(name)) => given(name).unwrap_or(Potential::Unknown),
            _ => {
                let drive = circuit.drives.iter().find(|drive| drive.net == index);
                drive.and_then(|drive| given(&drive.value)).unwrap_or(Potential::Unknown)
            }
        };
        circuit.nets.iter().enumerate().map(of).collect()
    }

    /// Parts that the drawings lack, and parts of the drawings that the list lacks. Nothing is asked of a worksheet that has
    /// only one of the two.
    pub(super) fn parts_of_circuits(&mut self) {
        if self.checked.circuits.is_empty() || self.checked.parts.iter().all(|part| part.designators.is_empty()) {
            return;
        }
        let drawn = self.checked.circuits.iter().flat_map(|circuit| &circuit.parts);
        let drawn: Vec<(String, Span)> = drawn.filter_map(|part| Some((part.designator.clone()?, part.span))).collect();
        let names: HashSet<&str> = drawn.iter().map(|(name, _)| name.as_str()).collect();
        let listed = self.checked.parts.iter().filter(|part| part.bought != Bought::Once);
        let listed: Vec<(String, Span)> =
            listed.flat_map(|part| part.designators.iter().map(|name| (name.clone(), part.span))).collect();
        let lacking = listed.iter().filter(|(name, _)| !names.contains(name.as_str()));
        let lacking: Vec<(String, Span)> =
            lacking.map(|(name, span)| (name.clone(), self.designators.get(name).copied().unwrap_or(*span))).collect();
        let known: HashSet<&str> = listed.iter().map(|(name, _)| name.as_str()).collect();
        let mut unlisted: Vec<(String, Span)> =
            drawn.iter().filter(|(name, _)| !known.contains(name.as_str())).cloned().collect();
        unlisted.dedup_by(|a, b| a.0 == b.0);
        for (name, span) in lacking {
            let message = phrase!(CHECK_CIRCUIT_IS_IN_THE_LIST, name = name);
            self.fail_with_help(Code::CircuitCheck, span, message, phrase!(CHECK_CIRCUIT_DRAW_IT_OR_LEAVE));
        }
        for (name, span) in unlisted {
            let message = phrase!(CHECK_CIRCUIT_IS_IN_THE_CIRCUIT, name = name);
            self.fail_with_help(
                Code::CircuitCheck,
                span,
                message,
                phrase!(CHECK_CIRCUIT_ADD_IT_TO_A_PARTS, name = name),
            );
        }
    }
}
