//! Studies: each point must be what a whole evaluation of the worksheet gives whose text has the new values in it, to the last
//! bit.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{fmt::Write, path::Path};

use benchleaf_core::{
    Evaluator, Options,
    change::{Change, change},
    host::NoHost,
    results::{Evaluation, Status, Value},
    sheet::Worksheet,
    study::{NoStudy, Points, Study, To},
};
use benchleaf_publish::folder::Folder;
use benchleaf_tests::{Random, outside};
use serde_json::json;

/// Few, since ranges and nominal values are what is compared.
const OPTIONS: Options = Options { samples: Some(200), seed: Some(3), over_time: benchleaf_core::OverTime::Builds };

/// Of the givens of a real worksheet so many are passed over.
const EVERY: usize = 4;

/// Random choices.
struct Dice(Random);

impl Dice {
    fn below(&mut self, end: usize) -> usize {
        self.0.below(end as u64) as usize
    }

    fn one_of<'t, T: ?Sized>(&mut self, all: &[&'t T]) -> &'t T {
        all[self.below(all.len())]
    }

    /// A number of a few decimals, as often below one as above.
    fn number(&mut self) -> f64 {
        let mantissa = (self.below(900) + 100) as f64 / 100.0;
        let exponent = self.below(7) as i32 - 3;
        format!("{mantissa}e{exponent}").parse().unwrap()
    }
}

/// A worksheet of random givens and formulas, and the unit of each given.
fn worksheet(dice: &mut Dice) -> (String, Vec<&'static str>) {
    let mut text = "```calc\n".to_owned();
    let mut units = Vec::new();
    for i in 0..dice.below(5) + 2 {
        let unit = dice.one_of(&["", "Ω", "V", "A", "s", "F"]);
        let tolerance = dice.one_of(&["", "± 5 %", "-20 % +50 %", "± 10 % normal(2)"]);
        let _ = writeln!(text, "g_{i} = {:?} {unit} {tolerance}", dice.number());
        units.push(unit);
    }
    // Every term is a plain number: a given by its unit, or a result so far.
    let mut terms: Vec<String> = units.iter().enumerate().map(|(i, unit)| by_unit(&format!("g_{i}"), unit)).collect();
    for i in 0..dice.below(6) + 2 {
        let mut term = || terms[dice.below(terms.len())].clone();
        let (a, b, c) = (term(), term(), term());
        let formula = match dice.below(12) {
            0 => format!("{a} + {b}"),
            1 => format!("{a} - {b}"),
            2 => format!("{a} * {b}"),
            3 => format!("{a} / ({b} - {c})"),
            4 => format!("sqrt({a})"),
            5 => format!("ln(abs({a}) + 1)"),
            6 => format!("min({a}, {b})"),
            7 => format!("if {a} > {b} then {c} else {a}"),
            8 => format!("preferred_nearest(E24, abs({a}) + 0.1)"),
            9 => format!("{a} ∥ ({b} + 1)"),
            10 => format!("exp(-abs({a}))"),
            _ => format!("atan2({a}, {b})"),
        };
        let _ = writeln!(text, "r_{i} = {formula}");
        terms.push(format!("r_{i}"));
        let given = dice.below(units.len());
        let (unit, moved) = (units[given], by_unit(&format!("g_{given}"), units[given]));
        match dice.below(8) {
            5 => {
                let (from, to) = (dice.one_of(&["0.01", "0.3", "-50"]), dice.one_of(&["1", "200"]));
                let _ = writeln!(
                    text,
                    "s_{i} = solve g_{given} so that {moved} * ({a} + 1) = {b} from {from} {unit} to {to} {unit}"
                );
                terms.push(by_unit(&format!("s_{i}"), unit));
            }
            6 if matches!(unit, "Ω" | "V" | "F") => {
                let _ = writeln!(text, "h_{i} = choose E6 for g_{given} so that {moved} + {a} is {b} + 1");
                terms.push(by_unit(&format!("h_{i}.g_{given}"), unit));
            }
            0 => {
                let _ = writeln!(text, "keep r_{i} between {a} and {b} + {c}");
            }
            1 => {
                let _ = writeln!(text, "c_{i} = {a} < {b}\nkeep c_{i}");
            }
            2 => {
                let _ = writeln!(
                    text,
                    "m_{i} = timing.one_shot(resistance = 1 kΩ * (abs({a}) + 1), capacitance = 1 µF * (abs({b}) + 1), supply = 9 V)"
                );
                terms.push(format!("(m_{i}.pulse / 1 s)"));
            }
            _ => {}
        }
    }
    text.push_str("```\n");
    (text, units)
}

