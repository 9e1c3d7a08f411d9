//! Text to tokens. A number takes the unit behind it along, since only a number makes a unit out of a word; part codes
//! (IEC 60062) are read here too. A statement ends with its line, unless the line ends in an operator, a comma or an open
//! bracket.

use super::{
    ast::{BinaryOp, Notation, Quantity},
    code,
};
use crate::{
    problem::{Code, Problem},
    span::{Span, Spanned},
    units,
};

/// A token and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Token {
    pub(crate) item: Item,
    pub(crate) span: Span,
    /// Whether blank space stands before it.
    pub(crate) spaced: bool,
}

/// What a token is.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Item {
    Quantity(Quantity),
    Word(String),
    Text(String),
    /// `[unit]`, the text between the brackets.
    Bracket(Spanned<String>),
    Operator(BinaryOp),
    Open,
    Close,
    Comma,
    Dot,
    Equals,
    PlusMinus,
    /// `@R1`: what a drawing calls a part.
    Designator(String),
    /// `…` or `...`, from one end of a span to the other.
    Ellipsis,
    /// Something that has no meaning; its problem is reported.
    Junk,
}

/// The tokens of one statement, and where it stands.
#[derive(Clone, Debug, Default)]
pub(crate) struct Line {
    pub(crate) tokens: Vec<Token>,
    pub(crate) span: Span,
    pub(crate) problems: Vec<Problem>,
}

/// Words that join what stands around them, and so are never units.
const JOINING: &[&str] = &[
    "and",
    "or",
    "not",
    "then",
    "else",
    "below",
    "above",
    "typ",
    "max",
    "normal",
    "triangular",
    "arcsine",
    "rectangular",
    "to",
    "log",
    "against",
    "within",
    "from",
    "so",
    "dof",
    "is",
    "for",
];

/// The statements between `span.start` and `span.end` of `source`, each as its tokens.
pub(crate) fn lines(source: &str, span: Span) -> Vec<Line> {
    let mut lexer = Lexer { source, at: span.start, end: span.end, depth: 0, line: Line::default(), lines: Vec::new() };
    lexer.run();
    lexer.lines
}

struct Lexer<'a> {
    source: &'a str,
    at: usize,
    end: usize,
    depth: usize,
    line: Line,
    lines: Vec<Line>,
}

impl<'a> Lexer<'a> {
    fn run(&mut self) {
        let mut spaced = true;
        while let Some(c) = self.peek() {
            let start = self.at;
            match c {
                '\n' => {
                    self.bump(c);
                    if !self.goes_on() {
                        self.finish();
                    }
                    spaced = true;
                    continue;
                }
                c if c.is_whitespace() => {
                    self.bump(c);
                    spaced = true;
                    continue;
                }
                '#' => {
                    self.run_of(|c| c != '\n');
                    continue;
                }
                '"' => self.text(),
                '[' => self.bracket(),
                c if c.is_ascii_digit() || (c == '.' && self.after(1).is_some_and(|c| c.is_ascii_digit())) => {
                    self.number();
                }
                c if c.is_alphabetic() => self.word(),
                _ => self.sign(c),
            }
            if let Some(token) = self.line.tokens.last_mut().filter(|token| token.span.start == start) {
                token.spaced = spaced;
            }
            spaced = false;
        }
        self.finish();
    }

