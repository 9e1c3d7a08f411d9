//! Circuits as programs read them: the netlist.

use serde::Serialize;

use crate::{
    circuit::{Circuit, Role},
    results::Evaluation,
};

/// A circuit.
#[derive(Clone, Debug, Serialize)]
pub struct CircuitEntry<'a> {
    /// Its title.
    pub title: Option<&'a str>,
    /// Line of its block.
    pub line: usize,
    /// Its parts, in the order of the block.
    pub parts: Vec<CircuitPartEntry<'a>>,
    /// Its nets that join something, ground first.
    pub nets: Vec<NetEntry<'a>>,
}

/// A part of a circuit.
#[derive(Clone, Debug, Serialize)]
pub struct CircuitPartEntry<'a> {
    /// What it is called: its designator, or the name of its value.
    pub part: &'a str,
    /// The word for its kind.
    pub kind: &'static str,
    /// The names of its values.
    pub values: &'a [String],
    /// The label that a reader sees.
    pub label: Option<&'a str>,
}

/// A net of a circuit.
#[derive(Clone, Debug, Serialize)]
pub struct NetEntry<'a> {
    /// Its name; `null` where it has none.
    pub net: Option<&'a str>,
    /// `ground`, `rail` or `signal`.
    pub role: &'static str,
    /// Its potential against ground in volts, at the nominal values; `null` where the circuit does not say enough.
    pub potential: Option<f64>,
    /// Its pins, as `part.pin`.
    pub pins: Vec<String>,
}

/// Every circuit.
pub(super) fn circuits(evaluation: &Evaluation) -> Vec<CircuitEntry<'_>> {
    let solved = evaluation.circuits.iter().zip(&evaluation.potentials);
    solved.map(|(circuit, potentials)| entry(circuit, potentials, evaluation)).collect()
}

fn entry<'a>(circuit: &'a Circuit, potentials: &[Option<f64>], evaluation: &Evaluation) -> CircuitEntry<'a> {
    let parts = circuit.parts.iter().map(|part| CircuitPartEntry {
        part: part.name(),
        kind: part.kind.row().word,
        values: &part.values,
        label: part.label.as_deref(),
    });
    let joining = circuit.nets.iter().zip(potentials).filter(|(net, _)| !net.pins.is_empty());
    let nets = joining.map(|(net, potential)| NetEntry {
        potential: *potential,
        net: net.name.as_deref(),
        role: match net.role {
            Role::Ground => "ground",
            Role::Rail => "rail",
            Role::Signal => "signal",
        },
        pins: net.pins.iter().map(|(part, pin)| circuit.pin_name(*part, *pin)).collect(),
    });
    let line = evaluation.lines.line(circuit.span.start);
    CircuitEntry { title: circuit.title.as_deref(), line, parts: parts.collect(), nets: nets.collect() }
}
