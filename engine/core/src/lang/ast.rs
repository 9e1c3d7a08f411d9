//! What a calculation says, as read: statements, expressions and tolerances with their places. Nothing here has been
//! checked; names may not exist and units may not fit.

use crate::span::{Span, Spanned};

/// An expression and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Expr {
    /// What it is.
    pub node: Node,
    /// Where it stands.
    pub span: Span,
}

impl Expr {
    /// Calls `visit` with every name that it reads; of a field, its record.
    pub fn names<'e>(&'e self, visit: &mut dyn FnMut(&'e str)) {
        self.leaves(&mut |leaf| match &leaf.node {
            Node::Name(name) => visit(name),
            Node::Field(record, _) => visit(&record.item),
            _ => {}
        });
    }

    /// Calls `visit` with the name of every part of a circuit that it asks about.
    pub fn pins<'e>(&'e self, visit: &mut dyn FnMut(&'e str)) {
        self.leaves(&mut |leaf| {
            if let Node::Pin(part, _) = &leaf.node {
                visit(&part.item);
            }
        });
    }

    /// The quantity, where it is one as written, and whether a minus stands before it.
    pub fn literal(&self) -> Option<(&Quantity, bool)> {
        match &self.node {
            Node::Quantity(quantity) => Some((quantity, false)),
            Node::Unary(UnaryOp::Negate, inner) => match &inner.node {
                Node::Quantity(quantity) => Some((quantity, true)),
                _ => None,
            },
            _ => None,
        }
    }

    /// Every name, field and number in the expression, in reading order.
    pub fn leaves<'e>(&'e self, visit: &mut dyn FnMut(&'e Self)) {
        match &self.node {
            Node::Name(_) | Node::Field(..) | Node::Quantity(_) | Node::Pin(..) => visit(self),
            Node::Unary(_, inner) => inner.leaves(visit),
            Node::Binary(_, left, right) => [left, right].into_iter().for_each(|part| part.leaves(visit)),
            Node::Call(_, arguments) => arguments.iter().for_each(|argument| argument.value.leaves(visit)),
            Node::If(condition, yes, no) => [condition, yes, no].into_iter().for_each(|part| part.leaves(visit)),
        }
    }
}

/// The forms of an expression.
#[derive(Clone, Debug, PartialEq)]
pub enum Node {
    /// A number, with or without a unit: `3`, `910 kΩ`, `4k7`.
    Quantity(Quantity),
    /// A value's name, a constant, or a word such as `E24`.
    Name(String),
    /// A field of a record: `reg.junction`.
    Field(Spanned<String>, Spanned<String>),
    /// `-x`, `not x`.
    Unary(UnaryOp, Box<Expr>),
    /// `a + b` and its like.
    Binary(BinaryOp, Box<Expr>, Box<Expr>),
    /// A function or handbook model, with arguments.
    Call(Spanned<String>, Vec<Argument>),
    /// `if … then … else …`.
    If(Box<Expr>, Box<Expr>, Box<Expr>),
    /// A part of a circuit, or one of its pins: `@Q1`, `@Q1.base`.
    Pin(Spanned<String>, Option<Spanned<String>>),
}

/// An argument, with its name where one is given.
#[derive(Clone, Debug, PartialEq)]
pub struct Argument {
    /// The name before `=`.
    pub name: Option<Spanned<String>>,
    /// The value.
    pub value: Expr,
}

/// A literal quantity as written.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantity {
    /// The number, read.
    pub number: f64,
    /// The number as it was written, prefix letters of a part code left out.
    pub digits: String,
    /// The unit as it was written; for a part code, the unit that the code stands for.
    pub unit: Option<Spanned<String>>,
    /// Whether it was written as an IEC 60062 code.
    pub notation: Notation,
    /// Tolerance letter of a part code (`4k7J`), as a fraction.
    pub code_tolerance: Option<f64>,
    /// Where it stands.
    pub span: Span,
}

/// How a literal was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Notation {
    /// `4.7 kΩ`.
    Plain,
    /// `4k7` (IEC 60062).
    PartCode,
}

/// Operators with one operand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnaryOp {
    /// `-`
    Negate,
    /// `not`
    Not,
}

/// Operators with two operands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum BinaryOp {
    Or,
    And,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
    Equal,
    NotEqual,
    Add,
    Subtract,
    /// Values in parallel: `a ∥ b`.
    Parallel,
    Multiply,
    Divide,
    Power,
}

impl BinaryOp {
    /// Every operator with its spellings (the first is printed) and how tightly it binds.
    pub const TABLE: &'static [(BinaryOp, &'static [&'static str], u8)] = &[
        (BinaryOp::Or, &["or"], 1),
        (BinaryOp::And, &["and"], 2),
        (BinaryOp::Less, &["<"], 3),
        (BinaryOp::LessOrEqual, &["<=", "≤"], 3),
        (BinaryOp::Greater, &[">"], 3),
        (BinaryOp::GreaterOrEqual, &[">=", "≥"], 3),
        (BinaryOp::Equal, &["=="], 3),
        (BinaryOp::NotEqual, &["!=", "≠"], 3),
        (BinaryOp::Add, &["+"], 4),
        (BinaryOp::Subtract, &["-", "−"], 4),
        (BinaryOp::Multiply, &["*", "·", "×"], 5),
        (BinaryOp::Divide, &["/"], 5),
        (BinaryOp::Parallel, &["∥", "||"], 6),
        (BinaryOp::Power, &["^"], 8),
    ];

