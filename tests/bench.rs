//! Readings of the bench: Type A, Student's factor and E_n against published figures and their definitions, fits and
//! suspects against closed forms and `scipy`. `tests/reference/bench.py` answers for it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use benchleaf_core::{
    Evaluator, Options,
    report::Report,
    results::{BenchDay, Evaluation, Fit},
    sheet::Worksheet,
};
use benchleaf_tests::{Random, close, codes, outside};
use serde_json::{Value as Json, json};

const LN_3: f64 = 1.098_612_288_668_109_8;

fn evaluated(calc: &str, benches: &str) -> Evaluation {
    let options = Options { samples: Some(20_000), ..Options::default() };
    Evaluator::with(&options).evaluate(&format!("```calc\n{calc}\n```\n\n{benches}\n"))
}

fn sound(calc: &str, benches: &str) -> Evaluation {
    let it = evaluated(calc, benches);
    assert!(it.problems.is_empty(), "{calc}\n{benches}\n{:#?}", it.problems);
    it
}

fn bench(value: &str, lines: &str) -> String {
    format!("```bench {value}\n{lines}\n```\n\n")
}

fn only_day(it: &Evaluation) -> &BenchDay {
    assert_eq!(it.benches[0].days.len(), 1);
    &it.benches[0].days[0]
}

fn joined<'a>(numbers: impl IntoIterator<Item = &'a f64>, unit: &str) -> String {
    numbers.into_iter().map(|number| format!("{number} {unit}")).collect::<Vec<_>>().join(", ")
}

/// Twenty readings of a temperature: JCGM 100:2008, 4.4.3 with table 1 (the readings from memory; their mean, standard
/// deviation and standard uncertainty are the published ones).
#[test]
fn type_a_of_the_guides_twenty_readings() {
    let readings = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11,
        101.20, 101.57, 101.84, 102.36, 102.72,
    ];
    let it = sound("T = 100 °C ± 5 K", &bench("T", &format!("2026-11-25: {}", joined(&readings, "°C"))));
    let day = only_day(&it);
    assert_eq!(day.n, 20);
    assert!((day.mean - 273.15 - 100.145).abs() < 5e-4, "{}", day.mean);
    assert!((day.sd.unwrap() - 1.489).abs() < 5e-4 && (day.u.unwrap() - 0.333).abs() < 5e-4, "{day:?}");
    assert_eq!((day.degrees, day.type_a), (19.0, day.u));
}

/// The column for 95.45 % of table G.2 in JCGM 100:2008.
#[test]
fn students_factors_of_the_guides_table() {
    for (degrees, wanted) in [
        (1, 13.97),
        (2, 4.53),
        (3, 3.31),
        (4, 2.87),
        (5, 2.65),
        (6, 2.52),
        (7, 2.43),
        (8, 2.37),
        (9, 2.32),
        (10, 2.28),
        (20, 2.13),
        (50, 2.05),
    ] {
        let readings: Vec<f64> = (0..=degrees).map(|i| 10.0 + 0.1 * f64::from(i % 3)).collect();
        let it = sound("x = 10 V ± 5 %", &bench("x", &format!("2026-11-25: {}", joined(&readings, "V"))));
        assert!((only_day(&it).student - wanted).abs() < 0.0051, "{degrees}: {}", only_day(&it).student);
    }
    let one = sound("x = 10 V ± 5 %", &bench("x", "2026-11-25: 10.1 V\ninstrument ± 0.1 V"));
    assert_eq!(only_day(&one).student, 2.0);
}

