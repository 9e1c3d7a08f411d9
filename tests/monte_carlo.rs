//! Simulated builds and first-order propagation: against published examples, exact results, and themselves at other
//! numbers of samples and threads.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use benchleaf_core::results::{Agreement, Change, Status};
use benchleaf_tests::{calc, close, codes, nominal, only_problem, simulated, sound, std};

/// Exactly: a sum of two rectangles is a trapezium; of its 95 % interval and standard deviation nothing is left to chance
/// but the sampling.
#[test]
fn a_sum_of_two_rectangles() {
    let it = simulated("a = 10 V ± 1 V\nb = 5 V ± 1 V\ny = a + b", 1_000_000, 1, 2);
    let spread = it.value("y").unwrap().spread.unwrap();
    close(spread.std.unwrap(), (2.0f64 / 3.0).sqrt(), 2e-3);
    // P(|s| > t) = (2 - t)²/4 for the triangle of half-width 2.
    let half = 2.0 - (0.05f64 * 4.0).sqrt();
    close(spread.interval.symmetric.0, 15.0 - half, 1e-3);
    close(spread.interval.symmetric.1, 15.0 + half, 1e-3);
    assert_eq!(it.value("y").unwrap().first_order.as_ref().unwrap().agreement, Agreement::NotNormal);
    let shares = &it.value("y").unwrap().shares;
    close(shares[0].first, 0.5, 1e-9);
}

#[test]
fn the_same_bits_at_any_number_of_threads() {
    let lines = "R = 910 kΩ ± 5 %\nC = 22 µF -20 % +50 %\nV = 5 V ± 10 % normal(2)\nt [s] = R * C * ln(3 + V / 10 V)\nkeep t below 30 s";
    let reported = |samples: u64, threads: usize| {
        let it = simulated(lines, samples, 7, threads);
        let spread = it.value("t").unwrap().spread.unwrap();
        (spread, it.keeps[0].fails.unwrap())
    };
    for samples in [10_000, 777_777, 3_000_000] {
        let (one, two) = (reported(samples, 1), reported(samples, 2));
        assert_eq!(one.0.mean.unwrap().to_bits(), two.0.mean.unwrap().to_bits());
        assert_eq!(one.0.std.unwrap().to_bits(), two.0.std.unwrap().to_bits());
        assert_eq!(one, two);
        assert_eq!(one, reported(samples, 5));
    }
    assert_ne!(reported(10_000, 1), {
        let it = simulated(lines, 10_000, 8, 1);
        (it.value("t").unwrap().spread.unwrap(), it.keeps[0].fails.unwrap())
    });
}

#[test]
fn what_else_stands_in_the_worksheet_changes_no_draw() {
    let lines = "R = 910 kΩ ± 5 %\nC = 22 µF -20 % +50 %\nt [s] = R * C";
    let alone = sound(lines).value("t").unwrap().spread;
    assert_eq!(sound(&format!("A = 1 V ± 1 %\n{lines}\nB = A * 2")).value("t").unwrap().spread, alone);
}

/// The error of a mean falls as 1/√N: at every N it stays within what chance allows, and from first to last by a factor.
#[test]
fn convergence_with_the_number_of_samples() {
    let exact = 1.0 / 12.0f64.sqrt();
    let mut errors = Vec::new();
    for samples in [1_000u64, 10_000, 100_000, 1_000_000, 4_000_000] {
        let mut worst: f64 = 0.0;
        for seed in 1..=6 {
            let it = simulated("a = 0.5 V ± 0.5 V\ny = a * 1", samples, seed, 2);
            let spread = it.value("y").unwrap().spread.unwrap();
            let allowed = 4.5 * exact / (samples as f64).sqrt();
            assert!((spread.mean.unwrap() - 0.5).abs() < allowed, "{samples}, seed {seed}: {spread:?}");
            // A uniform number's standard deviation is known to better than its mean.
            assert!((spread.std.unwrap() - exact).abs() < allowed);
            worst = worst.max((spread.mean.unwrap() - 0.5).abs());
        }
        errors.push(worst);
    }
    assert!(errors[4] < errors[0] / 15.0, "{errors:?}");
}

