//! Interval arithmetic: a range that surely holds a result. It over-estimates where a name occurs twice, so it is never
//! shown; it only proves the sign of a slope over a box, or that a divisor keeps clear of zero.

/// A closed range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Interval {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl Interval {
    pub(crate) const ALL: Interval = Interval { low: f64::NEG_INFINITY, high: f64::INFINITY };
    pub(crate) const ZERO: Interval = Interval { low: 0.0, high: 0.0 };
    pub(crate) const ONE: Interval = Interval { low: 1.0, high: 1.0 };

    /// The range between two numbers; everything where one is undefined.
    pub(crate) fn new(low: f64, high: f64) -> Self {
        if low.is_nan() || high.is_nan() { Self::ALL } else { Self { low, high } }
    }

    pub(crate) fn point(value: f64) -> Self {
        Self::new(value, value)
    }

    pub(crate) fn has_zero(self) -> bool {
        self.low <= 0.0 && self.high >= 0.0
    }

    pub(crate) fn hull(self, other: Self) -> Self {
        Self::new(self.low.min(other.low), self.high.max(other.high))
    }

    pub(crate) fn negated(self) -> Self {
        Self { low: -self.high, high: -self.low }
    }

    pub(crate) fn plus(self, other: Self) -> Self {
        Self::new(self.low + other.low, self.high + other.high)
    }

    pub(crate) fn minus(self, other: Self) -> Self {
        self.plus(other.negated())
    }

    pub(crate) fn times(self, other: Self) -> Self {
        // Zero times an endless end is zero here: the end itself is never reached.
        let product = |a: f64, b: f64| if a == 0.0 || b == 0.0 { 0.0 } else { a * b };
        let corners = [
            product(self.low, other.low),
            product(self.low, other.high),
            product(self.high, other.low),
            product(self.high, other.high),
        ];
        let low = corners.into_iter().fold(f64::INFINITY, f64::min);
        let high = corners.into_iter().fold(f64::NEG_INFINITY, f64::max);
        Self::new(low, high)
    }

    /// From one side zero is come near to without end; from both, to both sides.
    pub(crate) fn reciprocal(self) -> Self {
        match (self.low, self.high) {
            (0.0, high) if high > 0.0 => Self::new(1.0 / high, f64::INFINITY),
            (low, 0.0) if low < 0.0 => Self::new(f64::NEG_INFINITY, 1.0 / low),
            _ if self.has_zero() => Self::ALL,
            (low, high) => Self::new(1.0 / high, 1.0 / low),
        }
    }

    pub(crate) fn over(self, other: Self) -> Self {
        self.times(other.reciprocal())
    }

    /// The range of a rising function.
    pub(crate) fn rising(self, f: impl Fn(f64) -> f64) -> Self {
        Self::new(f(self.low), f(self.high))
    }

    pub(crate) fn square(self) -> Self {
        let (a, b) = (self.low * self.low, self.high * self.high);
        Self::new(if self.has_zero() { 0.0 } else { a.min(b) }, a.max(b))
    }

    pub(crate) fn whole_power(self, n: i32) -> Self {
        if n < 0 {
            return self.whole_power(-n).reciprocal();
        }
        let power = |x: f64| crate::program::whole_power(x, n);
        if n == 0 {
            Self::ONE
        } else if n % 2 == 1 {
            self.rising(power)
        } else {
            let (a, b) = (power(self.low), power(self.high));
            Self::new(if self.has_zero() { 0.0 } else { a.min(b) }, a.max(b))
        }
    }

    /// A range that stays on one side of zero tells a sign.
    pub(crate) fn sign(self) -> Option<f64> {
        if self.low >= 0.0 {
            Some(1.0)
        } else if self.high <= 0.0 {
            Some(-1.0)
        } else {
            None
        }
    }
}
