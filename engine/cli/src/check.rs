//! `benchleaf check`: evaluates worksheets and says of every requirement whether it holds and by how much, and where it does
//! not, which given is most to blame, in how many builds it fails and what would make it hold; as sentences for a person,
//! the same as on the page, or as JSON for a program.

use std::fmt::Write;

use benchleaf_core::summary::{Summary, counted};
use benchleaf_core::{
    Evaluator, Options,
    bill::{Amount, QUANTITIES, total},
    report::Report,
    results::{BenchDay, Build, BuildSet, Evaluation, NoteState, Status, StepSet, Value, Verdict, duration},
    units::{self, ValueType},
};

use benchleaf_page::{cheapest, explanations, labels};
use benchleaf_publish::{
    failure::Failure,
    folder::Folder,
    inputs::{self, Worksheet},
    text,
};
use benchleaf_words::Words;

use crate::{
    args::{CheckRequest, EvaluationOptions},
    batch::{self, Labelled},
    drawing::Drawing,
    message::{draw_problems, harmless},
    outcome::Outcome,
    rust::Rust,
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
    let format = if request.json { Format::Json } else { Format::Words(terminal.drawing()) };
    let task = Labelled { name: "Checking", item: |sheet: &Worksheet| harmless(&sheet.name()).into_owned() };
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
        terminal.say(&format!("{}: {sum}\n", counted(inputs.worksheets.len(), "worksheet")));
    }
    outcome.and(verdict(sum, request.strict))
}

