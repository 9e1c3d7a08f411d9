//! A step over columns, of one number or of many: what runs a program once runs it for all builds of a block.

use super::{OneArgument, Outside, Reg, TwoArguments, Visitor};

/// The columns that a step reads and the one that it writes; no step reads the column that it writes.
pub(crate) struct Columnwise<'a, const N: usize> {
    /// The columns before the one that is written, and those after it.
    before: &'a [[f64; N]],
    after: &'a [[f64; N]],
    out: &'a mut [f64],
}

impl<'a, const N: usize> Columnwise<'a, N> {
    /// For the step that writes the first `count` numbers of a column; `None` where there is no such column.
    #[inline]
    pub(crate) fn new(values: &'a mut [[f64; N]], column: usize, count: usize) -> Option<Self> {
        let (before, rest) = values.split_at_mut_checked(column)?;
        let (out, after) = rest.split_first_mut()?;
        Some(Self { before, after, out: &mut out[..count] })
    }

    #[inline]
    fn of(&self, column: Reg) -> &'a [f64] {
        let column = column as usize;
        let values =
            if column < self.before.len() { &self.before[column] } else { &self.after[column - self.before.len() - 1] };
        &values[..self.out.len()]
    }
}

impl<const N: usize> Visitor for Columnwise<'_, N> {
    type Output = ();

    #[inline]
    fn one(self, operation: impl OneArgument, a: Reg) {
        let a = self.of(a);
        for (o, x) in self.out.iter_mut().zip(a) {
            *o = operation.value(*x);
        }
    }

    #[inline]
    fn two(self, operation: impl TwoArguments, a: Reg, b: Reg) {
        let (a, b) = (self.of(a), self.of(b));
        for ((o, x), y) in self.out.iter_mut().zip(a).zip(b) {
            *o = operation.value(*x, *y);
        }
    }

    #[inline]
    fn select(self, condition: Reg, a: Reg, b: Reg) {
        let (condition, a, b) = (self.of(condition), self.of(a), self.of(b));
        for (((o, c), x), y) in self.out.iter_mut().zip(condition).zip(a).zip(b) {
            *o = if *c == 0.0 { *y } else { *x };
        }
    }

    // What comes from outside is written by the caller.
    fn outside(self, _: Outside) {}
}
