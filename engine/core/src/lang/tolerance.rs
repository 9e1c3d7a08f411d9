//! Tolerances behind a value: `± 5 %`, `-20 % +50 %`, `min … typ … max …`, and the word for the distribution between the
//! bounds (terms of JCGM 100).

use benchleaf_words::{key, phrase};

use super::{
    ast::{BinaryOp, Bounds, Distribution, Expr, Node, Notation, Quantity, Tolerance, UnaryOp},
    expression::{Parser, Read},
    token::Item,
};
use crate::{
    problem::{Code, Problem},
    span::{Span, Spanned},
};

impl Parser {
    /// Whether `min`, `typ` or `max` and a value stand here.
    pub(crate) fn min_typ_max_ahead(&self) -> bool {
        ["min", "typ", "max"].iter().any(|word| self.is_word(word))
            && matches!(self.peek_at(1), Some(Item::Quantity(_) | Item::Operator(BinaryOp::Subtract)))
    }

    /// `min … typ … max …` with at least two of them: the value in the middle, and the tolerance.
    pub(crate) fn min_typ_max(&mut self) -> Read<(Expr, Tolerance)> {
        let start = self.here();
        let mut found: [Option<Expr>; 3] = [None, None, None];
        let mut span = start;
        while self.min_typ_max_ahead() {
            let at = ["min", "typ", "max"].iter().position(|word| self.is_word(word)).unwrap_or(0);
            let word = self.here();
            self.next();
            let value = self.signed_quantity()?;
            span = span.to(value.span);
            if found[at].replace(value).is_some() {
                return Err(Problem::new(Code::Tolerance, word, phrase!(LANG_TOLERANCE_THE_SAME_BOUND_IS_GIVEN)));
            }
        }
        let [min, typ, max] = found;
        if [&min, &typ, &max].iter().filter(|bound| bound.is_some()).count() < 2 {
            return Err(Problem::new(Code::Tolerance, span, phrase!(LANG_TOLERANCE_ONE_BOUND_ALONE_DOES_NOT))
                .help(phrase!(LANG_TOLERANCE_GIVE_TWO_OR_THREE)));
        }
        let quantity = |expr: &Option<Expr>| expr.as_ref().and_then(signed);
        let value = match (typ.as_ref(), quantity(&min), quantity(&max)) {
            (Some(typ), ..) => typ.clone(),
            (None, Some(low), Some(high)) => middle(&low, &high, span),
            _ => return Err(Problem::new(Code::Tolerance, span, phrase!(LANG_TOLERANCE_GIVE_TWO_OR_THREE))),
        };
        let bounds = Bounds::MinTypMax { min: quantity(&min), typ: quantity(&typ), max: quantity(&max) };
        let (distribution, degrees) = self.distribution()?;
        Ok((value, Tolerance { bounds, distribution, degrees, span: span.to(self.behind()) }))
    }

    /// A tolerance behind a value, if one stands here.
    pub(crate) fn tolerance(&mut self) -> Read<Option<Tolerance>> {
        let start = self.here();
        if self.take(&Item::PlusMinus).is_some() {
            if self.peek() == Some(&Item::Operator(BinaryOp::Subtract)) {
                return Err(Problem::new(
                    Code::Tolerance,
                    self.here(),
                    phrase!(LANG_TOLERANCE_A_TOLERANCE_IS_NEVER_NEGATIVE),
                )
                .help(phrase!(LANG_TOLERANCE_GOES_BOTH_WAYS_ALREADY)));
            }
            let Some(Item::Quantity(quantity)) = self.peek().cloned() else {
                return Err(self.unexpected(phrase!(LANG_TOLERANCE_THE_TOLERANCE_SUCH_AS)));
            };
            self.next();
            let span = start.to(quantity.span);
            let (distribution, degrees) = self.distribution()?;
            let span = span.to(self.behind());
            return Ok(Some(Tolerance { bounds: Bounds::Symmetric(quantity), distribution, degrees, span }));
        }
        let Some((below, above)) = self.asymmetric_ahead() else { return Ok(None) };
        for _ in 0..4 {
            self.next();
        }
        let span = start.to(below.span).to(above.span);
        let (distribution, degrees) = self.distribution()?;
        let span = span.to(self.behind());
        Ok(Some(Tolerance { bounds: Bounds::Asymmetric { below, above }, distribution, degrees, span }))
    }

    /// The two halves of `-20 % +50 %`, if they stand here and end the value. Each sign has a blank before it and none
    /// behind, which distinguishes them from a sum.
    pub(crate) fn asymmetric_ahead(&self) -> Option<(Quantity, Quantity)> {
        let half = |ahead: usize| {
            let (sign, value) = (self.token_at(ahead)?, self.token_at(ahead + 1)?);
            match (&sign.item, &value.item) {
                (Item::Operator(operator), Item::Quantity(quantity)) if sign.spaced && !value.spaced => {
                    Some((*operator, quantity.clone()))
                }
                _ => None,
            }
        };
        let ends = match self.peek_at(4) {
            None | Some(Item::Text(_) | Item::Comma | Item::Designator(_)) => true,
            Some(Item::Word(word)) => DISTRIBUTIONS.contains(&word.as_str()),
            _ => false,
        };
        if !ends {
            return None;
        }
        match (half(0)?, half(2)?) {
            ((BinaryOp::Subtract, below), (BinaryOp::Add, above))
            | ((BinaryOp::Add, above), (BinaryOp::Subtract, below)) => Some((below, above)),
            _ => None,
        }
    }

