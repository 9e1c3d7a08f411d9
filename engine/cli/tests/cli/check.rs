//! `benchleaf check`: exit status, words and JSON.

use serde_json::Value;

use crate::bench::{AT_RISK, BROKEN, Bench, ERROR, HOLDS};

#[test]
fn the_exit_status_says_what_was_found() {
    let bench = Bench::with(&[("holds.md", HOLDS), ("risk.md", AT_RISK), ("broken.md", BROKEN), ("error.md", ERROR)]);
    for (arguments, status) in [
        (&["check", "holds.md"][..], 0),
        (&["check", "holds.md", "--strict"], 0),
        (&["check", "risk.md"], 0),
        (&["check", "risk.md", "--strict"], 1),
        (&["check", "--strict", "--json", "risk.md"], 1),
        (&["check", "broken.md"], 1),
        (&["check", "error.md"], 2),
        (&["check", "holds.md", "broken.md"], 1),
        (&["check", "broken.md", "error.md", "holds.md"], 2),
        (&["check", "missing.md", "broken.md", "error.md"], 3),
        (&["--samples", "100", "check", "holds.md"], 0),
        (&["check", "holds.md", "--seed", "7"], 0),
    ] {
        bench.run(arguments).exits(status);
    }
}

#[test]
fn a_wrong_command_exits_3_and_an_answer_0() {
    let bench = Bench::with(&[("holds.md", HOLDS)]);
    for arguments in [
        &[][..],
        &["frobnicate"],
        &["check"],
        &["render"],
        &["new"],
        &["check", "--frobnicate", "holds.md"],
        &["check", "holds.md", "--samples", "0"],
        &["check", "holds.md", "--samples", "many"],
        &["check", "holds.md", "--seed", "-1"],
        &["render", "holds.md", "-o"],
    ] {
        let run = bench.run(arguments).exits(3);
        assert!(run.out.is_empty() && !run.err.is_empty(), "{arguments:?}: {run:?}");
    }
    for arguments in [&["--help"][..], &["-h"], &["--version"], &["check", "--help"], &["render", "-h"]] {
        let run = bench.run(arguments).exits(0);
        assert!(run.err.is_empty() && !run.out.is_empty(), "{arguments:?}: {run:?}");
    }
}

#[test]
fn a_call_without_arguments_leads_through_the_first_steps() {
    let bench = Bench::with(&[]);
    let reported = bench.run(&[]).exits(3).err;
    assert!(reported.lines().count() < 10, "{reported}");
    for line in reported.lines().filter_map(|line| line.trim().strip_prefix("benchleaf ")) {
        let command: Vec<&str> = line.split("  ").next().unwrap().split(' ').collect();
        bench.run(&command).exits(0);
    }
    assert!(bench.path("pump.md").is_file() && bench.path("pump.html").is_file(), "{reported}");
}

#[test]
fn every_requirement_is_reported_in_words() {
    let bench = Bench::with(&[("a.md", HOLDS), ("b.md", AT_RISK), ("c.md", BROKEN)]);
    let run = bench.run(&["check", "a.md", "b.md", "c.md"]).exits(1);
    let lines: Vec<&str> = run.out.lines().collect();
    for (line, parts) in [
        (0, &["a.md: 1 requirement holds, 0 at risk, 0 broken"][..]),
        (1, &["  holds", "line 5: supply: 5.00 V", "wanted at most 6.00 V", "margin 17 %"]),
        (3, &["  at risk", "line 5", "(4.75 V to 5.25 V)", "margin 2.0 %, at worst −2.9 %"]),
        (
            4,
            &[
                "           Nominally it holds",
                "Most to blame: `V`. It fails in ",
                "It would hold if `V` stayed within",
            ],
        ),
        (6, &["  broken", "margin −25 %, at worst −31 %"]),
        (7, &["           The nominal value", "is already 25 % above the upper limit"]),
        (8, &["3 worksheets: 1 requirement holds, 1 at risk, 1 broken"]),
    ] {
        for part in parts {
            assert!(lines[line].contains(part), "no `{part}` in line {line} of {}", run.out);
        }
    }
}

