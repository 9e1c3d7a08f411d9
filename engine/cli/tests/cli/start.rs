//! `benchleaf new`: the starter is a worksheet that works, and nothing is ever written over.

use serde_json::Value;

use crate::bench::Bench;

#[test]
fn a_started_worksheet_checks_and_renders() {
    // Needs the whole evaluator: ranges, functions of several givens, plots and conditions of notes.
    let bench = Bench::new();
    bench.run(&["new", "lamp-driver"]).exits(0).says(&["Wrote lamp-driver.md", "benchleaf render lamp-driver.md"]);
    let run = bench.run(&["check", "--strict", "--json", "lamp-driver.md"]).exits(0);
    let object: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(object["problems"].as_array().map(Vec::len), Some(0), "{object}");
    let statuses: Vec<&Value> = object["keeps"].as_array().unwrap().iter().map(|keep| &keep["status"]).collect();
    assert_eq!(statuses, ["holds", "holds"]);
    assert_eq!(object["cautions"][0]["shown"], false);
    let value = |name: &str| {
        let found = object["values"].as_array().unwrap().iter().find(|value| value["name"] == name);
        found.unwrap_or_else(|| panic!("no {name} in {object}")).clone()
    };
    // Worked by hand: (5 V - 2.1 V) / 220 Ω; least (4.75 V - 2.4 V) / 231 Ω, greatest (5.25 V - 1.9 V) / 209 Ω.
    let near = |found: &Value, wanted: f64| assert!((found.as_f64().unwrap() / wanted - 1.0).abs() < 1e-9, "{found}");
    let current = value("I_f");
    near(&current["si"], 2.9 / 220.0);
    near(&current["worst"][0], 2.35 / 231.0);
    near(&current["worst"][1], 3.35 / 209.0);
    // 40 °C and the greatest heat over the greatest resistance to air.
    near(&value("T_r")["worst"][1], 273.15 + 40.0 + 3.35 * 3.35 / 209.0 * 216.0);

    let run = bench.run(&["render", "lamp-driver.md"]).exits(0);
    assert_eq!(run.err, "");
    let page = bench.read("lamp-driver.html");
    for part in ["Lamp driver", "13.2", "<svg"] {
        assert!(page.contains(part), "no `{part}` in the page");
    }
}

#[test]
fn nothing_is_written_over() {
    let bench = Bench::with(&[("lamp.md", "mine")]);
    bench.run(&["new", "lamp"]).exits(3).warns(&["`lamp.md` exists already", "Choose another name"]);
    bench.run(&["new", "lamp.md"]).exits(3);
    assert_eq!(bench.read("lamp.md"), "mine");
    assert_eq!(bench.files(), ["lamp.md"]);
}

#[test]
fn names_are_checked() {
    let bench = Bench::new();
    for name in ["a b", ".hidden", "_draft", "README", "con", "x/", "a:b", ".."] {
        bench.run(&["new", "--", name]).exits(3).warns(&["is no name for a worksheet", "Begin with a letter"]);
    }
    bench.run(&["new", "nowhere/lamp"]).exits(3).warns(&["there is no folder `nowhere`"]);
    assert_eq!(bench.files(), [""; 0]);
}

#[test]
fn a_title_is_set_and_checked() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("sheets")).unwrap();
    bench.run(&["new", "sheets/lamp", "--title", r#"A "bright" \ lamp"#]).exits(0);
    assert!(bench.read("sheets/lamp.md").contains(r#"title = "A \"bright\" \\ lamp""#));
    let summary = r#"summary = "A \"bright\" \\ lamp: still the example, "#;
    assert!(bench.read("sheets/lamp.md").contains(summary));
    bench.run(&["new", "x/y"]).exits(3).warns(&["there is no folder `x`", "mkdir x"]);
    bench.run(&["new", "sheets/lamp.md/y"]).exits(3).warns(&["there is no folder `sheets/lamp.md`", "is a file"]);
    bench.run(&["new", "other", "--title", " "]).exits(3).warns(&["the title is empty"]);
    bench.run(&["new", "other", "--title", "a\nb"]).exits(3).warns(&["the title holds a line end"]);
    assert!(!bench.path("other.md").exists());
}
