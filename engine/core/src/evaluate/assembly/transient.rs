//! What `transient` blocks came to: their one run at the nominal values, traces with the band of some simulated builds, and
//! how far the tolerances were followed.

use benchleaf_words::phrase;

use super::super::{
    OverTime,
    columns::Plan,
    design,
    simulation::{Simulation, symmetric},
    tolerances::Tolerances,
};
use crate::{
    check::{Checked, CheckedTransient},
    host::{Fidelity, MOST_RUNS},
    problem::{Code, Problem},
    program::{Fault, Method, Ran, Reg, RunState, Sampled, Scenario, Step, System},
    results::{Axis, Curve, CurvePoint, EndedBy, PlotData, TransientRun, TransientState},
    sheet::Scale,
    units::{Dimension, DisplayUnit, QuantityType, ValueType, number},
};

/// Points of a trace.
const POINTS: usize = 201;
/// Simulated builds behind the band of a trace.
const BAND_BUILDS: u64 = 100;

/// The run of each block at the nominal values.
pub(in super::super) type Runs = Vec<Result<Option<Ran>, Fault>>;

/// Runs each block at the nominal values.
pub(in super::super) fn runs(checked: &Checked, tolerances: &Tolerances<'_>) -> Runs {
    let run = |block: &CheckedTransient| {
        let Some((system, inputs)) = called(checked, block) else { return Ok(None) };
        let inputs: Vec<f64> = inputs.iter().map(|reg| tolerances.nominal[*reg as usize]).collect();
        system.evaluate(&inputs, &mut vec![0.0; system.outputs()], None)
    };
    checked.transients.iter().map(run).collect()
}

/// How far the tolerances can be followed through each call, by the work that its run at the nominal values is.
pub(in super::super) fn affordable(scenario: &Scenario<'_>, samples: u64, over_time: OverTime) -> Vec<Fidelity> {
    let program = scenario.program;
    let calls = 0..program.calls.len() as u32;
    let full = vec![Fidelity::Builds; program.calls.len()];
    if calls.clone().all(|call| program.system(call).is_none()) {
        return full;
    }
    if over_time == OverTime::Nominal {
        let nominal = |call| if program.system(call).is_some() { Fidelity::Nominal } else { Fidelity::Builds };
        return calls.map(nominal).collect();
    }
    let state = RunState::with(program, full);
    design::run(scenario, &state);
    let too_much = |call: u32| program.system(call).is_some() && state.budget(call).is_too_small_for(samples);
    calls.map(|call| if too_much(call) { Fidelity::Corners } else { Fidelity::Builds }).collect()
}

fn fidelity_of(checked: &Checked, block: &CheckedTransient, state: &RunState) -> Fidelity {
    match checked.program.steps[block.call as usize] {
        Step::Call(call) => state.fidelity(call),
        _ => Fidelity::Builds,
    }
}

/// The system of a block, and the registers that it reads.
fn called<'c>(checked: &'c Checked, block: &CheckedTransient) -> Option<(&'c System, &'c [Reg])> {
    match checked.program.steps[block.call as usize] {
        Step::Call(call) => Some((checked.program.system(call)?, &checked.program.calls[call as usize].inputs)),
        _ => None,
    }
}

/// Whether a step of the program is a result of a block whose run came to nothing.
pub(super) fn failed_at(checked: &Checked, runs: &Runs, reg: Reg) -> bool {
    let Step::Output(step, _) = checked.program.steps[reg as usize] else { return false };
    checked.transients.iter().zip(runs).any(|(block, run)| block.call == step && run.is_err())
}

/// Runs that came to nothing, and blocks through which the tolerances were not followed.
pub(in super::super) fn report(checked: &Checked, runs: &Runs, state: &RunState, problems: &mut Vec<Problem>) {
    for (block, run) in checked.transients.iter().zip(runs) {
        let (message, help) = match run {
            Err(Fault::NoRate) => {
                (phrase!(EVALUATE_TRANSIENT_A_RATE_HAS_NO_FINITE), phrase!(EVALUATE_TRANSIENT_LOOK_FOR_A_DIVISION))
            }
            Err(Fault::Stuck(time)) => (
                phrase!(EVALUATE_TRANSIENT_THE_RUN_DOES_NOT_GET, number = number(*time, 4)),
                phrase!(EVALUATE_TRANSIENT_A_STATE_GROWS_WITHOUT_BOUND),
            ),
            Err(Fault::TooManySteps(time)) => (
                phrase!(EVALUATE_TRANSIENT_THE_RUN_HAS_USED_ALL, number = number(*time, 4)),
                phrase!(EVALUATE_TRANSIENT_SHORTEN_THE_LONGEST_TIME),
            ),
            Ok(_) => {
                let reached = match fidelity_of(checked, block, state) {
                    Fidelity::Builds => continue,
                    Fidelity::Corners => phrase!(EVALUATE_TRANSIENT_THE_WORST_CASE_WAS_LOOKED),
                    Fidelity::Nominal => phrase!(EVALUATE_TRANSIENT_ONLY_THE_NOMINAL_VALUES_WERE),
                };
                let message = phrase!(SHARED_THE_TOLERANCES_WERE_NOT_FOLLOWED, reached = reached);
                let help = phrase!(EVALUATE_TRANSIENT_AN_EVALUATION_MAY_DO, most_runs = MOST_RUNS);
                problems.push(Problem::new(Code::TransientNominal, block.end_span, message).help(help));
                continue;
            }
        };
        problems.push(Problem::new(Code::Transient, block.end_span, message).help(help));
    }
}

