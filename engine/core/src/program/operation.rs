//! The arithmetic of steps, stated once. Each operation says its value and its slopes on any kind of number (plain ones,
//! [`Interval`](super::interval::Interval)s) and where on a range it has no value or no bound. [`operate`] leads from a
//! [`Step`] to its operation; a [`Visitor`] says what is done with it: once, over a column, with slopes. A step without
//! an operation, or an operation without a slope, does not compile.

use super::{Comparison, Interval, Number, Program, Reg, Step, Table, Unary};

/// What is done with the operation of a step.
pub(crate) trait Visitor {
    /// What comes out.
    type Output;
    /// An operation on one register.
    fn one(self, operation: impl OneArgument, a: Reg) -> Self::Output;
    /// An operation on two.
    fn two(self, operation: impl TwoArguments, a: Reg, b: Reg) -> Self::Output;
    /// The second where the first is true (not 0), else the third.
    fn select(self, condition: Reg, a: Reg, b: Reg) -> Self::Output;
    /// What no arithmetic gives.
    fn outside(self, outside: Outside) -> Self::Output;
}

/// A step that is no arithmetic.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Outside {
    Constant(f64),
    Source(u32),
    /// A decision, a call, or what a call gives.
    Run,
}

/// Leads a visitor to the operation of a step.
#[inline]
pub(crate) fn operate<V: Visitor>(program: &Program, step: Step, visitor: V) -> V::Output {
    match step {
        Step::Constant(value) => visitor.outside(Outside::Constant(value)),
        Step::Source(source) => visitor.outside(Outside::Source(source)),
        Step::Negate(a) => visitor.one(Negate, a),
        Step::Add(a, b) => visitor.two(Add, a, b),
        Step::Subtract(a, b) => visitor.two(Subtract, a, b),
        Step::Multiply(a, b) => visitor.two(Multiply, a, b),
        Step::Divide(a, b) => visitor.two(Divide, a, b),
        Step::Parallel(a, b) => visitor.two(Parallel, a, b),
        Step::Power(a, b) => visitor.two(Power, a, b),
        Step::WholePower(a, exponent) => visitor.one(WholePower(exponent), a),
        Step::Minimum(a, b) => visitor.two(Minimum, a, b),
        Step::Maximum(a, b) => visitor.two(Maximum, a, b),
        Step::ArcTangent2(a, b) => visitor.two(ArcTangent2, a, b),
        Step::Apply(function, a) => match function {
            Unary::Abs => visitor.one(Abs, a),
            Unary::Sqrt => visitor.one(Sqrt, a),
            Unary::Exp => visitor.one(Exp, a),
            Unary::Ln => visitor.one(Ln, a),
            Unary::Log10 => visitor.one(Log10, a),
            Unary::Sin => visitor.one(Sin, a),
            Unary::Cos => visitor.one(Cos, a),
            Unary::Tan => visitor.one(Tan, a),
            Unary::Asin => visitor.one(Asin, a),
            Unary::Acos => visitor.one(Acos, a),
            Unary::Atan => visitor.one(Atan, a),
            Unary::Floor => visitor.one(Floor, a),
            Unary::Ceil => visitor.one(Ceil, a),
            Unary::Round => visitor.one(Round, a),
        },
        Step::Compare(comparison, a, b) => match comparison {
            Comparison::Less => visitor.two(Less, a, b),
            Comparison::LessOrEqual => visitor.two(LessOrEqual, a, b),
            Comparison::Equal => visitor.two(Equal, a, b),
        },
        Step::And(a, b) => visitor.two(And, a, b),
        Step::Or(a, b) => visitor.two(Or, a, b),
        Step::Not(a) => visitor.one(Not, a),
        Step::Select(condition, a, b) => visitor.select(condition, a, b),
        Step::Interpolate(table, a) => visitor.one(Interpolate(&program.tables[table as usize]), a),
        Step::Preferred(..) | Step::Sought(..) | Step::Call(_) | Step::Output(..) => visitor.outside(Outside::Run),
    }
}

/// An operation on one number.
pub(crate) trait OneArgument {
    fn value<N: Number>(&self, a: N) -> N;
    /// The slope, where the value is known.
    fn slope<N: Number>(&self, a: N, value: N) -> N;
    /// Where on a range it has a value.
    fn domain(&self, a: Interval) -> Domain;
}

/// An operation on two numbers.
pub(crate) trait TwoArguments {
    fn value<N: Number>(&self, a: N, b: N) -> N;
    /// The slopes in both, where the value is known.
    fn slopes<N: Number>(&self, a: N, b: N, value: N) -> Slopes<N>;
    /// Where on two ranges it has a value.
    fn domain(&self, a: Interval, b: Interval) -> Domain;
}

