//! What a page's engine remembers changes no number: givens are changed one after the other, and after each change every
//! number is that of an evaluation which remembers nothing, to the last bit.

#![allow(clippy::unwrap_used)]

use std::{fs, path::Path};

use benchleaf_core::{
    Options,
    change::{Change, change, givens},
    evaluate_worksheet,
    results::Evaluation,
    sheet::Worksheet,
};
use benchleaf_web::write_bits;

#[test]
fn what_is_remembered_changes_no_number() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../worksheets");
    let mut changed_something = 0;
    for name in ["timing", "regulator", "motor-and-supply", "whole-mister"] {
        let source = fs::read_to_string(folder.join(format!("{name}.md"))).unwrap();
        let worksheet = Worksheet::new(&source).0;
        let fresh = evaluated(&worksheet, false);
        let before = bits(&fresh);
        assert_eq!(bits(&evaluated(&worksheet, true)), before);
        for given in givens(&fresh.sheet, &source) {
            let unit = given.quantity.unit.as_ref().map_or("", |unit| unit.item.as_str());
            // Another value, then one with a tolerance, then what the author wrote.
            for text in
                [format!("{} {unit}", given.quantity.number * 1.1), format!("{} {unit} ± 3 %", given.quantity.number)]
            {
                let changed = change(&worksheet, &[Change { name: given.name.to_owned(), text }]);
                let again = bits(&evaluated(&changed.worksheet, true));
                assert_eq!(again, bits(&evaluated(&changed.worksheet, false)), "{name}, {}", given.name);
                changed_something += usize::from(again != before);
            }
        }
        assert_eq!(bits(&evaluated(&worksheet, true)), before);
    }
    assert!(changed_something > 40, "{changed_something}");
}

/// Correlated givens, a table, a sine and a normal distribution: what the demonstration worksheets have none of.
#[test]
fn keys_tell_everything_apart() {
    let sheet = |r: &str, k: &str, y: &str, n: &str, f: &str| {
        let text = format!(
            "```calc\na = 10 V ± 5 %\nb = 2 A ± 5 %\ncorrelation(a, b) = {r}\nc = 3 ± 10 % normal({k})\n\
             p = a * b\nq = c^{n}\nt = interpolate(c, 0, 0, 2, {y}, 9, 7)\ns = {f}(c / 10)\nu = if c < 3 then p else 2 W\n```\n"
        );
        let (worksheet, problems) = Worksheet::new(&text);
        let evaluation = benchleaf_core::evaluate_worksheet(&worksheet, problems, &remembering(true));
        assert_eq!(bits(&evaluation), bits(&evaluated(&worksheet, false)), "{text}");
        evaluation
    };
    let first = sheet("0.5", "2", "4", "2", "sin");
    assert!(first.values.iter().all(|value| value.worst.is_some()), "{:?}", first.problems);
    for [r, k, y, n, f] in [
        ["-0.5", "2", "4", "2", "sin"],
        ["0.5", "3", "4", "2", "sin"],
        ["0.5", "2", "5", "2", "sin"],
        ["0.5", "2", "4", "3", "sin"],
        ["0.5", "2", "4", "2", "cos"],
    ] {
        assert_ne!(bits(&sheet(r, k, y, n, f)), bits(&first), "{r} {k} {y} {n} {f}");
        sheet("0.5", "2", "4", "2", "sin");
    }
}

fn evaluated(worksheet: &Worksheet, remember: bool) -> Evaluation {
    evaluate_worksheet(worksheet, Vec::new(), &remembering(remember))
}

fn remembering(remember: bool) -> Options {
    Options { samples: Some(5000), remember, ..Options::default() }
}

fn bits(evaluation: &Evaluation) -> String {
    let mut text = String::new();
    write_bits(evaluation, &mut text);
    text
}
