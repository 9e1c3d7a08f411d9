//! What Rust blocks came to: their one run at the nominal values, whose words and series are kept, and how far the
//! tolerances were followed through them.

use benchleaf_words::{Phrase, phrase};

use super::super::tolerances::Tolerances;
use crate::{
    check::{Checked, CheckedRust, CheckedSeriesCurve, CheckedValue, fence_line, place_in},
    host::{Fault, Fidelity, MOST_RUNS, Run},
    problem::{Code, Problem},
    program::{Reg, RunState, Step},
    results::{Axis, Curve, CurvePoint, PlotData, Role, RustState, Series},
    sheet::{BlockBody, Scale, Sheet},
    units::{DisplayUnit, Unit, ValueType},
};

/// The run of each Rust block at the nominal values; nothing where it has no function.
pub(in super::super) type Runs = Vec<Option<Result<Run, Fault>>>;

/// Runs each block at the nominal values.
pub(in super::super) fn runs(checked: &Checked, tolerances: &Tolerances<'_>) -> Runs {
    let run = |rust: &CheckedRust| {
        let call = call_of(checked, rust)?;
        let inputs: Vec<f64> =
            checked.program.calls[call as usize].inputs.iter().map(|reg| tolerances.nominal[*reg as usize]).collect();
        // What it reads has no value: that is reported where it is.
        if inputs.iter().any(|input| !input.is_finite()) {
            return None;
        }
        Some(checked.program.block(call)?.once(&inputs))
    };
    checked.rust.iter().map(run).collect()
}

/// The call of a block in the program.
fn call_of(checked: &Checked, rust: &CheckedRust) -> Option<u32> {
    let step = checked.rust_calls.get(rust.call? as usize)?;
    match checked.program.steps[*step as usize] {
        Step::Call(call) => Some(call),
        _ => None,
    }
}

/// Whether a step of the program is a result of a block whose run came to nothing.
pub(super) fn failed_at(checked: &Checked, runs: &Runs, reg: Reg) -> bool {
    let Step::Output(step, _) = checked.program.steps[reg as usize] else { return false };
    let Step::Call(call) = checked.program.steps[step as usize] else { return false };
    let failed = |(rust, run): (&CheckedRust, _)| matches!(run, &Some(Err(_))) && call_of(checked, rust) == Some(call);
    checked.rust.iter().zip(runs).any(failed)
}

/// Runs that came to nothing, and blocks through which the tolerances were not followed.
pub(in super::super) fn report(
    checked: &Checked,
    (runs, state): (&Runs, &RunState),
    sheet: &Sheet,
    source: &str,
    problems: &mut Vec<Problem>,
) {
    for (rust, run) in checked.rust.iter().zip(runs) {
        let fence = fence_line(source, rust.span);
        if let Some(Err(Fault { message, help, place })) = run {
            let index = sheet.blocks.binary_search_by_key(&rust.span.start, |block| block.span.start);
            let body = index.ok().map(|index| &sheet.blocks[index].body);
            let span = match body {
                Some(BlockBody::Rust(block)) => place_in(place, block, rust.code, fence),
                _ => fence,
            };
            problems.push(Problem::new(Code::RustRun, span, message).help(help));
        }
        if let (Some(Ok(_)), Some(reached)) =
            (run, call_of(checked, rust).and_then(|call| fidelity_in_words(state.fidelity(call))))
        {
            let message = phrase!(SHARED_THE_TOLERANCES_WERE_NOT_FOLLOWED, reached = reached);
            let help = phrase!(EVALUATE_RUST_A_BLOCK_IS_RUN_TIMES, most_runs = MOST_RUNS);
            problems.push(Problem::new(Code::RustNominal, fence, message).help(help));
        }
    }
}

/// How far the tolerances were followed, where that is not all the way.
fn fidelity_in_words(fidelity: Fidelity) -> Option<Phrase> {
    match fidelity {
        Fidelity::Builds => None,
        Fidelity::Corners => Some(phrase!(EVALUATE_RUST_THE_NOMINAL_VALUES)),
        Fidelity::Nominal => Some(phrase!(EVALUATE_RUST_THE_NOMINAL_VALUE_ALONE_WAS)),
    }
}

