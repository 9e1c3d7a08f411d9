//! Worksheets that use one another, as files: every command reads them, and a page carries what it needs.

use crate::bench::Bench;

const BASE: &str = "# The base\n\n```calc\nR = 100 kΩ ± 10 % \"timing resistor\"\nt [s] = R * 10 µF \"pulse\"\n```\n";
const TOP: &str = "# The top\n\n```calc\nuse \"base.md\": t, R\nratio [µF] = t / R\nkeep t below 1.2 s\n```\n\n```exercise e\nask \"Twice?\"\nanswer [s] = 2 * t within 1 %\n```\n";

#[test]
fn a_page_carries_the_worksheets_that_it_uses() {
    let bench = Bench::with(&[("base.md", BASE), ("top.md", TOP)]);
    bench.run(&["render", "top.md", "-o", "out"]).exits(0);
    let page = bench.read("out/top.html");
    assert!(page.contains("<a href=\"base.html\">The base</a>"), "{page}");
    // Without the files beside it, and though they are others by now.
    bench.put("base.md", BASE.replace("100 kΩ", "50 kΩ"));
    bench.run(&["verify", "out/top.html"]).exits(0);
    assert_eq!(bench.run(&["source", "out/top.html"]).out, TOP);
    let differs = bench.run(&["diff", "out/top.html", "top.md"]);
    assert!(differs.out.contains('t') && differs.out.contains("0.500"), "{}", differs.out);
    // A page that was changed by hand is found out.
    bench.put("out/top.html", page.replace("R = 100 kΩ", "R = 120 kΩ"));
    bench.run(&["verify", "out/top.html"]).exits(1);
}

#[test]
fn a_change_in_a_used_worksheet_sets_the_pages_anew_that_depend_on_it() {
    let apart = "# Apart\n\n```calc\nx = 1 V\n```\n";
    let bench = Bench::with(&[("sheets/base.md", BASE), ("sheets/top.md", TOP), ("sheets/apart.md", apart)]);
    bench.run(&["render", "sheets", "-o", "out"]).exits(0);
    let before = ["base", "top", "apart"].map(|name| bench.read(&format!("out/{name}.html")));
    bench.put("sheets/base.md", BASE.replace("100 kΩ", "130 kΩ"));
    bench.run(&["render", "sheets", "-o", "out"]).exits(0);
    let after = ["base", "top", "apart"].map(|name| bench.read(&format!("out/{name}.html")));
    assert!(before[0] != after[0] && before[1] != after[1] && before[2] == after[2]);
    assert!(after[1].contains("data-status=\"broken\""), "1.3 s is more than 1.2 s");
}

#[test]
fn every_command_takes_values_from_other_worksheets() {
    let answers = "learner,exercise,answer\nA,e,2 s\n";
    let bench = Bench::with(&[("base.md", BASE), ("top.md", TOP), ("answers.csv", answers)]);
    bench.run(&["check", "top.md"]).exits(0);
    let json = bench.run(&["check", "--json", "top.md"]).out;
    assert!(json.contains("\"from\":{\"file\":\"base.md\",\"name\":\"t\"}"), "{json}");
    bench.run(&["parts", "top.md"]).exits(0);
    let marked = bench.run(&["mark", "top.md", "answers.csv"]).exits(0);
    assert!(marked.out.contains("A,e,2 s,right"), "{}", marked.out);
    std::fs::remove_file(bench.path("base.md")).unwrap();
    let missing = bench.run(&["check", "top.md"]).exits(2);
    assert!(missing.err.contains("there is no worksheet `base.md`"), "{}", missing.err);
}
