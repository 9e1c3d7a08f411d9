//! The lines of a `bench` block: dated readings, files of readings, what the instrument is good for, and values that the
//! readings are to be fitted to.

use benchleaf_words::{Phrase, Word, key, phrase};

use crate::{
    day::Day,
    lang::{
        Item, Parser,
        ast::{Bounds, Distribution, Expr, Quantity},
        lines, whole,
    },
    problem::{Code, Problem},
    span::{Span, Spanned},
};

/// Readings of a value on the bench.
#[derive(Clone, Debug, Default)]
pub struct Bench {
    /// The value that was read, behind the block's word.
    pub subject: Option<Spanned<String>>,
    /// How it was read.
    pub label: Option<String>,
    /// The readings that stand in the block.
    pub dated: Vec<DatedReadings>,
    /// The files that readings are taken from.
    pub files: Vec<ReadingsFile>,
    /// What the instrument is good for; several add up as independent parts.
    pub instruments: Vec<Instrument>,
    /// The givens that are found from readings.
    pub fits: Vec<FitRequest>,
}

/// `2026-11-25: 23.1 s, 22.8 s "after the change"`.
#[derive(Clone, Debug)]
pub struct DatedReadings {
    /// The day; absent where what stands there is none.
    pub day: Option<Day>,
    /// The readings: literals, with a minus or without.
    pub readings: Vec<Expr>,
    /// What the reader sees beside them.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
}

/// `from "log.csv" column "t_on / s" date "day"`.
#[derive(Clone, Debug)]
pub struct ReadingsFile {
    /// The file, by its path relative to the worksheet.
    pub path: Spanned<String>,
    /// The head of the column of readings.
    pub column: Spanned<String>,
    /// The head of the column of dates, where it is not `date`.
    pub date: Option<Spanned<String>>,
    /// Where the line stands.
    pub span: Span,
}

/// `instrument ± 0.2 s normal(2) "resolution"`.
#[derive(Clone, Debug)]
pub struct Instrument {
    /// How far a reading may be off.
    pub half: Quantity,
    /// How it is spread between.
    pub distribution: Distribution,
    /// Degrees of freedom, where they are known.
    pub degrees: Option<f64>,
    /// What it is.
    pub label: Option<String>,
}

/// `fit C_t from t_on`.
#[derive(Clone, Debug)]
pub struct FitRequest {
    /// The givens that are found.
    pub givens: Vec<Spanned<String>>,
    /// The values whose readings they are found from.
    pub from: Vec<Spanned<String>>,
    /// Where the line stands.
    pub span: Span,
}

type Read<T> = Result<T, Problem>;

/// Reads a `bench` block; `behind` is what stands behind its word.
pub(super) fn read(source: &str, behind: Span, content: Span, problems: &mut Vec<Problem>) -> Bench {
    let mut bench = Bench::default();
    match head(source, behind) {
        Ok((subject, label)) => (bench.subject, bench.label) = (Some(subject), label),
        Err(problem) => problems.push(problem),
    }
    let reported = problems.len();
    for span in statements(source, content) {
        let read = if span.text(source).starts_with(|c: char| c.is_ascii_digit()) {
            dated(source, span, problems).map(|readings| bench.dated.push(readings))
        } else {
            statement_of(source, span, &mut bench)
        };
        problems.extend(read.err());
    }
    let nothing = bench.dated.is_empty() && bench.files.is_empty() && bench.fits.is_empty();
    if nothing && problems.len() == reported {
        let problem = Problem::new(Code::Bench, behind, phrase!(SHEET_BENCH_THE_BENCH_HOLDS_NO_READING));
        problems.push(problem.help(phrase!(SHEET_BENCH_A_READING_HAS_ITS_DATE, dated = DATED)));
    }
    bench
}

/// The paths of the files that a bench takes readings from.
pub(super) fn paths(source: &str, behind: Span, content: Span) -> Vec<String> {
    let bench = read(source, behind, content, &mut Vec::new());
    bench.files.into_iter().map(|file| file.path.item).collect()
}

/// The value behind the block's word, with its label.
fn head(source: &str, behind: Span) -> Read<(Spanned<String>, Option<String>)> {
    const FORM: Word<0> = key::SHEET_BENCH_THE_BLOCK_BEGINS;
    let Some(line) = lines(source, behind).into_iter().next() else {
        return Err(Problem::new(Code::Bench, behind, phrase!(SHEET_BENCH_THE_BENCH_NAMES_NO_VALUE)).help(FORM));
    };
    let read = whole(line, |parser| Ok((value_name(parser)?, parser.label())));
    read.map_err(|problem| Problem { code: Code::Bench, ..problem }.help(FORM))
}

/// A value's name, with a dot for a field.
pub(super) fn value_name(parser: &mut Parser) -> Read<Spanned<String>> {
    let mut name = parser.name(phrase!(SHARED_THE_NAME_OF_A_VALUE))?;
    while parser.take(&Item::Dot).is_some() {
        let field = parser.name(phrase!(SHARED_A_FIELD))?;
        name = Spanned { item: format!("{}.{}", name.item, field.item), span: name.span.to(field.span) };
    }
    Ok(name)
}

/// Where each statement stands: a line that ends in a comma goes on.
pub(super) fn statements(source: &str, content: Span) -> Vec<Span> {
    let mut statements: Vec<Span> = Vec::new();
    let (mut at, mut goes_on) = (content.start, false);
    for line in content.text(source).split_inclusive('\n') {
        let said = without_comment(line).trim_end();
        let start = at + said.len() - said.trim_start().len();
        let span = Span::new(start, at + said.len());
        at += line.len();
        if said.trim_start().is_empty() {
            continue;
        }
        match statements.last_mut() {
            Some(last) if goes_on => *last = last.to(span),
            _ => statements.push(span),
        }
        goes_on = said.ends_with(',');
    }
    statements
}