/// What is reported of each block.
pub(in super::super) fn states(checked: &Checked, runs: &Runs, tolerances: &Tolerances<'_>) -> Vec<RustState> {
    let state = |(rust, run): (&CheckedRust, &Option<Result<Run, Fault>>)| {
        let run = run.as_ref().and_then(|run| run.as_ref().ok());
        let call = rust.call.and_then(|call| checked.rust_calls.get(call as usize)).copied();
        let (givens, beside) = call.map(|call| depended_on(checked, tolerances, call)).unwrap_or_default();
        let series = rust.series.iter().enumerate().map(|(i, series)| {
            let numbers = run.and_then(|run| run.series.get(i)).cloned().unwrap_or_default();
            let largest = numbers.iter().copied().filter(|x| x.is_finite()).map(f64::abs).fold(0.0, f64::max);
            let unit = DisplayUnit::fitting(ValueType::Quantity(series.quantity), series.unit.as_ref(), largest);
            Series { name: series.name.clone(), label: series.label.clone(), unit, numbers }
        });
        RustState {
            span: rust.span,
            outputs: rust.outputs.clone(),
            series: series.collect(),
            printed: run.map_or_else(String::new, |run| run.printed.clone()),
            terms: run.map_or_else(String::new, |run| run.terms.clone()),
            fidelity: run.and_then(|_| Some(tolerances.state.fidelity(call_of(checked, rust)?))),
            givens,
            beside,
        }
    };
    checked.rust.iter().zip(runs).map(state).collect()
}

/// The givens that a block depends on, and those that what follows from it depends on besides.
fn depended_on(checked: &Checked, tolerances: &Tolerances<'_>, call: Reg) -> (Vec<String>, Vec<String>) {
    let program = &checked.program;
    let mut follows = vec![false; program.steps.len()];
    let mut following: Vec<Reg> = Vec::new();
    for reg in call..program.steps.len() as Reg {
        let mut so = reg == call;
        program.inputs(reg, |input| so |= follows[input as usize]);
        follows[reg as usize] = so;
        if so {
            following.push(reg);
        }
    }
    let givens_in = |steps: Vec<Reg>| -> Vec<String> {
        let is_in = |value: &&CheckedValue| value.role == Role::Given && steps.binary_search(&value.typed.reg).is_ok();
        checked.values.iter().filter(is_in).map(|value| value.name.clone()).collect()
    };
    let read = givens_in(tolerances.needed(&[call]));
    let mut beside = givens_in(tolerances.needed(&following));
    beside.retain(|name| !read.contains(name));
    (read, beside)
}

/// Draws one series against another.
pub(in super::super) fn draw(
    checked: &Checked,
    states: &[RustState],
    plots: &mut [PlotData],
    problems: &mut Vec<Problem>,
) {
    for (plot, data) in checked.plots.iter().zip(plots) {
        for curve in &plot.series {
            let (Some(y), Some(x)) = (series(states, &curve.subject), series(states, &curve.against)) else { continue };
            if x.numbers.len() != y.numbers.len() || x.numbers.len() < 2 {
                // A block that came to nothing is reported where it stands.
                if states[curve.subject.0].fidelity.is_some() {
                    problems.push(not_drawn(curve, x, y));
                }
                continue;
            }
            let step = x.numbers.len().div_ceil(MOST_POINTS);
            let both = x.numbers.iter().zip(&y.numbers).enumerate();
            let last = x.numbers.len() - 1;
            let points = both
                .filter(|(i, _)| i % step == 0 || *i == last)
                .map(|(_, (x, y))| CurvePoint { x: *x, y: *y, low: *y, high: *y, inner: None })
                .collect();
            data.x.get_or_insert_with(|| axis(x, curve.against.2.as_ref()));
            data.y.get_or_insert_with(|| axis(y, curve.subject.2.as_ref()));
            data.curves.push(Curve { label: curve.label.clone(), points, nominal: None });
        }
    }
}

fn series<'s>(states: &'s [RustState], place: &(usize, usize, Option<Unit>)) -> Option<&'s Series> {
    states.get(place.0)?.series.get(place.1)
}

fn axis(series: &Series, unit: Option<&Unit>) -> Axis {
    let unit = unit.map_or_else(|| series.unit.clone(), |unit| DisplayUnit::declared(unit.clone()));
    Axis { quantity: series.label.clone().unwrap_or_else(|| series.name.clone()), unit, scale: Scale::Linear }
}

fn not_drawn(curve: &CheckedSeriesCurve, x: &Series, y: &Series) -> Problem {
    let (nx, ny) = (x.numbers.len(), y.numbers.len());
    let message = phrase!(EVALUATE_RUST_HAS_POINTS_AND_HAS, name = y.name, ny = ny, other_name = x.name, nx = nx);
    Problem::new(Code::Plot, curve.span, message).help(phrase!(EVALUATE_RUST_LET_BOTH_SERIES_HAVE))
}

/// Most points of a series that are drawn; of a longer one every second, third … is.
const MOST_POINTS: usize = 400;
