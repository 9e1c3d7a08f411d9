//! `benchleaf diff`: what differs between worksheets and pages, and what got worse.

use serde_json::{Value as Json, json};

use crate::bench::{Bench, ERROR};

const OLD: &str = "# A pulse\n\n```calc\nR = 910 kΩ ± 5 %\nC = 22 µF ± 20 %\nt [s] = R * C * ln(3)\nspare = 1 V\nkeep t below 30 s \"no flood\"\n\
    keep R above 1 kΩ\n```\n\n```warning when t > 40 s\nFlood.\n```\n\n```bench t\n2026-11-25: 23.1 s, 23.3 s\n```\n";

#[test]
fn what_is_the_same_differs_in_nothing() {
    let bench = Bench::with(&[("a.md", OLD)]);
    // Text, blanks and lines above are no difference.
    bench.put(
        "b.md",
        OLD.replace("# A pulse\n", "# Another title\n\nProse.\n")
            .replace("R = 910 kΩ ± 5 %", "R = 910 kΩ  ± 5 %  # chosen"),
    );
    bench.run(&["render", "a.md"]).exits(0);
    for (old, new) in [("a.md", "a.md"), ("a.md", "b.md"), ("a.md", "a.html"), ("a.html", "b.md"), ("a.html", "a.html")]
    {
        bench.run(&["diff", old, new]).exits(0).says(&["nothing differs"]);
    }
}

#[test]
fn a_larger_capacitor_makes_it_worse_and_a_smaller_one_better() {
    let bench = Bench::with(&[("a.md", OLD)]);
    bench.put("b.md", OLD.replace("22 µF", "47 µF").replace("spare = 1 V\n", "other = 2 V\n"));
    bench.run(&["render", "b.md"]).exits(0);
    for new in ["b.md", "b.html"] {
        bench.run(&["diff", "a.md", new]).exits(1).says(&[
            "4 values, 1 requirement, 1 safety note, 1 day of readings differ",
            "value    C: 22 µF ± 20 % → 47 µF ± 20 %",
            "value    t: 22.0 s (16.7 s to 27.7 s) → 47.0 s",
            "value    other: new, 2 V",
            "value    spare: gone, was 1 V",
            "worse    no flood: holds (margin 27 %, at worst 7.6 %) → broken",
            "note     warning when t > 40 s: quiet → shown at t = 5",
            "bench    t on 2026-11-25: mean 23.2000 s, E_n 0.2",
        ]);
    }
    bench.run(&["diff", "b.html", "a.md"]).exits(0).says(&["verdict  no flood: broken"]);
    let answer: Json = serde_json::from_str(&bench.run(&["diff", "--json", "a.md", "b.md"]).exits(1).out).unwrap();
    assert_eq!((&answer["old"], &answer["new"], &answer["worse"]), (&json!("a.md"), &json!("b.md"), &json!(true)));
    assert_eq!(answer["values"][0]["name"], "C");
    assert_eq!((&answer["values"][0]["old"]["si"], &answer["values"][0]["new"]["si"]), (&json!(22e-6), &json!(47e-6)));
    assert_eq!(answer["keeps"][0]["new"]["status"], "broken");
    assert_eq!(answer["notes"][0]["old"]["shown"], false);
}

#[test]
fn parts_and_builds_are_compared_too() {
    let old = "```parts\nR = 10 kΩ ± 5 %, 0.25 W, 0.10 EUR \"resistor\" @R1\n\"timer\" 0.40 EUR @U1\n\"tool\" 9 EUR once\n```\n\
        ```calc\nI [mA] = 5 V / R\nkeep I below 1 mA \"small\"\n```\n\
        ```builds\nbuild \"a\"\nbuild \"b\": R = 20 kΩ, without @U1\ncompare I, cost(10)\n```\n";
    let bench = Bench::with(&[("a.md", old)]);
    let new = old.replace("0.25 W, 0.10 EUR", "0.5 W, 0.12 EUR, 10+ 0.10 EUR").replace("R = 20 kΩ", "R = 4 kΩ");
    bench.put("b.md", new.replace("\"tool\" 9 EUR once\n", ""));
    bench.run(&["diff", "a.md", "b.md"]).exits(1).says(&[
        "part     R: 10 kΩ ± 5 %, 0.25 W, 0.10 EUR, “resistor”, at R1 → 10 kΩ ± 5 %, 0.5 W, 0.12 EUR, 10+ 0.10 EUR, “resistor”, at R1",
        "part     tool: gone, was 9.00 EUR, once, “tool”",
        "build    b, I: 0.250 mA (",
        "worse    b, small: holds",
        "cost of  1: 9.50 EUR → 0.52 EUR",
        "cost of  b, 10: 10.00 EUR → 1.00 EUR",
    ]);
    let answer: Json = serde_json::from_str(&bench.run(&["diff", "--json", "a.md", "b.md"]).exits(1).out).unwrap();
    assert_eq!(answer["parts"][0]["new"]["prices"], json!([[1, "0.12 EUR"], [10, "0.10 EUR"]]));
    assert_eq!(answer["build_keeps"][0]["old"]["proven"], true);
}

#[test]
fn numbers_that_look_alike_are_distinguished() {
    let bench =
        Bench::with(&[("a.md", "```calc\nx [V] = 1 V / 3\n```\n"), ("b.md", "```calc\nx [V] = 1.00001 V / 3\n```\n")]);
    bench.run(&["diff", "a.md", "b.md"]).exits(0).says(&["1 value differs", "x: 0.33333 V → 0.33334 V"]);
}

#[test]
fn what_cannot_be_compared_is_told() {
    let bench = Bench::with(&[("a.md", OLD), ("wrong.md", ERROR), ("x.html", "<p>mine</p>\n")]);
    bench.run(&["diff", "a.md", "wrong.md"]).exits(2).warns(&["wrong.md: the worksheet holds 1 error"]);
    bench.run(&["diff", "a.md", "none.md"]).exits(3);
    bench.run(&["diff", "x.html", "a.md"]).exits(3).warns(&["no page of Benchleaf"]);
    bench.run(&["diff", "a.md"]).exits(3);
}
