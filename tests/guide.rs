//! The guide in `book/`, held against the engine: its chapters evaluate, the source that it shows is the source that runs,
//! the chapters that are printed from the engine's tables are what is printed today, and the program answers as the guide
//! says it does. `UPDATE_GUIDE=1` writes anew what can be written anew.
#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../engine/core/examples/reference/messages.rs"]
mod messages;
#[path = "../engine/core/examples/reference/tables.rs"]
mod tables;

use std::{
    collections::BTreeSet,
    ffi::OsString,
    fs,
    path::{Path, PathBuf},
};

use benchleaf::{Drawing, Progress, Terminal, run};
use benchleaf_core::{Evaluator, report::Report, sheet, units};
use benchleaf_tests::Beside;

#[test]
fn every_chapter_evaluates_without_a_problem() {
    let chapters = chapters();
    assert!(chapters.len() >= 12, "{chapters:?}");
    for (path, source) in chapters {
        let evaluation = Evaluator::default().host(&Beside(&path)).evaluate(&source);
        assert!(evaluation.problems.is_empty(), "{}: {:#?}", path.display(), evaluation.problems);
        assert!(evaluation.sheet.metadata.title.is_some() && evaluation.sheet.metadata.summary.is_some());
    }
}

#[test]
fn every_block_that_runs_is_shown_above_as_it_is_written() {
    let mut blocks = 0;
    for (path, source) in chapters() {
        for block in &sheet::read(&source).0.blocks {
            let written = block.span.text(&source).trim_end();
            let shown = format!("````text\n{written}\n````\n");
            let above = &source[..block.span.start];
            let line = source[..block.span.start].matches('\n').count() + 1;
            assert!(above.contains(&shown), "{}:{line}: this block is not shown above\n{written}", path.display());
            blocks += 1;
        }
    }
    assert!(blocks > 30, "{blocks}");
}

#[test]
fn the_chapter_of_messages_is_what_the_engine_prints() {
    assert_eq!(messages::unexplained(), [""; 0], "codes without an example in examples/reference/messages.rs");
    settle("09-messages.md", &messages::chapter());
}

#[test]
fn the_reference_tables_are_what_the_engine_prints() {
    assert_eq!(tables::without_example(), [""; 0], "models without a sound example in examples/reference/examples.rs");
    settle("10-reference.md", &tables::chapter());
}

/// Holds for text fences whose first line is a command: `$ benchleaf check lamp.md`. The commands of a chapter run one
/// after another in a folder that holds nothing but the files that the chapter shows under their names (`csv answers.csv`).
#[test]
fn the_program_answers_as_the_guide_says() {
    let home = std::env::current_dir().unwrap();
    let mut commands = 0;
    for (path, source) in chapters().into_iter().filter(|(_, source)| split_at_command(source).is_some()) {
        let folder = tempfile::tempdir().unwrap();
        std::env::set_current_dir(folder.path()).unwrap();
        for (name, content) in files(&source) {
            fs::write(name, content).unwrap();
        }
        let mut written = String::new();
        let mut rest = source.as_str();
        while let Some((before, (command, after))) = split_at_command(rest) {
            written.push_str(&format!("{before}{OPEN}{command}\n{}", answer(command)));
            rest = after;
            commands += 1;
        }
        written.push_str(rest);
        std::env::set_current_dir(&home).unwrap();
        settle(path.file_name().unwrap().to_str().unwrap(), &written);
    }
    assert!(commands >= 5, "{commands}");
}

#[test]
fn the_units_in_common_use_are_known() {
    let chapter = fs::read_to_string(book().join("02-quantities.md")).unwrap();
    let (_, table) = chapter.split_once("| for | units |").unwrap();
    let (table, _) = table.split_once("\n\n").unwrap();
    let symbols: Vec<&str> = table.split('`').skip(1).step_by(2).collect();
    assert!(symbols.len() > 60, "{symbols:?}");
    for symbol in symbols {
        assert!(units::parse(symbol).is_some(), "`{symbol}` is no unit of the engine");
    }
}

