//! What differs between two evaluations: values, verdicts, safety notes and readings, each paired by its name or by what is
//! written.

use std::collections::HashMap;

use benchleaf_core::{
    bill::{Bought, Part, QUANTITIES, total},
    results::{Build, Evaluation, NoteState, Role, Status, Value, Verdict},
    units::DisplayUnit,
};
use benchleaf_words::{Words, count, say};
use serde::Serialize;

use crate::said;

/// One side of what is compared: an evaluation and its text.
pub(super) struct Side<'a> {
    pub(super) evaluation: &'a Evaluation,
    pub(super) source: &'a str,
    /// The language in which what differs is said.
    pub(super) words: Words<'a>,
}

/// All that differs, as `--json` prints it.
#[derive(Debug, Default, Serialize)]
pub(super) struct Changes {
    /// Values that differ in number, range or tolerance; a given that is a part of the build stands here with what is
    /// written for it.
    pub(super) values: Vec<Change<ValueState>>,
    pub(super) keeps: Vec<Change<KeepState>>,
    pub(super) notes: Vec<Change<NoteShown>>,
    pub(super) bench: Vec<Change<BenchState>>,
    pub(super) parts: Vec<Change<PartState>>,
    /// What builds side by side come to, each as its build and what is compared.
    pub(super) builds: Vec<Change<ValueState>>,
    /// Requirements of these builds.
    pub(super) build_keeps: Vec<Change<KeepState>>,
    /// What all parts cost, in the worksheet and in each build.
    pub(super) cost: Vec<Change<String>>,
    /// Whether a verdict got worse.
    pub(super) worse: bool,
}

