//! The lines of a `transient` block: states and their rates, the event that ends it, formulas over time, and what is measured.

use std::collections::HashSet;

use benchleaf_words::{Word, key, phrase};

use crate::{
    lang::{
        Item, Parser,
        ast::{BinaryOp, Expr, Node},
        lines, whole,
    },
    problem::{Code, Problem},
    span::{Span, Spanned},
};

/// A `transient` block as read.
#[derive(Clone, Debug, Default)]
pub struct TransientBlock {
    /// Its states, in order.
    pub states: Vec<StateLine>,
    /// The rates of its states, in order.
    pub rates: Vec<RateLine>,
    /// Formulas over time that its other lines may read, and plots may draw.
    pub formulas: Vec<FormulaLine>,
    /// When it ends.
    pub end: Option<EndLine>,
    /// What is measured, in order.
    pub measures: Vec<MeasureLine>,
    /// Whether a line of it did not read.
    pub broken: bool,
}

/// `state V_c = 0 V "capacitor"`.
#[derive(Clone, Debug)]
pub struct StateLine {
    /// The state.
    pub name: Spanned<String>,
    /// The unit it is shown in.
    pub unit: Option<Spanned<String>>,
    /// Its value at time 0.
    pub start: Expr,
    /// What the reader sees.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
}

/// `d V_c = (V_s - V_c) / (R_t * C_t)`.
#[derive(Clone, Debug)]
pub struct RateLine {
    /// The state.
    pub state: Spanned<String>,
    /// Its change per time.
    pub rate: Expr,
    /// Where the line stands.
    pub span: Span,
}

/// `I_c [mA] = (V_s - V_c) / R_t "charging current"`: a formula that the states may be in.
#[derive(Clone, Debug)]
pub struct FormulaLine {
    /// Its name.
    pub name: Spanned<String>,
    /// The unit it is shown in.
    pub unit: Option<Spanned<String>>,
    /// The formula.
    pub formula: Expr,
    /// What the reader sees.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
}

/// `until V_c > 2/3 * V_s within 60 s`, or `until 60 s`.
#[derive(Clone, Debug)]
pub struct EndLine {
    /// The event; without one it ends at the longest time.
    pub event: Option<Expr>,
    /// The longest time.
    pub longest: Expr,
    /// Where the line stands.
    pub span: Span,
}

/// `t_end [s] = end "pulse length"`.
#[derive(Clone, Debug)]
pub struct MeasureLine {
    /// The value that it defines.
    pub name: Spanned<String>,
    /// The unit it is shown in.
    pub unit: Option<Spanned<String>>,
    /// What is measured.
    pub measure: MeasureRequest,
    /// The measure as written.
    pub written: Span,
    /// What the reader sees.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
}

/// What is measured over time.
#[derive(Clone, Debug)]
pub enum MeasureRequest {
    /// `end`: the time of the event.
    End,
    /// `max(V_c)`: the greatest value.
    Greatest(Expr),
    /// `min(V_c)`: the least value.
    Least(Expr),
    /// `first(V_c > 4 V)`: the first time at which a condition is true.
    First(Expr),
    /// `last(V_c)`: the value at the end.
    Last(Expr),
    /// `at(V_c, 2 s)`: the value at a time.
    At(Expr, Expr),
}

const FORM: Word<0> = key::SHEET_TRANSIENT_ITS_LINES_READ_AND;
const END_FORM: Word<0> = key::SHEET_TRANSIENT_IT_READS_OR;

/// Reads a `transient` block; `names` takes up what it defines for the worksheet.
pub(super) fn read(
    source: &str,
    content: Span,
    names: &mut HashSet<String>,
    problems: &mut Vec<Problem>,
) -> TransientBlock {
    let mut block = TransientBlock::default();
    for line in lines(source, content) {
        let span = line.span;
        if !line.problems.is_empty() {
            problems.extend(line.problems.iter().cloned());
            block.broken = true;
            continue;
        }
        if let Err(problem) = whole(line, |parser| read_line(parser, span, &mut block)) {
            problems.push(problem);
            block.broken = true;
        }
    }
    names.extend(block.measures.iter().map(|line| line.name.item.clone()));
    block
}