/// JCGM 100, equation 16: the variance of a sum with correlation; exact for normal givens.
#[test]
fn correlated_givens() {
    for r in [-0.9f64, -0.3, 0.0, 0.5, 1.0] {
        let lines = format!(
            "a = 10 V ± 2 V normal(2)\nb = 20 V ± 4 V normal(2)\ncorrelation(a, b) = {r}\ny = a + b\nz = a - b"
        );
        let it = simulated(&lines, 200_000, 3, 2);
        assert!(it.problems.is_empty(), "{:?}", it.problems);
        let (sum, difference) = ((5.0 + 4.0 * r).sqrt(), (5.0 - 4.0 * r).sqrt());
        close(std(&it, "y"), sum, 0.01);
        close(std(&it, "z"), difference, 0.01);
        close(it.value("y").unwrap().first_order.as_ref().unwrap().std, sum, 1e-9);
    }
    // Each given keeps its own distribution, whatever it is correlated with.
    let it = simulated("a = 1 V ± 50 %\nb = 1 V ± 50 %\ncorrelation(a, b) = 0.8\ny = a * 1\nw = b * 1", 200_000, 1, 1);
    for name in ["y", "w"] {
        close(std(&it, name), 0.5 / 3f64.sqrt(), 0.01);
        let interval = it.value(name).unwrap().spread.unwrap().interval.symmetric;
        close(interval.0, 0.525, 0.01);
        close(interval.1, 1.475, 0.01);
    }
}

/// JCGM 101, 6.4.9.4: Student's t with ν degrees of freedom has ν/(ν − 2) times the variance of its scale. A sum is as straight
/// as can be, whatever its terms; squares are not.
#[test]
fn few_degrees_of_freedom_bend_nothing() {
    let mut random = benchleaf_tests::Random(0x0def_0001);
    for seed in 1..=60 {
        let degrees = 2.2 + 18.0 * random.share().powi(2);
        let (a, b) = (0.1 + 4.0 * random.share(), 0.1 + 4.0 * random.share());
        let lines =
            format!("a = 10 V ± {a:?} V normal(2) dof({degrees:?})\nb = 5 V ± {b:?} V normal(1.7)\ny = 2 * a - b");
        let it = simulated(&lines, 10_000, seed, 2);
        let value = it.value("y").unwrap();
        let rule = value.first_order.as_ref().unwrap();
        assert_ne!(rule.agreement, Agreement::Bends, "{lines}: {rule:?} {:?}", value.spread);
        let (by_a, by_b) = (a * a, (b / 1.7).powi(2));
        close(rule.std, (by_a + by_b).sqrt(), 1e-12);
        let wide = by_a * degrees / (degrees - 2.0);
        close(rule.deviation, (wide + by_b).sqrt(), 1e-12);
        close(value.shares.iter().find(|share| share.name == "a").unwrap().first, wide / (wide + by_b), 1e-9);
    }
    let it = simulated("a = 0 V ± 1 V normal(2) dof(12)\ny = a^2", 10_000, 1, 2);
    assert_eq!(it.value("y").unwrap().first_order.as_ref().unwrap().agreement, Agreement::Bends);
    // Cauchy's distribution has no mean, neither has what it acts on in a branch that is not taken at the means.
    for (degrees, mean, std) in [(1.0, false, false), (1.5, true, false), (2.0, true, false), (2.5, true, true)] {
        let it =
            sound(&format!("a = 1 V ± 1 V normal(2) dof({degrees})\nb = 1 V ± 1 %\ny = if b > 1.005 V then a else b"));
        for name in ["a", "y"] {
            let spread = it.value(name).unwrap().spread.unwrap();
            assert_eq!((spread.mean.is_some(), spread.std.is_some()), (mean, std), "{name}, {degrees}");
        }
    }
}

#[test]
fn correlations_that_cannot_all_hold_are_named() {
    let it = calc(
        "a = 1 V ± 1 %\nb = 1 V ± 1 %\nc = 1 V ± 1 %\ncorrelation(a, b) = 0.9\ncorrelation(b, c) = 0.9\ncorrelation(a, c) = -0.9\ny = a + b + c",
    );
    assert_eq!(codes(&it), ["E-correlation"]);
    let message = only_problem(&it).message.english();
    assert!(["`a`", "`b`", "`c`"].iter().all(|name| message.contains(name)), "{message}");
}