fn without_comment(line: &str) -> &str {
    let mut quoted = false;
    let end = line.find(|c: char| {
        quoted ^= c == '"';
        c == '#' && !quoted
    });
    &line[..end.unwrap_or(line.len())]
}

/// `2026-11-25: 23.1 s, 22.8 s "after the change"`. A date that cannot be one is reported; what was read stands.
fn dated(source: &str, span: Span, problems: &mut Vec<Problem>) -> Read<DatedReadings> {
    let text = span.text(source);
    let Some(colon) = text.find(':') else {
        return Err(Problem::new(Code::Bench, span, phrase!(SHEET_BENCH_A_READING_HAS_ITS_DATE_BEFORE)).help(DATED));
    };
    let date = Span::new(span.start, span.start + text[..colon].trim_end().len());
    let day = Day::parse(date.text(source)).filter(|_| date.text(source).len() == "2026-11-25".len());
    if day.is_none() {
        let message = phrase!(SHEET_BENCH_IS_NOT_A_DATE, date = date.text(source));
        problems.push(Problem::new(Code::Bench, date, message).help(phrase!(SHEET_BENCH_WRITE_IT_AS_YEAR_MONTH)));
    }
    let behind = Span::new(span.start + colon + 1, span.end);
    let Some(line) = lines(source, behind).into_iter().next() else {
        return Err(Problem::new(Code::Bench, span, phrase!(SHEET_BENCH_NO_READING_STANDS)).help(DATED));
    };
    let (readings, label) = whole(line, |parser| {
        let mut readings: Vec<Expr> = Vec::new();
        loop {
            readings.push(parser.signed_quantity().map_err(|problem| problem.help(DATED))?);
            if parser.take(&Item::Comma).is_none() {
                return Ok((readings, parser.label()));
            }
        }
    })?;
    Ok(DatedReadings { day, readings, label, span })
}

fn statement_of(source: &str, span: Span, bench: &mut Bench) -> Read<()> {
    let Some(line) = lines(source, span).into_iter().next() else { return Ok(()) };
    whole(line, |parser| {
        if parser.take_word("from").is_some() {
            bench.files.push(file(parser, span)?);
        } else if parser.take_word("instrument").is_some() {
            bench.instruments.push(instrument(parser)?);
        } else if parser.take_word("fit").is_some() {
            bench.fits.push(fit(parser, span)?);
        } else {
            let help = phrase!(SHEET_BENCH_A_LINE_BEGINS, dated = DATED);
            return Err(parser.unexpected(phrase!(SHEET_BENCH_A_DATE)).help(help));
        }
        Ok(())
    })
    .map_err(|problem| match problem.code {
        Code::Syntax => Problem { code: Code::Bench, ..problem },
        _ => problem,
    })
}

fn file(parser: &mut Parser, span: Span) -> Read<ReadingsFile> {
    const FORM: Word<0> = key::SHEET_BENCH_IT_READS_FROM_LOG_CSV;
    let path = quoted(parser, phrase!(SHARED_THE_FILES_NAME_BETWEEN_QUOTES), FORM)?;
    parser.take_word("column").ok_or_else(|| parser.unexpected("`column`").help(FORM))?;
    let column = quoted(parser, phrase!(SHEET_BENCH_THE_HEAD_OF_THE_COLUMN), FORM)?;
    let date = match parser.take_word("date") {
        Some(_) => Some(quoted(parser, phrase!(SHEET_BENCH_THE_HEAD_OF_THE_COLUMN_OF_DATES), FORM)?),
        None => None,
    };
    Ok(ReadingsFile { path, column, date, span })
}

fn quoted(parser: &mut Parser, wanted: impl Into<Phrase>, form: impl Into<Phrase>) -> Read<Spanned<String>> {
    let span = parser.here();
    let missing = parser.unexpected(wanted).help(form);
    let item = parser.label().filter(|text| !text.is_empty()).ok_or(missing)?;
    Ok(Spanned { item, span })
}

fn instrument(parser: &mut Parser) -> Read<Instrument> {
    const FORM: Word<0> = key::SHEET_BENCH_IT_READS_NORMAL_TRIANGULAR;
    let tolerance = parser.tolerance()?.ok_or_else(|| parser.unexpected("`±`").help(FORM))?;
    let Bounds::Symmetric(half) = tolerance.bounds else {
        let message = phrase!(SHEET_BENCH_AN_INSTRUMENT_IS_GOOD);
        return Err(Problem::new(Code::Bench, tolerance.span, message).help(FORM));
    };
    let (distribution, degrees) = (tolerance.distribution, tolerance.degrees);
    Ok(Instrument { half, distribution, degrees, label: parser.label() })
}

fn fit(parser: &mut Parser, span: Span) -> Read<FitRequest> {
    const FORM: Word<0> = key::SHEET_BENCH_IT_READS_OR;
    let names = |parser: &mut Parser| {
        let mut names: Vec<Spanned<String>> = Vec::new();
        loop {
            let name = value_name(parser).map_err(|problem| problem.help(FORM))?;
            if names.iter().any(|other| other.item == name.item) {
                return Err(Problem::new(
                    Code::Bench,
                    name.span,
                    phrase!(SHEET_BENCH_STANDS_HERE_TWICE, name = name.item),
                ));
            }
            names.push(name);
            if parser.take(&Item::Comma).is_none() {
                return Ok(names);
            }
        }
    };
    let givens = names(parser)?;
    parser.take_word("from").ok_or_else(|| parser.unexpected("`from`").help(FORM))?;
    Ok(FitRequest { givens, from: names(parser)?, span })
}

const DATED: &str = "2026-11-25: 23.1 s, 22.8 s";
