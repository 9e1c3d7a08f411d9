//! Numbers with what is joined to them: part codes, powers of ten, units.

use benchleaf_words::phrase;

use super::{Item, JOINING, Lexer, belongs_to_unit, leading, starts_unit};
use crate::{
    lang::{
        ast::{BinaryOp, Notation, Quantity},
        code,
    },
    problem::{Code, Problem},
    span::{Span, Spanned},
    units,
};

impl<'a> Lexer<'a> {
    pub(super) fn number(&mut self) {
        let start = self.at;
        if let Some(read) = code::read(self.rest()) {
            let follows = self.rest().get(read.len..).and_then(|rest| rest.chars().next());
            // `10K/W` is ten kelvin per watt, not a resistor.
            let unit_goes_on = read.doubt.is_some()
                && (matches!(follows, Some('/' | '·' | '⋅' | '*' | '^')) || follows.and_then(units::unraise).is_some());
            if !unit_goes_on && !follows.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == '.') {
                self.at += read.len;
                let span = Span::new(start, self.at);
                if let Some(doubt) = &read.doubt {
                    let message =
                        phrase!(LANG_NUMBER_MAY_BE, written = span.text(self.source), readings = doubt.readings);
                    self.problem(Problem::new(Code::TwoReadings, span, message).help(&doubt.cures));
                }
                return self.push(start, Item::Quantity(read.quantity(span)));
            }
        }
        let mut digits = self.plain_number();
        if self.depth == 0 && self.peek() == Some(',') && self.after(1).is_some_and(|c| c.is_ascii_digit()) {
            self.bump(',');
            let fraction = self.plain_number();
            let span = Span::new(start, self.at);
            let grouped = digits.contains('.');
            digits.retain(|c| c != '.');
            self.problem(Problem::new(Code::DecimalComma, span, phrase!(LANG_NUMBER_A_COMMA_STANDS_WHERE)).help(
                match fraction.len() {
                    3 if !grouped => phrase!(LANG_NUMBER_WRITE_OR_FOR_THOUSANDS, digits = digits, fraction = fraction),
                    _ => phrase!(LANG_NUMBER_WRITE, digits = digits, fraction = fraction),
                },
            ));
            digits = format!("{digits}.{fraction}");
        }
        if digits == "10" {
            if let Some(exponent) = self.power_of_ten() {
                digits = format!("1e{exponent}");
            }
        } else if self.may_scale()
            && !digits.contains(['e', 'E'])
            && let Some(exponent) = self.scaled_by_ten()
        {
            digits = format!("{digits}e{exponent}");
        }
        let number = digits.parse().unwrap_or(f64::NAN);
        let before_unit = self.at;
        let unit = self.unit();
        if unit.is_none() {
            self.at = before_unit;
        }
        let span = Span::new(start, self.at);
        let quantity = Quantity { number, digits, unit, notation: Notation::Plain, code_tolerance: None, span };
        self.push(start, Item::Quantity(quantity));
    }

    /// Digits, a fraction, an exponent.
    fn plain_number(&mut self) -> String {
        let mut digits = String::new();
        let take = |lexer: &mut Self, digits: &mut String| {
            while let Some(c) = lexer.peek().filter(|c| c.is_ascii_digit() || *c == '_') {
                if c == '_' && !lexer.after(1).is_some_and(|c| c.is_ascii_digit()) {
                    break;
                }
                lexer.bump(c);
                if c != '_' {
                    digits.push(c);
                }
            }
        };
        take(self, &mut digits);
        if self.peek() == Some('.') && self.after(1).is_some_and(|c| c.is_ascii_digit()) {
            self.bump('.');
            digits.push('.');
            take(self, &mut digits);
        } else if self.peek() == Some('.') && !self.after(1).is_some_and(|c| c.is_alphabetic() || c == '.') {
            self.bump('.');
        }
        let signed = self.after(1).is_some_and(|c| c == '-' || c == '+');
        let figure = self.after(if signed { 2 } else { 1 });
        if matches!(self.peek(), Some('e' | 'E')) && figure.is_some_and(|c| c.is_ascii_digit()) {
            self.bump('e');
            digits.push('e');
            if let Some(sign) = self.peek().filter(|_| signed) {
                self.bump(sign);
                digits.push(sign);
            }
            take(self, &mut digits);
        }
        if digits.starts_with('.') {
            digits.insert(0, '0');
        }
        digits
    }

    /// `^-3` or `⁻³` right behind a ten.
    fn power_of_ten(&mut self) -> Option<i32> {
        let rest = self.rest();
        let (plain, len) = if let Some(exponent) = rest.strip_prefix('^') {
            let sign = exponent.chars().next().filter(|c| matches!(c, '-' | '−' | '+'));
            let body = &exponent[sign.map_or(0, char::len_utf8)..];
            let figures: String = body.chars().take_while(char::is_ascii_digit).collect();
            let minus = if matches!(sign, Some('-' | '−')) { "-" } else { "" };
            (format!("{minus}{figures}"), 1 + sign.map_or(0, char::len_utf8) + figures.len())
        } else {
            let raised: String = rest.chars().take_while(|c| units::unraise(*c).is_some()).collect();
            (raised.chars().filter_map(units::unraise).collect(), raised.len())
        };
        let exponent: i32 = plain.parse().ok().filter(|n: &i32| n.abs() < 400)?;
        self.at += len;
        Some(exponent)
    }

    /// `× 10^-6` behind a number.
    fn scaled_by_ten(&mut self) -> Option<i32> {
        let start = self.at;
        let trimmed = self.rest().trim_start_matches(' ');
        let sign = trimmed.chars().next().filter(|c| matches!(c, '*' | '×' | '·'))?;
        let ten = trimmed[sign.len_utf8()..].trim_start_matches(' ').strip_prefix("10")?;
        if !ten.starts_with(|c| c == '^' || units::unraise(c).is_some()) {
            return None;
        }
        self.at = self.end - ten.len();
        let exponent = self.power_of_ten();
        if exponent.is_none() {
            self.at = start;
        }
        exponent
    }

    /// Whether a power of ten behind the coming number belongs to it whatever stands before.
    fn may_scale(&self) -> bool {
        match self.line.tokens.last().map(|token| &token.item) {
            Some(Item::Operator(operator)) => operator.binding() <= BinaryOp::Add.binding(),
            _ => true,
        }
    }

    /// The unit behind a number, if one stands there.
    fn unit(&mut self) -> Option<Spanned<String>> {
        while let Some(c) = self.peek().filter(|c| matches!(c, ' ' | '\t' | '\u{a0}' | '\u{202f}' | '\u{2009}')) {
            self.bump(c);
        }
        let start = self.at;
        if self.rest().starts_with("1/") && self.rest()[2..].starts_with(starts_unit) {
            self.at += 2;
            self.unit_atom();
        } else {
            let atom = self.unit_atom()?;
            if JOINING.contains(&atom) || BinaryOp::TABLE.iter().any(|row| row.1.contains(&atom)) {
                return None;
            }
        }
        while self.unit_goes_on() {}
        let span = Span::new(start, self.at);
        Some(Spanned { item: span.text(self.source).to_owned(), span })
    }

    fn unit_atom(&mut self) -> Option<&'a str> {
        self.peek().filter(|c| starts_unit(*c))?;
        Some(self.run_of(belongs_to_unit))
    }

    /// Reports a power of a unit that goes on behind its point, as in `V^0.5`; `rest` begins with its `^`.
    fn whole_power(&mut self, rest: &str) {
        let fraction = match self.rest().strip_prefix('.') {
            Some(fraction) => leading(fraction, |c| c.is_ascii_digit()),
            None => "",
        };
        if fraction.is_empty() {
            return;
        }
        let start = self.at - (rest.len() - self.rest().len());
        self.at += 1 + fraction.len();
        let span = Span::new(start, self.at);
        let message = phrase!(LANG_NUMBER_THE_POWER_OF_A_UNIT);
        let help = phrase!(LANG_NUMBER_RAISE_THE_VALUE_INSTEAD);
        self.problem(Problem::new(Code::Exponent, span, message).help(help));
    }

    /// Takes one more factor or a power of the unit, if one stands right behind; says whether it did.
    fn unit_goes_on(&mut self) -> bool {
        let rest = self.rest();
        let raised: usize = rest.chars().take_while(|c| units::unraise(*c).is_some()).map(char::len_utf8).sum();
        if raised > 0 {
            self.at += raised;
            return true;
        }
        if let Some(power) = rest.strip_prefix('^') {
            let sign = power.chars().next().filter(|c| matches!(c, '-' | '−')).map_or(0, char::len_utf8);
            let figures = power[sign..].chars().take_while(char::is_ascii_digit).count();
            if figures > 0 {
                self.at += 1 + sign + figures;
                self.whole_power(rest);
            }
            return figures > 0;
        }
        let Some(sign) = rest.chars().next().filter(|c| matches!(c, '·' | '⋅' | '*' | '/')) else { return false };
        let factor = &rest[sign.len_utf8()..];
        if let Some(group) = factor.strip_prefix('(') {
            let Some(close) = group.find(')').filter(|close| units::parse(&group[..*close]).is_some()) else {
                return false;
            };
            self.at += sign.len_utf8() + close + 2;
            return true;
        }
        let atom = leading(factor, belongs_to_unit);
        // What follows must be a unit, and not the name of a function or model: `5 V/min(a, b)`.
        let ends = factor[atom.len()..].chars().next();
        if atom.is_empty() || units::parse(atom).is_none() || matches!(ends, Some('(' | '.')) {
            return false;
        }
        self.at += sign.len_utf8() + atom.len();
        true
    }
}