/// Eleven readings of a thermometer's correction and the straight line through them: JCGM 100:2008, H.3 (data from memory;
/// coefficients, standard uncertainties and correlation as published).
#[test]
fn the_guides_calibration_curve() {
    let readings = [
        (21.521, -0.171),
        (22.012, -0.169),
        (22.512, -0.166),
        (23.003, -0.159),
        (23.507, -0.164),
        (23.999, -0.165),
        (24.513, -0.156),
        (25.002, -0.157),
        (25.503, -0.159),
        (26.010, -0.161),
        (26.511, -0.160),
    ];
    let (mut calc, mut benches) = ("y_1 = -0.1\ny_2 = 0.001".to_owned(), String::new());
    for (i, (t, b)) in readings.iter().enumerate() {
        calc.push_str(&format!("\nb_{i} = y_1 + y_2 * ({t} - 20)"));
        // The standard deviation of the published fit.
        benches.push_str(&bench(&format!("b_{i}"), &format!("2026-11-25: {b}\ninstrument ± 0.0035 normal(1)")));
    }
    let from: Vec<String> = (0..readings.len()).map(|i| format!("b_{i}")).collect();
    benches.push_str(&bench("b_0", &format!("fit y_1, y_2 from {}", from.join(", "))));
    let it = sound(&calc, &benches);
    let fit = &it.benches.last().unwrap().fits[0];
    let rounded = |x: f64, places: f64| (x * places).round() / places;
    assert_eq!(rounded(fit.givens[0].si, 1e4), -0.1712);
    assert_eq!(rounded(fit.givens[1].si, 1e5), 0.00218);
    assert_eq!(rounded(fit.givens[0].u.unwrap(), 1e4), 0.0029);
    assert_eq!(rounded(fit.givens[1].u.unwrap(), 1e5), 0.00067);
    assert_eq!(rounded(fit.correlation[0][1], 1e3), -0.930);
    let (squares, degrees) = fit.left.unwrap();
    assert!(degrees == 9 && (squares - 9.0).abs() < 0.3, "{squares}");
}

/// ISO 13528:2022, 9.7, as defined: E_n = (x − X) / √(U_x² + U_X²) with k = 2, alike at most 1 in size.
#[test]
fn e_n_is_what_it_is_defined_as() {
    for (reading, agrees) in [(10.0, true), (10.5, true), (11.0, false), (9.5, true), (9.0, false)] {
        let it =
            sound("x = 10 V ± 0.3 V normal(1)", &bench("x", &format!("2026-11-25: {reading} V\ninstrument ± 0.2 V")));
        let day = only_day(&it);
        let wanted = (reading - 10.0) / (2.0 * (0.2f64 * 0.2 / 3.0 + 0.09).sqrt());
        let against = day.against.unwrap();
        assert!((against.e_n.unwrap() - wanted).abs() < 1e-12, "{against:?} {wanted}");
        assert_eq!(against.agrees, agrees, "{reading}");
    }
    // A value that does not vary has no uncertainty of its own.
    let it = sound("x = 10 V", &bench("x", "2026-11-25: 10.1 V, 10.3 V"));
    let against = only_day(&it).against.unwrap();
    assert!((against.e_n.unwrap() - 0.2 / (2.0 * 0.1)).abs() < 1e-9 && against.agrees);
}

#[test]
fn what_cannot_be_judged_is_not() {
    // One reading, and nothing said of the instrument.
    let it = sound("x = 10 V ± 5 %", &bench("x", "2026-11-25: 10.1 V"));
    let day = only_day(&it);
    assert_eq!((day.sd, day.u, day.against), (None, None, None));
    // A value that is infinite in some builds has no E_n; the interval speaks.
    let endless = "a = 1 V ± 10 %\nb = 0.95 V ± 10 %\nt [s] = 1 V*s / max(a - b, 0 V)";
    for (reading, agrees) in [("20 s", true), ("1 s", false)] {
        let it = evaluated(endless, &bench("t", &format!("2026-11-25: {reading}\ninstrument ± 0.1 s")));
        let log = &it.benches[0];
        let against = log.days[0].against.unwrap();
        assert!(log.prediction.fails_to_exist > 0.1 && log.prediction.u.is_none());
        assert_eq!((against.e_n, against.agrees), (None, agrees), "{reading}");
    }
    // A value without any.
    let it = evaluated("a = 1 V\nx = a / (a - a)", &bench("x", "2026-11-25: 10, 11"));
    assert_eq!(codes(&it), ["E-not-finite"]);
    assert!(it.benches[0].days[0].against.is_none());
}

