//! Published pages as a validator and a browser meet them: those of the demonstration worksheets, and of worksheets that
//! are wrong.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{path::Path, process::Command};

use benchleaf::{Drawing, Outcome, Progress, Terminal};
use benchleaf_tests::outside::{node, tests};
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
