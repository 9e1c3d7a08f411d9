//! Published pages as a validator and a browser meet them: those of the demonstration worksheets, and of worksheets that
//! are wrong.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{fs, path::Path, process::Command};

use benchleaf::{Date, Drawing, Outcome, Progress, Setting, Terminal, render_worksheet};
use benchleaf_core::exercise::Marker;
use benchleaf_page::{
    PageOptions,
    exercises::{Attempt, GivesUp, attempt},
};
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

/// A learner's way through exercises, with what the engine replies to each attempt put in the engine's place.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn exercises_are_gone_through_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    let date = Date { year: 2026, month: 11, day: 25 };
    let setting = Setting { samples: Some(1), seed: None, threads: None, evaluated: date };
    fs::write(folder.path().join("page.html"), render_worksheet(EXERCISES, "x", &setting).unwrap().html).unwrap();
    fs::copy(tests().join("../templates/exercise.js"), folder.path().join("exercise.js")).unwrap();
    let marker = Marker::new(EXERCISES);
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
    let mut replies = serde_json::Map::new();
    let mut reply = |exercise: &str, learner: &str, answer: Option<&str>, gives_up: GivesUp| {
        let asked = Attempt {
            exercise: exercise.to_owned(),
            learner: Some(learner.to_owned()),
            answer: answer.map(str::to_owned),
            gives_up,
        };
        let reply = attempt(EXERCISES, &asked, &PageOptions::default()).unwrap();
        let key = json!([exercise, learner, answer, gives_up == GivesUp::Yes]).to_string();
        let said = reply.feedback;
        replies.insert(
            key,
            json!({
                "question": reply.question, "solution": reply.solution,
                "word": said.as_ref().map(|said| said.word), "message": said.as_ref().map(|said| &said.message),
                "points": said.as_ref().map(|said| said.points), "of": said.as_ref().map(|said| said.of),
            }),
        );
        reply.question
    };
    let plain = reply("pulse", "", None, GivesUp::No);
    let own = reply("pulse", "Ada", None, GivesUp::No);
    assert_ne!(plain, own);
    for (typed, word) in &answers {
        reply("pulse", "Ada", Some(typed), GivesUp::No);
        assert!(!word.is_empty());
    }
    reply("pulse", "Ada", Some("-5 s"), GivesUp::No);
    reply("current", "Ada", None, GivesUp::Yes);
    reply("current", "", None, GivesUp::No);
    let number = own.split(['<', '>']).find(|part| part.ends_with("kΩ")).unwrap();
    let line = format!("Ada,pulse,{}", answers.last().unwrap().0);
    let scenario = json!({"replies": replies, "answers": answers, "question": number, "line": line});
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
