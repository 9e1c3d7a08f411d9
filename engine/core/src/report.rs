//! The evaluation as programs read it: the object that `check --json` prints, one a worksheet. A [`Report`] is built from
//! an [`Evaluation`] and the text it was made from, borrows both, and serialises with `serde` to exactly the fields of
//! the language's contract. Numbers are SI base units in full precision; a number that JSON cannot hold (not a number,
//! or infinite, as in a worst case without bound) is `null`.

mod bench;
mod builds;
mod circuits;
mod parts;
mod steps;
mod transients;

use std::collections::BTreeMap;

use benchleaf_words::Words;
use serde::Serialize;

pub use bench::{BenchEntry, FitEntry, SuspectEntry};
pub use builds::{BreakEvenEntry, BuildEntry};
pub use circuits::{CircuitEntry, CircuitPartEntry, NetEntry};
pub use parts::{PartEntry, PriceEntry, TotalEntry};
pub use steps::{StepEntry, TestPointEntry};

pub use transients::TransientEntry;

use crate::{
    problem::{Problem, Severity},
    results::{Certainty, Change, Evaluation, NoteState, Remedy, Role, Share, Task, Value, Verdict, WorstCase},
    units::ValueType,
};

/// A worksheet's results, ready to be written as JSON.
#[derive(Clone, Debug, Serialize)]
pub struct Report<'a> {
    /// The worksheet, by the path or name its reader gave.
    pub worksheet: &'a str,
    /// Version of the engine.
    pub engine: &'static str,
    /// Version of the language that the worksheet is written in.
    pub language: u32,
    /// Every named value, in reading order; records give one entry a field.
    pub values: Vec<ValueEntry<'a>>,
    /// Every requirement.
    pub keeps: Vec<KeepEntry<'a>>,
    /// Every safety note.
    pub cautions: Vec<CautionEntry>,
    /// Every exercise.
    pub exercises: Vec<ExerciseEntry<'a>>,
    /// Every day of readings; left out where there are none, as are the next two.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bench: Vec<BenchEntry<'a>>,
    /// Every given that was found from readings.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub fits: Vec<FitEntry<'a>>,
    /// What could explain the last day's readings of each value.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub suspects: Vec<SuspectEntry<'a>>,
    /// Every part; left out where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<PartEntry<'a>>,
    /// What all parts cost, for some numbers of builds; left out where no part has a price.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub cost: Vec<TotalEntry>,
    /// Every circuit; left out where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub circuits: Vec<CircuitEntry<'a>>,
    /// Every step of the build; left out where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<StepEntry<'a>>,
    /// Every build that is set beside others; left out where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub builds: Vec<BuildEntry<'a>>,
    /// Where the cheapest build changes; left out where it does not.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub break_even: Vec<BreakEvenEntry<'a>>,
    /// Every `transient` block that could be run; left out where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub transients: Vec<TransientEntry<'a>>,
    /// Everything that is wrong, in reading order.
    pub problems: Vec<ProblemEntry<'a>>,
}

impl<'a> Report<'a> {
    /// The report of an evaluation of `source`, under the name `worksheet`; its problems are in the worksheet's language.
    pub fn new(worksheet: &'a str, evaluation: &'a Evaluation, source: &str) -> Self {
        let words = evaluation.sheet.metadata.lang.words();
        Self {
            worksheet,
            engine: env!("CARGO_PKG_VERSION"),
            language: evaluation.sheet.metadata.language,
            values: evaluation.values.iter().map(|value| ValueEntry::new(value, evaluation)).collect(),
            keeps: evaluation.keeps.iter().map(|verdict| KeepEntry::new(verdict, evaluation)).collect(),
            cautions: evaluation.notes.iter().map(|note| CautionEntry::new(note, evaluation)).collect(),
            exercises: evaluation.exercises.iter().map(ExerciseEntry::new).collect(),
            bench: bench::days(evaluation),
            fits: bench::fits(evaluation),
            suspects: bench::suspects(evaluation),
            parts: evaluation.parts.iter().map(|part| PartEntry::new(part, evaluation)).collect(),
            cost: TotalEntry::of(&evaluation.parts),
            circuits: circuits::circuits(evaluation),
            steps: steps::steps(evaluation),
            builds: builds::entries(evaluation),
            break_even: builds::break_even(evaluation),
            transients: own_transients(evaluation).map(|state| TransientEntry::new(state, evaluation)).collect(),
            problems: evaluation.problems.iter().map(|p| ProblemEntry::new(p, evaluation, source, words)).collect(),
        }
    }
}