#[test]
fn shares_of_a_product_and_of_an_interaction() {
    let it = sound("R = 1 MΩ ± 1 %\nC = 10 µF ± 20 %\nt = R * C");
    let shares = &it.value("t").unwrap().shares;
    assert_eq!(shares[0].name, "C");
    close(shares[0].first, 400.0 / 401.0, 1e-6);
    assert_eq!(shares[0].total, None);
    // Two givens around zero that act through one another alone: nothing at first order, all of it together.
    let it = sound("a = 0 ± 1\nb = 0 ± 1\ny = a * b");
    let value = it.value("y").unwrap();
    assert_eq!(value.first_order.as_ref().unwrap().agreement, Agreement::Bends);
    for share in &value.shares {
        assert!(share.first < 0.12 && (share.total.unwrap() - 1.0).abs() < 0.1, "{share:?}");
    }
    // Ishigami's function (a = 7, b = 0.1), indices as published by T. Homma and A. Saltelli, 1996: first-order 0.314,
    // 0.442, 0; total 0.557, 0.442, 0.244.
    let it = sound(
        "x = 0 ± 3.141592653589793\ny = 0 ± 3.141592653589793\nz = 0 ± 3.141592653589793\nf = sin(x) + 7 * sin(y)^2 + 0.1 * z^4 * sin(x)",
    );
    let shares = &it.value("f").unwrap().shares;
    for (name, first, total) in [("x", 0.314, 0.557), ("y", 0.442, 0.442), ("z", 0.0, 0.244)] {
        let share = shares.iter().find(|share| share.name == name).unwrap();
        assert!((share.first - first).abs() < 0.07, "{share:?}");
        assert!((share.total.unwrap() - total).abs() < 0.07, "{share:?}");
    }
}

/// What y = x² z is made of, exactly, for x rectangular over m ± a and z over p ± b, independent:
///
/// - E\[x²\] = m² + a²/3, E\[x⁴\] = m⁴ + 2 m² a² + a⁴/5, E\[z\] = p, E\[z²\] = p² + b²/3;
/// - V = E\[x⁴\] E\[z²\] − E\[x²\]² p²;
/// - alone: E\[y | x\] = x² p, so x brings Var(x²) p² / V with Var(x²) = E\[x⁴\] − E\[x²\]²; likewise z brings
///   E\[x²\]² b²/3 / V;
/// - together with the other: all but what the other brings alone;
/// - by the best straight line: x² has the slope 2 m, so x brings (2 m p)² a²/3 / V; of z nothing is lost.
struct Exactly {
    first: [f64; 2],
    total: [f64; 2],
    straight: [f64; 2],
}

impl Exactly {
    fn new(m: f64, a: f64, p: f64, b: f64) -> Self {
        let (x2, x4) = (m * m + a * a / 3.0, m.powi(4) + 2.0 * m * m * a * a + a.powi(4) / 5.0);
        let variance = x4 * (p * p + b * b / 3.0) - x2 * x2 * p * p;
        let by_z = x2 * x2 * b * b / 3.0 / variance;
        let first = [(x4 - x2 * x2) * p * p / variance, by_z];
        let straight = [4.0 * m * m * p * p * a * a / 3.0 / variance, by_z];
        Self { first, total: [1.0 - first[1], 1.0 - first[0]], straight }
    }
}

/// Builds that shares are estimated from, as the engine has it.
const BUILDS: f64 = 2048.0;
/// Relative variance of the squares that the straight line below leaves over: 2.6 by a simulation apart from the engine.
const SCATTER: f64 = 2.6;

fn shares_of_square_times(lines: &str, seed: u64) -> [(f64, Option<f64>); 2] {
    let it = simulated(&format!("{lines}\ny = x^2 * z"), 100_000, seed, 2);
    let value = it.value("y").unwrap();
    assert_eq!(value.first_order.as_ref().unwrap().agreement, Agreement::Bends);
    ["x", "z"].map(|name| {
        let share = value.shares.iter().find(|share| share.name == name).unwrap();
        (share.first, share.total)
    })
}

#[test]
fn shares_by_a_straight_line_are_exact_but_for_what_it_leaves() {
    let exact = Exactly::new(2.0, 0.4, 5.0, 1.0);
    let left = 1.0 - exact.straight[0] - exact.straight[1];
    assert!((0.01..0.015).contains(&left), "{left}");
    // A slope's standard error is the root of what is left over the number of builds; a slope that is within three of them
    // of the tangent's stays the tangent's. A share goes with the slope's square.
    let chance = 2.0 * 4.0 * (left / BUILDS).sqrt();
    for seed in 1..=12 {
        let shares = shares_of_square_times("x = 2 V ± 0.4 V\nz = 5 ± 1", seed);
        for (i, (first, total)) in shares.into_iter().enumerate() {
            assert_eq!(total, None);
            assert!((first - exact.straight[i]).abs() < chance, "{first} {}", exact.straight[i]);
            assert!((first - exact.first[i]).abs() < left + chance, "{first} {}", exact.first[i]);
            assert!((first - exact.total[i]).abs() < left + chance, "{first} {}", exact.total[i]);
        }
        // What is left over is seen as a mean of squares, and taken from the sum.
        let sum = shares[0].0 + shares[1].0;
        assert!((1.0 - sum - left).abs() < left * 4.0 * (SCATTER / BUILDS).sqrt(), "{sum} {left}");
    }
}

