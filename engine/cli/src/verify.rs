//! `benchleaf verify`: evaluates the worksheet that a page carries once more, sets it as the page was set, and compares
//! everything with a figure in it, number by number in reading order, with the verdicts and the drawings between them.

use std::path::Path;

use benchleaf_core::{
    outside::RustBlocks,
    problem::Code,
    summary::{Summary, counted},
};
use benchleaf_page::RawHtml;
use scraper::{ElementRef, Html, Node, Selector};
use similar::{Algorithm, DiffOp, capture_diff_slices};

use crate::{
    args::{EvaluationOptions, VerifyRequest},
    date::Date,
    failure::{Failure, name},
    live::LiveEngine,
    message::harmless,
    outcome::Outcome,
    page::{Setting, render_worksheet_with},
    published::{self, Published},
    rust::Rust,
    terminal::Terminal,
};

/// Run `benchleaf verify`.
pub(crate) fn verify(request: &VerifyRequest, options: &EvaluationOptions, terminal: &mut Terminal<'_>) -> Outcome {
    let rust = match Rust::of_call(options, terminal.progress()) {
        Ok(rust) => rust,
        Err(failure) => return terminal.fail(&failure),
    };
    request.pages.iter().fold(Outcome::Fine, |outcome, path| outcome.and(one(path, &rust, terminal)))
}

fn one(path: &Path, rust: &Rust, terminal: &mut Terminal<'_>) -> Outcome {
    let finding = match published::read(path).and_then(|page| compare(&page, &rust.blocks_of(path))) {
        Ok(finding) => finding,
        Err(failure) => return terminal.fail(&failure),
    };
    let name = name(path);
    let name = harmless(&name);
    let Finding { compared, differences, engine, tally, left_out } = finding;
    if engine != env!("CARGO_PKG_VERSION") {
        let ours = env!("CARGO_PKG_VERSION");
        terminal.say(&format!("{name}: made by Benchleaf {}, verified by {ours}\n", harmless(&engine)));
    }
    // With a block left out there is a difference wherever something follows from it: one line says it all.
    let told = if left_out > 0 { &[] } else { differences.as_slice() };
    for Difference { place, page, now } in told {
        terminal.say(&format!(
            "{name}: {}: the page has {}, the worksheet comes to {}\n",
            harmless(place),
            harmless(page),
            harmless(now)
        ));
    }
    if left_out > 0 {
        let blocks = counted(left_out, "Rust block");
        terminal.say(&format!(
            "{name}: {blocks} not run, which --allow-rust permits: what follows from Rust cannot be verified\n"
        ));
    }
    let mut outcome = Outcome::Fine;
    if differences.is_empty() {
        terminal.say(&format!("{name}: all {} still hold\n", counted(compared, "figure")));
    } else {
        terminal.say(&format!("{name}: {}\n", counted(differences.len(), "difference")));
        outcome = Outcome::RequirementBroken;
    }
    if tally.errors > 0 {
        terminal.say(&format!("{name}: the worksheet holds {}\n", counted(tally.errors, "error")));
        outcome = outcome.and(Outcome::WorksheetError);
    }
    outcome
}

struct Finding {
    compared: usize,
    differences: Vec<Difference>,
    engine: String,
    tally: Summary,
    /// Rust blocks that were not run.
    left_out: usize,
}

struct Difference {
    place: String,
    page: String,
    now: String,
}

fn compare(page: &Published, rust: &dyn RustBlocks) -> Result<Finding, Failure> {
    let setting = Setting {
        samples: page.setting.samples,
        seed: page.setting.seed,
        threads: None,
        evaluated: Date::of_unix_seconds(0),
        raw_html: if page.setting.html { RawHtml::Cleaned } else { RawHtml::ShownAsText },
        engine: LiveEngine::LeftOut,
    };
    let rendered = render_worksheet_with(&page.source, "", &setting, rust)?;
    let (shown, now) = (figures(&page.document), figures(&Html::parse_document(&rendered.html)));
    Ok(Finding {
        compared: now.len(),
        differences: differences(&shown, &now),
        engine: page.setting.engine.clone(),
        tally: Summary::of(&rendered.evaluation),
        left_out: rendered.evaluation.problems.iter().filter(|problem| problem.code == Code::RustOff).count(),
    })
}

