//! What a proof does with each operation: its range and where it has a value, forwards; its slopes, backwards.

use crate::program::{Domain, Interval, Number, OneArgument, Outside, Reg, Slopes, TwoArguments, Visitor, Which};

/// The range of a step, and where it has a value.
pub(super) struct Ranged<'a> {
    pub(super) ranges: &'a [Interval],
}

impl Ranged<'_> {
    fn of(&self, a: Reg) -> Interval {
        self.ranges[a as usize]
    }
}

impl Visitor for Ranged<'_> {
    type Output = (Interval, Domain);

    fn one(self, operation: impl OneArgument, a: Reg) -> Self::Output {
        let a = self.of(a);
        if a.is_none() {
            return (a, Domain::Whole);
        }
        let domain = operation.domain(a);
        (if domain == Domain::Nowhere { Interval::NONE } else { operation.value(a) }, domain)
    }

    fn two(self, operation: impl TwoArguments, a: Reg, b: Reg) -> Self::Output {
        let (a, b) = (self.of(a), self.of(b));
        if a.is_none() || b.is_none() {
            return (Interval::NONE, Domain::Whole);
        }
        let domain = operation.domain(a, b);
        (if domain == Domain::Nowhere { Interval::NONE } else { operation.value(a, b) }, domain)
    }

    fn select(self, condition: Reg, a: Reg, b: Reg) -> Self::Output {
        let condition = self.of(condition);
        let range = if condition.is_none() {
            condition
        } else if condition == Interval::ZERO {
            self.of(b)
        } else if !condition.has_zero() {
            self.of(a)
        } else {
            self.of(a).hull(self.of(b))
        };
        (range, Domain::Whole)
    }

    // Held, or given by the models.
    fn outside(self, _: Outside) -> Self::Output {
        (Interval::ALL, Domain::Whole)
    }
}

/// Hands the slope of a step on to what it reads.
pub(super) struct Back<'a> {
    pub(super) ranges: &'a [Interval],
    pub(super) adjoints: &'a mut [Interval],
    pub(super) live: &'a mut [bool],
    pub(super) value: Interval,
    pub(super) adjoint: Interval,
}

impl Back<'_> {
    fn add(&mut self, a: Reg, slope: Interval) {
        let a = a as usize;
        self.live[a] = true;
        // Of what is nowhere there is no slope.
        self.adjoints[a] = if slope.is_none() { Interval::ALL } else { self.adjoints[a].plus(slope) };
    }
}

impl Visitor for Back<'_> {
    type Output = ();

    fn one(mut self, operation: impl OneArgument, a: Reg) {
        let x = self.ranges[a as usize];
        let none = x.is_none() || self.value.is_none();
        let slope = if none { Interval::ALL } else { operation.slope(x, self.value) };
        self.add(a, self.adjoint.times(slope));
    }

    fn two(mut self, operation: impl TwoArguments, a: Reg, b: Reg) {
        let (x, y) = (self.ranges[a as usize], self.ranges[b as usize]);
        let either = self.adjoint.hull(Interval::ZERO);
        let (in_a, in_b) = if x.is_none() || y.is_none() || self.value.is_none() {
            (Interval::ALL, Interval::ALL)
        } else {
            match operation.slopes(x, y, self.value) {
                Slopes::Each(in_a, in_b) => (self.adjoint.times(in_a), self.adjoint.times(in_b)),
                Slopes::OneOf(Which::First) => (self.adjoint, Interval::ZERO),
                Slopes::OneOf(Which::Second) => (Interval::ZERO, self.adjoint),
                Slopes::OneOf(Which::Either) => (either, either),
            }
        };
        self.add(a, in_a);
        self.add(b, in_b);
    }

    fn select(mut self, condition: Reg, a: Reg, b: Reg) {
        let truth = self.ranges[condition as usize];
        let either = self.adjoint.hull(Interval::ZERO);
        if truth == Interval::ZERO {
            self.add(condition, Interval::ZERO);
            self.add(b, self.adjoint);
        } else if !truth.has_zero() {
            self.add(condition, Interval::ZERO);
            self.add(a, self.adjoint);
        } else {
            self.add(condition, Interval::ALL);
            self.add(a, either);
            self.add(b, either);
        }
    }

    fn outside(self, _: Outside) {}
}
