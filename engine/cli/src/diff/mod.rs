//! `benchleaf diff`: what differs between two worksheets, two pages, or a page and a worksheet, old and new; both are
//! evaluated by this engine, so that what differs is the worksheets' doing.

mod changes;

use std::{fmt::Write, path::Path};

use benchleaf_core::{Evaluator, Options, host::Host, results::Evaluation, summary::Summary, units::number};
use benchleaf_page::percent;
use benchleaf_publish::{
    failure::{Failure, name},
    published, text,
};
use benchleaf_words::{Word, Words, count, key, say};
use serde::Serialize;

use self::changes::{BenchState, Change, Changes, KeepState, NoteShown, PartState, Side, ValueState};
use crate::{
    args::{DiffRequest, EvaluationOptions},
    message::harmless,
    outcome::Outcome,
    rust::Rust,
    said::{self, Heads},
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
    // What programs read is the same in every language.
    let words = if request.json { Words::ENGLISH } else { terminal.words() };
    let changes = Changes::between(&old.side(words), &new.side(words));
    let (old_name, new_name) = (name(&request.old), name(&request.new));
    if request.json {
        match serde_json::to_string(&Answer { old: &old_name, new: &new_name, changes: &changes }) {
            Ok(object) => terminal.say(&(object + "\n")),
            Err(cause) => return terminal.fail(&Failure::Json { cause }),
        }
    } else {
        terminal.say(&harmless(&in_words(words, &old_name, &new_name, &changes)));
    }
    let mut outcome = if changes.worse { Outcome::RequirementBroken } else { Outcome::Fine };
    for (name, side) in [(&old_name, &old), (&new_name, &new)] {
        let errors = Summary::of(&side.evaluation).errors;
        if errors > 0 {
            terminal.warn(&said::worksheet_errors(terminal.words(), &harmless(name), errors));
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
    fn side<'s>(&'s self, words: Words<'s>) -> Side<'s> {
        Side { evaluation: &self.evaluation, source: &self.source, words }
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

fn in_words(words: Words<'_>, old: &str, new: &str, changes: &Changes) -> String {
    if changes.is_empty() {
        return say!(words, DIFF_SAME, old = old, new = new) + "\n";
    }
    let things = changes.counted(words).join(", ");
    let differ = count!(words, DIFF_DIFFER, changes.count(), old = old, new = new, things = things);
    let mut lines = Lines { words, heads: Heads::of(words, &HEADS), text: differ + "\n" };
    let verdict = |change: &Change<KeepState>| if change.is_worse() { key::DIFF_WORSE } else { key::DIFF_VERDICT };
    for change in &changes.values {
        lines.add(key::DIFF_VALUE, change, value);
    }
    for change in &changes.keeps {
        lines.add(verdict(change), change, |state| keep(words, state));
    }
    for change in &changes.notes {
        lines.add(key::DIFF_NOTE, change, |state| note(words, state));
    }
    for change in &changes.bench {
        lines.add(key::DIFF_BENCH, change, |state| bench(words, state));
    }
    for change in &changes.parts {
        lines.add(key::DIFF_PART, change, |state| part(words, state));
    }
    for change in &changes.builds {
        lines.add(key::DIFF_BUILD, change, value);
    }
    for change in &changes.build_keeps {
        lines.add(verdict(change), change, |state| keep(words, state));
    }
    for change in &changes.cost {
        lines.add(key::DIFF_COST_OF, change, String::clone);
    }
    lines.text
}

struct Lines<'w> {
    words: Words<'w>,
    heads: Heads,
    text: String,
}

impl Lines<'_> {
    /// `  value    t_on: 22.0 s (16.7 s to 34.6 s) → 47.0 s (35.7 s to 73.9 s)`.
    fn add<S>(&mut self, head: Word<0>, change: &Change<S>, shown: impl Fn(&S) -> String) {
        let state = match (&change.old, &change.new) {
            (Some(old), Some(new)) => format!("{} → {}", shown(old), shown(new)),
            (None, Some(new)) => say!(self.words, DIFF_NEW, new = shown(new)),
            (Some(old), None) => say!(self.words, DIFF_GONE, old = shown(old)),
            (None, None) => return,
        };
        let _ = writeln!(self.text, "{}{}: {state}", self.heads.head(self.words.text(head)), change.name);
    }
}

fn value(state: &ValueState) -> String {
    match (&state.written, &state.range) {
        (Some(written), _) => written.clone(),
        (None, Some(range)) => format!("{} ({range})", state.shown),
        (None, None) => state.shown.clone(),
    }
}

fn keep(words: Words<'_>, state: &KeepState) -> String {
    let status = words.text(said::status(state.verdict));
    let per_cent = |margin: f64| percent(margin).replace('\u{202f}', " ");
    let finite = |margin: Option<f64>| margin.filter(|margin| margin.is_finite());
    let margin = match (finite(state.margin), finite(state.margin_worst)) {
        (Some(margin), Some(worst)) if margin != worst => {
            Some(say!(words, VERDICT_MARGIN_WORST, nominal = per_cent(margin), worst = per_cent(worst)))
        }
        (Some(margin), _) => Some(say!(words, VERDICT_MARGIN, nominal = per_cent(margin))),
        _ => None,
    };
    let text = margin.map_or_else(|| status.to_owned(), |margin| format!("{status} ({margin})"));
    if state.proven { text } else { say!(words, DIFF_NOT_PROVEN, verdict = text) }
}

/// `910 kΩ ± 5 %, 0.25 W, 0.03 EUR, 100+ 0.01 EUR, at R1`.
fn part(words: Words<'_>, state: &PartState) -> String {
    let price = |(from, price): &(u64, String)| if *from > 1 { format!("{from}+ {price}") } else { price.clone() };
    let said = state.value.iter().chain(&state.ratings).cloned().chain(state.prices.iter().map(price));
    let mut said: Vec<String> = said.chain(state.once.then(|| words.text(key::DIFF_ONCE).to_owned())).collect();
    said.extend(state.label.as_ref().map(|label| say!(words, BUILDS_QUOTED, name = label)));
    let places = state.designators.join(", ");
    said.extend((!places.is_empty()).then(|| say!(words, DIFF_AT, places = places)));
    said.join(", ")
}

fn note(words: Words<'_>, state: &NoteShown) -> String {
    if !state.shown {
        return words.text(key::DIFF_QUIET).to_owned();
    }
    let met: Vec<String> = state.met_by.iter().map(|(name, value)| format!("{name} = {value}")).collect();
    if met.is_empty() {
        words.text(key::DIFF_SHOWN).to_owned()
    } else {
        say!(words, DIFF_SHOWN_AT, settings = met.join(", "))
    }
}

fn bench(words: Words<'_>, state: &BenchState) -> String {
    let verdict = words.text(match state.agrees {
        Some(true) => key::BENCH_AGREES,
        Some(false) => key::DIFF_DISAGREES,
        None => key::BENCH_NOT_JUDGED,
    });
    match state.e_n {
        Some(e_n) => say!(words, DIFF_MEAN_E_N, mean = state.mean, e_n = number(e_n, 2), verdict = verdict),
        None => say!(words, DIFF_MEAN, mean = state.mean, verdict = verdict),
    }
}

/// What lines begin with.
const HEADS: [Word<0>; 8] = [
    key::DIFF_VALUE,
    key::DIFF_WORSE,
    key::DIFF_VERDICT,
    key::DIFF_NOTE,
    key::DIFF_BENCH,
    key::DIFF_PART,
    key::DIFF_BUILD,
    key::DIFF_COST_OF,
];
