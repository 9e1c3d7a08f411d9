//! Readings, fits and suspects as programs read them.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::results::{BenchDay, BenchLog, Evaluation, Fit, Fitted, Suspect, Suspects};

/// The readings of a value on one day.
#[derive(Clone, Debug, Serialize)]
pub struct BenchEntry<'a> {
    /// The value that was read.
    pub value: &'a str,
    /// Line of its block.
    pub line: usize,
    /// The day, as ISO 8601 writes it.
    pub date: String,
    /// How many readings count.
    pub n: usize,
    /// Their mean, SI.
    pub mean: f64,
    /// Their sample standard deviation, SI; `null` for one reading.
    pub sd: Option<f64>,
    /// Standard uncertainty of the mean, SI: Type A and the instrument's; `null` where neither is known.
    pub u: Option<f64>,
    /// What Student's t gives in the place of k = 2, for the effective degrees of freedom of `u`.
    pub k_student: f64,
    /// Mean of the simulated builds, SI; the nominal value where that does not exist.
    pub predicted: f64,
    /// Its standard uncertainty, SI; `null` where it does not exist.
    pub u_predicted: Option<f64>,
    /// (mean − predicted) / √(U² + U_predicted²) with U = 2 u (ISO 13528).
    #[serde(rename = "E_n")]
    pub e_n: Option<f64>,
    /// The same with Student's factor for the readings.
    #[serde(rename = "E_n_student")]
    pub e_n_student: Option<f64>,
    /// Whether readings and prediction agree; `null` where that cannot be said.
    pub agrees: Option<bool>,
}

/// A given as readings imply it.
#[derive(Clone, Debug, Serialize)]
pub struct FitEntry<'a> {
    /// The given.
    pub given: &'a str,
    /// Line of the fit.
    pub line: usize,
    /// The value that the readings imply, SI.
    pub si: f64,
    /// Its standard uncertainty, SI; `null` where that of a reading is unknown.
    pub u: Option<f64>,
    /// Its nominal value, SI.
    pub nominal: f64,
    /// Whether its tolerance allows that.
    pub within_tolerance: bool,
    /// The values that were read.
    pub from: &'a [String],
    /// Correlation coefficients with the other givens of the same fit.
    pub correlations: BTreeMap<&'a str, f64>,
}

/// A given that could explain the last day's readings of a value.
#[derive(Clone, Debug, Serialize)]
pub struct SuspectEntry<'a> {
    /// The value that was read.
    pub value: &'a str,
    /// The day of the readings.
    pub date: Option<String>,
    /// The given.
    pub given: &'a str,
    /// What it would have to be, all others nominal, SI; `null` where it cannot explain them.
    pub needed: Option<f64>,
    /// How many of its own standard uncertainties that is from its nominal value.
    pub sigmas: Option<f64>,
    /// Whether its tolerance allows that.
    pub within_tolerance: bool,
}

/// All readings of all benches.
pub(super) fn days(evaluation: &Evaluation) -> Vec<BenchEntry<'_>> {
    logs(evaluation)
        .flat_map(|(log, value)| log.days.iter().map(move |day| entry(evaluation, log, value, day)))
        .collect()
}

fn logs(evaluation: &Evaluation) -> impl Iterator<Item = (&BenchLog, &str)> {
    evaluation.benches.iter().filter_map(|log| Some((log, evaluation.values.get(log.value)?.name.as_str())))
}

fn entry<'a>(evaluation: &Evaluation, log: &BenchLog, value: &'a str, day: &BenchDay) -> BenchEntry<'a> {
    BenchEntry {
        value,
        line: evaluation.lines.line(log.span.start),
        date: day.day.to_string(),
        n: day.n,
        mean: day.mean,
        sd: day.sd,
        u: day.u,
        k_student: day.student,
        predicted: log.prediction.mean,
        u_predicted: log.prediction.u,
        e_n: day.against.and_then(|against| against.e_n),
        e_n_student: day.against.and_then(|against| against.e_n_student),
        agrees: day.against.map(|against| against.agrees),
    }
}

/// All givens that were fitted.
pub(super) fn fits(evaluation: &Evaluation) -> Vec<FitEntry<'_>> {
    let fits = evaluation.benches.iter().flat_map(|log| &log.fits);
    fits.flat_map(|fit| fit.givens.iter().enumerate().map(move |(i, given)| fitted(evaluation, fit, i, given)))
        .collect()
}

fn fitted<'a>(evaluation: &Evaluation, fit: &'a Fit, i: usize, given: &'a Fitted) -> FitEntry<'a> {
    let others = fit.givens.iter().enumerate().filter(|(j, _)| *j != i);
    FitEntry {
        given: &given.given,
        line: evaluation.lines.line(fit.span.start),
        si: given.si,
        u: given.u,
        nominal: given.nominal,
        within_tolerance: given.allowed,
        from: &fit.from,
        correlations: others.map(|(j, other)| (other.given.as_str(), fit.correlation[i][j])).collect(),
    }
}

/// All suspects, those that cannot explain a reading last.
pub(super) fn suspects(evaluation: &Evaluation) -> Vec<SuspectEntry<'_>> {
    logs(evaluation).filter_map(|(log, value)| Some((log.suspects.as_ref()?, value))).flat_map(ranked).collect()
}

fn ranked<'a>((suspects, value): (&'a Suspects, &'a str)) -> Vec<SuspectEntry<'a>> {
    let date = || suspects.day.map(|day| day.to_string());
    let named = |given: &'a str, found: Option<&Suspect>| SuspectEntry {
        value,
        date: date(),
        given,
        needed: found.map(|suspect| suspect.needed),
        sigmas: found.map(|suspect| suspect.sigmas),
        within_tolerance: found.is_some_and(|suspect| suspect.allowed),
    };
    let could = suspects.ranked.iter().map(|suspect| named(&suspect.given, Some(suspect)));
    could.chain(suspects.cannot.iter().map(|given| named(given, None))).collect()
}
