//! Proven ranges against brute force: random formulas of up to five givens with poles, conditions, jumps and waves, on a
//! dense grid whose best points are refined. Nothing may lie outside an enclosure, a range that is called proven must be
//! the true one, and a requirement that holds must hold at every point tried. `BENCHLEAF_FORMULAS=10000` makes a long run.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use std::io::Write;

use benchleaf_core::{
    Evaluator,
    results::{Certainty, Status},
};
use benchleaf_tests::{Random, calc, codes, formula::Formula, only_problem, range, sound};

/// The least of a function over a box, by a grid, scattered points and steps that halve.
fn brute_force(boxes: &[(f64, f64)], random: &mut Random, f: impl Fn(&[f64]) -> f64) -> f64 {
    let n = boxes.len();
    let a_side = [2000, 60, 17, 9, 7][n - 1];
    let mut best: Vec<(f64, Vec<f64>)> = Vec::new();
    let mut offer = |point: Vec<f64>| {
        let value = f(&point);
        if value.is_finite() {
            let at = best.partition_point(|(other, _)| *other <= value);
            if at < 6 {
                best.insert(at, (value, point));
                best.truncate(6);
            }
        }
    };
    let total = usize::pow(a_side, n as u32);
    for i in 0..total + 2000 {
        let mut left = i;
        let point = boxes.iter().map(|(low, high)| {
            let share = if i < total { (left % a_side) as f64 / (a_side - 1) as f64 } else { random.share() };
            left /= a_side;
            (low + (high - low) * share).min(*high)
        });
        offer(point.collect());
    }
    let mut least = f64::INFINITY;
    for (mut value, mut point) in best {
        let mut step = 0.1;
        while step > 1e-10 {
            let mut better = false;
            for i in 0..n {
                for direction in [-1.0, 1.0] {
                    let (low, high) = boxes[i];
                    let before = point[i];
                    point[i] = (before + direction * step * (high - low)).clamp(low, high);
                    let found = f(&point);
                    if found < value {
                        (value, better) = (found, true);
                    } else {
                        point[i] = before;
                    }
                }
            }
            if !better {
                step /= 2.0;
            }
        }
        least = least.min(value);
    }
    least
}

#[test]
fn ranges_and_verdicts_stand_against_brute_force() {
    let formulas: usize = std::env::var("BENCHLEAF_FORMULAS").map_or(300, |count| count.parse().unwrap());
    let mut random = Random(0x1234_5678_9abc_def1);
    let (mut proven, mut enclosed, mut unknown, mut missed, mut held, mut worst_miss) = (0, 0, 0, 0, 0, 0.0f64);
    for round in 0..formulas {
        if formulas > 300 && round % (formulas / 20).max(1) == 0 {
            // Past what holds back a test's output, so that a long run shows how far it is.
            let _ = writeln!(std::io::stderr(), "{round} of {formulas} formulas, {missed} missed");
        }
        let givens = 1 + round % 5;
        let formula = Formula::random(&mut random, givens, 3);
        let boxes: Vec<(f64, f64)> = (0..givens)
            .map(|_| {
                let (middle, half) = (random.share() * 6.0 - 2.0, 0.05 + 2.0 * random.share());
                (middle - half, middle + half)
            })
            .collect();
        let middle: Vec<f64> = boxes.iter().map(|(low, high)| (low + high) / 2.0).collect();
        let limit = formula.at(&middle) + 1.0;
        if !limit.is_finite() {
            continue;
        }
        let lines: Vec<String> =
            boxes.iter().enumerate().map(|(i, (low, high))| format!("g_{i} = min {low:?} max {high:?}")).collect();
        let text = format!("{}\ny = {}\nkeep y below {limit:?}", lines.join("\n"), formula.text());
        let it = calc(&text);
        let least = brute_force(&boxes, &mut random, |point| formula.at(point));
        let greatest = -brute_force(&boxes, &mut random, |point| -formula.at(point));
        let Some(value) = it.value("y") else { panic!("{text}\n{:?}", it.problems) };
        let Some(worst) = &value.worst else { continue };
        let size = 1.0 + least.abs().max(greatest.abs()).min(1e6);
        let (low, high) = worst.enclosure;
        assert!(low <= worst.low && high >= worst.high, "{text}\n{worst:?}");
        let slack = 1e-11 * size;
        assert!(least >= low - slack && greatest <= high + slack, "{text}\n{least} {greatest} outside {low} {high}");
        // What is found at a place where the two libraries differ by rounding may lie beyond a jump.
        let miss = (worst.low - least).max(greatest - worst.high) / size;
        match worst.certainty {
            Certainty::Proven => {
                proven += 1;
                assert!(miss <= 1e-8, "{text}\n{least} {greatest} beyond {worst:?}");
            }
            Certainty::Searched if low.is_finite() && high.is_finite() => enclosed += 1,
            Certainty::Searched => unknown += 1,
        }
        if miss > 1e-6 {
            missed += 1;
            worst_miss = worst_miss.max(miss);
            println!("missed by {miss:e}: {text}\n{least} {greatest}, found {worst:?}");
        }
        if it.keeps[0].status == Status::Holds {
            held += 1;
            assert!(greatest <= limit + slack, "{text}\n{greatest} is above {limit}");
        }
    }
    println!(
        "{formulas} formulas: {proven} proven, {enclosed} enclosed, {unknown} without an enclosure; {missed} missed by up to \
         {worst_miss:e}; {held} requirements hold"
    );
    assert!(proven * 2 > formulas, "{proven} of {formulas} proven");
    assert!(missed * 1000 <= formulas, "{missed} of {formulas} missed");
    assert!(held * 20 > formulas, "{held} of {formulas} hold");
}