#[derive(Clone, Copy)]
enum Format {
    Words(Drawing),
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
        Format::Words(drawing) => Examined {
            counts,
            answer: in_words(&name, &source, &evaluation, counts),
            messages: draw_problems(&name, &source, &evaluation, drawing),
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

fn in_words(name: &str, source: &str, evaluation: &Evaluation, counts: Summary) -> String {
    let mut text = format!("{}: {counts}\n", harmless(name));
    for (keep, explanation) in evaluation.keeps.iter().zip(explanations(evaluation, source)) {
        let line = evaluation.lines.line(keep.span.start);
        let _ = write!(text, "  {:<8} line {line}: {}", in_word(keep.status), requirement(keep, source));
        if let Some(room) = &explanation.room {
            let _ = write!(text, "; {room}");
        }
        match (keep.status, &keep.blame) {
            (Status::Holds, Some(blame)) => {
                let _ = writeln!(text, "; `{}` costs most", harmless(blame));
            }
            (Status::Holds, None) => text.push('\n'),
            (Status::AtRisk | Status::Broken, _) => {
                let _ = writeln!(text, "\n{:11}{}", "", harmless(&explanation.sentences));
            }
        }
    }
    for note in evaluation.notes.iter().filter(|note| note.shown) {
        let line = evaluation.lines.line(note.span.start);
        let _ = writeln!(text, "  {:<8} line {line}: {}", note.signal.word(), cause(evaluation, note));
    }
    for log in &evaluation.benches {
        let Some(value) = evaluation.values.get(log.value) else { continue };
        let line = evaluation.lines.line(log.span.start);
        for day in &log.days {
            let _ = writeln!(text, "  {:<8} line {line}: {} on {}: {}", "bench", value.name, day.day, read(value, day));
        }
    }
    evaluation.steps.iter().for_each(|set| steps(&mut text, evaluation, set));
    evaluation.builds.iter().for_each(|set| builds(&mut text, evaluation, set));
    text
}

/// Each step with what it takes and places, and the ranges of its test points.
fn steps(text: &mut String, evaluation: &Evaluation, set: &StepSet) {
    for step in &set.steps {
        let line = evaluation.lines.line(step.span.start);
        let mut parts = vec![harmless(&step.title).into_owned()];
        parts.extend(step.seconds.map(duration));
        parts.extend((!step.places.is_empty()).then(|| format!("places {}", step.places.join(", "))));
        parts.extend((!step.power.is_empty()).then(|| "applies power".to_owned()));
        let _ = writeln!(text, "  {:<8} line {line}: {}", "step", parts.join("; "));
        for point in &step.checks {
            let Some(value) = evaluation.values.get(point.value) else { continue };
            let _ = writeln!(text, "{:11}{} at {}: {}", "", value.name, harmless(&point.at), ranged(value));
        }
    }
}

/// What is compared, a row each, with a column for each build.
fn builds(text: &mut String, evaluation: &Evaluation, set: &BuildSet) {
    let line = evaluation.lines.line(set.span.start);
    let _ = writeln!(text, "  {:<8} line {line}:", "builds");
    let column = |head: &str, cells: &dyn Fn(&Build) -> String| {
        let row: Vec<String> = set.builds.iter().map(cells).collect();
        let differs = row.windows(2).any(|two| two[0] != two[1]);
        (format!("{}{head}", if differs { "≠ " } else { "  " }), row)
    };
    let mut rows = vec![("  ".to_owned(), set.builds.iter().map(|build| build.name.clone()).collect())];
    let Some(first) = set.builds.first() else { return };
    for (at, value) in first.values.iter().enumerate() {
        let cell = |build: &Build| build.values.get(at).map(ranged).unwrap_or_default();
        rows.push(column(value.label.as_deref().unwrap_or(&value.name), &cell));
    }
    for (at, keep) in first.keeps.iter().enumerate() {
        let cell = |build: &Build| build.keeps.get(at).map_or("", |keep| in_word(keep.status)).to_owned();
        rows.push(column(keep.label.as_deref().unwrap_or("requirement"), &cell));
    }
    for quantity in QUANTITIES.into_iter().filter(|_| set.builds.iter().any(|build| !total(&build.parts, 1).is_empty()))
    {
        let cell = |build: &Build| {
            let amounts: Vec<String> = total(&build.parts, quantity).into_iter().map(Amount::shown).collect();
            amounts.join(" and ")
        };
        rows.push(column(&format!("cost of {quantity}"), &cell));
    }
    let widths: Vec<usize> = (0..=set.builds.len())
        .map(|at| rows.iter().map(|(head, row)| at.checked_sub(1).map_or(head, |at| &row[at]).chars().count()).max())
        .map(Option::unwrap_or_default)
        .collect();
    for (head, row) in &rows {
        let cells = std::iter::once(head).chain(row).zip(&widths);
        let cells: Vec<String> = cells.map(|(cell, width)| format!("{cell:width$}")).collect();
        let _ = writeln!(text, "{:11}{}", "", harmless(cells.join("  ").trim_end()));
    }
    if let Some(cheapest) = cheapest(Words::ENGLISH, set) {
        let _ = writeln!(text, "{:13}{}", "", harmless(&cheapest.replace('\u{202f}', " ")));
    }
}

/// `22.0 s (15.9 s to 36.4 s)`.
fn ranged(value: &Value) -> String {
    match value.shown_range() {
        Some(range) => format!("{} ({range})", value.shown()),
        None => value.shown(),
    }
}

/// `mean 23.1 s of 3 readings; agrees with the prediction, E_n −0.23`.
fn read(value: &Value, day: &BenchDay) -> String {
    let mean = value.unit.show(day.mean, value.digits.max(4));
    let said = match day.against.map(|against| (against.agrees, against.e_n)) {
        None => "not judged".to_owned(),
        Some((agrees, e_n)) => {
            let verb = if agrees { "agrees" } else { "does not agree" };
            let e_n = e_n.map_or_else(String::new, |e_n| format!(", E_n {}", units::number(e_n, 2)));
            format!("{verb} with the prediction{e_n}")
        }
    };
    format!("mean {mean} of {}; {said}", counted(day.n, "reading"))
}

/// `long enough to mist: 22.0 s (15.9 s to 36.4 s), wanted 15.0 s to 30.0 s`.
fn requirement(keep: &Verdict, source: &str) -> String {
    let what = keep.label.as_deref().unwrap_or_else(|| first_line(keep.span.text(source)));
    if keep.value_type == ValueType::Condition {
        return format!("{}: {}, wanted true", harmless(what), if keep.nominal == 0.0 { "false" } else { "true" });
    }
    let show = |si: f64| keep.unit.show(si, keep.digits);
    let mut text = format!("{}: {}", harmless(what), show(keep.nominal));
    if let Some(worst) = &keep.worst {
        let end = |si: f64| if si.is_infinite() { "no end".to_owned() } else { show(si) };
        let _ = write!(text, " ({} to {})", end(worst.low), end(worst.high));
    }
    let _ = match (keep.lower, keep.upper) {
        (Some(lower), Some(upper)) => write!(text, ", wanted {} to {}", show(lower.nominal), show(upper.nominal)),
        (Some(lower), None) => write!(text, ", wanted at least {}", show(lower.nominal)),
        (None, Some(upper)) => write!(text, ", wanted at most {}", show(upper.nominal)),
        (None, None) => Ok(()),
    };
    text
}

/// Why a note is shown.
fn cause(evaluation: &Evaluation, note: &NoteState) -> String {
    if !note.proven {
        return "shown, because nothing proves that its condition is never met; no build was found that meets it"
            .to_owned();
    }
    if note.met_by.is_empty() {
        return "shown".to_owned();
    }
    let label = |name: &str| evaluation.label(name);
    let met = note.met_by.iter().map(|(name, value)| match label(name) {
        Some(label) => format!("{}, `{name}` = {value}", labels::inside(label)),
        None => format!("`{name}` = {value}"),
    });
    format!("shown, because at worst: {}", harmless(&met.collect::<Vec<_>>().join("; ")))
}

/// A verdict as a person reads it.
fn in_word(status: Status) -> &'static str {
    match status {
        Status::AtRisk => "at risk",
        Status::Holds | Status::Broken => status.word(),
    }
}

fn first_line(text: &str) -> &str {
    text.lines().next().unwrap_or_default()
}

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