#[test]
fn days_are_sorted_and_put_together() {
    let lines = "2026-12-02: 3 V\n2026-11-25: 1 V, 2 V\n2026-12-02: 5 V \"later\"\ninstrument ± 1 % \"scale\"\ninstrument ± 0.1 V triangular";
    let it = sound("x = 3 V ± 90 %", &bench("x", lines));
    let days: Vec<(String, usize, f64)> =
        it.benches[0].days.iter().map(|day| (day.day.to_string(), day.n, day.mean)).collect();
    assert_eq!(days, [("2026-11-25".to_owned(), 2, 1.5), ("2026-12-02".to_owned(), 2, 4.0)]);
    let wanted = (0.04f64 * 0.04 / 3.0 + 0.01 / 6.0).sqrt();
    assert!((it.benches[0].days[1].instrument.unwrap() - wanted).abs() < 1e-15);
    let source = "```calc\nx = 3 V ± 90 %\n```\n```bench x\n2026-11-25: 1 V, 2 V\nfit x from x\n```\n";
    let it = Evaluator::default().evaluate(source);
    let report = serde_json::to_value(Report::new("a.md", &it, source)).unwrap();
    let entry = &report["bench"][0];
    assert_eq!(
        (&entry["value"], &entry["date"], &entry["n"], &entry["agrees"]),
        (&json!("x"), &json!("2026-11-25"), &json!(2), &json!(true))
    );
    for (key, wanted) in
        [("mean", 1.5), ("sd", 0.5f64.sqrt()), ("u", 0.5), ("predicted", 3.0), ("u_predicted", 2.7 / 3f64.sqrt())]
    {
        assert!((entry[key].as_f64().unwrap() - wanted).abs() < 1e-12, "{key} {entry}");
    }
    assert!((report["fits"][0]["si"].as_f64().unwrap() - 1.5).abs() < 1e-12);
    assert!((report["suspects"][0]["sigmas"].as_f64().unwrap() + 1.5 / (2.7 / 3f64.sqrt())).abs() < 1e-9);
}

/// The pulse of a one-shot timer: closed form.
#[test]
fn a_fit_of_one_given_is_the_formula_turned_round() {
    let calc = "R_t = 910 kΩ ± 5 %\nC_t = 22 µF -20 % +50 %\nt_on [s] = R_t * C_t * ln(3)";
    let it = sound(calc, &bench("t_on", "2026-11-25: 23.1 s, 22.8 s, 23.4 s\ninstrument ± 0.2 s\nfit C_t from t_on"));
    let fitted = &it.benches[0].fits[0].givens[0];
    let (r, t, u_t) = (910e3, 23.1, (0.03f64 + 0.04 / 3.0).sqrt());
    close(fitted.si, t / (r * LN_3), 1e-9);
    let relative = (u_t / t * u_t / t + 0.05f64 * 0.05 / 3.0).sqrt();
    close(fitted.u.unwrap(), fitted.si * relative, 1e-6);
    assert!(fitted.allowed);
    let suspects = it.benches[0].suspects.as_ref().unwrap();
    let names: Vec<&str> = suspects.ranked.iter().map(|suspect| suspect.given.as_str()).collect();
    assert_eq!(names, ["C_t", "R_t"]);
    close(suspects.ranked[1].needed, t / (22e-6 * LN_3), 1e-9);
    close(suspects.ranked[1].sigmas, (suspects.ranked[1].needed / r - 1.0) / (0.05 / 3f64.sqrt()), 1e-6);
}

#[test]
fn what_cannot_explain_a_reading_is_said() {
    // The clamp lets no value of `a` bring `x` above 5 V; `b` can.
    let calc = "a = 3 V ± 10 %\nb = 1 ± 10 %\nx = min(a, 5 V) * b";
    let it = sound(calc, &bench("x", "2026-11-25: 6 V\ninstrument ± 0.1 V"));
    let suspects = it.benches[0].suspects.as_ref().unwrap();
    assert_eq!(suspects.cannot, ["a"]);
    assert_eq!(suspects.ranked.len(), 1);
    close(suspects.ranked[0].needed, 2.0, 1e-9);
    // Asked for by itself, as the test points of a page are.
    let source = format!("```calc\n{calc}\n```\n");
    let alone = Evaluator::default().suspects(&Worksheet::new(&source).0, "x", 6.0).unwrap();
    assert_eq!((&alone.ranked, &alone.cannot), (&suspects.ranked, &suspects.cannot));
    assert_eq!(Evaluator::default().suspects(&Worksheet::new(&source).0, "y", 6.0), None);
}

