//! `use`: values of other worksheets. A worksheet that is split in files and joined by `use` must come to what the whole one
//! comes to, to the last bit; what hangs on one given varies together; whatever is wrong is said at the line.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "imports/split.rs"]
mod split;

use std::{collections::BTreeMap, fmt::Write};

use benchleaf_core::{
    Evaluator, Options,
    change::{Change, change},
    host::{FileFault, Host},
    problem::{Code, Problem, Severity},
    results::{Evaluation, Share, Value, Verdict},
    sheet::Worksheet,
};
use benchleaf_tests::Random;

/// Worksheets by their paths, as a folder would have them.
struct Files(BTreeMap<String, String>);

impl Files {
    fn new(files: &[(&str, &str)]) -> Self {
        Self(files.iter().map(|(path, text)| ((*path).to_owned(), sheet(text))).collect())
    }
}

impl Host for Files {
    fn used(&self, path: &str) -> Result<String, FileFault> {
        self.0.get(path).cloned().ok_or(FileFault::Missing)
    }
}

/// A worksheet of one block.
fn sheet(calculations: &str) -> String {
    if calculations.contains("```") { calculations.to_owned() } else { format!("```calc\n{calculations}\n```\n") }
}

fn evaluate(calculations: &str, files: &[(&str, &str)]) -> Evaluation {
    let files = Files::new(files);
    let options = Options { samples: Some(2_000), ..Options::default() };
    Evaluator::with(&options).host(&files).evaluate(&sheet(calculations))
}

fn sound(evaluation: &Evaluation) {
    assert!(evaluation.problems.is_empty(), "{:#?}", evaluation.problems);
}

/// `E-use 2: message | help`, or with a file `E-use 2 (a.md 3): …`.
fn said(evaluation: &Evaluation) -> Vec<String> {
    let say = |problem: &Problem| {
        let line = evaluation.lines.line(problem.span.start);
        let place = problem.file.as_ref().map(|place| format!(" ({} {})", place.path, place.position.line));
        let help = problem.help.as_ref().map(|help| format!(" | {}", help.english()));
        format!(
            "{} {line}{}: {}{}",
            problem.code.text(),
            place.unwrap_or_default(),
            problem.message.english(),
            help.unwrap_or_default()
        )
    };
    evaluation.problems.iter().map(say).collect()
}

/// Every number of a value that is no name.
fn bits(value: &Value, names: &dyn Fn(&str) -> String) -> String {
    let mut text = format!("{:016x}", value.nominal.to_bits());
    if let Some(worst) = &value.worst {
        let _ = write!(text, " worst {:016x} {:016x} {:?}", worst.low.to_bits(), worst.high.to_bits(), worst.certainty);
        for at in [&worst.low_at, &worst.high_at] {
            let mut at: Vec<String> =
                at.iter().map(|given| format!("{}={:016x}", names(&given.name), given.value.to_bits())).collect();
            at.sort();
            let _ = write!(text, " {at:?}");
        }
    }
    if let Some(spread) = &value.spread {
        let (low, high) = spread.interval.ends();
        let _ = write!(text, " spread {:?} {:?} {low:?} {high:?}", spread.mean, spread.std);
    }
    let _ = write!(text, " {:?}", value.first_order.as_ref().map(|first| first.std.to_bits()));
    text
}

/// Its shares of the variance.
fn shares(value: &Value, names: &dyn Fn(&str) -> String) -> String {
    let share =
        |share: &Share| format!(" {} {:?} {:?} {:?}", names(&share.name), share.first, share.total, share.error);
    value.shares.iter().map(share).collect()
}

