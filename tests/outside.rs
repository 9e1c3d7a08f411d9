//! Programs that tests hold the engine against: Python's reference libraries, and what npm brings. `tests/run` sets them
//! up and says in the environment where they are.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{
    io::Write,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

use serde_json::Value;

/// What a script of `tests/reference` answers; question and answer are JSON.
pub fn python(script: &str, question: &Value) -> Value {
    let python = wanted("BENCHLEAF_PYTHON");
    let mut child = Command::new(python)
        .arg(tests().join("reference").join(script))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("Python starts");
    // The script reads all of its input before it writes, so neither waits for the other.
    child.stdin.take().expect("a pipe").write_all(question.to_string().as_bytes()).expect("Python reads");
    let output = child.wait_with_output().expect("Python ends");
    assert!(output.status.success(), "{script} failed");
    serde_json::from_slice(&output.stdout).expect("an answer in JSON")
}

/// A program of an npm package, or `node` itself with those packages at hand.
pub fn node(program: Option<&str>) -> Command {
    let modules = PathBuf::from(wanted("BENCHLEAF_NODE_MODULES"));
    let mut command = match program {
        Some(program) => Command::new(modules.join(".bin").join(program)),
        None => Command::new("node"),
    };
    command.env("NODE_PATH", modules).current_dir(tests().join("browser"));
    command
}

/// The folder of the tests.
pub fn tests() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn wanted(variable: &str) -> String {
    std::env::var(variable).unwrap_or_else(|_| panic!("{variable} is not set: run tests/run"))
}