#[test]
fn every_field_of_the_json_is_explained() {
    let source = "```calc\nr = 1 / max(0, (5 V ± 5 %) / 1 V - 5)\nV = 5 V ± 5 %\nkeep V below 6 V\nx = 1 / 0\n```\n```caution\nHot.\n```\n\
                  ```exercise e\nask \"?\"\nanswer = V\n```\n```bench V\n2026-11-25: 5 V, 5.1 V\nfit V from V\n```\n";
    let evaluation = Evaluator::default().evaluate(source);
    let report = serde_json::to_value(Report::new("a.md", &evaluation, source)).unwrap();
    let mut fields = BTreeSet::new();
    for (name, value) in report.as_object().unwrap() {
        fields.insert(name.clone());
        let entry = value.as_array().and_then(|list| list.first()?.as_object());
        fields.extend(entry.into_iter().flat_map(|entry| entry.keys().cloned()));
    }
    assert!(fields.contains("margin_worst") && fields.contains("severity") && fields.contains("shown"), "{fields:?}");
    let chapter = fs::read_to_string(book().join("08-command-line.md")).unwrap();
    for field in fields {
        assert!(chapter.contains(&format!("`{field}`")), "the chapter says nothing of `{field}`");
    }
}

#[test]
fn links_between_chapters_lead_somewhere() {
    let index = fs::read_to_string(book().join("README.md")).unwrap();
    for (path, source) in chapters() {
        let name = path.file_name().unwrap().to_str().unwrap();
        assert!(index.contains(&format!("]({name})")), "README.md does not list {name}");
        for link in source.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            assert!(!link.ends_with(".md") || book().join(link).is_file(), "{name} links to {link}");
        }
    }
}

/// All chapters with their text, in order.
fn chapters() -> Vec<(PathBuf, String)> {
    let mut paths: Vec<PathBuf> = fs::read_dir(book())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "md") && !path.ends_with("README.md"))
        .collect();
    paths.sort();
    paths.into_iter().map(|path| (path.clone(), fs::read_to_string(path).unwrap())).collect()
}

fn book() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../book")
}

/// Holds a chapter against what it should be; or writes it.
#[track_caller]
fn settle(name: &str, wanted: &str) {
    let path = book().join(name);
    let found = fs::read_to_string(&path).unwrap_or_default();
    if found == wanted {
        return;
    }
    if std::env::var_os("UPDATE_GUIDE").is_some() {
        return fs::write(&path, wanted).unwrap();
    }
    let differ = found.lines().zip(wanted.lines()).position(|(a, b)| a != b);
    let line = differ.unwrap_or_else(|| found.lines().count().min(wanted.lines().count()));
    let at = |text: &str| text.lines().nth(line).unwrap_or("(nothing)").to_owned();
    panic!(
        "book/{name}, line {}, is out of date\n  found:  {}\n  wanted: {}\nUPDATE_GUIDE=1 writes it anew",
        line + 1,
        at(&found),
        at(wanted)
    );
}

/// The files that a chapter shows: fences whose info string is a language and a file's name.
fn files(source: &str) -> Vec<(&str, &str)> {
    let mut files = Vec::new();
    for fence in ["```csv ", "```jsonl ", "````markdown "] {
        for piece in source.split(&format!("\n{fence}")).skip(1) {
            let close = format!("\n{}\n", fence.trim_end_matches(|c: char| c != '`'));
            let (name, rest) = piece.split_once('\n').unwrap();
            files.push((name, &rest[..=rest.find(&close).unwrap()]));
        }
    }
    files
}

/// The text up to the next command, the command's line, and the text from the fence that closes its answer.
fn split_at_command(text: &str) -> Option<(&str, (&str, &str))> {
    let (before, from) = text.split_once(&format!("{OPEN}$ benchleaf "))?;
    let start = text.len() - from.len() - "$ benchleaf ".len();
    let (command, answer) = text[start..].split_once('\n')?;
    let end = if answer.starts_with("```\n") { 0 } else { answer.find("\n```\n")? + 1 };
    Some((before, (command, &answer[end..])))
}

/// What the program says to a command, on its output stream. Behind `<` stands the file that it reads as its input.
fn answer(command: &str) -> String {
    let (command, input) = command.split_once(" < ").unwrap_or((command, ""));
    let input = if input.is_empty() { Vec::new() } else { fs::read(input.trim()).unwrap() };
    let mut arguments: Vec<OsString> = Vec::new();
    for (i, part) in command.trim_start_matches("$ ").split('"').enumerate() {
        // Every second piece stood between quotes.
        if i % 2 == 1 {
            arguments.push(part.into());
        } else {
            arguments.extend(part.split_whitespace().map(OsString::from));
        }
    }
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut input = input.as_slice();
    let terminal = Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None);
    run(arguments, &mut terminal.with_input(&mut input));
    String::from_utf8(out).unwrap()
}

const OPEN: &str = "```text\n";
