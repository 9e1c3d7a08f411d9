//! What would make a requirement hold over the whole worst case: a closer tolerance of the given that is most to blame, or
//! the nearest preferred value of a part.

use super::super::{tolerances::Tolerances, worst_case::Extremes};
use crate::{
    case::lowercase,
    check::{Checked, CheckedValue},
    preferred::Series,
    program::{Reg, Step},
    results::{Change, End, Remedy},
    units::{DisplayUnit, QuantityType, parse},
};

/// How far from its present value a part is sought, in values of its series: two decades of E24.
const STEPS: usize = 48;
/// To what part of the present one a closer tolerance is sought.
const FINEST: f64 = 1.0 / 1024.0;
/// Steps towards it after which it is sought by halving.
const MOST_STEPS: u32 = 12;

/// Looks for remedies for a requirement that does not hold.
pub(in super::super) struct Remedies<'a> {
    pub(in super::super) checked: &'a Checked,
    pub(in super::super) tolerances: &'a Tolerances<'a>,
    /// The least distance from the requirement's bounds.
    pub(in super::super) distance: Reg,
}

impl Remedies<'_> {
    /// The remedies; `now` is the worst case of the distance, `blamed` the source that costs the most of it.
    pub(in super::super) fn found(&self, now: Option<&Extremes>, blamed: Option<u32>) -> Vec<Remedy> {
        let order = self.tolerances.varying_steps(&[self.distance]);
        let mut trial = self.tolerances.copied();
        let corners = now.map(|found| found.low_at.clone()).into_iter().collect();
        let mut spare = Spare { distance: self.distance, order: &order, corners };
        let mut remedies = Vec::new();
        if let Some(source) = blamed {
            let change = closer_tolerance(&mut trial, source, &mut spare, now.map_or(f64::NAN, |found| found.low));
            let given = self.tolerances.sources[source as usize].name.clone();
            remedies.push(Remedy { given, change });
        }
        remedies.extend(self.another_part(&mut trial, &mut spare));
        remedies
    }

    /// Another preferred value for a resistor, capacitor or inductor that the requirement depends on: the smallest step
    /// that cures it.
    fn another_part(&self, trial: &mut Tolerances<'_>, spare: &mut Spare<'_>) -> Option<Remedy> {
        let order = spare.order;
        let mut best: Option<(f64, Remedy)> = None;
        for value in self.checked.named() {
            let Step::Source(source) = self.tolerances.program.steps[value.typed.reg as usize] else { continue };
            let crate::units::ValueType::Quantity(quantity) = value.typed.value_type else { continue };
            let sold = order.contains(&value.typed.reg) && is_bought_in_series(self.checked, source, value);
            let Some(series) = series_of(quantity).filter(|_| sold) else { continue };
            let (present, ends) = (trial.centre[source as usize], trial.ends[source as usize]);
            if present <= 0.0 {
                continue;
            }
            for (distance, other) in neighbours(series.0, present) {
                if best.as_ref().is_some_and(|(least, _)| distance >= *least) {
                    break;
                }
                // From the part at hand each time, so that no rounding adds up.
                (trial.centre[source as usize], trial.ends[source as usize]) = (present, ends);
                trial.replace_part(source, other, order);
                if spare.least(trial) >= 0.0 {
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

/// How far a requirement is from breaking over a box. The corners that broke it before most often break it again, and a
/// look at those is enough to know.
struct Spare<'a> {
    distance: Reg,
    order: &'a [Reg],
    corners: Vec<Vec<(u32, f64, End)>>,
}

impl Spare<'_> {
    /// What is left at the worst point of the box, or at one that breaks it; nothing at all where there is no bound.
    fn least(&mut self, trial: &Tolerances<'_>) -> f64 {
        for corner in &self.corners {
            let at_corner = trial.at_corner(corner, self.order, self.distance);
            // One without a value breaks nothing by itself: the whole box is looked at.
            if at_corner < 0.0 {
                return at_corner;
            }
        }
        let Some(found) = trial.least(self.distance, self.order) else {
            return trial.nominal[self.distance as usize];
        };
        let least = if found.unbounded.is_some() { f64::NEG_INFINITY } else { found.low };
        if least < 0.0 {
            self.corners.push(found.low_at);
        }
        least
    }
}

/// The part of a source's tolerance that is close enough, by regula falsi (the Illinois algorithm: M. Dowell, P. Jarratt,
/// BIT 11, 1971); `now` is what is left with the present tolerance.
fn closer_tolerance(trial: &mut Tolerances<'_>, source: u32, spare: &mut Spare<'_>, now: f64) -> Change {
    let (low, high) = trial.ends[source as usize];
    let middle = trial.centre[source as usize];
    let ends = |part: f64| (middle - (middle - low) * part, middle + (high - middle) * part);
    let mut left = |part: f64| {
        trial.ends[source as usize] = ends(part);
        spare.least(trial)
    };
    let mut change = Change::NoToleranceWill;
    // Parts of the tolerance that are close enough and too much, with what each leaves.
    let (mut enough, mut too_much) = ((0.0, left(0.0)), (1.0, now));
    if enough.1 >= 0.0 {
        let (mut steps, mut held_last) = (0, None);
        while too_much.0 - enough.0 > 1.001 * FINEST {
            let (width, share) = (too_much.0 - enough.0, enough.1 / (enough.1 - too_much.1));
            // In the middle where an end gives nothing; else a little to the side that is still to be met.
            let aside = if held_last == Some(true) { 0.5 * FINEST } else { -0.5 * FINEST };
            let near = share.is_finite() && too_much.1.is_finite() && steps < MOST_STEPS;
            let inside =
                if near { (width * share + aside).clamp(0.5 * FINEST, width - 0.5 * FINEST) } else { 0.5 * width };
            let part = enough.0 + inside;
            let found = left(part);
            let holds = found >= 0.0;
            if holds {
                enough = (part, found);
            } else {
                too_much = (part, found);
            }
            if held_last == Some(holds) {
                let other = if holds { &mut too_much } else { &mut enough };
                other.1 *= 0.5;
            }
            (steps, held_last) = (steps + 1, Some(holds));
        }
        let (low, high) = ends(enough.0);
        change = Change::Tolerance { part: enough.0, low, high };
    }
    trial.ends[source as usize] = (low, high);
    change
}

/// Whether another value of a given can be bought. A worksheet that lists its parts says so; in one that does not, a label
/// that names what a resistance or a capacitance belongs to says that it cannot.
fn is_bought_in_series(checked: &Checked, source: u32, value: &CheckedValue) -> bool {
    if !checked.parts.is_empty() {
        return checked.bought.contains(&source);
    }
    let label = lowercase(value.label.as_deref().unwrap_or(""));
    let mut words = label.split(|c: char| !c.is_alphanumeric());
    !words.any(|word| NOT_IN_SERIES.iter().any(|not| word == *not || word.strip_suffix('s') == Some(not)))
}

/// What has a resistance, an inductance or a capacitance that nobody chooses from a series: common practice.
const NOT_IN_SERIES: &[&str] = &[
    "winding",
    "windings",
    "coil",
    "motor",
    "lamp",
    "bulb",
    "heater",
    "relay",
    "solenoid",
    "speaker",
    "loudspeaker",
    "wire",
    "cable",
    "lead",
    "track",
    "trace",
    "contact",
    "probe",
    "battery",
    "cell",
    "internal",
    "output",
    "input",
    "load",
    "stray",
    "parasitic",
    "gate",
    "sensor",
    "thermistor",
    "transformer",
    "pump",
    "valve",
    "fuse",
    "switch",
    "skin",
    "body",
];

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

/// Preferred values around one, the nearest first, each with how far it is as a ratio.
fn neighbours(series: Series, present: f64) -> Vec<(f64, f64)> {
    let reach = libm::exp10(STEPS as f64 / series.values().len() as f64);
    let values = series.between(present / reach, present * reach).into_iter();
    let mut found: Vec<(f64, f64)> = values.map(|x| ((x / present).max(present / x), x)).collect();
    found.retain(|(ratio, _)| *ratio > 1.001);
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found
}