#[test]
fn what_readings_do_not_tell_is_said_by_name() {
    let calc = "R_t = 910 kΩ ± 5 %\nC_t = 22 µF ± 20 %\nV = 5 V ± 1 %\nt_on [s] = R_t * C_t\nf_x [Hz] = 1 / t_on";
    for (fit, wanted) in [
        ("fit R_t, C_t from t_on, f_x", "do not determine `C_t` from `R_t`"),
        ("fit V from t_on", "does not depend on `V`"),
        ("fit R_t, C_t, V from t_on, f_x", "cannot be distinguished"),
    ] {
        let it = evaluated(
            calc,
            &(bench("t_on", "2026-11-25: 20 s, 20.1 s")
                + &bench("f_x", &format!("2026-11-25: 0.05 Hz, 0.051 Hz\n{fit}"))),
        );
        assert_eq!(codes(&it), ["E-bench"], "{fit}");
        assert!(it.problems[0].message.english().contains(wanted), "{fit}: {}", it.problems[0].message.english());
    }
}

/// A number of a range, with few digits, so that it is written as it is.
fn number(numbers: &mut Random, low: f64, high: f64) -> f64 {
    ((low + (high - low) * numbers.share()) * 1e4).round() / 1e4
}

/// A formula of the fitted and the other givens that rises or falls steadily in each: as the worksheet and as Python write it.
fn formula(numbers: &mut Random, names: &[&str]) -> (String, String) {
    let mut ours = vec![];
    let mut python = vec![];
    for name in names {
        let (p, q) = (number(numbers, 0.3, 2.0), number(numbers, 0.2, 1.5));
        let (a, b) = match numbers.below(5) {
            0 => (format!("{name}^{p}"), format!("{name}**{p}")),
            1 => (format!("(1 / ({q} + {name}))"), format!("(1 / ({q} + {name}))")),
            2 => (format!("exp({name} * {q} / 4)"), format!("exp({name} * {q} / 4)")),
            3 => (format!("ln(1 + {name} * {q})"), format!("log(1 + {name} * {q})")),
            _ => (format!("sqrt({name} + {q})"), format!("sqrt({name} + {q})")),
        };
        ours.push(a);
        python.push(b);
    }
    let join = if numbers.below(2) == 0 { " * " } else { " + " };
    (ours.join(join), python.join(join))
}

