//! `benchleaf diff`: what differs between two worksheets, two pages, or a page and a worksheet, old and new; both are
//! evaluated by this engine, so that what differs is the worksheets' doing.

mod changes;

use std::{fmt::Write, path::Path};

use benchleaf_core::{
    Evaluator, Options,
    host::Host,
    results::Evaluation,
    summary::{Summary, counted},
    units::number,
};
use benchleaf_publish::{
    failure::{Failure, name},
    published, text,
};
use serde::Serialize;

use self::changes::{BenchState, Change, Changes, KeepState, NoteShown, PartState, Side, ValueState};
use crate::{
    args::{DiffRequest, EvaluationOptions},
    message::harmless,
    outcome::Outcome,
    rust::Rust,
    terminal::Terminal,
    verify::Carrying,
};

/// Run `benchleaf diff`.
pub(crate) fn diff(request: &DiffRequest, options: EvaluationOptions, terminal: &mut Terminal<'_>) -> Outcome {
    let rust = match Rust::of_call(&options, terminal.progress()) {
        Ok(rust) => rust,
        Err(failure) => return terminal.fail(&failure),
    };
    let read = |path: &Path| evaluated(path, &options, &rust);
    let (old, new) = match (read(&request.old), read(&request.new)) {
        (Ok(old), Ok(new)) => (old, new),
        (old, new) => {
            let failures = [old.err(), new.err()].into_iter().flatten();
            return failures.fold(Outcome::Failed, |outcome, failure| outcome.and(terminal.fail(&failure)));
        }
    };
    let changes = Changes::between(&old.side(), &new.side());
    let (old_name, new_name) = (name(&request.old), name(&request.new));
    if request.json {
        match serde_json::to_string(&Answer { old: &old_name, new: &new_name, changes: &changes }) {
            Ok(object) => terminal.say(&(object + "\n")),
            Err(cause) => return terminal.fail(&Failure::Json { cause }),
        }
    } else {
        terminal.say(&harmless(&in_words(&old_name, &new_name, &changes)));
    }
    let mut outcome = if changes.worse { Outcome::RequirementBroken } else { Outcome::Fine };
    for (name, side) in [(&old_name, &old), (&new_name, &new)] {
        let errors = Summary::of(&side.evaluation).errors;
        if errors > 0 {
            terminal.warn(&format!("{}: the worksheet holds {}\n", harmless(name), counted(errors, "error")));
            outcome = outcome.and(Outcome::WorksheetError);
        }
    }
    outcome
}

/// What `--json` prints.
#[derive(Serialize)]
struct Answer<'a> {
    old: &'a str,
    new: &'a str,
    #[serde(flatten)]
    changes: &'a Changes,
}

/// A worksheet, evaluated.
struct Evaluated {
    source: String,
    evaluation: Evaluation,
}

impl Evaluated {
    fn side(&self) -> Side<'_> {
        Side { evaluation: &self.evaluation, source: &self.source }
    }
}

/// A worksheet, or the one that a page carries, with the page's setting.
fn evaluated(path: &Path, options: &EvaluationOptions, rust: &Rust) -> Result<Evaluated, Failure> {
    let evaluate = |source: String, options: Options, host: &dyn Host| {
        let evaluation = Evaluator::with(&options).host(host).evaluate(&source);
        Evaluated { source, evaluation }
    };
    let blocks = rust.blocks_of(path);
    if path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("md")) {
        let own = options.of_engine();
        return Ok(evaluate(text::read(path)?, own, &blocks));
    }
    let page = published::read(path)?;
    let made = Options {
        samples: options.samples.or(page.setting.samples),
        seed: options.seed.or(page.setting.seed),
        ..Options::default()
    };
    let host = Carrying::new(&page, &blocks);
    Ok(evaluate(page.source.clone(), made, &host))
}

