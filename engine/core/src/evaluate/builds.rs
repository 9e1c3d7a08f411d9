//! Builds side by side: the checked program runs once for each, with its own values and costs, for what is compared and for the
//! requirements alone. What no change of a build reaches is taken over from the worksheet as it is.

use benchleaf_words::phrase;

use crate::{
    bill::{Part, break_even},
    check::{Checked, CheckedBuild, CheckedBuilds, CheckedKeep, CheckedValue},
    problem::{Code, Problem, Severity},
    program::{Program, Reg, Scenario, Source, Step},
    results::{Build, BuildSet, Value, Verdict},
    span::Span,
};

/// Evaluates every block of builds. `run` evaluates a reduced worksheet under a scenario; `values` and `keeps` are those of
/// the worksheet as it is; `problems` are its problems, which are not repeated.
pub(super) fn sets(
    checked: &Checked,
    (values, keeps): (&[Value], &[Verdict]),
    run: impl Fn(&Checked, &Scenario<'_>) -> (Vec<Value>, Vec<Verdict>, Vec<Problem>),
    problems: &mut Vec<Problem>,
) -> Vec<BuildSet> {
    let known: Vec<(Code, Span)> = problems.iter().map(|problem| (problem.code, problem.span)).collect();
    let set = |set: &CheckedBuilds| {
        let mut reduced = reduced(checked);
        let builds = set.builds.iter().map(|build| {
            reduced.parts = build.parts.iter().chain(&checked.parts[set.above..]).cloned().collect();
            let scenario = scenario(checked, &reduced.parts, build);
            let reach = Reach::new(&checked.program, &scenario);
            let compared = compared(set, build, &checked.program.sources);
            let taken = |value: &CheckedValue| {
                let known = checked.values.iter().zip(values).find(|(known, _)| {
                    known.name == value.name && known.typed.reg == value.typed.reg && known.digits == value.digits
                });
                let (_, known) = known.filter(|_| !reach.holds(value.typed.reg))?;
                Some(Value { label: value.label.clone(), ..known.clone() })
            };
            let taken: Vec<Option<Value>> = compared.iter().map(taken).collect();
            let kept = |(keep, verdict): (&CheckedKeep, &Verdict)| (!reach.reaches(keep)).then(|| verdict.clone());
            let kept: Vec<Option<Verdict>> = checked.keeps.iter().zip(keeps).map(kept).collect();
            reduced.values = left(&compared, &taken);
            reduced.keeps = left(&checked.keeps, &kept);
            let (mut ran, mut judged) = (Vec::new(), Vec::new());
            if reach.has_model || !reduced.values.is_empty() || !reduced.keeps.is_empty() {
                let (values, keeps, found) = run(&reduced, &scenario);
                (ran, judged) = (values, keeps);
                let new = found.into_iter().filter(|problem| {
                    let matters = problem.severity() == Severity::Error || problem.code == Code::Validity;
                    matters && !known.contains(&(problem.code, problem.span))
                });
                problems.extend(new.map(|problem| {
                    let message = phrase!(EVALUATE_BUILDS_IN_THE_BUILD, name = build.name, message = problem.message);
                    Problem { span: build.span, message, ..problem }
                }));
            }
            let (values, keeps) = (filled(taken, ran), filled(kept, judged));
            Build { name: build.name.clone(), values, keeps, parts: std::mem::take(&mut reduced.parts) }
        });
        let builds: Vec<Build> = builds.collect();
        let lists: Vec<&[Part]> = builds.iter().map(|build| build.parts.as_slice()).collect();
        let break_even = break_even(&lists);
        BuildSet { span: set.span, builds, break_even }
    };
    checked.builds.iter().map(set).collect()
}

/// Those that nothing is known of.
fn left<T: Clone, K>(all: &[T], known: &[Option<K>]) -> Vec<T> {
    all.iter().zip(known).filter(|(_, known)| known.is_none()).map(|(one, _)| one.clone()).collect()
}

/// What is known, and in the gaps what was found, in order.
fn filled<K>(known: Vec<Option<K>>, found: Vec<K>) -> Vec<K> {
    let mut found = found.into_iter();
    known.into_iter().filter_map(|known| known.or_else(|| found.next())).collect()
}

/// The worksheet without its values and with its requirements, and no more of it than a build needs.
pub(super) fn reduced(checked: &Checked) -> Checked {
    Checked {
        program: checked.program.clone(),
        left_out: checked.values.clone(),
        bought: checked.bought.clone(),
        call_spans: checked.call_spans.clone(),
        correlation_spans: checked.correlation_spans.clone(),
        table_units: checked.table_units.clone(),
        divisors: checked.divisors.clone(),
        ..Checked::default()
    }
}

/// What is compared, with the significant digits of a build's own values.
fn compared(set: &CheckedBuilds, build: &CheckedBuild, sources: &[Source]) -> Vec<CheckedValue> {
    let mut values = set.compared.clone();
    for (at, _, digits) in &build.sources {
        let Some(known) = sources.get(*at as usize) else { continue };
        let changed = values.iter_mut().filter(|value| value.name == known.name && value.digits.is_some());
        changed.for_each(|value| value.digits = *digits);
    }
    values
}

/// The worksheet's program with a build's values, and with what its parts cost.
fn scenario<'c>(checked: &'c Checked, parts: &[Part], build: &CheckedBuild) -> Scenario<'c> {
    let authored = Scenario::authored(&checked.program);
    let changed = build.sources.iter().fold(authored, |all, (at, source, _)| all.with_source(*at, source.clone()));
    priced(checked, parts, changed)
}

