//! `benchleaf check`: evaluates worksheets and says of every requirement whether it holds and by how much, and where it does
//! not, which given is most to blame, in how many builds it fails and what would make it hold; as sentences for a person,
//! the same as on the page, or as JSON for a program.

use std::fmt::Write;

use benchleaf_core::summary::Summary;
use benchleaf_core::{
    Evaluator, Options,
    bill::{QUANTITIES, total},
    report::Report,
    results::{BenchDay, Build, BuildSet, Evaluation, NoteState, Status, StepSet, Value, Verdict, duration},
    units::{self, ValueType},
};

use benchleaf_page::{Explanation, cheapest, explanations, labels};
use benchleaf_publish::{
    failure::Failure,
    folder::Folder,
    inputs::{self, Worksheet},
    text,
};
use benchleaf_words::{Word, Words, count, key, say};

use crate::{
    args::{CheckRequest, EvaluationOptions},
    batch::{self, Labelled},
    drawing::Look,
    message::{draw_problems, harmless},
    outcome::Outcome,
    rust::Rust,
    said::{self, Heads},
    terminal::Terminal,
};

/// Run `benchleaf check`.
pub(crate) fn check(request: &CheckRequest, options: EvaluationOptions, terminal: &mut Terminal<'_>) -> Outcome {
    let rust = match Rust::of_call(&options, terminal.progress()) {
        Ok(rust) => rust,
        Err(failure) => return terminal.fail(&failure),
    };
    let inputs = inputs::gather(&request.paths);
    let mut outcome = Outcome::Fine;
    for failure in &inputs.failures {
        outcome = outcome.and(terminal.fail(failure));
    }
    let options = options.of_engine();
    let format = if request.json { Format::Json } else { Format::Words(terminal.look()) };
    let words = terminal.words();
    let task = Labelled {
        name: key::PROGRESS_CHECKING,
        words,
        item: |sheet: &Worksheet| harmless(&sheet.name()).into_owned(),
    };
    let examined = |sheet: &Worksheet| examine(sheet, &options, format, &rust);
    let results = batch::each_worksheet(&inputs.worksheets, &task, |sheet| &sheet.path, terminal.progress(), examined);
    let mut sum = Summary::default();
    for (worksheet, result) in inputs.worksheets.iter().zip(results) {
        match result {
            Ok(finding) => {
                terminal.warn(&finding.messages);
                terminal.say(&finding.answer);
                sum += finding.counts;
            }
            Err(failure) => {
                if request.json && matches!(failure, Failure::Fault { .. }) {
                    terminal.say(&fault_as_json(&worksheet.name(), &failure));
                }
                outcome = outcome.and(terminal.fail(&failure));
            }
        }
    }
    if !request.json && inputs.worksheets.len() > 1 {
        let worksheets = count!(words, SUM_WORKSHEETS, inputs.worksheets.len(), n = inputs.worksheets.len());
        terminal.say(&format!("{worksheets}: {}\n", said::summary(words, sum)));
    }
    outcome.and(verdict(sum, request.strict))
}

#[derive(Clone, Copy)]
enum Format {
    Words(Look),
    Json,
}

/// What is said of a worksheet.
struct Examined {
    counts: Summary,
    answer: String,
    messages: String,
}

fn examine(worksheet: &Worksheet, options: &Options, format: Format, rust: &Rust) -> Result<Examined, Failure> {
    let source = text::read(&worksheet.path)?;
    let blocks = rust.blocks_of(&worksheet.path);
    let evaluation = Evaluator::with(options).host(&Folder::of(&worksheet.path, &blocks)).evaluate(&source);
    let counts = Summary::of(&evaluation);
    let name = worksheet.name();
    Ok(match format {
        Format::Json => {
            let object = serde_json::to_string(&Report::new(&name, &evaluation, &source));
            let answer = object.map_err(|cause| Failure::Json { cause })? + "\n";
            Examined { counts, answer, messages: String::new() }
        }
        Format::Words(look) => Examined {
            counts,
            answer: Lines::new(look.words, &evaluation, &source).all(&name, counts),
            messages: draw_problems(&name, &source, &evaluation, look),
        },
    })
}