/// What is reported of each block.
pub(in super::super) fn states(checked: &Checked, runs: &Runs, of: &RunState) -> Vec<TransientState> {
    let state = |(block, run): (&CheckedTransient, &Result<Option<Ran>, Fault>)| {
        let has_event = called(checked, block).is_some_and(|(system, _)| system.has_event());
        let run = run.as_ref().ok().and_then(Option::as_ref).map(|ran| TransientRun {
            end: ran.end,
            unit: DisplayUnit::fitting(time_type(), None, ran.end),
            ended_by: match (has_event, ran.reached) {
                (true, true) => EndedBy::Event,
                (true, false) => EndedBy::NotReached,
                (false, _) => EndedBy::Time,
            },
            method: match ran.method {
                Method::Explicit => "Dormand and Prince, order 5",
                Method::Implicit => "Radau IIA, order 5",
            },
            steps: ran.steps,
            evaluations: ran.evaluations,
        });
        TransientState {
            span: block.span,
            measures: block.measures.clone(),
            run,
            fidelity: fidelity_of(checked, block, of),
        }
    };
    checked.transients.iter().zip(runs).map(state).collect()
}

/// The traces of one block: their numbers at the nominal values, and the middle 95 % of some builds.
struct Drawn {
    times: Vec<f64>,
    nominal: Vec<Vec<f64>>,
    bands: Vec<Vec<Option<(f64, f64)>>>,
}

/// Draws traces over time.
pub(in super::super) fn draw(checked: &Checked, runs: &Runs, simulation: &Simulation<'_>, plots: &mut [PlotData]) {
    let mut drawn: Vec<Option<Drawn>> = Vec::new();
    for (at, block) in checked.transients.iter().enumerate() {
        let wanted = checked.plots.iter().flat_map(|plot| &plot.traces).any(|trace| trace.block == at);
        let ran = runs[at].ok().flatten().filter(|_| wanted);
        drawn.push(ran.and_then(|ran| traced(checked, block, ran, simulation)));
    }
    for (plot, data) in checked.plots.iter().zip(plots) {
        for curve in &plot.traces {
            let Some(drawn) = &drawn[curve.block] else { continue };
            let trace = &checked.transients[curve.block].traces[curve.trace];
            let numbers = &drawn.nominal[curve.trace];
            let points: Vec<CurvePoint> = (0..drawn.times.len())
                .map(|i| CurvePoint {
                    x: drawn.times[i],
                    y: numbers[i],
                    low: numbers[i],
                    high: numbers[i],
                    inner: drawn.bands[curve.trace][i],
                })
                .collect();
            let largest = numbers.iter().copied().filter(|x| x.is_finite()).map(f64::abs).fold(0.0, f64::max);
            let end = drawn.times.last().copied().unwrap_or_default();
            data.x.get_or_insert_with(|| Axis {
                quantity: "time".to_owned(),
                unit: DisplayUnit::fitting(time_type(), curve.time_unit.as_ref(), end),
                scale: Scale::Linear,
            });
            data.y.get_or_insert_with(|| Axis {
                quantity: trace.label.clone().unwrap_or_else(|| trace.name.clone()),
                unit: DisplayUnit::fitting(ValueType::Quantity(trace.quantity), curve.unit.as_ref(), largest),
                scale: Scale::Linear,
            });
            data.curves.push(Curve { label: curve.label.clone(), points, nominal: None });
        }
    }
}

fn time_type() -> ValueType {
    ValueType::Quantity(QuantityType::product(Dimension::TIME))
}

fn traced(checked: &Checked, block: &CheckedTransient, ran: Ran, simulation: &Simulation<'_>) -> Option<Drawn> {
    let Simulation { tolerances, copula, draws } = simulation;
    let (system, inputs) = called(checked, block)?;
    let times: Vec<f64> =
        (0..POINTS).map(|i| if i + 1 == POINTS { ran.end } else { ran.end * i as f64 / (POINTS - 1) as f64 }).collect();
    let mut outputs = vec![0.0; system.outputs()];
    let mut run = |inputs: &[f64]| {
        let mut sampled = Sampled { times: &times, values: Vec::new() };
        system.evaluate(inputs, &mut outputs, Some(&mut sampled)).ok().flatten()?;
        Some(sampled.values)
    };
    let mut at: Vec<f64> = inputs.iter().map(|reg| tolerances.nominal[*reg as usize]).collect();
    let nominal = run(&at)?;
    let traces = nominal.len();
    let mut builds: Vec<Vec<Vec<f64>>> = vec![vec![Vec::new(); times.len()]; traces];
    if fidelity_of(checked, block, tolerances.state) == Fidelity::Builds {
        let plan = Plan::new(tolerances, inputs, copula, draws.seed);
        if inputs.iter().any(|reg| plan.slot(*reg).is_some()) {
            plan.visit(0..BAND_BUILDS, |view| {
                let columns: Vec<&[f64]> = inputs.iter().map(|reg| view.values(*reg)).collect();
                let count = columns.iter().map(|column| column.len()).max().unwrap_or_default();
                for build in 0..count {
                    for (slot, column) in at.iter_mut().zip(&columns) {
                        if let Some(value) = column.get(build) {
                            *slot = *value;
                        }
                    }
                    let Some(values) = run(&at) else { continue };
                    for (kept, values) in builds.iter_mut().zip(values) {
                        for (kept, value) in kept.iter_mut().zip(values) {
                            // A build that has ended counts no more.
                            if !value.is_nan() {
                                kept.push(value);
                            }
                        }
                    }
                }
            });
        }
    }
    let bands = builds.into_iter().map(|trace| trace.into_iter().map(|values| symmetric(&values)).collect()).collect();
    Some(Drawn { times, nominal, bands })
}
