//! Expressions put together by hand, for tests of how they are set.

use std::ops::{Add, Div, Mul, Neg, Sub};

use benchleaf_core::{
    lang::ast::{Argument, BinaryOp, Expr, Node, Notation, Quantity, UnaryOp},
    span::{Span, Spanned},
};

/// An expression that takes Rust's operators.
#[derive(Clone)]
pub(crate) struct E(pub(crate) Expr);

impl E {
    pub(crate) fn op(op: BinaryOp, left: E, right: E) -> E {
        E::of(Node::Binary(op, Box::new(left.0), Box::new(right.0)))
    }

    fn of(node: Node) -> E {
        E(Expr { node, span: Span::default() })
    }
}

pub(crate) fn spanned<T>(item: T) -> Spanned<T> {
    Spanned { item, span: Span::default() }
}

pub(crate) fn name(text: &str) -> E {
    E::of(match text.split_once('.') {
        Some((record, field)) => Node::Field(spanned(record.to_owned()), spanned(field.to_owned())),
        None => Node::Name(text.to_owned()),
    })
}

pub(crate) fn literal(digits: &str, unit: &str) -> Quantity {
    Quantity {
        number: digits.parse().unwrap_or(f64::NAN),
        digits: digits.to_owned(),
        unit: (!unit.is_empty()).then(|| spanned(unit.to_owned())),
        notation: Notation::Plain,
        code_tolerance: None,
        span: Span::default(),
    }
}

pub(crate) fn quantity(digits: &str, unit: &str) -> E {
    E::of(Node::Quantity(literal(digits, unit)))
}

pub(crate) fn call(function: &str, arguments: impl IntoIterator<Item = E>) -> E {
    let arguments = arguments.into_iter().map(|value| Argument { name: None, value: value.0 }).collect();
    E::of(Node::Call(spanned(function.to_owned()), arguments))
}

pub(crate) fn model<'a>(function: &str, arguments: impl IntoIterator<Item = (&'a str, E)>) -> E {
    let arguments = arguments
        .into_iter()
        .map(|(name, value)| Argument { name: Some(spanned(name.to_owned())), value: value.0 })
        .collect();
    E::of(Node::Call(spanned(function.to_owned()), arguments))
}

pub(crate) fn when(condition: E, then: E, otherwise: E) -> E {
    E::of(Node::If(Box::new(condition.0), Box::new(then.0), Box::new(otherwise.0)))
}

macro_rules! operators {
    ($($trait:ident :: $method:ident = $op:ident),+) => {
        $(impl $trait for E {
            type Output = E;
            fn $method(self, other: E) -> E {
                E::op(BinaryOp::$op, self, other)
            }
        })+
    };
}

operators!(Add::add = Add, Sub::sub = Subtract, Mul::mul = Multiply, Div::div = Divide);

impl Neg for E {
    type Output = E;
    fn neg(self) -> E {
        E::of(Node::Unary(UnaryOp::Negate, Box::new(self.0)))
    }
}
