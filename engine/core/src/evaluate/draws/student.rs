//! Student's t, which JCGM 101, 6.4.9.2 gives to a value whose standard uncertainty was estimated from readings: its
//! quantile, for any number of degrees of freedom of one and above.

use std::f64::consts::PI;

use super::normal::normal_quantile;

/// The quantile: exact for one and two degrees of freedom, to about 1e-13 below ten, and to 2e-7 above, where the series
/// alone is as good.
pub(crate) fn student_quantile(p: f64, degrees: f64) -> f64 {
    let tails = 2.0 * p.min(1.0 - p);
    let size = match degrees {
        _ if tails >= 1.0 => 0.0,
        1.0 => of_one_degree(tails),
        2.0 => of_two_degrees(tails),
        n if n < 2.0 => refined(tails, n, (of_one_degree(tails) * of_two_degrees(tails)).sqrt()),
        n if n < 3.0 => refined(tails, n, of_two_degrees(tails)),
        n if n < 10.0 => refined(tails, n, by_series(tails, n)),
        n => by_series(tails, n),
    };
    if p < 0.5 { -size } else { size }
}

fn of_one_degree(tails: f64) -> f64 {
    let angle = tails * PI / 2.0;
    libm::cos(angle) / libm::sin(angle)
}

fn of_two_degrees(tails: f64) -> f64 {
    (2.0 / (tails * (2.0 - tails)) - 2.0).max(0.0).sqrt()
}

/// The series of G. W. Hill, "Algorithm 396", Communications of the ACM 13, 1970. Its error is below 2e-5 from three
/// degrees of freedom on, below 2e-7 from ten on, and large between one and two.
fn by_series(tails: f64, n: f64) -> f64 {
    let a = 1.0 / (n - 0.5);
    let b = 48.0 / (a * a);
    let mut c = ((20_700.0 * a / b - 98.0) * a - 16.0) * a + 96.36;
    let d = ((94.5 / (b + c) - 3.0) / b + 1.0) * (a * PI / 2.0).sqrt() * n;
    let mut x = d * tails;
    let mut y = libm::pow(x, 2.0 / n);
    if y > 0.05 + a {
        x = normal_quantile(tails / 2.0);
        y = x * x;
        if n < 5.0 {
            c += 0.3 * (n - 4.5) * (x + 0.6);
        }
        c += (((0.05 * d * x - 5.0) * x - 7.0) * x - 2.0) * x + b;
        y = (((((0.4 * y + 6.3) * y + 36.0) * y + 94.5) / c - y - 3.0) / b + 1.0) * x;
        y = libm::expm1(a * y * y);
    } else {
        let far = (n + 6.0) / (n * y) - 0.089 * d - 0.822;
        y = ((1.0 / (far * (n + 2.0) * 3.0) + 0.5 / (n + 4.0)) * y - 1.0) * (n + 1.0) / (n + 2.0) + 1.0 / y;
    }
    (n * y).max(0.0).sqrt()
}

/// Newton's method on the logarithm of both tails over the logarithm of t, which is nearly a straight line far out.
fn refined(tails: f64, n: f64, start: f64) -> f64 {
    const STEPS: usize = 30;
    /// A step in the logarithm that changes nothing any more.
    const DONE: f64 = 1e-15;
    let log_tails = libm::log(tails);
    // Γ((n+1)/2) / (Γ(n/2) √(n π)), the density in the middle.
    let peak = libm::exp(libm::lgamma((n + 1.0) / 2.0) - libm::lgamma(n / 2.0)) / (n * PI).sqrt();
    let mut t = start.max(f64::MIN_POSITIVE);
    for _ in 0..STEPS {
        let both = both_tails(t, n);
        let density = 2.0 * peak * libm::exp(-(n + 1.0) / 2.0 * libm::log1p(t * t / n));
        let step = (libm::log(both) - log_tails) * both / (t * density);
        if !step.is_finite() {
            break;
        }
        t *= libm::exp(step.clamp(-2.0, 2.0));
        if step.abs() <= DONE {
            break;
        }
    }
    t
}