/// Those of the worksheet itself, and not of the worksheets that it uses.
fn own_transients(evaluation: &Evaluation) -> impl Iterator<Item = &crate::results::TransientState> {
    evaluation.transients.iter().filter(|state| evaluation.sheet.block_at(state.span.start).is_some())
}

/// A given's variance is its own.
fn shares(value: &Value) -> Option<BTreeMap<&str, f64>> {
    value.spread?;
    if value.role == Role::Given {
        return Some(BTreeMap::from([(value.name.as_str(), 1.0)]));
    }
    shares_with(value, |share| Some(share.first))
}

/// What is known of every share; `None` where it is known of none.
fn shares_with(value: &Value, figure: impl Fn(&Share) -> Option<f64>) -> Option<BTreeMap<&str, f64>> {
    value.spread?;
    value.shares.iter().map(|share| Some((share.name.as_str(), figure(share)?))).collect()
}

/// The same, of a result that has shares.
fn estimates(value: &Value, figure: impl Fn(&Share) -> Option<f64>) -> Option<BTreeMap<&str, f64>> {
    shares_with(value, figure).filter(|figures| !figures.is_empty())
}

/// A named value.
#[derive(Clone, Debug, Serialize)]
pub struct ValueEntry<'a> {
    /// Its name; `record.field` for a field.
    pub name: &'a str,
    /// Line of its statement.
    pub line: usize,
    /// The label that a reader sees.
    pub label: Option<&'a str>,
    /// The nominal value, SI; 1 or 0 for a condition.
    pub si: f64,
    /// Symbol of the unit it is shown in; empty for a plain number.
    pub unit: &'a str,
    /// The nominal value as a reader sees it.
    pub shown: String,
    /// Its dimension in the symbols of ISO 80000-1 (`L^2 M T^-3 I^-1`), `1` for a plain number; `null` for a condition.
    pub dimension: Option<String>,
    /// Least and greatest value, SI.
    pub worst: Option<[f64; 2]>,
    /// Whether it is proven that nothing goes beyond.
    pub worst_proven: Option<bool>,
    /// What surely holds every value, SI.
    pub worst_enclosure: Option<[f64; 2]>,
    /// Standard uncertainty, SI.
    pub std: Option<f64>,
    /// The 95 % coverage interval, SI; an end at infinity is `null`.
    pub interval95: Option<[f64; 2]>,
    /// Share of builds without a finite value; left out where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fails_to_exist: Option<f64>,
    /// Each given's share of the variance.
    pub shares: Option<BTreeMap<&'a str, f64>>,
    /// What each given brings together with the others; left out where that is not asked of the builds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shares_total: Option<BTreeMap<&'a str, f64>>,
    /// The standard error of each share; left out where they do not come from the builds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shares_error: Option<BTreeMap<&'a str, f64>>,
    /// Where it comes from; left out for a value of this worksheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<FromEntry<'a>>,
}

/// Where a value of another worksheet stands.
#[derive(Clone, Debug, Serialize)]
pub struct FromEntry<'a> {
    /// The worksheet, by its path from this one.
    pub file: &'a str,
    /// Its name there.
    pub name: &'a str,
}

