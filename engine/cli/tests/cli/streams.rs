//! What goes to which stream, and streams that end early or fail; and the library in process.

use std::{ffi::OsString, io, process::Stdio};

use benchleaf::{
    Day, Drawing, Form, LiveEngine, Neighbours, Outcome, Progress, RawHtml, RenderSettings, Terminal, render_worksheet,
    run,
};

use crate::bench::{Bench, ERROR, HOLDS, Run};

#[test]
fn a_reader_that_has_left_is_no_error_and_the_work_is_done() {
    let bench = Bench::with(&[("x.md", HOLDS)]);
    let (reader, writer) = io::pipe().unwrap();
    drop(reader);
    let mut command = bench.command(&["render", "x.md"]);
    let status = command.stdout(writer).stderr(Stdio::piped()).spawn().unwrap().wait_with_output().unwrap();
    assert_eq!((status.status.code(), status.stderr), (Some(0), Vec::new()));
    assert!(bench.path("x.html").is_file());
}

#[cfg(target_os = "linux")]
#[test]
fn an_answer_that_cannot_be_written_is_an_error() {
    let bench = Bench::with(&[("x.md", HOLDS)]);
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = bench.command(&["check", "x.md"]).stdout(full).output().unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert!(String::from_utf8_lossy(&output.stderr).contains("the answer could not be written"));
}

#[test]
fn messages_to_a_file_have_no_colour() {
    let bench = Bench::with(&[("error.md", ERROR)]);
    let run = Run::of(&mut bench.command(&["check", "error.md"]));
    assert!(!run.err.contains('\u{1b}') && run.err.contains("E-unknown-name"), "{}", run.err);
}

#[test]
fn the_library_runs_a_call_on_streams_of_its_callers() {
    let bench = Bench::with(&[("error.md", ERROR)]);
    let arguments = ["benchleaf".into(), "check".into(), OsString::from(bench.path("error.md"))];
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let outcome = run(arguments, &mut Terminal::new(&mut out, &mut err, Drawing::Coloured, Progress::None));
    assert_eq!(outcome, Outcome::WorksheetError);
    assert!(String::from_utf8(out).unwrap().contains("1 error"));
    assert!(String::from_utf8(err).unwrap().contains("\u{1b}["));
}

#[test]
fn a_page_is_made_without_files() {
    let setting = RenderSettings {
        samples: None,
        seed: None,
        evaluated: Day::of_unix_seconds(0),
        raw_html: RawHtml::ShownAsText,
        engine: LiveEngine::LeftOut,
        form: Form::Full,
        neighbours: Neighbours::NONE,
    };
    let page = render_worksheet(HOLDS, "sound", &setting).unwrap();
    assert!(page.html.contains("1970-01-01") && page.html.ends_with("</html>\n"));
    assert_eq!(page.evaluation.keeps.len(), 1);
    assert_eq!(render_worksheet("plain text\n", "untitled", &setting).unwrap().title, "untitled");
}
