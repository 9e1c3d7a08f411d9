//! `use`: values of other worksheets. A worksheet that is split in files and joined by `use` must come to what the whole one
//! comes to, to the last bit; what hangs on one given varies together; whatever is wrong is said at the line.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{collections::BTreeMap, fmt::Write};

use benchleaf_core::{
    Evaluator, Options,
    host::{FileFault, Host},
    problem::Problem,
    results::{Evaluation, Value},
};

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
        let help = problem.help.as_ref().map(|help| format!(" | {help}"));
        format!(
            "{} {line}{}: {}{}",
            problem.code.text(),
            place.unwrap_or_default(),
            problem.message,
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
    for share in &value.shares {
        let _ = write!(text, " {} {:?} {:?} {:?}", names(&share.name), share.first, share.total, share.error);
    }
    let _ = write!(text, " {:?}", value.first_order.as_ref().map(|first| first.std.to_bits()));
    text
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
    };
    ["t", "R", "ratio"].into_iter().for_each(same);
    let (ratio, c) = (b.value("ratio").unwrap(), whole.value("C").unwrap());
    // Nothing of the resistance is left in the quotient: exactly the capacitor's own spread.
    let (found, wanted) = (ratio.worst.as_ref().unwrap(), c.worst.as_ref().unwrap());
    assert!((found.low / wanted.low - 1.0).abs() < 1e-12 && (found.high / wanted.high - 1.0).abs() < 1e-12);
    let (found, wanted) = (ratio.spread.unwrap(), c.spread.unwrap());
    assert!((found.std.unwrap() / wanted.std.unwrap() - 1.0).abs() < 1e-9);
    assert_eq!(ratio.origin, None);
    let origin = b.value("t").unwrap().origin.clone().unwrap();
    assert_eq!((&*origin.file, origin.name.as_str()), ("a.md", "t"));
}
