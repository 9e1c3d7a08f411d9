//! The lines of a `builds` block: `build "timer chip": C_t = 22 µF -20 % +50 %, without @Q1` and `compare t_on, cost(100)`. What
//! stands behind a change, up to the next one, is read as in a `parts` block.

use std::collections::HashSet;

use benchleaf_words::{Word, key, phrase};

use super::{
    bench,
    parts::{PartLine, traits},
};
use crate::{
    lang::{
        Item, Line, Parser,
        ast::{Definition, Expr},
        definition, lines, whole,
    },
    problem::{Code, Problem},
    span::{Span, Spanned},
};

type Read<T> = Result<T, Problem>;

/// A `builds` block as read.
#[derive(Clone, Debug, Default)]
pub struct BuildsBlock {
    /// The builds, in order.
    pub builds: Vec<BuildLine>,
    /// What is compared, in order.
    pub compared: Vec<CompareRequest>,
    /// Whether a line of it did not read.
    pub broken: bool,
}

/// `build "timer chip": C_t = 22 µF -20 % +50 %, without @Q1`.
#[derive(Clone, Debug)]
pub struct BuildLine {
    /// What it is called.
    pub name: Spanned<String>,
    /// What it changes, in order.
    pub changes: Vec<BuildChange>,
    /// Where the line stands.
    pub span: Span,
}

/// One change of a build.
#[derive(Clone, Debug)]
pub enum BuildChange {
    /// Another value, with ratings and prices where they change too.
    Value(Box<Definition>, PartLine),
    /// A part without a value that is another one: `K_pump = rated 10 A, 2 EUR`.
    Rated(PartLine),
    /// A part that is added.
    With(PartLine),
    /// A part that is left out, by its designator or its name.
    Without(Spanned<String>),
}

/// What is compared.
#[derive(Clone, Debug)]
pub struct CompareRequest {
    /// A value or a formula.
    pub subject: Expr,
    /// What the reader sees.
    pub label: Option<String>,
}

/// How a build is written.
const FORM: Word<0> = key::SHEET_BUILDS_A_BUILD_READS;

/// Reads a `builds` block; `names` holds what is defined above.
pub(super) fn read(source: &str, content: Span, names: &HashSet<String>, problems: &mut Vec<Problem>) -> BuildsBlock {
    let mut block = BuildsBlock::default();
    for span in bench::statements(source, content) {
        let text = span.text(source);
        let read = match text.split(|c: char| !c.is_alphanumeric() && c != '_').next() {
            Some("build") => build(source, span, names).map(|line| block.builds.push(line)),
            Some("compare") => compared(source, span).map(|found| block.compared.extend(found)),
            _ => Err(Problem::new(Code::Build, span, phrase!(SHEET_BUILDS_A_LINE_BEGINS_WITH_OR)).help(FORM)),
        };
        if let Err(problem) = read {
            block.broken = true;
            problems.push(problem);
        }
    }
    block
}

fn build(source: &str, span: Span, names: &HashSet<String>) -> Read<BuildLine> {
    let behind = Span::new(span.start + "build".len(), span.end);
    let text = behind.text(source);
    let open = text.len() - text.trim_start().len();
    let closing = text.get(open + 1..).and_then(|rest| Some(open + 1 + rest.find('"')?));
    let Some(close) =
        closing.filter(|close| text[open..].starts_with('"') && !text[open + 1..*close].trim().is_empty())
    else {
        return Err(Problem::new(Code::Build, span, phrase!(SHEET_BUILDS_A_BUILD_HAS_A_NAME)).help(FORM));
    };
    let name = Spanned {
        item: text[open + 1..close].trim().to_owned(),
        span: Span::new(behind.start + open, behind.start + close + 1),
    };
    let rest = &text[close + 1..];
    let changes = match rest.trim_start().strip_prefix(':') {
        Some(changes) => changes,
        None if rest.trim().is_empty() => "",
        None => {
            let at = Span::new(name.span.end, span.end);
            return Err(Problem::new(Code::Build, at, phrase!(SHEET_BUILDS_A_COLON_STANDS_BETWEEN)).help(FORM));
        }
    };
    let changes = Span::new(span.end - changes.len(), span.end);
    let Some(line) = lines(source, changes).into_iter().next() else {
        return Ok(BuildLine { name, changes: Vec::new(), span });
    };
    let changes = whole(line, |parser| changes_of(parser, names)).map_err(as_build)?;
    Ok(BuildLine { name, changes, span })
}