/// The slopes of an operation on two numbers.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Slopes<N> {
    Each(N, N),
    /// It is one of the two, with its slope.
    OneOf(Which),
}

/// Which of two numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Which {
    First,
    Second,
    /// Not the same one all over a range.
    Either,
}

/// Where on a range an operation has a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Domain {
    /// All over.
    Whole,
    /// On a part of it, where it stays within bounds.
    Part,
    /// Not at a place inside it, near which it grows without end.
    Pole,
    /// Nowhere.
    Nowhere,
}

macro_rules! one_argument {
    ($($Name:ident: |$a:ident| $value:expr, slope |$x:pat_param, $y:pat_param| $slope:expr, domain |$range:pat_param| $domain:expr;)+) => {
        $(
            #[derive(Clone, Copy)]
            struct $Name;

            impl OneArgument for $Name {
                #[inline]
                fn value<N: Number>(&self, $a: N) -> N {
                    $value
                }

                #[inline]
                fn slope<N: Number>(&self, $x: N, $y: N) -> N {
                    $slope
                }

                #[inline]
                fn domain(&self, $range: Interval) -> Domain {
                    $domain
                }
            }
        )+
    };
}

one_argument! {
    Negate: |a| a.negated(), slope |_, _| N::of(-1.0), domain |_| Domain::Whole;
    Not: |a| a.not(), slope |_, y| N::slope_of_jump(y), domain |_| Domain::Whole;
    Abs: |a| a.absolute(), slope |x, _| x.sign_as_slope(), domain |_| Domain::Whole;
    Sqrt: |a| a.root(), slope |_, y| N::of(0.5).over(y), domain |a| from_zero(a, a.low < 0.0, Domain::Part);
    Exp: |a| a.exponential(), slope |_, y| y, domain |_| Domain::Whole;
    Ln: |a| a.logarithm(), slope |x, _| x.reciprocal(), domain |a| from_zero(a, a.low <= 0.0, Domain::Pole);
    Log10: |a| a.decimal_logarithm(),
        slope |x, _| N::of(1.0).over(x.times(N::of(std::f64::consts::LN_10))),
        domain |a| from_zero(a, a.low <= 0.0, Domain::Pole);
    Sin: |a| a.sine(), slope |x, _| x.cosine(), domain |_| Domain::Whole;
    Cos: |a| a.cosine(), slope |x, _| x.sine().negated(), domain |_| Domain::Whole;
    Tan: |a| a.tangent(),
        slope |_, y| N::of(1.0).plus(y.square()),
        domain |a| if a.keeps_to_one_branch() { Domain::Whole } else { Domain::Pole };
    Asin: |a| a.arc_sine(), slope |x, _| below_one(x).reciprocal(), domain |a| up_to_one(a);
    Acos: |a| a.arc_cosine(), slope |x, _| below_one(x).reciprocal().negated(), domain |a| up_to_one(a);
    Atan: |a| a.arc_tangent(),
        slope |x, _| N::of(1.0).over(N::of(1.0).plus(x.square())),
        domain |_| Domain::Whole;
    Floor: |a| a.floor(), slope |_, y| N::slope_of_stairs(y), domain |_| Domain::Whole;
    Ceil: |a| a.ceiling(), slope |_, y| N::slope_of_stairs(y), domain |_| Domain::Whole;
    Round: |a| a.rounded(), slope |_, y| N::slope_of_stairs(y), domain |_| Domain::Whole;
}

fn from_zero(a: Interval, partly: bool, otherwise: Domain) -> Domain {
    if a.high < 0.0 {
        Domain::Nowhere
    } else if partly {
        otherwise
    } else {
        Domain::Whole
    }
}

fn up_to_one(a: Interval) -> Domain {
    if a.high < -1.0 || a.low > 1.0 {
        Domain::Nowhere
    } else if a.low < -1.0 || a.high > 1.0 {
        Domain::Part
    } else {
        Domain::Whole
    }
}

/// The root of 1 - x².
fn below_one<N: Number>(x: N) -> N {
    N::of(1.0).minus(x.square()).root()
}

/// A power with a whole exponent.
#[derive(Clone, Copy)]
struct WholePower(i32);

impl OneArgument for WholePower {
    #[inline]
    fn value<N: Number>(&self, a: N) -> N {
        a.whole_power(self.0)
    }

    fn slope<N: Number>(&self, a: N, _: N) -> N {
        if self.0 == 0 { N::of(0.0) } else { N::of(f64::from(self.0)).times(a.whole_power(self.0 - 1)) }
    }

    fn domain(&self, a: Interval) -> Domain {
        if self.0 < 0 && a.has_zero() { Domain::Pole } else { Domain::Whole }
    }
}

