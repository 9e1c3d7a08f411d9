//! `benchleaf mark`: tables of answers, good and bad.

use crate::bench::{Bench, ERROR, HOLDS};

const SHEET: &str = "# Pulse\n\n```calc\nR_t = 910 kΩ\nt_on [s] = R_t * 22 µF * ln(3)\n```\n\n```exercise pulse\nask \"How long?\"\n\
    answer [s] = t_on within 2 %\nslip \"used ln 2 for ln 3\" = R_t * 22 µF * ln(2)\npoints 2\n```\n\n```exercise own\n\
    ask \"How long with {R_t}?\"\nanswer [s] = t_on\nvary R_t in 100 kΩ … 1 MΩ E24\n```\n";

fn bench(table: &str) -> Bench {
    Bench::with(&[("pulse.md", SHEET), ("a.csv", table)])
}

/// Few simulated builds are enough to see that a value varies.
#[test]
fn a_histogram_is_no_error_of_the_worksheet() {
    let drawn = SHEET.replace("R_t = 910 kΩ", "R_t = 910 kΩ ± 5 %") + "\n```plot\nspread of t_on\n```\n";
    let bench = Bench::with(&[("a.md", &drawn), ("a.csv", "learner,exercise,answer\nAda,pulse,22 s\n")]);
    for arguments in [&["mark", "a.md", "a.csv"][..], &["parts", "a.md"]] {
        assert_eq!(bench.run(arguments).exits(0).err, "");
    }
}

/// Everything below the first line.
fn below(text: &str) -> Vec<&str> {
    text.lines().skip(1).collect()
}

#[test]
fn answers_come_back_with_finding_feedback_and_points() {
    let run = bench("learner,exercise,answer\nAda,pulse,22 s\nBo,pulse,13.88 s\nCy,pulse,\"22,0 s\"\n")
        .run(&["mark", "pulse.md", "a.csv"])
        .exits(0);
    assert_eq!(run.err, "");
    assert_eq!(run.out.lines().next(), Some("learner,exercise,answer,finding,feedback,points"));
    assert_eq!(
        below(&run.out),
        [
            "Ada,pulse,22 s,right,Right.,2",
            "Bo,pulse,13.88 s,slip,A slip that others make too: used ln 2 for ln 3.,0",
            "Cy,pulse,\"22,0 s\",decimal-comma,\"A decimal is written with a point here, not with a comma: `22.0 s`.\",0"
        ]
    );
}

#[test]
fn columns_come_in_any_order_and_more_of_them_are_kept() {
    let run = bench("\u{feff}form, Answer ,LEARNER,exercise\r\n3b,22 s,Ada,pulse\r\n")
        .run(&["mark", "pulse.md", "a.csv"])
        .exits(0);
    assert_eq!(below(&run.out), ["3b,22 s,Ada,pulse,right,Right.,2"]);
    for comma in [';', '\t'] {
        let table = format!("learner{comma}exercise{comma}answer\nAda{comma}pulse{comma}22 s\n");
        let run = bench(&table).run(&["mark", "pulse.md", "a.csv"]).exits(0);
        assert_eq!(below(&run.out), [format!("Ada{comma}pulse{comma}22 s{comma}right{comma}Right.{comma}2")]);
    }
}

