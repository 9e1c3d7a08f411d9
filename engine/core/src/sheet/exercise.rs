//! The statements of an `exercise` block.

use benchleaf_words::{Phrase, Word, key, phrase};

use crate::{
    lang::{
        Item, Parser,
        ast::{Expr, Node, Quantity, UnaryOp},
        lines, whole,
    },
    preferred::Series,
    problem::{Code, Problem},
    span::{Span, Spanned},
};

/// An exercise: what is asked, what is right, and what commonly goes wrong.
#[derive(Clone, Debug, Default)]
pub struct Exercise {
    /// Its name, behind the block's word; absent where it has none that can be one.
    pub name: Option<Spanned<String>>,
    /// The question, a paragraph each; the spans hold Markdown.
    pub ask: Vec<Span>,
    /// What is right.
    pub answer: Option<AnswerRequest>,
    /// Known mistakes.
    pub slips: Vec<SlipRequest>,
    /// Hints, in the order in which a learner takes them; the spans hold Markdown.
    pub hints: Vec<Span>,
    /// What a right answer earns; 1 where nothing is said.
    pub points: Option<f64>,
    /// The givens that differ from learner to learner.
    pub varies: Vec<VaryRequest>,
    /// Whether a line of it did not read.
    pub broken: bool,
}

/// `answer [kΩ] = R_t within 2 %`.
#[derive(Clone, Debug)]
pub struct AnswerRequest {
    /// The unit that it is asked in.
    pub unit: Option<Spanned<String>>,
    /// What it comes to.
    pub value: Expr,
    /// How far off it may be.
    pub within: Option<Quantity>,
    /// Where the line stands.
    pub span: Span,
}

/// `slip "used ln 2 for ln 3" = R_t * C_t * ln(2)`.
#[derive(Clone, Debug)]
pub struct SlipRequest {
    /// What was done wrong.
    pub name: String,
    /// Its result.
    pub value: Expr,
    /// Where the line stands.
    pub span: Span,
}

/// `vary R_t in 100 kΩ … 1 MΩ E24`.
#[derive(Clone, Debug)]
pub struct VaryRequest {
    /// The given.
    pub given: Spanned<String>,
    /// Least value: a literal, with a minus or without.
    pub low: Expr,
    /// Greatest value, likewise.
    pub high: Expr,
    /// The series that the values are of.
    pub series: Option<Spanned<String>>,
    /// Where the line stands.
    pub span: Span,
}

enum ExerciseLine {
    Ask(Span),
    Answer(AnswerRequest),
    Slip(SlipRequest),
    Hint(Span),
    Points(Quantity),
    Vary(VaryRequest),
}

type Read<T> = Result<T, Problem>;

/// Reads an `exercise` block; `behind` is what stands behind its word.
pub(super) fn read(source: &str, behind: Span, content: Span, problems: &mut Vec<Problem>) -> Exercise {
    let mut exercise = Exercise::default();
    match name(source, behind) {
        Ok(name) => exercise.name = Some(name),
        Err(problem) => problems.push(problem),
    }
    for line in lines(source, content) {
        let span = line.span;
        let read =
            whole(line, |parser| statement(parser, span, source)).and_then(|line| take(&mut exercise, line, span));
        if let Err(problem) = read {
            exercise.broken = true;
            problems.push(problem);
        }
    }
    // Where a line did not read, it may be the one that seems to be missing.
    if !exercise.broken {
        problems.extend(missing(&exercise, behind));
    }
    exercise
}

fn take(exercise: &mut Exercise, line: ExerciseLine, span: Span) -> Read<()> {
    match line {
        ExerciseLine::Ask(text) => exercise.ask.push(text),
        ExerciseLine::Hint(text) => exercise.hints.push(text),
        ExerciseLine::Slip(slip) => exercise.slips.push(slip),
        ExerciseLine::Vary(vary) => {
            if exercise.varies.iter().any(|other| other.given.item == vary.given.item) {
                let message = phrase!(SHEET_EXERCISE_VARIES_ALREADY, given = vary.given.item);
                return Err(Problem::new(Code::Exercise, vary.given.span, message)
                    .help(phrase!(SHEET_EXERCISE_ONE_SPAN_A_GIVEN)));
            }
            exercise.varies.push(vary);
        }
        ExerciseLine::Answer(answer) => {
            if exercise.answer.is_some() {
                let message = phrase!(SHEET_EXERCISE_THE_EXERCISE_HAS_AN_ANSWER);
                return Err(
                    Problem::new(Code::Exercise, span, message).help(phrase!(SHEET_EXERCISE_ASK_ONE_THING_AN_EXERCISE))
                );
            }
            exercise.answer = Some(answer);
        }
        ExerciseLine::Points(points) => {
            if points.unit.is_some() || !(0.0..=MOST_POINTS).contains(&points.number) {
                let message = phrase!(SHEET_EXERCISE_POINTS_ARE_A_PLAIN_NUMBER, most_points = MOST_POINTS);
                return Err(
                    Problem::new(Code::Exercise, points.span, message).help(phrase!(SHEET_EXERCISE_WRITE_POINTS))
                );
            }
            exercise.points = Some(points.number);
        }
    }
    Ok(())
}