impl<'a> ValueEntry<'a> {
    fn new(value: &'a Value, evaluation: &Evaluation) -> Self {
        let dimension = match value.value_type {
            ValueType::Quantity(quantity) => Some(quantity.dimension.to_string()),
            ValueType::Condition => None,
        };
        Self {
            name: &value.name,
            line: evaluation.lines.line(value.span.start),
            label: value.label.as_deref(),
            si: value.nominal,
            unit: value.unit.symbol(),
            shown: value.shown(),
            dimension,
            worst: value.worst.as_ref().map(extremes),
            worst_proven: value.worst.as_ref().map(|worst| worst.certainty == Certainty::Proven),
            worst_enclosure: value.worst.as_ref().map(|worst| worst.enclosure.into()),
            // An evaluation holds no samples: there is nothing to take these three from.
            std: value.spread.and_then(|spread| spread.std),
            interval95: value.spread.map(|spread| spread.interval.ends().into()),
            fails_to_exist: value.spread.map(|spread| spread.fails_to_exist()).filter(|share| *share > 0.0),
            shares: shares(value),
            shares_total: estimates(value, |share| share.total),
            shares_error: estimates(value, |share| share.error),
            from: value.origin.as_ref().map(|origin| FromEntry { file: &origin.file, name: &origin.name }),
        }
    }
}

/// A requirement.
#[derive(Clone, Debug, Serialize)]
pub struct KeepEntry<'a> {
    /// Line of its statement.
    pub line: usize,
    /// The label that a reader sees.
    pub label: Option<&'a str>,
    /// `holds`, `at-risk` or `broken`.
    pub status: &'static str,
    /// Whether the status is certain; else nothing was found that breaks it, and nothing proves that nothing does.
    pub proven: bool,
    /// What is kept, nominal, SI; 1 or 0 for a condition.
    pub value: f64,
    /// Its least and greatest value, SI; `null` where it does not vary.
    pub range: Option<[f64; 2]>,
    /// Least and greatest value allowed, SI; `null` for the one that is not bounded. Absent for a condition.
    pub bounds: Option<[Option<f64>; 2]>,
    /// Distance from the nearer bound at nominal values, as a fraction of the bound; `null` where the bound is zero.
    pub margin: Option<f64>,
    /// The same at the worst case.
    pub margin_worst: Option<f64>,
    /// Fraction of builds that fail.
    pub fails: Option<f64>,
    /// The given that costs most of the margin.
    pub blame: Option<&'a str>,
    /// What would make it hold; empty where it holds, or where nothing was found.
    pub cure: Vec<CureEntry<'a>>,
}

/// A change of one given that makes a requirement hold.
#[derive(Clone, Debug, Serialize)]
pub struct CureEntry<'a> {
    /// The given.
    pub given: &'a str,
    /// What about it.
    #[serde(flatten)]
    pub change: CureChange<'a>,
}

/// What about a given.
#[derive(Clone, Debug, Serialize)]
#[serde(tag = "change", rename_all = "kebab-case")]
pub enum CureChange<'a> {
    /// A closer tolerance.
    Tolerance {
        /// The ends that it may have, SI.
        within: [f64; 2],
        /// Part of the present tolerance.
        part: f64,
    },
    /// No tolerance of it, however close, would do alone.
    NoTolerance,
    /// Another preferred value with the same tolerance.
    Value {
        /// The value, SI.
        value: f64,
        /// The same as a reader sees it.
        shown: &'a str,
        /// The series that it is from.
        series: &'static str,
    },
}

impl<'a> CureEntry<'a> {
    fn new(remedy: &'a Remedy) -> Self {
        let change = match &remedy.change {
            Change::Tolerance { part, low, high } => CureChange::Tolerance { within: [*low, *high], part: *part },
            Change::NoToleranceWill => CureChange::NoTolerance,
            Change::Preferred { value, shown, series } => CureChange::Value { value: *value, shown, series },
        };
        Self { given: &remedy.given, change }
    }
}