#[test]
fn shares_by_drawing_anew_are_exact_but_for_chance() {
    let exact = Exactly::new(1.0, 0.9, 1.0, 0.8);
    assert!(1.0 - exact.straight[0] - exact.straight[1] > 0.1);
    const SEEDS: u32 = 16;
    // A mean of 2048 squares of a bell's numbers is off by the root of 2 over their number: 0.03 of what it is.
    let error = (2.0 / BUILDS).sqrt();
    let mut sums = [[0.0; 2]; 2];
    for seed in 1..=SEEDS {
        let shares = shares_of_square_times("x = 1 V ± 0.9 V\nz = 1 ± 0.8", u64::from(seed));
        for (i, (first, total)) in shares.into_iter().enumerate() {
            let total = total.unwrap();
            assert!((first - exact.first[i]).abs() < 4.0 * error, "seed {seed}: {first} {}", exact.first[i]);
            assert!((total - exact.total[i]).abs() < 4.0 * error, "seed {seed}: {total} {}", exact.total[i]);
            sums[i][0] += first;
            sums[i][1] += total;
        }
    }
    for (i, sums) in sums.into_iter().enumerate() {
        for (sum, exact) in sums.into_iter().zip([exact.first[i], exact.total[i]]) {
            let mean = sum / f64::from(SEEDS);
            assert!((mean - exact).abs() < 4.0 * error / f64::from(SEEDS).sqrt(), "{mean} {exact}");
        }
    }
}

/// With correlated givens the first-order rule's shares stay, however much the formula bends: JCGM 100, equation 16, with
/// half of the covariance in each. The slopes at the means are 2 and 1.
#[test]
fn shares_of_correlated_givens_have_half_of_the_covariance_each() {
    let it = sound("x = 1 V ± 0.9 V\nz = 1 ± 0.8\ncorrelation(x, z) = -0.5\ny = x^2 * z");
    let value = it.value("y").unwrap();
    assert_eq!(value.first_order.as_ref().unwrap().agreement, Agreement::Bends);
    let (by_x, by_z, covariance) = (1.8f64.powi(2), 0.8f64.powi(2), -0.5 * 1.8 * 0.8);
    let variance = by_x + by_z + 2.0 * covariance;
    for (share, name, wanted) in
        [(&value.shares[0], "x", by_x + covariance), (&value.shares[1], "z", by_z + covariance)]
    {
        assert_eq!((share.name.as_str(), share.total), (name, None));
        close(share.first, wanted / variance, 1e-9);
    }
}

#[test]
fn a_requirement_says_how_often_it_fails_and_what_would_help() {
    let it = sound("R = 100 kΩ ± 10 %\nC = 10 µF ± 2 %\nt [s] = R * C\nkeep t below 1.05 s");
    let verdict = &it.keeps[0];
    assert_eq!(verdict.status, Status::AtRisk);
    assert_eq!(verdict.blame.as_deref(), Some("R"));
    // R uniform over ± 10 %, C over ± 2 %: P(R C > 1.05) by integration over C.
    let exact: f64 =
        (0..1000).map(|i| 0.98 + 0.04 * (f64::from(i) + 0.5) / 1000.0).map(|c| (1.1 - 1.05 / c) / 0.2).sum::<f64>()
            / 1000.0;
    let fails = verdict.fails.unwrap();
    assert!((fails.share - exact).abs() < 2.5 * fails.uncertainty, "{fails:?} {exact}");
    let Change::Tolerance { part, high, .. } = verdict.remedies[0].change else { panic!("{:?}", verdict.remedies) };
    assert_eq!(verdict.remedies[0].given, "R");
    // With C at its greatest, R may come to 1.05 s / 10.2 µF.
    close(high, 1.05 / 10.2e-6, 1e-4);
    close(part, (1.05 / 10.2e-6 - 1e5) / 1e4, 2e-2);
    let Change::Preferred { value, ref shown, series } = verdict.remedies[1].change else { panic!() };
    assert_eq!((value, shown.as_str(), series), (91e3, "91 kΩ", "E24"));
    // A requirement that breaks whatever one given does says so.
    let it = sound("R = 100 kΩ ± 10 %\nC = 10 µF ± 2 %\nt [s] = R * C\nkeep t below 0.9 s");
    assert_eq!(it.keeps[0].status, Status::Broken);
    assert_eq!(it.keeps[0].remedies[0].change, Change::NoToleranceWill);
    let holds = |c: f64| ((0.9 / c - 0.9) / 0.2).max(0.0);
    let exact = 1.0 - (0..1000).map(|i| holds(0.98 + 0.04 * (f64::from(i) + 0.5) / 1000.0)).sum::<f64>() / 1000.0;
    let fails = it.keeps[0].fails.unwrap();
    assert!((fails.share - exact).abs() < 2.5 * fails.uncertainty, "{fails:?} {exact}");
}

