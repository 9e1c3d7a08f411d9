//! The worksheet language, form by form: what each means, and that what it does not allow is refused by name.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use benchleaf_core::{
    Evaluator,
    results::{Role, Status},
};
use benchleaf_tests::{calc, close, codes, nominal, only_problem, range, sound};

#[test]
fn the_example_of_the_guide_comes_out() {
    let it = sound(
        r#"V_s = 9 V ± 5 %                          "wall adapter"
R_t = 120 kΩ ± 5 %                       "timing resistor"
C_t = 47 µF -20 % +50 %                  "timing capacitor, electrolytic"
V_be = min 0.6 V typ 0.7 V max 0.85 V    "base-emitter drop, datasheet"
gain = 100 ± 30 % normal(2)              "current gain"
t_on [s] = R_t * C_t * ln(3)             "pulse length"
R_b [kΩ] = preferred_below(E24, (V_s - V_be) / 5 mA)
keep t_on between 4 s and 8 s            "long enough to mist, short enough not to flood"
keep V_s / 220 Ω below 60 mA             "LED current"
correlation(V_s, V_be) = 0.2"#,
    );
    close(nominal(&it, "t_on"), 120e3 * 47e-6 * 3f64.ln(), 1e-14);
    close(range(&it, "t_on").0, 120e3 * 0.95 * 47e-6 * 0.8 * 3f64.ln(), 1e-14);
    close(range(&it, "t_on").1, 120e3 * 1.05 * 47e-6 * 1.5 * 3f64.ln(), 1e-14);
    assert_eq!(nominal(&it, "R_b"), 1600.0);
    assert_eq!(it.value("t_on").unwrap().shown(), "6.20 s");
    assert_eq!(it.value("R_t").unwrap().shown(), "120 kΩ");
    assert_eq!(it.value("R_t").unwrap().role, Role::Given);
    assert_eq!(it.keeps[0].status, Status::AtRisk);
    assert_eq!(it.keeps[0].blame.as_deref(), Some("C_t"));
    assert_eq!(it.keeps[1].status, Status::Holds);
    close(it.keeps[1].margin.unwrap(), 1.0 - 9.0 / 220.0 / 0.06, 1e-12);
}

#[test]
fn every_way_to_write_a_quantity() {
    for (text, si) in [
        ("910 kΩ", 910e3),
        ("910 kohm", 910e3),
        ("910kΩ", 910e3),
        ("10 uF", 10e-6),
        ("0.5 V/A", 0.5),
        ("65 °C/W", 65.0),
        ("3000 rev/min", 3000.0 / 60.0 * std::f64::consts::TAU),
        ("2.5 N·m", 2.5),
        ("10^-3 m^2", 1e-3),
        ("10⁻³ m²", 1e-3),
        ("2.2*10^-6 F", 2.2e-6),
        ("2.2 × 10⁻⁶ F", 2.2e-6),
        ("1e3 V", 1000.0),
        ("1.5E-3 A", 1.5e-3),
        ("10_000 Ω", 10e3),
        (".5 V", 0.5),
        ("4k7", 4700.0),
        ("4K7", 4700.0),
        ("R47", 0.47),
        ("4R7", 4.7),
        ("2M2", 2.2e6),
        ("4n7", 4.7e-9),
        ("p10", 0.1e-12),
        ("470k", 470e3),
        ("100n", 100e-9),
        ("5 %", 0.05),
        ("20 ppm", 20e-6),
        ("90 deg", std::f64::consts::FRAC_PI_2),
        ("25 °C", 298.15),
        ("-5 °C", 268.15),
        ("40 K", 40.0),
        ("10 K/W", 10.0),
        ("10K/W", 10.0),
        ("5 min", 300.0),
        ("12 mAh", 43.2),
        ("3900 1/K", 3900.0),
        ("0.3 EUR", 0.3),
        ("-3 V", -3.0),
    ] {
        let it = sound(&format!("x = {text}"));
        close(nominal(&it, "x"), si, 1e-14);
        assert_eq!(it.value("x").unwrap().role, Role::Given, "{text}");
    }
}