impl<'a> KeepEntry<'a> {
    fn new(verdict: &'a Verdict, evaluation: &Evaluation) -> Self {
        Self {
            line: evaluation.lines.line(verdict.span.start),
            label: verdict.label.as_deref(),
            status: verdict.status.word(),
            proven: verdict.proven,
            value: verdict.nominal,
            range: verdict.worst.as_ref().map(extremes),
            bounds: (verdict.value_type != ValueType::Condition)
                .then(|| [verdict.lower, verdict.upper].map(|limit| limit.map(|limit| limit.nominal))),
            margin: verdict.margin,
            margin_worst: verdict.margin_worst,
            // An evaluation holds no samples to count.
            fails: verdict.fails.map(|fails| fails.share),
            blame: verdict.blame.as_deref(),
            cure: verdict.remedies.iter().map(CureEntry::new).collect(),
        }
    }
}

/// A safety note.
#[derive(Clone, Debug, Serialize)]
pub struct CautionEntry {
    /// Line of its block.
    pub line: usize,
    /// Its signal word, in lower case.
    pub signal: &'static str,
    /// Whether it is shown in full.
    pub shown: bool,
    /// Whether that is certain.
    pub proven: bool,
}

impl CautionEntry {
    fn new(note: &NoteState, evaluation: &Evaluation) -> Self {
        Self {
            line: evaluation.lines.line(note.span.start),
            signal: note.signal.word(),
            shown: note.shown,
            proven: note.proven,
        }
    }
}

/// An exercise.
#[derive(Clone, Debug, Serialize)]
pub struct ExerciseEntry<'a> {
    /// Its name.
    pub name: &'a str,
    /// What a right answer earns.
    pub points: f64,
}

impl<'a> ExerciseEntry<'a> {
    fn new(task: &'a Task) -> Self {
        Self { name: &task.name, points: task.points }
    }
}

/// A problem.
#[derive(Clone, Debug, Serialize)]
pub struct ProblemEntry<'a> {
    /// `error` or `warning`.
    pub severity: Severity,
    /// Its code.
    pub code: &'static str,
    /// The file that it stands in, where that is not the worksheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<&'a str>,
    /// Line where it stands, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What was found and what was wanted.
    pub message: String,
    /// A way out.
    pub help: Option<String>,
}

impl<'a> ProblemEntry<'a> {
    fn new(problem: &'a Problem, evaluation: &Evaluation, source: &str, words: Words<'_>) -> Self {
        let position = match &problem.file {
            Some(place) => place.position,
            None => evaluation.lines.position(source, problem.span.start),
        };
        Self {
            severity: problem.severity(),
            code: problem.code.text(),
            file: problem.file.as_ref().map(|place| &*place.path),
            line: position.line,
            column: position.column,
            message: problem.message.say(words),
            help: problem.help.as_ref().map(|help| help.say(words)),
        }
    }
}

fn extremes(worst: &WorstCase) -> [f64; 2] {
    [worst.low, worst.high]
}

#[cfg(test)]
mod tests {
    use serde_json::{Value as Json, json};

    use super::*;
    use crate::{
        problem::{Code, Problem},
        span::Span,
    };

    const SOURCE: &str = "# One shot\n\n```calc\nR = 100 kΩ ± 10 % \"timing resistor\"\nt [s] = R * 100 µF \"pulse\"\nok = t > 20 s\nkeep t below 10.5 s\nq = 1 / (R - 100 kΩ + 0 Ω)\nbad = 1 V + 1 A\n```\n\n```warning when t > 9 s\nWet.\n```\n";

    fn report() -> Json {
        let evaluation = crate::Evaluator::default().evaluate(SOURCE);
        serde_json::to_value(Report::new("a.md", &evaluation, SOURCE)).unwrap()
    }