fn in_words(old: &str, new: &str, changes: &Changes) -> String {
    let mut text = format!("from {old} to {new}: ");
    if changes.is_empty() {
        text.push_str("nothing differs\n");
        return text;
    }
    let counts = changes.counts();
    let shown: Vec<String> =
        counts.iter().filter(|count| count.0 > 0).map(|(count, thing)| plural(*count, thing)).collect();
    let _ = writeln!(
        text,
        "{} {}",
        shown.join(", "),
        if matches!(counts.iter().map(|count| count.0).sum::<usize>(), 1) { "differs" } else { "differ" }
    );
    for change in &changes.values {
        line(&mut text, "value", change, value);
    }
    for change in &changes.keeps {
        line(&mut text, if change.is_worse() { "worse" } else { "verdict" }, change, keep);
    }
    for change in &changes.notes {
        line(&mut text, "note", change, note);
    }
    for change in &changes.bench {
        line(&mut text, "bench", change, bench);
    }
    for change in &changes.parts {
        line(&mut text, "part", change, part);
    }
    for change in &changes.builds {
        line(&mut text, "build", change, value);
    }
    for change in &changes.build_keeps {
        line(&mut text, if change.is_worse() { "worse" } else { "verdict" }, change, keep);
    }
    for change in &changes.cost {
        line(&mut text, "cost of", change, String::clone);
    }
    text
}

/// `2 days of readings`: the first word is what is counted.
fn plural(count: usize, thing: &str) -> String {
    match thing.split_once(' ') {
        Some((first, rest)) if rest.starts_with("of ") => format!("{} {rest}", counted(count, first)),
        _ => counted(count, thing),
    }
}

/// `  value    t_on: 22.0 s (16.7 s to 34.6 s) → 47.0 s (35.7 s to 73.9 s)`.
fn line<S>(text: &mut String, word: &str, change: &Change<S>, shown: fn(&S) -> String) {
    let state = match (&change.old, &change.new) {
        (Some(old), Some(new)) => format!("{} → {}", shown(old), shown(new)),
        (None, Some(new)) => format!("new, {}", shown(new)),
        (Some(old), None) => format!("gone, was {}", shown(old)),
        (None, None) => return,
    };
    let _ = writeln!(text, "  {word:<8} {}: {state}", change.name);
}

fn value(state: &ValueState) -> String {
    match (&state.written, &state.range) {
        (Some(written), _) => written.clone(),
        (None, Some(range)) => format!("{} ({range})", state.shown),
        (None, None) => state.shown.clone(),
    }
}

fn keep(state: &KeepState) -> String {
    let status = state.status.replace('-', " ");
    let per_cent = |margin: f64| format!("{} %", number(margin * 100.0, 2));
    let text = match (
        state.margin.filter(|margin| margin.is_finite()),
        state.margin_worst.filter(|margin| margin.is_finite()),
    ) {
        (Some(margin), Some(worst)) if margin != worst => {
            format!("{status} (margin {}, at worst {})", per_cent(margin), per_cent(worst))
        }
        (Some(margin), _) => format!("{status} (margin {})", per_cent(margin)),
        _ => status,
    };
    if state.proven { text } else { format!("{text}, not proven") }
}

/// `910 kΩ ± 5 %, 0.25 W, 0.03 EUR, 100+ 0.01 EUR, at R1`.
fn part(state: &PartState) -> String {
    let price = |(from, price): &(u64, String)| if *from > 1 { format!("{from}+ {price}") } else { price.clone() };
    let said = state.value.iter().chain(&state.ratings).cloned().chain(state.prices.iter().map(price));
    let mut said: Vec<String> = said.chain(state.once.then(|| "once".to_owned())).collect();
    said.extend(state.label.as_ref().map(|label| format!("“{label}”")));
    said.extend((!state.designators.is_empty()).then(|| format!("at {}", state.designators.join(", "))));
    said.join(", ")
}

fn note(state: &NoteShown) -> String {
    if !state.shown {
        return "quiet".to_owned();
    }
    let met: Vec<String> = state.met_by.iter().map(|(name, value)| format!("{name} = {value}")).collect();
    if met.is_empty() { "shown".to_owned() } else { format!("shown at {}", met.join(", ")) }
}

fn bench(state: &BenchState) -> String {
    let agrees = match state.agrees {
        Some(true) => "agrees",
        Some(false) => "does not agree",
        None => "not judged",
    };
    match state.e_n {
        Some(e_n) => format!("mean {}, E_n {}, {agrees}", state.mean, number(e_n, 2)),
        None => format!("mean {}, {agrees}", state.mean),
    }
}
