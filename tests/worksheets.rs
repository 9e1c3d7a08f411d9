//! The demonstration worksheets keep what their list promises: the verdicts there are those that `check` gives.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fs;

use benchleaf::{Drawing, Outcome, Progress, Terminal, render_worksheet};
use benchleaf_core::{
    Evaluator, parallel,
    problem::{Code, Problem, Severity},
    results::Evaluation,
    summary::Summary,
};
use benchleaf_tests::{Beside, SETTING, outside::tests};

#[test]
fn the_verdicts_are_those_of_the_list() {
    let rows = list();
    assert_eq!(rows.len(), worksheets(), "worksheets/README.md lists every worksheet once");
    for (worksheet, promised) in rows {
        let evaluation = evaluate_file(&worksheet);
        // Here no Rust block is run; `engine/rust-blocks/tests` runs them.
        let problems = evaluation.problems.iter().filter(|problem| problem.severity() != Severity::Note);
        assert_eq!(problems.collect::<Vec<_>>(), Vec::<&Problem>::new(), "{worksheet}");
        let counts = Summary::of(&evaluation);
        let found = match (counts.holds, counts.at_risk, counts.broken) {
            (1.., 0, 0) => "all hold",
            (1.., 1, 0) => "one requirement at risk",
            (_, 2, 0) => "two requirements at risk",
            (_, _, 1..) => "broken",
            _ => "something else",
        };
        assert!(promised.starts_with(found), "{worksheet}: {found} ({counts:?}), but the list says: {promised}");
    }
}

#[test]
fn check_passes_the_sound_ones_and_refuses_the_unsafe_one() {
    for (worksheet, promised) in list() {
        let (outcome, err) = check(&worksheet);
        let wanted = if promised == "broken" { Outcome::RequirementBroken } else { Outcome::Fine };
        assert_eq!(outcome, wanted, "{worksheet}");
        let notes = evaluate_file(&worksheet).problems.iter().filter(|problem| problem.code == Code::RustOff).count();
        assert_eq!(err.matches("N-rust-off").count(), notes, "{worksheet}: {err}");
        assert!(err.is_empty() || notes > 0, "{worksheet}: {err}");
    }
    assert_eq!(check("").0.status(), 1, "the whole folder is refused for the unsafe one");
}

/// All that an evaluation comes to, and the whole page, to the last bit.
#[test]
fn the_number_of_threads_changes_nothing() {
    for (worksheet, _) in list() {
        let source = fs::read_to_string(tests().join("../worksheets").join(&worksheet)).unwrap();
        let made = |threads| {
            let page = parallel::with_threads(threads, || render_worksheet(&source, &worksheet, &SETTING)).unwrap();
            // The shortest digits that give a number back name it to its last bit.
            (format!("{:?}", page.evaluation), page.html)
        };
        let alone = made(1);
        for threads in [2, 3, 8] {
            let (evaluation, html) = made(threads);
            assert!(evaluation == alone.0, "{worksheet}, {threads} threads: another evaluation");
            assert!(html == alone.1, "{worksheet}, {threads} threads: another page");
        }
    }
}

/// Worksheet and verdict from the table in `worksheets/README.md`.
fn list() -> Vec<(String, String)> {
    let text = fs::read_to_string(tests().join("../worksheets/README.md")).unwrap();
    let cells = |line: &str| line.trim_matches('|').split('|').map(|cell| cell.trim().to_owned()).collect::<Vec<_>>();
    let rows = text.lines().filter(|line| line.starts_with("| [")).map(cells);
    rows.map(|row| {
        let name = row[0].split_once("](").unwrap().1.trim_end_matches(')').to_owned();
        (name, row[2].clone())
    })
    .collect()
}

fn evaluate_file(worksheet: &str) -> Evaluation {
    let path = tests().join("../worksheets").join(worksheet);
    Evaluator::default().host(&Beside(&path)).evaluate(&fs::read_to_string(&path).unwrap())
}

fn worksheets() -> usize {
    let entries = fs::read_dir(tests().join("../worksheets")).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    names.filter(|name| name.ends_with(".md") && name != "README.md").count()
}

/// What `benchleaf check` comes to, and what it writes to the error stream.
fn check(worksheet: &str) -> (Outcome, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let path = tests().join("../worksheets").join(worksheet);
    let arguments = ["benchleaf".into(), "check".into(), path.into_os_string()];
    let outcome = benchleaf::run(arguments, &mut Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None));
    (outcome, String::from_utf8(err).unwrap())
}
