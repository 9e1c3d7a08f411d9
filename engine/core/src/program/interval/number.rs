//! The steps of a program over ranges.

use std::f64::consts::PI;

use super::{
    super::{Number, Table, Which, parallel},
    Interval,
    rounding::{LIBRARY, above, below, product, rounded_power, sum_above, sum_below},
};

impl Number for Interval {
    fn of(value: f64) -> Self {
        Self::point(value)
    }

    fn negated(self) -> Self {
        Self { low: -self.high, high: -self.low }
    }

    fn plus(self, other: Self) -> Self {
        Self::new(sum_below(self.low, other.low), sum_above(self.high, other.high))
    }

    fn times(self, other: Self) -> Self {
        if self == Self::ONE {
            return other;
        }
        if other == Self::ONE {
            return self;
        }
        if self == Self::ZERO || other == Self::ZERO {
            return Self::ZERO;
        }
        let corners = [
            product(self.low, other.low),
            product(self.low, other.high),
            product(self.high, other.low),
            product(self.high, other.high),
        ];
        let low = corners.into_iter().fold(f64::INFINITY, f64::min);
        let high = corners.into_iter().fold(f64::NEG_INFINITY, f64::max);
        // A zero is exact unless it stands for a product too small to hold.
        let negative = (self.low < 0.0 && other.high > 0.0) || (self.high > 0.0 && other.low < 0.0);
        let positive = (self.low < 0.0 && other.low < 0.0) || (self.high > 0.0 && other.high > 0.0);
        Self::rounded_outwards(low, high, negative, positive)
    }

    fn over(self, other: Self) -> Self {
        if other == Self::ONE {
            return self;
        }
        if other.has_zero() || !self.is_finite() || !other.is_finite() {
            return self.times(other.reciprocal());
        }
        let corners = [self.low / other.low, self.low / other.high, self.high / other.low, self.high / other.high];
        let low = corners.into_iter().fold(f64::INFINITY, f64::min);
        let high = corners.into_iter().fold(f64::NEG_INFINITY, f64::max);
        let (negative, positive) = (self.low < 0.0, self.high > 0.0);
        let (negative, positive) = if other.low > 0.0 { (negative, positive) } else { (positive, negative) };
        Self::rounded_outwards(low, high, negative, positive)
    }

    /// From one side zero is come near to without end; from both, to both sides.
    fn reciprocal(self) -> Self {
        let (down, up) = (|x: f64| below(1.0 / x), |x: f64| above(1.0 / x));
        match (self.low, self.high) {
            (low, high) if low == 0.0 && high > 0.0 => Self::new(down(high), f64::INFINITY),
            (low, high) if high == 0.0 && low < 0.0 => Self::new(f64::NEG_INFINITY, up(low)),
            _ if self.has_zero() => Self::ALL,
            (low, high) => Self::new(down(high), up(low)),
        }
    }

    fn square(self) -> Self {
        self.whole_power(2)
    }

    fn whole_power(self, exponent: i32) -> Self {
        let n = exponent.unsigned_abs();
        if n == 0 {
            return Self::ONE;
        }
        let (down, up) = (|x: f64| rounded_power(x, n, below), |x: f64| rounded_power(x, n, above));
        let result = match (n % 2, self.sign()) {
            (_, Some(sign)) if sign > 0.0 => Self::new(down(self.low), up(self.high)),
            (0, Some(_)) => Self::new(down(-self.high), up(-self.low)),
            (0, None) => Self::new(0.0, up(self.size())),
            (_, Some(_)) => Self::new(-up(-self.low), -down(-self.high)),
            (_, None) => Self::new(-up(-self.low), up(self.high)),
        };
        if exponent < 0 { result.reciprocal() } else { result }
    }

    /// Where the base may be below zero, of those bases only that have a power.
    fn power(self, exponent: Self) -> Self {
        let whole = exponent.is_point() && exponent.low.fract() == 0.0 && exponent.low.abs() < 1e6;
        if whole {
            if exponent.low < 0.0 && self.has_zero() {
                let end = if self.low == 0.0 { libm::pow(self.high, exponent.low) } else { f64::NEG_INFINITY };
                return Self::new(below(below(end)), f64::INFINITY);
            }
            let power = |x: f64| Self::point(libm::pow(x, exponent.low));
            // Below zero it may rise or fall, and turns at zero.
            let across = if self.has_zero() { power(0.0) } else { power(self.low) };
            return power(self.low).hull(power(self.high)).hull(across).wider(LIBRARY);
        }
        let base = self.common(Self::new(0.0, f64::INFINITY));
        if base.is_none() || !(self.low >= 0.0 || exponent.is_point()) {
            return Self::ALL;
        }
        let corner = |x: f64, y: f64| Self::point(libm::pow(x, y));
        corner(base.low, exponent.low)
            .hull(corner(base.low, exponent.high))
            .hull(corner(base.high, exponent.low))
            .hull(corner(base.high, exponent.high))
            .wider(LIBRARY)
    }

