//! The evaluation as programs read it: the object that `check --json` prints, one a worksheet. A [`Report`] is built from
//! an [`Evaluation`] and the text it was made from, borrows both, and serialises with `serde` to exactly the fields of
//! the language's contract. Numbers are SI base units in full precision; a number that JSON cannot hold (not a number,
//! or infinite, as in a worst case without bound) is `null`.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::{
    problem::{Problem, Severity},
    results::{Evaluation, NoteState, Role, Value, Verdict, WorstCase},
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
    /// Everything that is wrong, in reading order.
    pub problems: Vec<ProblemEntry<'a>>,
}

impl<'a> Report<'a> {
    /// The report of an evaluation of `source`, under the name `worksheet`.
    pub fn new(worksheet: &'a str, evaluation: &'a Evaluation, source: &str) -> Self {
        Self {
            worksheet,
            engine: env!("CARGO_PKG_VERSION"),
            language: evaluation.sheet.metadata.language,
            values: evaluation.values.iter().map(|value| ValueEntry::new(value, evaluation)).collect(),
            keeps: evaluation.keeps.iter().map(|verdict| KeepEntry::new(verdict, evaluation)).collect(),
            cautions: evaluation.notes.iter().map(|note| CautionEntry::new(note, evaluation)).collect(),
            // The evaluator reports an exercise block as not evaluated, so there is none to list.
            exercises: Vec::new(),
            problems: evaluation.problems.iter().map(|p| ProblemEntry::new(p, evaluation, source)).collect(),
        }
    }
}

/// A given's variance is its own.
fn shares(value: &Value) -> Option<BTreeMap<&str, f64>> {
    if value.spread.is_none() {
        return None;
    }
    if value.role == Role::Given {
        return Some(BTreeMap::from([(value.name.as_str(), 1.0)]));
    }
    Some(value.shares.iter().map(|share| (share.name.as_str(), share.first)).collect())
}

/// A named value.
#[derive(Clone, Debug, Serialize)]
pub struct ValueEntry<'a> {
    /// Its name; `record.field` for a field.
    pub name: &'a str,
    /// Line of its statement.
    pub line: usize,
    /// What a reader is told it is.
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
    /// Standard uncertainty, SI.
    pub std: Option<f64>,
    /// The 95 % coverage interval, SI.
    pub interval95: Option<[f64; 2]>,
    /// Each given's share of the variance.
    pub shares: Option<BTreeMap<&'a str, f64>>,
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
            // An evaluation holds no samples: there is nothing to take these three from.
            std: value.spread.map(|spread| spread.std),
            interval95: value.spread.map(|spread| spread.interval.ends().into()),
            shares: shares(value),
        }
    }
}

/// A requirement.
#[derive(Clone, Debug, Serialize)]
pub struct KeepEntry<'a> {
    /// Line of its statement.
    pub line: usize,
    /// What a reader is told it is for.
    pub label: Option<&'a str>,
    /// `holds`, `at-risk` or `broken`.
    pub status: &'static str,
    /// Distance from the nearer bound at nominal values, as a fraction of the bound; `null` where the bound is zero.
    pub margin: Option<f64>,
    /// The same at the worst case.
    pub margin_worst: Option<f64>,
    /// Fraction of builds that fail.
    pub fails: Option<f64>,
    /// The given that costs most of the margin.
    pub blame: Option<&'a str>,
}