    /// The operator as printed.
    pub fn symbol(self) -> &'static str {
        Self::TABLE.iter().find(|row| row.0 == self).map_or("", |row| row.1[0])
    }

    /// How tightly it binds; more is tighter.
    pub fn binding(self) -> u8 {
        Self::TABLE.iter().find(|row| row.0 == self).map_or(0, |row| row.2)
    }

    /// Whether it compares.
    pub fn compares(self) -> bool {
        self.binding() == 3
    }
}

/// A tolerance as written after a definition.
#[derive(Clone, Debug, PartialEq)]
pub struct Tolerance {
    /// The bounds.
    pub bounds: Bounds,
    /// The distribution between them.
    pub distribution: Distribution,
    /// Degrees of freedom behind a standard deviation that was itself estimated: `normal(2) dof(18)`.
    pub degrees: Option<f64>,
    /// Where it stands.
    pub span: Span,
}

/// The forms a tolerance is written in.
#[derive(Clone, Debug, PartialEq)]
pub enum Bounds {
    /// `± 5 %`, `± 2 mV`.
    Symmetric(Quantity),
    /// `-20 % +50 %`; the quantities are the absolute values.
    Asymmetric {
        /// How far below.
        below: Quantity,
        /// How far above.
        above: Quantity,
    },
    /// `min … typ … max …`; at least two are there.
    MinTypMax {
        /// Least value.
        min: Option<Quantity>,
        /// Typical value; the middle of the others where absent.
        typ: Option<Quantity>,
        /// Greatest value.
        max: Option<Quantity>,
    },
}

/// How a value is spread between its bounds (terms of JCGM 100).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distribution {
    /// Equally likely all over.
    Rectangular,
    /// Most likely in the middle.
    Triangular,
    /// Most likely at the bounds (a sine's values).
    Arcsine,
    /// The bounds are this many standard deviations away.
    Normal(f64),
}

/// One statement of a `calc` block.
#[derive(Clone, Debug, PartialEq)]
pub struct Statement {
    /// Its number in the worksheet, in reading order.
    pub id: StatementId,
    /// What it states.
    pub body: StatementBody,
    /// The quoted text at its end.
    pub label: Option<String>,
    /// Where it stands, without line end and comment.
    pub span: Span,
}

/// A statement's number in its worksheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct StatementId(pub u32);

/// The forms of a statement.
#[derive(Clone, Debug, PartialEq)]
pub enum StatementBody {
    /// `name [unit] = value ± tolerance`.
    Definition(Definition),
    /// `f(a, b) [unit] = …`.
    Function(Box<Function>),
    /// `keep X below Y`.
    Keep(Box<Keep>),
    /// `correlation(a, b) = r`.
    Correlation(Correlation),
    /// `solve R_t so that t_on = 5 s from 15 kΩ to 250 kΩ`.
    Solve(Box<Solve>),
    /// `choose E24 for R_a, R_b so that f is 1 kHz`.
    Choose(Box<Choose>),
    /// `use "timing.md": t_on, R_t`.
    Use(Box<Use>),
    /// A line that could not be read; its problem is reported.
    Unreadable,
}

impl StatementBody {
    /// The formulas of a value or of a requirement; none for any other statement.
    pub fn formulas(&self) -> Vec<&Expr> {
        match self {
            StatementBody::Definition(definition) => vec![&definition.value],
            StatementBody::Keep(keep) => {
                let bounds = match &keep.bound {
                    KeepBound::Below(bound) | KeepBound::Above(bound) => vec![bound],
                    KeepBound::Between(low, high) => vec![low, high],
                    KeepBound::Rating { at, .. } => vec![at],
                    KeepBound::Agree { with, .. } => vec![with],
                    KeepBound::True => Vec::new(),
                };
                std::iter::once(&keep.subject).chain(bounds).collect()
            }
            _ => Vec::new(),
        }
    }

    /// The name that it defines, if it defines one.
    pub fn defines(&self) -> Option<String> {
        match self {
            StatementBody::Definition(definition) => Some(definition.name.item.clone()),
            StatementBody::Function(function) => Some(function.name.item.clone()),
            StatementBody::Solve(solve) => Some(solve.result_name().item),
            StatementBody::Choose(choose) => choose.name.as_ref().map(|name| name.item.clone()),
            _ => None,
        }
    }
}

/// Values of another worksheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Use {
    /// The worksheet, by its path from the one that uses it.
    pub path: Spanned<String>,
    /// The values that are taken from it.
    pub values: Vec<UsedValue>,
}

/// A value of another worksheet.
#[derive(Clone, Debug, PartialEq)]
pub struct UsedValue {
    /// Its name there; of a field, its record's.
    pub name: Spanned<String>,
    /// The field of a record.
    pub field: Option<Spanned<String>>,
    /// Its name here.
    pub here: Spanned<String>,
}

