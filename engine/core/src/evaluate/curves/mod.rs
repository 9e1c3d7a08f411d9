//! Curves: a formula against one of its givens, with the worst case over all others as a band.

mod sweep;

use benchleaf_words::{Phrase, phrase};

use sweep::Sweep;

use super::simulation::{Sampling, Simulation, symmetric};
use crate::{
    check::{Checked, CheckedCurve, CheckedPlot},
    parallel,
    problem::{Code, Problem},
    results::{Axis, BoundLine, Budget, Curve, CurvePoint, PlotData, SpreadPlot},
    sheet::Scale,
    span::Span,
    units::{DisplayUnit, number},
};

/// Points of a curve: enough that a screen shows no corners, few enough for a data table.
const POINTS: usize = 41;
/// Parts of a curve that are worth a thread each, at most.
const MOST_PARTS: usize = 4;

/// The curves of a plot, or why one cannot be drawn and what to do about it.
pub(super) type Lines = Vec<Result<Curve, (Phrase, Phrase)>>;

/// The curves of all plots.
pub(super) fn lines(checked: &Checked, simulation: &Simulation<'_>) -> Vec<Lines> {
    let nominal = &simulation.tolerances.nominal;
    let line = |curve: &CheckedCurve| {
        let (from, to) = (nominal[curve.from.reg as usize], nominal[curve.to.reg as usize]);
        span_of_axis(from, to, curve.scale)?;
        Ok(run(simulation, curve, (from, to)))
    };
    checked.plots.iter().map(|plot| plot.curves.iter().map(line).collect()).collect()
}

/// The numbers of all plots.
pub(super) fn plots(
    checked: &Checked,
    sampling: &Sampling<'_>,
    curves: Vec<Lines>,
    source: &str,
    problems: &mut Vec<Problem>,
) -> Vec<PlotData> {
    let plots = checked.plots.iter().zip(curves);
    plots.map(|(plot, curves)| draw(checked, sampling, plot, curves, source, problems)).collect()
}

fn draw(
    checked: &Checked,
    sampling: &Sampling<'_>,
    plot: &CheckedPlot,
    curves: Lines,
    source: &str,
    problems: &mut Vec<Problem>,
) -> PlotData {
    let nominal = sampling.nominal();
    let mut data = PlotData {
        span: plot.span,
        title: plot.title.clone(),
        x: None,
        y: None,
        curves: Vec::new(),
        bounds: Vec::new(),
        spreads: Vec::new(),
        budgets: Vec::new(),
    };
    for (curve, drawn) in plot.curves.iter().zip(curves) {
        let drawn = match drawn {
            Ok(drawn) => drawn,
            Err((message, help)) => {
                problems.push(Problem::new(Code::Plot, curve.span, message).help(help));
                continue;
            }
        };
        if drawn.points.iter().all(|point| !point.y.is_finite()) {
            let message = phrase!(EVALUATE_CURVES_HAS_NO_FINITE_VALUE_ANYWHERE, label = curve.label);
            problems
                .push(Problem::new(Code::Plot, curve.span, message).help(phrase!(EVALUATE_CURVES_LOOK_AT_THE_ENDS)));
            continue;
        }
        data.x.get_or_insert_with(|| Axis {
            quantity: quantity(checked, &curve.against),
            unit: DisplayUnit::fitting(curve.against_type, curve.against_unit.as_ref(), nominal[curve.to.reg as usize]),
            scale: curve.scale,
        });
        data.y.get_or_insert_with(|| {
            let largest = drawn.points.iter().map(|point| point.y.abs()).filter(|y| y.is_finite()).fold(0.0, f64::max);
            let written = curve.subject_span.text(source);
            Axis {
                quantity: quantity(checked, written),
                unit: DisplayUnit::fitting(curve.subject.value_type, curve.unit.as_ref(), largest),
                scale: Scale::Linear,
            }
        });
        data.curves.push(drawn);
    }
    data.bounds = plot
        .bounds
        .iter()
        .map(|(typed, label)| BoundLine { value: nominal[typed.reg as usize], label: label.clone() })
        .filter(|bound| bound.value.is_finite())
        .collect();
    for spread in &plot.spreads {
        let written = spread.written.text(source);
        let value = nominal[spread.subject.reg as usize];
        match sampling.histogram(spread.subject.reg) {
            Some((histogram, found)) => data.spreads.push(SpreadPlot {
                axis: Axis {
                    quantity: quantity(checked, written),
                    unit: DisplayUnit::fitting(spread.subject.value_type, spread.unit.as_ref(), value),
                    scale: Scale::Linear,
                },
                low: histogram.low,
                high: histogram.high,
                counts: histogram.counts,
                nominal: value,
                spread: found,
            }),
            None => problems.push(does_not_vary(written, spread.span)),
        }
    }
    for budget in &plot.budgets {
        let written = budget.written.text(source);
        let shares = sampling.shares(budget.subject.reg);
        if shares.is_empty() {
            problems.push(does_not_vary(written, budget.span));
        } else {
            data.budgets.push(Budget { quantity: quantity(checked, written), shares });
        }
    }
    data
}