/// A scenario with what its parts cost.
pub(super) fn priced<'c>(checked: &Checked, parts: &[Part], scenario: Scenario<'c>) -> Scenario<'c> {
    checked.costs.iter().fold(scenario, |all, cost| {
        let total = cost.of(parts, &all.sources);
        all.with_source(cost.source, Source::fixed("cost", total))
    })
}

/// The registers that the changes of a build reach.
struct Reach {
    reached: Vec<bool>,
    /// Whether a model is among them, which may be used outside the range that it is good for.
    has_model: bool,
}

impl Reach {
    fn new(program: &Program, scenario: &Scenario<'_>) -> Self {
        let changed = program.sources.iter().zip(scenario.sources.iter()).map(|(own, other)| own != other);
        let mut sources: Vec<bool> = changed.collect();
        let is_any = sources.contains(&true);
        // What goes together with a given that changed is drawn again with it.
        let mut grows = true;
        while std::mem::take(&mut grows) {
            for (a, b, _) in &program.correlations {
                let (a, b) = (*a as usize, *b as usize);
                if sources[a] != sources[b] {
                    (sources[a], sources[b], grows) = (true, true, true);
                }
            }
        }
        let (mut reached, mut has_model) = (Vec::<bool>::with_capacity(program.steps.len()), false);
        for (reg, step) in program.steps.iter().enumerate() {
            let mut is_reached = match step {
                Step::Source(source) => sources[*source as usize],
                // A search watches whatever is behind its goal.
                Step::Sought(..) => is_any,
                _ => false,
            };
            program.inputs(reg as Reg, |input| is_reached |= reached.get(input as usize).is_none_or(|input| *input));
            has_model |= is_reached && matches!(step, Step::Call(_));
            reached.push(is_reached);
        }
        Self { reached, has_model }
    }

    fn holds(&self, reg: Reg) -> bool {
        self.reached.get(reg as usize).is_none_or(|reached| *reached)
    }

    fn reaches(&self, keep: &CheckedKeep) -> bool {
        let bounds = keep.lower.iter().chain(&keep.upper).map(|(_, distance)| *distance);
        [keep.subject.reg, keep.distance].into_iter().chain(bounds).any(|reg| self.holds(reg))
    }
}