#[test]
fn every_form_of_tolerance() {
    for (text, low, high) in [
        ("12 V ± 5 %", 11.4, 12.6),
        ("12 V +/- 5 %", 11.4, 12.6),
        ("12 V ± 0.5 V", 11.5, 12.5),
        ("12 V ± 500 mV triangular", 11.5, 12.5),
        ("12 V ± 5 % arcsine", 11.4, 12.6),
        ("12 V ± 5 % normal(3)", 11.4, 12.6),
        ("22 V -20 % +50 %", 17.6, 33.0),
        ("22 V +50 % -20 %", 17.6, 33.0),
        ("22 V -1 V +2 V", 21.0, 24.0),
        ("min 0.6 V typ 0.7 V max 0.85 V", 0.6, 0.85),
        ("min 0.6 V max 0.8 V", 0.6, 0.8),
        ("min 600 mV typ 0.7 V", 0.6, 0.7),
        ("typ 0.7 V max 0.85 V", 0.7, 0.85),
        ("4k7J", 4465.0, 4935.0),
        ("100 ± 30 % normal(2)", 70.0, 130.0),
        ("-5 V ± 10 %", -5.5, -4.5),
        ("25 °C ± 3 K", 295.15, 301.15),
        ("25 °C ± 3 °C", 295.15, 301.15),
        ("min -10 °C max 40 °C", 263.15, 313.15),
    ] {
        let it = sound(&format!("x = {text}"));
        let (found_low, found_high) = range(&it, "x");
        close(found_low, low, 1e-13);
        close(found_high, high, 1e-13);
    }
    close(nominal(&sound("x = min 0.6 V max 0.8 V"), "x"), 0.7, 1e-14);
    // A tolerance on a formula: the part that was chosen varies around its value.
    let it = sound("a = 10 V\nR = preferred_below(E12, a / 3 mA) ± 5 %");
    close(range(&it, "R").0, 3300.0 * 0.95, 1e-13);
    close(range(&it, "R").1, 3300.0 * 1.05, 1e-13);
    // A sum is not a tolerance.
    assert_eq!(nominal(&sound("x = 22 V - 20 V + 50 V"), "x"), 52.0);
}

/// A span of nothing is none: the value is exact, and what it goes into varies with the others alone.
#[test]
fn a_tolerance_of_nothing_is_none() {
    for text in [
        "5 V ± 0 %",
        "5 V ± 0 V normal(2) dof(3)",
        "5 V ± 0 % triangular",
        "5 V -0 % +0 %",
        "min 5 V max 5 V",
        "min 5 V typ 5 V max 5 V",
    ] {
        let it = sound(&format!("x = {text}\nb = 1 V ± 1 %\ny = x * 2\nz = x * b\nkeep y below 11 V"));
        for name in ["x", "y"] {
            let value = it.value(name).unwrap();
            assert!(value.worst.is_none() && value.spread.is_none() && value.shares.is_empty(), "{text}: {value:?}");
        }
        close(range(&it, "z").0, 4.95, 1e-13);
        let shares = &it.value("z").unwrap().shares;
        assert_eq!((shares.len(), shares[0].name.as_str()), (1, "b"), "{text}");
        assert_eq!((it.keeps[0].status, it.keeps[0].fails), (Status::Holds, None), "{text}");
    }
}

