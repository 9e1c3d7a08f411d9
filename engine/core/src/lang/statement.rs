//! The statements of a `calc` block: definitions, functions of the worksheet's own, requirements and correlations.

use std::collections::HashSet;

use benchleaf_words::{Word, key, phrase};

use super::{
    ast::{
        BinaryOp, Choose, Correlation, Definition, Expr, Function, Keep, KeepBound, Node, Solve, Statement,
        StatementBody, StatementId, Tolerance, Use, UsedValue,
    },
    code,
    expression::{Parser, Read},
    token::{Item, Line, lines},
};
use crate::{
    problem::{Code, Problem},
    span::{Span, Spanned},
};

/// A `calc` block as read.
#[derive(Clone, Debug, Default)]
pub struct Calculation {
    /// Its statements, in order.
    pub statements: Vec<Statement>,
    /// What did not read.
    pub problems: Vec<Problem>,
}

/// Reads the statements that stand in `content`. `first` is the number of the first one; `names` holds every name
/// defined so far and takes up the new ones.
pub fn parse_calc(source: &str, content: Span, first: u32, names: &mut HashSet<String>) -> Calculation {
    let mut calculation = Calculation::default();
    for line in lines(source, content) {
        let span = line.span;
        let broken = !line.problems.is_empty();
        calculation.problems.extend(line.problems.iter().cloned());
        let line_codes: Vec<Code> = line.problems.iter().map(|problem| problem.code).collect();
        let id = StatementId(first + calculation.statements.len() as u32);
        let mut parser = Parser::new(line);
        let (body, label) = match statement(&mut parser, names) {
            Ok(read) => read,
            Err(problem) => {
                // What the reader of characters has reported already is not reported again.
                if !broken {
                    calculation.problems.push(problem);
                }
                (StatementBody::Unreadable, None)
            }
        };
        match &body {
            StatementBody::Definition(definition) => names.insert(definition.name.item.clone()),
            StatementBody::Function(function) => names.insert(function.name.item.clone()),
            StatementBody::Solve(solve) => names.insert(solve.result_name().item),
            StatementBody::Choose(choose) => choose.name.as_ref().is_some_and(|name| names.insert(name.item.clone())),
            StatementBody::Use(used) => {
                names.extend(used.values.iter().map(|value| value.here.item.clone()));
                true
            }
            _ => false,
        };
        // Its value would be another than its author meant.
        let misread = [Code::TwoReadings, Code::DecimalComma, Code::Exponent];
        let body = if line_codes.iter().any(|code| misread.contains(code)) { StatementBody::Unreadable } else { body };
        calculation.statements.push(Statement { id, body, label, span });
    }
    calculation
}

/// Reads a literal quantity with or without a tolerance, as a given's right side: what a reader may type for it.
///
/// # Errors
/// The first problem, with its place in `text`.
pub fn parse_literal(text: &str) -> Result<(Expr, Option<Tolerance>), Problem> {
    let whole = Span::new(0, text.len());
    let mut read = lines(text, whole);
    let Some(line) = read.drain(..).next() else {
        return Err(Problem::new(Code::Syntax, whole, phrase!(LANG_STATEMENT_NOTHING_IS_WRITTEN_HERE))
            .help(phrase!(LANG_STATEMENT_TYPE_A_NUMBER)));
    };
    if let Some(problem) = line.problems.first() {
        return Err(problem.clone());
    }
    let mut parser = Parser::new(line);
    let (value, tolerance) = right_side(&mut parser, &HashSet::new())?;
    if parser.at_end() { Ok((value, tolerance)) } else { Err(parser.left_over()) }
}

