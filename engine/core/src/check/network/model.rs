//! What each part is to direct current: a resistance, a voltage, a current, or nothing.

use benchleaf_words::{Phrase, phrase};

use super::{Assumption, Checker};
use crate::{
    circuit::{Circuit, Kind, Part, State},
    problem::{Code, Problem},
    program::{Reg, Step},
    units::{Dimension, ValueType, parse},
};

/// A branch between two nets.
#[derive(Clone, Debug)]
pub(super) struct Branch {
    pub(super) part: usize,
    pub(super) pins: (usize, usize),
    pub(super) nets: (usize, usize),
    pub(super) flow: Flow,
}

/// What a branch does.
#[derive(Clone, Debug)]
pub(super) enum Flow {
    Resistance(Reg),
    /// The potential of the first net above the second's.
    Voltage(Reg),
    /// From the first net to the second.
    Current(Reg),
    /// It is not said what it does.
    Unknown(Problem),
}

impl Checker<'_> {
    /// The branches of a circuit; parts that carry no direct current have none.
    pub(super) fn models(&mut self, circuit: usize) -> Vec<Branch> {
        let found = self.checked.circuits[circuit].clone();
        let mut branches = Vec::new();
        for (index, part) in found.parts.iter().enumerate() {
            for (pins, flow) in self.flows_of(&found, part) {
                let nets = (part.pins[pins.0].net, part.pins[pins.1].net);
                branches.push(Branch { part: index, pins, nets, flow });
            }
        }
        branches
    }

    fn flows_of(&mut self, circuit: &Circuit, part: &Part) -> Vec<((usize, usize), Flow)> {
        use Kind::*;
        let between = (0, 1);
        let of = |checker: &Self, unit: &str| {
            let wanted = parse(unit).map(|unit| unit.quantity.dimension);
            let found = part.values.iter().filter_map(|name| checker.value_of_part(name));
            found.filter(|(_, dimension)| Some(*dimension) == wanted).map(|(reg, _)| reg).collect::<Vec<Reg>>()
        };
        let (ohms, volts, amperes) = (of(self, "Ω"), of(self, "V"), of(self, "A"));
        let first = |found: &[Reg]| found.first().copied();
        let unknown = |lacks: Phrase, cure: Phrase| {
            let message = phrase!(CHECK_MODEL_WHAT_FLOWS_THROUGH_IS_NOT, name = part.name(), lacks = lacks);
            Flow::Unknown(Problem::new(Code::Circuit, part.span, message).help(cure))
        };
        let written = match &part.designator {
            Some(designator) => format!("{} @{designator}", part.kind.row().word),
            None => part.kind.row().word.to_owned(),
        };
        let short = |checker: &mut Self| Flow::Voltage(checker.push(Step::Constant(0.0)));
        match part.kind {
            Capacitor | PolarisedCapacitor => Vec::new(),
            Resistor => match first(&ohms) {
                Some(reg) => vec![(between, Flow::Resistance(reg))],
                None => {
                    vec![(
                        between,
                        unknown(
                            phrase!(CHECK_MODEL_IT_HAS_NO_VALUE),
                            phrase!(CHECK_MODEL_WRITE_ITS_VALUE_BEHIND_IT, written = written),
                        ),
                    )]
                }
            },
            Inductor | Fuse => match first(&ohms) {
                Some(reg) => vec![(between, Flow::Resistance(reg))],
                None => vec![(between, short(self))],
            },
            Switch | Button | Contact => match part.state {
                Some(State::Closed) => vec![(between, short(self))],
                _ => Vec::new(),
            },
            Diode | Led => match first(&volts) {
                Some(reg) => vec![(between, Flow::Voltage(reg))],
                // It blocks; that is looked at once the potentials are known.
                None => Vec::new(),
            },
            Zener => match (first(&volts), part.state) {
                (Some(reg), _) => vec![(between, Flow::Voltage(reg))],
                (None, Some(State::Open)) => Vec::new(),
                (None, _) => vec![(
                    between,
                    unknown(
                        phrase!(CHECK_MODEL_ITS_VOLTAGE_IS_NOT_SAID),
                        phrase!(CHECK_MODEL_WRITE_IT_BEHIND_IT, written = written),
                    ),
                )],
            },
            Coil | Motor | Lamp => match (first(&ohms), first(&amperes), first(&volts)) {
                (Some(reg), ..) => vec![(between, Flow::Resistance(reg))],
                (_, Some(reg), _) => vec![(between, Flow::Current(reg))],
                (_, _, Some(reg)) => vec![(between, Flow::Voltage(reg))],
                _ => vec![(
                    between,
                    unknown(
                        phrase!(CHECK_MODEL_NEITHER_ITS_RESISTANCE_NOR),
                        phrase!(CHECK_MODEL_WRITE_ONE_BEHIND_IT, written = written),
                    ),
                )],
            },
            Battery | Supply => match first(&volts) {
                Some(reg) => vec![(between, Flow::Voltage(reg))],
                None => {
                    vec![(
                        between,
                        unknown(
                            phrase!(CHECK_MODEL_ITS_VOLTAGE_IS_NOT_SAID),
                            phrase!(CHECK_MODEL_WRITE_IT_BEHIND_IT_2, written = written),
                        ),
                    )]
                }
            },
            Load => match first(&amperes) {
                Some(reg) => vec![(between, Flow::Current(reg))],
                None => {
                    vec![(
                        between,
                        unknown(
                            phrase!(CHECK_MODEL_ITS_CURRENT_IS_NOT_SAID),
                            phrase!(CHECK_MODEL_WRITE_IT_BEHIND_IT_3, written = written),
                        ),
                    )]
                }
            },
            Npn | Pnp => {
                if part.state == Some(State::Open) {
                    return Vec::new();
                }
                let (upper, lower) = (0, 1);
                let junction = if part.kind == Npn { (2, lower) } else { (upper, 2) };
                let needs = |what: Phrase, cure: &str| {
                    unknown(what, phrase!(CHECK_MODEL_WRITE_IT_BEHIND_IT_4, written = written, cure = cure))
                };
                let base = match volts.first() {
                    Some(reg) => Flow::Voltage(*reg),
                    None => needs(phrase!(CHECK_MODEL_ITS_BASE_EMITTER_VOLTAGE), "V_BE"),
                };
                let main = match volts.get(1) {
                    Some(reg) => Flow::Voltage(*reg),
                    None => needs(phrase!(CHECK_MODEL_ITS_COLLECTOR_EMITTER_VOLTAGE), "V_BE V_CE"),
                };
                vec![(junction, base), ((upper, lower), main)]
            }
            Nmos | Pmos => match (first(&ohms), part.state) {
                (_, Some(State::Open)) => Vec::new(),
                (Some(reg), _) => vec![(between, Flow::Resistance(reg))],
                (None, Some(State::Closed)) => vec![(between, short(self))],
                (None, None) => vec![(
                    between,
                    unknown(
                        phrase!(CHECK_MODEL_ITS_ON_RESISTANCE_IS_NOT),
                        phrase!(CHECK_MODEL_WRITE_IT_BEHIND_IT_5, written = written),
                    ),
                )],
            },
            Regulator => {
                let output = match first(&volts) {
                    Some(reg) => Flow::Voltage(reg),
                    None => unknown(
                        phrase!(CHECK_MODEL_ITS_OUTPUT_VOLTAGE_IS_NOT),
                        phrase!(CHECK_MODEL_WRITE_IT_BEHIND_IT_6, written = written),
                    ),
                };
                vec![
                    ((1, 2), output),
                    ((0, 2), unknown(phrase!(CHECK_MODEL_WHAT_ITS_INPUT_TAKES), phrase!(CHECK_MODEL_FEED_ITS_INPUT))),
                ]
            }
            Connector => Vec::new(),
            // An output that nothing is said of may be anywhere.
            Chip => {
                let mut flows = Vec::new();
                for (index, pin) in part.pins.iter().enumerate() {
                    let driven = circuit.drives.iter().any(|drive| drive.net == pin.net);
                    if pin.name.to_lowercase().starts_with("out") && !driven {
                        let cure = phrase!(CHECK_MODEL_SAY_AT_WHAT_VOLTAGE, name = part.name(), pin = pin.name);
                        flows.push((
                            (index, index),
                            unknown(phrase!(CHECK_MODEL_THE_VOLTAGE_OF_ITS_PIN, name = pin.name), cure),
                        ));
                    }
                }
                flows
            }
        }
    }

    fn value_of_part(&self, name: &str) -> Option<(Reg, Dimension)> {
        match &self.names.get(name)?.binding {
            super::super::Binding::Value(typed) => match typed.value_type {
                ValueType::Quantity(quantity) => Some((typed.reg, quantity.dimension)),
                ValueType::Condition => None,
            },
            _ => None,
        }
    }

    /// What the solution takes for granted of the junctions between nets that it found.
    pub(super) fn assume(&mut self, circuit: usize, nets: &[usize], branches: &[Branch]) -> Result<(), Problem> {
        let found = self.checked.circuits[circuit].clone();
        for (index, part) in found.parts.iter().enumerate() {
            let is_junction = part.kind.is_junction() || matches!(part.kind, Kind::Npn | Kind::Pnp);
            if !is_junction || !part.pins.iter().any(|pin| nets.contains(&pin.net)) {
                continue;
            }
            let own = branches.iter().enumerate().filter(|(_, branch)| branch.part == index);
            let own: Vec<(usize, Branch)> = own.map(|(at, branch)| (at, branch.clone())).collect();
            for (at, branch) in &own {
                if !matches!(branch.flow, Flow::Voltage(_)) {
                    continue;
                }
                let reg = match self.current(circuit, *at, branches) {
                    Ok(reg) => reg,
                    // Where another side of the circuit cannot be solved, nothing is claimed of it either.
                    Err(_) => continue,
                };
                let pin = &part.pins[branch.pins.0].name;
                let message = phrase!(CHECK_MODEL_IS_SAID_TO_CONDUCT_BUT, name = part.name());
                let help = phrase!(CHECK_MODEL_LEAVE_OUT_ITS_VOLTAGE_WHERE, pin = pin);
                self.checked.assumptions.push(Assumption { reg, span: part.span, message, help });
            }
            if own.is_empty() && matches!(part.kind, Kind::Diode | Kind::Led) {
                let ends = (self.potential(circuit, part.pins[0].net), self.potential(circuit, part.pins[1].net));
                let (Ok(anode), Ok(cathode)) = ends else { continue };
                let reg = self.push(Step::Subtract(cathode, anode));
                let message = phrase!(CHECK_MODEL_IS_TAKEN_TO_BLOCK_BUT, name = part.name());
                let help =
                    phrase!(CHECK_MODEL_WRITE_ITS_FORWARD_VOLTAGE, word = part.kind.row().word, name = part.name());
                self.checked.assumptions.push(Assumption { reg, span: part.span, message, help });
            }
        }
        Ok(())
    }
}
