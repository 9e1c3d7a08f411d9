//! Builds side by side: the checked program runs once for each, with its own values and costs, for what is compared and for the
//! requirements alone.

use crate::{
    bill::{Part, break_even},
    check::{Checked, CheckedBuild, CheckedBuilds, CheckedValue},
    problem::{Code, Problem, Severity},
    program::{Scenario, Source},
    results::{Build, BuildSet, Value, Verdict},
};

/// Evaluates every block of builds. `run` evaluates a reduced worksheet under a scenario; `known` are the problems of the
/// worksheet itself, which need not be reported again.
pub(super) fn sets(
    checked: &Checked,
    run: impl Fn(&Checked, &Scenario<'_>) -> (Vec<Value>, Vec<Verdict>, Vec<Problem>),
    problems: &mut Vec<Problem>,
) -> Vec<BuildSet> {
    let known: Vec<(Code, crate::span::Span)> = problems.iter().map(|problem| (problem.code, problem.span)).collect();
    let set = |set: &CheckedBuilds| {
        let mut reduced = reduced(checked);
        let builds = set.builds.iter().map(|build| {
            reduced.values = values(set, build, &checked.program.sources);
            reduced.parts = build.parts.iter().chain(&checked.parts[set.above..]).cloned().collect();
            let (values, keeps, found) = run(&reduced, &scenario(checked, &reduced, build));
            let new = found.into_iter().filter(|problem| {
                let reported = problem.severity() == Severity::Error || problem.code == Code::Validity;
                reported && !known.contains(&(problem.code, problem.span))
            });
            problems.extend(new.map(|problem| {
                let message = format!("in the build “{}”: {}", build.name, problem.message);
                Problem { span: build.span, message, ..problem }
            }));
            Build { name: build.name.clone(), values, keeps, parts: std::mem::take(&mut reduced.parts) }
        });
        let builds: Vec<Build> = builds.collect();
        let lists: Vec<&[Part]> = builds.iter().map(|build| build.parts.as_slice()).collect();
        let break_even = break_even(&lists);
        BuildSet { span: set.span, builds, break_even }
    };
    checked.builds.iter().map(set).collect()
}

/// The worksheet with its requirements, and no more of it than a build needs.
pub(super) fn reduced(checked: &Checked) -> Checked {
    Checked {
        program: checked.program.clone(),
        keeps: checked.keeps.clone(),
        bought: checked.bought.clone(),
        call_spans: checked.call_spans.clone(),
        correlation_spans: checked.correlation_spans.clone(),
        table_units: checked.table_units.clone(),
        divisors: checked.divisors.clone(),
        ..Checked::default()
    }
}

/// What is compared, with the significant digits of a build's own values.
fn values(set: &CheckedBuilds, build: &CheckedBuild, sources: &[Source]) -> Vec<CheckedValue> {
    let mut values = set.compared.clone();
    for (at, _, digits) in &build.sources {
        let Some(known) = sources.get(*at as usize) else { continue };
        let changed = values.iter_mut().filter(|value| value.name == known.name && value.digits.is_some());
        changed.for_each(|value| value.digits = *digits);
    }
    values
}

/// The worksheet's program with a build's values, and with what its parts cost.
fn scenario<'r>(checked: &Checked, reduced: &'r Checked, build: &CheckedBuild) -> Scenario<'r> {
    let authored = Scenario::authored(&reduced.program);
    let changed = build.sources.iter().fold(authored, |all, (at, source, _)| all.with_source(*at, source.clone()));
    checked.costs.iter().fold(changed, |all, cost| {
        let total = cost.of(&reduced.parts, &all.sources);
        all.with_source(cost.source, Source::fixed("cost", total))
    })
}