fn differences(shown: &[Figure], now: &[Figure]) -> Vec<Difference> {
    let texts = |figures: &[Figure]| figures.iter().map(|figure| figure.text.clone()).collect::<Vec<_>>();
    let mut found = Vec::new();
    for op in capture_diff_slices(Algorithm::Myers, &texts(shown), &texts(now)) {
        if matches!(op, DiffOp::Equal { .. }) {
            continue;
        }
        let (old, new) = (shown.get(op.old_range()).unwrap_or(&[]), now.get(op.new_range()).unwrap_or(&[]));
        for i in 0..old.len().max(new.len()) {
            let told =
                |figure: Option<&Figure>| figure.map_or_else(|| "nothing".to_owned(), |figure| figure.told.clone());
            let place = new.get(i).or(old.get(i)).map_or("", |figure| figure.place.as_str());
            found.push(Difference { place: place.to_owned(), page: told(old.get(i)), now: told(new.get(i)) });
        }
    }
    found
}

/// Something on a page that has a figure in it.
struct Figure {
    /// The part of the page, as a reader would name it.
    place: String,
    /// What is compared.
    text: String,
    /// What a reader is told.
    told: String,
}

/// Every figure of a page's head and body, in reading order.
fn figures(document: &Html) -> Vec<Figure> {
    let mut walk = Walk { figures: Vec::new(), heading: "the head".to_owned() };
    if let Ok(selector) = Selector::parse("header.masthead, main") {
        for part in document.select(&selector) {
            walk.element(part, None);
        }
    }
    walk.figures
}

struct Walk {
    figures: Vec<Figure>,
    heading: String,
}

impl Walk {
    fn element(&mut self, element: ElementRef<'_>, inside: Option<&str>) {
        let value = element.value();
        if value.attr("data-live").is_some() {
            return;
        }
        let own = value.attr("data-name").or_else(|| value.attr("id"));
        let inside = own.or(inside);
        if matches!(value.name(), "h2" | "h3" | "h4" | "h5" | "h6") {
            self.heading = element.text().collect::<String>().trim_end_matches('#').trim().to_owned();
        }
        if value.name() == "svg" {
            return self.drawing(element, inside);
        }
        for (attribute, what) in [("value", "exactly"), ("data-status", "verdict")] {
            if let Some(text) = value.attr(attribute) {
                self.add(inside, format!("{attribute}={text}"), format!("{what} {text}"));
            }
        }
        for child in element.children() {
            match child.value() {
                Node::Text(text) => {
                    for word in text.split_whitespace().filter(|word| has_figure(word)) {
                        self.add(inside, word.to_owned(), word.to_owned());
                    }
                }
                Node::Element(_) => {
                    if let Some(child) = ElementRef::wrap(child) {
                        self.element(child, inside);
                    }
                }
                _ => {}
            }
        }
    }

    /// A drawing is one figure, with all that it draws and writes.
    fn drawing(&mut self, svg: ElementRef<'_>, inside: Option<&str>) {
        let mut text = String::new();
        for node in svg.descendants() {
            match node.value() {
                Node::Element(element) => {
                    let mut attributes: Vec<(&str, &str)> = element.attrs().collect();
                    attributes.sort_unstable();
                    text.push_str(element.name());
                    for (name, value) in attributes {
                        text.extend([" ", name, "=", value]);
                    }
                }
                Node::Text(words) => text.push_str(words),
                _ => {}
            }
            text.push('\n');
        }
        self.add(inside, text, "another drawing".to_owned());
    }

    fn add(&mut self, inside: Option<&str>, text: String, told: String) {
        let place = match inside {
            Some(inside) => format!("{inside}, under “{}”", self.heading),
            None => format!("under “{}”", self.heading),
        };
        self.figures.push(Figure { place, text, told });
    }
}

fn has_figure(word: &str) -> bool {
    word.contains(|c: char| c.is_numeric() || c == '∞')
}
