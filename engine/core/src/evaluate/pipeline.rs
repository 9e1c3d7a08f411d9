//! The way of a worksheet from its text to its evaluation. Stages that do not wait for one another run side by side.

use benchleaf_words::phrase;

use super::{
    Options, OverTime,
    assembly::{Assembled, Assembler, judge, rust, transient},
    bench, builds, curves, design,
    draws::Copula,
    simulation::{Draws, Sampling, Simulation},
    test_points,
    tolerances::Tolerances,
    worst_case::WorstCases,
};
use crate::{
    check::{self, Checked},
    host::{Fidelity, Host},
    parallel,
    problem::{Code, Problem, in_order},
    program::{Reg, RunState, Scenario},
    results::{
        BenchLog, Evaluation, JudgedReadings, PlotData, Role, RustState, Suspects, TakenGiven, Task, TransientState,
        Value,
    },
    sheet::{Joined, Sheet, Worksheet},
    span::LineIndex,
};

/// Evaluates a worksheet whose Markdown has been read.
pub(super) fn evaluate(
    worksheet: &Worksheet,
    mut problems: Vec<Problem>,
    options: &Options,
    host: &dyn Host,
) -> Evaluation {
    let worksheet = &*worksheet.with_used(host);
    let WholeSheet { joined, sheet, checked, problems: found } = WholeSheet::new(worksheet, options, host);
    problems.extend(found);
    let source = &*joined.text;
    let lines = LineIndex::new(source);
    let draws = Draws { samples: sheet.metadata.samples, seed: sheet.metadata.seed };
    let input = CheckedWorksheet { source, sheet: &sheet, checked: &checked, lines: &lines, draws };
    let scenario = Scenario::authored(&checked.program);
    let results = settled(&scenario, (draws, options.over_time), |state| run(&input, &scenario, state));
    let Results {
        assembled: Assembled { values, keeps, notes, choices, calls, potentials },
        plots,
        exercises,
        benches,
        rust,
        transients,
        problems: found,
    } = results;
    problems.extend(found);
    let one = |reduced: &Checked, scenario: &Scenario<'_>| {
        let input = CheckedWorksheet { checked: reduced, ..input };
        let results = settled(scenario, (draws, options.over_time), |state| run(&input, scenario, state));
        (results.assembled.values, results.assembled.keeps, results.problems)
    };
    let builds = builds::sets(&checked, (&values, &keeps), one, &mut problems);
    let (used_at, behind) = (checked.used_at.clone(), checked.behind.clone());
    let Checked { outcomes, block_outcomes, fields_read, parts, steps, circuits, .. } = checked;
    problems.extend(steps.iter().flat_map(|set| test_points::fixed(set, &values)));
    let taken = taken(&joined, &values);
    let mut evaluation = Evaluation {
        sheet,
        values,
        taken,
        behind,
        keeps,
        notes,
        choices,
        plots,
        parts,
        exercises,
        benches,
        builds,
        steps,
        circuits,
        potentials,
        calls,
        rust,
        transients,
        fields_read,
        outcomes,
        block_outcomes,
        problems,
        lines,
    };
    #[cfg(feature = "markdown")]
    evaluation.problems.extend(crate::constants::constants(&evaluation).1);
    let problems = std::mem::take(&mut evaluation.problems).into_iter();
    evaluation.problems = in_order(problems.map(|problem| joined.placed(problem, &used_at)).collect());
    evaluation
}

/// The givens among the values that come from other worksheets.
fn taken(joined: &Joined<'_>, values: &[Value]) -> Vec<TakenGiven> {
    let given = |value: &Value| {
        let origin = value.origin.as_ref().filter(|_| value.role == Role::Given)?;
        let definition = joined.given(&origin.file, &origin.name)?;
        let written = definition.written(&joined.text).map(str::to_owned);
        Some(TakenGiven { name: value.name.clone(), definition: definition.clone(), written })
    };
    values.iter().filter_map(given).collect()
}

