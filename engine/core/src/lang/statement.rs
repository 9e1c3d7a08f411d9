//! The statements of a `calc` block: definitions, functions of the worksheet's own, requirements and correlations.

use std::collections::HashSet;

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
        return Err(Problem::new(Code::Syntax, whole, "nothing is written here").help("type a number and a unit"));
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
    const FORM: &str = "it reads `use \"timing.md\": t_on, R_t as R_timing`";
    parser.next();
    let at = parser.here();
    let Some(path) = parser.label() else {
        return Err(parser.unexpected("the path of a worksheet, in quotation marks").help(FORM));
    };
    let path = Spanned { item: path, span: at };
    parser.take(&Item::Colon).ok_or_else(|| parser.unexpected("`:`").help(FORM))?;
    let mut values = Vec::new();
    loop {
        let name = parser.name("the name of a value").map_err(|problem| problem.help(FORM))?;
        let field = match parser.take(&Item::Dot) {
            Some(_) => Some(parser.name("the name of a field")?),
            None => None,
        };
        let here = match (parser.take_word("as"), &field) {
            (Some(_), _) => parser.name("its name in this worksheet")?,
            (None, None) => name.clone(),
            (None, Some(field)) => {
                let message = format!("`{}.{}` needs a name in this worksheet", name.item, field.item);
                let help = format!("write {}.{} as {}", name.item, field.item, field.item);
                return Err(Problem::new(Code::Syntax, name.span.to(field.span), message).help(help));
            }
        };
        values.push(UsedValue { name, field, here });
        if parser.take(&Item::Comma).is_none() {
            break;
        }
    }
    if let (Some(Item::Text(_)), [_, .., _]) = (parser.peek(), values.as_slice()) {
        let message = "a label is for one value, and here are several";
        return Err(Problem::new(Code::Syntax, parser.here(), message)
            .help("leave it out: each value brings its own; or write a `use` line for this value alone"));
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
        name = Some(parser.name("a name")?);
        unit = parser.bracket();
        parser.next();
    }
    if parser.take_word("solve").is_some() {
        return Ok(Some(StatementBody::Solve(Box::new(solve(parser, name, unit)?))));
    }
    if let Some(unit) = unit {
        let message = "a choice of several parts has no unit of its own";
        return Err(Problem::new(Code::Syntax, unit.span, message).help("leave the unit out"));
    }
    parser.next();
    Ok(Some(StatementBody::Choose(Box::new(choose(parser, name)?))))
}

fn solve(parser: &mut Parser, name: Option<Spanned<String>>, unit: Option<Spanned<String>>) -> Read<Solve> {
    const FORM: &str = "it reads `solve R_t so that t_on = 5 s from 15 kΩ to 250 kΩ`";
    let given = parser.name("the name of a given")?;
    so_that(parser, FORM)?;
    let left = parser.expression()?;
    parser.take(&Item::Equals).or_else(|| parser.take_word("is")).ok_or_else(|| parser.unexpected("`=`").help(FORM))?;
    let right = parser.expression()?;
    let (from, to) = span(parser)?.ok_or_else(|| parser.unexpected("the span to look in").help(FORM))?;
    Ok(Solve { name, unit, given, left, right, from, to })
}