/// The probability of being farther than `t` from the middle: the regularised incomplete beta function
/// I_x(n/2, 1/2) at x = n/(n + t²) (NIST Digital Library of Mathematical Functions, 8.17).
fn both_tails(t: f64, n: f64) -> f64 {
    let square = t * t;
    let (x, rest) = (n / (n + square), square / (n + square));
    incomplete_beta(n / 2.0, 0.5, x, rest)
}

/// I_x(a, b), with 1 − x given apart so that it loses no digits.
fn incomplete_beta(a: f64, b: f64, x: f64, rest: f64) -> f64 {
    if x <= 0.0 || rest <= 0.0 {
        return if x <= 0.0 { 0.0 } else { 1.0 };
    }
    let log_beta = libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b);
    let front = libm::exp(a * libm::log(x) + b * libm::log(rest) - log_beta);
    // 8.17.4: the fraction converges fast on the nearer side.
    if x < (a + 1.0) / (a + b + 2.0) { front * fraction(a, b, x) / a } else { 1.0 - front * fraction(b, a, rest) / b }
}

/// The continued fraction 8.17.22 by the modified method of Lentz (I. J. Thompson, A. R. Barnett, "Coulomb and Bessel
/// functions of complex arguments and order", Journal of Computational Physics 64, 1986).
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    const TERMS: u32 = 300;
    const TINY: f64 = 1e-300;
    let not_zero = |y: f64| if y.abs() < TINY { TINY } else { y };
    let (mut c, mut d) = (1.0, 1.0 / not_zero(1.0 - (a + b) * x / (a + 1.0)));
    let mut value = d;
    for m in 1..=TERMS {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut change = 1.0;
        for term in [even, odd] {
            d = 1.0 / not_zero(1.0 + term * d);
            c = not_zero(1.0 + term / c);
            change = c * d;
            value *= change;
        }
        if (change - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table of Student's t (JCGM 100, table G.2, for 95 % and 99 %).
    #[test]
    fn quantiles_of_student() {
        for (degrees, p, t) in [
            (1.0, 0.975, 12.71),
            (2.0, 0.975, 4.30),
            (5.0, 0.975, 2.57),
            (16.0, 0.995, 2.92),
            (18.0, 0.975, 2.10),
            (50.0, 0.995, 2.68),
        ] {
            assert!((student_quantile(p, degrees) - t).abs() < 0.006, "{degrees}: {}", student_quantile(p, degrees));
            assert_eq!(student_quantile(1.0 - p, degrees), -student_quantile(p, degrees));
        }
        assert!((student_quantile(0.975, 1e6) - 1.959_964).abs() < 1e-4);
    }

    /// The closed forms for one and two degrees of freedom (any handbook of statistics), and that for four: the probability
    /// below t is 1/2 + 3/8 · s · (1 − s²/12 · t²/(1 + t²/4)) with s = t/√(1 + t²/4).
    #[test]
    fn the_refined_quantile_is_that_of_the_closed_forms() {
        for i in 1..1000 {
            let tails = f64::from(i) / 1000.0;
            for (n, exact) in [(1.0, of_one_degree(tails)), (2.0, of_two_degrees(tails))] {
                let found = refined(tails, n, 1.0);
                assert!((found - exact).abs() < 1e-12 * (1.0 + exact), "{n} {tails}: {found} {exact}");
            }
            let t = student_quantile(1.0 - tails / 2.0, 4.0);
            let s = t / (1.0 + t * t / 4.0).sqrt();
            let below = 0.5 + 0.375 * s * (1.0 - s * s / 12.0);
            assert!((below - (1.0 - tails / 2.0)).abs() < 1e-14, "{tails}: {t}");
        }
    }

    /// More degrees of freedom bring the tails in, also where one formula gives way to the next.
    #[test]
    fn quantiles_fall_with_the_degrees() {
        for p in [0.5001, 0.6, 0.9, 0.975, 0.999, 1.0 - 1e-9] {
            let mut before = f64::INFINITY;
            for i in 0..1500 {
                let t = student_quantile(p, 1.0 + f64::from(i) / 100.0);
                assert!(t < before, "{p} {i}: {t} {before}");
                before = t;
            }
        }
    }
}
