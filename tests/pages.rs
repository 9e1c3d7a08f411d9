//! Published pages as a validator and a browser meet them: those of the demonstration worksheets, and of worksheets that
//! are wrong.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{fs, path::Path, process::Command};

use benchleaf::{Date, Drawing, LiveEngine, Outcome, Progress, RawHtml, Setting, Terminal, render_worksheet};
use benchleaf_core::{exercise::Marker, sheet::Worksheet};
use benchleaf_page::exercises::{Attempt, attempt};
use benchleaf_tests::outside::{node, tests};
use serde_json::json;
use tempfile::TempDir;

/// The HTML standard, as `html-validate` holds pages against it; a page for every message among them.
#[test]
#[ignore = "needs html-validate: run tests/run"]
fn pages_are_valid_html() {
    let site = site(&["../worksheets", "messages", "errors.md"]);
    let mut validator = node(Some("html-validate"));
    succeeds(validator.args(["--config", ".htmlvalidate.json", "--formatter", "text"]).arg(site.path()));
}

/// At several widths, light and dark and in print: nothing wrong that `axe` can find (WCAG 2.2 AA), nothing wider than
/// the window, nothing fetched, nothing said on the console.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn pages_stand_in_a_browser() {
    let site = site(&["../worksheets", "errors.md"]);
    succeeds(node(None).arg("look.js").arg(site.path()));
}

/// A learner's way through exercises, in a page with its engine.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn exercises_are_gone_through_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    let date = Date { year: 2026, month: 11, day: 25 };
    let setting = Setting {
        samples: Some(1),
        seed: None,
        threads: None,
        evaluated: date,
        raw_html: RawHtml::ShownAsText,
        engine: LiveEngine::Inside,
    };
    fs::write(folder.path().join("page.html"), render_worksheet(EXERCISES, "x", &setting).unwrap().html).unwrap();
    let worksheet = Worksheet::new(EXERCISES).0;
    let marker = Marker::new(&worksheet);
    let right = marker.expected(&marker.variant("pulse", Some("Ada")).unwrap()).unwrap().value();
    let answers = [
        ("twenty".to_owned(), "unreadable"),
        ("2,2 s".to_owned(), "decimal-comma"),
        ("22".to_owned(), "no-unit"),
        ("22 µF".to_owned(), "dimension"),
        (format!("{right:.3} ms"), "prefix"),
        (format!("{:.3} s", -right), "sign"),
        (format!("{:.3} s", right / 3f64.ln() * 2f64.ln()), "slip"),
        (format!("{:.3} s", right * 1.03), "close"),
        (format!("{:.3} s", right * 1.5), "wrong"),
        (format!("{right:.3} s"), "right"),
    ];
    let asked = Attempt { exercise: "pulse".to_owned(), learner: Some("Ada".to_owned()), ..Attempt::default() };
    let own = attempt(&worksheet, &asked).unwrap().inlines.remove(0).1;
    let number = own.split(['<', '>']).find(|part| part.ends_with("kΩ")).unwrap();
    let line = format!("Ada,pulse,{}", answers.last().unwrap().0);
    let scenario = json!({"answers": answers, "question": number, "line": line});
    fs::write(folder.path().join("scenario.json"), scenario.to_string()).unwrap();
    succeeds(node(None).arg("exercise.js").arg(folder.path()));
}

const EXERCISES: &str = "# Exercises\n\n```calc\nR_t = 910 kΩ ± 5 % \"timing resistor\"\nt_on [s] = R_t * 22 µF * ln(3) \"pulse\"\n```\n\n\
    ```exercise pulse\nask \"How long with {R_t}?\"\nanswer [s] = t_on within 2 %\n\
    slip \"used ln 2 for ln 3\" = R_t * 22 µF * ln(2)\nhint \"One.\"\nhint \"Two.\"\npoints 2\n\
    vary R_t in 100 kΩ … 820 kΩ E24\n```\n\n\
    ```exercise current\nask \"What current flows at first, from 12 V?\"\nanswer = 12 V / R_t\n```\n";

fn site(sources: &[&str]) -> TempDir {
    let site = tempfile::tempdir().unwrap();
    for source in sources.iter().map(|path| tests().join(path).into_os_string()) {
        let folder = site.path().join(Path::new(&source).file_stem().unwrap());
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let arguments = ["benchleaf".into(), "render".into(), source, "-o".into(), folder.into_os_string()];
        let outcome = benchleaf::run(arguments, &mut Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None));
        assert!(outcome <= Outcome::WorksheetError, "{}", String::from_utf8_lossy(&err));
    }
    site
}

fn succeeds(command: &mut Command) {
    let output = command.output().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    assert!(
        output.status.success(),
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}