    fn distribution(&mut self) -> Read<(Distribution, Option<f64>)> {
        let Some(Item::Word(word)) = self.peek().cloned() else { return Ok((Distribution::Rectangular, None)) };
        let distribution = match word.as_str() {
            "rectangular" => Distribution::Rectangular,
            "triangular" => Distribution::Triangular,
            "arcsine" => Distribution::Arcsine,
            "normal" => {
                self.next();
                return Ok((self.normal()?, self.degrees()?));
            }
            _ => {
                let message = phrase!(LANG_TOLERANCE_IS_NOT_A_DISTRIBUTION, word = word);
                let help = phrase!(LANG_TOLERANCE_A_TOLERANCE_IS_RECTANGULAR_UNLESS);
                return Err(Problem::new(Code::Tolerance, self.here(), message).help(help));
            }
        };
        self.next();
        Ok((distribution, None))
    }

    /// `dof(18)` behind `normal(k)`, if it stands here.
    fn degrees(&mut self) -> Read<Option<f64>> {
        if self.take_word("dof").is_none() {
            return Ok(None);
        }
        let wanted = key::LANG_TOLERANCE_THE_DEGREES_OF_FREEDOM;
        self.take(&Item::Open).ok_or_else(|| self.unexpected(wanted))?;
        let Some(Item::Quantity(n)) = self.peek().cloned() else { return Err(self.unexpected(wanted)) };
        if n.unit.is_some() || n.number.is_nan() || n.number < 1.0 {
            return Err(Problem::new(Code::Tolerance, n.span, phrase!(LANG_TOLERANCE_DOF_N_TAKES_A_PLAIN))
                .help(phrase!(LANG_TOLERANCE_A_STANDARD_DEVIATION_FROM_N)));
        }
        self.next();
        self.take(&Item::Close).ok_or_else(|| self.unexpected("`)`"))?;
        Ok(Some(n.number))
    }

    fn normal(&mut self) -> Read<Distribution> {
        let wanted = key::LANG_TOLERANCE_THE_NUMBER_OF_STANDARD_DEVIATIONS;
        self.take(&Item::Open).ok_or_else(|| self.unexpected(wanted))?;
        let Some(Item::Quantity(k)) = self.peek().cloned() else { return Err(self.unexpected(wanted)) };
        if k.unit.is_some() || k.number.is_nan() || k.number <= 0.0 || k.number > 10.0 {
            return Err(Problem::new(Code::Tolerance, k.span, phrase!(LANG_TOLERANCE_NORMAL_K_TAKES_A_PLAIN))
                .help(phrase!(LANG_TOLERANCE_K_SAYS_HOW_MANY_STANDARD)));
        }
        self.next();
        self.take(&Item::Close).ok_or_else(|| self.unexpected("`)`"))?;
        Ok(Distribution::Normal(k.number))
    }

    /// A literal with or without a minus.
    pub(crate) fn signed_quantity(&mut self) -> Read<Expr> {
        let minus = self.take(&Item::Operator(BinaryOp::Subtract));
        let Some(Item::Quantity(quantity)) = self.peek().cloned() else {
            return Err(self.unexpected(phrase!(LANG_TOLERANCE_A_QUANTITY)));
        };
        self.next();
        let span = quantity.span;
        let literal = Expr { node: Node::Quantity(quantity), span };
        Ok(match minus {
            Some(sign) => Expr { span: sign.to(span), node: Node::Unary(UnaryOp::Negate, Box::new(literal)) },
            None => literal,
        })
    }
}

const DISTRIBUTIONS: &[&str] = &["rectangular", "triangular", "arcsine", "normal"];

fn signed(expr: &Expr) -> Option<Quantity> {
    match &expr.node {
        Node::Quantity(quantity) => Some(quantity.clone()),
        Node::Unary(UnaryOp::Negate, inner) => {
            let mut quantity = signed(inner)?;
            quantity.number = -quantity.number;
            quantity.digits = format!("-{}", quantity.digits);
            Some(quantity)
        }
        _ => None,
    }
}

/// The middle of two bounds, in the unit of the upper one; where the units differ the checker reports it.
fn middle(low: &Quantity, high: &Quantity, span: Span) -> Expr {
    let factor = |quantity: &Quantity| {
        quantity.unit.as_ref().and_then(|unit| crate::units::parse(&unit.item)).unwrap_or_else(crate::units::Unit::one)
    };
    let (low_unit, high_unit) = (factor(low), factor(high));
    let low_number = high_unit.of_si(low_unit.to_si(low.number));
    let number =
        if low_unit == high_unit { (low.number + high.number) / 2.0 } else { (low_number + high.number) / 2.0 };
    let quantity = Quantity {
        number,
        digits: number.abs().to_string(),
        unit: high.unit.as_ref().map(|unit| Spanned { item: unit.item.clone(), span: unit.span }),
        notation: Notation::Plain,
        code_tolerance: None,
        span,
    };
    if number < 0.0 {
        let positive = Quantity { number: -number, ..quantity };
        let literal = Expr { node: Node::Quantity(positive), span };
        return Expr { node: Node::Unary(UnaryOp::Negate, Box::new(literal)), span };
    }
    Expr { node: Node::Quantity(quantity), span }
}