/// The line of a worksheet that brought up a fault of the program: a report without results.
fn fault_as_json(name: &str, failure: &Failure) -> String {
    let nothing = Evaluator::default().evaluate("");
    let mut report = serde_json::json!(Report::new(name, &nothing, ""));
    report["problems"] = serde_json::json!([{
        "severity": "error",
        "code": "E-fault",
        "line": 1,
        "column": 1,
        "message": failure.to_string(),
        "help": null,
    }]);
    report.to_string() + "\n"
}

fn verdict(sum: Summary, strict: bool) -> Outcome {
    if sum.errors > 0 {
        Outcome::WorksheetError
    } else if sum.broken > 0 || (strict && sum.at_risk > 0) {
        Outcome::RequirementBroken
    } else {
        Outcome::Fine
    }
}

/// The lines on one worksheet.
struct Lines<'a> {
    words: Words<'a>,
    heads: Heads,
    evaluation: &'a Evaluation,
    source: &'a str,
    text: String,
}

impl<'a> Lines<'a> {
    fn new(words: Words<'a>, evaluation: &'a Evaluation, source: &'a str) -> Self {
        Self { words, heads: Heads::of(words, &HEADS), evaluation, source, text: String::new() }
    }

    fn all(mut self, name: &str, counts: Summary) -> String {
        let evaluation = self.evaluation;
        let _ = writeln!(self.text, "{}: {}", harmless(name), said::summary(self.words, counts));
        for (keep, explanation) in evaluation.keeps.iter().zip(explanations(self.words, evaluation, self.source)) {
            self.keep(keep, &explanation);
        }
        for note in evaluation.notes.iter().filter(|note| note.shown) {
            let said = self.cause(note);
            self.line(said::signal(note.signal), note.span.start, &said);
        }
        for log in &evaluation.benches {
            let Some(value) = evaluation.values.get(log.value) else { continue };
            for day in &log.days {
                let said = self.read(value, day);
                self.line(key::CHECK_LINES_BENCH, log.span.start, &said);
            }
        }
        evaluation.steps.iter().for_each(|set| self.steps(set));
        evaluation.builds.iter().for_each(|set| self.builds(set));
        self.text
    }

    /// A line with its head, and the line of the worksheet that it is about.
    fn line(&mut self, head: Word<0>, at: usize, said: &str) {
        let (head, line) = (self.heads.head(self.words.text(head)), self.place(at));
        let _ = writeln!(self.text, "{head}{line}: {said}");
    }

    /// `line 12`.
    fn place(&self, at: usize) -> String {
        say!(self.words, HEAD_LINE, n = self.evaluation.lines.line(at))
    }

    fn keep(&mut self, keep: &Verdict, explanation: &Explanation) {
        let mut said = self.requirement(keep);
        if let Some(room) = &explanation.room {
            let _ = write!(said, "; {room}");
        }
        match (keep.status, &keep.blame) {
            (Status::Holds, Some(blame)) => {
                said = say!(self.words, CHECK_LINES_COSTS_MOST, line = said, given = harmless(blame));
            }
            (Status::Holds, None) => {}
            (Status::AtRisk | Status::Broken, _) => {
                let _ = write!(said, "\n{}{}", self.heads.indent(), harmless(&explanation.sentences));
            }
        }
        self.line(said::status(keep.status), keep.span.start, &said);
    }

    /// Each step with what it takes and places, and the ranges of its test points.
    fn steps(&mut self, set: &StepSet) {
        for step in &set.steps {
            let mut parts = vec![harmless(&step.title).into_owned()];
            parts.extend(step.seconds.map(duration));
            let places = step.places.join(", ");
            parts.extend((!places.is_empty()).then(|| say!(self.words, CHECK_LINES_PLACES, places = places)));
            parts.extend((!step.power.is_empty()).then(|| self.words.text(key::CHECK_LINES_POWER).to_owned()));
            self.line(key::CHECK_LINES_STEP, step.span.start, &parts.join("; "));
            for point in &step.checks {
                let Some(value) = self.evaluation.values.get(point.value) else { continue };
                let (at, range) = (harmless(&point.at), self.ranged(value));
                let said = say!(self.words, CHECK_LINES_MEASURED, name = value.name, at = at, value = range);
                let _ = writeln!(self.text, "{}{said}", self.heads.indent());
            }
        }
    }