impl UsedValue {
    /// Where it stands, its name here included.
    pub fn span(&self) -> Span {
        self.name.span.to(self.here.span)
    }

    /// Its name there as written: `t_on`, `reg.junction`.
    pub fn there(&self) -> String {
        match &self.field {
            Some(field) => format!("{}.{}", self.name.item, field.item),
            None => self.name.item.clone(),
        }
    }
}

/// A named value.
#[derive(Clone, Debug, PartialEq)]
pub struct Definition {
    /// Its name.
    pub name: Spanned<String>,
    /// The declared unit, as written between brackets.
    pub unit: Option<Spanned<String>>,
    /// What it is. For `min … typ … max …` the typical value, or the middle.
    pub value: Expr,
    /// Its tolerance.
    pub tolerance: Option<Box<Tolerance>>,
}

impl Definition {
    /// Whether its right side is a literal quantity, which a reader may change.
    pub fn is_given(&self) -> bool {
        self.literal().is_some()
    }

    /// A given's value without its tolerance, as it stands in `text`; nothing where only the ends are written.
    pub fn written<'t>(&self, text: &'t str) -> Option<&'t str> {
        match self.bounds() {
            Some(Bounds::MinTypMax { typ: None, .. }) => None,
            _ => Some(self.value.span.text(text)),
        }
    }

    /// The ends that its author wrote as quantities of their own (`min`, `max`).
    pub fn ends(&self) -> Option<(Option<&Quantity>, Option<&Quantity>)> {
        match self.bounds()? {
            Bounds::MinTypMax { min, max, .. } => Some((min.as_ref(), max.as_ref())),
            _ => None,
        }
    }

    /// The bounds of its tolerance.
    pub fn bounds(&self) -> Option<&Bounds> {
        self.tolerance.as_ref().map(|tolerance| &tolerance.bounds)
    }

    /// The literal on its right side with its sign: `true` where it is negated.
    pub fn literal(&self) -> Option<(&Quantity, bool)> {
        self.value.literal()
    }
}

/// A function of the worksheet's own.
#[derive(Clone, Debug, PartialEq)]
pub struct Function {
    /// Its name.
    pub name: Spanned<String>,
    /// Its parameters.
    pub parameters: Vec<Spanned<String>>,
    /// The declared unit of its result.
    pub unit: Option<Spanned<String>>,
    /// Its formula.
    pub value: Expr,
}

/// A requirement.
#[derive(Clone, Debug, PartialEq)]
pub struct Keep {
    /// What is kept.
    pub subject: Expr,
    /// Within what.
    pub bound: KeepBound,
}

/// The bound of a requirement.
#[derive(Clone, Debug, PartialEq)]
pub enum KeepBound {
    /// `below Y`: at most Y.
    Below(Expr),
    /// `above Y`: at least Y.
    Above(Expr),
    /// `between Y and Z`.
    Between(Expr, Expr),
    /// `within rating at X, 50 %`: what is kept is a part, and X at most that much of its rating.
    Rating {
        /// What the part is put to.
        at: Expr,
        /// The part of the rating that may be used; all of it where absent.
        derating: Option<Quantity>,
    },
    /// `agree X with Y within 1 %`: another way to the same quantity comes to the same.
    Agree {
        /// What it is held against.
        with: Expr,
        /// How far off it may be, as a part of that.
        within: Quantity,
    },
    /// Nothing: what is kept is a condition, and must be true.
    True,
}

/// A correlation between two givens.
#[derive(Clone, Debug, PartialEq)]
pub struct Correlation {
    /// One given.
    pub first: Spanned<String>,
    /// The other.
    pub second: Spanned<String>,
    /// The coefficient, -1 to 1.
    pub coefficient: Expr,
}

/// A given sought so that two values come out alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Solve {
    /// The name of the result; the given's with `_solved` behind where absent.
    pub name: Option<Spanned<String>>,
    /// The declared unit of the result.
    pub unit: Option<Spanned<String>>,
    /// What is sought.
    pub given: Spanned<String>,
    /// One side.
    pub left: Expr,
    /// The other.
    pub right: Expr,
    /// Where to look.
    pub from: Expr,
    /// Up to where.
    pub to: Expr,
}

/// Preferred values sought for several givens, so that a value comes near another.
#[derive(Clone, Debug, PartialEq)]
pub struct Choose {
    /// The name of the record that holds the best choice.
    pub name: Option<Spanned<String>>,
    /// The series.
    pub series: Spanned<String>,
    /// The givens that are chosen.
    pub givens: Vec<Spanned<String>>,
    /// What is to come near.
    pub subject: Expr,
    /// To what.
    pub target: Expr,
    /// Where to look; a decade to each side of the present values where absent.
    pub span: Option<(Expr, Expr)>,
}

impl Solve {
    /// The name of the result.
    pub fn result_name(&self) -> Spanned<String> {
        let behind = || Spanned { item: format!("{}_solved", self.given.item), span: self.given.span };
        self.name.clone().unwrap_or_else(behind)
    }
}