fn statement(parser: &mut Parser, names: &HashSet<String>) -> Read<(StatementBody, Option<String>)> {
    let head_is = |parser: &Parser, word: &str| {
        parser.is_word(word) && !matches!(parser.peek_at(1), Some(Item::Equals | Item::Bracket(_)))
    };
    let body = if parser.is_word("use") && matches!(parser.peek_at(1), Some(Item::Text(_) | Item::Word(_))) {
        StatementBody::Use(Box::new(used(parser)?))
    } else if head_is(parser, "keep") {
        StatementBody::Keep(Box::new(keep(parser)?))
    } else if head_is(parser, "agree") && parser.peek_at(1).is_some() && !is_function_head(parser) {
        StatementBody::Keep(Box::new(agree(parser)?))
    } else if parser.is_word("correlation") && parser.peek_at(1) == Some(&Item::Open) {
        StatementBody::Correlation(correlation(parser)?)
    } else if parser.peek_at(1) == Some(&Item::Open) && is_function_head(parser) {
        StatementBody::Function(Box::new(function(parser)?))
    } else {
        seek(parser)?.map_or_else(|| definition(parser, names).map(StatementBody::Definition), Ok)?
    };
    let label = parser.label();
    if parser.at_end() { Ok((body, label)) } else { Err(parser.left_over()) }
}

/// `use "timing.md": t_on, R_t as R_1`.
fn used(parser: &mut Parser) -> Read<Use> {
    const FORM: Word<0> = key::LANG_STATEMENT_IT_READS_USE_TIMING_MD;
    parser.next();
    let at = parser.here();
    let Some(path) = parser.label() else {
        return Err(parser.unexpected(phrase!(LANG_STATEMENT_THE_PATH_OF_A_WORKSHEET)).help(FORM));
    };
    let path = Spanned { item: path, span: at };
    parser.take(&Item::Colon).ok_or_else(|| parser.unexpected("`:`").help(FORM))?;
    let mut values = Vec::new();
    loop {
        let name = parser.name(phrase!(SHARED_THE_NAME_OF_A_VALUE)).map_err(|problem| problem.help(FORM))?;
        let field = match parser.take(&Item::Dot) {
            Some(_) => Some(parser.name(phrase!(LANG_STATEMENT_THE_NAME_OF_A_FIELD))?),
            None => None,
        };
        let here = match (parser.take_word("as"), &field) {
            (Some(_), _) => parser.name(phrase!(LANG_STATEMENT_ITS_NAME_IN_THIS_WORKSHEET))?,
            (None, None) => name.clone(),
            (None, Some(field)) => {
                let message = phrase!(LANG_STATEMENT_NEEDS_A_NAME_IN_THIS, name = name.item, field = field.item);
                let help = phrase!(LANG_STATEMENT_WRITE_AS, name = name.item, field = field.item);
                return Err(Problem::new(Code::Syntax, name.span.to(field.span), message).help(help));
            }
        };
        values.push(UsedValue { name, field, here });
        if parser.take(&Item::Comma).is_none() {
            break;
        }
    }
    if let (Some(Item::Text(_)), [_, .., _]) = (parser.peek(), values.as_slice()) {
        let message = phrase!(LANG_STATEMENT_A_LABEL);
        return Err(Problem::new(Code::Syntax, parser.here(), message).help(phrase!(LANG_STATEMENT_LEAVE_IT_OUT)));
    }
    Ok(Use { path, values })
}

/// `solve …` or `choose …`, with or without a name for what is found; `None` where another statement stands here.
fn seek(parser: &mut Parser) -> Read<Option<StatementBody>> {
    let is_seek = |ahead: usize| {
        let word = matches!(parser.peek_at(ahead), Some(Item::Word(word)) if word == "solve" || word == "choose");
        word && matches!(parser.peek_at(ahead + 1), Some(Item::Word(_)))
    };
    let bracketed = usize::from(matches!(parser.peek_at(1), Some(Item::Bracket(_))));
    let named = parser.peek_at(1 + bracketed) == Some(&Item::Equals) && is_seek(2 + bracketed);
    if !named && !is_seek(0) {
        return Ok(None);
    }
    let (mut name, mut unit) = (None, None);
    if named {
        name = Some(parser.name(phrase!(SHARED_A_NAME))?);
        unit = parser.bracket();
        parser.next();
    }
    if parser.take_word("solve").is_some() {
        return Ok(Some(StatementBody::Solve(Box::new(solve(parser, name, unit)?))));
    }
    if let Some(unit) = unit {
        let message = phrase!(LANG_STATEMENT_A_CHOICE_OF_SEVERAL_PARTS);
        return Err(Problem::new(Code::Syntax, unit.span, message).help(phrase!(SHARED_LEAVE_THE_UNIT_OUT)));
    }
    parser.next();
    Ok(Some(StatementBody::Choose(Box::new(choose(parser, name)?))))
}