#[test]
fn a_wrong_tolerance_is_reported_with_a_way_out() {
    for (text, message, help) in [
        ("5 V ± -5 %", "a tolerance is never negative", "-20 % +50 %"),
        ("5 V ± -0.5 V", "a tolerance is never negative", "-20 % +50 %"),
        ("5 V -5 % -5 %", "`5 %` is a part, but it is not said of what", "one of each sign"),
        ("5 V +5 % +5 %", "`5 %` is a part, but it is not said of what", "one of each sign"),
        ("min 3 V max 1 V", "the bounds are out of order", "must rise"),
        ("min -1 V max -3 V", "the bounds are out of order", "must rise"),
        ("min 3 V typ 2 V max 4 V", "the bounds are out of order", "must rise"),
        ("min 1 V typ 5 V max 4 V", "the bounds are out of order", "must rise"),
        ("min 1 V typ 0.5 V", "the bounds are out of order", "must rise"),
        ("typ 5 V max 4 V", "the bounds are out of order", "must rise"),
        ("5 V ± 5 % normal(0)", "between 0 and 10", "how many standard deviations"),
        ("5 V ± 5 % normal(2) dof(0)", "at least 1", "n - 1 degrees of freedom"),
        ("0 V ± 5 %", "per cent of zero is nothing", "in the unit of the value"),
    ] {
        let it = calc(&format!("x = {text}"));
        let problem = only_problem(&it);
        assert!(problem.message.english().contains(message), "{text}: {}", problem.message.english());
        assert!(problem.help.as_ref().unwrap().english().contains(help), "{text}: {:?}", problem.help);
        assert!(it.value("x").is_none());
    }
}

#[test]
fn operators_bind_as_in_print() {
    for (text, wanted) in [
        ("1 + 2 * 3", 7.0),
        ("(1 + 2) * 3", 9.0),
        ("2 * 3 ^ 2", 18.0),
        ("-2 ^ 2", -4.0),
        ("2 ^ -1", 0.5),
        ("2 ^ 3 ^ 2", 512.0),
        ("8 / 4 / 2", 1.0),
        ("8 - 4 - 2", 2.0),
        ("4 ∥ 4", 2.0),
        ("4 || 4 || 2", 1.0),
        ("10 / 4 ∥ 4", 5.0),
        ("if 1 < 2 then 5 else 6", 5.0),
        ("if 1 > 2 or 3 >= 3 then 5 else 6", 5.0),
        ("if not 1 == 2 and 1 != 2 then 5 else 6", 5.0),
        ("if 1 <= 0 then 1 else if 2 < 3 then 2 else 3", 2.0),
        ("sqrt(16) + abs(-3) + exp(0) + ln(e) + log10(1000)", 12.0),
        ("sin(30 deg) + cos(0) + tan(45 deg)", 2.5),
        ("(asin(1) + acos(0) + 2 * atan(1)) / π", 1.5),
        ("atan2(1 V, 1 V) / pi", 0.25),
        ("min(3, 1, 2) + max(3, 1, 2)", 4.0),
        ("floor(2.7) + ceil(2.2) + round(2.5) + round(-2.5)", 5.0),
        ("clamp(7, 1, 5) + clamp(-7, 1, 5) + clamp(3, 1, 5)", 9.0),
        ("sum(1, 2, 3) + mean(1, 2, 3)", 8.0),
        ("parallel(6, 3, 2) + series(1, 2, 3)", 7.0),
        ("interpolate(1.5, 1, 10, 2, 20, 4, 80)", 15.0),
        ("interpolate(2, 1, 10, 2, 20, 4, 80)", 20.0),
    ] {
        close(nominal(&sound(&format!("x = {text}")), "x"), wanted, 1e-14);
    }
    // Capacitors in parallel add; resistors go by reciprocals. In series the other way round.
    close(nominal(&sound("x = 10 µF ∥ 10 µF"), "x"), 20e-6, 1e-14);
    close(nominal(&sound("x = series(10 µF, 10 µF)"), "x"), 5e-6, 1e-14);
    close(nominal(&sound("x = 10 kΩ ∥ 10 kΩ"), "x"), 5e3, 1e-14);
    close(nominal(&sound("x = parallel(1 S, 2 S)"), "x"), 3.0, 1e-14);
}

#[test]
fn a_line_goes_on_after_an_operator_a_comma_or_an_open_bracket() {
    let it = sound("x = 1 +\n  2 * # two\n  3\ny = max(\n 1,\n 4)\nz =\n 5");
    assert_eq!((nominal(&it, "x"), nominal(&it, "y"), nominal(&it, "z")), (7.0, 4.0, 5.0));
}

