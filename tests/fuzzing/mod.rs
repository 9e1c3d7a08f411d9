//! Fuzzing: functions that take any bytes and fail where something that must hold does not. Nothing panics or overflows
//! the stack, reports are JSON, pages are balanced HTML, a page holds against its own worksheet, and of a folder every
//! worksheet has its page and its report. `tests/fuzz.rs` runs them over a fixed number of inputs, `examples/fuzz.rs` over
//! as many as wanted, and `engine/cli/fuzz` under a fuzzer that follows coverage.

mod checks;
mod grammar;
mod mutate;
mod seeds;
mod words;

use std::{cell::RefCell, ffi::OsString, fs, path::Path};

use benchleaf::{Drawing, Outcome, Progress, RawHtml, RenderSettings, Terminal, render_worksheet};
use benchleaf_core::{
    Evaluator, Options,
    change::{Change, change, givens},
    exercise::Marker,
    lang::parse_literal,
    report::Report,
    results::Evaluation,
    sheet::Worksheet,
    summary::Summary,
    units,
};
use benchleaf_page::{
    PageOptions,
    exercises::{Attempt, GivesUp, attempt},
};
use benchleaf_words::Words;
use tempfile::TempDir;

use self::checks::{is_balanced, is_json_report};
use crate::SETTING;

/// A function under fuzzing.
pub struct Target {
    /// Its name, as that of its file in `engine/cli/fuzz/fuzz_targets`.
    pub name: &'static str,
    /// Fails by a panic where something does not hold.
    pub run: fn(&[u8]),
    /// The input of a number: the same one for the same number, on every machine.
    pub input: fn(u64) -> Vec<u8>,
    /// Out of how many inputs of a run one is for this target.
    pub one_in: u64,
}

/// All targets. The first that a number is a multiple for takes it, so the last takes what is left.
pub const TARGETS: &[Target] = &[
    Target { name: "folder", run: folder, input: mutate::folder, one_in: 97 },
    Target { name: "read_back", run: read_back, input: mutate::page, one_in: 23 },
    Target { name: "answers", run: answers, input: mutate::table, one_in: 11 },
    Target { name: "quantity", run: quantity, input: mutate::quantity, one_in: 7 },
    Target { name: "expression", run: expression, input: mutate::expression, one_in: 5 },
    Target { name: "page", run: page, input: mutate::worksheet, one_in: 3 },
    Target { name: "worksheet", run: worksheet, input: mutate::worksheet, one_in: 1 },
];

/// The target of an input's number.
pub fn target_of(number: u64) -> &'static Target {
    TARGETS.iter().find(|target| number.is_multiple_of(target.one_in)).unwrap_or(&TARGETS[TARGETS.len() - 1])
}

/// A worksheet: evaluated and reported.
pub fn worksheet(bytes: &[u8]) {
    evaluated(&String::from_utf8_lossy(bytes));
}

/// A worksheet as a page, and as what a published page sets again after a reader's change.
pub fn page(bytes: &[u8]) {
    let source = String::from_utf8_lossy(bytes);
    let evaluation = evaluated(&source);
    for raw_html in [RawHtml::ShownAsText, RawHtml::Cleaned] {
        let page = benchleaf_page::render(&evaluation, &source, &PageOptions { raw_html });
        for part in [&page.heading, &page.head, &page.body] {
            is_balanced(part);
        }
    }
    let update = benchleaf_page::update(&evaluation, &source, Words::ENGLISH);
    update.blocks.iter().chain(&update.inlines).chain([&update.head]).for_each(|part| is_balanced(part));
    let worksheet = Worksheet::new(&source).0;
    if let Some(given) = evaluation.values.first() {
        let changes = [Change { name: given.name.clone(), text: words::of(bytes.len() as u64).to_owned() }];
        let changed = change(&worksheet, &changes).worksheet;
        let evaluation = evaluated(&changed.source);
        benchleaf_page::update(&evaluation, &changed.source, Words::ENGLISH);
    }
    let exercises: Vec<String> = Marker::new(&worksheet).exercises().map(|(name, _)| name.to_owned()).collect();
    for exercise in exercises.into_iter().take(2) {
        let answer = Some(words::of(bytes.len() as u64).to_owned());
        let learner = Some("Ada".to_owned());
        if let Ok(reply) =
            attempt(&worksheet, &Attempt { exercise, learner, answer, gives_up: GivesUp::Yes }, Words::ENGLISH)
        {
            reply
                .solution
                .iter()
                .chain(reply.inlines.iter().map(|inline| &inline.1))
                .for_each(|part| is_balanced(part));
        }
    }
}

/// What a published page asks its engine for a fuzzed worksheet, with a reader's change of its first given, or an attempt at
/// an exercise in its place: the request of `number`, the same on every machine.
pub fn request(number: u64) -> Vec<u8> {
    let source = String::from_utf8_lossy(&mutate::worksheet(number)).into_owned();
    let worksheet = Worksheet::new(&source).0;
    let sheet = worksheet.read().0;
    let given = givens(&sheet, &source).first().map(|given| given.name.to_owned()).unwrap_or_default();
    let text = words::of(number);
    let samples = SAMPLES.to_string();
    let texts = [source.as_str(), &worksheet.outline(), &samples, "", &given, text, &given, text];
    texts.iter().flat_map(|text| [(text.len() as u32).to_le_bytes().as_slice(), text.as_bytes()].concat()).collect()
}