/// Linear interpolation in a table.
#[derive(Clone, Copy)]
struct Interpolate<'t>(&'t Table);

impl OneArgument for Interpolate<'_> {
    #[inline]
    fn value<N: Number>(&self, a: N) -> N {
        a.interpolated(self.0)
    }

    fn slope<N: Number>(&self, a: N, _: N) -> N {
        a.slope_in(self.0)
    }

    fn domain(&self, a: Interval) -> Domain {
        let (Some(first), Some(last)) = (self.0.x.first(), self.0.x.last()) else { return Domain::Nowhere };
        if a.high < *first || a.low > *last {
            Domain::Nowhere
        } else if a.low < *first || a.high > *last {
            Domain::Part
        } else {
            Domain::Whole
        }
    }
}

macro_rules! two_arguments {
    ($($Name:ident: |$a:ident, $b:ident| $value:expr, slopes |$x:pat_param, $y:pat_param, $z:pat_param| $slopes:expr, domain |$p:pat_param, $q:pat_param| $domain:expr;)+) => {
        $(
            #[derive(Clone, Copy)]
            struct $Name;

            impl TwoArguments for $Name {
                #[inline]
                fn value<N: Number>(&self, $a: N, $b: N) -> N {
                    $value
                }

                #[inline]
                fn slopes<N: Number>(&self, $x: N, $y: N, $z: N) -> Slopes<N> {
                    $slopes
                }

                #[inline]
                fn domain(&self, $p: Interval, $q: Interval) -> Domain {
                    $domain
                }
            }
        )+
    };
}

two_arguments! {
    Add: |a, b| a.plus(b), slopes |_, _, _| Slopes::Each(N::of(1.0), N::of(1.0)), domain |_, _| Domain::Whole;
    Subtract: |a, b| a.minus(b), slopes |_, _, _| Slopes::Each(N::of(1.0), N::of(-1.0)), domain |_, _| Domain::Whole;
    Multiply: |a, b| a.times(b), slopes |a, b, _| Slopes::Each(b, a), domain |_, _| Domain::Whole;
    Divide: |a, b| a.over(b),
        slopes |a, b, _| Slopes::Each(b.reciprocal(), a.over(b.square()).negated()),
        domain |_, b| if b.has_zero() { Domain::Pole } else { Domain::Whole };
    // d(ab/(a+b))/da = (b/(a+b))²: never negative, whatever the signs.
    Parallel: |a, b| a.parallel(b),
        slopes |a, b, _| {
            let sum = a.plus(b);
            Slopes::Each(b.over(sum).square(), a.over(sum).square())
        },
        // Two shorts in parallel are a short.
        domain |a, b| if (a.low >= 0.0 && b.low >= 0.0) || (a.high <= 0.0 && b.high <= 0.0) || !a.plus(b).has_zero() {
            Domain::Whole
        } else {
            Domain::Pole
        };
    Power: |a, b| a.power(b),
        slopes |a, b, value| {
            Slopes::Each(b.times(a.power(b.minus(N::of(1.0)))), value.times(a.logarithm()))
        },
        domain |a, b| if b.low < 0.0 && a.has_zero() {
            Domain::Pole
        } else if a.low >= 0.0 || (b.is_point() && b.low.fract() == 0.0) {
            Domain::Whole
        } else {
            Domain::Part
        };
    Minimum: |a, b| a.least(b), slopes |a, b, _| Slopes::OneOf(a.smaller_of(b)), domain |_, _| Domain::Whole;
    Maximum: |a, b| a.greatest(b),
        slopes |a, b, _| Slopes::OneOf(a.negated().smaller_of(b.negated())),
        domain |_, _| Domain::Whole;
    ArcTangent2: |a, b| a.arc_tangent2(b),
        slopes |a, b, value| {
            let square = a.square().plus(b.square());
            let jump = N::slope_across_cut(a, b, value);
            Slopes::Each(b.over(square).plus(jump), a.over(square).negated().plus(jump))
        },
        domain |_, _| Domain::Whole;
    Less: |a, b| a.less(b), slopes |_, _, y| jumps(y), domain |_, _| Domain::Whole;
    LessOrEqual: |a, b| a.less_or_equal(b), slopes |_, _, y| jumps(y), domain |_, _| Domain::Whole;
    Equal: |a, b| a.equal(b), slopes |_, _, y| jumps(y), domain |_, _| Domain::Whole;
    And: |a, b| a.and(b), slopes |_, _, y| jumps(y), domain |_, _| Domain::Whole;
    Or: |a, b| a.or(b), slopes |_, _, y| jumps(y), domain |_, _| Domain::Whole;
}

fn jumps<N: Number>(value: N) -> Slopes<N> {
    Slopes::Each(N::slope_of_jump(value), N::slope_of_jump(value))
}
