//! Shares of the variance against their exact values: families of formulas whose indices are known in closed form, with random
//! numbers in them, and random formulas summed over a fine grid. A figure may be off by its stated error as chance allows, and
//! the stated error is small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use benchleaf_core::results::{Agreement, Share};
use benchleaf_tests::{Random, formula::Formula, simulated};

/// First-order and total-effect index of each given.
type Indices = Vec<(f64, f64)>;

/// What is known of `y` with givens `g_0`, `g_1`, ...
struct Case {
    givens: Vec<(f64, f64)>,
    formula: String,
    exact: Indices,
    /// How far `exact` may be off.
    doubt: f64,
}

/// Distances from the exact values, in stated errors.
#[derive(Default)]
struct Distances(Vec<f64>);

impl Distances {
    /// Looks at a case with this seed. Shares that the first-order rule or a straight line gives are held to their bounds, and
    /// do not count.
    fn look(&mut self, case: &Case, seed: u64) {
        let givens =
            case.givens.iter().enumerate().map(|(i, (low, high))| format!("g_{i} = min {low:?} max {high:?}\n"));
        let lines = format!("{}y = {}", givens.collect::<String>(), case.formula);
        let it = simulated(&lines, 10_000, seed, 2);
        let value = it.value("y").unwrap_or_else(|| panic!("{lines}: {:?}", it.problems));
        let bends = value.first_order.as_ref().is_none_or(|rule| rule.agreement == Agreement::Bends);
        for (i, (first, total)) in case.exact.iter().enumerate() {
            let name = format!("g_{i}");
            let Some(Share { first: found, total: found_total, error, .. }) =
                value.shares.iter().find(|share| share.name == name).cloned()
            else {
                // Left out as nothing.
                assert!(*total < 0.02 + case.doubt, "{name} in {lines}: {total}");
                continue;
            };
            match (error, found_total) {
                (Some(error), Some(found_total)) => {
                    assert!(error < 0.02, "{name} in {lines}: ± {error}");
                    for (found, exact) in [(found, first), (found_total, total)] {
                        let off = (found - exact).abs();
                        assert!(
                            off <= 5.0 * error + case.doubt + 1e-9,
                            "{name} in {lines}: {found} ± {error}, {exact}"
                        );
                        if case.doubt == 0.0 && error > 0.0 {
                            self.0.push(off / error);
                        }
                    }
                }
                (Some(error), None) => {
                    assert!(
                        (found - first).abs() < error + case.doubt + 0.004,
                        "{name} in {lines}: {found} ± {error}, {first}"
                    );
                }
                (None, _) => assert!(!bends, "{name} in {lines} has no error"),
            }
        }
    }
}

/// Closed forms, for givens that are rectangular over their spans.
fn known(random: &mut Random) -> Vec<Case> {
    let mut number = |low: f64, high: f64| low + (high - low) * random.share();
    let unit = (0.0, 1.0);
    let mut cases = Vec::new();

    // a b + c: with means m and variances v, V = v_a m_b² + v_b m_a² + v_a v_b + v_c.
    let spans = [0, 1, 2].map(|_| {
        let low = number(-1.0, 1.0);
        (low, low + number(0.3, 2.0))
    });
    let [a, b, c] = spans.map(|(low, high): (f64, f64)| ((low + high) / 2.0, (high - low).powi(2) / 12.0));
    let (by_a, by_b, both) = (a.1 * b.0 * b.0, b.1 * a.0 * a.0, a.1 * b.1);
    let all = by_a + by_b + both + c.1;
    cases.push(Case {
        givens: spans.to_vec(),
        formula: "g_0 * g_1 + g_2".to_owned(),
        exact: vec![(by_a / all, (by_a + both) / all), (by_b / all, (by_b + both) / all), (c.1 / all, c.1 / all)],
        doubt: 0.0,
    });

    // A sum of squares over -1 to 1, each with the variance 4/45 of x² times its factor squared: no interaction.
    let factors = [0; 5].map(|_| number(0.05, 1.0));
    let all: f64 = factors.iter().map(|factor| factor * factor).sum();
    cases.push(Case {
        givens: vec![(-1.0, 1.0); 5],
        formula: factors.iter().enumerate().map(|(i, k)| format!("{k:?} * g_{i}^2")).collect::<Vec<_>>().join(" + "),
        exact: factors.iter().map(|factor| (factor * factor / all, factor * factor / all)).collect(),
        doubt: 0.0,
    });

    // Ishigami's function (T. Homma and A. Saltelli, 1996): sin x + p sin² y + q z⁴ sin x over -π to π.
    let (p, q) = (number(1.0, 9.0), number(0.02, 0.2));
    let (pi_4, pi_8) = (std::f64::consts::PI.powi(4), std::f64::consts::PI.powi(8));
    let by_x = 0.5 * (1.0 + q * pi_4 / 5.0).powi(2);
    let (by_y, both) = (p * p / 8.0, q * q * pi_8 * 8.0 / 225.0);
    let all = by_x + by_y + both;
    cases.push(Case {
        givens: vec![(-std::f64::consts::PI, std::f64::consts::PI); 3],
        formula: format!("sin(g_0) + {p:?} * sin(g_1)^2 + {q:?} * g_2^4 * sin(g_0)"),
        exact: vec![(by_x / all, (by_x + both) / all), (by_y / all, by_y / all), (0.0, both / all)],
        doubt: 0.0,
    });

    // max(a, b) over 0 to 1 has the variance 1/18, of which 1/45 is due to each alone; s of it, and k c.
    let (s, k) = (number(0.5, 2.0), number(0.1, 1.0));
    let (by_one, of_max, by_c) = (s * s / 45.0, s * s / 18.0, k * k / 12.0);
    let all = of_max + by_c;
    let one = (by_one / all, (of_max - by_one) / all);
    cases.push(Case {
        givens: vec![unit; 3],
        formula: format!("{s:?} * max(g_0, g_1) + {k:?} * g_2"),
        exact: vec![one, one, (by_c / all, by_c / all)],
        doubt: 0.0,
    });

    // A branch that is not the one at the means: with the probability r of the first, and means m and variances v of both,
    // V = r v_c + (1 - r) v_b + r (1 - r) (m_c - m_b)².
    let r = number(0.1, 0.45);
    let (k, d) = (number(0.3, 2.0), number(-0.5, 1.0));
    let (m_c, v_c, m_b, v_b) = (0.5, 1.0 / 12.0, k * 0.5 + d, k * k / 12.0);
    let apart = r * (1.0 - r) * (m_c - m_b) * (m_c - m_b);
    let all = r * v_c + (1.0 - r) * v_b + apart;
    cases.push(Case {
        givens: vec![unit; 3],
        formula: format!("if g_0 > {:?} then g_2 else {k:?} * g_1 + {d:?}", 1.0 - r),
        exact: vec![
            (apart / all, (apart + r * (1.0 - r) * (v_b + v_c)) / all),
            ((1.0 - r).powi(2) * v_b / all, (1.0 - r) * v_b / all),
            (r * r * v_c / all, r * v_c / all),
        ],
        doubt: 0.0,
    });
    cases
}

