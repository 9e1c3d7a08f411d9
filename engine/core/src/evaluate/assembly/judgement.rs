//! Judges requirements by their worst cases: the verdict, the margins, the given to blame, and what would cure them.

use super::super::{
    design::Remedies,
    tolerances::Tolerances,
    worst_case::{Extremes, WorstCases},
};
use crate::{
    check::{Checked, CheckedKeep, Typed},
    parallel,
    program::Reg,
    results::{End, LimitValue, Remedy, Status},
    units::{DisplayUnit, Kind, QuantityType, Unit, ValueType},
};

/// What the worst case says of a requirement.
pub(in super::super) struct Judgement {
    pub(super) status: Status,
    /// Whether the status is certain: false where nothing was found to break it, and nothing proves that it holds.
    pub(super) proven: bool,
    pub(super) lower: Option<LimitValue>,
    pub(super) upper: Option<LimitValue>,
    pub(super) margin: Option<f64>,
    pub(super) margin_worst: Option<f64>,
    pub(super) spare: Option<f64>,
    pub(super) spare_worst: Option<f64>,
    pub(super) remedies: Vec<Remedy>,
    pub(super) blame: Option<String>,
}

/// Judges all requirements of a worksheet, in their order.
pub(in super::super) fn judge(
    checked: &Checked,
    tolerances: &Tolerances<'_>,
    worst_cases: &WorstCases,
) -> Vec<Judgement> {
    let judge = Judge { checked, tolerances, worst_cases };
    parallel::each(&checked.keeps, |keep| judge.judgement(keep))
}

/// Whether a requirement fails at the nominal values, which say nothing about the builds around them.
pub(in super::super) fn is_broken(keep: &CheckedKeep, nominal: impl Fn(Reg) -> f64) -> bool {
    let subject = nominal(keep.subject.reg);
    if keep.subject.margin.is_some() {
        return subject == 0.0;
    }
    let fails = |(bound, distance): &(Typed, Reg)| {
        let distance = nominal(*distance);
        distance.is_nan() || distance < -slack(nominal(bound.reg))
    };
    subject.is_nan() || keep.lower.iter().chain(&keep.upper).any(fails)
}

/// How far beyond a bound is still at it: rounding alone breaks nothing.
fn slack(bound: f64) -> f64 {
    1e-12 * bound.abs()
}

struct Judge<'a> {
    checked: &'a Checked,
    tolerances: &'a Tolerances<'a>,
    worst_cases: &'a WorstCases,
}