fn read_line(parser: &mut Parser, span: Span, block: &mut TransientBlock) -> Result<(), Problem> {
    let opens = |parser: &Parser, word: &str| {
        parser.is_word(word) && !matches!(parser.peek_at(1), Some(Item::Equals | Item::Bracket(_)))
    };
    let equals = |parser: &mut Parser| parser.take(&Item::Equals).ok_or_else(|| parser.unexpected("`=`").help(FORM));
    if opens(parser, "state") {
        parser.next();
        let name = parser.name(phrase!(SHEET_TRANSIENT_THE_NAME_OF_A_STATE))?;
        let unit = parser.bracket();
        equals(parser)?;
        let start = parser.expression()?;
        block.states.push(StateLine { name, unit, start, label: parser.label(), span });
    } else if opens(parser, "d") {
        parser.next();
        let state = parser.name(phrase!(SHEET_TRANSIENT_THE_NAME_OF_A_STATE))?;
        equals(parser)?;
        block.rates.push(RateLine { state, rate: parser.expression()?, span });
    } else if opens(parser, "until") {
        parser.next();
        if block.end.is_some() {
            return Err(Problem::new(Code::Transient, span, phrase!(SHEET_TRANSIENT_THE_BLOCK_HAS_A_SECOND))
                .help(phrase!(SHEET_TRANSIENT_ONE_LINE_BEGINS_WITH)));
        }
        let first = parser.expression()?;
        let end = if parser.take_word("within").is_some() {
            EndLine { event: Some(first), longest: parser.expression()?, span }
        } else if parser.at_end() && !is_condition(&first) {
            EndLine { event: None, longest: first, span }
        } else {
            return Err(parser.unexpected(phrase!(SHEET_TRANSIENT_AND_THE_LONGEST_TIME)).help(END_FORM));
        };
        block.end = Some(end);
    } else {
        let name = parser.name(phrase!(SHARED_A_NAME)).map_err(|problem| problem.help(FORM))?;
        let unit = parser.bracket();
        equals(parser)?;
        let expr = parser.expression()?;
        let written = expr.span;
        let label = parser.label();
        match measure(&expr) {
            Some(measure) => block.measures.push(MeasureLine { name, unit, measure, written, label, span }),
            None => block.formulas.push(FormulaLine { name, unit, formula: expr, label, span }),
        }
    }
    Ok(())
}

/// Whether an expression is a condition by its outermost operator.
fn is_condition(expr: &Expr) -> bool {
    matches!(expr.node, Node::Binary(operator, ..) if operator.compares() || matches!(operator, BinaryOp::And | BinaryOp::Or))
}

/// The measure that an expression asks for; nothing where it is a formula.
fn measure(expr: &Expr) -> Option<MeasureRequest> {
    match &expr.node {
        Node::Name(name) if name == "end" => Some(MeasureRequest::End),
        Node::Call(name, arguments) if arguments.iter().all(|argument| argument.name.is_none()) => {
            let mut arguments = arguments.iter().map(|argument| argument.value.clone());
            match (name.item.as_str(), arguments.next(), arguments.next(), arguments.next()) {
                ("max", Some(of), None, None) => Some(MeasureRequest::Greatest(of)),
                ("min", Some(of), None, None) => Some(MeasureRequest::Least(of)),
                ("first", Some(of), None, None) => Some(MeasureRequest::First(of)),
                ("last", Some(of), None, None) => Some(MeasureRequest::Last(of)),
                ("at", Some(of), Some(time), None) => Some(MeasureRequest::At(of, time)),
                _ => None,
            }
        }
        _ => None,
    }
}
