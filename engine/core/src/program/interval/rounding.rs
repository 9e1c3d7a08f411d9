//! Numbers rounded downwards and upwards.

/// Places by which a function of `libm` is widened.
pub(super) const LIBRARY: u32 = 2;

/// The number below; an endless end stays.
pub(super) fn below(x: f64) -> f64 {
    if x == 0.0 && x.is_sign_positive() { x } else { x.next_down() }
}

pub(super) fn above(x: f64) -> f64 {
    if x == 0.0 && x.is_sign_negative() { x } else { x.next_up() }
}

/// A sum and what rounding left of it (D. E. Knuth, The Art of Computer Programming 2, 4.2.2).
pub(super) fn sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let virtual_b = sum - a;
    (sum, (a - (sum - virtual_b)) + (b - virtual_b))
}

pub(super) fn sum_below(a: f64, b: f64) -> f64 {
    let (sum, rest) = sum(a, b);
    if rest >= 0.0 { sum } else { sum.next_down() }
}

pub(super) fn sum_above(a: f64, b: f64) -> f64 {
    let (sum, rest) = sum(a, b);
    if rest <= 0.0 { sum } else { sum.next_up() }
}

/// Zero times an endless end is zero here: the end itself is never reached.
pub(super) fn product(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 { 0.0 } else { a * b }
}

/// A whole power of a number that is not below zero, each product rounded by `round`.
pub(super) fn rounded_power(base: f64, exponent: u32, round: impl Fn(f64) -> f64) -> f64 {
    let (mut result, mut square, mut left) = (1.0, base, exponent);
    while left > 0 {
        if left & 1 == 1 {
            result = if result == 1.0 { square } else { round(product(result, square)) };
        }
        left >>= 1;
        if left > 0 {
            square = round(product(square, square));
        }
    }
    result
}