fn by_unit(name: &str, unit: &str) -> String {
    if unit.is_empty() { name.to_owned() } else { format!("({name} / 1 {unit})") }
}

/// A point and the evaluation of the worksheet with the same values in its text.
fn compared((study, points): (&Study, &mut Points<'_>), changed: &Evaluation, changes: &[(&str, To<'_>)], said: &str) {
    let changes: Vec<_> = changes.iter().map(|(name, to)| study.change(name, *to).expect(said)).collect();
    let point = points.nominal(&changes);
    for (value, found) in study.values().iter().zip(point.values) {
        let wanted = changed.value(&value.name).expect(said).nominal;
        assert!(same(*found, wanted), "{}: {found} and not {wanted}, with {said}", value.name);
    }
    assert_eq!(point.broken.len(), changed.keeps.len(), "{said}");
    for (broken, verdict) in point.broken.iter().zip(&changed.keeps) {
        assert_eq!(*broken, verdict.status == Status::Broken, "{said}");
    }
    for doubt in point.doubts {
        let is_reported = changed
            .problems
            .iter()
            .any(|problem| problem.code == doubt.code && changed.lines.line(problem.span.start) == doubt.line);
        assert!(is_reported, "{doubt:?}, with {said}");
    }
}

/// The same with ranges.
fn compared_ranges(study: &Study, changed: &Evaluation, changes: &[(&str, To<'_>)], said: &str) {
    let changes: Vec<_> = changes.iter().map(|(name, to)| study.change(name, *to).expect(said)).collect();
    let point = study.ranged(&changes);
    for ((value, found), worst) in study.values().iter().zip(&point.values).zip(&point.worst) {
        let wanted = changed.value(&value.name).expect(said);
        assert!(same(*found, wanted.nominal), "{}, with {said}", value.name);
        let wanted = wanted.worst.as_ref().map(|worst| (worst.low, worst.high));
        assert_eq!(*worst, wanted, "{}, with {said}", value.name);
    }
    let status: Vec<Status> = changed.keeps.iter().map(|verdict| verdict.status).collect();
    assert_eq!(point.status, status, "{said}");
}

fn same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan())
}

fn evaluated(worksheet: &Worksheet, changes: &[Change]) -> Evaluation {
    let changed = change(worksheet, changes);
    assert_eq!(changed.refused, []);
    Evaluator::with(&OPTIONS).evaluate_worksheet(&changed.worksheet, vec![])
}

