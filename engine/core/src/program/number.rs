//! What the arithmetic of steps asks of a kind of number, and plain numbers.

use super::{Table, Which, least, parallel, whole_power};

/// What operations are made of. Of an [`Interval`], each gives a range that surely holds the result for all numbers of the
/// range that have one.
pub(crate) trait Number: Copy {
    fn of(value: f64) -> Self;
    fn negated(self) -> Self;
    fn plus(self, other: Self) -> Self;
    fn times(self, other: Self) -> Self;
    fn over(self, other: Self) -> Self;
    fn reciprocal(self) -> Self;
    fn square(self) -> Self;
    fn whole_power(self, exponent: i32) -> Self;
    fn power(self, exponent: Self) -> Self;
    fn parallel(self, other: Self) -> Self;
    fn least(self, other: Self) -> Self;
    fn greatest(self, other: Self) -> Self;
    /// Which is the smaller; the first where both are the same.
    fn smaller_of(self, other: Self) -> Which;
    fn absolute(self) -> Self;
    fn root(self) -> Self;
    fn exponential(self) -> Self;
    fn logarithm(self) -> Self;
    fn decimal_logarithm(self) -> Self;
    fn sine(self) -> Self;
    fn cosine(self) -> Self;
    fn tangent(self) -> Self;
    fn arc_sine(self) -> Self;
    fn arc_cosine(self) -> Self;
    fn arc_tangent(self) -> Self;
    fn arc_tangent2(self, x: Self) -> Self;
    fn floor(self) -> Self;
    fn ceiling(self) -> Self;
    fn rounded(self) -> Self;
    fn less(self, other: Self) -> Self;
    fn less_or_equal(self, other: Self) -> Self;
    fn equal(self, other: Self) -> Self;
    fn and(self, other: Self) -> Self;
    fn or(self, other: Self) -> Self;
    fn not(self) -> Self;
    fn interpolated(self, table: &Table) -> Self;
    fn slope_in(self, table: &Table) -> Self;
    /// The slope of the value without its sign.
    fn sign_as_slope(self) -> Self;
    /// The slope of what jumps between values: none where it keeps to one.
    fn slope_of_jump(value: Self) -> Self;
    /// The same of what rises in steps.
    fn slope_of_stairs(value: Self) -> Self;
    /// What the jump of the full turn adds to the slopes of an angle.
    fn slope_across_cut(y: Self, x: Self, angle: Self) -> Self;

    fn minus(self, other: Self) -> Self {
        self.plus(other.negated())
    }
}

impl Number for f64 {
    #[inline]
    fn of(value: f64) -> Self {
        value
    }

    #[inline]
    fn negated(self) -> Self {
        -self
    }

    #[inline]
    fn plus(self, other: Self) -> Self {
        self + other
    }

    #[inline]
    fn minus(self, other: Self) -> Self {
        self - other
    }

    #[inline]
    fn times(self, other: Self) -> Self {
        self * other
    }

    #[inline]
    fn over(self, other: Self) -> Self {
        self / other
    }

    #[inline]
    fn reciprocal(self) -> Self {
        1.0 / self
    }

    #[inline]
    fn square(self) -> Self {
        self * self
    }

    #[inline]
    fn whole_power(self, exponent: i32) -> Self {
        whole_power(self, exponent)
    }

    #[inline]
    fn power(self, exponent: Self) -> Self {
        libm::pow(self, exponent)
    }

    #[inline]
    fn parallel(self, other: Self) -> Self {
        parallel(self, other)
    }

    #[inline]
    fn least(self, other: Self) -> Self {
        least(self, other)
    }

    #[inline]
    fn greatest(self, other: Self) -> Self {
        -least(-self, -other)
    }

    #[inline]
    fn smaller_of(self, other: Self) -> Which {
        if other < self { Which::Second } else { Which::First }
    }

    #[inline]
    fn absolute(self) -> Self {
        self.abs()
    }

    #[inline]
    fn root(self) -> Self {
        self.sqrt()
    }

    #[inline]
    fn exponential(self) -> Self {
        libm::exp(self)
    }

    #[inline]
    fn logarithm(self) -> Self {
        libm::log(self)
    }

    #[inline]
    fn decimal_logarithm(self) -> Self {
        libm::log10(self)
    }

    #[inline]
    fn sine(self) -> Self {
        libm::sin(self)
    }

    #[inline]
    fn cosine(self) -> Self {
        libm::cos(self)
    }

    #[inline]
    fn tangent(self) -> Self {
        libm::tan(self)
    }

    #[inline]
    fn arc_sine(self) -> Self {
        libm::asin(self)
    }

    #[inline]
    fn arc_cosine(self) -> Self {
        libm::acos(self)
    }

    #[inline]
    fn arc_tangent(self) -> Self {
        libm::atan(self)
    }

    #[inline]
    fn arc_tangent2(self, x: Self) -> Self {
        libm::atan2(self, x)
    }

    #[inline]
    fn floor(self) -> Self {
        self.floor()
    }

    #[inline]
    fn ceiling(self) -> Self {
        self.ceil()
    }

    #[inline]
    fn rounded(self) -> Self {
        self.round()
    }

    #[inline]
    fn less(self, other: Self) -> Self {
        truth(self < other)
    }

    #[inline]
    fn less_or_equal(self, other: Self) -> Self {
        truth(self <= other)
    }

    #[inline]
    fn equal(self, other: Self) -> Self {
        truth(self == other)
    }

    #[inline]
    fn and(self, other: Self) -> Self {
        truth(self != 0.0 && other != 0.0)
    }

    #[inline]
    fn or(self, other: Self) -> Self {
        truth(self != 0.0 || other != 0.0)
    }

    #[inline]
    fn not(self) -> Self {
        truth(self == 0.0)
    }

    #[inline]
    fn interpolated(self, table: &Table) -> Self {
        table.at(self)
    }

    fn slope_in(self, table: &Table) -> Self {
        let upper = table.x.partition_point(|known| *known < self).clamp(1, table.x.len() - 1);
        (table.y[upper] - table.y[upper - 1]) / (table.x[upper] - table.x[upper - 1])
    }

    fn sign_as_slope(self) -> Self {
        f64::from(i8::from(self > 0.0) - i8::from(self < 0.0))
    }

    fn slope_of_jump(_: Self) -> Self {
        0.0
    }

    fn slope_of_stairs(_: Self) -> Self {
        0.0
    }

    fn slope_across_cut(_: Self, _: Self, _: Self) -> Self {
        0.0
    }
}

fn truth(holds: bool) -> f64 {
    f64::from(u8::from(holds))
}
