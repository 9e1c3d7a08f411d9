//! Interval arithmetic: a range that surely holds a result. Every end is rounded outwards, by one place for what IEEE 754
//! rounds correctly (sums, products, quotients, roots) and by two for the functions of `libm`, whose sources state errors
//! below one place (`exp`, `log`, `sin`, `cos`, `tan`, `asin`, `acos`, `atan`) and of 0.7 and 2 places (`pow`, `atan2`).
//! A sum without a rounding error and a product with zero stay exact, so that a slope that is zero has a sign still.
//! R. E. Moore, Methods and Applications of Interval Analysis, chapters 2 and 3.

mod number;
mod rounding;

use std::f64::consts::PI;

use rounding::{LIBRARY, above, below};

/// The tangent rises from one right angle to the next; in which of these stretches an angle lies.
pub(crate) fn branch_of_tangent(angle: f64) -> f64 {
    libm::floor(angle / std::f64::consts::PI + 0.5)
}

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
    /// Neither true nor false everywhere.
    pub(crate) const EITHER: Interval = Interval { low: 0.0, high: 1.0 };
    /// No number at all.
    pub(crate) const NONE: Interval = Interval { low: f64::INFINITY, high: f64::NEG_INFINITY };

    /// The range between two numbers; everything where one is undefined.
    pub(crate) fn new(low: f64, high: f64) -> Self {
        if low.is_nan() || high.is_nan() { Self::ALL } else { Self { low, high } }
    }

    pub(crate) fn point(value: f64) -> Self {
        Self::new(value, value)
    }

    pub(crate) fn is_point(self) -> bool {
        self.low == self.high
    }

    pub(crate) fn is_none(self) -> bool {
        self.low > self.high
    }

    pub(crate) fn is_finite(self) -> bool {
        self.low.is_finite() && self.high.is_finite()
    }

    pub(crate) fn has_zero(self) -> bool {
        self.low <= 0.0 && self.high >= 0.0
    }

    pub(crate) fn width(self) -> f64 {
        self.high - self.low
    }

    /// The greatest size of a number in it.
    pub(crate) fn size(self) -> f64 {
        self.low.abs().max(self.high.abs())
    }

    pub(crate) fn hull(self, other: Self) -> Self {
        Self::new(self.low.min(other.low), self.high.max(other.high))
    }

    /// What both hold, perhaps nothing.
    pub(crate) fn common(self, other: Self) -> Self {
        let (low, high) = (self.low.max(other.low), self.high.min(other.high));
        if low <= high { Self { low, high } } else { Self::NONE }
    }

    /// As many places wider at both ends.
    pub(crate) fn wider(self, places: u32) -> Self {
        (0..places).fold(self, |range, _| Self::new(below(range.low), above(range.high)))
    }

    /// The range of a rising function of `libm`.
    fn rising(self, f: impl Fn(f64) -> f64) -> Self {
        Self::new(f(self.low), f(self.high)).wider(LIBRARY)
    }

    fn falling(self, f: impl Fn(f64) -> f64) -> Self {
        Self::new(f(self.high), f(self.low)).wider(LIBRARY)
    }

    /// A range that stays on one side of zero has a sign.
    pub(crate) fn sign(self) -> Option<f64> {
        if self.low >= 0.0 {
            Some(1.0)
        } else if self.high <= 0.0 {
            Some(-1.0)
        } else {
            None
        }
    }

    /// The sine of an angle so many right angles on.
    fn wave(self, f: impl Fn(f64) -> f64, ahead: f64) -> Self {
        const WHOLE: Interval = Interval { low: -1.0, high: 1.0 };
        // Far out, the number of a crest is not known well enough.
        if self.size() > 1e6 {
            return WHOLE;
        }
        // Crests and troughs stand at whole numbers; one that is near an end is taken to be inside.
        const NEAR: f64 = 1e-9;
        let number = |angle: f64| angle / PI - 0.5 + 0.5 * ahead;
        let (first, last) = (libm::ceil(number(self.low) - NEAR), libm::floor(number(self.high) + NEAR));
        let ends = Self::point(f(self.low)).hull(Self::point(f(self.high))).wider(LIBRARY);
        let crest = |number: f64| if number.rem_euclid(2.0) == 0.0 { Self::ONE } else { Self::point(-1.0) };
        let found = match last - first {
            between if between < 0.0 => ends,
            0.0 => ends.hull(crest(first)),
            _ => WHOLE,
        };
        found.common(WHOLE)
    }

    /// Ends of products or quotients, of which some are negative and some positive.
    fn rounded_outwards(low: f64, high: f64, negative: bool, positive: bool) -> Self {
        Self::new(
            if low == 0.0 && !negative { 0.0 } else { low.next_down() },
            if high == 0.0 && !positive { 0.0 } else { high.next_up() },
        )
    }

    fn truth(surely: bool, surely_not: bool) -> Self {
        match (surely, surely_not) {
            (true, _) => Self::ONE,
            (_, true) => Self::ZERO,
            _ => Self::EITHER,
        }
    }

    /// Of a number, 1 where it is other than zero.
    fn is_true(self) -> (bool, bool) {
        (!self.has_zero(), self == Self::ZERO)
    }

    /// Whether the tangent has a value all along.
    pub(crate) fn keeps_to_one_branch(self) -> bool {
        /// Nearer than this to a right angle it cannot be said on which side one stands.
        const NEAR: f64 = 1e12;
        let (low, high) = (libm::tan(self.low), libm::tan(self.high));
        self.is_finite()
            && branch_of_tangent(self.low) == branch_of_tangent(self.high)
            && low <= high
            && low.abs() < NEAR
            && high.abs() < NEAR
    }
}
