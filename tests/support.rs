//! What the tests share: short ways to evaluate a few lines of calculation and to ask for what came of them.
#![allow(clippy::panic, clippy::expect_used)]

pub mod formula;
pub mod fuzzing;
pub mod outside;

use std::path::Path;

use benchleaf::{Day, Form, LiveEngine, Neighbours, RawHtml, RenderSettings};
use benchleaf_core::{
    Evaluator, Options,
    host::{FileFault, Host},
    parallel,
    problem::Problem,
    results::Evaluation,
};

/// A page as the worksheet asks for it, without an engine.
pub const SETTING: RenderSettings = RenderSettings {
    samples: None,
    seed: None,
    evaluated: Day { year: 2000, month: 1, day: 1 },
    raw_html: RawHtml::ShownAsText,
    engine: LiveEngine::LeftOut,
    form: Form::Full,
    neighbours: Neighbours::NONE,
};

/// Evaluates lines of a `calc` block.
pub fn calc(lines: &str) -> Evaluation {
    Evaluator::default().evaluate(&format!("```calc\n{lines}\n```\n"))
}

/// Evaluates lines of a `calc` block that must have no problem.
pub fn sound(lines: &str) -> Evaluation {
    let evaluation = calc(lines);
    assert!(evaluation.problems.is_empty(), "{lines}\n{:#?}", evaluation.problems);
    evaluation
}

/// Evaluates lines of a `calc` block with so many simulated builds and threads.
pub fn simulated(lines: &str, samples: u64, seed: u64, threads: usize) -> Evaluation {
    let options = Options { samples: Some(samples), seed: Some(seed), ..Options::default() };
    parallel::with_threads(threads, || Evaluator::with(&options).evaluate(&format!("```calc\n{lines}\n```\n")))
}

/// The standard deviation of a value over the simulated builds, SI.
pub fn std(evaluation: &Evaluation, name: &str) -> f64 {
    evaluation.value(name).and_then(|value| value.spread).and_then(|spread| spread.std).expect("a standard deviation")
}

/// The nominal value of `x`, SI.
pub fn nominal(evaluation: &Evaluation, name: &str) -> f64 {
    evaluation.value(name).unwrap_or_else(|| panic!("no value {name}: {:?}", evaluation.problems)).nominal
}

/// The worst case of a value, SI: twice the nominal value where it does not vary.
pub fn range(evaluation: &Evaluation, name: &str) -> (f64, f64) {
    let value = evaluation.value(name).unwrap_or_else(|| panic!("no value {name}: {:?}", evaluation.problems));
    value.worst.as_ref().map_or((value.nominal, value.nominal), |worst| (worst.low, worst.high))
}

/// The codes of all problems, in reading order.
pub fn codes(evaluation: &Evaluation) -> Vec<&'static str> {
    evaluation.problems.iter().map(|problem| problem.code.text()).collect()
}

/// The one problem of a worksheet.
pub fn only_problem(evaluation: &Evaluation) -> &Problem {
    assert_eq!(evaluation.problems.len(), 1, "{:#?}", evaluation.problems);
    &evaluation.problems[0]
}

/// Asserts that two numbers agree to a relative tolerance.
#[track_caller]
pub fn close(found: f64, wanted: f64, relative: f64) {
    let scale = wanted.abs().max(f64::MIN_POSITIVE);
    assert!((found - wanted).abs() <= relative * scale, "found {found}, wanted {wanted} within {relative}");
}

/// The host of a worksheet whose tables lie beside it.
pub struct Beside<'a>(pub &'a Path);

impl Host for Beside<'_> {
    fn used(&self, path: &str) -> Result<String, FileFault> {
        benchleaf_publish::files::worksheet_beside(self.0, path)
    }

    fn read(&self, path: &str) -> Result<String, String> {
        benchleaf_publish::files::read_beside(self.0, path)
    }
}

/// A small generator of numbers, the same in every run (xorshift; G. Marsaglia, 2003). Its seed is not zero.
pub struct Random(pub u64);

impl Random {
    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// A whole number below `n`.
    pub fn below(&mut self, n: u64) -> u64 {
        self.bits() % n
    }

    /// A number from 0 up to 1.
    pub fn share(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }
}
