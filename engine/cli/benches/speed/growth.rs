//! Worksheets of more and more statements, of two shapes: groups that know nothing of one another, and one chain in which
//! each value is built on the last. Time is given for a statement, and against the smallest of the shape.

use std::fmt::Write;

use benchleaf::render_worksheet;
use benchleaf_core::{Evaluator, parallel::with_threads};

use crate::{
    paired::{measure, ms},
    rendering::SETTING,
};

pub(crate) fn evaluating() -> String {
    grown("evaluated", |source| drop(Evaluator::default().evaluate(source)))
}

pub(crate) fn rendering() -> String {
    grown("as a page", |source| drop(render_worksheet(source, "growth", &SETTING)))
}

fn grown(what: &str, work: impl Fn(&str) + Sync) -> String {
    let mut text = format!(
        "| {what} | statements | all / ms | a statement / µs | for each, against {SMALLEST}: least | median |\n\
         | --- | ---: | ---: | ---: | ---: | ---: |\n"
    );
    type Shape = (&'static str, fn(usize) -> String);
    let shapes: [Shape; 2] = [("groups", groups), ("chain", chain)];
    for (name, shape) in shapes {
        let floor = shape(SMALLEST);
        for size in [SMALLEST, 3 * SMALLEST, 10 * SMALLEST] {
            let source = shape(size);
            let paired = with_threads(1, || measure(3, || work(&floor), || work(&source)));
            let (_, all) = paired.least();
            let times = size as f64 / SMALLEST as f64;
            let (each, ratio) = (all.as_secs_f64() * 1e6 / size as f64, paired.ratio());
            let _ = writeln!(
                text,
                "| {name} | {size} | {} | {each:.2} | {:.2} | {:.2} |",
                ms(all),
                ratio.least / times,
                ratio.median / times
            );
        }
    }
    text
}

/// Five statements a group: three givens, a product, a requirement.
fn groups(statements: usize) -> String {
    block((0..statements / 5).map(|i| {
        format!("R_{i} = 10 kΩ ± 5 %\nC_{i} = 10 µF ± 20 %\nk_{i} = 1.1\nt_{i} [s] = k_{i} * R_{i} * C_{i}\nkeep t_{i} below 1 s\n")
    }))
}

/// Every value stands on the one before it.
fn chain(statements: usize) -> String {
    let first = "R = 10 kΩ ± 5 %\nV_0 = 12 V ± 5 %\n".to_owned();
    let rest = (1..statements - 1).map(|i| format!("V_{i} = V_{} * 0.999 + 1 µA * R\n", i - 1));
    block(std::iter::once(first).chain(rest))
}

fn block(lines: impl Iterator<Item = String>) -> String {
    format!("```calc\n{}```\n", lines.collect::<String>())
}

const SMALLEST: usize = 1000;
