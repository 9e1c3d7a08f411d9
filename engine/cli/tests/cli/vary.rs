//! `vary`: lines in, lines out, in order, at once, and within bounds.

use std::{
    fmt::Write as _,
    io::{BufRead, BufReader, Read, Write},
    process::{Child, Stdio},
};

use serde_json::{Value as Json, json};

use crate::bench::{Bench, ERROR};

const SHEET: &str = "```calc\nR = 10 kΩ ± 5 %\nC = 22 µF\nt [s] = R * C\nkeep t below 0.23 s\n```\n";

/// What comes out, line by line, and the exit status.
fn varied(arguments: &[&str], lines: &str) -> (Vec<Json>, i32) {
    let bench = Bench::with(&[("x.md", SHEET)]);
    let mut child = started(&bench, arguments);
    let mut input = child.stdin.take().unwrap();
    let lines = lines.to_owned();
    let writer = std::thread::spawn(move || input.write_all(lines.as_bytes()).unwrap());
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    let text = String::from_utf8(output.stdout).unwrap();
    let lines = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    (lines, output.status.code().unwrap())
}

fn started(bench: &Bench, arguments: &[&str]) -> Child {
    let mut command = bench.command(&["vary", "x.md"]);
    command.args(arguments).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

#[test]
fn every_line_has_its_answer_also_a_wrong_one() {
    let input = "{}\n{\"R\":20000}\n{\"R\":\"4k7\",\"C\":\"1 µF\"}\n{\"RR\":1}\n{\"R\":\"1 V\"}\nno\n\n{\"R\":null}\n{\"R\":1,\"R\":2}\n\"\u{7f}\"\n[]\n{\"t\":3}";
    let (lines, status) = varied(&[], input);
    let good = |si: f64, word: &str| json!({"values": {"t": si}, "keeps": [{"line": 5, "at_nominal": word}]});
    assert_eq!(lines[..3], [good(10e3 * 22e-6, "holds"), good(20e3 * 22e-6, "broken"), good(4700.0 * 1e-6, "holds")]);
    let codes: Vec<&str> = lines[3..].iter().map(|line| line["error"]["code"].as_str().unwrap()).collect();
    let syntax = "E-syntax";
    assert_eq!(
        codes,
        ["E-unknown-name", "E-unit-mismatch", syntax, syntax, syntax, syntax, syntax, syntax, "E-unknown-name"]
    );
    assert_eq!(status, 1);
    assert_eq!(varied(&[], "{}\n").1, 0);
    assert_eq!(varied(&[], ""), (vec![], 0));
}

#[test]
fn ranges_and_verdicts_over_them_are_given_where_they_are_wanted() {
    let (lines, status) = varied(&["--range", "--values", "t"], "{}\n{\"R\":\"10 kΩ ± 1 %\"}\n");
    let word = |line: &Json| line["keeps"][0]["status"].as_str().unwrap().to_owned();
    assert_eq!((word(&lines[0]), word(&lines[1]), status), ("at-risk".to_owned(), "holds".to_owned(), 0));
    let high = lines[0]["worst"]["t"][1].as_f64().unwrap();
    assert!((high - 10.5e3 * 22e-6).abs() < 1e-12 && lines[0]["keeps"][0]["at_nominal"] == "holds");
}

#[test]
fn givens_of_worksheets_that_are_used_can_be_changed() {
    let using = "```calc\nuse \"x.md\": t, R\nhalf = t / 2\n```\n";
    let bench = Bench::with(&[("x.md", SHEET), ("using.md", using)]);
    let mut command = bench.command(&["vary", "using.md", "--values", "half"]);
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(b"{}\n{\"R\":20000}\n").unwrap();
    let output = child.wait_with_output().unwrap();
    let halves: Vec<f64> = String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str::<Json>(line).unwrap()["values"]["half"].as_f64().unwrap())
        .collect();
    assert_eq!(halves, [10e3 * 22e-6 / 2.0, 20e3 * 22e-6 / 2.0]);
}

#[test]
fn many_lines_keep_their_order() {
    let mut input = String::new();
    for i in 1..=50_000 {
        let _ = writeln!(input, "{{\"R\":{i}}}");
    }
    let (lines, status) = varied(&["--values", "t"], &input);
    assert_eq!((lines.len(), status), (50_000, 0));
    for (i, line) in lines.iter().enumerate() {
        assert_eq!(line["values"]["t"].as_f64(), Some((i + 1) as f64 * 22e-6));
    }
}

#[test]
fn a_line_is_answered_before_the_next_is_written() {
    let bench = Bench::with(&[("x.md", SHEET)]);
    let mut child = started(&bench, &[]);
    let mut input = child.stdin.take().unwrap();
    let mut output = BufReader::new(child.stdout.take().unwrap());
    for si in [1e3, 2e3, 3e3] {
        writeln!(input, "{{\"R\":{si}}}").unwrap();
        let mut line = String::new();
        output.read_line(&mut line).unwrap();
        let answer: Json = serde_json::from_str(&line).unwrap();
        assert_eq!(answer["values"]["t"].as_f64(), Some(si * 22e-6));
    }
    drop(input);
    assert!(child.wait().unwrap().success());
}

#[test]
fn a_reader_that_leaves_ends_the_work_without_a_word() {
    let bench = Bench::with(&[("x.md", SHEET)]);
    let mut child = started(&bench, &[]);
    let mut input = child.stdin.take().unwrap();
    let mut output = child.stdout.take().unwrap();
    input.write_all(b"{}\n").unwrap();
    output.read_exact(&mut [0]).unwrap();
    drop(output);
    // Without end: it is the program that has to leave.
    while input.write_all(b"{\"R\":1000}\n{\"R\":2000}\n").is_ok() {}
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), output.stderr), (Some(0), Vec::new()));
}

#[test]
fn a_study_that_cannot_be_made_says_why() {
    let bench = Bench::with(&[("x.md", SHEET), ("error.md", ERROR)]);
    let unknown = bench.run(&["vary", "x.md", "--values", "tt"]);
    assert_eq!(unknown.status, 3);
    assert!(
        unknown.err.contains("no value named `tt`") && unknown.err.contains("did you mean `t`?"),
        "{}",
        unknown.err
    );
    let wrong = bench.run(&["vary", "error.md"]);
    assert!(wrong.status == 2 && wrong.err.contains("E-unknown-name") && wrong.out.is_empty(), "{}", wrong.err);
    assert_eq!(bench.run(&["vary", "missing.md"]).status, 3);
}