fn missing(exercise: &Exercise, behind: Span) -> Option<Problem> {
    let (message, help) = match (exercise.ask.is_empty(), exercise.answer.is_none()) {
        (false, false) => return None,
        (true, _) => (phrase!(SHEET_EXERCISE_THE_EXERCISE_ASKS_NOTHING), phrase!(SHEET_EXERCISE_ADD_A_LINE)),
        (false, true) => {
            (phrase!(SHEET_EXERCISE_THE_EXERCISE_HAS_NO_ANSWER), phrase!(SHEET_EXERCISE_ADD_A_LINE_SUCH_AS_ANSWER))
        }
    };
    Some(Problem::new(Code::Exercise, behind, message).help(help))
}

/// The name behind the block's word: as that of a value.
fn name(source: &str, behind: Span) -> Read<Spanned<String>> {
    const FORM: Word<0> = key::SHEET_EXERCISE_THE_BLOCK_BEGINS;
    let Some(line) = lines(source, behind).into_iter().next() else {
        return Err(Problem::new(Code::Exercise, behind, phrase!(SHEET_EXERCISE_THE_EXERCISE_HAS_NO_NAME)).help(FORM));
    };
    let refused = |problem: Problem| Problem { code: Code::Exercise, ..problem }.help(FORM);
    whole(line, |parser| parser.name(phrase!(SHEET_EXERCISE_THE_EXERCISES_NAME))).map_err(refused)
}

fn statement(parser: &mut Parser, span: Span, source: &str) -> Read<ExerciseLine> {
    for (word, line) in [("ask", ExerciseLine::Ask as fn(Span) -> ExerciseLine), ("hint", ExerciseLine::Hint)] {
        if parser.take_word(word).is_some() {
            return quoted(parser, source).map(line);
        }
    }
    if parser.take_word("answer").is_some() {
        let unit = parser.bracket();
        equals(parser, phrase!(SHEET_EXERCISE_IT_READS_ANSWER_K_R))?;
        let value = parser.expression()?;
        let within = if parser.take_word("within").is_some() { Some(quantity(parser, "2 %")?) } else { None };
        return Ok(ExerciseLine::Answer(AnswerRequest { unit, value, within, span }));
    }
    if parser.take_word("slip").is_some() {
        const FORM: Word<0> = key::SHEET_EXERCISE_IT_READS_SLIP_USED_LN;
        let name = parser.label().filter(|name| !name.is_empty());
        let name =
            name.ok_or_else(|| parser.unexpected(phrase!(SHEET_EXERCISE_THE_SLIPS_NAME_BETWEEN_QUOTES)).help(FORM))?;
        equals(parser, FORM)?;
        return Ok(ExerciseLine::Slip(SlipRequest { name, value: parser.expression()?, span }));
    }
    if parser.take_word("points").is_some() {
        return Ok(ExerciseLine::Points(quantity(parser, "2")?));
    }
    if parser.take_word("vary").is_some() {
        return vary(parser, span).map(ExerciseLine::Vary);
    }
    let wanted = phrase!(SHEET_EXERCISE_ASK_ANSWER_SLIP_HINT_POINTS);
    Err(parser.unexpected(wanted).help(phrase!(SHEET_EXERCISE_AN_EXERCISE_READS)))
}

/// The text between quotes, blanks at its ends left out.
fn quoted(parser: &mut Parser, source: &str) -> Read<Span> {
    let span = parser.here();
    let missing = parser.unexpected(phrase!(SHARED_A_TEXT_BETWEEN_QUOTES));
    parser.label().filter(|text| !text.is_empty()).ok_or(missing)?;
    let inner = Span::new(span.start + 1, span.end.saturating_sub(1));
    let text = inner.text(source);
    let start = inner.start + text.len() - text.trim_start().len();
    Ok(Span::new(start, start + text.trim().len()))
}

fn equals(parser: &mut Parser, form: impl Into<Phrase>) -> Read<()> {
    parser.take(&Item::Equals).map(|_| ()).ok_or_else(|| parser.unexpected("`=`").help(form))
}

fn quantity(parser: &mut Parser, example: &str) -> Read<Quantity> {
    let Some(Item::Quantity(quantity)) = parser.peek().cloned() else {
        return Err(parser.unexpected(phrase!(SHEET_EXERCISE_A_NUMBER_SUCH_AS, example = example)));
    };
    parser.next();
    Ok(quantity)
}

fn vary(parser: &mut Parser, span: Span) -> Read<VaryRequest> {
    const FORM: Word<0> = key::SHEET_EXERCISE_IT_READS_VARY_R_T;
    let given = parser.name(phrase!(SHARED_THE_NAME_OF_A_GIVEN))?;
    parser.take_word("in").ok_or_else(|| parser.unexpected("`in`").help(FORM))?;
    let low = parser.signed_quantity()?;
    parser.take(&Item::Ellipsis).ok_or_else(|| parser.unexpected("`…`").help(FORM))?;
    let mut high = parser.signed_quantity()?;
    let series = match parser.peek() {
        Some(Item::Word(_)) => Some(parser.name(phrase!(SHARED_A_SERIES_OF_PREFERRED_VALUES))?),
        // Behind a plain number the series looks like its unit.
        _ => literal_mut(&mut high).and_then(|high| high.unit.take_if(|unit| Series::named(&unit.item).is_some())),
    };
    Ok(VaryRequest { given, low, high, series, span })
}

fn literal_mut(expr: &mut Expr) -> Option<&mut Quantity> {
    match &mut expr.node {
        Node::Quantity(quantity) => Some(quantity),
        Node::Unary(UnaryOp::Negate, inner) => literal_mut(inner),
        _ => None,
    }
}

/// More would be a slip of the author's.
const MOST_POINTS: f64 = 1000.0;