#[test]
fn a_pole_behind_a_sign_a_root_or_a_condition_is_seen() {
    for lines in [
        "V_1 = 5 V ± 10 %\nV_2 = 5.2 V ± 10 %\ny = 1 V / abs(V_1 - V_2)\nkeep y below 1000",
        "a = min -0.26 max 4.74\ny = 1 / abs(a)\nkeep y below 1e9",
        "a = min -0.26 max 4.74\ny = 1 / sqrt(abs(a))\nkeep y below 1e9",
        "a = min -0.26 max 4.74\ny = ln(abs(a))\nkeep y above -1000",
        "a = min 1 max 3\nb = min 2 max 4\ny = 1 / (if a > b then a else b - a)\nkeep y below 1e9",
    ] {
        let it = calc(lines);
        assert_eq!(codes(&it), ["W-unbounded"], "{lines}\n{:?}", it.value("y"));
        assert_eq!(it.keeps[0].status, Status::AtRisk, "{lines}");
        let (low, high) = range(&it, "y");
        assert!(low.is_infinite() || high.is_infinite(), "{lines}: {low} {high}");
    }
}

#[test]
fn waves_and_jumps_are_enclosed() {
    for (lines, low, high) in [
        // Least and greatest by a grid of 400 000 points, the best of them refined.
        ("x = min -0.26 max 4.74\ny = x * sin(30 * x)", -4.555_431, 4.660_148),
        ("x = min -0.26 max 4.74\ny = x * sin(16.5 * x)", -4.474_800, 4.665_183),
        ("x = min 0 max 40\ny = sin(2 * x) + sin(2.2 * x)", -1.994_420, 1.994_420),
        ("a = min 0.5 max 2\ng = min 0.5 max 1.5\ny = if a > g then a else 3 * g", 0.5, 4.5),
    ] {
        let it = sound(lines);
        let worst = it.value("y").unwrap().worst.clone().unwrap();
        assert_eq!(worst.certainty, Certainty::Proven, "{lines}\n{worst:?}");
        assert!((worst.low - low).abs() < 1e-5 && (worst.high - high).abs() < 1e-5, "{lines}\n{worst:?}");
    }
}

#[test]
fn a_condition_that_keeps_clear_of_a_pole_raises_no_alarm() {
    for (lines, low, high) in [
        ("a = min -1 max 2\ny = if a > 0.1 then 1 / a else 10\nkeep y below 10", 0.5, 10.0),
        ("a = min -1 max 4\ny = if a > 0 then sqrt(a) else 0\nkeep y below 2", 0.0, 2.0),
        ("a = min -1 max 4\nb = 1 ± 10 %\ny = if a > 0.5 and b > 0 then b / a else 0\nkeep y below 2.2", 0.0, 2.2),
    ] {
        let it = sound(lines);
        let worst = it.value("y").unwrap().worst.clone().unwrap();
        assert_eq!((worst.certainty, it.keeps[0].status), (Certainty::Proven, Status::Holds), "{lines}\n{worst:?}");
        assert!((worst.low - low).abs() < 1e-8 && (worst.high - high).abs() < 1e-8, "{lines}\n{worst:?}");
    }
}

#[test]
fn a_quotient_of_zeros_has_no_value_at_one_place_and_a_bound() {
    for lines in [
        "a = min -1 max 2\ny = sin(a) / a",
        "a = min -1 max 2\ny = a / a",
        "a = min -1 max 2\nb = 2 ± 0.1\ny = b + a * a / a",
    ] {
        let it = calc(lines);
        assert_eq!(codes(&it), ["W-zero-by-zero"], "{lines}");
        assert!(only_problem(&it).message.english().contains("no value at one place"), "{:?}", it.problems);
        let (low, high) = range(&it, "y");
        assert!(low.is_finite() && high.is_finite(), "{lines}: {low} {high}");
    }
    let it = calc("a = min -1 max 2\ny = a / (a * a)");
    assert_eq!(codes(&it), ["W-unbounded"]);
}

#[test]
fn what_is_not_proven_does_not_hold_and_keeps_no_warning_quiet() {
    // Six waves of many turns each: more places than are looked at.
    let givens: Vec<String> = (0..6).map(|i| format!("g_{i} = min 0 max {}", 40 + i)).collect();
    let sum: Vec<String> = (0..6).map(|i| format!("sin(9 * g_{i} * g_{})", (i + 1) % 6)).collect();
    let it = sound(&format!("{}\ny = {}\nkeep y below 5.999", givens.join("\n"), sum.join(" + ")));
    let worst = it.value("y").unwrap().worst.clone().unwrap();
    assert!(worst.enclosure.1 >= worst.high, "{worst:?}");
    assert_eq!(it.keeps[0].status, Status::AtRisk);
    assert!(it.keeps[0].proven == (worst.high > 5.999), "{worst:?}");
    let notes = |limit: f64| {
        let text = |signal: &str| format!("```{signal} when y > {limit}\nx\n```\n");
        let it = Evaluator::default().evaluate(&format!(
            "```calc\n{}\ny = {}\n```\n\n{}\n{}",
            givens.join("\n"),
            sum.join(" + "),
            text("warning"),
            text("notice")
        ));
        it.notes.iter().map(|note| (note.shown, note.proven)).collect::<Vec<_>>()
    };
    // Six sines never come to more than six.
    assert_eq!(notes(6.001), [(false, true), (false, true)]);
    let doubtful = worst.high + 0.5 * (worst.enclosure.1.min(6.0) - worst.high);
    assert!(doubtful > worst.high && doubtful < worst.enclosure.1, "{worst:?}");
    assert_eq!(notes(doubtful), [(true, false), (false, false)]);
}
