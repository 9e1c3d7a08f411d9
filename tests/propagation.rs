//! First-order uncertainties of random formulas against `uncertainties`, and the distributions of givens against
//! `scipy.stats`: general-purpose libraries. `tests/reference/propagation.py` answers for them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use benchleaf_core::{Evaluator, Options};
use benchleaf_tests::{close, outside, sound};
use serde_json::{Value, json};

/// A formula as the worksheet writes it and as Python does.
struct Formula {
    ours: String,
    python: String,
}

/// Formulas by a rule that never repeats: each takes the next digits of a fixed sequence of numbers.
fn formula(digits: &mut impl Iterator<Item = usize>, depth: usize) -> Formula {
    let mut next = |below: usize| digits.next().unwrap_or(0) % below;
    if depth == 0 {
        let name = ["a", "b", "c", "d"][next(4)];
        return Formula { ours: name.into(), python: name.into() };
    }
    let kind = next(10);
    let (x, y) = (formula(digits, depth - 1), formula(digits, depth - 1));
    let both = |ours: &str, python: &str| Formula {
        ours: ours.replace('X', &format!("({})", x.ours)).replace('Y', &format!("({})", y.ours)),
        python: python.replace('X', &format!("({})", x.python)).replace('Y', &format!("({})", y.python)),
    };
    match kind {
        0 => both("(X + Y)", "(X + Y)"),
        1 => both("(X - Y)", "(X - Y)"),
        2 | 3 => both("X * Y", "X * Y"),
        4 => both("X / (Y^2 + 1)", "X / (Y**2 + 1)"),
        5 => both("ln(X^2 + 2) * Y", "log(X**2 + 2) * Y"),
        6 => both("sqrt(X^2 + Y^2 + 1)", "sqrt(X**2 + Y**2 + 1)"),
        7 => both("exp(sin(X)) + Y", "exp(sin(X)) + Y"),
        8 => both("cos(X) * atan(Y)", "cos(X) * atan(Y)"),
        _ => both("(X^2 + 1 ∥ Y^2 + 1)", "(X**2 + 1/(1/1 + 1/(Y**2)) + 1)"),
    }
}

#[test]
#[ignore = "needs uncertainties: run tests/run"]
fn first_order_uncertainties_of_random_formulas() {
    let mut state = 12_345u64;
    let mut digits = std::iter::repeat_with(move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize
    });
    let givens = [("a", 1.3, 0.02), ("b", -0.7, 0.05), ("c", 2.1, 0.01), ("d", 0.4, 0.03)];
    let heads: Vec<String> = givens.iter().map(|(name, x, u)| format!("{name} = {x} ± {u} normal(1)")).collect();
    let formulas: Vec<Formula> = (0..150).map(|i| formula(&mut digits, 1 + i % 4)).collect();
    let asked: Vec<Value> = formulas
        .iter()
        .map(|formula| {
            let known: serde_json::Map<String, Value> =
                givens.iter().map(|(name, x, u)| ((*name).to_owned(), json!([x, u]))).collect();
            json!({"text": formula.python, "givens": known})
        })
        .collect();
    let answer = outside::python("propagation.py", &json!({"formulas": asked, "shapes": []}));
    let mut compared = 0;
    for (formula, wanted) in formulas.iter().zip(answer["formulas"].as_array().unwrap()) {
        let it = sound(&format!("{}\ny = {}", heads.join("\n"), formula.ours));
        let value = it.value("y").unwrap();
        let (wanted_value, wanted_std) = (wanted[0].as_f64().unwrap(), wanted[1].as_f64().unwrap());
        assert!((value.nominal - wanted_value).abs() <= 1e-12 * (1.0 + wanted_value.abs()), "{}", formula.ours);
        let Some(first_order) = &value.first_order else { continue };
        assert!(
            (first_order.std - wanted_std).abs() <= 1e-9 * (1.0 + wanted_std),
            "{}: {} {wanted_std}",
            formula.ours,
            first_order.std
        );
        compared += 1;
    }
    assert!(compared > 100, "{compared} compared");
}