    #[test]
    fn the_object_has_the_fields_of_the_contract_in_their_order() {
        let evaluation = crate::Evaluator::default().evaluate(SOURCE);
        let text = serde_json::to_string(&Report::new("a.md", &evaluation, SOURCE)).unwrap();
        for keys in [
            &["worksheet", "engine", "language", "values", "keeps", "cautions", "exercises", "problems"][..],
            &["name", "line", "label", "si", "unit", "shown", "dimension", "worst"][..],
            &["worst", "worst_proven", "worst_enclosure", "std", "interval95", "shares"][..],
            &["status", "proven", "value", "range", "bounds", "margin", "margin_worst", "fails", "blame", "cure"][..],
        ] {
            let places: Vec<usize> = keys.iter().map(|key| text.find(&format!("\"{key}\":")).unwrap()).collect();
            assert!(places.is_sorted(), "{keys:?}: {text}");
        }
        let json = report();
        assert_eq!(
            (&json["worksheet"], &json["language"], &json["exercises"]),
            (&json!("a.md"), &json!(1), &json!([]))
        );
        let pulse = &json["values"][1];
        assert_eq!((&pulse["name"], &pulse["line"], &pulse["label"]), (&json!("t"), &json!(5), &json!("pulse")));
        assert_eq!(
            (&pulse["unit"], &pulse["shown"], &pulse["dimension"]),
            (&json!("s"), &json!("10.0 s"), &json!("T"))
        );
        assert_eq!(pulse["worst"].as_array().unwrap().len(), 2);
        assert_eq!(pulse["shares"], json!({"R": 1.0}));
        assert!(pulse.get("shares_total").is_none());
        assert!((pulse["std"].as_f64().unwrap() - 1.0 / 3f64.sqrt()).abs() < 0.01);
        let ok = &json["values"][2];
        assert_eq!((&ok["shown"], &ok["dimension"], &ok["std"]), (&json!("no"), &Json::Null, &Json::Null));
        let keep = &json["keeps"][0];
        assert_eq!((&keep["status"], &keep["blame"], &keep["line"]), (&json!("at-risk"), &json!("R"), &json!(7)));
        assert_eq!((&keep["value"], &keep["bounds"]), (&json!(10.0), &json!([null, 10.5])));
        let range = keep["range"].as_array().unwrap();
        assert!((range[0].as_f64().unwrap() - 9.0).abs() < 1e-9 && (range[1].as_f64().unwrap() - 11.0).abs() < 1e-9);
        let cure = &keep["cure"][0];
        assert_eq!((&cure["given"], &cure["change"]), (&json!("R"), &json!("tolerance")));
        let ends = cure["within"].as_array().unwrap();
        let (low, high) = (ends[0].as_f64().unwrap(), ends[1].as_f64().unwrap());
        assert!(low < 100e3 && 100e3 < high && high * 100e-6 <= 10.5 * (1.0 + 1e-9), "{low} {high}");
        assert!((keep["fails"].as_f64().unwrap() - 0.25).abs() < 0.02);
        assert_eq!(json["cautions"], json!([{"line": 12, "proven": true, "signal": "warning", "shown": true}]));
        let bad = json["problems"].as_array().unwrap().iter().find(|p| p["code"] == "E-unit-mismatch").unwrap();
        assert_eq!((&bad["severity"], &bad["line"], &bad["column"]), (&json!("error"), &json!(9), &json!(7)));
    }

    #[test]
    fn what_json_cannot_hold_is_null() {
        let json = report();
        let endless = json["values"].as_array().unwrap().iter().find(|value| value["name"] == "q").unwrap();
        assert_eq!((&endless["si"], &endless["worst"]), (&Json::Null, &json!([null, null])));
    }

    #[test]
    fn a_problem_outside_the_text_still_has_a_place() {
        let mut evaluation = crate::Evaluator::default().evaluate(SOURCE);
        evaluation.problems = vec![Problem::new(Code::Syntax, Span::new(9_999, 10_000), "beyond the end")];
        let report = Report::new("a.md", &evaluation, SOURCE);
        assert_eq!(report.problems[0].line, SOURCE.lines().count() + 1);
    }
}