fn does_not_vary(written: &str, span: Span) -> Problem {
    let message = phrase!(EVALUATE_CURVES_DOES_NOT_VARY_FROM_BUILD, written = written);
    Problem::new(Code::Plot, span, message).help(phrase!(EVALUATE_CURVES_GIVE_ONE_OF_ITS_GIVENS))
}

fn span_of_axis(from: f64, to: f64, scale: Scale) -> Result<(), (Phrase, Phrase)> {
    if !from.is_finite() || !to.is_finite() || from == to {
        return Err((
            phrase!(EVALUATE_CURVES_THE_AXIS, number = number(from, 3), other_number = number(to, 3)),
            phrase!(EVALUATE_CURVES_GIVE_TWO_DIFFERENT_ENDS),
        ));
    }
    if scale == Scale::Logarithmic && (from <= 0.0 || to <= 0.0) {
        return Err((
            phrase!(EVALUATE_CURVES_A_LOGARITHMIC_AXIS_CANNOT_REACH),
            phrase!(EVALUATE_CURVES_START_ABOVE_ZERO_OR_LEAVE),
        ));
    }
    Ok(())
}

/// What a reader sees for a name or formula: the label of its definition, or itself.
fn quantity(checked: &Checked, written: &str) -> String {
    let label = checked.values.iter().find(|value| value.name == written).and_then(|value| value.label.clone());
    label.unwrap_or_else(|| written.to_owned())
}

/// A run of points, one after the other.
fn along(simulation: &Simulation<'_>, curve: &CheckedCurve, abscissas: impl Iterator<Item = f64>) -> Vec<CurvePoint> {
    let subject = curve.subject.reg;
    let mut tolerances = simulation.tolerances.copied();
    let order = tolerances.needed(&[subject]);
    let mut held = tolerances.copied();
    held.pin(curve.against_reg, held.nominal[curve.from.reg as usize], &order);
    // The same builds at every point, so that the band is smooth.
    let reached = !held.is_beyond_builds(subject);
    let new_sweep = || Sweep::new(&held, subject, &simulation.copula, simulation.draws.seed);
    let mut sweep = reached.then(new_sweep).flatten();
    let point = |x: f64| {
        tolerances.pin(curve.against_reg, x, &order);
        let y = tolerances.nominal[subject as usize];
        let extremes = tolerances.extremes(&[subject], &order).pop().flatten();
        let (low, high) = extremes.map_or((y, y), |found| (found.low, found.high));
        let inner = sweep.as_mut().and_then(|sweep| symmetric(sweep.at(x)));
        CurvePoint { x, y, low, high, inner }
    };
    abscissas.map(point).collect()
}

fn run(simulation: &Simulation<'_>, curve: &CheckedCurve, (from, to): (f64, f64)) -> Curve {
    let at = |i: usize| {
        let share = i as f64 / (POINTS - 1) as f64;
        match (i, curve.scale) {
            (0, _) => from,
            (_, _) if i == POINTS - 1 => to,
            (_, Scale::Linear) => from + (to - from) * share,
            (_, Scale::Logarithmic) => from * libm::pow(to / from, share),
        }
    };
    let parts = parallel::threads().min(MOST_PARTS);
    let points = if parts == 1 {
        along(simulation, curve, (0..POINTS).map(at))
    } else {
        let start = |part: usize| POINTS * part / parts;
        let run = |part| along(simulation, curve, (start(part)..start(part + 1)).map(at));
        parallel::each(0..parts, run).concat()
    };
    let nominal = &simulation.tolerances.nominal;
    let x = nominal[curve.against_reg as usize];
    let y = nominal[curve.subject.reg as usize];
    let inside = x >= from.min(to) && x <= from.max(to) && y.is_finite();
    Curve { label: curve.label.clone(), points, nominal: inside.then_some((x, y)) }
}
