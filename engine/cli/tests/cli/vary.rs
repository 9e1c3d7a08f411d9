//! `vary`: lines in, lines out, in order, at once, and within bounds.

use std::{
    fmt::Write as _,
    io::{BufRead, BufReader, Read, Write},
    process::{Child, Stdio},
};

use serde_json::{Value as Json, json};

use crate::bench::{Bench, ERROR, Random, amount};

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

/// Whatever a line holds, it has one answer, and the lines around it have theirs: each second line is a sound one, whose answer says which
/// it was. `BENCHLEAF_LINES=1000000` is a long run.
#[test]
fn no_line_ends_the_work_or_takes_the_place_of_another() {
    const SHEET: &str = "```calc\nR = 10 kΩ ± 5 %\nC = 22 µF ± 20 %\nt [s] = R * C\nn = 3\nm = timing.one_shot(resistance = R, \
                         capacitance = C, supply = 9 V)\nR_s = solve R so that t = 1 s from 1 kΩ to 1 MΩ\n\
                         best = choose E6 for R so that t is 1 s\nq = ln(n) / (n - 2) ^ n\nkeep t below 0.23 s\n\
                         keep m.pulse between 0.1 s and n * 1 s\n```\n";
    let mut random = Random(20_261_127);
    let mut left = amount("BENCHLEAF_LINES", 600);
    let mut counts = [0, 0];
    for round in 0.. {
        let arguments: &[&str] = if round % 4 == 3 { &["--range", "--samples", "100"] } else { &[] };
        let lines = left.min(if arguments.is_empty() { 400 } else { 12 });
        if lines == 0 {
            break;
        }
        left -= lines;
        let mut input = Vec::new();
        let mut sent: Vec<String> = Vec::new();
        for i in 0..lines {
            let hostile = hostile(&mut random);
            sent.push(String::from_utf8_lossy(&hostile[..hostile.len().min(300)]).into_owned());
            input.extend(hostile);
            let _ = write!(input, "\n{{\"C\":{}e-9}}\n", i + 1);
        }
        // The last one may have no end.
        if random.below(2) == 0 {
            input.pop();
        }
        let bench = Bench::with(&[("x.md", SHEET)]);
        let mut child = started(&bench, arguments);
        let mut stdin = child.stdin.take().unwrap();
        let mut pieces = Random(random.0);
        let writer = std::thread::spawn(move || {
            // Lines in several goes, and many in one.
            let mut rest = input.as_slice();
            while !rest.is_empty() {
                let (piece, after) = rest.split_at(rest.len().min(1 + pieces.below(3000)));
                stdin.write_all(piece).unwrap();
                rest = after;
            }
        });
        let output = child.wait_with_output().unwrap();
        writer.join().unwrap();
        assert_eq!(String::from_utf8_lossy(&output.stderr), "");
        assert!(matches!(output.status.code(), Some(0 | 1)), "{:?}", output.status);
        let text = String::from_utf8(output.stdout).unwrap();
        let answers: Vec<Json> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        assert_eq!(answers.len(), 2 * lines, "{sent:?}");
        for (i, pair) in answers.chunks(2).enumerate() {
            let capacitance: f64 = format!("{}e-9", i + 1).parse().unwrap();
            assert_eq!(pair[1]["values"]["t"].as_f64(), Some(10e3 * capacitance), "after {}", sent[i]);
            assert!(pair[0]["values"].is_object() != pair[0]["error"].is_object(), "{} to {}", pair[0], sent[i]);
            counts[usize::from(pair[0]["error"].is_object())] += 1;
        }
    }
    assert!(counts.iter().all(|count| *count > 50), "{counts:?}");
}

/// A line of changes that is sound, odd, or none at all.
fn hostile(random: &mut Random) -> Vec<u8> {
    const NUMBERS: &[&str] = &[
        "1e308",
        "-1e308",
        "1.7976931348623157e308",
        "5e-324",
        "1e400",
        "-1e-400",
        "-0.0",
        "0",
        "1",
        "1e-12",
        "123456789012345678901234567890",
        "NaN",
        "Infinity",
        "-Infinity",
        "inf",
        "0x10",
        "01",
        "1.",
        ".5",
        "1e",
        "+1",
        "null",
        "true",
        "9007199254740993",
        "2",
    ];
    const TEXTS: &[&str] = &[
        "1e308 kΩ",
        "1e309 Ω",
        "4k7",
        "4k7J",
        "10 kΩ ± 200 %",
        "10 kΩ ± 1e308 %",
        "10 kΩ ± -5 %",
        "min 1 Ω typ 2 Ω max 3 Ω",
        "min 3 Ω typ 2 Ω max 1 Ω",
        "10 kΩ -1 % +1 %",
        "NaN Ω",
        "inf Ω",
        "",
        " ",
        "Ω",
        "10",
        "10 V",
        "1 µF ± 5 % normal(2)",
        "22u",
        "5 °C",
        "1 kΩ # x",
        "1 kΩ\\n2 kΩ",
        "\\u0000",
        "\\ud800",
        "\\u202e1 Ω",
        "1 kΩ ± 5 % triangular",
        "0 Ω",
        "-1 kΩ",
        "1e-320 F",
        "solve R",
        "R",
        "((((((((1))))))))",
        "\u{0}",
        "1\u{a0}kΩ",
        "1 µF",
    ];
    let name = random.one_of(&["R", "C", "n", "R", "C", "t", "m", "best", "R_s", "", "r", "µ", "\\u0052", "\\ud83d"]);
    let value = match random.below(3) {
        0 => random.one_of(NUMBERS).to_owned(),
        1 => format!("\"{}\"", random.one_of(TEXTS)),
        _ => format!("{:?}", (1 + random.below(1_000_000)) as f64 * [1e-9, 1e-3, 1.0, 1e3][random.below(4)]),
    };
    let line = format!("{{\"{name}\":{value}}}");
    let mut line = match random.below(24) {
        0 => format!("{{\"{name}\":{value},\"{}\":{value}}}", random.one_of(&["R", "C", "n"])),
        1 => "[".repeat(1 << random.below(18)),
        2 => "{\"R\":".repeat(1 << random.below(14)),
        3 => format!("{{\"{}\":1}}", "R".repeat(1 << random.below(12))),
        4 => line[..line.char_indices().nth(random.below(line.len())).map_or(0, |(at, _)| at)].to_owned(),
        5 => format!("{line}{line}"),
        6 => format!(" \t{line} \r"),
        7 => String::new(),
        8 => "{}".to_owned(),
        _ => line,
    }
    .into_bytes();
    if random.below(12) == 0 {
        let at = random.below(line.len());
        let byte = [0xff, 0x80, 0, 0x7f, b'"', b'\\', b'{', 0xed][random.below(8)];
        line.insert(at, byte);
    }
    if random.below(150) == 0 {
        line.resize([1 << 20, (1 << 20) + 1, 3 << 20][random.below(3)], b' ');
    }
    line
}