/// A quantity, as a reader types one and as a unit.
pub fn quantity(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let _ = parse_literal(&text);
    if let Some(unit) = units::parse(&text) {
        let _ = unit.of_si(unit.to_si(1.0));
        let _ = units::DisplayUnit::declared(unit.clone()).show(1.0, 3);
        let _ = units::DisplayUnit::picked(unit.quantity, 1e-300).show(1e-300, 15);
    }
    let _ = units::unknown_part(&text);
    page(
        format!("```calc\nx = {text}\ny [V] = x\nz = {text} ± 5 %\nkeep x above {text}\n```\n{{x}} {{x:{text}}}\n")
            .as_bytes(),
    );
}

/// An expression over a few names.
pub fn expression(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let givens =
        "V = 12 V ± 10 %\nR = 10 kΩ -20 % +50 %\nC = 4u7 ± 20 %\nT = 25 °C ± 15 K\nk = 3 ± 1 normal(2)\nn = 0 ± 1\n";
    page(format!("```calc\n{givens}x = {text}\ny = x - x\nkeep x below {text}\n```\n").as_bytes());
}

/// A table of a class's answers.
pub fn answers(bytes: &[u8]) {
    with_folder(|folder| {
        let (sheet, table) = (folder.join("exercises.md"), folder.join("answers.csv"));
        fs::write(&sheet, seeds::EXERCISES).expect("a worksheet");
        fs::write(&table, bytes).expect("a table");
        let (outcome, said, _) = called(&["mark".into(), sheet.into(), table.into()]);
        let mut header = outcome == Outcome::Fine;
        for row in
            csv::ReaderBuilder::new().flexible(true).has_headers(false).from_reader(said.as_bytes()).byte_records()
        {
            let row = row.expect("rows from memory");
            let heads = std::mem::take(&mut header);
            assert!(!heads || row.iter().any(|cell| cell == b"finding"), "{said}");
            assert!(!row.iter().any(|cell| cell.first().is_some_and(|first| b"=+-@\t\r\n".contains(first))), "{row:?}");
        }
    });
}

/// A page, read back for its worksheet and to be held against it.
pub fn read_back(bytes: &[u8]) {
    with_folder(|folder| {
        let page = folder.join("page.html");
        fs::write(&page, bytes).expect("a page");
        let (source, ..) = called(&["source".into(), page.clone().into()]);
        let (verified, ..) = called(&["verify".into(), page.into()]);
        assert_eq!(source == Outcome::Failed, verified == Outcome::Failed);
    });
}

/// A folder of worksheets, parted by lines of `~~~~`: every one has its page, its report, and a page that verifies.
pub fn folder(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let sheets: Vec<&str> =
        text.split("\n~~~~\n").filter(|sheet| !sheet.trim().trim_matches('\u{feff}').trim().is_empty()).collect();
    with_folder(|folder| {
        for (number, sheet) in sheets.iter().enumerate() {
            fs::write(folder.join(format!("{number}.md")), sheet).expect("a worksheet");
        }
        let path = || OsString::from(folder);
        let (outcome, said, reported) =
            called(&["render".into(), "--still".into(), "--samples".into(), "100".into(), path()]);
        assert!(outcome != Outcome::Failed || sheets.is_empty(), "{said}{reported}");
        let (_, reports, _) = called(&["check".into(), "--json".into(), "--samples".into(), "100".into(), path()]);
        assert_eq!(reports.lines().count(), sheets.len(), "{reports}");
        reports.lines().for_each(is_json_report);
        for number in 0..sheets.len() {
            let page = folder.join(format!("{number}.html"));
            let html = fs::read_to_string(&page).expect("its page");
            is_balanced(&html);
            let (outcome, said, reported) = called(&["verify".into(), page.into()]);
            let without_rust = said.contains("Rust block");
            assert!(without_rust || matches!(outcome, Outcome::Fine | Outcome::WorksheetError), "{said}{reported}");
            assert!(without_rust || !said.contains("difference"), "{said}");
        }
    });
}

/// The page of a worksheet, whole.
fn whole_page(source: &str) -> String {
    let setting = RenderSettings { samples: Some(100), ..SETTING };
    render_worksheet(source, "page", &setting).expect("a page").html
}

fn evaluated(source: &str) -> Evaluation {
    let evaluation = Evaluator::with(&Options { samples: Some(SAMPLES), ..Options::default() }).evaluate(source);
    for problem in &evaluation.problems {
        assert!(!problem.message.english().is_empty());
        assert!(source.get(problem.span.start..problem.span.end).is_some(), "{problem:?}");
    }
    let report = serde_json::to_string(&Report::new("x.md", &evaluation, source)).expect("JSON");
    is_json_report(&report);
    let _ = Summary::of(&evaluation);
    evaluation
}

fn called(arguments: &[OsString]) -> (Outcome, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let arguments = std::iter::once("benchleaf".into()).chain(arguments.iter().cloned());
    let outcome = benchleaf::run(arguments, &mut Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None));
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (outcome, text(out), text(err))
}

/// Runs in a folder of this thread's, emptied before.
fn with_folder(work: impl FnOnce(&Path)) {
    thread_local!(static FOLDER: RefCell<Option<TempDir>> = const { RefCell::new(None) });
    let folder = FOLDER.take().unwrap_or_else(|| tempfile::tempdir().expect("a folder"));
    for entry in fs::read_dir(folder.path()).expect("a folder") {
        let path = entry.expect("an entry").path();
        fs::remove_file(&path).expect("a file");
    }
    work(folder.path());
    FOLDER.set(Some(folder));
}

/// Enough for intervals, shares and a histogram.
const SAMPLES: u64 = 64;
