//! A learner's answer as typed: one quantity, as the language takes them, with the name or the sign that a learner may
//! put before it.

use benchleaf_words::{Phrase, phrase};

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
        return Err(unreadable(phrase!(ANSWER_READ_IT_IS_TOO_LONG), phrase!(ANSWER_READ_TYPE_A_NUMBER)));
    }
    if text.contains(['\n', '\r']) {
        return Err(unreadable(phrase!(ANSWER_READ_IT_HAS_SEVERAL_LINES), phrase!(ANSWER_READ_TYPE_A_NUMBER)));
    }
    let (value, tolerance) = parse_literal(text).map_err(|problem| misread(text, problem))?;
    if tolerance.is_some() {
        return Err(unreadable(phrase!(ANSWER_READ_IT_HAS_A_TOLERANCE), phrase!(ANSWER_READ_LEAVE_THAT_OUT)));
    }
    let Some((quantity, negative)) = literal(&value) else {
        return Err(unreadable(phrase!(ANSWER_READ_IT_IS_NO_NUMBER), phrase!(SHARED_WORK_IT_OUT_AND_TYPE)));
    };
    let unit = check::unit_of(quantity).map_err(|problem| misread(text, problem))?;
    let si = unit.to_si(if negative { -quantity.number } else { quantity.number });
    if !si.is_finite() {
        return Err(unreadable(phrase!(SHARED_THE_NUMBER_IS_TOO_LARGE), phrase!(ANSWER_READ_CHECK_ITS_EXPONENT)));
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
    // What is said of the grammar is for those who write worksheets.
    if matches!(problem.code, Code::Syntax | Code::ImpliedProduct | Code::Character | Code::Unclosed)
        && !text.is_empty()
    {
        return unreadable(phrase!(ANSWER_READ_IT_IS_NO_NUMBER), phrase!(ANSWER_READ_TYPE_A_NUMBER_SUCH_AS));
    }
    Feedback::Unreadable { why: problem.message, help: problem.help }
}

/// Whether three figures stand behind the comma, which may part thousands.
fn groups_thousands(text: &str) -> bool {
    let behind = text.split(',').nth(1).unwrap_or("");
    behind.chars().take_while(char::is_ascii_digit).count() == 3
}

fn unreadable(why: Phrase, help: Phrase) -> Feedback {
    Feedback::Unreadable { why, help: Some(help) }
}

/// Characters of an answer that is still read.
const LONGEST: usize = 200;
