//! The worst case of everything that a worksheet's results are made from.

mod effort;
mod enclosure;
mod extremes;
mod prove;
mod search;
mod seeded;

pub(crate) use extremes::Extremes;

use super::tolerances::Tolerances;
use crate::{check::Checked, program::Reg, results::Role};

/// The extremes of all values, limits, conditions and arguments of models.
pub(super) struct WorstCases {
    /// Rising.
    targets: Vec<Reg>,
    /// Those that are to be proven, rising.
    promised: Vec<Reg>,
    extremes: Vec<Option<Extremes>>,
}

impl WorstCases {
    pub(super) fn new(checked: &Checked, tolerances: &Tolerances<'_>) -> Self {
        // What requirements, notes and the page's own lines say is proven where it can be; the rest is only searched.
        let (mut promised, mut targets): (Vec<Reg>, Vec<Reg>) = (Vec::new(), Vec::new());
        for value in &checked.values {
            let is_read = value.role != Role::Field || checked.fields_read.contains(&value.name);
            let list = if is_read { &mut promised } else { &mut targets };
            list.push(value.typed.margin.unwrap_or(value.typed.reg));
        }
        for keep in &checked.keeps {
            promised.push(keep.subject.margin.unwrap_or(keep.subject.reg));
            promised.extend(keep.lower.iter().chain(&keep.upper).map(|(_, distance)| *distance));
            targets.extend(keep.lower.iter().chain(&keep.upper).map(|(bound, _)| bound.reg));
            targets.push(keep.distance);
        }
        promised.extend(checked.notes.iter().filter_map(|note| note.condition.as_ref()?.0.margin));
        targets.extend(checked.program.calls.iter().flat_map(|call| call.inputs.iter().copied()));
        targets.extend(checked.assumptions.iter().map(|assumption| assumption.reg));
        promised.sort_unstable();
        promised.dedup();
        targets.extend(&promised);
        targets.sort_unstable();
        targets.dedup();
        let order: Vec<Reg> = (0..checked.program.steps.len() as Reg).collect();
        let is_promised = |reg| promised.binary_search(&reg).is_ok();
        let extremes = tolerances.proven_extremes(&targets, &order, is_promised);
        Self { targets, promised, extremes }
    }

    /// Those of a register, where it varies.
    pub(super) fn of(&self, reg: Reg) -> Option<&Extremes> {
        self.extremes[self.targets.binary_search(&reg).ok()?].as_ref()
    }
}

/// Ranges that surely hold some registers of a program whose sources are plain numbers.
#[cfg(test)]
pub(crate) fn enclosed(
    program: &crate::program::Program,
    sources: &[f64],
    regs: &[Reg],
) -> Vec<crate::program::Interval> {
    let state = crate::program::RunState::new(program, crate::host::Fidelity::Builds);
    let order: Vec<Reg> = (0..program.steps.len() as Reg).collect();
    let box_: Vec<(f64, f64)> = sources.iter().map(|value| (*value, *value)).collect();
    let mut nominal = vec![0.0; order.len()];
    program.rerun(&state, &order, sources, &mut nominal, &mut []);
    let known = enclosure::enclose((program, &state), &box_, &nominal, &order, None);
    regs.iter().map(|reg| known.of(*reg).map_or(crate::program::Interval::ALL, |known| known.range)).collect()
}