#[test]
fn a_condition_that_is_kept_is_reported_as_true_or_false() {
    let sheet = "```calc\nV = 5 V ± 5 %\nfits = V < 5.1 V\nkeep fits \"supply fits\"\n```\n";
    let bench = Bench::with(&[("a.md", sheet)]);
    bench.run(&["check", "a.md"]).exits(0).says(&[
        "  at risk  line 4: supply fits: true, wanted true\n",
        "Nominally it is true, but not everywhere within the tolerances. Most to blame: `V`.",
    ]);
}

#[test]
fn an_error_is_drawn_with_its_line_and_the_others_are_still_checked() {
    let bench = Bench::with(&[("error.md", ERROR), ("holds.md", HOLDS)]);
    let run = bench.run(&["check", "error.md", "holds.md"]).exits(2);
    run.warns(&["E-unknown-name", "error.md:5:6", "keep W below 6 V", "help:"])
        .says(&["holds.md: 1 requirement holds"]);
}

#[test]
fn json_is_one_object_a_worksheet_in_the_order_asked_for() {
    let bench = Bench::with(&[("b.md", AT_RISK), ("a.md", HOLDS), ("e.md", ERROR), ("empty.md", "")]);
    let run =
        bench.run(&["check", "--json", "b.md", "empty.md", "a.md", "e.md"]).exits(3).warns(&["`empty.md` is empty"]);
    let objects: Vec<Value> = run.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let names: Vec<&Value> = objects.iter().map(|object| &object["worksheet"]).collect();
    assert_eq!(names, ["b.md", "a.md", "e.md"]);
    let mut fields: Vec<&String> = objects[0].as_object().unwrap().keys().collect();
    fields.sort_unstable();
    let mut wanted = ["worksheet", "engine", "language", "values", "keeps", "cautions", "exercises", "problems"];
    wanted.sort_unstable();
    assert_eq!(fields, wanted);

    assert_eq!(objects[0]["engine"], env!("CARGO_PKG_VERSION"));
    assert_eq!(objects[0]["language"], 1);
    let value = &objects[0]["values"][0];
    assert_eq!((&value["name"], &value["line"], &value["si"]), (&"V".into(), &4.into(), &5.0.into()));
    assert_eq!((&value["unit"], &value["shown"]), (&"V".into(), &"5 V".into()));
    assert_eq!(value["dimension"], "L^2 M T^-3 I^-1");
    assert_eq!(value["worst"].as_array().map(Vec::len), Some(2));
    let keep = &objects[0]["keeps"][0];
    assert_eq!((&keep["status"], &keep["line"], &keep["label"]), (&"at-risk".into(), &5.into(), &"supply".into()));
    assert!(keep["margin"].as_f64().unwrap() > 0.0 && keep["margin_worst"].as_f64().unwrap() < 0.0, "{keep}");
    assert_eq!(keep["blame"], "V");
    let problem = &objects[2]["problems"][0];
    assert_eq!((&problem["code"], &problem["severity"]), (&"E-unknown-name".into(), &"error".into()));
    assert_eq!((&problem["line"], &problem["column"]), (&5.into(), &6.into()));
}

#[test]
fn problems_of_a_worksheet_are_in_the_json_and_not_drawn_beside_it() {
    let bench = Bench::with(&[("error.md", ERROR)]);
    let run = bench.run(&["check", "--json", "error.md"]).exits(2);
    assert_eq!(run.err, "");
}

#[test]
fn a_thousand_worksheets_keep_their_order() {
    let bench = Bench::new();
    for number in 0..1000 {
        bench.put(&format!("sheets/{number:03}.md"), HOLDS);
    }
    let run = bench.run(&["check", "--json", "sheets"]).exits(0);
    let names: Vec<String> = run
        .out
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap()["worksheet"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(names.len(), 1000);
    assert!(names.is_sorted());
    assert_eq!(run.err, "", "no bar where nobody watches");
}