#[test]
fn random_worksheets_at_random_points_are_as_if_written_anew() {
    let mut dice = Dice(Random(19));
    let (mut points, mut kept, mut found) = (0, 0, 0);
    for round in 0..150 {
        let (text, units) = worksheet(&mut dice);
        let (sheet, _) = Worksheet::new(&text);
        let study = Study::new(&sheet, &[], &OPTIONS, &NoHost).expect(&text);
        // One room for all points: what a search left there is of use, and must not show.
        let mut room = study.points();
        for _ in 0..4 {
            let mut texts = Vec::new();
            let mut numbers = Vec::new();
            for (i, unit) in units.iter().enumerate() {
                if dice.below(2) == 0 {
                    continue;
                }
                let number = dice.number();
                let name = format!("g_{i}");
                let with = if dice.below(2) == 0 { dice.one_of(&["", "± 1 %", "-5 % +1 %"]) } else { "" };
                texts.push(Change { name: name.clone(), text: format!("{number:?} {unit} {with}") });
                numbers.push(if with.is_empty() && dice.below(2) == 0 { Some(number) } else { None });
            }
            let changes = texts.iter().zip(&numbers);
            let changes: Vec<(&str, To<'_>)> = changes
                .map(|(change, number)| (change.name.as_str(), number.map_or(To::Text(&change.text), To::Si)))
                .collect();
            let changed = evaluated(&sheet, &texts);
            let said = format!("{changes:?} in\n{text}");
            compared((&study, &mut room), &changed, &changes, &said);
            if round % 10 == 0 {
                compared_ranges(&study, &changed, &changes, &said);
            }
            points += changed.values.len();
            let is_found = |value: &&Value| value.name.starts_with("s_") && value.nominal.is_finite();
            found += changed.values.iter().filter(is_found).count();
            kept += changed.keeps.len();
        }
    }
    assert!(points > 2000 && kept > 100 && found > 50, "{points} values, {kept} verdicts, {found} results of searches");
}

/// Every worksheet of the demonstration set and of the tests that is sound, each given a little higher and lower.
#[test]
fn real_worksheets_at_other_points_are_as_if_written_anew() {
    let mut studied = 0;
    for folder in ["worksheets", "book"] {
        for entry in std::fs::read_dir(root().join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|ending| ending == "md") {
                studied += around(&path);
            }
        }
    }
    studied += around(&root().join("tests/every-block.md"));
    assert!(studied > 50, "{studied} points were compared");
}

fn around(path: &Path) -> usize {
    let text = std::fs::read_to_string(path).unwrap();
    let sheet = Worksheet::new(&text).0.using(&Folder::of(path, &NoHost));
    let study = match Study::new(&sheet, &[], &OPTIONS, &NoHost) {
        Ok(study) => study,
        Err(NoStudy::Errors(_)) => return 0,
        Err(NoStudy::Asked(problem)) => panic!("{problem:?}"),
    };
    let (read, _) = sheet.read();
    let (mut studied, mut room) = (0, study.points());
    for (at, definition) in read.givens().into_iter().enumerate().step_by(EVERY) {
        let Some((quantity, negative)) = definition.literal() else { continue };
        if quantity.number == 0.0 {
            continue;
        }
        let unit = quantity.unit.as_ref().map_or("", |unit| unit.item.as_str());
        let sign = if negative { "-" } else { "" };
        let factor = if at % 2 == 0 { 1.125 } else { 0.875 };
        let text = format!("{sign}{:?} {unit}", quantity.number * factor);
        let name = &definition.name.item;
        // The bounds of some leave no room, and some must be whole.
        if study.change(name, To::Text(&text)).is_err() {
            continue;
        }
        let changes = [Change { name: name.clone(), text: text.clone() }];
        let said = format!("{name} = {text} in {}", path.display());
        compared((&study, &mut room), &evaluated(&sheet, &changes), &[(name, To::Text(&text))], &said);
        studied += 1;
    }
    studied
}

