//! Annex H of JCGM 100:2008: its worked examples by first order and by simulation. H.5 is an analysis of variance over
//! readings, which the language does not do; H.6 waits for its values.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use benchleaf_core::results::{Agreement, Evaluation};
use benchleaf_tests::{close, nominal, simulated, sound, std};

/// JCGM 100:2008, annex H.1: the calibration of an end gauge. l = 50 000 838 nm, u_c = 32 nm, 16 effective degrees of
/// freedom; with the terms of second order (H.1.7) 34 nm, which the simulation includes by itself.
#[test]
fn end_gauge_of_the_guide() {
    let it = sound(
        "l_s = 50.000623 mm ± 25 nm normal(1) dof(18)
d_mean = 215 nm ± 5.8 nm normal(1) dof(24)
d_1 = 0 nm ± 3.9 nm normal(1) dof(5)
d_2 = 0 nm ± 6.7 nm normal(1) dof(8)
alpha_s = 0.0000115 1/K ± 0.000002 1/K
theta_mean = -0.1 K ± 0.2 K normal(1)
swing = 0 K ± 0.5 K arcsine
d_alpha = 0 1/K ± 0.000001 1/K
d_theta = 0 K ± 0.05 K
theta = theta_mean + swing
d = d_mean + d_1 + d_2
l [nm] = l_s + d - l_s * (d_alpha * theta + alpha_s * d_theta)",
    );
    close(nominal(&it, "l"), 50_000_838e-9, 1e-12);
    let first_order = it.value("l").unwrap().first_order.clone().unwrap();
    assert_eq!((first_order.std * 1e9).round(), 32.0);
    // The guide gives the rectangular differences 50 and 2 degrees of freedom, which the language does not; without them
    // the expansion's part is known, and the result a little surer.
    assert!((16.0..48.0).contains(&first_order.degrees.unwrap()), "{:?}", first_order.degrees);
    let simulated = std(&it, "l") * 1e9;
    assert!((simulated - 35.0).abs() < 1.6, "{simulated}");
    assert_eq!(first_order.agreement, Agreement::Bends);
}

/// A result as JCGM 100 prints it: value and combined standard uncertainty, by first order to the digit printed, and by
/// simulation to the same and what its number of samples allows.
#[track_caller]
fn comes_to(it: &Evaluation, name: &str, printed: [f64; 2], digit: f64) {
    let value = it.value(name).unwrap();
    let first_order = value.first_order.as_ref().unwrap();
    for (found, printed) in [first_order.estimate, first_order.std].into_iter().zip(printed) {
        assert!((found - printed).abs() <= digit, "{name}: {found}, printed {printed}");
    }
    let spread = value.spread.unwrap();
    let samples = spread.samples as f64;
    // Four standard errors of a normal sample's mean and standard deviation.
    let chance = 4.0 * first_order.std / samples.sqrt();
    assert!((spread.mean.unwrap() - printed[0]).abs() <= digit + chance, "{name}: {spread:?}");
    assert!((spread.std.unwrap() - printed[1]).abs() <= digit + chance / 2f64.sqrt(), "{name}: {spread:?}");
}