impl Judge<'_> {
    fn judgement(&self, keep: &CheckedKeep) -> Judgement {
        let nominal = self.nominal(keep.subject.reg);
        let mut margin: Option<f64> = None;
        let mut margin_worst: Option<f64> = None;
        let (mut spare, mut spare_worst): (Option<f64>, Option<f64>) = (None, None);
        let mut status = if is_broken(keep, |reg| self.nominal(reg)) { Status::Broken } else { Status::Holds };
        let mut nearest: Option<(f64, Reg)> = None;
        let mut proven = true;
        for (bound, distance) in keep.lower.iter().chain(&keep.upper) {
            let at_nominal = self.nominal(*distance);
            let extremes = self.worst_cases.of(*distance);
            let least = extremes.map_or(at_nominal, |extremes| extremes.low);
            // Without a value over part of the box, it holds only where it has one.
            let partial = extremes.is_some_and(|extremes| extremes.unbounded.is_some() && !extremes.zero_by_zero);
            let surely = extremes.map_or(at_nominal, Extremes::surely_least);
            let slack = slack(self.nominal(bound.reg));
            // A distance without a value anywhere in the box cannot hold.
            if status == Status::Holds && (partial || least.is_nan() || least < -slack) {
                (status, proven) = (Status::AtRisk, true);
            } else if status == Status::Holds && surely < -slack {
                proven = false;
            }
            let size = bound_size(*bound, self.nominal(bound.reg), keep.unit.as_ref());
            let share = |distance: f64| (size > 0.0 && !distance.is_nan()).then(|| distance / size);
            margin = lesser(margin, share(at_nominal));
            margin_worst = lesser(margin_worst, share(least));
            spare = lesser(spare, Some(at_nominal));
            spare_worst = lesser(spare_worst, Some(least));
            if nearest.is_none_or(|(other, _)| least < other) {
                nearest = Some((least, *distance));
            }
        }
        if status != Status::Holds {
            proven = true;
        } else if !proven {
            status = Status::AtRisk;
        }
        if let Some(margin) = keep.subject.margin {
            let extremes = self.worst_cases.of(margin);
            let worst =
                extremes.map_or(nominal, |extremes| truth_at(self.tolerances, keep.subject.reg, &extremes.low_at));
            if status != Status::Broken {
                status = if worst != 0.0 { Status::Holds } else { Status::AtRisk };
            }
            let endless = extremes.is_some_and(|found| found.low == f64::NEG_INFINITY);
            if status == Status::Holds && endless {
                status = Status::AtRisk;
            } else if status == Status::Holds && extremes.is_some_and(|found| found.surely_least() < found.low.min(0.0))
            {
                (status, proven) = (Status::AtRisk, false);
            }
            nearest = Some((worst, margin));
        }
        // Of a block that was run at the nominal values alone, nothing is known of what it gives beside them.
        if status == Status::Holds && self.tolerances.is_nominal_alone(keep.distance) {
            (status, proven) = (Status::AtRisk, false);
        }
        let limit = |bound: &Option<(Typed, Reg)>, lower: bool| {
            let (typed, _) = bound.as_ref()?;
            let nominal = self.nominal(typed.reg);
            let tightest =
                self.worst_cases.of(typed.reg).map_or(nominal, |found| if lower { found.high } else { found.low });
            Some(LimitValue { nominal, tightest })
        };
        // Where nothing was found to break it, the source that can move it the furthest is named.
        let certain = if proven { status } else { Status::Holds };
        let blamed = nearest.and_then(|(_, distance)| self.blamed(distance, certain));
        let name = |source: u32| self.checked.program.sources[source as usize].name.clone();
        Judgement {
            status,
            proven,
            lower: limit(&keep.lower, true),
            upper: limit(&keep.upper, false),
            margin,
            margin_worst,
            spare,
            spare_worst,
            remedies: if certain == Status::Holds { Vec::new() } else { self.remedies(keep) },
            blame: blamed.map(name),
        }
    }

    fn nominal(&self, reg: Reg) -> f64 {
        self.tolerances.nominal[reg as usize]
    }

    /// The source that costs a distance the most; where the requirement holds, the one that can move it the furthest.
    fn blamed(&self, distance: Reg, status: Status) -> Option<u32> {
        let extremes = self.worst_cases.of(distance)?;
        match status {
            Status::Holds => extremes.heaviest,
            Status::AtRisk | Status::Broken => costliest(self.tolerances, distance, extremes),
        }
    }

    fn remedies(&self, keep: &CheckedKeep) -> Vec<Remedy> {
        let extremes = self.worst_cases.of(keep.distance);
        let blamed = extremes.and_then(|extremes| costliest(self.tolerances, keep.distance, extremes));
        let remedies = Remedies { checked: self.checked, tolerances: self.tolerances, distance: keep.distance };
        remedies.found(extremes, blamed)
    }
}

/// The source that, put back to its nominal value at the worst corner, gains a distance the most.
fn costliest(tolerances: &Tolerances<'_>, distance: Reg, extremes: &Extremes) -> Option<u32> {
    let corner: Vec<(u32, f64)> = extremes.low_at.iter().map(|(source, value, _)| (*source, *value)).collect();
    let mut best: Option<(f64, u32)> = None;
    for i in 0..corner.len() {
        let mut cured = corner.clone();
        cured[i].1 = tolerances.centre[corner[i].0 as usize];
        let at_cured = tolerances.probe(&cured, &[distance]);
        let gain = at_cured.first().copied().unwrap_or(f64::NAN) - extremes.low;
        if gain > 0.0 && best.is_none_or(|(other, _)| gain > other) {
            best = Some((gain, corner[i].0));
        }
    }
    best.map(|(_, source)| source)
}

/// Whether a condition is true (1) or false (0) with some sources at other values.
pub(super) fn truth_at(tolerances: &Tolerances<'_>, truth: Reg, at: &[(u32, f64, End)]) -> f64 {
    let changes: Vec<(u32, f64)> = at.iter().map(|(source, value, _)| (*source, *value)).collect();
    tolerances.probe(&changes, &[truth]).first().copied().unwrap_or(f64::NAN)
}

/// What a margin is a fraction of: the bound, in SI; for a temperature, its number on the scale shown.
fn bound_size(bound: Typed, nominal: f64, unit: Option<&Unit>) -> f64 {
    match bound.value_type {
        ValueType::Quantity(QuantityType { kind: Kind::Temperature, .. }) => {
            let scale = DisplayUnit::fitting(bound.value_type, unit, nominal).unit;
            (scale.of_si(nominal) * scale.factor).abs()
        }
        _ => nominal.abs(),
    }
}

fn lesser(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
