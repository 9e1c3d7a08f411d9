//! Figures and readings that were wrong once, case by case, each beside its source: brute force, a closed form, a standard
//! or a datasheet. The generators in `proven_ranges`, `shares`, `design` and `infinite_builds` look for more of each kind.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use benchleaf_core::{
    report::Report,
    results::{Certainty, Status},
};
use benchleaf_tests::{calc, close, codes, nominal, only_problem, range, sound};

/// Least and greatest value of a function on a grid of a million points, ends included.
fn on_grid(low: f64, high: f64, f: impl Fn(f64) -> f64) -> (f64, f64) {
    const STEPS: u32 = 1_000_000;
    let values = (0..=STEPS).map(|i| f(low + (high - low) * f64::from(i) / f64::from(STEPS)));
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, greatest), y| (least.min(y), greatest.max(y)))
}

/// Brute force on a grid: a range reaches at least as far, and no further than between two points of the grid.
#[test]
fn waves_reach_their_true_extremes() {
    type Wave = (&'static str, fn(f64) -> f64);
    let waves: [Wave; 4] = [
        ("x * sin(30 * x)", |x| x * (30.0 * x).sin()),
        ("x * sin(16.5 * x)", |x| x * (16.5 * x).sin()),
        ("sin(2 * x) + sin(2.2 * x)", |x| (2.0 * x).sin() + (2.2 * x).sin()),
        ("if x < 2 then x^2 else 1 - x", |x| if x < 2.0 { x * x } else { 1.0 - x }),
    ];
    for (text, f) in waves {
        let (least, greatest) = on_grid(-0.26, 4.74, f);
        let it = sound(&format!("x = min -0.26 max 4.74\ny = {text}\nkeep y below {}", greatest - 0.01));
        let (low, high) = range(&it, "y");
        assert!(low <= least + 1e-9 && low >= least - 1e-4, "{text}: {low}, grid {least}");
        assert!(high >= greatest - 1e-4 && high <= greatest + 1e-4, "{text}: {high}, grid {greatest}");
        assert_eq!(it.value("y").unwrap().worst.as_ref().unwrap().certainty, Certainty::Proven, "{text}");
        assert_eq!(it.keeps[0].status, Status::AtRisk, "{text}");
    }
    // In closed form: a and g come as near to one half as they like, a being the greater.
    let it = sound("a = min 0 max 5\ng = min 0.5 max 2.5\ny = if a > g then a else 3 * g\nkeep y above 0.6");
    let (low, high) = range(&it, "y");
    assert!((0.5..0.5 + 1e-6).contains(&low) && high == 7.5, "{low} {high}");
    assert_eq!(it.keeps[0].status, Status::AtRisk);
}

/// What a long run of random formulas missed: ridges, cusps, a wave over a quotient of zeros, waves narrower than any scatter.
/// Their extremes in closed form.
#[test]
fn what_no_proof_settles_is_searched_in_all_directions() {
    const ENDLESS: f64 = f64::INFINITY;
    for (lines, low, high) in [
        // Where the sine's argument is any angle, y is from -1 to 1.
        ("g = min 1.567 max 5.139\ny = sin(9 * exp(4.5 * g))", -1.0, 1.0),
        ("g = min -1.5 max 1.9\ny = g * sin(16 * g) / (g * -2.5)", -0.4, 0.4),
        // Zero where a is zero, and b is.
        ("a = min -1.3 max 1.6\nb = min -2.7 max 0.4\ny = max(sqrt(abs(a * b)), b * sin(b))", 0.0, ENDLESS),
        // A comparison of a thing with itself is no case of its own.
        ("a = min -1 max 3\ny = (if a < a then 5 * a else a) - abs(a)", -2.0, 0.0),
    ] {
        let it = calc(lines);
        let (found_low, found_high) = range(&it, "y");
        assert!((found_low - low).abs() <= 1e-6, "{lines}: {found_low}, wanted {low}");
        assert!(high.is_infinite() || (found_high - high).abs() <= 1e-6, "{lines}: {found_high}, wanted {high}");
    }
    // Both poles are seen: one step is a quotient of zeros, the other grows without end.
    let it = calc("a = min -2.8 max 0.9\nb = min -0.8 max 2\ny = (a / atan(a)) / max(sin(a), 2 * b)\nkeep y below 1e9");
    assert_eq!(range(&it, "y"), (-ENDLESS, ENDLESS), "{:?}", it.problems);
}

/// No range is narrower than what was simulated, of whatever form.
#[test]
fn no_range_is_narrower_than_the_simulated_builds() {
    let givens: Vec<String> = (0..6).map(|i| format!("g_{i} = min 0 max {}", 40 + i)).collect();
    for form in
        ["sin(9 * g_{i} * g_{j})", "abs(sin(g_{i} * g_{j}) - 0.5)", "if sin(g_{i} * g_{j}) > 0.99 then 1 else 0"]
    {
        let term = |i: usize| form.replace("{i}", &i.to_string()).replace("{j}", &((i + 1) % 6).to_string());
        let sum: Vec<String> = (0..6).map(|i| format!("({})", term(i))).collect();
        let it = sound(&format!("{}\ny = {}", givens.join("\n"), sum.join(" + ")));
        let (worst, spread) = (it.value("y").unwrap().worst.clone().unwrap(), it.value("y").unwrap().spread.unwrap());
        // The interval of all builds but one in twenty cannot reach beyond all builds.
        assert!(worst.low <= spread.interval.symmetric.0 && worst.high >= spread.interval.symmetric.1, "{worst:?}");
        assert!(worst.enclosure.0 <= worst.low && worst.enclosure.1 >= worst.high, "{worst:?}");
    }
}

/// In closed form: with variances v of the factors (their means are 1) and w of the summand, the factors bring v alone, and
/// the whole is 2 v + v² + w.
#[test]
fn shares_of_a_product_and_a_summand_are_right_to_their_error() {
    let (v, w) = (1.0 / 3.0, 0.03);
    let all = 2.0 * v + v * v + w;
    for seed in 1..=3 {
        let lines = "a = 1 ± 1\nb = 1 ± 1\nc = 0 ± 0.3\ny = a * b + c";
        let it = benchleaf_tests::simulated(lines, 10_000, seed, 2);
        let shares = &it.value("y").unwrap().shares;
        for (name, first, total) in [("a", v, v + v * v), ("b", v, v + v * v), ("c", w, w)] {
            let share = shares.iter().find(|share| share.name == name).unwrap();
            let error = share.error.unwrap();
            assert!(error < 0.01, "{share:?}");
            assert!((share.first - first / all).abs() < 4.0 * error, "{share:?}, wanted {}", first / all);
            assert!((share.total.unwrap() - total / all).abs() < 4.0 * error, "{share:?}, wanted {}", total / all);
        }
    }
    // A given that acts in the branch not taken has its share: of two alike, half.
    let it = sound("a = 1 ± 0.5\nb = 1 ± 0.5\ny = max(a, b)\nz = clamp(a, 0.6, b)\nw = if a > 1 then a else b");
    for name in ["y", "z", "w"] {
        assert_eq!(it.value(name).unwrap().shares.len(), 2, "{name}");
    }
}

/// A number joined to a unit is that unit; a tolerance letter stands behind a letter code that is no unit (IEC 60062).
#[test]
fn a_number_joined_to_a_unit_is_that_unit() {
    for (text, si, dimension) in [
        ("10nF", 10e-9, "L^-2 M^-1 T^4 I^2"),
        ("100nF", 100e-9, "L^-2 M^-1 T^4 I^2"),
        ("10kJ", 10e3, "L^2 M T^-2"),
        ("5kN", 5e3, "L M T^-2"),
        ("10kB", 10e3, "B"),
        ("10nC", 10e-9, "T I"),
        ("10kHz", 10e3, "T^-1"),
        ("10mH", 10e-3, "L^2 M T^-2 I^-2"),
    ] {
        let source = format!("```calc\ny = {text}\n```\n");
        let it = benchleaf_core::Evaluator::default().evaluate(&source);
        assert!(it.problems.is_empty(), "{text}: {:?}", it.problems);
        close(nominal(&it, "y"), si, 1e-15);
        let json = serde_json::to_value(Report::new("x.md", &it, &source)).unwrap();
        assert_eq!(json["values"][0]["dimension"], dimension, "{text}");
        assert!(it.value("y").unwrap().worst.is_none(), "{text} has no tolerance");
    }
    for (text, low, high) in [("4k7F", 4653.0, 4747.0), ("4k7J", 4465.0, 4935.0), ("2M2K", 1.98e6, 2.42e6)] {
        let (found_low, found_high) = range(&sound(&format!("y = {text}")), "y");
        close(found_low, low, 1e-12);
        close(found_high, high, 1e-12);
    }
    for text in ["4n7F", "5K"] {
        assert_eq!(codes(&calc(&format!("y = {text}"))), ["E-two-readings"], "{text}");
    }
}

/// Kinds that do not add up, and units by their definitions: 1 Btu (International Table) is 1055.05585262 J exactly, a thm
/// 100,000 of them; 760 Torr are 101,325 Pa exactly.
#[test]
fn kinds_and_units_as_standards_have_them() {
    for text in ["2 * 25 °C", "1 lx + 1 cd/m^2", "1 W + 1 var", "1 W + 1 VA", "1 lm + 1 cd", "1 N*m + 1 J"] {
        assert_eq!(codes(&calc(&format!("y = {text}"))), ["E-kind-mismatch"], "{text}");
    }
    assert_eq!(codes(&calc("y = 1 B + 1")), ["E-unit-mismatch"]);
    for (text, si) in [("1 Btu", 1_055.055_852_62), ("1 thm", 1_055.055_852_62e5), ("760 Torr", 101_325.0)] {
        close(nominal(&sound(&format!("y = {text}")), "y"), si, 1e-15);
    }
}

/// A root is where both sides come together: not a pole, not a jump, not where both overflow.
#[test]
fn a_root_is_where_both_sides_meet() {
    let solve = |what: &str| calc(&format!("x = 0.5\nr = solve x so that {what}"));
    for what in [
        "1 / (x - 0.3) = 0 from 0 to 1",
        "tan(x) = 0 from 1 to 2",
        "floor(10 * x) = 3.5 from 0 to 1",
        "exp(1000 * x) = 5 from 0.8 to 1",
        "(x - 0.3)^2 = -0.001 from 0 to 1",
    ] {
        let it = solve(what);
        assert_eq!(codes(&it), ["E-solve"], "{what}: {:?}", it.problems);
        let overflows = what.starts_with("exp");
        assert!(!overflows || only_problem(&it).message.english().contains("no finite value"), "{:?}", it.problems);
    }
    for (what, root) in [
        ("(x - 0.3)^2 = 0 from 0 to 1", 0.3),
        ("abs(x - 0.3) is 0 from 0 to 1", 0.3),
        ("exp(1000 * x) = 1e300 from 0 to 1", 0.690_775_527_898_213_7),
    ] {
        let it = solve(what);
        assert!(it.problems.is_empty(), "{what}: {:?}", it.problems);
        assert!((nominal(&it, "r") - root).abs() < 1e-7, "{what}: {}", nominal(&it, "r"));
    }
    let y = "R_a = 10 kΩ\nT = 25 °C\ny = R_a * 2\nz = T + 3 K";
    for what in ["choose E12 for R_a, R_a so that y is 30 kΩ", "choose E12 for T so that z is 30 °C"] {
        assert_eq!(codes(&calc(&format!("{y}\nbest = {what}"))), ["E-arguments"], "{what}");
    }
}

/// The best pairs by all combinations tried in the test: first those that keep every requirement at the worst corners.
#[test]
fn a_choice_keeps_the_requirements_first() {
    let e24 = [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91];
    let within = |x: f64| (1e3..=1e5).contains(&x);
    let values: Vec<f64> = (2..4)
        .flat_map(|decade| e24.map(|value| f64::from(value) * 10f64.powi(decade)))
        .chain([1e5])
        .filter(|x| within(*x))
        .collect();
    for (tolerance, least_volts) in [(1.0, 3.2), (5.0, 3.2), (0.1, 3.32)] {
        let part = tolerance / 100.0;
        let volts = |a: f64, b: f64| 10.0 * b / (a + b);
        let current = |a: f64, b: f64| 10.0 / (a + b);
        let holds = |a: f64, b: f64| {
            let corner = |x: f64, y: f64| (a * (1.0 + x * part), b * (1.0 + y * part));
            [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)].into_iter().all(|(x, y)| {
                let (a, b) = corner(x, y);
                volts(a, b) >= least_volts && volts(a, b) <= 3.4 && current(a, b) <= 0.3e-3
            })
        };
        let pairs = || values.iter().flat_map(|a| values.iter().map(move |b| (*a, *b)));
        let off = |(a, b): (f64, f64)| (volts(a, b) - 3.3).abs();
        let kept = pairs().filter(|(a, b)| holds(*a, *b)).map(off).fold(f64::INFINITY, f64::min);
        for sign in ["is", "="] {
            let it = calc(&format!(
                "R_a = 10 kΩ ± {tolerance} %\nR_b = 10 kΩ ± {tolerance} %\nV = 10 V * R_b / (R_a + R_b)\n\
                 best = choose E24 for R_a, R_b so that V {sign} 3.3 V\nI = 10 V / (R_a + R_b)\n\
                 keep I below 0.3 mA\nkeep V between {least_volts} V and 3.4 V"
            ));
            let rows = &it.choices[0].rows;
            assert_eq!(rows.len(), 5);
            for row in rows {
                let status = row.status.unwrap();
                assert_eq!(status == Status::Holds, holds(row.values[0], row.values[1]), "{tolerance}: {row:?}");
            }
            let ranks: Vec<u8> = rows.iter().map(|row| row.status.unwrap() as u8).collect();
            assert!(ranks.is_sorted(), "{ranks:?}");
            if kept.is_finite() && rows[0].status == Some(Status::Holds) {
                let best = off((rows[0].values[0], rows[0].values[1]));
                assert!((best - kept).abs() < 1e-9, "{tolerance}: {best}, wanted {kept}");
            }
            assert!(tolerance > 2.0 || rows[0].status == Some(Status::Holds), "{tolerance}: {rows:?}");
        }
    }
}