impl<'a> KeepEntry<'a> {
    fn new(verdict: &'a Verdict, evaluation: &Evaluation) -> Self {
        Self {
            line: evaluation.lines.line(verdict.span.start),
            label: verdict.label.as_deref(),
            status: verdict.status.word(),
            margin: verdict.margin,
            margin_worst: verdict.margin_worst,
            // An evaluation holds no samples to count.
            fails: verdict.fails.map(|fails| fails.share),
            blame: verdict.blame.as_deref(),
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
}

impl CautionEntry {
    fn new(note: &NoteState, evaluation: &Evaluation) -> Self {
        Self { line: evaluation.lines.line(note.span.start), signal: note.signal.word(), shown: note.shown }
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

/// A problem.
#[derive(Clone, Debug, Serialize)]
pub struct ProblemEntry<'a> {
    /// `error` or `warning`.
    pub severity: Severity,
    /// Its code.
    pub code: &'static str,
    /// Line where it stands, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What was found and what was wanted.
    pub message: &'a str,
    /// A way out.
    pub help: Option<&'a str>,
}

impl<'a> ProblemEntry<'a> {
    fn new(problem: &'a Problem, evaluation: &Evaluation, source: &str) -> Self {
        let position = evaluation.lines.position(source, problem.span.start);
        Self {
            severity: problem.severity(),
            code: problem.code.text(),
            line: position.line,
            column: position.column,
            message: &problem.message,
            help: problem.help.as_deref(),
        }
    }
}

fn extremes(worst: &WorstCase) -> [f64; 2] {
    [worst.low, worst.high]
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::{
        problem::Code,
        results::{Found, Role, Status},
        sheet::{Metadata, Sheet, Signal},
        span::{LineIndex, Span},
        units::{DisplayUnit, Unit, parse},
    };

    const SOURCE: &str = "# Ω\n\nt = 22 s \"pulse\"\nok = t < 1 s\nkeep t below 30 s\nΩΩ bad\n";

    #[test]
    fn the_object_has_the_fields_of_the_contract_in_their_order() {
        let text = serde_json::to_string(&Report::new("a.md", &evaluation(), SOURCE)).unwrap();
        let keys = ["worksheet", "engine", "language", "values", "keeps", "cautions", "exercises", "problems"];
        let places: Vec<usize> = keys.iter().map(|key| text.find(&format!("\"{key}\":")).unwrap()).collect();
        assert!(places.is_sorted(), "{text}");
        assert_eq!(
            serde_json::from_str::<serde_json::Value>(&text).unwrap(),
            json!({
                "worksheet": "a.md", "engine": env!("CARGO_PKG_VERSION"), "language": 1,
                "values": [
                    {"name": "t", "line": 3, "label": "pulse", "si": 22.0, "unit": "s", "shown": "22.0 s",
                     "dimension": "T", "worst": [15.9, null], "std": null, "interval95": null, "shares": null},
                    {"name": "ok", "line": 4, "label": null, "si": 0.0, "unit": "", "shown": "no",
                     "dimension": null, "worst": null, "std": null, "interval95": null, "shares": null},
                ],
                "keeps": [{"line": 5, "label": null, "status": "at-risk", "margin": 0.25, "margin_worst": null,
                           "fails": null, "blame": "C_t"}],
                "cautions": [{"line": 5, "signal": "warning", "shown": true}],
                "exercises": [],
                "problems": [{"severity": "error", "code": "E-unit-mismatch", "line": 6, "column": 4,
                              "message": "found V", "help": "write A"}],
            })
        );
    }

    #[test]
    fn a_problem_outside_the_text_still_has_a_place() {
        let mut evaluation = evaluation();
        evaluation.problems = vec![Problem::new(Code::Syntax, Span::new(9_999, 10_000), "beyond the end")];
        let report = Report::new("a.md", &evaluation, SOURCE);
        assert_eq!((report.problems[0].line, report.problems[0].column), (7, 1));
    }

    fn evaluation() -> Evaluation {
        let worst = WorstCase { low: 15.9, high: f64::INFINITY, low_at: vec![], high_at: vec![], found: Found::Proven };
        let seconds = parse("s").unwrap();
        let at = |text: &str| {
            let start = SOURCE.find(text).unwrap();
            Span::new(start, start + text.len())
        };
        let time = Value {
            name: "t".into(),
            label: Some("pulse".into()),
            span: at("t = 22"),
            role: Role::Given,
            value_type: ValueType::Quantity(seconds.quantity),
            unit: DisplayUnit::declared(seconds.clone()),
            digits: 3,
            nominal: 22.0,
            worst: Some(worst.clone()),
        };
        let condition = Value {
            name: "ok".into(),
            label: None,
            span: at("ok ="),
            role: Role::Derived,
            value_type: ValueType::Condition,
            unit: DisplayUnit::declared(Unit::one()),
            nominal: 0.0,
            worst: None,
            ..time.clone()
        };
        let keep = Verdict {
            label: None,
            span: at("keep"),
            status: Status::AtRisk,
            value_type: ValueType::Quantity(seconds.quantity),
            nominal: 22.0,
            worst: Some(worst),
            unit: DisplayUnit::declared(seconds),
            digits: 3,
            lower: None,
            upper: None,
            margin: Some(0.25),
            margin_worst: Some(f64::NEG_INFINITY),
            blame: Some("C_t".into()),
        };
        let note =
            NoteState { signal: Signal::Warning, span: at("keep"), shown: true, condition: None, met_by: vec![] };
        Evaluation {
            sheet: Sheet { metadata: Metadata::default(), body_start: 0, blocks: vec![], inlines: vec![] },
            values: vec![time, condition],
            keeps: vec![keep],
            notes: vec![note],
            plots: vec![],
            outcomes: vec![],
            block_outcomes: vec![],
            problems: vec![Problem::new(Code::UnitMismatch, at("bad"), "found V").help("write A")],
            lines: LineIndex::new(SOURCE),
        }
    }
}
