//! Values that are infinite or undefined in some builds, against shares known in closed form: with x rectangular from 0 to 1
//! the share of builds below a limit is that limit. Nothing may hide such builds: not the interval, not the margin, not
//! the verdict.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use benchleaf_core::{report::Report, results::Status};
use benchleaf_tests::calc;
use serde_json::Value as Json;

/// Limits spread evenly over 0 to 1 (a Weyl sequence with the golden ratio), some of them near the ends.
fn limits() -> impl Iterator<Item = f64> {
    (1..=40).map(|i| (f64::from(i) * 0.618_033_988_749_895).fract()).chain([0.001, 0.02, 0.03, 0.96, 0.999])
}

fn json(lines: &str) -> Json {
    let source = format!("```calc\n{lines}\n```\n");
    let evaluation = benchleaf_core::Evaluator::default().evaluate(&source);
    serde_json::to_value(Report::new("x.md", &evaluation, &source)).unwrap()
}

#[test]
fn the_share_of_infinite_builds_is_the_one_in_closed_form() {
    for limit in limits() {
        let above = format!("x = min 0 typ 1 max 1\ny = 1 / max(0, x - {limit})");
        let below = format!("x = min 0 typ 1 max 1\ny = -1 / max(0, x - {limit})");
        for (lines, infinite_end) in [(above, 1), (below, 0)] {
            let it = calc(&lines);
            let spread = it.value("y").unwrap().spread.unwrap();
            // Four standard deviations of a count of 10 000.
            let chance = 4.0 * (limit * (1.0 - limit) / 1e4).sqrt();
            assert!((spread.infinite - limit).abs() <= chance, "{limit}: {spread:?}");
            assert_eq!(spread.undefined, 0.0);
            assert_eq!((spread.mean, spread.std), (None, None), "{limit}");
            let symmetric = [spread.interval.symmetric.0, spread.interval.symmetric.1];
            if (limit - 0.025).abs() > chance {
                assert_eq!(symmetric[infinite_end].is_infinite(), limit > 0.025, "{limit}: {spread:?}");
            }
            if (limit - 0.975).abs() > chance {
                assert_eq!(symmetric[1 - infinite_end].is_infinite(), limit > 0.975, "{limit}: {spread:?}");
            }
            // The shortest interval avoids infinite builds as long as the others are 95 % of all.
            let shortest = spread.interval.shortest;
            if (limit - 0.05).abs() > chance {
                assert_eq!(shortest.0.is_finite() && shortest.1.is_finite(), limit < 0.05, "{limit}: {spread:?}");
            }
            let worst = it.value("y").unwrap().worst.clone().unwrap();
            assert!([worst.low, worst.high][infinite_end].is_infinite(), "{limit}: {worst:?}");
        }
    }
}

#[test]
fn the_share_of_undefined_builds_is_told() {
    for limit in limits() {
        let it = calc(&format!("x = min 0 typ 1 max 1\ny = ln(x - {limit})"));
        let spread = it.value("y").unwrap().spread.unwrap();
        let chance = 4.0 * (limit * (1.0 - limit) / 1e4).sqrt();
        assert!((spread.undefined - limit).abs() <= chance, "{limit}: {spread:?}");
        assert!(spread.mean.is_some_and(f64::is_finite) && spread.std.is_some_and(f64::is_finite), "{limit}");
        assert!(spread.interval.symmetric.1 <= (1.0 - limit).ln() + 1e-12, "{limit}: {spread:?}");
    }
}

#[test]
fn a_requirement_on_a_value_that_is_infinite_in_some_builds_does_not_hold() {
    for limit in limits() {
        let it = calc(&format!("x = min 0 typ 1 max 1\ny = 1 / max(0, x - {limit})\nkeep y below 1e9"));
        let keep = &it.keeps[0];
        assert_eq!(keep.status, Status::AtRisk, "{limit}");
        assert_eq!(keep.margin_worst, Some(f64::NEG_INFINITY), "{limit}");
        let fails = keep.fails.unwrap();
        assert!((fails.share - limit).abs() <= 4.0 * fails.uncertainty.max(1e-3), "{limit}: {fails:?}");
    }
}

#[test]
fn json_says_the_share_and_has_null_for_an_end_at_infinity() {
    let report = json("x = min 0 typ 1 max 1\ny = 1 / max(0, x - 0.64)\nz = x + 1\nkeep y below 1e9");
    let (y, z) = (&report["values"][1], &report["values"][2]);
    assert!((y["fails_to_exist"].as_f64().unwrap() - 0.64).abs() < 0.02, "{y}");
    assert!(y["interval95"][0].is_number() && y["interval95"][1].is_null(), "{y}");
    assert!(y["worst"][1].is_null() && y["std"].is_null(), "{y}");
    assert!(z.get("fails_to_exist").is_none(), "{z}");
    assert!(report["keeps"][0]["margin_worst"].is_null(), "{report}");
}