#[test]
fn a_given_that_two_worksheets_hang_on_varies_together() {
    let a = "R = 100 kΩ ± 10 %\nC = 10 µF ± 20 % normal(2)\nt [s] = R * C";
    let b = evaluate("use \"a.md\": t, R\nratio [µF] = t / R\nnothing [s] = t - R * 10 µF\n", &[("a.md", a)]);
    sound(&b);
    let whole = evaluate(&format!("{a}\nratio [µF] = t / R"), &[]);
    let same = |name: &str| {
        let (here, there) = (b.value(name).unwrap(), whole.value(name).unwrap());
        assert_eq!(bits(here, &str::to_owned), bits(there, &str::to_owned), "{name}");
        assert_eq!(shares(here, &str::to_owned), shares(there, &str::to_owned), "{name}");
    };
    ["t", "R", "ratio"].into_iter().for_each(same);
    let (ratio, c) = (b.value("ratio").unwrap(), whole.value("C").unwrap());
    // Nothing of the resistance is left in the quotient: exactly the capacitor's own spread.
    let (found, wanted) = (ratio.worst.as_ref().unwrap(), c.worst.as_ref().unwrap());
    assert!((found.low / wanted.low - 1.0).abs() < 1e-12 && (found.high / wanted.high - 1.0).abs() < 1e-12);
    let (found, wanted) = (ratio.spread.unwrap(), c.spread.unwrap());
    // A given's is known exactly, a formula's from the builds.
    assert!((found.std.unwrap() / wanted.std.unwrap() - 1.0).abs() < 0.04);
    assert_eq!(ratio.shares.iter().map(|share| share.name.as_str()).collect::<Vec<_>>(), ["C"]);
    assert_eq!(ratio.origin, None);
    let origin = b.value("t").unwrap().origin.clone().unwrap();
    assert_eq!((&*origin.file, origin.name.as_str()), ("a.md", "t"));
}

/// Random worksheets, split at random places in two or three files: each value and verdict of the last file is that of the
/// whole worksheet, to the last bit. `BENCHLEAF_FORMULAS=2000` for a long run.
#[test]
fn a_worksheet_in_several_files_comes_to_what_it_comes_to_in_one() {
    let count = std::env::var("BENCHLEAF_FORMULAS").ok().and_then(|count| count.parse().ok()).unwrap_or(120);
    let options = Options { samples: Some(500), ..Options::default() };
    let (mut compared, mut varying, mut kept) = (0, 0, 0);
    for seed in 1..=count {
        let mut random = Random(seed * 7919);
        let pieces = split::pieces(&mut random);
        let made = split::split(&mut random, &pieces);
        let files = Files(made.others.clone());
        let whole = Evaluator::with(&options).evaluate(&made.whole);
        let parts = Evaluator::with(&options).host(&files).evaluate(&made.last);
        // A correlation holds where the file that states it is used.
        let unused = |(path, text): (&String, &String)| {
            let by_name = |user: &String| user.contains(&format!("use \"{path}\""));
            text.contains("correlation(")
                && !by_name(&made.last)
                && !made.others.values().any(|other| by_name(other) && made.last.contains("part1.md"))
        };
        if made.others.iter().any(unused) {
            continue;
        }
        let show = || format!("seed {seed}\n{}\n{:#?}\n{:?}", made.last, made.others, said(&parts));
        let named = |name: &str| {
            let (record, field) = name.split_once('.').map_or((name, None), |(record, field)| (record, Some(field)));
            let whole = made.names.get(record).map_or(record, String::as_str);
            field.map_or(whole.to_owned(), |field| format!("{whole}.{field}"))
        };
        // The work that an evaluation may take is for all that it evaluates.
        if whole.problems.iter().any(|problem| problem.code == Code::TransientNominal) {
            continue;
        }
        // Some have no value; all can be read.
        let without = ["E-not-finite", "E-depends-on-error", "E-solve", "E-correlation"];
        let read = |problem: &Problem| problem.severity() != Severity::Error || without.contains(&problem.code.text());
        assert!(whole.problems.iter().all(read), "{:?}", said(&whole));
        for value in &parts.values {
            let of_whole = whole.value(&named(&value.name)).unwrap_or_else(|| panic!("{}: {}", value.name, show()));
            assert_eq!(bits(value, &named), bits(of_whole, &str::to_owned), "{}: {}", value.name, show());
            // How many builds stand behind a share depends on the work that all runs over time take.
            if !made.whole.contains("```transient") {
                assert_eq!(shares(value, &named), shares(of_whole, &str::to_owned), "{}: {}", value.name, show());
            }
            compared += 1;
            varying += usize::from(value.spread.is_some());
        }
        for name in made.names.keys().filter(|name| whole.value(&named(name)).is_some()) {
            assert!(parts.value(name).is_some(), "{name} is missing: {}", show());
        }
        let verdicts = |evaluation: &Evaluation, named: &dyn Fn(&str) -> String| -> Vec<String> {
            let verdict = |keep: &Verdict| {
                format!(
                    "{:?} {:?} {:?} {:?} {:?}",
                    keep.status,
                    keep.margin,
                    keep.margin_worst,
                    keep.fails.as_ref().map(|fails| fails.share),
                    keep.blame.as_deref().map(named)
                )
            };
            evaluation.keeps.iter().map(verdict).collect()
        };
        let (all, last) = (verdicts(&whole, &str::to_owned), verdicts(&parts, &named));
        assert!(all.ends_with(&last), "{last:?} {all:?} {}", show());
        kept += last.len();
    }
    assert!(
        compared > 8 * count as usize && varying > 4 * count as usize && kept > count as usize / 8,
        "{compared} {varying} {kept}"
    );
}

