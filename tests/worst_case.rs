//! The worst case against brute force over the box: random formulas of up to six givens, on a grid and at random points.
//! What the engine reports must not be beaten by any point tried, and must be reached at the combination it names.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use std::f64::consts::FRAC_PI_2;

use benchleaf_core::results::{Certainty, End, Status};
use benchleaf_tests::{Random, calc, close, codes, only_problem, range, sound};

/// A formula on plain numbers: the test's own, evaluated with the standard library.
enum Formula {
    Given(usize),
    Number(f64),
    Sum(Box<Formula>, Box<Formula>),
    Difference(Box<Formula>, Box<Formula>),
    Product(Box<Formula>, Box<Formula>),
    Quotient(Box<Formula>, Box<Formula>),
    Square(Box<Formula>),
    Function(&'static str, Box<Formula>),
    Least(Box<Formula>, Box<Formula>),
    Choice(Box<Formula>, Box<Formula>, Box<Formula>),
}

impl Formula {
    fn random(random: &mut Random, givens: usize, depth: usize) -> Self {
        if depth == 0 || random.below(6) == 0 {
            return match random.below(5) {
                0 => Formula::Number((1 + random.below(9)) as f64 / 2.0),
                _ => Formula::Given(random.below(givens as u64) as usize),
            };
        }
        let mut part = || Box::new(Self::random(random, givens, depth - 1));
        let (a, b, c) = (part(), part(), part());
        match random.below(12) {
            0 | 1 => Formula::Sum(a, b),
            2 | 3 => Formula::Difference(a, b),
            4 | 5 => Formula::Product(a, b),
            // Divisors are kept clear of zero; poles have a test of their own.
            6 => Formula::Quotient(
                a,
                Box::new(Formula::Sum(Box::new(Formula::Square(b)), Box::new(Formula::Number(1.0)))),
            ),
            7 => Formula::Square(a),
            8 => Formula::Function(["sin", "cos", "atan", "abs"][random.below(4) as usize], a),
            9 => Formula::Function("exp", Box::new(Formula::Function("sin", a))),
            10 => Formula::Least(a, b),
            _ => Formula::Choice(a, b, c),
        }
    }

    fn text(&self) -> String {
        match self {
            Formula::Given(i) => format!("g_{i}"),
            Formula::Number(n) => format!("{n}"),
            Formula::Sum(a, b) => format!("({} + {})", a.text(), b.text()),
            Formula::Difference(a, b) => format!("({} - {})", a.text(), b.text()),
            Formula::Product(a, b) => format!("{} * {}", a.text(), b.text()),
            Formula::Quotient(a, b) => format!("{} / {}", a.text(), b.text()),
            Formula::Square(a) => format!("({})^2", a.text()),
            Formula::Function(name, a) => format!("{name}({})", a.text()),
            Formula::Least(a, b) => format!("min({}, {})", a.text(), b.text()),
            Formula::Choice(a, b, c) => format!("(if {} < 2 then {} else {})", a.text(), b.text(), c.text()),
        }
    }

    fn at(&self, givens: &[f64]) -> f64 {
        match self {
            Formula::Given(i) => givens[*i],
            Formula::Number(n) => *n,
            Formula::Sum(a, b) => a.at(givens) + b.at(givens),
            Formula::Difference(a, b) => a.at(givens) - b.at(givens),
            Formula::Product(a, b) => a.at(givens) * b.at(givens),
            Formula::Quotient(a, b) => a.at(givens) / b.at(givens),
            Formula::Square(a) => a.at(givens).powi(2),
            Formula::Function(name, a) => {
                let x = a.at(givens);
                match *name {
                    "sin" => x.sin(),
                    "cos" => x.cos(),
                    "atan" => x.atan(),
                    "abs" => x.abs(),
                    _ => x.exp(),
                }
            }
            Formula::Least(a, b) => a.at(givens).min(b.at(givens)),
            Formula::Choice(a, b, c) => {
                if a.at(givens) < 2.0 {
                    b.at(givens)
                } else {
                    c.at(givens)
                }
            }
        }
    }