fn choose(parser: &mut Parser, name: Option<Spanned<String>>) -> Read<Choose> {
    const FORM: &str = "it reads `choose E24 for R_a, R_b so that f is 1 kHz`";
    let series = parser.name("a series of preferred values")?;
    parser.take_word("for").ok_or_else(|| parser.unexpected("`for`").help(FORM))?;
    let mut givens = vec![parser.name("the name of a given")?];
    while parser.take(&Item::Comma).is_some() {
        givens.push(parser.name("the name of a given")?);
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

fn so_that(parser: &mut Parser, form: &str) -> Read<()> {
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
    let name = parser.name("a name and =").map_err(|problem| {
        problem.help("a statement reads `name = value`, `keep X below Y` or `correlation(a, b) = r`")
    })?;
    let unit = parser.bracket();
    if parser.take(&Item::Equals).is_none() {
        let shown = name.item.clone();
        if let (Some(Item::Word(next)), Some(Item::Equals)) = (parser.peek(), parser.peek_at(1)) {
            let message = format!("`{shown}` has no place before a definition");
            return Err(Problem::new(Code::Syntax, name.span, message).help(format!("leave it out: {next} = …")));
        }
        if let (Some(Item::Operator(BinaryOp::Subtract)), Some(Item::Word(rest)), Some(Item::Equals)) =
            (parser.peek(), parser.peek_at(1), parser.peek_at(2))
        {
            let message = format!("`{shown}-{rest}` is a difference, not a name");
            let help = format!("a name is made of letters, digits and _: {shown}_{rest} = …");
            return Err(Problem::new(Code::Syntax, name.span.to(parser.here()), message).help(help));
        }
        return Err(parser
            .unexpected("`=`")
            .help(format!("define a value as `{shown} = …`; to show one in prose write {{{shown}}}")));
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
        let message = "the tolerance stands before its value";
        return Err(Problem::new(Code::Tolerance, parser.here(), message).help("write the value first: 220 Ω ± 5 %"));
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
    let name = parser.name("a function's name")?;
    parser.next();
    let mut parameters: Vec<Spanned<String>> = Vec::new();
    while parser.take(&Item::Close).is_none() {
        let parameter = parser.name("a parameter's name")?;
        if parameters.iter().any(|other| other.item == parameter.item) {
            let message = format!("`{}` is a parameter twice", parameter.item);
            return Err(Problem::new(Code::Redefined, parameter.span, message));
        }
        parameters.push(parameter);
        if parser.take(&Item::Comma).is_none() && parser.peek() != Some(&Item::Close) {
            return Err(parser.unexpected("a comma or `)`"));
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
            .unexpected("`below`, `above` or `between`")
            .help("a requirement reads `keep X below Y`, `keep X above Y` or `keep X between Y and Z`"));
    };
    Ok(Keep { subject, bound })
}

/// `agree I_b with I(R_b) within 1 %`.
fn agree(parser: &mut Parser) -> Read<Keep> {
    const FORM: &str = "it reads `agree I_b with I(R_b) within 1 %`";
    parser.next();
    let subject = parser.expression()?;
    parser.take_word("with").ok_or_else(|| parser.unexpected("`with`").help(FORM))?;
    let with = parser.expression()?;
    parser.take_word("within").ok_or_else(|| parser.unexpected("`within`").help(FORM))?;
    let Some(Item::Quantity(within)) = parser.peek().cloned() else {
        return Err(parser.unexpected("how far off it may be, such as 1 %").help(FORM));
    };
    parser.next();
    Ok(Keep { subject, bound: KeepBound::Agree { with, within } })
}

/// `rating at I^2*R_t, 50 %`.
fn rating(parser: &mut Parser) -> Read<KeepBound> {
    const FORM: &str = "it reads `keep R_t within rating at I^2*R_t, 50 %`";
    for word in ["rating", "at"] {
        parser.take_word(word).ok_or_else(|| parser.unexpected("`rating at`").help(FORM))?;
    }
    let at = parser.expression()?;
    if parser.take(&Item::Comma).is_none() {
        return Ok(KeepBound::Rating { at, derating: None });
    }
    let Some(Item::Quantity(derating)) = parser.peek().cloned() else {
        return Err(parser.unexpected("the part of the rating, such as 50 %").help(FORM));
    };
    parser.next();
    Ok(KeepBound::Rating { at, derating: Some(derating) })
}

fn correlation(parser: &mut Parser) -> Read<Correlation> {
    parser.next();
    parser.next();
    let first = parser.name("a given's name")?;
    parser.take(&Item::Comma).ok_or_else(|| parser.unexpected("a comma"))?;
    let second = parser.name("a given's name")?;
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