#[test]
fn kinds_are_kept_apart() {
    for (lines, code) in [
        ("x = 25 °C + 25 °C", "E-kind-mismatch"),
        ("x = 2 * 25 °C", "E-kind-mismatch"),
        ("x = 25 °C * 2", "E-kind-mismatch"),
        ("x = 25 °C / 2", "E-kind-mismatch"),
        ("x = (25 °C)^1", "E-kind-mismatch"),
        ("x = 1 lx + 1 cd/m²", "E-kind-mismatch"),
        ("x = 1 lm/m² + 1 cd/m²", "E-kind-mismatch"),
        ("x = 1 lm + 1 cd", "E-kind-mismatch"),
        ("x [lm] = 1 cd", "E-kind-mismatch"),
        ("x = 1 W + 1 var", "E-kind-mismatch"),
        ("x = 1 kW + 1 kVA", "E-kind-mismatch"),
        ("x = 1 VA > 1 var", "E-kind-mismatch"),
        ("x = 1 B + 1", "E-unit-mismatch"),
        ("x = 1 bit/s + 1 Hz", "E-unit-mismatch"),
        ("x = 10K", "E-two-readings"),
        ("x = 4n7F", "E-two-readings"),
        ("x = 10m2", "E-two-readings"),
        ("x = 40 K - 25 °C", "E-kind-mismatch"),
        ("x = 25 °C > 40 K", "E-kind-mismatch"),
        ("x [°C] = 3 W * 10 K/W", "E-kind-mismatch"),
        ("x [K] = 5 N·m", "E-unit-mismatch"),
        ("x = 5 N·m + 5 J", "E-kind-mismatch"),
        ("x [J] = 5 N·m", "E-kind-mismatch"),
        ("x [rad/s] = 50 Hz", "E-kind-mismatch"),
        ("x = 50 Hz + 3 rad/s", "E-kind-mismatch"),
        ("x = max(50 Hz, 3 rev/min)", "E-kind-mismatch"),
        ("x = if 1 < 2 then 1 J else 1 N·m", "E-kind-mismatch"),
        ("keep 5 J below 6 N·m", "E-kind-mismatch"),
        ("T = 20 °C\nx = -T", "E-kind-mismatch"),
        ("x = sum(20 °C, 20 °C)", "E-kind-mismatch"),
        ("a = 20 °C ± 5 %", "E-tolerance"),
    ] {
        assert_eq!(codes(&calc(lines)), [code], "{lines}");
    }
    let it = sound(
        "T_a = 25 °C\nT_j = T_a + 3 W * 10 K/W\nd = T_j - T_a\nw [rad/s] = 2 * π * 50 Hz\nW [J] = 5 N·m * 2\nm = mean(20 °C, 30 °C)\nf [Hz] = 1 / 20 ms\nT_k [K] = T_a",
    );
    assert_eq!(it.value("T_j").unwrap().shown(), "55.0 °C");
    assert_eq!(it.value("d").unwrap().shown(), "30.0 K");
    assert_eq!(it.value("m").unwrap().shown(), "25.0 °C");
    assert_eq!(it.value("f").unwrap().shown(), "50.0 Hz");
    assert_eq!(it.value("T_k").unwrap().shown(), "298 K");
}

