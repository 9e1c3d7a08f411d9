//! The givens that could explain a reading, each alone.

use super::root::Moved;
use crate::{
    check::Checked,
    day::Day,
    evaluate::{draws::moments, tolerances::Tolerances},
    program::{Reg, Step},
    results::{Suspect, Suspects},
};

/// The givens behind a register, ranked by how many of their own standard uncertainties each must be off for the register
/// to come to `reading`, all others at their nominal values. A given without tolerance is taken as exact. Nothing where no
/// given with a tolerance is behind it.
pub(crate) fn suspects(
    checked: &Checked,
    tolerances: &Tolerances<'_>,
    reg: Reg,
    reading: f64,
    day: Option<Day>,
) -> Option<Suspects> {
    if !reading.is_finite() {
        return None;
    }
    let steps = &tolerances.program.steps;
    let behind = tolerances.varying_steps(&[reg]).into_iter().filter_map(|reg| match steps[reg as usize] {
        Step::Source(source) => Some((reg, source)),
        _ => None,
    });
    let (mut ranked, mut cannot, mut seen) = (Vec::new(), Vec::new(), Vec::new());
    for (at, source) in behind {
        let known = &tolerances.sources[source as usize];
        if !known.varies() || seen.contains(&source) {
            continue;
        }
        seen.push(source);
        let nominal = tolerances.centre[source as usize];
        let Some(needed) = Moved::new(tolerances, reg, source).reaching(reading) else {
            cannot.push(known.name.clone());
            continue;
        };
        let (low, high) = tolerances.ends[source as usize];
        ranked.push(Suspect {
            given: known.name.clone(),
            value: checked.values.iter().position(|value| value.typed.reg == at),
            nominal,
            needed,
            sigmas: (needed - nominal) / moments(known).1,
            allowed: (low..=high).contains(&needed),
        });
    }
    ranked.sort_by(|a, b| a.sigmas.abs().total_cmp(&b.sigmas.abs()));
    (!seen.is_empty()).then_some(Suspects { day, reading, ranked, cannot })
}