/// Something with its old and its new state; absent where it is only in the other one.
#[derive(Debug, Serialize)]
pub(super) struct Change<S> {
    /// What it is called.
    pub(super) name: String,
    pub(super) old: Option<S>,
    pub(super) new: Option<S>,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct ValueState {
    /// SI.
    pub(super) si: f64,
    /// As a reader sees it; with more digits where it would look like the other one.
    pub(super) shown: String,
    /// SI; an end at infinity is `null`.
    pub(super) worst: Option<[f64; 2]>,
    pub(super) range: Option<String>,
    /// For a given: what is written for it.
    pub(super) written: Option<String>,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct KeepState {
    pub(super) status: &'static str,
    #[serde(skip)]
    pub(super) verdict: Status,
    pub(super) margin: Option<f64>,
    pub(super) margin_worst: Option<f64>,
    /// Whether the status is certain.
    pub(super) proven: bool,
    pub(super) line: usize,
    /// How bad it is: 0 holds.
    #[serde(skip)]
    rank: u8,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct NoteShown {
    pub(super) signal: &'static str,
    pub(super) shown: bool,
    /// The values that met its condition.
    pub(super) met_by: Vec<(String, String)>,
}

/// A part, as a reader sees it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct PartState {
    pub(super) value: Option<String>,
    pub(super) label: Option<String>,
    pub(super) designators: Vec<String>,
    pub(super) ratings: Vec<String>,
    /// Each with the number of pieces from which on it is asked.
    pub(super) prices: Vec<(u64, String)>,
    /// Whether it is bought once for all builds.
    pub(super) once: bool,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct BenchState {
    pub(super) mean: String,
    #[serde(rename = "E_n")]
    pub(super) e_n: Option<f64>,
    pub(super) agrees: Option<bool>,
}

impl Changes {
    /// What differs from `old` to `new`.
    pub(super) fn between(old: &Side<'_>, new: &Side<'_>) -> Self {
        let mut changes = Self {
            values: paired(values(old), values(new)),
            keeps: paired(keeps(old), keeps(new)),
            notes: paired(notes(old), notes(new)),
            bench: paired(bench(old), bench(new)),
            parts: paired(parts(old), parts(new)),
            builds: paired(built(old), built(new)),
            build_keeps: paired(built_keeps(old), built_keeps(new)),
            cost: paired(cost(old), cost(new)),
            worse: false,
        };
        for Change { old, new, .. } in changes.values.iter_mut().chain(&mut changes.builds) {
            if let (Some(old), Some(new)) = (old, new) {
                tell_apart(old, new);
            }
        }
        // The line of a requirement moves with whatever stands above it, and is no difference.
        let differs = |change: &Change<KeepState>| match (&change.old, &change.new) {
            (Some(old), Some(new)) => KeepState { line: old.line, ..new.clone() } != *old,
            _ => true,
        };
        changes.keeps.retain(differs);
        changes.build_keeps.retain(differs);
        changes.worse = changes.keeps.iter().chain(&changes.build_keeps).any(Change::is_worse);
        changes
    }

    pub(super) fn is_empty(&self) -> bool {
        self.count() == 0
    }

    /// How many things differ.
    pub(super) fn count(&self) -> usize {
        self.counts().iter().sum()
    }

    /// How many of each kind differ, where some do: `2 values`.
    pub(super) fn counted(&self, words: Words<'_>) -> Vec<String> {
        let [values, keeps, notes, days, parts, builds, build_keeps, costs] = self.counts();
        let said = [
            (values, count!(words, DIFF_VALUES, values, n = values)),
            (keeps, count!(words, DIFF_KEEPS, keeps, n = keeps)),
            (notes, count!(words, DIFF_NOTES, notes, n = notes)),
            (days, count!(words, DIFF_DAYS, days, n = days)),
            (parts, count!(words, DIFF_PARTS, parts, n = parts)),
            (builds, count!(words, DIFF_BUILD_VALUES, builds, n = builds)),
            (build_keeps, count!(words, DIFF_BUILD_KEEPS, build_keeps, n = build_keeps)),
            (costs, count!(words, DIFF_COSTS, costs, n = costs)),
        ];
        said.into_iter().filter(|(count, _)| *count > 0).map(|(_, said)| said).collect()
    }

    fn counts(&self) -> [usize; 8] {
        [
            self.values.len(),
            self.keeps.len(),
            self.notes.len(),
            self.bench.len(),
            self.parts.len(),
            self.builds.len(),
            self.build_keeps.len(),
            self.cost.len(),
        ]
    }
}

impl Change<KeepState> {
    /// Whether the verdict got worse.
    pub(super) fn is_worse(&self) -> bool {
        matches!((&self.old, &self.new), (Some(old), Some(new)) if new.rank > old.rank)
    }
}

/// What has a name on both sides or one, where the two differ; in the order of the new side, then what is only in the old.
fn paired<S: PartialEq>(old: Vec<(String, S)>, new: Vec<(String, S)>) -> Vec<Change<S>> {
    let mut known: HashMap<(String, usize), S> = HashMap::new();
    let mut order = Vec::new();
    let number = |name: &String, seen: &mut HashMap<String, usize>| {
        let nth = seen.entry(name.clone()).or_default();
        *nth += 1;
        (name.clone(), *nth)
    };
    let mut seen = HashMap::new();
    for (name, state) in old {
        let key = number(&name, &mut seen);
        order.push(key.clone());
        known.insert(key, state);
    }
    let mut changes = Vec::new();
    let mut seen = HashMap::new();
    for (name, state) in new {
        let old = known.remove(&number(&name, &mut seen));
        if old.as_ref() != Some(&state) {
            changes.push(Change { name, old, new: Some(state) });
        }
    }
    for key in order {
        if let Some(state) = known.remove(&key) {
            changes.push(Change { name: key.0, old: Some(state), new: None });
        }
    }
    changes
}

fn values(side: &Side<'_>) -> Vec<(String, ValueState)> {
    let givens: HashMap<&str, String> = side
        .evaluation
        .sheet
        .givens()
        .into_iter()
        .map(|given| {
            let span =
                given.tolerance.as_ref().map_or(given.value.span, |tolerance| given.value.span.to(tolerance.span));
            let written: Vec<&str> = span.text(side.source).split_whitespace().collect();
            (given.name.item.as_str(), written.join(" "))
        })
        .collect();
    let state = |value: &Value| ValueState {
        written: givens.get(value.name.as_str()).filter(|_| value.role == Role::Given).cloned(),
        ..state_of(side.words, value)
    };
    // The same number in other words (4k7, 4.7 kΩ) is no difference; NaN is like NaN.
    let named = side.evaluation.values.iter().filter(|value| !value.nominal.is_nan());
    named.map(|value| (value.name.clone(), state(value))).collect()
}

fn state_of(words: Words<'_>, value: &Value) -> ValueState {
    ValueState {
        si: value.nominal,
        shown: value.shown_in(words),
        worst: value.worst.as_ref().map(|worst| [worst.low, worst.high]),
        range: value.shown_range_in(words),
        written: None,
    }
}

/// Where two numbers look alike as they are shown, they are shown with as many digits as it takes.
fn tell_apart(old: &mut ValueState, new: &mut ValueState) {
    if old.si != new.si && old.shown == new.shown {
        let unit = old.shown.split_once(' ').and_then(|(_, symbol)| benchleaf_core::units::parse(symbol));
        let unit = DisplayUnit::declared(unit.unwrap_or_else(benchleaf_core::units::Unit::one));
        for digits in 4..=17 {
            let (before, after) = (unit.show(old.si, digits), unit.show(new.si, digits));
            if before != after {
                (old.shown, new.shown) = (before, after);
                return;
            }
        }
    }
}

fn keeps(side: &Side<'_>) -> Vec<(String, KeepState)> {
    side.evaluation.keeps.iter().map(|verdict| keep(side, verdict)).collect()
}

fn keep(side: &Side<'_>, verdict: &Verdict) -> (String, KeepState) {
    let state = KeepState {
        status: verdict.status.word(),
        verdict: verdict.status,
        margin: verdict.margin,
        margin_worst: verdict.margin_worst,
        proven: verdict.proven,
        line: side.evaluation.lines.line(verdict.span.start),
        rank: verdict.status as u8,
    };
    let written = || verdict.span.text(side.source).split_whitespace().collect::<Vec<_>>().join(" ");
    (verdict.label.clone().unwrap_or_else(written), state)
}

fn parts(side: &Side<'_>) -> Vec<(String, PartState)> {
    let state = |part: &Part| PartState {
        value: part.value.as_ref().map(|value| value.split_whitespace().collect::<Vec<_>>().join(" ")),
        label: part.label.clone(),
        designators: part.designators.clone(),
        ratings: part.ratings.iter().map(|rating| rating.shown.clone()).collect(),
        prices: part.prices.iter().map(|price| (price.from, price.shown())).collect(),
        once: part.bought == Bought::Once,
    };
    // A part is the same part where its place on the board is; else by its name or what it is.
    let name = |part: &Part| {
        let name = part.name.as_ref().or(part.designators.first()).or(part.label.as_ref());
        name.cloned().unwrap_or_default()
    };
    side.evaluation.parts.iter().map(|part| (name(part), state(part))).collect()
}

fn built(side: &Side<'_>) -> Vec<(String, ValueState)> {
    let named = |build: &Build, value: &Value| (format!("{}, {}", build.name, value.name), state_of(side.words, value));
    let builds = side.evaluation.builds.iter().flat_map(|set| &set.builds);
    let finite = |value: &&Value| !value.nominal.is_nan();
    builds.flat_map(|build| build.values.iter().filter(finite).map(|value| named(build, value))).collect()
}

fn built_keeps(side: &Side<'_>) -> Vec<(String, KeepState)> {
    let builds = side.evaluation.builds.iter().flat_map(|set| &set.builds);
    let keeps = builds.flat_map(|build| build.keeps.iter().map(move |verdict| (build, verdict)));
    let named = keeps.map(|(build, verdict)| {
        let (name, state) = keep(side, verdict);
        (format!("{}, {name}", build.name), state)
    });
    named.collect()
}

fn cost(side: &Side<'_>) -> Vec<(String, String)> {
    let listed = |called: &str, parts: &[Part]| -> Vec<(String, String)> {
        let totals = QUANTITIES.map(|builds| (builds, total(parts, builds))).into_iter();
        let priced = totals.filter(|(_, amounts)| !amounts.is_empty());
        priced.map(|(builds, amounts)| (format!("{called}{builds}"), said::amounts(side.words, amounts))).collect()
    };
    let builds = side.evaluation.builds.iter().flat_map(|set| &set.builds);
    let of_builds = builds.flat_map(|build| listed(&format!("{}, ", build.name), &build.parts));
    listed("", &side.evaluation.parts).into_iter().chain(of_builds).collect()
}

fn notes(side: &Side<'_>) -> Vec<(String, NoteShown)> {
    let state = |note: &NoteState| NoteShown {
        signal: note.signal.word(),
        shown: note.shown,
        met_by: if note.shown { note.met_by.clone() } else { Vec::new() },
    };
    let name = |note: &NoteState| {
        let signal = side.words.text(said::signal(note.signal));
        match note.condition {
            Some(span) => say!(side.words, DIFF_WHEN, signal = signal, condition = span.text(side.source).trim()),
            None => signal.to_owned(),
        }
    };
    side.evaluation.notes.iter().map(|note| (name(note), state(note))).collect()
}

fn bench(side: &Side<'_>) -> Vec<(String, BenchState)> {
    let logs = side.evaluation.benches.iter().filter_map(|log| Some((log, side.evaluation.values.get(log.value)?)));
    logs.flat_map(|(log, value)| {
        log.days.iter().map(move |day| {
            let state = BenchState {
                mean: value.unit.show(day.mean, 6),
                e_n: day.against.and_then(|against| against.e_n),
                agrees: day.against.map(|against| against.agrees),
            };
            (say!(side.words, DIFF_ON_DAY, name = value.name, day = day.day), state)
        })
    })
    .collect()
}