/// Covariance of the means of readings taken together (JCGM 100, equation 17).
fn covariance(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len() as f64;
    let (mean_a, mean_b) = (a.iter().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    a.iter().zip(b).map(|(a, b)| (a - mean_a) * (b - mean_b)).sum::<f64>() / (n * (n - 1.0))
}

/// JCGM 100:2008, annex H.2: resistance, reactance and impedance from voltage, current and phase read together. Readings
/// and results are *from memory*; that the ones lead to the others, correlations of results included, speaks for both.
#[test]
fn resistance_and_reactance_of_the_guide() {
    let readings = [
        [5.007, 4.994, 5.005, 4.990, 4.999],
        [19.663, 19.639, 19.640, 19.685, 19.678],
        [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
    ];
    let mean = |i: usize| readings[i].iter().sum::<f64>() / 5.0;
    let std = |i: usize| covariance(&readings[i], &readings[i]).sqrt();
    let r = |i: usize, j: usize| covariance(&readings[i], &readings[j]) / (std(i) * std(j));
    for (i, x, u, digit) in [(0, 4.9990, 0.0032, 1e-4), (1, 19.6610, 0.0095, 1e-4), (2, 1.04446, 0.00075, 1e-5)] {
        assert!((mean(i) - x).abs() < 0.5 * digit && (std(i) - u).abs() < 0.5 * digit, "{} {}", mean(i), std(i));
    }
    for (i, j, printed) in [(0, 1, -0.36), (0, 2, 0.86), (1, 2, -0.65)] {
        assert!((r(i, j) - printed).abs() < 0.005, "{}", r(i, j));
    }
    let lines = format!(
        "V = {} V ± {} V normal(1)
I = {} mA ± {} mA normal(1)
phi = {} rad ± {} rad normal(1)
correlation(V, I) = {}
correlation(V, phi) = {}
correlation(I, phi) = {}
R [Ω] = V / I * cos(phi)
X [Ω] = V / I * sin(phi)
Z [Ω] = V / I
R_and_X = R + X
R_and_Z = R + Z
X_and_Z = X + Z",
        mean(0),
        std(0),
        mean(1),
        std(1),
        mean(2),
        std(2),
        r(0, 1),
        r(0, 2),
        r(1, 2)
    );
    let it = simulated(&lines, 200_000, 1, 2);
    assert!(it.problems.is_empty(), "{:?}", it.problems);
    comes_to(&it, "R", [127.732, 0.071], 1e-3);
    comes_to(&it, "X", [219.847, 0.295], 1e-3);
    comes_to(&it, "Z", [254.260, 0.236], 1e-3);
    // The variance of a sum gives the correlation of its terms.
    let by_rule = |name: &str| it.value(name).unwrap().first_order.as_ref().unwrap().std;
    let simulated = |name: &str| self::std(&it, name);
    for (a, b, both, printed) in
        [("R", "X", "R_and_X", -0.588), ("R", "Z", "R_and_Z", -0.485), ("X", "Z", "X_and_Z", 0.993)]
    {
        let r = |u: &dyn Fn(&str) -> f64| (u(both).powi(2) - u(a).powi(2) - u(b).powi(2)) / (2.0 * u(a) * u(b));
        assert!((r(&by_rule) - printed).abs() < 0.0006, "{a} {b}: {}", r(&by_rule));
        // Four standard errors of a correlation coefficient that is 0.
        assert!((r(&simulated) - printed).abs() < 4.0 / 200_000f64.sqrt(), "{a} {b}: {}", r(&simulated));
    }
}

/// JCGM 100:2008, annex H.3: the correction of a thermometer at 30 °C by the straight line through eleven readings, *from
/// memory*. Intercept and slope are correlated unless the line is taken around the mean temperature (H.3.5); the
/// correction and its uncertainty, −0.1494 °C and 0.0041 °C, are the same both ways.
#[test]
fn thermometer_of_the_guide() {
    let t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
    let b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];
    let n = t.len() as f64;
    for (around, printed) in
        [(20.0, [-0.1712, 0.0029, 0.00218, 0.00067, -0.930]), (24.0085, [-0.1625, 0.0011, 0.00218, 0.00067, 0.0])]
    {
        // JCGM 100, H.3.2.
        let off = t.map(|t| t - around);
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let (sum_off, squares, sum_b) = (off.iter().sum::<f64>(), dot(&off, &off), b.iter().sum::<f64>());
        let d = n * squares - sum_off * sum_off;
        let (y_1, y_2) = ((sum_b * squares - dot(&b, &off) * sum_off) / d, (n * dot(&b, &off) - sum_b * sum_off) / d);
        let left: f64 = b.iter().zip(&off).map(|(b, off)| (b - y_1 - y_2 * off).powi(2)).sum();
        let s = (left / (n - 2.0)).sqrt();
        let (u_1, u_2, r) = (s * (squares / d).sqrt(), s * (n / d).sqrt(), -sum_off / (n * squares).sqrt());
        for ((found, printed), digit) in
            [y_1, u_1, y_2, u_2, r].into_iter().zip(printed).zip([1e-4, 1e-4, 1e-5, 1e-5, 1e-3])
        {
            assert!((found - printed).abs() < 0.5 * digit, "{found}, printed {printed}");
        }
        let lines = format!(
            "t = 30 °C
t_0 = {around} °C
y_1 = {y_1} K ± {u_1} K normal(1)
y_2 = {y_2} ± {u_2} normal(1)
correlation(y_1, y_2) = {r}
b [K] = y_1 + y_2 * (t - t_0)"
        );
        let it = simulated(&lines, 200_000, 1, 2);
        assert!(it.problems.is_empty(), "{:?}", it.problems);
        comes_to(&it, "b", [-0.1494, 0.0041], 0.5e-4);
    }
}

/// JCGM 100:2008, annex H.4: the activity of a water sample by the count rates of a standard and of the sample, *from
/// memory*. The ratio of rates is the mean of six ratios, or the ratio of correlated means: 0.4304(84) and 0.4300(83) Bq/g.
/// The rates are those after the guide's corrections for background and decay. The language has no becquerel: one a second.
#[test]
fn activity_of_the_guide() {
    let lines = "A_s = 0.1368 1/s/g ± 0.0018 1/s/g normal(1)
m_s = 5.0192 g ± 0.005 g normal(1)
m_x = 5.0571 g ± 0.0010 g normal(1)
ratio = 3.170 ± 0.046 normal(1)
R_x = 652.60 1/min ± 6.42 1/min normal(1)
R_s = 206.09 1/min ± 3.79 1/min normal(1)
correlation(R_x, R_s) = 0.646
A_1 [1/s/g] = A_s * m_s / m_x * ratio
A_2 [1/s/g] = A_s * m_s / m_x * R_x / R_s";
    let it = simulated(lines, 200_000, 1, 2);
    assert!(it.problems.is_empty(), "{:?}", it.problems);
    let si = 1000.0;
    comes_to(&it, "A_1", [0.4304 * si, 0.0084 * si], 0.5e-4 * si);
    // The guide goes on with 3.167 for the ratio, which is 3.1666.
    comes_to(&it, "A_2", [0.4300 * si, 0.0083 * si], 1e-4 * si);
}
