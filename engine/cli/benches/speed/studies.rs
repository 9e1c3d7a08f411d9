//! A worksheet at many points, nominal values alone: the engine's study against the same formulas written in Rust that read and
//! write lines of JSON; and a demonstration worksheet, in which each point makes a search.

use std::{fmt::Write, hint::black_box};

use benchleaf_core::{
    Options,
    host::NoHost,
    parallel::with_threads,
    sheet::Worksheet,
    study::{Study, StudyChange, To},
};
use serde_json::{Map, Value};

use crate::paired::{Paired, measure};

const SHEET: &str = "```calc\nR = 910 kΩ ± 5 %\nC = 22 µF ± 20 %\nV = 9 V\nbought = timing.one_shot(resistance = R, capacitance = C, supply = V)\nt [s] = R * C * ln(3)\nlit [A] = (V - 2 V) / (R / 1000)\nshare = bought.pulse / t\nkeep t below 30 s\nkeep bought.pulse above 10 s\n```\n";
const POINTS: usize = 1000;

pub(crate) fn table() -> String {
    let (worksheet, _) = Worksheet::new(SHEET);
    let study = Study::new(&worksheet, &[], &Options::default(), &NoHost).unwrap();
    let resistance = |i: usize| 100e3 + i as f64 * 1234.5;
    let numbers = || {
        let mut points = study.points();
        let mut sum = 0.0;
        for i in 0..POINTS {
            let change: [StudyChange; 1] = [study.change("R", To::Si(resistance(i))).unwrap()];
            sum += points.nominal(&change).values.iter().sum::<f64>();
        }
        sum
    };
    let texts = || {
        let mut points = study.points();
        let mut sum = 0.0;
        for i in 0..POINTS {
            let text = format!("{:?} kΩ", resistance(i) / 1e3);
            let change = [study.change("R", To::Text(&text)).unwrap()];
            sum += points.nominal(&change).values.iter().sum::<f64>();
        }
        sum
    };
    let lines: String = (0..POINTS).map(|i| format!("{{\"R\":{:?}}}\n", resistance(i))).collect();
    let by_hand = || {
        let mut text = String::new();
        for line in lines.lines() {
            let read: Map<String, Value> = serde_json::from_str(line).unwrap();
            let r = read["R"].as_f64().unwrap();
            let t = r * 22e-6 * ln_3();
            let values = [("t", t), ("pulse", 1.1 * r * 22e-6), ("lit", 7.0 / (r / 1000.0))];
            let values: Map<String, Value> =
                values.map(|(name, si)| (name.to_owned(), si.into())).into_iter().collect();
            let _ = writeln!(text, "{}", Value::from(values));
        }
        text.len()
    };
    let mut text = "| changes | hand-written / 1000 a second | engine / 1000 a second | speed kept, least | median |\n\
                    | --- | ---: | ---: | ---: | ---: |\n"
        .to_owned();
    let mut row = |name: &str, paired: &Paired| {
        let (floor, subject) = paired.least();
        let rate = |time: std::time::Duration| POINTS as f64 / time.as_secs_f64() / 1e3;
        let ratio = paired.ratio();
        let _ = writeln!(
            text,
            "| {name} | {:.0} | {:.0} | {:.2} | {:.2} |",
            rate(floor),
            rate(subject),
            1.0 / ratio.least,
            1.0 / ratio.median
        );
    };
    row("numbers", &with_threads(1, || measure(9, || black_box(by_hand()), numbers)));
    row("texts with units", &with_threads(1, || measure(9, || black_box(by_hand()), texts)));
    let timing = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../../worksheets/timing.md")).unwrap();
    let (worksheet, _) = Worksheet::new(&timing);
    let study = Study::new(&worksheet, &[], &Options::default(), &NoHost).unwrap();
    let searched = || {
        let mut points = study.points();
        let mut sum = 0.0;
        for i in 0..POINTS {
            let change = [study.change("C_meter", To::Si(40e-6 + i as f64 * 1e-9)).unwrap()];
            sum += points.nominal(&change).values.iter().sum::<f64>();
        }
        sum
    };
    row(
        "numbers, all values of `timing.md`, a search at each point",
        &with_threads(1, || measure(9, || black_box(by_hand()), searched)),
    );
    text
}

/// As one would write it.
#[allow(clippy::disallowed_methods)]
fn ln_3() -> f64 {
    black_box(3f64).ln()
}