/// Runs a worksheet. A Rust block or a `transient` block that was asked for more runs than its budget gave no results from
/// there on: the worksheet is run again, asking for less of it.
fn settled(
    scenario: &Scenario<'_>,
    (draws, over_time): (Draws, OverTime),
    run: impl Fn(&RunState) -> Results,
) -> Results {
    let mut fidelities = transient::affordable(scenario, draws.samples, over_time);
    loop {
        let state = RunState::with(scenario.program, fidelities);
        let results = run(&state);
        match state.lowered() {
            Some(lowered) => fidelities = lowered,
            None => return results,
        }
    }
}

/// What could explain a reading of a value.
pub(super) fn suspects(worksheet: &Worksheet, value: &str, reading: f64, host: &dyn Host) -> Option<Suspects> {
    let worksheet = &*worksheet.with_used(host);
    let WholeSheet { checked, .. } = WholeSheet::new(worksheet, &Options::default(), host);
    let reg = checked.values.iter().find(|checked| checked.name == value)?.typed.reg;
    explained(&checked, reg, reading)
}

/// The values, requirements and problems of a scenario of a reduced worksheet.
pub(super) fn scenario(
    (source, sheet, lines): (&str, &Sheet, &LineIndex),
    checked: &Checked,
    scenario: &Scenario<'_>,
) -> Assembled {
    let draws = Draws { samples: sheet.metadata.samples, seed: sheet.metadata.seed };
    let input = CheckedWorksheet { source, sheet, checked, lines, draws };
    settled(scenario, (draws, OverTime::Builds), |state| run(&input, scenario, state)).assembled
}

fn explained(checked: &Checked, reg: Reg, reading: f64) -> Option<Suspects> {
    let scenario = Scenario::authored(&checked.program);
    let state = RunState::new(&checked.program, Fidelity::Corners);
    let tolerances = Tolerances::new(&scenario, &state, design::run(&scenario, &state));
    bench::suspects(checked, &tolerances, reg, reading, None)
}

/// Holds readings against what a sound build can show.
pub(super) fn readings(
    worksheet: &Worksheet,
    readings: &[(String, String)],
    options: &Options,
    host: &dyn Host,
) -> JudgedReadings {
    let worksheet = &*worksheet.with_used(host);
    let WholeSheet { joined, sheet, mut checked, .. } = WholeSheet::new(worksheet, options, host);
    let wanted =
        |value: &check::CheckedValue| value.role == Role::Given || readings.iter().any(|(name, _)| *name == value.name);
    let values = std::mem::take(&mut checked.values).into_iter().filter(wanted).collect();
    let checked = Checked { values, ..builds::reduced(&checked) };
    let lines = LineIndex::new(&joined.text);
    let draws = Draws { samples: sheet.metadata.samples, seed: sheet.metadata.seed };
    let input = CheckedWorksheet { source: &joined.text, sheet: &sheet, checked: &checked, lines: &lines, draws };
    let scenario = Scenario::authored(&checked.program);
    let values = settled(&scenario, (draws, options.over_time), |state| run(&input, &scenario, state)).assembled.values;
    let explained = |value: usize, reading| explained(&checked, checked.values.get(value)?.typed.reg, reading);
    let judged = readings.iter().map(|(name, text)| test_points::judged(&values, name, text, explained));
    JudgedReadings { readings: judged.collect(), values }
}

/// A worksheet that has been read and checked with those that it uses.
pub(super) struct WholeSheet<'a> {
    /// Its text with theirs.
    pub(super) joined: Joined<'a>,
    pub(super) sheet: Sheet,
    pub(super) checked: Checked,
    /// What was found in reading and checking it, in this order.
    pub(super) problems: Vec<Problem>,
}