#[test]
fn a_bad_row_is_reported_with_its_line_and_kept() {
    let mut table = b"learner,exercise,answer\nAda,pulse,22 s\nAda,pulse,22,0 s\nBo\n\n,own,3 s\n,pulse,22 s\nCy,puls,22 s\nCy,,22 s\n".to_vec();
    table.extend_from_slice(b"D\xe9,pulse,22 s\nEd,pulse,\n");
    let bench = Bench::with(&[("pulse.md", SHEET)]);
    bench.put("a.csv", &table);
    let run = bench.run(&["mark", "pulse.md", "a.csv"]).exits(0);
    let lines_of_windows = String::from_utf8_lossy(&table).replace('\n', "\r\n");
    bench.put("w.csv", lines_of_windows);
    bench
        .run(&["mark", "pulse.md", "w.csv"])
        .exits(0)
        .warns(&["w.csv, line 4: not marked", "w.csv, line 9: not marked"]);
    let rows = below(&run.out);
    assert_eq!(rows.len(), 9, "{}", run.out);
    assert_eq!(rows[0], "Ada,pulse,22 s,right,Right.,2");
    assert!(rows[1].starts_with("Ada,pulse,\"22,0 s\",not-marked,") && rows[1].ends_with("\","), "{}", rows[1]);
    assert!(rows[2].starts_with("Bo,,,not-marked,"), "{}", rows[2]);
    assert_eq!(rows[4], ",pulse,22 s,right,Right.,2", "no learner is needed where the numbers depend on none");
    assert!(rows[7].starts_with("D\u{fffd},pulse,22 s,not-marked,"), "{}", rows[7]);
    assert!(rows[8].starts_with("Ed,pulse,,unreadable,"), "{}", rows[8]);
    run.warns(&[
        "a.csv, line 3: not marked: it has 4 cells where the first line has 3; a cell that holds `,` stands between quotes",
        "a.csv, line 4: not marked: it has 1 cell where the first line has 3",
        "a.csv, line 6: not marked: it names no learner, and the numbers of `own` depend on one",
        "a.csv, line 8: not marked: there is no exercise `puls`; did you mean `pulse`?",
        "a.csv, line 9: not marked: it names no exercise",
        "a.csv, line 10: not marked: it is not UTF-8 text",
    ]);
}

#[test]
fn many_bad_rows_are_counted_and_not_listed_one_by_one() {
    let table = format!("learner,exercise,answer\n{}", "Ada,x,1\n".repeat(50));
    let run = bench(&table).run(&["mark", "pulse.md", "a.csv"]).exits(0).warns(&["30 more rows were not marked."]);
    assert_eq!(run.err.lines().count(), 21);
}

#[test]
fn a_folder_gets_the_table_and_a_page_and_they_can_be_marked_again() {
    let bench =
        bench("learner,exercise,answer\nAda,pulse,22 s\nADA,pulse,22 ms\nBo,pulse,13.88 s\nCy,pulse,-22 s\nDi,x,1\n");
    let run = bench.run(&["mark", "pulse.md", "a.csv", "-o", "out"]).exits(0);
    run.says(&["a.marked.csv: 4 answers marked, 1 right; 1 row not marked", "a.marks.html: 2 exercises"]);
    let page = bench.read("out/a.marks.html");
    for part in [
        "<p class=\"summary\">Pulse</p>",
        "<td class=\"right\">1 (33 %)</td>",
        ">used ln 2 for ln 3<",
        "1 row was not marked",
        "Nobody has answered.",
    ] {
        assert!(page.contains(part), "{part} is missing: {page}");
    }
    let table = bench.read("out/a.marked.csv");
    assert!(table.contains("Cy,pulse,'-22 s,sign,"), "{table}");
    // The same again replaces them; marked once more, the table stays as it is.
    bench.run(&["mark", "pulse.md", "a.csv", "-o", "out"]).exits(0);
    assert_eq!(bench.read("out/a.marked.csv"), table);
    let again = bench.run(&["mark", "pulse.md", "out/a.marked.csv"]).exits(0);
    assert_eq!(again.out, table);
    assert_eq!(bench.files(), ["a.csv", "out/a.marked.csv", "out/a.marks.html", "out/a.totals.csv", "pulse.md"]);
}

#[test]
fn what_stands_in_the_way_is_left_alone() {
    let bench = bench("learner,exercise,answer\nAda,pulse,22 s\n");
    bench.put("out/a.marked.csv", "mine\n");
    bench.run(&["mark", "pulse.md", "a.csv", "-o", "out"]).exits(3).warns(&["stands in the way", "Move it away"]);
    assert_eq!(bench.read("out/a.marked.csv"), "mine\n");
    bench.put("out/b.marks.html", "<p>mine");
    bench.put("b.csv", "learner,exercise,answer\nAda,pulse,22 s\n");
    bench.run(&["mark", "pulse.md", "b.csv", "-o", "out"]).exits(3).warns(&["stands in the way"]);
    assert_eq!(bench.read("out/b.marks.html"), "<p>mine");
}

