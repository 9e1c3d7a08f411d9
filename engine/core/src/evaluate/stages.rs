//! A worksheet's way from its text to its evaluation. What does not wait for one another is done side by side.

use super::{
    Options,
    assemble::{Assembled, Assembler},
    copula::Copula,
    curves,
    extremes::Tolerances,
    monte_carlo::Draws,
    rust,
    sampling::{Sampling, Simulation},
    worst_cases::WorstCases,
};
#[cfg(feature = "rust")]
use crate::results::RustState;
use crate::{
    check::{self, Checked},
    outside::{NoRust, RustBlocks},
    problem::{Code, Problem},
    results::{Evaluation, PlotData, Task},
    sheet::{Sheet, Worksheet},
    span::LineIndex,
    threads,
};

/// Reads, checks and evaluates a worksheet, its Rust blocks left out. Never fails: what is wrong is in
/// [`Evaluation::problems`].
#[cfg(feature = "markdown")]
pub fn evaluate(source: &str, options: &Options) -> Evaluation {
    evaluate_with(source, options, &NoRust)
}

/// The same; `rust` runs its Rust blocks.
#[cfg(feature = "markdown")]
pub fn evaluate_with(source: &str, options: &Options, rust: &dyn RustBlocks) -> Evaluation {
    let (worksheet, problems) = Worksheet::new(source);
    evaluate_worksheet_with(&worksheet, problems, options, rust)
}

/// Evaluates a worksheet whose Markdown has been read, its Rust blocks left out; `problems` are those that were found
/// with that. Never fails: what is wrong is in [`Evaluation::problems`].
pub fn evaluate_worksheet(worksheet: &Worksheet, problems: Vec<Problem>, options: &Options) -> Evaluation {
    evaluate_worksheet_with(worksheet, problems, options, &NoRust)
}

/// The same; `rust` runs its Rust blocks.
pub fn evaluate_worksheet_with(
    worksheet: &Worksheet,
    mut problems: Vec<Problem>,
    options: &Options,
    rust: &dyn RustBlocks,
) -> Evaluation {
    let source = worksheet.source.as_str();
    let (mut sheet, found) = worksheet.read();
    problems.extend(found);
    sheet.metadata.samples = options.samples.unwrap_or(sheet.metadata.samples);
    sheet.metadata.seed = options.seed.unwrap_or(sheet.metadata.seed);
    let (mut checked, found) = check::check(source, &sheet, rust);
    problems.extend(found);
    let lines = LineIndex::new(source);
    let (samples, seed) = (sheet.metadata.samples, sheet.metadata.seed);
    let draws = Draws { samples, seed, threads: options.threads, remember: options.remember };
    let mut fidelities = rust::fidelities(&checked).iter();
    let results = loop {
        checked.program.fidelity = fidelities.next().copied().unwrap_or_default();
        rust::renew(&checked.program);
        let results = run(source, &sheet, &checked, &lines, draws);
        // Asked for more than it could give, a Rust block gave nothing from there on: once more, asking for less.
        if fidelities.as_slice().is_empty() || !rust::is_spent(&checked.program) {
            break results;
        }
    };
    let Results {
        assembled: Assembled { values, keeps, notes, choices },
        plots,
        exercises,
        #[cfg(feature = "rust")]
        rust,
        problems: found,
    } = results;
    problems.extend(found);
    problems.sort_by_key(|problem| (problem.span, problem.code));
    problems.dedup();
    let Checked { outcomes, block_outcomes, .. } = checked;
    Evaluation {
        sheet,
        values,
        keeps,
        notes,
        choices,
        plots,
        exercises,
        #[cfg(feature = "rust")]
        rust,
        outcomes,
        block_outcomes,
        problems,
        lines,
    }
}

/// What one evaluation of a checked worksheet came to.
struct Results {
    assembled: Assembled,
    plots: Vec<PlotData>,
    exercises: Vec<Task>,
    #[cfg(feature = "rust")]
    rust: Vec<RustState>,
    problems: Vec<Problem>,
}

fn run(source: &str, sheet: &Sheet, checked: &Checked, lines: &LineIndex, draws: Draws) -> Results {
    let mut problems = Vec::new();
    let threads = threads::available(draws.threads);
    let tolerances = Tolerances::new(&checked.program);
    let runs = rust::runs(checked, &tolerances);
    rust::report(checked, &runs, sheet, source, &mut problems);
    let copula = copula(checked, draws.seed, &mut problems);
    let simulation = Simulation { tolerances: &tolerances, copula, draws };
    let digits = sheet.metadata.digits;
    let assembled = || {
        let worst_cases = WorstCases::new(checked, &tolerances, threads);
        let assembler =
            Assembler { source, checked, digits, lines, tolerances: &tolerances, worst_cases, runs, threads };
        let mut problems = Vec::new();
        let assembled = assembler.assemble(&mut problems);
        (assembler, assembled, problems)
    };
    // Neither waits for the other two.
    let (sampling, ((assembler, mut assembled, found), curves)) = threads::both(
        threads,
        || Sampling::new(checked, &simulation),
        || threads::both(threads, assembled, || curves::lines(checked, &simulation)),
    );
    problems.extend(found);
    sampling.tell(&mut assembled);
    #[cfg_attr(not(feature = "rust"), allow(unused_mut))]
    let mut plots = curves::plots(checked, &sampling, curves, source, &mut problems);
    let tasks = checked.exercises.iter().filter_map(|exercise| assembler.task(exercise, sheet, &mut problems));
    let exercises = tasks.collect();
    #[cfg(feature = "rust")]
    let rust = rust::states(checked, &assembler.runs, &tolerances);
    #[cfg(feature = "rust")]
    rust::draw(checked, &rust, &mut plots, &mut problems);
    Results {
        assembled,
        plots,
        exercises,
        #[cfg(feature = "rust")]
        rust,
        problems,
    }
}

/// How the givens go together. Correlations that cannot all hold are reported, and left out.
fn copula(checked: &Checked, seed: u64, problems: &mut Vec<Problem>) -> Copula {
    Copula::new(&checked.program, seed).unwrap_or_else(|sources| {
        let name = |source: &u32| format!("`{}`", checked.program.sources[*source as usize].name);
        let names: Vec<String> = sources.iter().map(name).collect();
        let span = checked.correlation_spans.last().copied().unwrap_or_default();
        let message = format!("the correlations of {} cannot all hold at once", names.join(", "));
        let help = "three givens cannot pull in three ways: bring the coefficients nearer to 0";
        problems.push(Problem::new(Code::Correlation, span, message).help(help));
        Copula::default()
    })
}