impl<'a> WholeSheet<'a> {
    /// Of a worksheet that has what it uses, with samples and seed as they are asked for.
    pub(super) fn new(worksheet: &'a Worksheet, options: &Options, host: &dyn Host) -> Self {
        let (mut sheet, mut problems) = worksheet.read();
        sheet.metadata.samples = options.samples.unwrap_or(sheet.metadata.samples);
        sheet.metadata.seed = options.seed.unwrap_or(sheet.metadata.seed);
        let joined = Joined::new(worksheet);
        let (checked, found) = check::check(&joined, &sheet, host);
        problems.extend(found);
        Self { joined, sheet, checked, problems }
    }
}

/// A checked worksheet and how it is to be evaluated.
struct CheckedWorksheet<'a> {
    source: &'a str,
    sheet: &'a Sheet,
    checked: &'a Checked,
    lines: &'a LineIndex,
    draws: Draws,
}

/// The results of one scenario of a checked worksheet.
struct Results {
    assembled: Assembled,
    plots: Vec<PlotData>,
    exercises: Vec<Task>,
    benches: Vec<BenchLog>,
    rust: Vec<RustState>,
    transients: Vec<TransientState>,
    problems: Vec<Problem>,
}

fn run(input: &CheckedWorksheet<'_>, scenario: &Scenario<'_>, state: &RunState) -> Results {
    let CheckedWorksheet { source, sheet, checked, lines, draws } = *input;
    let mut problems = Vec::new();
    let tolerances = Tolerances::new(scenario, state, design::run(scenario, state));
    let runs = rust::runs(checked, &tolerances);
    let transients = transient::runs(checked, &tolerances);
    transient::report(checked, &transients, state, &mut problems);
    rust::report(checked, (&runs, state), sheet, source, &mut problems);
    let copula = copula(checked, draws.seed, &mut problems);
    let simulation = Simulation { tolerances: &tolerances, copula, draws };
    let (sampling, (mut worst_cases, curves)) = parallel::both(
        || Sampling::new(checked, &simulation),
        || parallel::both(|| WorstCases::new(checked, &tolerances), || curves::lines(checked, &simulation)),
    );
    worst_cases.widen(&tolerances, &sampling);
    let judgements = judge(checked, &tolerances, &worst_cases);
    let assembler = Assembler {
        source,
        checked,
        digits: sheet.metadata.digits,
        lines,
        tolerances: &tolerances,
        worst_cases: &worst_cases,
        sampling: &sampling,
        runs: &runs,
        transients: &transients,
    };
    let assembled = assembler.assemble(judgements, &mut problems);
    let mut plots = curves::plots(checked, &sampling, curves, source, &mut problems);
    let tasks = checked.exercises.iter().filter_map(|exercise| assembler.task(exercise, sheet, &mut problems));
    let exercises = tasks.collect();
    let benches = bench::logs(checked, &tolerances, &simulation.copula, &assembled.values, &mut problems);
    let rust = rust::states(checked, &runs, &tolerances);
    rust::draw(checked, &rust, &mut plots, &mut problems);
    transient::draw(checked, &transients, &simulation, &mut plots);
    let transients = transient::states(checked, &transients, state);
    Results { assembled, plots, exercises, benches, rust, transients, problems }
}

/// How the givens go together. Correlations that cannot all hold are reported, and left out.
fn copula(checked: &Checked, seed: u64, problems: &mut Vec<Problem>) -> Copula {
    Copula::new(&checked.program, seed).unwrap_or_else(|sources| {
        let name = |source: &u32| format!("`{}`", checked.program.sources[*source as usize].name);
        let names: Vec<String> = sources.iter().map(name).collect();
        let span = checked.correlation_spans.last().copied().unwrap_or_default();
        let message = phrase!(EVALUATE_PIPELINE_THE_CORRELATIONS_OF_CANNOT_ALL, names = names.join(", "));
        let help = phrase!(EVALUATE_PIPELINE_THREE_GIVENS_CANNOT_PULL);
        problems.push(Problem::new(Code::Correlation, span, message).help(help));
        Copula::default()
    })
}