#[test]
#[ignore = "needs scipy: run tests/run"]
fn distributions_of_givens() {
    let mut shapes = vec![
        ("rectangular", "min 8 typ 10 max 12", json!({"low": 8, "nominal": 10, "high": 12})),
        ("triangular", "min 8 typ 10 max 15 triangular", json!({"low": 8, "nominal": 10, "high": 15})),
        ("arcsine", "10 ± 2 arcsine", json!({"low": 8, "nominal": 10, "high": 12})),
        ("normal", "10 ± 2 normal(2)", json!({"low": 8, "nominal": 10, "high": 12, "k": 2})),
        ("normal", "10 ± 2 normal(3)", json!({"low": 8, "nominal": 10, "high": 12, "k": 3})),
        ("student", "10 ± 2 normal(1) dof(3)", json!({"low": 8, "nominal": 10, "high": 12, "k": 1, "degrees": 3})),
        ("student", "10 ± 2 normal(2) dof(9)", json!({"low": 8, "nominal": 10, "high": 12, "k": 2, "degrees": 9})),
        ("student", "10 ± 2 normal(2) dof(60)", json!({"low": 8, "nominal": 10, "high": 12, "k": 2, "degrees": 60})),
    ];
    shapes.push((
        "student",
        "10 ± 2 normal(2) dof(1.5)",
        json!({"low": 8, "nominal": 10, "high": 12, "k": 2, "degrees": 1.5}),
    ));
    let drawn_too = shapes.len();
    // Whole degrees of freedom and others, across all the formulas that the quantile is made of.
    let degrees =
        [1.0, 1.01, 1.1, 1.3, 1.5, 1.7, 1.9, 1.99, 2.0, 2.01, 2.5, 2.99, 3.0, 3.7, 5.0, 7.3, 9.99, 10.0, 33.3];
    let texts: Vec<String> = degrees.iter().map(|degrees| format!("10 ± 2 normal(1) dof({degrees})")).collect();
    shapes.extend(texts.iter().zip(degrees).map(|(text, degrees)| {
        ("student", text.as_str(), json!({"low": 8, "nominal": 10, "high": 12, "k": 1, "degrees": degrees}))
    }));
    let asked: Vec<Value> = shapes
        .iter()
        .map(|(shape, _, numbers)| {
            let mut numbers = numbers.clone();
            numbers["shape"] = json!(shape);
            numbers
        })
        .collect();
    let answer = outside::python("propagation.py", &json!({"formulas": [], "shapes": asked}));
    for (n, ((_, text, _), wanted)) in shapes.iter().zip(answer["shapes"].as_array().unwrap()).enumerate() {
        let samples = if n < drawn_too { 1_000_000 } else { 1000 };
        let many = Options { samples: Some(samples), ..Options::default() };
        let it = Evaluator::with(&many).evaluate(&format!("```calc\nx = {text}\ny = x * 1\n```"));
        let exact = it.value("x").unwrap().spread.unwrap();
        let number = |i: usize| wanted[i].as_f64().unwrap();
        match wanted[0].as_f64() {
            Some(std) => close(exact.std.unwrap(), std, 1e-9),
            None => assert!(exact.std.is_none(), "{text} has no standard deviation"),
        }
        close(exact.interval.symmetric.0, number(1), 1e-6);
        close(exact.interval.symmetric.1, number(2), 1e-6);
        if n >= drawn_too {
            continue;
        }
        // And what is drawn follows what is known.
        let drawn = it.value("y").unwrap().spread.unwrap();
        assert_eq!(drawn.std.is_some(), exact.std.is_some(), "{text}");
        let width = number(2) - number(1);
        for (drawn, wanted) in [(drawn.interval.symmetric.0, number(1)), (drawn.interval.symmetric.1, number(2))] {
            assert!((drawn - wanted).abs() <= 0.01 * width, "{text}: {drawn} {wanted}");
        }
    }
}