    fn rest(&self) -> &'a str {
        self.source.get(self.at..self.end).unwrap_or("")
    }

    /// The characters from here on that belong together; goes on behind them.
    fn run_of(&mut self, belongs: impl Fn(char) -> bool) -> &'a str {
        let run = leading(self.rest(), belongs);
        self.at += run.len();
        run
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn after(&self, chars: usize) -> Option<char> {
        self.rest().chars().nth(chars)
    }

    fn bump(&mut self, c: char) {
        self.at += c.len_utf8();
    }

    fn push(&mut self, start: usize, item: Item) {
        let span = Span::new(start, self.at);
        self.line.tokens.push(Token { item, span, spaced: false });
    }

    fn problem(&mut self, problem: Problem) {
        self.line.problems.push(problem);
    }

    fn goes_on(&self) -> bool {
        matches!(
            self.line.tokens.last().map(|token| &token.item),
            Some(Item::Operator(_) | Item::Comma | Item::Open | Item::Equals | Item::PlusMinus)
        )
    }

    fn finish(&mut self) {
        self.depth = 0;
        let mut line = std::mem::take(&mut self.line);
        if let (Some(first), Some(last)) = (line.tokens.first(), line.tokens.last()) {
            line.span = first.span.to(last.span);
        } else if let Some(problem) = line.problems.first() {
            line.span = problem.span;
        }
        if !line.tokens.is_empty() || !line.problems.is_empty() {
            self.lines.push(line);
        }
    }

    fn text(&mut self) {
        let start = self.at;
        self.bump('"');
        let body = self.run_of(|c| c != '"' && c != '\n');
        if self.peek() == Some('"') {
            self.bump('"');
        } else {
            let span = Span::new(start, self.at);
            self.problem(
                Problem::new(Code::Unclosed, span, "a quoted text is not closed on its line").help("end it with \""),
            );
        }
        self.push(start, Item::Text(body.trim().to_owned()));
    }

    fn bracket(&mut self) {
        let start = self.at;
        self.bump('[');
        let body = self.run_of(|c| c != ']' && c != '\n');
        let inner = Span::new(self.at - body.len(), self.at);
        if self.peek() == Some(']') {
            self.bump(']');
        } else {
            let span = Span::new(start, self.at);
            self.problem(Problem::new(Code::Unclosed, span, "the declared unit is not closed").help("end it with ]"));
        }
        self.push(start, Item::Bracket(Spanned { item: body.trim().to_owned(), span: inner }));
    }

    fn word(&mut self) {
        let start = self.at;
        let word = self.run_of(|c| c.is_alphanumeric() || c == '_');
        let operator = BinaryOp::TABLE.iter().find(|row| row.1.contains(&word)).map(|row| row.0);
        self.push(start, operator.map_or_else(|| Item::Word(word.to_owned()), Item::Operator));
    }

    fn sign(&mut self, c: char) {
        let start = self.at;
        for plus_minus in ["±", "+/-", "+-"] {
            if self.rest().starts_with(plus_minus) {
                self.at += plus_minus.len();
                return self.push(start, Item::PlusMinus);
            }
        }
        for ellipsis in ["…", "..."] {
            if self.rest().starts_with(ellipsis) {
                self.at += ellipsis.len();
                return self.push(start, Item::Ellipsis);
            }
        }
        let spelling = BinaryOp::TABLE
            .iter()
            .flat_map(|row| row.1.iter().map(move |text| (*text, row.0)))
            .filter(|(text, _)| self.rest().starts_with(text))
            .max_by_key(|(text, _)| text.len());
        if let Some((text, operator)) = spelling {
            self.at += text.len();
            return self.push(start, Item::Operator(operator));
        }
        if self.rest().starts_with(":=") {
            self.at += 2;
            let span = Span::new(start, self.at);
            self.problem(
                Problem::new(Code::Character, span, "`:=` has no meaning here").help("define a value with =: x = 5 V"),
            );
            return self.push(start, Item::Equals);
        }
        self.bump(c);
        if c == '@' {
            let designator = self.run_of(|c| c.is_alphanumeric() || matches!(c, '_' | '-'));
            if !designator.is_empty() {
                return self.push(start, Item::Designator(designator.to_owned()));
            }
        }
        let item = match c {
            '(' => {
                self.depth += 1;
                Item::Open
            }
            ')' => {
                self.depth = self.depth.saturating_sub(1);
                Item::Close
            }
            ',' => Item::Comma,
            '.' => Item::Dot,
            '=' => Item::Equals,
            _ => {
                // Each kind is reported once: a line of nothing else would bring a thousand reports.
                self.run_of(|next| next == c);
                let span = Span::new(start, self.at);
                let help = match c {
                    '$' | '€' | '£' => "write money by its ISO 4217 code behind the number: 0.45 EUR",
                    '%' => "a per cent sign stands behind a number: 5 %",
                    '{' | '}' | ']' => "group with round brackets; square ones hold a declared unit",
                    ';' => "one statement a line",
                    '\'' => "quote a label with \"",
                    '√' => "write sqrt(…)",
                    _ => "remove it",
                };
                self.problem(Problem::new(Code::Character, span, format!("`{c}` has no meaning here")).help(help));
                Item::Junk
            }
        };
        self.push(start, item);
    }

    fn number(&mut self) {
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
                    let message = format!("`{}` may be {}", span.text(self.source), doubt.readings);
                    self.problem(Problem::new(Code::TwoReadings, span, message).help(doubt.cures.as_str()));
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
            self.problem(
                Problem::new(Code::DecimalComma, span, "a comma stands where the decimal point belongs").help(
                    match fraction.len() {
                        3 if !grouped => format!("write {digits}.{fraction}; or {digits}_{fraction} for thousands"),
                        _ => format!("write {digits}.{fraction}"),
                    },
                ),
            );
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
        let message = "the power of a unit is a whole number";
        let help = "raise the value instead, in brackets: (3 V)^0.5, or sqrt(3 V)";
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

/// The characters that a text begins with and that belong together.
fn leading(text: &str, belongs: impl Fn(char) -> bool) -> &str {
    text.find(|c| !belongs(c)).map_or(text, |end| &text[..end])
}

fn belongs_to_unit(c: char) -> bool {
    starts_unit(c) || c == '_' || c.is_ascii_digit()
}

fn starts_unit(c: char) -> bool {
    c.is_alphabetic() || matches!(c, '°' | '%' | '‰' | '′' | '″' | 'Ω' | 'µ')
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The quantity that a text begins with, as number and unit; `None` where a problem is reported.
    fn read(text: &str) -> Option<(f64, String)> {
        let lines = lines(text, Span::new(0, text.len()));
        let [line] = lines.as_slice() else { panic!("{text}: {lines:?}") };
        let Some(Item::Quantity(quantity)) = line.tokens.first().map(|token| &token.item) else {
            panic!("{text}: {line:?}")
        };
        let unit = quantity.unit.as_ref().map_or("", |unit| unit.item.as_str());
        assert!(line.tokens.len() == 1 && quantity.code_tolerance.is_none() || !line.problems.is_empty(), "{text}");
        line.problems.is_empty().then(|| (quantity.number, unit.to_owned()))
    }

    /// Every unit with every prefix that the engine knows: joined to a number it is what it is behind a blank, or both
    /// readings are shown.
    #[test]
    fn a_unit_joined_to_a_number_is_that_unit() {
        let table = units::table();
        let prefixes = table.prefixes().iter().map(|(prefix, _)| prefix.as_str()).chain(["", "u"]);
        let prefixes: Vec<&str> = prefixes.collect();
        let (mut seen, mut asked) = (0, Vec::new());
        for symbol in table.symbols() {
            for prefix in &prefixes {
                let unit = format!("{prefix}{symbol}");
                if units::parse(&unit).is_none() {
                    continue;
                }
                for number in ["10", "4", "2.2", "100", "3e3"] {
                    seen += 1;
                    let (joined, apart) = (read(&format!("{number}{unit}")), read(&format!("{number} {unit}")));
                    match (joined, apart) {
                        (Some(joined), Some(apart)) => assert_eq!(joined, apart, "{number}{unit}"),
                        (None, Some(_)) => asked.push(unit.clone()),
                        (joined, None) => panic!("{number} {unit} is not read: {joined:?}"),
                    }
                }
            }
        }
        asked.dedup();
        assert!(seen > 5000, "{seen}");
        assert_eq!(asked, ["K", "G"], "kelvin or kiloohms, gauss or gigaohms");
    }
}