    /// What is compared, a row each, with a column for each build.
    fn builds(&mut self, set: &BuildSet) {
        let (head, line) = (self.heads.head(self.words.text(key::CHECK_LINES_BUILDS)), self.place(set.span.start));
        let _ = writeln!(self.text, "{head}{line}:");
        let words = self.words;
        let column = |head: &str, cells: &dyn Fn(&Build) -> String| {
            let row: Vec<String> = set.builds.iter().map(cells).collect();
            let differs = row.windows(2).any(|two| two[0] != two[1]);
            (format!("{}{head}", if differs { "≠ " } else { "  " }), row)
        };
        let mut rows = vec![("  ".to_owned(), set.builds.iter().map(|build| build.name.clone()).collect())];
        let Some(first) = set.builds.first() else { return };
        for (at, value) in first.values.iter().enumerate() {
            let cell = |build: &Build| build.values.get(at).map(|value| self.ranged(value)).unwrap_or_default();
            rows.push(column(value.label.as_deref().unwrap_or(&value.name), &cell));
        }
        for (at, keep) in first.keeps.iter().enumerate() {
            let status = |keep: &Verdict| words.text(said::status(keep.status));
            let cell = |build: &Build| build.keeps.get(at).map_or("", status).to_owned();
            let requirement = words.text(key::CHECK_LINES_REQUIREMENT);
            rows.push(column(keep.label.as_deref().unwrap_or(requirement), &cell));
        }
        let priced = set.builds.iter().any(|build| !total(&build.parts, 1).is_empty());
        for quantity in QUANTITIES.into_iter().filter(|_| priced) {
            let cell = |build: &Build| said::amounts(words, total(&build.parts, quantity));
            rows.push(column(&say!(words, CHECK_LINES_COST_OF, n = quantity), &cell));
        }
        let widths: Vec<usize> = (0..=set.builds.len())
            .map(|at| {
                rows.iter().map(|(head, row)| at.checked_sub(1).map_or(head, |at| &row[at]).chars().count()).max()
            })
            .map(Option::unwrap_or_default)
            .collect();
        let indent = self.heads.indent();
        for (head, row) in &rows {
            let cells = std::iter::once(head).chain(row).zip(&widths);
            let cells: Vec<String> = cells.map(|(cell, width)| format!("{cell:width$}")).collect();
            let _ = writeln!(self.text, "{indent}{}", harmless(cells.join("  ").trim_end()));
        }
        if let Some(cheapest) = cheapest(words, set) {
            let _ = writeln!(self.text, "{indent}  {}", harmless(&cheapest.replace('\u{202f}', " ")));
        }
    }

    /// `22.0 s (15.9 s to 36.4 s)`.
    fn ranged(&self, value: &Value) -> String {
        let shown = value.shown_in(self.words);
        match value.shown_range_in(self.words) {
            Some(range) => format!("{shown} ({range})"),
            None => shown,
        }
    }

    /// `t_on on 2026-11-25: mean 23.1 s of 3 readings; agrees with the prediction, E_n −0.23`.
    fn read(&self, value: &Value, day: &BenchDay) -> String {
        let words = self.words;
        let verdict = match day.against.map(|against| (against.agrees, against.e_n)) {
            None => words.text(key::BENCH_NOT_JUDGED).to_owned(),
            Some((agrees, e_n)) => {
                let verb = if agrees { key::CHECK_LINES_AGREES } else { key::CHECK_LINES_DISAGREES };
                let e_n = e_n.map_or_else(String::new, |e_n| format!(", E_n {}", units::number(e_n, 2)));
                format!("{}{e_n}", words.text(verb))
            }
        };
        let mean = value.unit.show(day.mean, value.digits.max(4));
        let readings = count!(words, BENCH_READINGS, day.n, n = day.n);
        let (name, date) = (&value.name, day.day);
        say!(words, CHECK_LINES_DAY, name = name, day = date, mean = mean, readings = readings, verdict = verdict)
    }