    fn jumps(&self) -> bool {
        match self {
            Formula::Given(_) | Formula::Number(_) => false,
            Formula::Square(a) | Formula::Function(_, a) => a.jumps(),
            Formula::Sum(a, b)
            | Formula::Difference(a, b)
            | Formula::Product(a, b)
            | Formula::Quotient(a, b)
            | Formula::Least(a, b) => a.jumps() || b.jumps(),
            Formula::Choice(..) => true,
        }
    }
}

#[test]
fn no_point_of_the_box_beats_the_worst_case() {
    let mut random = Random(0x9e37_79b9_7f4a_7c15);
    let (mut searched, mut proven) = (0, 0);
    for round in 0..200 {
        let givens = 1 + round % 6;
        let formula = Formula::random(&mut random, givens, 3);
        let boxes: Vec<(f64, f64)> = (0..givens)
            .map(|_| {
                let (middle, half) = (random.share() * 6.0 - 2.0, 0.05 + random.share());
                (middle - half, middle + half)
            })
            .collect();
        let lines: Vec<String> =
            boxes.iter().enumerate().map(|(i, (low, high))| format!("g_{i} = min {low:?} max {high:?}")).collect();
        let text = format!("{}\ny = {}", lines.join("\n"), formula.text());
        let it = sound(&text);
        let (low, high) = range(&it, "y");
        let slack = 1e-7 * (1.0 + high.abs().max(low.abs()));
        // A jump can hide a region of any smallness from a search; there only what was claimed is checked.
        let points = if formula.jumps() { 0 } else { 4000 };
        for _ in 0..points {
            let point: Vec<f64> = boxes
                .iter()
                .map(|(low, high)| match random.below(4) {
                    0 => *low,
                    1 => *high,
                    _ => low + (high - low) * random.share(),
                })
                .collect();
            let y = formula.at(&point);
            assert!(y >= low - slack && y <= high + slack, "{text}\n{y} at {point:?} is outside {low} … {high}");
        }
        let Some(worst) = &it.value("y").unwrap().worst else { continue };
        match worst.certainty {
            Certainty::Proven => proven += 1,
            Certainty::Searched => searched += 1,
        }
        for (extreme, settings) in [(worst.low, &worst.low_at), (worst.high, &worst.high_at)] {
            let mut point: Vec<f64> = boxes.iter().map(|(low, high)| (low + high) / 2.0).collect();
            for setting in settings {
                let i: usize = setting.name[2..].parse().unwrap();
                point[i] = setting.value;
                match setting.end {
                    End::Low => assert_eq!(setting.value, boxes[i].0),
                    End::High => assert_eq!(setting.value, boxes[i].1),
                    End::Inside => assert!(setting.value > boxes[i].0 && setting.value < boxes[i].1),
                }
            }
            let reached = formula.at(&point);
            assert!((reached - extreme).abs() <= 1e-9 * extreme.abs() + 1e-11, "{text}\n{reached} {extreme}");
        }
    }
    // Formulas as simple as these are nearly all proven.
    assert!(searched < 20 && proven > 150, "{searched} searched, {proven} proven");
}

#[test]
fn correlated_occurrences_cancel() {
    let it = sound("x = 5 V ± 10 %\ny = x - x\nz = x / x\nw = (x + 1 V) - x");
    assert_eq!(range(&it, "y"), (0.0, 0.0));
    close(range(&it, "z").0, 1.0, 1e-12);
    close(range(&it, "z").1, 1.0, 1e-12);
    close(range(&it, "w").1, 1.0, 1e-12);
}

#[test]
fn an_inner_extreme_is_found() {
    // A load matched to its source takes the most power: V²/(4 R), inside the span of the load.
    let it = sound("V = 10 V\nR_s = 50 Ω\nR_l = min 10 Ω max 200 Ω\nP = V^2 * R_l / (R_s + R_l)^2");
    let (low, high) = range(&it, "P");
    close(high, 100.0 / (4.0 * 50.0), 1e-12);
    close(low, 100.0 * 10.0 / 3600.0, 1e-12);
    let worst = it.value("P").unwrap().worst.clone().unwrap();
    assert_eq!(worst.certainty, Certainty::Proven);
    assert_eq!(worst.high_at[0].end, End::Inside);
    close(worst.high_at[0].value, 50.0, 1e-5);
}

#[test]
fn a_product_hits_its_corners() {
    let it = sound("R = 1 MΩ ± 5 %\nC = 10 µF ± 20 %\nt = R * C\nf [Hz] = 1 / t");
    let worst = it.value("f").unwrap().worst.clone().unwrap();
    assert_eq!(worst.certainty, Certainty::Proven);
    close(worst.high, 1.0 / (0.95e6 * 8e-6), 1e-14);
    assert!(worst.high_at.iter().all(|setting| setting.end == End::Low));
    assert!(worst.low_at.iter().all(|setting| setting.end == End::High));
}

/// A model's yes or no is level between its steps, so that no slope shows where it turns: it is looked for all the same.
#[test]
fn a_condition_that_a_model_gives_is_sought_over_the_box() {
    let it = sound(
        "V_in = min 6 V typ 9 V max 12 V\nV_drop = min 1.7 V typ 2 V max 2.2 V\nlow = regulator.linear(input = V_in, output = 5 V, load = 50 mA, dropout = V_drop, ambient = 25 °C, junction_to_ambient = 65 K/W)\nkeep low.regulates\nkeep low.headroom above 0 V",
    );
    for keep in &it.keeps {
        assert_eq!((keep.status, keep.blame.as_deref()), (Status::AtRisk, Some("V_in")), "{keep:?}");
    }
    assert_eq!(range(&it, "low.regulates"), (0.0, 1.0));
}

/// A pole leaves without bound the sides that it is on, and no other; the message says what comes to it.
#[test]
fn a_pole_is_reported_with_its_place_and_its_side() {
    const ENDLESS: f64 = f64::INFINITY;
    let divisor = "has no bound: `a` can come to zero within the tolerances";
    let logarithm = "has no bound: the logarithm's argument can fall to zero";
    for (lines, low, high, why) in [
        ("a = 0.1 V ± 0.2 V\ny = 1 V / a", -ENDLESS, ENDLESS, divisor),
        ("a = min 0 V typ 1 V max 2 V\ny = 1 V / a", 0.5, ENDLESS, divisor),
        ("a = min 0 V typ 1 V max 2 V\ny = 3 - 1 V / a", -ENDLESS, 2.5, divisor),
        ("a = min -2 V typ -1 V max 0 V\ny = 1 V / a", -ENDLESS, -0.5, divisor),
        ("a = 0.1 ± 0.2\ny = a^-1", -ENDLESS, ENDLESS, divisor),
        ("a = 0.1 ± 0.2\ny = a^-2", 1.0 / 0.09, ENDLESS, divisor),
        ("a = 0.1 ± 0.2\ny = min(1 / a, 5)", -ENDLESS, 5.0, divisor),
        ("a = 0.1 ± 0.2\ny = ln(a)", -ENDLESS, 0.3f64.ln(), logarithm),
        ("a = 0.1 ± 0.2\ny = 1 - ln(a)", 1.0 - 0.3f64.ln(), ENDLESS, logarithm),
        (
            "a = 85 deg ± 10 deg\ny = tan(a)",
            -ENDLESS,
            ENDLESS,
            "has no bound: the tangent's argument can come to a right",
        ),
        (
            "a = 1 Ω ± 10 %\nb = -1.05 Ω ± 10 %\ny = a ∥ b",
            -ENDLESS,
            ENDLESS,
            "has no bound: a divisor can come to zero",
        ),
        ("a = 0.1 ± 0.2\ny = atan(1 / a)", -FRAC_PI_2, FRAC_PI_2, "has no value everywhere: `a` can come to zero"),
        (
            "a = 0.9 ± 0.2\ny = asin(a)",
            0.7f64.asin(),
            FRAC_PI_2,
            "over part of the tolerances: the argument of the arc",
        ),
        ("a = 0.9 ± 0.2\ny = acos(a)", 0.0, 0.7f64.acos(), "over part of the tolerances: the argument of the arc"),
        ("a = 0.1 ± 0.2\ny = sqrt(a)", 0.0, 0.3f64.sqrt(), "over part of the tolerances: the root's argument"),
        (
            "a = 0.9 ± 0.2\ny = interpolate(a, 0, 1, 1, 3)",
            2.4,
            3.0,
            "over part of the tolerances: the table goes from 0 to 1",
        ),
    ] {
        let it = calc(lines);
        assert_eq!(codes(&it), ["W-unbounded"], "{lines}");
        let message = only_problem(&it).message.english();
        assert!(message.starts_with("`y` ") && message.contains(why), "{lines}: {message}");
        let found = range(&it, "y");
        for (found, wanted) in [(found.0, low), (found.1, high)] {
            // A search comes near to an end that is not reached.
            assert!(found == wanted || (found - wanted).abs() < 2e-4, "{lines}: {found}, wanted {wanted}");
        }
    }
    // A division that is clear of zero, which ranges alone do not show, hides no pole before it.
    let it = calc("a = 0.1 ± 0.2\nb = 1.5 ± 0.5\ny = 1 / a / (b * b - b * b + 1)");
    assert!(only_problem(&it).message.english().contains("`a` can come to zero"), "{:?}", it.problems);
    assert_eq!(range(&it, "y"), (-ENDLESS, ENDLESS));
    // Clear of it, or no further than where there is a value still.
    for (lines, low, high) in [
        ("a = 1 ± 0.2\ny = tan(a)", 0.8f64.tan(), 1.2f64.tan()),
        ("a = 100 deg ± 9 deg\ny = tan(a)", 91f64.to_radians().tan(), 109f64.to_radians().tan()),
        ("a = 0.5 ± 0.5\ny = asin(a)", 0.0, FRAC_PI_2),
        ("a = 0.5 ± 0.5\ny = interpolate(a, 0, 1, 1, 3)", 1.0, 3.0),
    ] {
        let (found_low, found_high) = range(&sound(lines), "y");
        assert!(
            (found_low - low).abs() < 1e-9 && (found_high - high).abs() < 1e-9,
            "{lines}: {found_low} {found_high}"
        );
    }
}

/// A requirement on a formula of its own reports a pole itself; one on a value leaves that to the value's line.
#[test]
fn a_requirement_on_a_pole_is_at_risk_and_reported_once() {
    for (lines, name) in [
        ("a = 0.3 V ± 0.4 V\nkeep 1 V^2 / a below 400 V", "`1 V^2 / a`"),
        ("a = 0.3 V ± 0.4 V\ny = 1 V^2 / a\nkeep y below 400 V", "`y`"),
    ] {
        let it = calc(lines);
        assert_eq!(it.keeps[0].status, Status::AtRisk);
        assert!(only_problem(&it).message.english().starts_with(name), "{:?}", it.problems);
    }
}