    fn parallel(self, other: Self) -> Self {
        // Rises with both where neither is below zero.
        if self.low >= 0.0 && other.low >= 0.0 && self.is_finite() && other.is_finite() {
            let (low, high) = (parallel(self.low, other.low), parallel(self.high, other.high));
            return Self::new(low, high).wider(3);
        }
        if self.high <= 0.0 && other.high <= 0.0 && self.is_finite() && other.is_finite() {
            return self.negated().parallel(other.negated()).negated();
        }
        self.times(other).over(self.plus(other))
    }

    fn least(self, other: Self) -> Self {
        Self::new(self.low.min(other.low), self.high.min(other.high))
    }

    fn greatest(self, other: Self) -> Self {
        Self::new(self.low.max(other.low), self.high.max(other.high))
    }

    fn smaller_of(self, other: Self) -> Which {
        if self.high < other.low {
            Which::First
        } else if other.high < self.low {
            Which::Second
        } else {
            Which::Either
        }
    }

    fn absolute(self) -> Self {
        match self.sign() {
            Some(sign) if sign > 0.0 => self,
            Some(_) => self.negated(),
            None => Self::new(0.0, self.size()),
        }
    }

    /// Of what is not below zero.
    fn root(self) -> Self {
        let root = |x: f64| x.max(0.0).sqrt();
        Self::new(root(self.low), root(self.high)).wider(1)
    }

    fn exponential(self) -> Self {
        let found = self.rising(libm::exp);
        Self::new(found.low.max(0.0), found.high)
    }

    /// Of what is above zero.
    fn logarithm(self) -> Self {
        self.rising(|x| libm::log(x.max(0.0)))
    }

    fn decimal_logarithm(self) -> Self {
        self.rising(|x| libm::log10(x.max(0.0)))
    }

    fn sine(self) -> Self {
        self.wave(libm::sin, 0.0)
    }

    fn cosine(self) -> Self {
        self.wave(libm::cos, 1.0)
    }

    fn tangent(self) -> Self {
        let (low, high) = (libm::tan(self.low), libm::tan(self.high));
        if self.keeps_to_one_branch() { Self::new(low, high).wider(LIBRARY) } else { Self::ALL }
    }

    fn arc_sine(self) -> Self {
        self.rising(|x| libm::asin(x.clamp(-1.0, 1.0)))
    }

    fn arc_cosine(self) -> Self {
        self.falling(|x| libm::acos(x.clamp(-1.0, 1.0)))
    }

    fn arc_tangent(self) -> Self {
        self.rising(libm::atan)
    }

    fn arc_tangent2(self, x: Self) -> Self {
        // It jumps across the negative half of the second axis, and turns steadily elsewhere.
        if x.low <= 0.0 && self.has_zero() || !self.is_finite() || !x.is_finite() {
            return Self::new(-PI, PI).wider(LIBRARY);
        }
        let corner = |y: f64, x: f64| Self::point(libm::atan2(y, x));
        corner(self.low, x.low)
            .hull(corner(self.low, x.high))
            .hull(corner(self.high, x.low))
            .hull(corner(self.high, x.high))
            .wider(LIBRARY)
    }

    fn floor(self) -> Self {
        Self::new(libm::floor(self.low), libm::floor(self.high))
    }

    fn ceiling(self) -> Self {
        Self::new(libm::ceil(self.low), libm::ceil(self.high))
    }

    fn rounded(self) -> Self {
        Self::new(libm::round(self.low), libm::round(self.high))
    }

    fn less(self, other: Self) -> Self {
        Self::truth(self.high < other.low, self.low >= other.high)
    }

    fn less_or_equal(self, other: Self) -> Self {
        Self::truth(self.high <= other.low, self.low > other.high)
    }

    fn equal(self, other: Self) -> Self {
        Self::truth(
            self.is_point() && other.is_point() && self.low == other.low,
            self.high < other.low || other.high < self.low,
        )
    }