#[test]
fn wrong_statements_are_refused_by_name() {
    for (lines, code) in [
        ("x = 4,7 kΩ", "E-decimal-comma"),
        ("x = 5 foo", "E-unknown-unit"),
        ("x = 10 k", "E-unknown-unit"),
        ("x [foo] = 5 V", "E-unknown-unit"),
        ("R = 5 Ω\nx = 2 R", "E-implied-product"),
        ("x = 2 (3 + 4)", "E-implied-product"),
        ("R = 5 Ω\nx = R (3)", "E-implied-product"),
        ("x = y + 1", "E-unknown-name"),
        ("x = foo(1)", "E-unknown-function"),
        ("x = regulator.liner(input = 1 V)", "E-unknown-function"),
        ("x = 1\nx = 2", "E-redefined"),
        ("x = 1 V + 1 A", "E-unit-mismatch"),
        ("x [A] = 1 V", "E-unit-mismatch"),
        ("x = 1 V + 1", "E-unit-mismatch"),
        ("x = ln(1 V)", "E-unit-mismatch"),
        ("x = 2 ^ 1 V", "E-exponent"),
        ("n = 2\nx = (1 V) ^ n", "E-exponent"),
        ("x = (1 V) ^ 0.7", "E-exponent"),
        ("x = 1 V > 2 V + 1 V and 3 V", "E-type-mismatch"),
        ("x = (1 < 2) + 1", "E-type-mismatch"),
        ("x = if 1 V then 1 else 2", "E-type-mismatch"),
        ("x = 1 < 2 < 3", "E-syntax"),
        ("x = ", "E-syntax"),
        ("= 5", "E-syntax"),
        ("5 V", "E-syntax"),
        ("x + 1 = 5", "E-syntax"),
        ("x = 1 = 2", "E-syntax"),
        ("keep x", "E-unknown-name"),
        ("keep 5 V", "E-type-mismatch"),
        ("keep 5 V under 6 V", "E-syntax"),
        ("keep 5 V below", "E-syntax"),
        ("if = 5", "E-syntax"),
        ("x = (1 + 2", "E-unclosed"),
        ("x = 1 + 2)", "E-unclosed"),
        ("x = 5 V \"label", "E-unclosed"),
        ("x [V = 5 V", "E-unclosed"),
        ("x = 5 $", "E-character"),
        ("x = 5 V ± 5 A", "E-tolerance"),
        ("x = 0 V ± 5 %", "E-tolerance"),
        ("x = 5 V ± -5 %", "E-tolerance"),
        ("x = min 3 V max 1 V", "E-tolerance"),
        ("x = min 3 V", "E-tolerance"),
        ("x = 5 V ± 5 % normal(0)", "E-tolerance"),
        ("x = 5 V ± 5 % normal", "E-syntax"),
        ("a = 1 V\nb = 1 V ± 1 %\ncorrelation(a, b) = 0.5", "E-correlation"),
        ("a = 1 V ± 1 %\nb = 1 V ± 1 %\ncorrelation(a, b) = 1.5", "E-correlation"),
        ("a = 1 V ± 1 %\ncorrelation(a, a) = 0.5", "E-correlation"),
        ("x = 1 / 0", "E-not-finite"),
        ("x = ln(0)", "E-not-finite"),
        ("x = sqrt(-1)", "E-not-finite"),
        ("x = preferred_below(E24, 0 Ω)", "E-not-finite"),
        ("x = preferred_below(E25, 5 Ω)", "E-arguments"),
        ("x = interpolate(5, 1, 10, 2, 20)", "E-not-finite"),
        ("x = interpolate(1, 2, 10, 1, 20)", "E-arguments"),
        ("x = sqrt(1, 2)", "E-arguments"),
        ("x = sqrt()", "E-arguments"),
        ("f(a, b) = a + b\nx = f(1)", "E-arguments"),
        ("f(a, a) = a\n", "E-redefined"),
        ("f(a) [s] = a\nx = f(1 V)", "E-unit-mismatch"),
        ("r = regulator.linear(input = 12 V)", "E-arguments"),
        ("r = regulator.linear(12 V)", "E-arguments"),
        ("r = regulator.linear(inptu = 12 V)", "E-arguments"),
    ] {
        let found = calc(lines);
        assert_eq!(codes(&found).first(), Some(&code), "{lines}: {:#?}", found.problems);
    }
}

