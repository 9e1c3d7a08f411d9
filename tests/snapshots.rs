//! What a reader sees, held as it is: every message as the command line draws it, and the pages' fragments. A change of
//! wording or of markup shows in the difference of a snapshot, and is taken with `INSTA_UPDATE=always`.
//!
//! `messages/` holds one small worksheet for each message, named by the code that it brings up and, where there are
//! several ways to it, by which.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

use benchleaf::{Drawing, Progress, Terminal};
use benchleaf_core::{Evaluator, Options, problem::Code};
use benchleaf_page::PageOptions;
use benchleaf_tests::{Beside, codes, outside::tests};

#[test]
fn every_message_as_the_command_line_draws_it() {
    insta::glob!("messages/*.md", |worksheet| {
        insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false }, {
            insta::assert_snapshot!("message", drawn(worksheet));
        });
    });
}

#[test]
fn every_code_has_a_worksheet_that_brings_it_up() {
    let mut found = BTreeSet::new();
    let worksheets = worksheets("messages");
    assert!(worksheets.len() >= 25, "{} messages", worksheets.len());
    for path in worksheets {
        let name = path.file_stem().unwrap().to_str().unwrap();
        let host = Beside(&path);
        let codes = codes(&Evaluator::default().host(&host).evaluate(&fs::read_to_string(&path).unwrap()));
        assert!(codes.iter().any(|code| name.starts_with(code)), "{name} brings up {codes:?}");
        found.extend(codes);
    }
    // What only a run of a Rust block brings up is brought up in `engine/rust-blocks/tests`.
    found.extend([Code::RustRun.text(), Code::RustNominal.text()]);
    let missing: Vec<&str> = Code::ALL.iter().map(|code| code.text()).filter(|code| !found.contains(code)).collect();
    assert!(missing.is_empty(), "codes without a worksheet: {missing:?}");
}

#[test]
fn a_page_of_every_block_as_it_is_published() {
    for worksheet in ["every-block.md", "errors.md"] {
        let source = fs::read_to_string(tests().join(worksheet)).unwrap();
        // Random numbers are the same in every run, however few; few are quick.
        let options = Options { samples: Some(1000), seed: Some(1), ..Options::default() };
        let evaluation = Evaluator::with(&options).evaluate(&source);
        let made = benchleaf_page::render(&evaluation, &source, &PageOptions::default());
        let page = format!("{}\n{}\n{}", made.title, by_line(&made.head), by_line(&made.body));
        insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false }, {
            insta::assert_snapshot!(format!("page-{}", worksheet.trim_end_matches(".md")), page);
        });
    }
}

/// What `benchleaf check` writes to the error stream.
fn drawn(worksheet: &Path) -> String {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let arguments = ["benchleaf".as_ref(), "check".as_ref(), worksheet.as_os_str()];
    benchleaf::run(
        arguments.map(ToOwned::to_owned),
        &mut Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None),
    );
    let folder = format!("{}/", worksheet.parent().unwrap().display());
    String::from_utf8(err).unwrap().replace(&folder, "").lines().map(|line| line.trim_end().to_owned() + "\n").collect()
}

/// One element a line, so that a difference is a line's. A formula is one and a table's row is one; of a long drawing its
/// beginning will do, and of many in a row, as the ticks of an axis are, the first.
fn by_line(html: &str) -> String {
    let mut text = String::with_capacity(html.len() * 2);
    let (mut within, mut drawn) = (None, "");
    for line in html.replace("><", ">\n<").lines() {
        let tag = line.split([' ', '>']).next().unwrap_or("");
        let drawing = matches!(tag, "<path" | "<polyline" | "<polygon");
        let closing = matches!(tag, "</path" | "</polyline" | "</polygon");
        if closing || (drawing && tag == drawn) {
            continue;
        }
        drawn = if drawing { tag } else { "" };
        if within.is_none() {
            within = [("<math", "</math>"), ("<tr", "</tr>")].into_iter().find(|(opens, _)| *opens == tag);
        }
        match line.char_indices().nth(120).filter(|_| drawing) {
            Some((end, _)) => text.extend([&line[..end], " …"]),
            None => text.push_str(line),
        }
        within = within.filter(|(_, closes)| !line.contains(closes));
        if within.is_none() {
            text.push('\n');
        }
    }
    text
}

fn worksheets(folder: &str) -> Vec<PathBuf> {
    let entries = fs::read_dir(tests().join(folder)).unwrap();
    let paths = entries.map(|entry| entry.unwrap().path());
    let mut paths: Vec<PathBuf> = paths.filter(|path| path.extension().is_some_and(|ending| ending == "md")).collect();
    paths.sort();
    paths
}
