//! What would make a requirement hold over the whole worst case: a closer tolerance of the given that is most to blame, or
//! the nearest preferred value of a part.

use super::{
    assemble::Assembler,
    extremes::Tolerances,
    preferred::{Choice, Direction, Series},
    program::{Reg, Step},
};
use crate::{
    check::CheckedKeep,
    results::{Change, End, Remedy},
    units::{DisplayUnit, QuantityType, parse},
};

/// How far from its present value a part is sought: two decades of E24.
const STEPS: usize = 48;
/// Halvings when a tolerance is sought: to a thousandth of the present one.
const HALVINGS: u32 = 10;
/// How often that is done by the corners known alone.
const ROUNDS: u32 = 4;

impl Assembler<'_> {
    /// The remedies for a requirement that does not hold.
    pub(super) fn remedies(&self, keep: &CheckedKeep) -> Vec<Remedy> {
        let order = self.tolerances.cone(&[keep.distance]);
        let mut trial = self.tolerances.again();
        let corner = self.extremes_of(keep.distance).map(|found| found.low_at.clone()).unwrap_or_default();
        let mut holds = Holds { distance: keep.distance, order: &order, corners: vec![corner] };
        let mut remedies = Vec::new();
        if let Some(source) = self.blamed(keep.distance) {
            let change = closer_tolerance(&mut trial, source, &mut holds);
            let given = self.checked.program.sources[source as usize].name.clone();
            remedies.push(Remedy { given, change });
        }
        remedies.extend(self.another_part(&mut trial, &mut holds));
        remedies
    }

    /// Another preferred value for a resistor, capacitor or inductor that the requirement depends on: the smallest step
    /// that cures it.
    fn another_part(&self, trial: &mut Tolerances<'_>, holds: &mut Holds<'_>) -> Option<Remedy> {
        let order = holds.order;
        let mut best: Option<(f64, Remedy)> = None;
        for value in &self.checked.values {
            let Step::Source(source) = self.checked.program.steps[value.typed.reg as usize] else { continue };
            let crate::units::ValueType::Quantity(quantity) = value.typed.value_type else { continue };
            let Some(series) = series_of(quantity).filter(|_| order.contains(&value.typed.reg)) else { continue };
            let (present, ends) = (trial.centre[source as usize], trial.ends[source as usize]);
            if present <= 0.0 {
                continue;
            }
            for other in neighbours(series.0, present) {
                let distance = libm::fabs(libm::log(other / present));
                if best.as_ref().is_some_and(|(least, _)| distance >= *least) {
                    break;
                }
                // From the part at hand each time, so that no rounding adds up.
                (trial.centre[source as usize], trial.ends[source as usize]) = (present, ends);
                trial.replace_part(source, other, order);
                if holds.surely(trial) {
                    let shown = DisplayUnit::picked(quantity, other).show(other, series.0.digits());
                    let change = Change::Preferred { value: other, shown, series: series.1 };
                    best = Some((distance, Remedy { given: value.name.clone(), change }));
                    break;
                }
            }
            trial.ends[source as usize] = ends;
            trial.move_source(source, present, order);
        }
        best.map(|(_, remedy)| remedy)
    }
}

/// Whether the requirement holds over a box. The corners that broke it before most often break it again, and a look at
/// those is enough to know.
struct Holds<'a> {
    distance: Reg,
    order: &'a [Reg],
    corners: Vec<Vec<(u32, f64, End)>>,
}

impl Holds<'_> {
    /// Whether it holds at all corners that broke it before.
    fn perhaps(&self, trial: &Tolerances<'_>) -> bool {
        // One without a value breaks nothing by itself: the whole box is looked at.
        let breaks = |corner: &Vec<(u32, f64, End)>| trial.at_corner(corner, self.order, self.distance) < 0.0;
        !self.corners.iter().any(breaks)
    }

    /// Whether it holds over the whole box.
    fn surely(&mut self, trial: &Tolerances<'_>) -> bool {
        if !self.perhaps(trial) {
            return false;
        }
        let Some(found) = trial.extremes(&[self.distance], self.order).pop().flatten() else {
            return trial.nominal[self.distance as usize] >= 0.0;
        };
        let holds = found.unbounded.is_none() && found.low >= 0.0;
        if !holds {
            self.corners.push(found.low_at);
        }
        holds
    }
}

/// The part of a source's tolerance that is close enough.
fn closer_tolerance(trial: &mut Tolerances<'_>, source: u32, holds: &mut Holds<'_>) -> Change {
    let (low, high) = trial.ends[source as usize];
    let middle = trial.centre[source as usize];
    let ends = |part: f64| (middle - (middle - low) * part, middle + (high - middle) * part);
    let mut change = Change::NoToleranceWill;
    trial.ends[source as usize] = ends(0.0);
    if holds.surely(trial) {
        // By the corners known first, which cost little; what these let through is then looked at over the whole box.
        let mut enough = 1.0;
        for round in 0..=ROUNDS {
            let thorough = round == ROUNDS;
            let (mut least, mut too_much) = (0.0, enough);
            for _ in 0..HALVINGS {
                let part = 0.5 * (least + too_much);
                trial.ends[source as usize] = ends(part);
                let cured = if thorough { holds.surely(trial) } else { holds.perhaps(trial) };
                if cured {
                    least = part;
                } else {
                    too_much = part;
                }
            }
            enough = least;
            trial.ends[source as usize] = ends(enough);
            if thorough || enough == 0.0 || holds.surely(trial) {
                break;
            }
        }
        let (low, high) = ends(enough);
        change = Change::Tolerance { part: enough, low, high };
    }
    trial.ends[source as usize] = (low, high);
    change
}

/// The series in which parts of a quantity are sold, in general use: common practice.
fn series_of(quantity: QuantityType) -> Option<(Series, &'static str)> {
    let is = |symbol: &str| parse(symbol).is_some_and(|unit| unit.quantity.dimension == quantity.dimension);
    if is("Ω") {
        Some((Series::E24, "E24"))
    } else if is("F") || is("H") {
        Some((Series::E6, "E6"))
    } else {
        None
    }
}

/// Preferred values around one, the nearest first.
fn neighbours(series: Series, present: f64) -> Vec<f64> {
    let step = |direction: Direction, from: f64| {
        let beyond = if direction == Direction::Above { from * 1.001 } else { from / 1.001 };
        Choice { series, direction }.of(beyond)
    };
    let mut found = Vec::with_capacity(2 * STEPS);
    let (mut above, mut below) = (present, present);
    for _ in 0..STEPS {
        above = step(Direction::Above, above);
        below = step(Direction::Below, below);
        found.extend([above, below]);
    }
    found.sort_by(|a, b| libm::fabs(libm::log(a / present)).total_cmp(&libm::fabs(libm::log(b / present))));
    found
}