#[test]
fn records_are_read_by_field() {
    let call =
        "r = regulator.linear(input = 9 V, output = 5 V, load = 60 mA, ambient = 35 °C, junction_to_ambient = 65 K/W)";
    let it = sound(&format!("{call}\nx = r.junction - 35 °C"));
    close(nominal(&it, "x"), (4.0 * 0.06 + 9.0 * 0.005) * 65.0, 1e-12);
    assert_eq!(codes(&calc(&format!("{call}\nx = r.juncton"))), ["E-unknown-field"]);
    assert_eq!(codes(&calc(&format!("{call}\nx = r + 1"))), ["E-type-mismatch"]);
    assert!(
        only_problem(&calc(&format!("{call}\nx = r.juncton")))
            .help
            .as_ref()
            .map(benchleaf_words::Phrase::english)
            .as_deref()
            .unwrap()
            .contains("r.junction")
    );
}

#[test]
fn a_model_outside_its_range_warns_and_names_the_range() {
    let it = calc("t = timing.one_shot(resistance = 100 kΩ, capacitance = 10 µF, supply = 30 V)");
    let problem = only_problem(&it);
    assert_eq!(problem.code.text(), "W-validity");
    assert!(
        problem.message.english().contains("4.5") && problem.message.english().contains("16"),
        "{}",
        problem.message.english()
    );
}

#[test]
fn an_error_stops_what_depends_on_it_and_nothing_else() {
    let it = calc("a = 5 foo\nb = a + 1\nc = 3 V\nd = c * 2\nkeep b below 3\nkeep d below 7 V");
    assert_eq!(codes(&it), ["E-unknown-unit", "E-depends-on-error", "E-depends-on-error"]);
    assert_eq!(nominal(&it, "d"), 6.0);
    assert_eq!(it.keeps.len(), 1);
}

#[test]
fn notes_speak_when_the_worst_case_can_meet_their_condition() {
    let sheet = |limit: &str| {
        format!("```calc\nP = 2 W ± 10 %\nT = 20 °C + P * 10 K/W\n```\n```caution when T > {limit}\nHot: {{T}}.\n```\n")
    };
    let shown = |limit: &str| Evaluator::default().evaluate(&sheet(limit)).notes[0].clone();
    assert!(shown("39 °C").shown, "at nominal");
    assert!(shown("41 °C").shown, "at the corner");
    assert!(!shown("43 °C").shown, "nowhere");
    assert_eq!(shown("41 °C").met_by, [("T".to_owned(), "42.0 °C".to_owned())]);
    // A condition that cannot be worked out is no reason for silence.
    let it = Evaluator::default().evaluate("```danger when x > 3 V\nCareful.\n```\n");
    assert!(it.notes[0].shown);
    assert_eq!(codes(&it), ["E-unknown-name"]);
}

#[test]
fn metadata_is_checked() {
    let problems = |head: &str| codes(&Evaluator::default().evaluate(&format!("+++\n{head}\n+++\n# x\n")));
    assert!(
        problems("title = \"x\"\nsamples = 1000\nseed = 3\ndigits = 4\nlanguage = 1\ndate = 2026-01-02").is_empty()
    );
    assert_eq!(problems("titel = \"x\""), ["E-metadata-key"]);
    assert_eq!(problems("title = 3"), ["E-metadata"]);
    assert_eq!(problems("digits = 99"), ["E-metadata"]);
    assert_eq!(problems("title = "), ["E-metadata"]);
    assert_eq!(problems("language = 2"), ["E-language-version"]);
    assert_eq!(codes(&Evaluator::default().evaluate("+++\ntitle = \"x\"\n")), ["E-metadata"]);
}

#[test]
fn fences_of_others_are_left_alone() {
    let it = Evaluator::default().evaluate("```rust\nlet x = 1;\n```\n```text\nx = y\n```\n`{x}`\n\n    {x}\n");
    assert!(it.problems.is_empty(), "{:?}", it.problems);
    assert_eq!(codes(&Evaluator::default().evaluate("```clac\nx = 1\n```\n")), ["W-near-word"]);
}