#[test]
fn shares_in_closed_form() {
    let mut random = Random(0x5151_2020_abcd);
    let mut distances = Distances::default();
    for seed in 1..=40 {
        for case in known(&mut random) {
            distances.look(&case, seed);
        }
    }
    // The stated error is the greater of two figures', so that one may be nearer; none may be clearly further.
    let n = distances.0.len() as f64;
    assert!(n > 800.0, "{n}");
    let square = distances.0.iter().map(|off| off * off).sum::<f64>() / n;
    let beyond = distances.0.iter().filter(|off| **off > 2.0).count() as f64 / n;
    assert!((0.3..1.15).contains(&square) && beyond < 0.06, "mean square {square}, beyond two {beyond}, of {n}");
}

/// Indices over the cells of a grid, and the values themselves.
fn on_a_grid(formula: &Formula, givens: &[(f64, f64)], a_side: usize) -> Option<Indices> {
    let n = givens.len();
    let total = a_side.pow(n as u32);
    let place = |cell: usize, i: usize| cell / a_side.pow(i as u32) % a_side;
    let values: Vec<f64> = (0..total)
        .map(|cell| {
            let at = |(i, (low, high)): (usize, &(f64, f64))| {
                low + (high - low) * (place(cell, i) as f64 + 0.5) / a_side as f64
            };
            formula.at(&givens.iter().enumerate().map(at).collect::<Vec<f64>>())
        })
        .collect();
    let mean = values.iter().sum::<f64>() / total as f64;
    let variance = values.iter().map(|y| (y - mean).powi(2)).sum::<f64>() / total as f64;
    let furthest = values.iter().map(|y| (y - mean).abs()).fold(0.0, f64::max);
    // Long tails take more builds than a page has time for.
    if !(variance > 1e-12 * (1.0 + mean * mean) && furthest < 8.0 * variance.sqrt()) {
        return None;
    }
    let index = |i: usize| {
        let mut given = vec![0.0; a_side];
        let mut others = vec![(0.0, 0.0); total / a_side];
        let low = a_side.pow(i as u32);
        for (cell, value) in values.iter().enumerate() {
            let y = value - mean;
            given[place(cell, i)] += y;
            let other = &mut others[cell % low + cell / (low * a_side) * low];
            *other = (other.0 + y, other.1 + y * y);
        }
        let a_side = a_side as f64;
        let first = given.iter().map(|sum| (sum / others.len() as f64).powi(2)).sum::<f64>() / a_side;
        let total = others.iter().map(|(sum, squares)| squares / a_side - (sum / a_side).powi(2)).sum::<f64>();
        (first / variance, total / others.len() as f64 / variance)
    };
    Some((0..n).map(index).collect())
}

#[test]
fn shares_of_random_formulas_on_a_grid() {
    let mut random = Random(0x7777_1234_9876);
    let mut distances = Distances::default();
    let mut looked = 0;
    while looked < 60 {
        let givens: Vec<(f64, f64)> = (0..3)
            .map(|_| {
                let low = -1.0 + 2.0 * random.share();
                (low, low + 0.2 + 1.5 * random.share())
            })
            .collect();
        let formula = Formula::random(&mut random, 3, 3);
        let (Some(coarse), Some(fine)) = (on_a_grid(&formula, &givens, 31), on_a_grid(&formula, &givens, 62)) else {
            continue;
        };
        let off = coarse.iter().zip(&fine).map(|(a, b)| (a.0 - b.0).abs().max((a.1 - b.1).abs())).fold(0.0, f64::max);
        if off > 0.01 {
            continue;
        }
        // Of one given alone there is nothing to share.
        if fine.iter().filter(|index| index.1 > 1e-9).count() < 2 {
            continue;
        }
        looked += 1;
        distances.look(&Case { givens, formula: formula.text(), exact: fine, doubt: 2.0 * off + 1e-6 }, looked);
    }
}
