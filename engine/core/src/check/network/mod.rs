//! What the nodes and branches of a circuit come to: `V(@Q1.base)`, `I(R_b)`. Nodal analysis of the linear part becomes steps of
//! the program, so that such a value has its range, its interval and its shares like any other. A net is eliminated by
//! star-mesh transformation: conductances are only added, multiplied and divided, never subtracted, so that no pivot has to be
//! chosen and nothing cancels, at the nominal values as over all tolerances.

mod eliminate;
mod model;

use std::collections::HashMap;

use benchleaf_words::{Phrase, phrase};

use super::{Checker, Typed, expression::quantity_in};
use crate::{
    circuit::{Circuit, Role},
    lang::ast::{Argument, Expr, Node},
    problem::{Code, Problem},
    program::{Reg, Step},
    span::{Span, Spanned},
    units::{QuantityType, parse},
};
use model::{Branch, Flow};

/// Something that a solution takes for granted: not below zero, or it is no solution.
#[derive(Clone, Debug)]
pub(crate) struct Assumption {
    /// What must not be below zero.
    pub(crate) reg: Reg,
    /// Where the part stands that it is about.
    pub(crate) span: Span,
    /// What is wrong where it is.
    pub(crate) message: Phrase,
    /// A way out.
    pub(crate) help: Phrase,
}

/// The potentials of a circuit's nets.
#[derive(Clone, Debug)]
pub(crate) struct CheckedPotentials {
    /// Of each net; absent where the circuit does not say enough.
    pub(crate) nets: Vec<Option<Reg>>,
    /// What they take for granted: not below zero, or they do not hold.
    pub(crate) assumed: Vec<Reg>,
}

/// What is solved of a circuit so far.
#[derive(Debug, Default)]
pub(crate) struct Solved {
    branches: Option<Vec<Branch>>,
    /// The potential of each net that a rail, ground or a drive fixes.
    fixed: HashMap<usize, Reg>,
    /// The potential of each net that is worked out.
    potentials: HashMap<usize, Reg>,
    /// The current through each branch, from its first net to its second.
    currents: HashMap<usize, Reg>,
    failed: HashMap<usize, Problem>,
}

type Found<T> = Result<T, Problem>;

/// A place that a formula asks about.
enum Asked {
    Net(usize),
    /// Into the part at this pin.
    Pin(usize, usize),
    Part(usize),
}