fn as_build(problem: Problem) -> Problem {
    match problem.code {
        Code::Syntax => Problem { code: Code::Build, ..problem }.help(FORM),
        _ => problem,
    }
}

fn changes_of(parser: &mut Parser, names: &HashSet<String>) -> Read<Vec<BuildChange>> {
    let mut changes = Vec::new();
    loop {
        let start = parser.here();
        if parser.take_word("without").is_some() {
            changes.push(BuildChange::Without(left_out(parser)?));
            // `without @Q1 @Q2`
            while let Some(Item::Designator(_)) = parser.peek() {
                changes.push(BuildChange::Without(left_out(parser)?));
            }
        } else if parser.take_word("with").is_some() {
            let part = part(parser, start)?;
            if part.label.is_none() && part.designators.is_empty() {
                return Err(Problem::new(Code::Build, start, phrase!(SHEET_BUILDS_THE_PART_THAT_IS_ADDED)).help(FORM));
            }
            changes.push(BuildChange::With(part));
        } else if parser.peek_at(1) == Some(&Item::Equals) && parser.rated_ahead() {
            let name = parser.name(phrase!(SHARED_A_NAME))?;
            parser.next();
            parser.next();
            changes.push(BuildChange::Rated(PartLine { name: Some(name), ..part(parser, start)? }));
        } else {
            let definition = definition(parser, names)?;
            if !definition.is_given() {
                let message = phrase!(SHEET_BUILDS_A_BUILD_GIVES_ANOTHER_NUMBER);
                return Err(Problem::new(Code::Build, definition.value.span, message)
                    .help(phrase!(SHEET_BUILDS_WORK_IT_OUT_AND_WRITE)));
            }
            let part = part(parser, start)?;
            changes.push(BuildChange::Value(Box::new(definition), part));
        }
        if parser.take(&Item::Comma).is_none() {
            return Ok(changes);
        }
    }
}

fn left_out(parser: &mut Parser) -> Read<Spanned<String>> {
    if let Some(Item::Designator(designator)) = parser.peek().cloned() {
        let span = parser.here();
        parser.next();
        return Ok(Spanned { item: format!("@{designator}"), span });
    }
    parser.name(phrase!(SHARED_THE_DESIGNATOR_OF_A_PART))
}

/// Ratings, prices, label and designators; the part begins at `start`.
fn part(parser: &mut Parser, start: Span) -> Read<PartLine> {
    let mut part = PartLine::default();
    traits(parser, &mut part)?;
    part.span = start.to(parser.behind());
    Ok(part)
}

fn compared(source: &str, span: Span) -> Read<Vec<CompareRequest>> {
    const FORM: Word<0> = key::SHEET_BUILDS_IT_READS_COMPARE_T_ON;
    let behind = Span::new(span.start + "compare".len(), span.end);
    let line: Line = lines(source, behind).into_iter().next().unwrap_or_default();
    if line.tokens.is_empty() {
        return Err(Problem::new(Code::Build, span, phrase!(SHEET_BUILDS_NOTHING_IS_NAMED)).help(FORM));
    }
    whole(line, |parser| {
        let mut compared = Vec::new();
        loop {
            compared.push(CompareRequest { subject: parser.expression()?, label: parser.label() });
            if parser.take(&Item::Comma).is_none() {
                return Ok(compared);
            }
        }
    })
    .map_err(|problem| match problem.code {
        Code::Syntax => Problem { code: Code::Build, ..problem }.help(FORM),
        _ => problem,
    })
}

impl Parser {
    fn rated_ahead(&self) -> bool {
        matches!(self.peek_at(2), Some(Item::Word(word)) if word == "rated")
    }
}
