//! Readings on the bench: the statistics of each day (JCGM 100), how they stand to the prediction (ISO 13528), the givens
//! that could explain them, and the values of givens that they imply.

mod dense;
mod fit;
mod root;
mod suspects;

pub(crate) use suspects::suspects;

use super::{
    draws::{Copula, moments, student_quantile},
    tolerances::Tolerances,
};
use crate::{
    check::{Checked, CheckedBench, InstrumentOf},
    day::Day,
    problem::Problem,
    results::{BenchDay, BenchLog, Comparison, Prediction, Shown, Value},
};

/// Every bench of a worksheet; `values` are the worksheet's, in the order of `checked.values`.
pub(super) fn logs(
    checked: &Checked,
    tolerances: &Tolerances<'_>,
    copula: &Copula,
    values: &[Value],
    problems: &mut Vec<Problem>,
) -> Vec<BenchLog> {
    let mut logs = Vec::with_capacity(checked.benches.len());
    for bench in &checked.benches {
        let Some(value) = values.get(bench.value) else { continue };
        let prediction = predicted(value);
        let days = days(bench, &prediction);
        let reg = checked.values[bench.value].typed.reg;
        let suspects = days.last().and_then(|last| suspects(checked, tolerances, reg, last.mean, Some(last.day)));
        let fits = bench.fits.iter().filter_map(|asked| {
            fit::fit(checked, tolerances, copula, asked).map_err(|problem| problems.push(problem)).ok()
        });
        logs.push(BenchLog {
            span: bench.span,
            label: bench.label.clone(),
            value: bench.value,
            rows: bench.rows.clone(),
            prediction,
            days,
            suspects,
            fits: fits.collect(),
        });
    }
    logs
}

/// What the simulated builds say that a reading should be.
fn predicted(value: &Value) -> Prediction {
    let nominal = value.nominal;
    let none = Prediction { mean: nominal, u: Some(0.0), interval: None, shown: Shown::Symmetric, fails_to_exist: 0.0 };
    match (&value.spread, &value.worst) {
        (Some(spread), _) => {
            let whole = spread.fails_to_exist() == 0.0;
            Prediction {
                mean: spread.mean.filter(|_| whole).unwrap_or(nominal),
                u: spread.std.filter(|_| whole && spread.mean.is_some()),
                interval: Some(spread.interval.ends()),
                shown: spread.interval.shown,
                fails_to_exist: spread.fails_to_exist(),
            }
        }
        // It varies, but no build was simulated.
        (None, Some(worst)) => Prediction { u: None, interval: Some((worst.low, worst.high)), ..none },
        (None, None) => none,
    }
}

/// The readings of a bench that count, with their days.
fn counted(bench: &CheckedBench) -> impl Iterator<Item = (Day, f64)> {
    bench.rows.iter().filter_map(|row| Some((row.day?, *row.reading.as_ref().ok()?)))
}

fn days(bench: &CheckedBench, prediction: &Prediction) -> Vec<BenchDay> {
    let all: Vec<(Day, f64)> = counted(bench).collect();
    all.chunk_by(|a, b| a.0 == b.0)
        .map(|readings| {
            let numbers: Vec<f64> = readings.iter().map(|reading| reading.1).collect();
            let Read { n, mean, sd, type_a, instrument, u, degrees } = read(bench, &numbers);
            let student = if degrees.is_finite() { student_quantile(COVERAGE, degrees) } else { K };
            let against = u.and_then(|u| compared(prediction, mean, u, student));
            BenchDay { day: readings[0].0, n, mean, sd, type_a, instrument, u, degrees, student, against }
        })
        .collect()
}

/// Mean and uncertainty of some readings.
struct Read {
    n: usize,
    mean: f64,
    sd: Option<f64>,
    type_a: Option<f64>,
    instrument: Option<f64>,
    u: Option<f64>,
    degrees: f64,
}

fn read(bench: &CheckedBench, readings: &[f64]) -> Read {
    let n = readings.len();
    // Around the first reading, so that large numbers with small differences keep their digits.
    let first = readings.first().copied().unwrap_or(f64::NAN);
    let mean = first + readings.iter().map(|reading| reading - first).sum::<f64>() / n as f64;
    let squares: f64 = readings.iter().map(|reading| (reading - mean) * (reading - mean)).sum();
    let sd = (n > 1).then(|| (squares / (n - 1) as f64).sqrt());
    let type_a = sd.map(|sd| sd / (n as f64).sqrt());
    let parts: Vec<(f64, f64)> = bench
        .instruments
        .iter()
        .map(|instrument| {
            let scale = match instrument.of {
                InstrumentOf::Scale => 1.0,
                InstrumentOf::Reading => mean.abs(),
            };
            (moments(&instrument.source).1 * scale, instrument.source.degrees)
        })
        .collect();
    let instrument = (!parts.is_empty()).then(|| parts.iter().map(|(u, _)| u * u).sum::<f64>().sqrt());
    let u = match (type_a, instrument) {
        (None, None) => None,
        (a, b) => Some(libm::hypot(a.unwrap_or(0.0), b.unwrap_or(0.0))),
    };
    // Welch and Satterthwaite (JCGM 100, equation G.2b).
    let own = type_a.map(|a| (a, (n - 1) as f64));
    let weighed: f64 = own.iter().chain(&parts).map(|(u, degrees)| u * u * u * u / degrees).sum();
    let fourth = u.map_or(0.0, |u| u * u * u * u);
    let degrees = if weighed > 0.0 { (fourth / weighed).max(1.0) } else { f64::INFINITY };
    Read { n, mean, sd, type_a, instrument, u, degrees }
}

fn compared(prediction: &Prediction, mean: f64, u: f64, student: f64) -> Option<Comparison> {
    if !prediction.mean.is_finite() || !mean.is_finite() {
        return None;
    }
    let e_n = |factor: f64| {
        let both = libm::hypot(factor * u, K * prediction.u?);
        let e_n = (mean - prediction.mean) / both;
        // Two numbers without any uncertainty are alike or not.
        (both > 0.0).then_some(e_n)
    };
    let (straight, with_student) = (e_n(K), e_n(student));
    let within = |(low, high): (f64, f64), room: f64| mean >= low - room && mean <= high + room;
    let agrees = match (straight, prediction.interval) {
        (Some(e_n), _) => e_n.abs() <= 1.0,
        (None, Some(interval)) => within(interval, K * u),
        (None, None) => mean == prediction.mean,
    };
    let inside = prediction.interval.map(|interval| within(interval, 0.0));
    Some(Comparison { e_n: straight, e_n_student: with_student, agrees, inside })
}

/// The coverage factor of ISO 13528.
const K: f64 = 2.0;
/// What lies below the upper end of a coverage of 95.45 %, which two standard deviations of a normal distribution have.
const COVERAGE: f64 = 0.977_249_868_051_820_8;
