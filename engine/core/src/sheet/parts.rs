//! The lines of a `parts` block: `R_t = 910 kΩ ± 5 %, 0.25 W, 0.03 EUR, 100+ 0.01 EUR "timing resistor" @R1`. What stands
//! before the first comma is a definition as in a `calc` block.

use std::collections::HashSet;

use benchleaf_words::{Word, key, phrase};

use crate::{
    lang::{
        Item, Line, Parser,
        ast::{BinaryOp, Quantity, Statement, StatementBody, StatementId},
        definition, lines,
    },
    problem::{Code, Problem},
    span::{Span, Spanned},
    units::CURRENCIES,
};

/// A `parts` block as read.
#[derive(Clone, Debug, Default)]
pub struct PartsBlock {
    /// The definitions of the parts that have a value, as statements.
    pub statements: Vec<Statement>,
    /// Every part, in order.
    pub lines: Vec<PartLine>,
}

/// A part as read.
#[derive(Clone, Debug, Default)]
pub struct PartLine {
    /// Its name, where it has one.
    pub name: Option<Spanned<String>>,
    /// Where its value with the tolerance stands, where it has one.
    pub value: Option<Span>,
    /// Its place among the block's statements, where it has a value.
    pub statement: Option<usize>,
    /// The label that a reader sees.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
    /// What the drawing calls it.
    pub designators: Vec<Spanned<String>>,
    /// Its ratings.
    pub ratings: Vec<Quantity>,
    /// Its prices, each with the number of pieces from which on it is asked.
    pub prices: Vec<(Option<Quantity>, Quantity)>,
    /// Whether it is bought once for all builds.
    pub once: Option<Span>,
}

/// How a line of parts is written.
const FORM: Word<0> = key::SHEET_PARTS_A_PART_READS;

/// Reads a `parts` block; `first` is the number of its first statement, `names` holds what is defined so far.
pub(super) fn read(
    source: &str,
    content: Span,
    first: u32,
    names: &mut HashSet<String>,
    problems: &mut Vec<Problem>,
) -> PartsBlock {
    let mut block = PartsBlock::default();
    for line in lines(source, content) {
        let id = StatementId(first + block.statements.len() as u32);
        match part(line, id, names, &mut block.statements) {
            Ok(part) => {
                names.extend(part.name.iter().map(|name| name.item.clone()));
                block.lines.push(part);
            }
            Err(problem) => problems.push(problem),
        }
    }
    block
}

fn part(
    line: Line,
    id: StatementId,
    names: &HashSet<String>,
    statements: &mut Vec<Statement>,
) -> Result<PartLine, Problem> {
    if let Some(problem) = line.problems.first() {
        return Err(problem.clone());
    }
    let mut part = PartLine { span: line.span, ..PartLine::default() };
    let mut parser = Parser::new(line);
    if parser.is_word("keep") {
        return Err(Problem::new(Code::Part, parser.here(), phrase!(SHEET_PARTS_A_REQUIREMENT_IS_NO_PART))
            .help(phrase!(SHEET_PARTS_WRITE_IT_IN_A_CALC)));
    }
    let named = matches!(parser.peek(), Some(Item::Word(_)));
    let mut body = None;
    if named && parser.peek_at(1) == Some(&Item::Equals) && parser.word_at(2, "rated") {
        part.name = Some(parser.name(phrase!(SHARED_A_NAME))?);
        parser.next();
        parser.next();
    } else if named {
        let definition = definition(&mut parser, names)?;
        if !definition.is_given() {
            let message = phrase!(SHEET_PARTS_THE_VALUE_OF_A_PART);
            return Err(Problem::new(Code::Part, definition.value.span, message).help(phrase!(SHEET_PARTS_WORK_IT_OUT)));
        }
        let tolerance = definition.tolerance.as_ref().map(|tolerance| tolerance.span);
        part.value = Some(tolerance.map_or(definition.value.span, |span| definition.value.span.to(span)));
        part.name = Some(definition.name.clone());
        body = Some(StatementBody::Definition(definition));
    }
    traits(&mut parser, &mut part)?;
    if !parser.at_end() {
        return Err(parser.unexpected(phrase!(SHEET_PARTS_A_RATING_A_PRICE)).help(FORM));
    }
    if let Some(body) = body {
        part.statement = Some(statements.len());
        statements.push(Statement { id, body, label: part.label.clone(), span: part.span });
    } else if part.name.is_none() && part.label.is_none() {
        return Err(Problem::new(Code::Part, part.span, phrase!(SHEET_PARTS_THE_LINE_NAMES_NO_PART)).help(FORM));
    }
    Ok(part)
}

/// Ratings, prices, label and designators in any order, up to what is none of them; commas between them may be left out.
pub(super) fn traits(parser: &mut Parser, part: &mut PartLine) -> Result<(), Problem> {
    loop {
        let span = parser.here();
        match parser.peek().cloned() {
            Some(Item::Comma) if parser.is_trait_ahead(1) => {
                parser.next();
            }
            Some(Item::Text(text)) => {
                if part.label.replace(text).is_some() {
                    return Err(Problem::new(Code::Part, span, phrase!(SHEET_PARTS_THE_PART_HAS_A_LABEL))
                        .help(phrase!(SHARED_KEEP_ONE_OF_THEM)));
                }
                parser.next();
            }
            Some(Item::Designator(designator)) => {
                part.designators.push(Spanned { item: designator, span });
                parser.next();
            }
            Some(Item::Word(word)) if word == "once" => {
                part.once = Some(span);
                parser.next();
            }
            Some(Item::Quantity(quantity)) => {
                parser.next();
                if parser.take(&Item::Operator(BinaryOp::Add)).is_some() {
                    let Some(Item::Quantity(price)) = parser.peek().cloned() else {
                        return Err(parser.unexpected(phrase!(SHEET_PARTS_THE_PRICE_OF_A_PIECE)).help(FORM));
                    };
                    parser.next();
                    part.prices.push((Some(quantity), price));
                } else if is_price(&quantity) {
                    part.prices.push((None, quantity));
                } else {
                    part.ratings.push(quantity);
                }
            }
            _ => return Ok(()),
        }
    }
}

impl Parser {
    /// Whether a rating, a price, a label or a designator stands so far ahead.
    fn is_trait_ahead(&self, ahead: usize) -> bool {
        match self.peek_at(ahead) {
            Some(Item::Text(_) | Item::Designator(_) | Item::Quantity(_)) => true,
            Some(Item::Word(word)) => word == "once",
            _ => false,
        }
    }

    fn word_at(&self, ahead: usize, word: &str) -> bool {
        matches!(self.peek_at(ahead), Some(Item::Word(found)) if found == word)
    }
}

fn is_price(quantity: &Quantity) -> bool {
    quantity.unit.as_ref().is_some_and(|unit| CURRENCIES.contains(&unit.item.as_str()))
}