    /// `long enough to mist: 22.0 s (15.9 s to 36.4 s), wanted 15.0 s to 30.0 s`.
    fn requirement(&self, keep: &Verdict) -> String {
        let words = self.words;
        let what = harmless(keep.label.as_deref().unwrap_or_else(|| first_line(keep.span.text(self.source))));
        if keep.value_type == ValueType::Condition {
            return match keep.nominal {
                0.0 => say!(words, CHECK_LINES_FALSE, what = what),
                _ => say!(words, CHECK_LINES_TRUE, what = what),
            };
        }
        let show = |si: f64| keep.unit.show(si, keep.digits);
        let mut line = format!("{what}: {}", show(keep.nominal));
        if let Some(worst) = &keep.worst {
            let end = |si: f64| match si.is_infinite() {
                true => words.text(key::FORMAT_NO_END).to_owned(),
                false => show(si),
            };
            let _ = write!(line, " ({})", say!(words, FORMAT_RANGE, low = end(worst.low), high = end(worst.high)));
        }
        match (keep.lower.map(|lower| show(lower.nominal)), keep.upper.map(|upper| show(upper.nominal))) {
            (Some(low), Some(high)) => say!(words, CHECK_LINES_BETWEEN, line = line, low = low, high = high),
            (Some(low), None) => say!(words, CHECK_LINES_AT_LEAST, line = line, low = low),
            (None, Some(high)) => say!(words, CHECK_LINES_AT_MOST, line = line, high = high),
            (None, None) => line,
        }
    }

    /// Why a note is shown.
    fn cause(&self, note: &NoteState) -> String {
        if !note.proven {
            return self.words.text(key::CHECK_LINES_NOTE_NOT_PROVEN).to_owned();
        }
        if note.met_by.is_empty() {
            return self.words.text(key::CHECK_LINES_NOTE_SHOWN).to_owned();
        }
        let met = note.met_by.iter().map(|(name, value)| match self.evaluation.label(name) {
            Some(label) => format!("{}, `{name}` = {value}", labels::inside(label)),
            None => format!("`{name}` = {value}"),
        });
        say!(self.words, CHECK_LINES_NOTE_MET, settings = harmless(&met.collect::<Vec<_>>().join("; ")))
    }
}

fn first_line(text: &str) -> &str {
    text.lines().next().unwrap_or_default()
}

/// What lines begin with.
const HEADS: [Word<0>; 10] = [
    key::VERDICT_HOLDS,
    key::VERDICT_AT_RISK,
    key::VERDICT_BROKEN,
    key::CHECK_LINES_DANGER,
    key::CHECK_LINES_WARNING,
    key::CHECK_LINES_CAUTION,
    key::CHECK_LINES_NOTICE,
    key::CHECK_LINES_BENCH,
    key::CHECK_LINES_STEP,
    key::CHECK_LINES_BUILDS,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_is_a_report_with_one_problem() {
        let failure = Failure::Fault { path: "a\"b.md".into() };
        let line = fault_as_json("a\"b.md", &failure);
        assert!(line.ends_with('\n') && line.trim_end().lines().count() == 1, "{line}");
        let report: serde_json::Value = serde_json::from_str(&line).unwrap_or_default();
        assert_eq!(report["worksheet"], "a\"b.md");
        assert_eq!(report["problems"][0]["code"], "E-fault");
        assert_eq!(report["problems"].as_array().map(Vec::len), Some(1));
        for list in ["values", "keeps", "cautions", "exercises"] {
            assert_eq!(report[list].as_array().map(Vec::len), Some(0), "{list}");
        }
    }
}
