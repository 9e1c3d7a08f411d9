//! How points spread over a class: mean, standard deviation, quartiles.

use benchleaf_core::units::number;
use benchleaf_words::{Words, count};
use serde::Serialize;

/// Points of a class, as text with three digits at most.
#[derive(Debug, PartialEq, Serialize)]
pub(super) struct Spread {
    mean: String,
    /// With n − 1; none for one learner.
    deviation: Option<String>,
    /// First quartile, median and third quartile.
    quartiles: [String; 3],
}

impl Spread {
    /// The spread of some points; none of no points.
    pub(super) fn of(points: impl Iterator<Item = f64>) -> Option<Self> {
        let mut sorted: Vec<f64> = points.collect();
        sorted.sort_by(f64::total_cmp);
        let mean = mean(&sorted)?;
        let quartiles = [0.25, 0.5, 0.75].map(|part| short(quantile(&sorted, part)));
        Some(Self { mean: short(mean), deviation: deviation(&sorted, mean).map(short), quartiles })
    }

    /// `mean 4.2 of 6 points, standard deviation 1.1, quartiles 3, 4 and 5`.
    pub(super) fn in_words(&self, words: Words<'_>, most: f64) -> String {
        // Half a point and two points are both said of several.
        let number = if most == 1.0 { 1 } else { 2 };
        let (mean, [first, median, third]) = (&self.mean, &self.quartiles);
        match &self.deviation {
            Some(sd) => count!(
                words,
                MARK_SPREAD,
                number,
                mean = mean,
                n = most,
                deviation = sd,
                first = first,
                median = median,
                third = third
            ),
            None => count!(
                words,
                MARK_SPREAD_OF_ONE,
                number,
                mean = mean,
                n = most,
                first = first,
                median = median,
                third = third
            ),
        }
    }
}

fn mean(points: &[f64]) -> Option<f64> {
    (!points.is_empty()).then(|| points.iter().sum::<f64>() / points.len() as f64)
}

/// The standard deviation of a sample, with n − 1.
fn deviation(points: &[f64], mean: f64) -> Option<f64> {
    let squares: f64 = points.iter().map(|point| (point - mean) * (point - mean)).sum();
    (points.len() > 1).then(|| (squares / (points.len() - 1) as f64).sqrt())
}

/// A quantile of sorted points, between neighbours in a straight line: definition 7 of Hyndman and Fan (1996), from memory.
fn quantile(sorted: &[f64], part: f64) -> f64 {
    let place = part * sorted.len().saturating_sub(1) as f64;
    let (below, above) = (place.floor() as usize, place.ceil() as usize);
    match (sorted.get(below), sorted.get(above)) {
        (Some(below), Some(above)) => below + (above - below) * place.fract(),
        _ => f64::NAN,
    }
}

/// Three digits, without zeros at the end.
fn short(points: f64) -> String {
    let text = number(points, DIGITS);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

const DIGITS: u8 = 3;

#[cfg(test)]
mod tests {
    use std::process::Command;

    use super::*;

    #[test]
    fn small_classes_by_hand() {
        let of = |points: &[f64]| Spread::of(points.iter().copied());
        assert_eq!(of(&[]), None);
        let one = of(&[2.0]).unwrap();
        assert_eq!(one.in_words(Words::ENGLISH, 3.0), "mean 2 of 3 points, quartiles 2, 2 and 2");
        // Squares 2.25 + 0.25 + 0.25 + 2.25 over 3; quartiles a quarter of the way between neighbours.
        let four = of(&[4.0, 1.0, 3.0, 2.0]).unwrap();
        assert_eq!(
            four.in_words(Words::ENGLISH, 1.0),
            "mean 2.5 of 1 point, standard deviation 1.29, quartiles 1.75, 2.5 and 3.25"
        );
        assert_eq!(
            of(&[0.0, 0.0]).unwrap().in_words(Words::ENGLISH, 10.0),
            "mean 0 of 10 points, standard deviation 0, quartiles 0, 0 and 0"
        );
        assert_eq!(of(&[10.0, 10.0]).unwrap().mean, "10");
    }

    /// Random classes against numpy (`percentile` with its default rule, `std` with `ddof=1`).
    #[test]
    #[ignore = "needs Python with numpy: tests/run provides it"]
    fn random_classes_against_numpy() {
        let python = std::env::var("BENCHLEAF_PYTHON").unwrap_or_else(|_| "python3".to_owned());
        let mut state = 7_u64;
        let mut next = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f64
        };
        let classes: Vec<Vec<f64>> =
            (0..60).map(|_| (0..2 + next() as usize % 40).map(|_| (next() % 23.0) / 2.0).collect()).collect();
        let script = "import json,sys,numpy as n\nprint(json.dumps([[n.mean(c),n.std(c,ddof=1),*n.percentile(c,[25,50,75])] for c in json.loads(sys.argv[1])]))";
        let run =
            Command::new(python).args(["-c", script, &serde_json::to_string(&classes).unwrap()]).output().unwrap();
        assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
        let wanted: Vec<Vec<f64>> = serde_json::from_slice(&run.stdout).unwrap();
        assert_eq!(wanted.len(), classes.len());
        for (class, wanted) in classes.iter().zip(&wanted) {
            let mut sorted = class.clone();
            sorted.sort_by(f64::total_cmp);
            let mean = mean(&sorted).unwrap();
            let found = [
                mean,
                deviation(&sorted, mean).unwrap(),
                quantile(&sorted, 0.25),
                quantile(&sorted, 0.5),
                quantile(&sorted, 0.75),
            ];
            for (found, wanted) in found.iter().zip(wanted) {
                assert!((found - wanted).abs() < 1e-9, "{class:?}: {found} {wanted}");
            }
        }
    }
}