#[test]
fn the_exit_status_says_what_was_wrong() {
    let bench = Bench::with(&[
        ("pulse.md", SHEET),
        ("error.md", &format!("{ERROR}\n{SHEET}")),
        ("none.md", HOLDS),
        ("a.csv", "learner,exercise,answer\nAda,pulse,22 s\n"),
        ("no.csv", "learner,answer\nAda,22 s\n"),
        ("two.csv", "learner,answer,exercise,Answer\nAda,22 s,pulse,1\n"),
        ("empty.csv", ""),
        ("utf16.csv", ""),
    ]);
    bench.put("utf16.csv", b"\xff\xfel\0e\0");
    for (arguments, status, reported) in [
        (&["mark", "pulse.md", "a.csv"][..], 0, ""),
        (&["mark", "error.md", "a.csv"], 2, "E-unknown-name"),
        (&["mark", "none.md", "a.csv"], 3, "holds no exercise"),
        (&["mark", "pulse.md", "missing.csv"], 3, "does not exist"),
        (&["mark", "missing.md", "a.csv"], 3, "does not exist"),
        (&["mark", ".", "a.csv"], 3, "not named as a worksheet"),
        (&["mark", "pulse.md", "no.csv"], 3, "has no column `exercise`"),
        (&["mark", "pulse.md", "two.csv"], 3, "has two columns `answer`"),
        (&["mark", "pulse.md", "empty.csv"], 3, "has no column `learner`"),
        (&["mark", "pulse.md", "utf16.csv"], 3, "is not UTF-8 text"),
        (&["mark", "pulse.md"], 3, "Usage"),
        (&["mark", "pulse.md", "a.csv", "-o", "a.csv"], 3, "a file where a folder is wanted"),
    ] {
        let run = bench.run(arguments).exits(status).warns(&[reported]);
        assert_eq!(run.out.contains("Ada,pulse,22 s,right"), status != 3, "{arguments:?}: {}", run.out);
    }
}

#[test]
fn each_learner_is_marked_by_numbers_of_their_own() {
    let learners: Vec<String> = (0..200).map(|n| format!("{n},own,11.36 s\n")).collect();
    let run =
        bench(&format!("learner,exercise,answer\n{}", learners.concat())).run(&["mark", "pulse.md", "a.csv"]).exits(0);
    let findings: std::collections::BTreeSet<&str> =
        run.out.lines().skip(1).map(|line| line.split(',').nth(3).unwrap()).collect();
    assert!(findings.contains("right") && findings.contains("wrong"), "{findings:?}");
}

#[test]
fn each_learner_has_a_total_and_the_class_a_spread() {
    let bench = bench(
        "learner,exercise,answer\nAda,pulse,1 s\n=Bo,pulse,22 s\n ada ,pulse,22 s\nCy,pulse,9 s\nCy,pulse,nonsense\n",
    );
    let run = bench.run(&["mark", "pulse.md", "a.csv", "-o", "out"]).exits(0);
    // Totals 2, 2, 0 of 3: squares 4/9 + 4/9 + 16/9 over 2.
    run.says(&["a.totals.csv: 3 learners: mean 1.33 of 3 points, standard deviation 1.15, quartiles 1, 2 and 2"]);
    let totals = "learner,pulse,own,total,out of\nAda,2,0,2,3\n'=Bo,2,0,2,3\nCy,0,0,0,3\n";
    assert_eq!(bench.read("out/a.totals.csv"), totals);
    let page = bench.read("out/a.marks.html");
    for part in ["The class is 3 learners", "<td class=\"right\">1.33</td>", "<td class=\"right\">1.15</td>"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(!page.contains("Ada"));
    bench.run(&["mark", "pulse.md", "a.csv", "-o", "out"]).exits(0);
    bench.put("out/a.totals.csv", "learner,total\n");
    bench.run(&["mark", "pulse.md", "a.csv", "-o", "out"]).exits(3).warns(&["stands in the way"]);
}