/// Fifty worksheets, each of which uses the one before: the last hangs on the first one's given.
#[test]
fn fifty_worksheets_in_a_chain() {
    let mut files = vec![("s0.md".to_owned(), "x = 10 V ± 5 %\n".to_owned())];
    for i in 1..50 {
        files.push((format!("s{i}.md"), format!("use \"s{}.md\": x\ny = x * 1 \"no matter\"", i - 1)));
    }
    let files: Vec<(&str, &str)> = files.iter().map(|(path, text)| (path.as_str(), text.as_str())).collect();
    let chain = evaluate("use \"s49.md\": x, y\nz = y - x\nq = y / x", &files);
    sound(&chain);
    let worst = chain.value("z").unwrap().worst.clone().unwrap();
    assert_eq!((worst.low, worst.high), (0.0, 0.0), "nothing is left of the one given");
    assert_eq!(chain.value("q").unwrap().nominal, 1.0);
    // Of a value that is passed on, the place where it is defined is told.
    let origin = chain.value("x").unwrap().origin.clone().unwrap();
    assert_eq!((&*origin.file, origin.name.as_str()), ("s0.md", "x"));
}

#[test]
fn two_ways_to_one_given_are_one_given() {
    let files = [
        ("base.md", "V = 5 V ± 10 %\nR = 1 kΩ ± 5 %"),
        ("left.md", "use \"base.md\": V\nU = 2 * V"),
        ("right.md", "use \"base.md\": V as V_in\nW = 3 * V_in"),
    ];
    let both = evaluate("use \"left.md\": U\nuse \"right.md\": W\nratio = W / U\nall = U + W", &files);
    sound(&both);
    assert_eq!(both.value("ratio").unwrap().nominal, 1.5);
    assert!(both.value("ratio").unwrap().worst.as_ref().is_none_or(|worst| worst.high - worst.low < 1e-12));
    let sum = both.value("all").unwrap();
    assert_eq!(sum.shares.iter().map(|share| share.name.as_str()).collect::<Vec<_>>(), ["V"]);
}

/// Two givens of one name in two worksheets are two givens, also where nobody takes either by name.
#[test]
fn givens_of_one_name_in_two_worksheets_are_two() {
    let files = [("a.md", "R = 1 kΩ ± 10 %\nA = R + 0 Ω"), ("b.md", "R = 1 kΩ ± 10 %\nB = R + 0 Ω")];
    let both = evaluate("R = 1 kΩ ± 10 %\nuse \"a.md\": A\nuse \"b.md\": B\nd = A - B\nown = A - R", &files);
    sound(&both);
    for (name, wanted) in [("d", ["a.R", "b.R"]), ("own", ["R", "a.R"])] {
        let value = both.value(name).unwrap();
        // Two equal rectangles: a triangle of the standard deviation 100 Ω · √(2/3).
        assert!((value.spread.unwrap().std.unwrap() / 81.65 - 1.0).abs() < 0.05, "{:?}", value.spread);
        let mut names: Vec<&str> = value.shares.iter().map(|share| share.name.as_str()).collect();
        names.sort_unstable();
        assert_eq!(names, wanted);
    }
}