#[test]
fn what_cannot_be_changed_is_refused_with_a_reason() {
    let text = "```calc\nn = 2\nm = 100\na = 3 V ± 1 %\nb = 1 V ± 1 %\ncorrelation(a, b) = 0.5\ny = a * n\nagree y with a + a within 1 %\nV = min 1 V typ 2 V max 3 V\n```\n\n```parts\nR = 1 kΩ ± 5 %, 0.25 W, 0.03 EUR @R1\n```\n\n```calc\nprice = cost(m)\n```\n";
    let (sheet, problems) = Worksheet::new(text);
    assert_eq!(problems, []);
    let study = Study::new(&sheet, &[], &OPTIONS, &NoHost).unwrap();
    let refused = |name: &str, to: To<'_>| study.change(name, to).unwrap_err();
    assert_eq!(refused("RR", To::Si(1.0)).message.english(), "the worksheet has no given named `RR`");
    assert_eq!(refused("RR", To::Si(1.0)).help.unwrap().english(), "did you mean `R`?");
    assert_eq!(refused("y", To::Si(1.0)).message.english(), "`y` is worked out; only a given can be changed");
    assert_eq!(refused("a", To::Si(f64::NAN)).message.english(), "the new value of `a` is no finite number");
    assert_eq!(refused("V", To::Si(4.0)).message.english(), "the bounds are out of order");
    assert_eq!(refused("a", To::Si(0.0)).message.english(), "per cent of zero is nothing");
    assert!(refused("n", To::Si(3.0)).message.english().contains("agree in form only"));
    assert!(refused("m", To::Si(2.5)).message.english().contains("whole number of builds"));
    assert!(refused("a", To::Text("3 V ± 0 %")).message.english().contains("correlated"));
    assert!(refused("a", To::Text("3 A")).message.english().contains("a voltage"));
    assert!(study.change("m", To::Si(10.0)).is_ok() && study.change("V", To::Si(2.5)).is_ok());
    let named = |name: &str| match Study::new(&sheet, &[name.to_owned()], &OPTIONS, &NoHost) {
        Err(NoStudy::Asked(problem)) => problem.help,
        other => panic!("{other:?}"),
    };
    assert_eq!(named("prise").unwrap().english(), "did you mean `price`?");
    let (broken, _) = Worksheet::new("```calc\nx = 1 V + 1 A\n```\n");
    assert!(matches!(Study::new(&broken, &[], &OPTIONS, &NoHost), Err(NoStudy::Errors(found)) if found.len() == 1));
}

/// A point does not depend on the points before it.
#[test]
fn points_leave_nothing_behind() {
    let (sheet, _) = Worksheet::new("```calc\na = 2 V\nb = 3 V\nc = a + b\nkeep c below 6 V\n```\n");
    let study = Study::new(&sheet, &[], &OPTIONS, &NoHost).unwrap();
    let change = |name, si| study.change(name, To::Si(si)).unwrap();
    let mut points = study.points();
    assert_eq!(points.nominal(&[change("a", 10.0)]).values, [13.0]);
    assert_eq!(points.nominal(&[change("b", 1.0)]).values, [3.0]);
    assert_eq!(points.nominal(&[]).values, [5.0]);
    assert_eq!(points.nominal(&[change("a", 10.0)]).broken, [true]);
    assert_eq!(points.nominal(&[]).broken, [false]);
}

/// The guide's Python: `vary` and `mark` under Dask with two workers against one process, and the module for Python.
#[test]
#[ignore = "needs Dask and the module for Python: run tests/run"]
fn several_processes_give_what_one_gives() {
    // Beside the folder of this test.
    let programs = std::env::current_exe().unwrap().parent().unwrap().parent().unwrap().to_owned();
    let built = ["lib_benchleaf.so", "lib_benchleaf.dylib"].map(|name| programs.join(name));
    let built = built.iter().find(|path| path.is_file()).expect("tests/run builds the module for Python");
    let modules = tempfile::tempdir().unwrap();
    let package = modules.path().join("benchleaf");
    std::fs::create_dir(&package).unwrap();
    std::fs::copy(root().join("engine/python/python/benchleaf/__init__.py"), package.join("__init__.py")).unwrap();
    std::fs::copy(built, package.join("_benchleaf.abi3.so")).unwrap();
    let chapter = root().join("book/08e-studies.md");
    let answer =
        outside::python("studies.py", &json!({ "programs": programs, "modules": modules.path(), "chapter": chapter }));
    assert_eq!((&answer["points"], &answer["tables"]), (&json!(100_000), &json!(3)));
    assert_eq!(answer["arrays"].as_array().unwrap().len(), 2, "{answer}");
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
}