    fn and(self, other: Self) -> Self {
        let (a, b) = (self.is_true(), other.is_true());
        Self::truth(a.0 && b.0, a.1 || b.1)
    }

    fn or(self, other: Self) -> Self {
        let (a, b) = (self.is_true(), other.is_true());
        Self::truth(a.0 || b.0, a.1 && b.1)
    }

    fn not(self) -> Self {
        let (surely, surely_not) = self.is_true();
        Self::truth(surely_not, surely)
    }

    fn interpolated(self, table: &Table) -> Self {
        let Some((low, high)) = table.common(self.low, self.high) else { return Self::ALL };
        let mut range = Self::point(table.at(low)).hull(Self::point(table.at(high)));
        for (x, y) in table.x.iter().zip(&table.y) {
            if (low..=high).contains(x) {
                range = range.hull(Self::point(*y));
            }
        }
        // Four operations, each of them rounded.
        range.wider(4)
    }

    fn slope_in(self, table: &Table) -> Self {
        let Some((low, high)) = table.common(self.low, self.high) else { return Self::ALL };
        let reached = (1..table.x.len()).filter(|i| table.x[*i] >= low && table.x[*i - 1] <= high);
        let slope = |i: usize| (table.y[i] - table.y[i - 1]) / (table.x[i] - table.x[i - 1]);
        let slopes = reached.map(|i| Self::point(slope(i)).wider(if slope(i) == 0.0 { 0 } else { 3 }));
        slopes.reduce(Self::hull).unwrap_or(Self::ALL)
    }

    fn sign_as_slope(self) -> Self {
        self.sign().map_or(Self::new(-1.0, 1.0), Self::point)
    }

    fn slope_of_jump(value: Self) -> Self {
        if value.is_point() { Self::ZERO } else { Self::ALL }
    }

    fn slope_of_stairs(value: Self) -> Self {
        if value.is_point() { Self::ZERO } else { Self::new(0.0, f64::INFINITY) }
    }

    fn slope_across_cut(y: Self, x: Self, _: Self) -> Self {
        if x.low <= 0.0 && y.has_zero() { Self::ALL } else { Self::ZERO }
    }
}

impl Table {
    /// The part of a range that the table covers.
    fn common(&self, low: f64, high: f64) -> Option<(f64, f64)> {
        let (first, last) = (*self.x.first()?, *self.x.last()?);
        let (low, high) = (low.max(first), high.min(last));
        (low <= high).then_some((low, high))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::disallowed_methods)]

    use super::*;

    #[test]
    fn ends_are_rounded_outwards_and_zeros_stay() {
        let tenth = Interval::point(0.1);
        let three = tenth.plus(tenth).plus(tenth);
        assert!(three.low <= 0.3 && three.high >= 0.300_000_000_000_000_04, "{three:?}");
        assert_eq!(Interval::new(0.0, 2.0).times(tenth).low, 0.0);
        assert_eq!(Interval::new(-2.0, 0.0).times(tenth).high, 0.0);
        assert_eq!(Interval::point(1e-300).times(Interval::point(1e-300)).low, 0.0);
        assert!(Interval::point(1e-300).times(Interval::point(-1e-300)).low < 0.0);
        assert!(Interval::point(1e300).times(Interval::point(1e300)).low.is_finite());
        assert_eq!(Interval::new(-1.0, 2.0).square(), Interval { low: 0.0, high: 4f64.next_up() });
        assert!(Interval::new(-2.0, 1.0).whole_power(3).low <= -8.0);
    }

    #[test]
    fn a_wave_knows_its_crests() {
        let near = |found: Interval, low: f64, high: f64| {
            assert!((found.low - low).abs() < 1e-12 && (found.high - high).abs() < 1e-12, "{found:?}");
        };
        near(Interval::new(0.0, 1.0).sine(), 0.0, 1f64.sin());
        near(Interval::new(1.0, 2.0).sine(), 1f64.sin(), 1.0);
        near(Interval::new(4.0, 5.0).sine(), -1.0, 4f64.sin());
        near(Interval::new(-1.0, 5.0).sine(), -1.0, 1.0);
        near(Interval::new(-1.0, 1.0).cosine(), 1f64.cos(), 1.0);
        near(Interval::new(3.0, 3.5).cosine(), -1.0, 3.5f64.cos());
        near(Interval::new(-4.0, -3.0).cosine(), -1.0, 4f64.cos());
    }
}