fn solve(parser: &mut Parser, name: Option<Spanned<String>>, unit: Option<Spanned<String>>) -> Read<Solve> {
    const FORM: Word<0> = key::LANG_STATEMENT_IT_READS_SOLVE_R_T;
    let given = parser.name(phrase!(SHARED_THE_NAME_OF_A_GIVEN))?;
    so_that(parser, FORM)?;
    let left = parser.expression()?;
    parser.take(&Item::Equals).or_else(|| parser.take_word("is")).ok_or_else(|| parser.unexpected("`=`").help(FORM))?;
    let right = parser.expression()?;
    let (from, to) =
        span(parser)?.ok_or_else(|| parser.unexpected(phrase!(LANG_STATEMENT_THE_SPAN_TO_LOOK_IN)).help(FORM))?;
    Ok(Solve { name, unit, given, left, right, from, to })
}

fn choose(parser: &mut Parser, name: Option<Spanned<String>>) -> Read<Choose> {
    const FORM: Word<0> = key::LANG_STATEMENT_IT_READS_CHOOSE_E24;
    let series = parser.name(phrase!(SHARED_A_SERIES_OF_PREFERRED_VALUES))?;
    parser.take_word("for").ok_or_else(|| parser.unexpected("`for`").help(FORM))?;
    let mut givens = vec![parser.name(phrase!(SHARED_THE_NAME_OF_A_GIVEN))?];
    while parser.take(&Item::Comma).is_some() {
        givens.push(parser.name(phrase!(SHARED_THE_NAME_OF_A_GIVEN))?);
    }
    so_that(parser, FORM)?;
    let subject = parser.expression()?;
    parser
        .take_word("is")
        .or_else(|| parser.take(&Item::Equals))
        .ok_or_else(|| parser.unexpected("`is`").help(FORM))?;
    let target = parser.expression()?;
    Ok(Choose { name, series, givens, subject, target, span: span(parser)? })
}

fn so_that(parser: &mut Parser, form: Word<0>) -> Read<()> {
    for word in ["so", "that"] {
        parser.take_word(word).ok_or_else(|| parser.unexpected("`so that`").help(form))?;
    }
    Ok(())
}

/// `from A to B`, if it stands here.
fn span(parser: &mut Parser) -> Read<Option<(Expr, Expr)>> {
    if parser.take_word("from").is_none() {
        return Ok(None);
    }
    let from = parser.expression()?;
    parser.take_word("to").ok_or_else(|| parser.unexpected("`to`"))?;
    Ok(Some((from, parser.expression()?)))
}

/// Whether `f(…) =` or `f(…) [unit] =` stands here.
fn is_function_head(parser: &Parser) -> bool {
    let mut ahead = 1;
    while let Some(item) = parser.peek_at(ahead) {
        ahead += 1;
        if *item == Item::Close {
            break;
        }
    }
    ahead += usize::from(matches!(parser.peek_at(ahead), Some(Item::Bracket(_))));
    parser.peek_at(ahead) == Some(&Item::Equals)
}