#[test]
#[ignore = "needs scipy: run tests/run"]
fn readings_fits_and_suspects_of_random_worksheets() {
    let mut numbers = Random(17);
    let (mut readings, mut days) = (Vec::new(), Vec::new());
    for _ in 0..60 {
        let n = 1 + numbers.below(7);
        let row: Vec<f64> = (0..n).map(|_| number(&mut numbers, 8.0, 12.0)).collect();
        let half = number(&mut numbers, 0.05, 0.5);
        let it =
            sound("x = 10 V ± 5 %", &bench("x", &format!("2026-11-25: {}\ninstrument ± {half} V", joined(&row, "V"))));
        days.push(only_day(&it).clone());
        readings.push(json!({"numbers": row, "instrument": half}));
    }
    let (mut fits, mut found) = (Vec::new(), Vec::new());
    let (mut suspects, mut needed) = (Vec::new(), Vec::new());
    let names = ["a", "b", "c", "d"];
    for _ in 0..80 {
        let fitted = 1 + numbers.below(2) as usize;
        let read = fitted + numbers.below(3) as usize;
        let nominal: Vec<f64> = names.iter().map(|_| number(&mut numbers, 0.6, 3.0)).collect();
        let std: Vec<f64> =
            nominal.iter().map(|x| (x * number(&mut numbers, 0.005, 0.03) * 1e5).round() / 1e5).collect();
        let mut calc: String =
            (0..4).map(|i| format!("{} = {} ± {} normal(1)\n", names[i], nominal[i], std[i])).collect();
        let (mut benches, mut formulas, mut means, mut from) = (String::new(), Vec::new(), Vec::new(), Vec::new());
        for i in 0..read {
            let (ours, python) = formula(&mut numbers, &names);
            calc.push_str(&format!("y_{i} = {ours}\n"));
            let it = sound(&calc, "");
            // What was read is some per cent off.
            let mean = it.value(&format!("y_{i}")).unwrap().nominal * (1.0 + 0.03 * (numbers.share() - 0.5));
            let mean = (mean * 1e6).round() / 1e6;
            let half = (mean.abs() * 1e4).round() / 1e6;
            benches.push_str(&bench(&format!("y_{i}"), &format!("2026-11-25: {mean}\ninstrument ± {half}")));
            formulas.push(python);
            means.push(json!([mean, half / 3f64.sqrt()]));
            from.push(format!("y_{i}"));
        }
        benches.push_str(&bench("y_0", &format!("fit {} from {}", names[..fitted].join(", "), from.join(", "))));
        let it = evaluated(&calc, &benches);
        if !it.problems.is_empty() {
            // Two formulas may happen to act in nearly the same way.
            assert!(
                it.problems.iter().all(|problem| problem.message.english().contains("determine")
                    || problem.message.english().contains("no value")),
                "{:?}",
                it.problems
            );
            continue;
        }
        let starts: serde_json::Map<String, Json> =
            (0..fitted).map(|i| (names[i].to_owned(), json!(nominal[i]))).collect();
        let others: serde_json::Map<String, Json> =
            (fitted..4).map(|i| (names[i].to_owned(), json!([nominal[i], std[i]]))).collect();
        fits.push(json!({"formulas": formulas, "fitted": starts, "others": others, "read": means}));
        found.push(it.benches.last().unwrap().fits[0].clone());
        let log = it.benches[0].suspects.as_ref().unwrap();
        for suspect in log.ranked.iter().filter(|suspect| suspect.needed > 1e-3) {
            let givens: serde_json::Map<String, Json> =
                (0..4).map(|i| (names[i].to_owned(), json!(nominal[i]))).collect();
            suspects.push(json!({"formula": formulas[0], "givens": givens, "moved": suspect.given, "low": 1e-4, "high": 1.5 * suspect.needed.max(1.0), "reading": log.reading}));
            needed.push(suspect.needed);
        }
    }
    assert!(fits.len() > 50 && suspects.len() > 150, "{} {}", fits.len(), suspects.len());
    let answer = outside::python("bench.py", &json!({"readings": readings, "fits": fits, "suspects": suspects}));
    for (day, wanted) in days.iter().zip(answer["readings"].as_array().unwrap()) {
        close(day.mean, wanted[0].as_f64().unwrap(), 1e-13);
        assert_eq!(day.sd.is_some(), wanted[1].is_number());
        if let Some(sd) = day.sd {
            close(sd, wanted[1].as_f64().unwrap(), 1e-11);
        }
        close(day.u.unwrap(), wanted[2].as_f64().unwrap(), 1e-11);
        if let Some(degrees) = wanted[3].as_f64() {
            close(day.degrees, degrees, 1e-9);
        }
        close(day.student, wanted[4].as_f64().unwrap(), 2e-5);
    }
    for (fit, wanted) in found.iter().zip(answer["fits"].as_array().unwrap()) {
        let Fit { givens, correlation, .. } = fit;
        for (i, given) in givens.iter().enumerate() {
            close(given.si, wanted[0][i][0].as_f64().unwrap(), 1e-5);
            close(given.u.unwrap(), wanted[0][i][1].as_f64().unwrap(), 1e-4);
        }
        if givens.len() == 2 {
            assert!((correlation[0][1] - wanted[1][0][1].as_f64().unwrap()).abs() < 1e-3);
        }
    }
    for (needed, wanted) in needed.iter().zip(answer["suspects"].as_array().unwrap()) {
        close(*needed, wanted.as_f64().unwrap(), 1e-8);
    }
}