#[test]
fn what_is_wrong_is_said_at_the_line() {
    let files = [
        ("a.md", "R = 100 kΩ ± 10 %\nt_on = R * 10 µF\nf(x) = 2 * x\nbad = 1 V + 1 A\nworse = bad * 2\n7x = 3 V"),
        ("self.md", "use \"self.md\": x\nx = 1"),
        ("one.md", "use \"two.md\": y\nx = y"),
        ("two.md", "use \"one.md\": x\ny = x"),
        ("three.md", "use \"four.md\": z\nx = z"),
        ("four.md", "use \"five.md\": z\ny = z"),
        ("five.md", "use \"three.md\": x\nz = x"),
        ("in.md", "use \"gone.md\": x\ny = 2 * x"),
        ("none.md", "```\ncode\n```\n"),
        ("rust.md", "```rust calc -> n\nlet n = 1.0;\n```\n\n```calc\nm = n + 1\n```\n"),
    ];
    for (line, wanted) in [
        (
            "use \"gone.md\": x",
            "E-use 2: there is no worksheet `gone.md` | a path begins in the folder of this worksheet",
        ),
        (
            "use \"../a.md\": R",
            "E-use 2: `../a.md` leads out of the folder of this worksheet | a worksheet uses those in",
        ),
        ("use \"/etc/a.md\": R", "E-use 2: `/etc/a.md` leads out of the folder"),
        ("use \"a.csv\": R", "E-use 2: `a.csv` is not named as a worksheet"),
        ("use \"a.md\": t_onn", "E-use 2: there is no value `t_onn` in `a.md` | did you mean `t_on`?"),
        ("use \"none.md\": t", "E-use 2: there is no value `t` in `none.md` | `none.md` defines no values"),
        ("use \"a.md\": f", "E-use 2: `f` in `a.md` is a function: only values are taken from another worksheet"),
        (
            "R = 5 Ω\nuse \"a.md\": R",
            "E-redefined 3: `R` is defined already, on line 2 | take it under another name: R as R_2",
        ),
        ("use \"a.md\": R, R", "E-redefined 2: `R` is defined already, on line 2"),
        ("use \"a.md\": R\nR = 5 Ω", "E-redefined 3: `R` is defined already, on line 2"),
        ("use \"self.md\": x", "E-use 2: `self.md` uses `self.md`: a worksheet cannot wait for itself"),
        ("use \"one.md\": x", "E-use 2: `one.md` uses `two.md`, which uses `one.md`: a worksheet cannot wait"),
        ("use \"three.md\": x", "E-use 2: `three.md` uses `four.md`, which uses `five.md`, which uses `three.md`: "),
        (
            "use \"a.md\": worse",
            "E-depends-on-error 2: `worse` cannot be taken: line 6 of `a.md` has an error, or depends on one",
        ),
        ("use \"in.md\": y", "E-use 2 (in.md 2): there is no worksheet `gone.md`"),
        ("use \"rust.md\": m", "E-use 2: `m` in `rust.md` rests on a Rust block"),
        ("use \"a.md\": R.power", "E-syntax 2: `R.power` needs a name in this worksheet | write R.power as power"),
        ("use \"a.md\": R.power as p", "E-unknown-field 2: `R` in `a.md` has no field `power` | write R alone"),
        ("use \"a.md\" R", "E-syntax 2: found `R` where `:` should stand"),
        ("use a.md: R", "E-syntax 2: "),
        ("use \"a.md\": R, t_on \"both\"", "E-syntax 2: a label is for one value, and here are several"),
    ] {
        let found = said(&evaluate(line, &files));
        assert!(found.iter().any(|said| said.starts_with(wanted)), "{line}\n{wanted}\n{found:#?}");
    }
    let errors = evaluate("use \"a.md\": worse, R\nU = worse\nS = 2 * R", &files);
    let found = said(&errors);
    assert!(found.iter().any(|said| said.starts_with("E-unit-mismatch 2 (a.md 5): ")), "{found:#?}");
    assert!(found.iter().any(|said| said.starts_with("E-depends-on-error 3: ")), "{found:#?}");
    assert_eq!(found.len(), 5, "{found:#?}");
    assert!((errors.value("S").unwrap().nominal - 200e3).abs() < 1e-6, "what does not depend on it is evaluated");
    // What is wrong elsewhere in the other worksheet is its own affair.
    sound(&evaluate("use \"a.md\": t_on", &files));
}

