//! The packed module's numbers are the native engine's to the last bit, on every worksheet of the project.

#![allow(clippy::unwrap_used, clippy::panic)]

use std::{
    fs,
    path::{Path, PathBuf},
    process::Command,
};

use benchleaf_core::sheet::Worksheet;

#[test]
#[ignore = "needs node: run tests/run"]
fn the_module_says_what_the_native_engine_says() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().unwrap();
    let (request, answer) = (folder.path().join("request"), folder.path().join("answer"));
    let sheets = [worksheets(&here.join("../../worksheets")), worksheets(&here.join("../../book"))].concat();
    assert!(sheets.len() > 10, "{sheets:?}");
    for sheet in sheets {
        let source = fs::read_to_string(&sheet).unwrap();
        let asked = message(&[&source, &Worksheet::new(&source).0.outline(), "", ""]);
        fs::write(&request, &asked).unwrap();
        let mut node = Command::new("node");
        node.arg(here.join("tests/numbers.js")).arg(here.join("dist")).args([&request, &answer]);
        let output = node.output().unwrap();
        assert!(output.status.success(), "{sheet:?}: {}", String::from_utf8_lossy(&output.stderr));
        let (theirs, ours) = (fs::read(&answer).unwrap(), benchleaf_web::exact(&asked));
        if theirs != ours {
            let (theirs, ours) = (String::from_utf8_lossy(&theirs), String::from_utf8_lossy(&ours));
            let differs = theirs.lines().zip(ours.lines()).find(|(one, other)| one != other);
            panic!("{sheet:?}: {differs:?}");
        }
    }
}

fn worksheets(folder: &Path) -> Vec<PathBuf> {
    let files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    files.filter(|path| path.extension().is_some_and(|ending| ending == "md")).collect()
}

fn message(texts: &[&str]) -> Vec<u8> {
    let text = |text: &&str| [(text.len() as u32).to_le_bytes().as_slice(), text.as_bytes()].concat();
    texts.iter().flat_map(text).collect()
}
