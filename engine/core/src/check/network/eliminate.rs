//! The potentials of nets that are joined by resistances and sources: nets that sources tie together are one unknown, and
//! unknowns are eliminated one by one, those with fewest neighbours first.

use std::collections::{BTreeMap, HashMap};

use benchleaf_words::phrase;

use super::{
    Checker, Found,
    model::{Branch, Flow},
};
use crate::{
    problem::{Code, Problem},
    program::{Reg, Step},
};

/// A net's potential: an unknown's, or a known one; and what is added to it.
#[derive(Clone, Copy)]
struct Tied {
    root: Root,
    above: Option<Reg>,
}

#[derive(Clone, Copy, PartialEq)]
enum Root {
    Unknown(usize),
    Known(Reg),
}

/// An unknown in elimination: conductances to known potentials and to other unknowns, and the current that flows in.
#[derive(Default)]
struct Unknown {
    /// Sum of the conductances to known potentials.
    to_known: Option<Reg>,
    /// Currents that flow in: from sources, and through conductances from known potentials.
    inflow: Option<Reg>,
    neighbours: BTreeMap<usize, Reg>,
}

/// Most unknowns of a network that is solved.
const MOST: usize = 200;

impl Checker<'_> {
    /// Solves the nets around one that no rail, ground or drive fixes.
    pub(super) fn solve_around(&mut self, circuit: usize, net: usize) -> Found<Reg> {
        let branches = self.branches(circuit);
        let island = self.island(circuit, net, &branches)?;
        let tied = self.tie(circuit, &island, &branches)?;
        let count = tied.values().filter_map(|tied| match tied.root {
            Root::Unknown(number) => Some(number + 1),
            Root::Known(_) => None,
        });
        let count = count.max().unwrap_or(0);
        if count > MOST {
            let message = phrase!(
                CHECK_ELIMINATE_THE_NETWORK_AROUND_HAS_UNKNOWN,
                net = self.checked.circuits[circuit].net_name(net),
                count = count
            );
            return Err(Problem::new(Code::TooDeep, self.checked.circuits[circuit].span, message)
                .help(phrase!(CHECK_ELIMINATE_AT_MOST_ARE_SOLVED, most = MOST)));
        }
        let mut unknowns: Vec<Unknown> = (0..count).map(|_| Unknown::default()).collect();
        for branch in &branches {
            self.stamp(circuit, branch, &tied, &mut unknowns)?;
        }
        let roots = self.eliminated(circuit, unknowns, &tied)?;
        let mut potentials: Vec<(usize, Reg)> = Vec::new();
        for net in &island {
            let Some(found) = tied.get(net) else { continue };
            let root = match found.root {
                Root::Known(reg) => reg,
                Root::Unknown(number) => roots[number],
            };
            potentials.push((*net, self.plus(Some(root), found.above).unwrap_or(root)));
        }
        self.solved.entry(circuit).or_default().potentials.extend(potentials.iter().copied());
        let nets: Vec<usize> = potentials.iter().map(|(net, _)| *net).collect();
        self.assume(circuit, &nets, &branches)?;
        let reg = potentials.iter().find(|(found, _)| *found == net).map(|(_, reg)| *reg);
        reg.ok_or_else(|| self.floating(circuit, &[net]))
    }

    /// The nets that are joined to one by branches, up to those whose potential is fixed.
    fn island(&mut self, circuit: usize, net: usize, branches: &[Branch]) -> Found<Vec<usize>> {
        let mut island = vec![net];
        let mut at = 0;
        while at < island.len() {
            for branch in branches {
                let next = match branch.nets {
                    (a, b) if a == island[at] => b,
                    (a, b) if b == island[at] => a,
                    _ => continue,
                };
                match &branch.flow {
                    Flow::Unknown(problem) => return Err(problem.clone()),
                    Flow::Current(_) => continue,
                    Flow::Resistance(_) | Flow::Voltage(_) => {}
                }
                if !island.contains(&next) && self.fixed_potential(circuit, next)?.is_none() {
                    island.push(next);
                }
            }
            at += 1;
        }
        island.sort_unstable();
        Ok(island)
    }

    /// Ties nets together that sources of voltage join: first those that hang on a known potential.
    fn tie(&mut self, circuit: usize, island: &[usize], branches: &[Branch]) -> Found<HashMap<usize, Tied>> {
        let mut tied: HashMap<usize, Tied> = HashMap::new();
        let mut used = vec![false; branches.len()];
        let sources: Vec<usize> =
            (0..branches.len()).filter(|at| matches!(branches[*at].flow, Flow::Voltage(_))).collect();
        let mut fixed: Vec<usize> = Vec::new();
        for at in &sources {
            let (a, b) = branches[*at].nets;
            let ends = (island.contains(&a), island.contains(&b));
            fixed.extend(match ends {
                (true, false) => Some(b),
                (false, true) => Some(a),
                _ => None,
            });
        }
        fixed.sort_unstable();
        fixed.dedup();
        let mut next = 0;
        for start in fixed.iter().chain(island) {
            if tied.contains_key(start) {
                continue;
            }
            let root = match self.fixed_potential(circuit, *start)? {
                Some(reg) => Root::Known(reg),
                None => {
                    next += 1;
                    Root::Unknown(next - 1)
                }
            };
            tied.insert(*start, Tied { root, above: None });
            let mut queue = vec![*start];
            while let Some(net) = queue.pop() {
                for at in &sources {
                    let (a, b) = branches[*at].nets;
                    let Flow::Voltage(volts) = branches[*at].flow else { continue };
                    let (far, rises) = match (a == net, b == net) {
                        (true, true) | (false, false) => continue,
                        (true, false) => (b, false),
                        (false, true) => (a, true),
                    };
                    if !island.contains(&far) || std::mem::replace(&mut used[*at], true) {
                        continue;
                    }
                    if tied.contains_key(&far) {
                        return Err(self.source_loop(circuit, branches[*at].part, (a, b)));
                    }
                    let above = tied.get(&net).and_then(|tied| tied.above);
                    let above = if rises {
                        self.plus(above, Some(volts))
                    } else {
                        Some(match above {
                            Some(above) => self.push(Step::Subtract(above, volts)),
                            None => self.push(Step::Negate(volts)),
                        })
                    };
                    tied.insert(far, Tied { root, above });
                    queue.push(far);
                }
            }
        }
        Ok(tied)
    }

    fn source_loop(&self, circuit: usize, part: usize, nets: (usize, usize)) -> Problem {
        let circuit = &self.checked.circuits[circuit];
        let part = &circuit.parts[part];
        let message = phrase!(
            CHECK_ELIMINATE_SOURCES_OF_VOLTAGE_FORM,
            name = part.name(),
            net = circuit.net_name(nets.0),
            other_net = circuit.net_name(nets.1)
        );
        let help = phrase!(CHECK_ELIMINATE_NOTHING_LIMITS_THE_CURRENT);
        Problem::new(Code::Circuit, part.span, message).help(help)
    }

    fn floating(&self, circuit: usize, nets: &[usize]) -> Problem {
        let found = &self.checked.circuits[circuit];
        let names: Vec<String> = nets.iter().take(3).map(|net| format!("`{}`", found.net_name(*net))).collect();
        let span = nets.first().map_or(found.span, |net| {
            let pin = found.nets[*net].pins.first();
            pin.map_or(found.nets[*net].span, |(part, pin)| found.parts[*part].pins[*pin].span)
        });
        let message = phrase!(CHECK_ELIMINATE_NOTHING_FIXES_THE_POTENTIAL_OF, names = names.join(", "));
        let help = phrase!(CHECK_ELIMINATE_NO_RESISTANCE_AND_NO_SOURCE);
        Problem::new(Code::Circuit, span, message).help(help)
    }

    pub(super) fn plus(&mut self, a: Option<Reg>, b: Option<Reg>) -> Option<Reg> {
        match (a, b) {
            (Some(a), Some(b)) if self.is_zero(b) => Some(a),
            (Some(a), Some(b)) if self.is_zero(a) => Some(b),
            (Some(a), Some(b)) => Some(self.push(Step::Add(a, b))),
            (a, b) => a.or(b),
        }
    }

    /// Whether a register is ground's.
    fn is_zero(&self, reg: Reg) -> bool {
        self.checked.program.steps[reg as usize] == Step::Constant(0.0)
    }

    pub(super) fn minus(&mut self, a: Option<Reg>, b: Option<Reg>) -> Option<Reg> {
        match (a, b) {
            (Some(a), Some(b)) if self.is_zero(b) => Some(a),
            (Some(a), Some(b)) => Some(self.push(Step::Subtract(a, b))),
            (None, Some(b)) => Some(self.push(Step::Negate(b))),
            (a, None) => a,
        }
    }

    /// What a net is tied to: one of the island's, or one whose potential is fixed.
    fn tied_to(&mut self, circuit: usize, net: usize, tied: &HashMap<usize, Tied>) -> Found<Option<Tied>> {
        if let Some(found) = tied.get(&net) {
            return Ok(Some(*found));
        }
        Ok(self.fixed_potential(circuit, net)?.map(|reg| Tied { root: Root::Known(reg), above: None }))
    }

    /// Enters a branch into the equations.
    fn stamp(
        &mut self,
        circuit: usize,
        branch: &Branch,
        tied: &HashMap<usize, Tied>,
        unknowns: &mut [Unknown],
    ) -> Found<()> {
        let (first, second) = branch.nets;
        let touches = |net: usize| tied.get(&net).is_some_and(|found| matches!(found.root, Root::Unknown(_)));
        if first == second || !(touches(first) || touches(second)) {
            return Ok(());
        }
        match branch.flow {
            Flow::Current(current) => {
                for (net, leaves) in [(first, true), (second, false)] {
                    let Some(Tied { root: Root::Unknown(number), .. }) = tied.get(&net).copied() else { continue };
                    let inflow = unknowns[number].inflow;
                    unknowns[number].inflow =
                        if leaves { self.minus(inflow, Some(current)) } else { self.plus(inflow, Some(current)) };
                }
            }
            Flow::Resistance(resistance) => {
                let (Some(a), Some(b)) = (self.tied_to(circuit, first, tied)?, self.tied_to(circuit, second, tied)?)
                else {
                    return Ok(());
                };
                if a.root == b.root {
                    // A resistance across a source changes no potential.
                    return Ok(());
                }
                let one = self.push(Step::Constant(1.0));
                let conductance = self.push(Step::Divide(one, resistance));
                for (own, other) in [(a, b), (b, a)] {
                    let Root::Unknown(number) = own.root else { continue };
                    match other.root {
                        Root::Known(reg) => {
                            let far = self.plus(Some(reg), other.above);
                            let drive = self.minus(far, own.above);
                            let flow = drive.map(|drive| self.push(Step::Multiply(conductance, drive)));
                            unknowns[number].inflow = self.plus(unknowns[number].inflow, flow);
                            unknowns[number].to_known = self.plus(unknowns[number].to_known, Some(conductance));
                        }
                        Root::Unknown(far) => {
                            let known = unknowns[number].neighbours.get(&far).copied();
                            if let Some(sum) = self.plus(known, Some(conductance)) {
                                unknowns[number].neighbours.insert(far, sum);
                            }
                            if let Some(drive) = self.minus(other.above, own.above) {
                                let flow = self.push(Step::Multiply(conductance, drive));
                                unknowns[number].inflow = self.plus(unknowns[number].inflow, Some(flow));
                            }
                        }
                    }
                }
            }
            Flow::Voltage(_) | Flow::Unknown(_) => {}
        }
        Ok(())
    }

    /// The potentials of the unknowns.
    fn eliminated(
        &mut self,
        circuit: usize,
        mut unknowns: Vec<Unknown>,
        tied: &HashMap<usize, Tied>,
    ) -> Found<Vec<Reg>> {
        let mut left: Vec<usize> = (0..unknowns.len()).collect();
        let mut done: Vec<(usize, Reg, Unknown)> = Vec::new();
        while let Some(place) = (0..left.len()).min_by_key(|at| (unknowns[left[*at]].neighbours.len(), left[*at])) {
            let number = left.remove(place);
            let own = std::mem::take(&mut unknowns[number]);
            let mut sum = own.to_known;
            for conductance in own.neighbours.values() {
                sum = self.plus(sum, Some(*conductance));
            }
            let Some(sum) = sum else {
                // All of them hang together, and on nothing else.
                let unknown = tied.iter().filter(|(_, tied)| matches!(tied.root, Root::Unknown(_)));
                let mut nets: Vec<usize> = unknown.map(|(net, _)| *net).collect();
                nets.sort_unstable();
                return Err(self.floating(circuit, &nets));
            };
            let parts: Vec<(usize, Reg)> = own
                .neighbours
                .iter()
                .map(|(far, conductance)| (*far, self.push(Step::Divide(*conductance, sum))))
                .collect();
            for (far, part) in &parts {
                unknowns[*far].neighbours.remove(&number);
                if let Some(inflow) = own.inflow {
                    let passed = self.push(Step::Multiply(*part, inflow));
                    unknowns[*far].inflow = self.plus(unknowns[*far].inflow, Some(passed));
                }
                if let Some(known) = own.to_known {
                    let passed = self.push(Step::Multiply(*part, known));
                    unknowns[*far].to_known = self.plus(unknowns[*far].to_known, Some(passed));
                }
                for (other, conductance) in own.neighbours.iter().filter(|(other, _)| *other > far) {
                    let passed = self.push(Step::Multiply(*part, *conductance));
                    for (a, b) in [(*far, *other), (*other, *far)] {
                        let known = unknowns[a].neighbours.get(&b).copied();
                        if let Some(sum) = self.plus(known, Some(passed)) {
                            unknowns[a].neighbours.insert(b, sum);
                        }
                    }
                }
            }
            done.push((number, sum, own));
        }
        let mut roots: Vec<Reg> = vec![0; unknowns.len()];
        for (number, sum, own) in done.into_iter().rev() {
            let mut inflow = own.inflow;
            for (far, conductance) in &own.neighbours {
                let flow = self.push(Step::Multiply(*conductance, roots[*far]));
                inflow = self.plus(inflow, Some(flow));
            }
            roots[number] = match inflow {
                Some(inflow) => self.push(Step::Divide(inflow, sum)),
                None => self.push(Step::Constant(0.0)),
            };
        }
        Ok(roots)
    }
}
