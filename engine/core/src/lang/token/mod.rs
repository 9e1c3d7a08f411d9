//! Text to tokens. A number takes the unit behind it along, since only a number makes a unit out of a word; part codes
//! (IEC 60062) are read here too. A statement ends with its line, unless the line ends in an operator, a comma or an open
//! bracket.

mod number;

use benchleaf_words::phrase;

use super::ast::{BinaryOp, Quantity};
use crate::{
    problem::{Code, Problem},
    span::{Span, Spanned},
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
    /// `:` behind the path of a `use` line; it means nothing elsewhere.
    Colon,
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
    "with",
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
            Some(Item::Operator(_) | Item::Comma | Item::Colon | Item::Open | Item::Equals | Item::PlusMinus)
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
                Problem::new(Code::Unclosed, span, phrase!(LANG_TOKEN_A_QUOTED_TEXT_IS_NOT))
                    .help(phrase!(LANG_TOKEN_END_IT_WITH)),
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
            self.problem(
                Problem::new(Code::Unclosed, span, phrase!(LANG_TOKEN_THE_DECLARED_UNIT_IS_NOT))
                    .help(phrase!(LANG_TOKEN_END_IT_WITH_2)),
            );
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
                Problem::new(Code::Character, span, phrase!(LANG_TOKEN_HAS_NO_MEANING_HERE))
                    .help(phrase!(LANG_TOKEN_DEFINE_A_VALUE_WITH)),
            );
            return self.push(start, Item::Equals);
        }
        self.bump(c);
        let is_use = |token: &Token| matches!(&token.item, Item::Word(word) if word == "use");
        if c == ':' && self.line.tokens.first().is_some_and(is_use) {
            return self.push(start, Item::Colon);
        }
        if c == '@' {
            let designator = self.run_of(|c| c.is_alphanumeric() || matches!(c, '_' | '-'));
            if !designator.is_empty() {
                self.push(start, Item::Designator(designator.to_owned()));
                // The pins of many parts have numbers for names.
                if self.peek() == Some('.') && self.after(1).is_some_and(|c| c.is_ascii_digit()) {
                    let dot = self.at;
                    self.bump('.');
                    self.push(dot, Item::Dot);
                    let pin = self.at;
                    let name = self.run_of(|c| c.is_alphanumeric() || c == '_');
                    self.push(pin, Item::Word(name.to_owned()));
                }
                return;
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
                    '$' | '€' | '£' => phrase!(LANG_TOKEN_WRITE_MONEY_BY_ITS_ISO),
                    '%' => phrase!(LANG_TOKEN_A_PER_CENT_SIGN_STANDS),
                    '{' | '}' | ']' => phrase!(LANG_TOKEN_GROUP_WITH_ROUND_BRACKETS_SQUARE),
                    ';' => phrase!(LANG_TOKEN_ONE_STATEMENT_A_LINE),
                    '\'' => phrase!(LANG_TOKEN_QUOTE_A_LABEL_WITH),
                    '√' => phrase!(LANG_TOKEN_WRITE_SQRT),
                    _ => phrase!(SHARED_REMOVE_IT),
                };
                self.problem(
                    Problem::new(Code::Character, span, phrase!(LANG_TOKEN_HAS_NO_MEANING_HERE_2, character = c))
                        .help(help),
                );
                Item::Junk
            }
        };
        self.push(start, item);
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
    use crate::units;

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
