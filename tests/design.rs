//! `solve` and `choose` against equations whose answers are known beforehand, and against all combinations tried.
#![allow(clippy::disallowed_methods, clippy::unwrap_used, clippy::panic)]

use std::fmt::Write;

use benchleaf_core::{problem::Code, results::Evaluation};
use benchleaf_tests::{calc, codes, nominal, only_problem};
use proptest::prelude::*;

/// Solves for `x` from 0 to 1 what must be zero.
fn solved(left: &str, lines: &str) -> Evaluation {
    calc(&format!("x = 0.5\n{lines}solve x so that {left} = 0 from 0 to 1"))
}

/// The text of a product of `(x - root)`, each to a power.
fn product(roots: &[f64], powers: &[u8]) -> String {
    let factors = roots.iter().zip(powers).map(|(root, power)| format!("(x - {root})^{power}"));
    factors.collect::<Vec<_>>().join(" * ")
}

/// The same polynomial multiplied out.
fn multiplied_out(roots: &[f64], powers: &[u8]) -> String {
    let mut coefficients = vec![1.0];
    for root in roots.iter().zip(powers).flat_map(|(root, power)| (0..*power).map(move |_| root)) {
        let mut next = vec![0.0; coefficients.len() + 1];
        for (i, c) in coefficients.iter().enumerate() {
            next[i + 1] += c;
            next[i] -= c * root;
        }
        coefficients = next;
    }
    let mut text = String::from("0");
    for (i, c) in coefficients.iter().enumerate() {
        let _ = write!(text, " + ({c}) * x^{i}");
    }
    text
}

fn root_in_thousands() -> impl Strategy<Value = f64> {
    (1u32..1000).prop_map(|thousandths| f64::from(thousandths) / 1000.0)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// One root, passed or touched, as factors: it is found. The other factors have their roots outside the span.
    #[test]
    fn one_root_is_found(root in root_in_thousands(), power in 1u8..5, outside in 1.5f64..9.0, scale in -9i32..9) {
        let it = solved(&format!("1e{scale} * {}", product(&[root, outside], &[power, 1])), "");
        prop_assert!(it.problems.is_empty(), "{root} {power}: {:?}", it.problems);
        prop_assert!((nominal(&it, "x_solved") - root).abs() < 1e-6, "{root}^{power}: {}", nominal(&it, "x_solved"));
    }

    /// The same multiplied out, where only rounding is left at the root: a root that is passed to twelve digits, one that
    /// is touched to seven.
    #[test]
    fn a_polynomial_multiplied_out_has_the_same_root(root in root_in_thousands(), power in 1u8..3, far in 1.5f64..9.0) {
        let it = solved(&multiplied_out(&[root, far], &[power, 1]), "");
        prop_assert!(it.problems.is_empty(), "{root} {power}: {:?}", it.problems);
        let within = if power == 1 { 1e-12 } else { 1e-6 };
        prop_assert!((nominal(&it, "x_solved") - root).abs() < within, "{root}: {}", nominal(&it, "x_solved"));
    }

    /// Several roots are reported, each of them, where they stand some steps of the grid apart.
    #[test]
    fn several_roots_are_listed(
        roots in prop::collection::btree_set(1u32..100, 2..5),
        powers in prop::collection::vec(1u8..3, 5)
    ) {
        let roots: Vec<f64> = roots.into_iter().map(|root| f64::from(root) / 100.0).collect();
        let it = solved(&product(&roots, &powers), "");
        let problem = only_problem(&it);
        prop_assert_eq!(problem.code, Code::Solve);
        for root in &roots {
            let shown = benchleaf_core::units::number(*root, 4);
            prop_assert!(problem.message.english().contains(&shown), "{} lacks {shown}", problem.message.english());
        }
    }

    /// A pole is no root, wherever it stands beside the grid, of odd power or even; a root beside it is.
    #[test]
    fn a_pole_is_no_root(pole in root_in_thousands(), power in 1u8..4, root in root_in_thousands()) {
        let it = solved(&format!("1 / (x - {pole})^{power}"), "");
        prop_assert_eq!(codes(&it), ["E-solve"], "{} {}", pole, power);
        // Within one step of the grid the root may hide beside the pole.
        prop_assume!((root - pole).abs() > 0.0051);
        let it = solved(&format!("(x - {root}) / (x - {pole})^{power}"), "");
        prop_assert!(it.problems.is_empty(), "{root} beside {pole}: {:?}", it.problems);
        prop_assert!((nominal(&it, "x_solved") - root).abs() < 1e-12);
    }

    /// A jump past zero is no root.
    #[test]
    fn a_jump_is_no_root(at in root_in_thousands(), low in 0.001f64..9.0, high in 0.001f64..9.0) {
        let it = solved(&format!("(if x < {at} then -{low} else {high})"), "");
        prop_assert_eq!(codes(&it), ["E-solve"]);
    }

    /// A root at the end of the part where a formula has a value, or close to that end, is found.
    #[test]
    fn a_root_beside_what_has_no_value_is_found(edge in root_in_thousands(), depth in 0.0f64..12.0) {
        let it = solved(&format!("sqrt(x - {edge})"), "");
        prop_assert!(it.problems.is_empty(), "{edge}: {:?}", it.problems);
        prop_assert!((nominal(&it, "x_solved") - edge).abs() < 1e-12);
        prop_assume!(edge + (-depth).exp() < 0.999);
        let it = solved(&format!("ln(x - {edge}) + {depth}"), "");
        prop_assert!(it.problems.is_empty(), "{edge} {depth}: {:?}", it.problems);
        prop_assert!((nominal(&it, "x_solved") - edge - (-depth).exp()).abs() < 1e-9);
    }

    /// What is not touched is not taken for a root, and the message says where it comes nearest.
    #[test]
    fn what_is_not_touched_is_no_root(at in root_in_thousands(), above in -8.0f64..2.0) {
        let it = solved(&format!("(x - {at})^2 + {}", 10f64.powf(above)), "");
        let problem = only_problem(&it);
        prop_assert_eq!(problem.code, Code::Solve);
        prop_assert!(problem.message.english().contains("nearest to it at"), "{}", problem.message.english());
    }

    /// Of all pairs of a series, tried one by one, `choose` takes the nearest.
    #[test]
    fn a_choice_is_the_best_of_all(target in 0.05f64..0.95) {
        const E12: [f64; 12] = [1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2];
        let it = calc(&format!(
            "R_a = 1 kΩ\nR_b = 1 kΩ\nbest = choose E12 for R_a, R_b so that R_a / (R_a + R_b) is {target} from 1 kΩ to 9.9 kΩ"
        ));
        let off = |a: f64, b: f64| (a / (a + b) - target).abs();
        let found = off(nominal(&it, "best.R_a"), nominal(&it, "best.R_b"));
        let least = E12.iter().flat_map(|a| E12.iter().map(move |b| off(*a, *b))).fold(f64::INFINITY, f64::min);
        prop_assert!((found - least).abs() < 1e-12, "{found} is not {least}");
    }
}