/// Exactly: where a formula bends, where it has a pole within the tolerance, and where it hardly depends on the given.
#[test]
fn a_closer_tolerance_is_found_to_a_thousandth() {
    for (lines, exact) in [
        ("x = 1 ± 0.5\ny = x^4\nkeep y below 3", 3f64.powf(0.25) / 0.5 - 2.0),
        ("x = 1 ± 0.5\ny = exp(20 * x)\nkeep y below 6e8", (6e8f64.ln() / 20.0 - 1.0) / 0.5),
        ("x = 0.5 ± 0.6\ny = 1 / (1 - x)\nkeep y between 0 and 10", 0.4 / 0.6),
        ("x = 0 ± 1\ny = x * x - x / 10\nkeep y below 0.2", (-0.1 + (0.01f64 + 0.8).sqrt()) / 2.0),
        ("x = 1 ± 0.5\ny = 1000 + x / 1000\nkeep y below 1000.001 + 1e-4", 0.2),
    ] {
        let it = calc(lines);
        let remedies = &it.keeps[0].remedies;
        let Change::Tolerance { part, .. } = remedies[0].change else { panic!("{lines}: {remedies:?}") };
        assert!(part <= exact && part > exact - 1.01 / 1024.0, "{lines}: {part}, and {exact} is enough");
    }
}

#[test]
fn a_sketch_of_many_samples_is_as_good_as_it_says() {
    // Skewed, flat, in two humps, with long tails, without a standard deviation, and undefined in part.
    for lines in [
        "R = 910 kΩ ± 5 %\nC = 22 µF -20 % +50 %\nt [s] = R * C",
        "a = 1 ± 1\nt = a * 1",
        "a = 1 ± 1\nb = 5 ± 0.01\nt = if a < 1.3 then a else b",
        "a = 1 ± 0.3 normal(1)\nt = exp(a)",
        "a = 1 ± 0.3 normal(1) dof(3)\nt = a * 2",
        "a = min 0 typ 1 max 2\nt = 1 / a",
        "a = 1 ± 2\nt = sqrt(a)",
    ] {
        let reported = |samples: u64| simulated(lines, samples, 1, 2).value("t").unwrap().spread.unwrap();
        let (kept, sketched) = (reported(1_000_000), reported(1_000_001));
        let error = sketched.quantile_error;
        assert_eq!(kept.quantile_error, 0.0);
        assert!(error > 0.0 && error < 3e-3 * kept.std.unwrap(), "{lines}: {error}");
        let (a, b) = (kept.interval.symmetric, sketched.interval.symmetric);
        assert!((a.0 - b.0).abs() <= error && (a.1 - b.1).abs() <= error, "{lines}: {a:?} {b:?} {error}");
        let length = |(low, high): (f64, f64)| high - low;
        let (a, b) = (length(kept.interval.shortest), length(sketched.interval.shortest));
        assert!((a - b).abs() <= 2.0 * error, "{lines}: {a} {b} {error}");
    }
}

#[test]
fn what_is_undefined_in_some_builds_is_counted_and_said() {
    let it = calc("x = 1 V ± 1.5 V\ny = sqrt(x / 1 V)\nkeep y below 10");
    let spread = it.value("y").unwrap().spread.unwrap();
    // x runs from -0.5 V to 2.5 V: a sixth of it has no root.
    close(spread.undefined, 1.0 / 6.0, 0.1);
    assert!(spread.mean.is_some() && spread.std.is_some());
    assert_eq!(codes(&it), ["W-unbounded"]);
    assert_eq!(it.keeps[0].status, Status::AtRisk);
    close(it.keeps[0].fails.unwrap().share, 1.0 / 6.0, 0.1);
    // A divisor that spans zero: unbounded, and said where.
    let it = calc("x = 0.1 V ± 0.2 V\ny = 1 V^2 / x");
    assert_eq!(codes(&it), ["W-unbounded"]);
    assert!(only_problem(&it).message.english().contains('x'));
}

