//! The functions that a worksheet may call, in one table: name, arguments, and what it does with units.

use crate::{preferred::Direction, program::Unary};

/// A function of the language.
#[derive(Debug)]
pub struct Builtin {
    /// Its name.
    pub name: &'static str,
    /// Its arguments, as the guide and messages show them.
    pub arguments: &'static str,
    /// What it gives, in a sentence.
    pub summary: &'static str,
    /// What it does.
    pub(crate) work: Work,
}

/// What a function does, by what it asks of its arguments' units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Work {
    /// One plain number to a plain number.
    Plain(Unary),
    /// A plain number to an angle.
    ToAngle(Unary),
    /// Keeps its argument's unit.
    Keep(Unary),
    SquareRoot,
    ArcTangent2,
    Least,
    Greatest,
    Sum,
    Mean,
    Parallel,
    Series,
    Clamp,
    Interpolate,
    Preferred(Direction),
    /// A number of builds to what their parts cost.
    Cost,
}

/// Every function, in the order of the guide.
pub const BUILTINS: &[Builtin] = &[
    f("abs", "x", "the value without its sign", Work::Keep(Unary::Abs)),
    f("sqrt", "x", "the square root; units too", Work::SquareRoot),
    f("exp", "x", "e to the power of a plain number", Work::Plain(Unary::Exp)),
    f("ln", "x", "the natural logarithm of a plain number", Work::Plain(Unary::Ln)),
    f("log10", "x", "the decimal logarithm of a plain number", Work::Plain(Unary::Log10)),
    f("sin", "angle", "the sine", Work::Plain(Unary::Sin)),
    f("cos", "angle", "the cosine", Work::Plain(Unary::Cos)),
    f("tan", "angle", "the tangent", Work::Plain(Unary::Tan)),
    f("asin", "x", "the angle of a sine", Work::ToAngle(Unary::Asin)),
    f("acos", "x", "the angle of a cosine", Work::ToAngle(Unary::Acos)),
    f("atan", "x", "the angle of a tangent", Work::ToAngle(Unary::Atan)),
    f("atan2", "y, x", "the angle of a point, in the right quadrant", Work::ArcTangent2),
    f("min", "a, b, …", "the least of several", Work::Least),
    f("max", "a, b, …", "the greatest of several", Work::Greatest),
    f("floor", "x", "the whole number at or below", Work::Plain(Unary::Floor)),
    f("ceil", "x", "the whole number at or above", Work::Plain(Unary::Ceil)),
    f("round", "x", "the nearest whole number, halves away from zero", Work::Plain(Unary::Round)),
    f("clamp", "x, low, high", "the value, held between two others", Work::Clamp),
    f("cost", "n", "what the parts of the worksheet cost for n builds", Work::Cost),
    f("sum", "a, b, …", "the sum of several", Work::Sum),
    f("mean", "a, b, …", "the mean of several", Work::Mean),
    f(
        "parallel",
        "a, b, …",
        "parts in parallel: capacitances and conductances add, others by reciprocals",
        Work::Parallel,
    ),
    f("series", "a, b, …", "parts in series: capacitances and conductances by reciprocals, others add", Work::Series),
    f(
        "interpolate",
        "x, x_1, y_1, x_2, y_2, …",
        "between the points of a table, along straight lines",
        Work::Interpolate,
    ),
    f(
        "preferred_nearest",
        "SERIES, x",
        "the preferred value (IEC 60063) nearest by ratio",
        Work::Preferred(Direction::Nearest),
    ),
    f(
        "preferred_below",
        "SERIES, x",
        "the greatest preferred value that is not above",
        Work::Preferred(Direction::Below),
    ),
    f("preferred_above", "SERIES, x", "the least preferred value that is not below", Work::Preferred(Direction::Above)),
];

const fn f(name: &'static str, arguments: &'static str, summary: &'static str, work: Work) -> Builtin {
    Builtin { name, arguments, summary, work }
}

/// A function by its name.
pub(crate) fn builtin(name: &str) -> Option<&'static Builtin> {
    BUILTINS.iter().find(|builtin| builtin.name == name)
}

/// A constant: name, value in SI base units, unit, meaning.
pub struct Constant {
    /// Its name.
    pub name: &'static str,
    /// Its value, SI.
    pub value: f64,
    /// A unit of its dimension; empty for a plain number.
    pub unit: &'static str,
    /// What it is, and its source.
    pub summary: &'static str,
}

/// The constants of the language. Those of the SI are exact by definition (SI brochure, 9th edition, table 1).
pub const CONSTANTS: &[Constant] = &[
    Constant { name: "π", value: std::f64::consts::PI, unit: "", summary: "circumference over diameter" },
    Constant { name: "pi", value: std::f64::consts::PI, unit: "", summary: "the same for keyboards without π" },
    Constant { name: "e", value: std::f64::consts::E, unit: "", summary: "base of the natural logarithm" },
    Constant { name: "c_0", value: 299_792_458.0, unit: "m/s", summary: "speed of light in vacuum (SI, exact)" },
    Constant { name: "h", value: 6.626_070_15e-34, unit: "J·s", summary: "Planck constant (SI, exact)" },
    Constant { name: "q_e", value: 1.602_176_634e-19, unit: "C", summary: "elementary charge (SI, exact)" },
    Constant { name: "k_B", value: 1.380_649e-23, unit: "J/K", summary: "Boltzmann constant (SI, exact)" },
    Constant { name: "N_A", value: 6.022_140_76e23, unit: "1/mol", summary: "Avogadro constant (SI, exact)" },
];