impl Checker<'_> {
    /// `V(net)`, `V(net, net)` or `I(part)`; `None` where these are no such question.
    pub(super) fn circuit_quantity(
        &mut self,
        name: &Spanned<String>,
        arguments: &[Argument],
        span: Span,
    ) -> Option<Option<Typed>> {
        let asks = matches!(name.item.as_str(), "V" | "I") && !self.checked.circuits.is_empty();
        let places = |argument: &Argument| matches!(argument.value.node, Node::Name(_) | Node::Pin(..));
        if !asks || arguments.is_empty() || !arguments.iter().all(places) {
            return None;
        }
        let found = self.asked(&name.item, arguments, span);
        Some(found.map_err(|problem| self.report(problem)).ok())
    }

    /// Solves every circuit as far as it says enough, for the list of its nets. Nobody asked for these potentials, so nothing
    /// is reported where one is not known.
    pub(super) fn potentials_of_circuits(&mut self) {
        for circuit in 0..self.checked.circuits.len() {
            let reported = self.checked.assumptions.len();
            let nets = 0..self.checked.circuits[circuit].nets.len();
            let nets = nets.map(|net| self.potential(circuit, net).ok()).collect();
            let assumed = self.checked.assumptions.drain(reported..).map(|assumption| assumption.reg).collect();
            self.checked.potentials.push(CheckedPotentials { nets, assumed });
        }
    }

    fn asked(&mut self, what: &str, arguments: &[Argument], span: Span) -> Found<Typed> {
        let form = phrase!(CHECK_NETWORK_WRITE_V_Q1_BASE_V);
        let quantity = |unit: &str| parse(unit).map_or(QuantityType::NUMBER, |unit| unit.quantity);
        match (what, arguments) {
            ("V", [one]) => {
                let (circuit, net) = self.net_asked(&one.value)?;
                Ok(quantity_in(self.potential(circuit, net)?, quantity("V")))
            }
            ("V", [one, other]) => {
                let ((circuit, net), (second, far)) = (self.net_asked(&one.value)?, self.net_asked(&other.value)?);
                if circuit != second {
                    let message = phrase!(CHECK_NETWORK_THE_TWO_STAND_IN_DIFFERENT);
                    return Err(Problem::new(Code::Circuit, span, message)
                        .help(phrase!(CHECK_NETWORK_A_VOLTAGE_IS_BETWEEN_TWO)));
                }
                let (a, b) = (self.potential(circuit, net)?, self.potential(circuit, far)?);
                Ok(quantity_in(self.push(Step::Subtract(a, b)), quantity("V")))
            }
            ("I", [one]) => {
                let (circuit, asked) = self.place_asked(&one.value)?;
                let reg = match asked {
                    Asked::Part(part) => self.current_through(circuit, part, one.value.span)?,
                    Asked::Pin(part, pin) => self.current_into(circuit, part, pin)?,
                    Asked::Net(_) => {
                        let message = phrase!(CHECK_NETWORK_A_NET_HAS_A_POTENTIAL);
                        return Err(Problem::new(Code::Circuit, one.value.span, message).help(form));
                    }
                };
                Ok(quantity_in(reg, quantity("A")))
            }
            _ => Err(Problem::new(Code::Arguments, span, phrase!(CHECK_NETWORK_OF_A_CIRCUIT_TAKES_OTHER, what = what))
                .help(form)),
        }
    }

    fn net_asked(&self, expr: &Expr) -> Found<(usize, usize)> {
        let (circuit, asked) = self.place_asked(expr)?;
        match asked {
            Asked::Net(net) => Ok((circuit, net)),
            Asked::Pin(part, pin) => Ok((circuit, self.checked.circuits[circuit].parts[part].pins[pin].net)),
            Asked::Part(part) => {
                let part = &self.checked.circuits[circuit].parts[part];
                let pins: Vec<String> =
                    part.pins.iter().take(2).map(|pin| format!("@{}.{}", part.name(), pin.name)).collect();
                let message = phrase!(CHECK_NETWORK_IS_A_PART_WITH_SEVERAL, name = part.name());
                let help = match pins.as_slice() {
                    [one, other] if part.designator.is_some() => {
                        phrase!(CHECK_NETWORK_NAME_A_PIN, one = one, other = other)
                    }
                    _ => phrase!(CHECK_NETWORK_NAME_A_NET),
                };
                Err(Problem::new(Code::Circuit, expr.span, message).help(help))
            }
        }
    }

    fn place_asked(&self, expr: &Expr) -> Found<(usize, Asked)> {
        let find = |circuit: &Circuit| match &expr.node {
            Node::Name(name) if name == "ground" => Some(Asked::Net(0)),
            Node::Name(name) => {
                let net = circuit.nets.iter().position(|net| net.name.as_deref() == Some(name));
                net.map(Asked::Net).or_else(|| circuit.part(name).map(Asked::Part))
            }
            Node::Pin(part, None) => circuit.part(&part.item).map(Asked::Part),
            Node::Pin(part, Some(pin)) => {
                let found = circuit.part(&part.item)?;
                Some(Asked::Pin(found, circuit.parts[found].pin(&pin.item)?))
            }
            _ => None,
        };
        let found = self.checked.circuits.iter().enumerate().find_map(|(at, circuit)| Some((at, find(circuit)?)));
        found.ok_or_else(|| {
            let written = expr.span.text(self.text);
            let message = phrase!(CHECK_NETWORK_NO_CIRCUIT_ABOVE_HAS, written = written);
            let help = phrase!(CHECK_NETWORK_NAME_A_NET_A_PART);
            Problem::new(Code::Circuit, expr.span, message).help(help)
        })
    }

    fn branches(&mut self, circuit: usize) -> Vec<Branch> {
        if let Some(branches) = &self.solved.entry(circuit).or_default().branches {
            return branches.clone();
        }
        let found = self.models(circuit);
        self.solved.entry(circuit).or_default().branches = Some(found.clone());
        found
    }

    /// The register of a net's potential.
    fn potential(&mut self, circuit: usize, net: usize) -> Found<Reg> {
        if let Some(reg) = self.solved.entry(circuit).or_default().potentials.get(&net) {
            return Ok(*reg);
        }
        if let Some(problem) = self.solved.entry(circuit).or_default().failed.get(&net) {
            return Err(problem.clone());
        }
        let found = match self.fixed_potential(circuit, net)? {
            Some(reg) => Ok(reg),
            None => self.solve_around(circuit, net),
        };
        let solved = self.solved.entry(circuit).or_default();
        match &found {
            Ok(reg) => {
                solved.potentials.insert(net, *reg);
            }
            Err(problem) => {
                solved.failed.insert(net, problem.clone());
            }
        }
        found
    }

    /// The potential of ground, of a rail, and of a net that is driven; `None` for any other net.
    fn fixed_potential(&mut self, circuit: usize, net: usize) -> Found<Option<Reg>> {
        if let Some(reg) = self.solved.entry(circuit).or_default().fixed.get(&net) {
            return Ok(Some(*reg));
        }
        let found = self.given_potential(circuit, net)?;
        if let Some(reg) = found {
            self.solved.entry(circuit).or_default().fixed.insert(net, reg);
        }
        Ok(found)
    }

    fn given_potential(&mut self, circuit: usize, net: usize) -> Found<Option<Reg>> {
        let found = &self.checked.circuits[circuit];
        let drive = found.drives.iter().find(|drive| drive.net == net).map(|drive| (drive.value.clone(), drive.span));
        let (name, span) = match (found.nets[net].role, &found.nets[net].name, drive) {
            (Role::Ground, ..) => return Ok(Some(self.push(Step::Constant(0.0)))),
            (_, _, Some(drive)) => drive,
            (Role::Rail, Some(name), None) => (name.clone(), found.nets[net].span),
            _ => return Ok(None),
        };
        match self.value_reg(&name) {
            Some(reg) => Ok(Some(reg)),
            None => {
                let message = phrase!(CHECK_NETWORK_THE_POTENTIAL_OF_IS_NOT, name = name);
                Err(Problem::new(Code::Circuit, span, message)
                    .help(phrase!(CHECK_NETWORK_DEFINE_IT_ABOVE_THE_CIRCUIT, name = name)))
            }
        }
    }

    fn value_reg(&self, name: &str) -> Option<Reg> {
        match &self.names.get(name)?.binding {
            super::Binding::Value(typed) => Some(typed.reg),
            _ => None,
        }
    }

    /// The current through a part with two pins, from its first to its second.
    fn current_through(&mut self, circuit: usize, part: usize, span: Span) -> Found<Reg> {
        let found = &self.checked.circuits[circuit].parts[part];
        if found.pins.len() != 2 {
            let message = phrase!(CHECK_NETWORK_HAS_MORE_THAN_TWO_PINS, name = found.name());
            let help = phrase!(
                CHECK_NETWORK_NAME_THE_PIN,
                name = found.name(),
                pin = found.pins.first().map_or("1", |pin| pin.name.as_str())
            );
            return Err(Problem::new(Code::Circuit, span, message).help(help));
        }
        self.current_into(circuit, part, 0)
    }

    /// The current into a part at a pin.
    fn current_into(&mut self, circuit: usize, part: usize, pin: usize) -> Found<Reg> {
        let branches = self.branches(circuit);
        let (net, own) = {
            let found = &self.checked.circuits[circuit].parts[part];
            (found.pins[pin].net, found.kind)
        };
        let driven = self.checked.circuits[circuit].drives.iter().any(|drive| drive.net == net);
        if own.is_box() && driven {
            // What a driven pin gives is what all else on the net takes.
            let taken = self.leaving(circuit, |other| other == net, &branches, None)?;
            return Ok(self.push(Step::Negate(taken)));
        }
        let mut sum: Option<Reg> = None;
        for (index, branch) in branches.iter().enumerate().filter(|(_, branch)| branch.part == part) {
            let enters = branch.pins.0 == pin;
            if !enters && branch.pins.1 != pin {
                continue;
            }
            let current = self.current(circuit, index, &branches)?;
            let current = if enters { current } else { self.push(Step::Negate(current)) };
            sum = Some(sum.map_or(current, |sum| self.push(Step::Add(sum, current))));
        }
        Ok(sum.unwrap_or_else(|| self.push(Step::Constant(0.0))))
    }

    /// The current through a branch, from its first net to its second.
    fn current(&mut self, circuit: usize, index: usize, branches: &[Branch]) -> Found<Reg> {
        if let Some(reg) = self.solved.entry(circuit).or_default().currents.get(&index) {
            return Ok(*reg);
        }
        let branch = &branches[index];
        let reg = match branch.flow {
            Flow::Resistance(resistance) => {
                let (a, b) = (self.potential(circuit, branch.nets.0)?, self.potential(circuit, branch.nets.1)?);
                match self.minus(Some(a), Some(b)) {
                    Some(across) => self.push(Step::Divide(across, resistance)),
                    None => self.push(Step::Constant(0.0)),
                }
            }
            Flow::Current(current) => current,
            Flow::Voltage(_) => self.source_current(circuit, index, branches)?,
            Flow::Unknown(ref problem) => return Err(problem.clone()),
        };
        self.solved.entry(circuit).or_default().currents.insert(index, reg);
        Ok(reg)
    }

    /// The sum of the currents that leave some nets by their branches, one of these left out.
    fn leaving(
        &mut self,
        circuit: usize,
        within: impl Fn(usize) -> bool,
        branches: &[Branch],
        without: Option<usize>,
    ) -> Found<Reg> {
        let mut sum: Option<Reg> = None;
        for (index, branch) in branches.iter().enumerate().filter(|(index, _)| Some(*index) != without) {
            if within(branch.nets.0) == within(branch.nets.1) {
                continue;
            }
            let current = self.current(circuit, index, branches)?;
            let leaves = within(branch.nets.0);
            sum = Some(match (sum, leaves) {
                (None, true) => current,
                (None, false) => self.push(Step::Negate(current)),
                (Some(sum), true) => self.push(Step::Add(sum, current)),
                (Some(sum), false) => self.push(Step::Subtract(sum, current)),
            });
        }
        Ok(sum.unwrap_or_else(|| self.push(Step::Constant(0.0))))
    }

    /// The current through a source of voltage: what the nets behind it take together.
    fn source_current(&mut self, circuit: usize, index: usize, branches: &[Branch]) -> Found<Reg> {
        let (first, second) = branches[index].nets;
        // The side that no fixed potential is on is known by its other branches.
        for (near, far) in [(second, first), (first, second)] {
            if self.fixed_potential(circuit, near)?.is_some() {
                continue;
            }
            let mut side = vec![near];
            let mut at = 0;
            let mut closed = true;
            while at < side.len() {
                for (other, branch) in branches.iter().enumerate() {
                    if other == index || !matches!(branch.flow, Flow::Voltage(_)) {
                        continue;
                    }
                    let next = match branch.nets {
                        (a, b) if a == side[at] => b,
                        (a, b) if b == side[at] => a,
                        _ => continue,
                    };
                    if side.contains(&next) {
                        continue;
                    }
                    if next == far || self.fixed_potential(circuit, next)?.is_some() {
                        closed = false;
                    } else {
                        side.push(next);
                    }
                }
                at += 1;
            }
            if !closed {
                continue;
            }
            let taken = self.leaving(circuit, |net| side.contains(&net), branches, Some(index))?;
            return Ok(if near == second { taken } else { self.push(Step::Negate(taken)) });
        }
        let found = &self.checked.circuits[circuit];
        let part = &found.parts[branches[index].part];
        let message = phrase!(
            CHECK_NETWORK_THE_CURRENT_THROUGH_IS_NOT,
            name = part.name(),
            net = found.net_name(first),
            other_net = found.net_name(second)
        );
        Err(Problem::new(Code::Circuit, part.span, message).help(phrase!(CHECK_NETWORK_PUT_A_RESISTANCE_INTO)))
    }
}