/// `name [unit] = value ± tolerance`, up to what follows.
pub(crate) fn definition(parser: &mut Parser, names: &HashSet<String>) -> Read<Definition> {
    let name = parser
        .name(phrase!(LANG_STATEMENT_A_NAME_AND))
        .map_err(|problem| problem.help(phrase!(LANG_STATEMENT_A_STATEMENT_READS_OR)))?;
    let unit = parser.bracket();
    if parser.take(&Item::Equals).is_none() {
        let shown = name.item.clone();
        if let (Some(Item::Word(next)), Some(Item::Equals)) = (parser.peek(), parser.peek_at(1)) {
            let message = phrase!(LANG_STATEMENT_HAS_NO_PLACE_BEFORE, shown = shown);
            return Err(Problem::new(Code::Syntax, name.span, message)
                .help(phrase!(LANG_STATEMENT_LEAVE_IT_OUT_2, next = next)));
        }
        if let (Some(Item::Operator(BinaryOp::Subtract)), Some(Item::Word(rest)), Some(Item::Equals)) =
            (parser.peek(), parser.peek_at(1), parser.peek_at(2))
        {
            let message = phrase!(LANG_STATEMENT_IS_A_DIFFERENCE_NOT, shown = shown, rest = rest);
            let help = phrase!(LANG_STATEMENT_A_NAME_IS_MADE, shown = shown, rest = rest);
            return Err(Problem::new(Code::Syntax, name.span.to(parser.here()), message).help(help));
        }
        return Err(parser.unexpected("`=`").help(phrase!(
            LANG_STATEMENT_DEFINE_A_VALUE,
            shown = shown,
            inline = format!("{{{shown}}}")
        )));
    }
    let (value, tolerance) = right_side(parser, names)?;
    Ok(Definition { name, unit, value, tolerance: tolerance.map(Box::new) })
}

fn right_side(parser: &mut Parser, names: &HashSet<String>) -> Read<(Expr, Option<Tolerance>)> {
    if parser.min_typ_max_ahead() {
        let (value, tolerance) = parser.min_typ_max()?;
        return Ok((value, Some(tolerance)));
    }
    if parser.peek() == Some(&Item::PlusMinus) {
        let message = phrase!(LANG_STATEMENT_THE_TOLERANCE_STANDS_BEFORE);
        return Err(
            Problem::new(Code::Tolerance, parser.here(), message).help(phrase!(LANG_STATEMENT_WRITE_THE_VALUE_FIRST))
        );
    }
    let mut value = parser.expression_before_tolerance()?;
    // `R_s = R47`: a part code that starts with its letter, where no value of that name stands above.
    if let Node::Name(name) = &value.node
        && let Some(read) = code::read(name).filter(|read| read.len == name.len() && !names.contains(name))
    {
        value.node = Node::Quantity(read.quantity(value.span));
    }
    let tolerance = parser.tolerance()?;
    Ok((value, tolerance))
}

fn function(parser: &mut Parser) -> Read<Function> {
    let name = parser.name(phrase!(LANG_STATEMENT_A_FUNCTIONS_NAME))?;
    parser.next();
    let mut parameters: Vec<Spanned<String>> = Vec::new();
    while parser.take(&Item::Close).is_none() {
        let parameter = parser.name(phrase!(LANG_STATEMENT_A_PARAMETERS_NAME))?;
        if parameters.iter().any(|other| other.item == parameter.item) {
            let message = phrase!(LANG_STATEMENT_IS_A_PARAMETER_TWICE, parameter = parameter.item);
            return Err(Problem::new(Code::Redefined, parameter.span, message));
        }
        parameters.push(parameter);
        if parser.take(&Item::Comma).is_none() && parser.peek() != Some(&Item::Close) {
            return Err(parser.unexpected(phrase!(LANG_STATEMENT_A_COMMA_OR)));
        }
    }
    let unit = parser.bracket();
    parser.take(&Item::Equals).ok_or_else(|| parser.unexpected("`=`"))?;
    let value = parser.expression()?;
    Ok(Function { name, parameters, unit, value })
}

