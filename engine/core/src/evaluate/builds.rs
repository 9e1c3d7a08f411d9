//! Builds side by side: the checked program runs once for each, with its own values and costs, for what is compared and for the
//! requirements alone.

use crate::{
    bill::{Part, break_even},
    check::{Checked, CheckedBuild, CheckedBuilds, CheckedValue},
    problem::{Code, Problem, Severity},
    program::Source,
    results::{Build, BuildSet, Value, Verdict},
};

/// Evaluates every block of builds. `run` evaluates a reduced worksheet; `known` are the problems of the worksheet itself, which
/// need not be told again.
pub(super) fn sets(
    checked: &Checked,
    run: impl Fn(&Checked) -> (Vec<Value>, Vec<Verdict>, Vec<Problem>),
    problems: &mut Vec<Problem>,
) -> Vec<BuildSet> {
    let known: Vec<(Code, crate::span::Span)> = problems.iter().map(|problem| (problem.code, problem.span)).collect();
    let set = |set: &CheckedBuilds| {
        let builds = set.builds.iter().map(|build| {
            let parts: Vec<Part> = build.parts.iter().chain(&checked.parts[set.above..]).cloned().collect();
            let reduced = reduced(checked, set, build, parts);
            let (values, keeps, found) = run(&reduced);
            let new = found.into_iter().filter(|problem| {
                let told = problem.severity() == Severity::Error || problem.code == Code::Validity;
                told && !known.contains(&(problem.code, problem.span))
            });
            problems.extend(new.map(|problem| {
                let message = format!("in the build “{}”: {}", build.name, problem.message);
                Problem { span: build.span, message, ..problem }
            }));
            Build { name: build.name.clone(), values, keeps, parts: reduced.parts }
        });
        let builds: Vec<Build> = builds.collect();
        let lists: Vec<&[Part]> = builds.iter().map(|build| build.parts.as_slice()).collect();
        let break_even = break_even(&lists);
        BuildSet { span: set.span, builds, break_even }
    };
    checked.builds.iter().map(set).collect()
}

/// The worksheet with a build's values and parts, and no more of it than is compared.
fn reduced(checked: &Checked, set: &CheckedBuilds, build: &CheckedBuild, parts: Vec<Part>) -> Checked {
    let mut program = checked.program.clone();
    let mut values: Vec<CheckedValue> = set.compared.clone();
    for (at, source, digits) in &build.sources {
        if let Some(known) = program.sources.get_mut(*at as usize) {
            let changed = values.iter_mut().filter(|value| value.name == known.name && value.digits.is_some());
            changed.for_each(|value| value.digits = *digits);
            *known = source.clone();
        }
    }
    for cost in &checked.costs {
        let total = cost.of(&parts, &program.sources);
        if let Some(source) = program.sources.get_mut(cost.source as usize) {
            *source = Source::fixed("cost", total);
        }
    }
    Checked {
        program,
        values,
        keeps: checked.keeps.clone(),
        parts,
        bought: checked.bought.clone(),
        call_spans: checked.call_spans.clone(),
        correlation_spans: checked.correlation_spans.clone(),
        table_units: checked.table_units.clone(),
        divisors: checked.divisors.clone(),
        ..Checked::default()
    }
}
