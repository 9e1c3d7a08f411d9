//! A learner's answer as typed: one quantity, as the language takes them, with the name or the sign that a learner may
//! put before it.

use super::Feedback;
use crate::{
    check,
    lang::{
        ast::{Expr, Node, Quantity, UnaryOp},
        parse_literal,
    },
    problem::{Code, Problem},
    units::QuantityType,
};

/// An answer that reads as a quantity.
pub(super) struct Answer {
    pub(super) si: f64,
    pub(super) quantity: QuantityType,
    pub(super) has_unit: bool,
    pub(super) is_kelvin: bool,
}

/// Reads an answer.
pub(super) fn read(typed: &str) -> Result<Answer, Feedback> {
    let text = bare(typed);
    if text.chars().count() > LONGEST {
        return Err(unreadable("it is too long", "type a number and its unit"));
    }
    if text.contains(['\n', '\r']) {
        return Err(unreadable("it has several lines", "type a number and its unit"));
    }
    let (value, tolerance) = parse_literal(text).map_err(|problem| misread(text, problem))?;
    if tolerance.is_some() {
        return Err(unreadable("it has a tolerance", "leave that out"));
    }
    let Some((quantity, negative)) = literal(&value) else {
        return Err(unreadable("it is no number with its unit", "work it out and type the result"));
    };
    let unit = check::unit_of(quantity).map_err(|problem| misread(text, problem))?;
    let si = unit.to_si(if negative { -quantity.number } else { quantity.number });
    if !si.is_finite() {
        return Err(unreadable("the number is too large to be held", "check its exponent"));
    }
    let (has_unit, is_kelvin) = (quantity.unit.is_some(), unit.symbol == "K");
    Ok(Answer { si, quantity: unit.quantity, has_unit, is_kelvin })
}

/// The text without what a learner may put before it: `t_on =`, `=`, `≈`.
fn bare(typed: &str) -> &str {
    let text = typed.trim();
    let value = match text.split_once(['=', '≈']) {
        Some((name, value)) if name.trim().chars().all(|c| c.is_alphanumeric() || c == '_') => value.trim(),
        _ => text,
    };
    if value.is_empty() { text } else { value }
}

/// The literal with its sign.
fn literal(value: &Expr) -> Option<(&Quantity, bool)> {
    match &value.node {
        Node::Quantity(quantity) => Some((quantity, false)),
        Node::Unary(UnaryOp::Negate, inner) => match &inner.node {
            Node::Quantity(quantity) => Some((quantity, true)),
            _ => None,
        },
        _ => None,
    }
}

fn misread(text: &str, problem: Problem) -> Feedback {
    if problem.code == Code::DecimalComma {
        let plain = text.matches(',').count() == 1 && !text.contains('.') && !groups_thousands(text);
        return Feedback::DecimalComma { written: plain.then(|| text.replace(',', ".")) };
    }
    Feedback::Unreadable { why: problem.message, help: problem.help }
}

/// Whether three figures stand behind the comma, which may part thousands.
fn groups_thousands(text: &str) -> bool {
    let behind = text.split(',').nth(1).unwrap_or("");
    behind.chars().take_while(char::is_ascii_digit).count() == 3
}

fn unreadable(why: &str, help: &str) -> Feedback {
    Feedback::Unreadable { why: why.to_owned(), help: Some(help.to_owned()) }
}

/// Characters of an answer that is still read.
const LONGEST: usize = 200;