#[test]
fn curves_follow_their_given() {
    let it = Evaluator::default().evaluate("```calc\nR = 100 kΩ ± 10 %\nC = 10 µF ± 20 %\nt [s] = R * C\n```\n```plot\nt [ms] against R from 10 kΩ to 1 MΩ log\nbound 2 s \"long\"\n```\n");
    assert!(it.problems.is_empty(), "{:?}", it.problems);
    let curve = &it.plots[0].curves[0];
    let (first, last) = (curve.points[0], curve.points[curve.points.len() - 1]);
    close(first.y, 0.1, 1e-12);
    close(first.low, 0.08, 1e-12);
    close(last.high, 12.0, 1e-12);
    let (x, y) = curve.nominal.unwrap();
    close(x, 1e5, 1e-12);
    close(y, 1.0, 1e-12);
    assert_eq!(it.plots[0].y.as_ref().unwrap().unit.symbol(), "ms");
    for (plot, code) in [
        ("t against C_x from 1 Ω to 2 Ω", "E-unknown-name"),
        ("t against ok from 1 s to 2 s", "E-plot"),
        ("t against R from 1 V to 2 V", "E-unit-mismatch"),
        ("t against R from 0 Ω to 2 kΩ log", "E-plot"),
        ("t against R from 2 kΩ to 2 kΩ", "E-plot"),
        ("title \"nothing\"", "E-plot"),
        ("t against R from 1 Ω to 2 Ω\nbound 3 V", "E-plot"),
        ("spread of t\nbound 3 V", "E-plot"),
        ("shares of t\nbound 3 s", "E-plot"),
        ("t against R from 1 Ω to 2 Ω\nR against R from 1 Ω to 2 Ω", "E-plot"),
    ] {
        let it = Evaluator::default().evaluate(&format!(
            "```calc\nR = 100 kΩ ± 10 %\nt [s] = R * 10 µF\nok = t > 1 s\n```\n```plot\n{plot}\n```\n"
        ));
        assert_eq!(codes(&it).first(), Some(&code), "{plot}: {:?}", it.problems);
    }
}

#[test]
fn a_requirement_may_be_a_condition() {
    let it = sound("V = 12 V ± 10 %\na = V > 10 V\nkeep a\nkeep V > 11 V \"turns\"\nkeep V > 13 V");
    let status: Vec<_> = it.keeps.iter().map(|keep| keep.status).collect();
    assert_eq!(status, [Status::Holds, Status::AtRisk, Status::Broken]);
}

#[test]
fn a_pole_inside_the_tolerances_is_named() {
    let it = calc("a = 1 V ± 10 %\nb = 0.95 V ± 10 %\nx = 1 V^2 / (a - b)");
    assert_eq!(codes(&it), ["W-unbounded"]);
    assert!(only_problem(&it).message.english().contains("a - b"), "{}", only_problem(&it).message.english());
    assert_eq!(range(&it, "x"), (f64::NEG_INFINITY, f64::INFINITY));
    // Interval arithmetic alone would cry wolf here: the divisor never comes to zero.
    sound("a = 1 V ± 10 %\nx = 1 V^2 / (a * a - a * a + 1 V^2)");
}

#[test]
fn products_of_powers_light_and_data_go_where_they_belong() {
    for (lines, shown) in [
        ("x [VA] = 230 V * 2 A", "460 VA"),
        ("x [W] = 230 V * 2 A * 0.5 + 1 W", "231 W"),
        ("x [lx] = 100 lm / 4 m^2", "25.0 lx"),
        ("x = 100 lm/m² + 1 lx", "101 lx"),
        ("x [lm] = 2 cd * 4 * π", "25.1 lm"),
        ("x [kbit/s] = 1 kB / 2 s", "4.00 kbit/s"),
        ("x = 8 * 1 kB", "8.00 kB"),
        ("x = 1 kB / 8 bit", "1000"),
        ("x = 25 °C - 273.15 K", "−248 °C"),
        ("x = k_B * 25 °C / q_e * 1", "25.7 mV"),
    ] {
        let it = sound(lines);
        assert_eq!(it.value("x").unwrap().shown(), shown, "{lines}");
    }
}