/// Formulas by hand, from the sources that the models name: a gate turns off with the plateau over its resistor; a bipolar
/// timer's largest resistance is 3.4 MΩ at 5 V and 10 MΩ at 15 V.
#[test]
fn models_err_on_the_safe_side() {
    let gate = sound(
        "g = driver.mosfet_gate(gate_drive = 10 V, plateau = 4 V, gate_charge = 50 nC, gate_resistor = 100 Ω, supply = 24 V, load_current = 5 A, frequency = 20 kHz)",
    );
    close(nominal(&gate, "g.turn_off_time"), 50e-9 * 100.0 / 4.0, 1e-12);
    close(nominal(&gate, "g.turn_on_time"), 50e-9 * 100.0 / 6.0, 1e-12);
    for (supply, resistance, warns) in
        [(5, 3.3, false), (5, 3.5, true), (15, 9.9, false), (10, 6.6, false), (10, 6.8, true)]
    {
        let it = calc(&format!(
            "t = timing.one_shot(resistance = {resistance} MΩ, capacitance = 1 µF, supply = {supply} V)"
        ));
        assert_eq!(codes(&it) == ["W-validity"], warns, "{supply} V, {resistance} MΩ: {:?}", it.problems);
    }
}

/// A value that divides by zero in the branch that is taken is not blamed on the other branch.
#[test]
fn the_branch_that_is_taken_is_the_cause() {
    let it = calc("V = 5 V\ny = if V > 8 V then ln(V / (V - 8 V)) else 1 / 0");
    assert_eq!(only_problem(&it).message.english(), "this divides by zero");
}