#[test]
fn what_overflows_or_has_no_value_is_named() {
    let it = solved("exp(2000 * x) - 1e300", "");
    assert!((nominal(&it, "x_solved") - 300.0 * 10f64.ln() / 2000.0).abs() < 1e-12, "a root beside the overflow");
    for (left, part) in [("exp(2000 * x) + 1", "no finite value"), ("2 + ln(x - 0.5)^2", "no finite value")] {
        let it = solved(left, "");
        let help = only_problem(&it).help.as_ref().unwrap().english();
        assert!(help.contains(part), "{left}: {help}");
    }
}

#[test]
fn what_has_no_preferred_values_is_not_chosen() {
    for (lines, cure) in [
        ("R_a = 1 kΩ\nchoose E12 for R_a, R_a so that 2 * R_a is 3 kΩ", "each given once"),
        ("T = 25 °C\nchoose E12 for T so that T is 30 °C", "solve T"),
        ("t = 2 s\nchoose E12 for t so that 2 * t is 3 s", "solve t"),
        ("n = 2\nchoose E12 for n so that 2 * n is 3", "solve n"),
    ] {
        let it = calc(lines);
        let problem = only_problem(&it);
        assert_eq!(problem.code, Code::Arguments, "{lines}");
        assert!(
            problem
                .help
                .as_ref()
                .map(benchleaf_words::Phrase::english)
                .as_deref()
                .is_some_and(|help| help.contains(cure)),
            "{problem:?}"
        );
    }
}

/// Another preferred value is suggested for what is bought by its value, and for nothing else.
#[test]
fn only_what_can_be_bought_is_advised() {
    let advised = |head: &str, label: &str| {
        let source = format!("{head}```calc\nV = 10 V\nR_x = 47 Ω ± 5 % {label}\nkeep V / R_x below 0.2 A\n```\n");
        let evaluation = benchleaf_core::Evaluator::default().evaluate(&source);
        let is_advice = |remedy: &benchleaf_core::results::Remedy| {
            matches!(remedy.change, benchleaf_core::results::Change::Preferred { .. })
        };
        evaluation.keeps[0].remedies.iter().any(is_advice)
    };
    assert!(advised("", "\"series resistor\""));
    assert!(!advised("", "\"motor's winding\"") && !advised("", "\"coil of the relay\""));
    let other = "```parts\nR_1 = 1 kΩ, 0.01 EUR @R1\n```\n\n";
    assert!(!advised(other, "\"series resistor\""), "the worksheet lists its parts, and this is none");
    let listed =
        "```parts\nR_p = 47 Ω ± 5 %, 0.01 EUR \"winding\" @R1\n```\n\n```calc\nkeep 10 V / R_p below 0.2 A\n```\n";
    let evaluation = benchleaf_core::Evaluator::default().evaluate(listed);
    assert!(!evaluation.keeps[0].remedies.is_empty(), "{:?}", evaluation.problems);
}