#[test]
fn windows_line_ends_and_a_record_and_parts_come_through() {
    let files = [
        ("crlf.md", "```calc\r\nR = 1 kΩ ± 10 % \"pull-up\"\r\nI = 5 V / R\r\n```\r\n"),
        (
            "reg.md",
            "V = 12 V ± 5 %\nreg = regulator.linear(input = V, output = 5 V, load = 60 mA, ambient = 35 °C, junction_to_ambient = 65 K/W)",
        ),
        (
            "parts.md",
            "```parts\nR_t = 910 kΩ ± 5 %, 0.25 W, 0.03 EUR \"timing resistor\" @R1\nC_t = 22 µF ± 20 % @C1\n```\n```calc\nn = 10\nall = cost(n)\n```\n",
        ),
    ];
    let it = evaluate(
        "use \"crlf.md\": R, I\nuse \"reg.md\": reg, reg.junction as T_j\nuse \"parts.md\": R_t, all\n\
         keep R_t within rating at (10 V)^2 / R_t, 50 %\nrise = reg.junction - T_j\nprice = R_t.price",
        &files,
    );
    sound(&it);
    assert_eq!(it.value("R").unwrap().label.as_deref(), Some("pull-up"));
    assert_eq!(it.value("rise").unwrap().nominal, 0.0);
    assert!(it.value("reg.dissipation").is_some() && it.keeps.len() == 1);
    assert_eq!((it.value("price").unwrap().nominal, it.value("all").unwrap().nominal), (0.03, 0.3));
    assert!(it.parts.is_empty(), "the parts of another worksheet are on its own list");
}

/// A model that is used outside its range says so wherever a value rests on it.
#[test]
fn what_a_model_takes_for_granted_is_told_where_it_is_used() {
    let files = [(
        "reg.md",
        "reg = regulator.linear(input = 60 V, output = 5 V, load = 60 mA, ambient = 35 °C, junction_to_ambient = 65 K/W)\nother = 1 V\nP = reg.dissipation",
    )];
    let it = evaluate("use \"reg.md\": P\nE = P * 1 h", &files);
    let found = said(&it);
    assert!(found.iter().any(|said| said.starts_with("W-validity 2 (reg.md 2): ")), "{found:#?}");
    sound(&evaluate("use \"reg.md\": other", &files));
}

/// A combination is chosen under the requirements of its own worksheet.
#[test]
fn a_choice_comes_through_as_its_own_worksheet_has_it() {
    let there = "R_a = 10 kΩ ± 1 %\nR_b = 22 kΩ ± 1 %\ng = R_b / R_a\nkeep R_a above 5 kΩ\nbest = choose E12 for R_a, R_b so that g is 2.5";
    let it = evaluate("use \"c.md\": best, g\nx = best.R_b / best.R_a", &[("c.md", there)]);
    let whole = evaluate(&format!("{there}\nx = best.R_b / best.R_a"), &[]);
    sound(&it);
    assert_eq!(it.value("x").unwrap().nominal, whole.value("x").unwrap().nominal);
}

/// A reader's change of a given goes to where it is defined: whatever hangs on it here follows.
#[test]
fn a_reader_changes_a_given_of_another_worksheet() {
    let files = Files::new(&[
        ("base.md", "V = 5 V ± 10 % \"supply\"\nI = V / 1 kΩ"),
        ("mid.md", "use \"base.md\": V as V_s, I\nP = V_s * I"),
    ]);
    let source = sheet("use \"mid.md\": P, V_s as V_1\nx = P / V_1 / V_1\nk = 2");
    let worksheet = Worksheet::new(&source).0.carrying(&files);
    assert_eq!(worksheet.used.len(), 2);
    // As a published page has it.
    let again = Worksheet::from_outline(source.clone(), &worksheet.outline()).unwrap();
    let outline = again.outline();
    assert_eq!(outline, worksheet.outline());
    let change_of = |name: &str, text: &str| Change { name: name.to_owned(), text: text.to_owned() };
    let changed =
        change(&again, &[change_of("V_1", "6 V"), change_of("k", "3"), change_of("P", "1 W"), change_of("V_1", "7 V")]);
    assert_eq!(changed.refused.len(), 1, "{:?}", changed.refused);
    let it = Evaluator::default().evaluate_worksheet(&changed.worksheet, Vec::new());
    sound(&it);
    assert_eq!((it.value("V_1").unwrap().nominal, it.value("k").unwrap().nominal), (6.0, 3.0));
    assert!((it.value("P").unwrap().nominal - 0.036).abs() < 1e-12);
    assert_eq!(it.value("V_1").unwrap().shown_range().unwrap(), "5.40 V to 6.60 V", "the tolerance stays");
    let refused = change(&again, &[change_of("V_1", "6 A")]);
    assert_eq!(
        refused.refused[0].problem.help.as_ref().map(benchleaf_words::Phrase::english).as_deref(),
        Some("write it in V")
    );
}
