//! The worst case of everything that a worksheet's results are made from.

mod enclosure;
mod extremes;
mod prove;
mod search;

pub(crate) use extremes::Extremes;

use super::tolerances::Tolerances;
use crate::check::Checked;
use crate::program::Reg;

/// The extremes of all values, limits, conditions and arguments of models.
pub(super) struct WorstCases {
    /// Rising.
    targets: Vec<Reg>,
    extremes: Vec<Option<Extremes>>,
}

impl WorstCases {
    pub(super) fn new(checked: &Checked, tolerances: &Tolerances<'_>) -> Self {
        let mut targets: Vec<Reg> = Vec::new();
        for value in &checked.values {
            targets.push(value.typed.margin.unwrap_or(value.typed.reg));
        }
        for keep in &checked.keeps {
            targets.push(keep.subject.margin.unwrap_or(keep.subject.reg));
            for (bound, distance) in keep.lower.iter().chain(&keep.upper) {
                targets.extend([bound.reg, *distance]);
            }
            targets.push(keep.distance);
        }
        targets.extend(checked.notes.iter().filter_map(|note| note.condition.as_ref()?.0.margin));
        targets.extend(checked.program.calls.iter().flat_map(|call| call.inputs.iter().copied()));
        targets.sort_unstable();
        targets.dedup();
        let order: Vec<Reg> = (0..checked.program.steps.len() as Reg).collect();
        let extremes = tolerances.proven_extremes(&targets, &order);
        Self { targets, extremes }
    }

    /// Those of a register, where it varies.
    pub(super) fn of(&self, reg: Reg) -> Option<&Extremes> {
        self.extremes[self.targets.binary_search(&reg).ok()?].as_ref()
    }
}