fn keep(parser: &mut Parser) -> Read<Keep> {
    parser.next();
    let subject = parser.expression()?;
    let bound = if parser.take_word("below").is_some() {
        KeepBound::Below(parser.expression()?)
    } else if parser.take_word("above").is_some() {
        KeepBound::Above(parser.expression()?)
    } else if parser.take_word("between").is_some() {
        // `and` also joins conditions; between two bounds it can only be the separator.
        let low = parser.bound()?;
        let and = Item::Operator(super::ast::BinaryOp::And);
        parser.take(&and).ok_or_else(|| parser.unexpected("`and`"))?;
        KeepBound::Between(low, parser.bound()?)
    } else if parser.take_word("within").is_some() {
        rating(parser)?
    } else if parser.at_end() || matches!(parser.peek(), Some(Item::Text(_))) {
        KeepBound::True
    } else {
        return Err(parser
            .unexpected(phrase!(LANG_STATEMENT_BELOW_ABOVE_OR_BETWEEN))
            .help(phrase!(LANG_STATEMENT_A_REQUIREMENT_READS_OR)));
    };
    Ok(Keep { subject, bound })
}

/// `agree I_b with I(R_b) within 1 %`.
fn agree(parser: &mut Parser) -> Read<Keep> {
    const FORM: Word<0> = key::LANG_STATEMENT_IT_READS_AGREE_I_B;
    parser.next();
    let subject = parser.expression()?;
    parser.take_word("with").ok_or_else(|| parser.unexpected("`with`").help(FORM))?;
    let with = parser.expression()?;
    parser.take_word("within").ok_or_else(|| parser.unexpected("`within`").help(FORM))?;
    let Some(Item::Quantity(within)) = parser.peek().cloned() else {
        return Err(parser.unexpected(phrase!(LANG_STATEMENT_HOW_FAR_OFF_IT_MAY)).help(FORM));
    };
    parser.next();
    Ok(Keep { subject, bound: KeepBound::Agree { with, within } })
}

/// `rating at I^2*R_t, 50 %`.
fn rating(parser: &mut Parser) -> Read<KeepBound> {
    const FORM: Word<0> = key::LANG_STATEMENT_IT_READS_KEEP_R_T;
    for word in ["rating", "at"] {
        parser.take_word(word).ok_or_else(|| parser.unexpected("`rating at`").help(FORM))?;
    }
    let at = parser.expression()?;
    if parser.take(&Item::Comma).is_none() {
        return Ok(KeepBound::Rating { at, derating: None });
    }
    let Some(Item::Quantity(derating)) = parser.peek().cloned() else {
        return Err(parser.unexpected(phrase!(LANG_STATEMENT_THE_PART_OF_THE_RATING)).help(FORM));
    };
    parser.next();
    Ok(KeepBound::Rating { at, derating: Some(derating) })
}

fn correlation(parser: &mut Parser) -> Read<Correlation> {
    parser.next();
    parser.next();
    let first = parser.name(phrase!(LANG_STATEMENT_A_GIVENS_NAME))?;
    parser.take(&Item::Comma).ok_or_else(|| parser.unexpected(phrase!(SHARED_A_COMMA)))?;
    let second = parser.name(phrase!(LANG_STATEMENT_A_GIVENS_NAME))?;
    parser.take(&Item::Close).ok_or_else(|| parser.unexpected("`)`"))?;
    parser.take(&Item::Equals).ok_or_else(|| parser.unexpected("`=`"))?;
    let coefficient = parser.expression()?;
    Ok(Correlation { first, second, coefficient })
}

/// Reads `line` with `read` and wants nothing behind it.
pub(crate) fn whole<T>(line: Line, read: impl FnOnce(&mut Parser) -> Read<T>) -> Result<T, Problem> {
    if let Some(problem) = line.problems.first() {
        return Err(problem.clone());
    }
    let mut parser = Parser::new(line);
    let item = read(&mut parser)?;
    if parser.at_end() { Ok(item) } else { Err(parser.left_over()) }
}