#[test]
fn a_given_is_sought_and_parts_are_chosen() {
    let timer = "R_t = 910 kΩ ± 5 %\nC_t = 22 µF\nt_on [s] = R_t * C_t * ln(3)\n";
    let it = sound(&format!(
        "{timer}solve R_t so that t_on = 20 s from 100 kΩ to 2 MΩ\nR_x = preferred_nearest(E24, R_t_solved)\nR_y [MΩ] = solve R_t so that t_on = 20 s from 100 kΩ to 2 MΩ"
    ));
    close(nominal(&it, "R_t_solved"), 20.0 / (22e-6 * 3f64.ln()), 1e-12);
    close(nominal(&it, "R_y"), 20.0 / (22e-6 * 3f64.ln()), 1e-12);
    assert_eq!(nominal(&it, "R_x"), 820e3);
    // A decision does not vary from build to build.
    assert!(it.value("R_t_solved").unwrap().worst.is_none());
    for (line, code) in [
        ("solve R_t so that t_on = 200 s from 100 kΩ to 2 MΩ", "E-solve"),
        ("solve R_t so that (R_t - 200 kΩ) * (R_t - 800 kΩ) = 0 Ω^2 from 100 kΩ to 2 MΩ", "E-solve"),
        ("solve R_t so that 1 V / (R_t - 200 kΩ) = 0 A from 100 kΩ to 2 MΩ", "E-solve"),
        ("solve R_t so that t_on = 20 s from 2 MΩ to 2 MΩ", "E-solve"),
        ("solve R_t so that C_t = 20 µF from 1 MΩ to 2 MΩ", "E-solve"),
        ("solve t_on so that C_t = 20 µF from 1 s to 2 s", "E-solve"),
        ("solve R_t so that t_on = 20 V from 1 MΩ to 2 MΩ", "E-unit-mismatch"),
        ("solve R_t so that t_on = 20 s from 1 s to 2 s", "E-unit-mismatch"),
        ("solve R_t so that t_on = 20 s", "E-syntax"),
        ("solve R_z so that t_on = 20 s from 1 MΩ to 2 MΩ", "E-unknown-name"),
        ("choose E25 for R_t so that t_on is 20 s", "E-arguments"),
        ("choose E24 for R_t so that t_on is 20 V", "E-unit-mismatch"),
        ("choose E24 for t_on so that t_on is 20 s", "E-solve"),
        ("choose E24 for R_t so that t_on is 20 s from -1 Ω to 0 Ω", "E-solve"),
    ] {
        let it = calc(&format!("{timer}{line}"));
        assert_eq!(codes(&it).first(), Some(&code), "{line}: {:?}", it.problems);
    }
    // The best five of all pairs, against a plain search.
    let it = sound(
        "R_a = 10 kΩ ± 1 %\nR_b = 47 kΩ ± 1 %\nf [Hz] = 1 / (ln(2) * (R_a + 2 * R_b) * 10 nF)\nbest = choose E12 for R_a, R_b so that f is 1 kHz from 1 kΩ to 100 kΩ\ng [Hz] = 1 / (ln(2) * (best.R_a + 2 * best.R_b) * 10 nF)",
    );
    let e12 = [10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82];
    let values: Vec<f64> = [100.0, 1000.0].iter().flat_map(|k| e12.map(|v| f64::from(v) * k)).chain([100e3]).collect();
    let mut errors: Vec<f64> = values
        .iter()
        .flat_map(|a| values.iter().map(move |b| 1.0 / (2f64.ln() * (a + 2.0 * b) * 10e-9)))
        .map(|f| (f - 1000.0).abs() / 1000.0)
        .collect();
    errors.sort_by(f64::total_cmp);
    let table = &it.choices[0];
    assert_eq!(table.rows.len(), 5);
    for (row, wanted) in table.rows.iter().zip(&errors) {
        close(row.error.unwrap().abs(), *wanted, 1e-9);
        let (low, high) = row.worst.unwrap();
        close(low, row.result / 1.01, 1e-9);
        close(high, row.result / 0.99, 1e-9);
    }
    close(nominal(&it, "g"), table.rows[0].result, 1e-12);
}
