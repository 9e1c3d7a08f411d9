//! A worksheet as read: metadata, and the engine's blocks with their places in the Markdown. Prose and foreign code
//! blocks stay in the source. A worksheet is read in two looks: the first (`outline`) is at Markdown and metadata and gives a
//! [`Worksheet`]; the second (`read`) is at the language.

mod bench;
mod builds;
mod exercise;
#[cfg(feature = "markdown")]
pub mod headings;
pub mod inline;
#[cfg(feature = "markdown")]
mod metadata;
#[cfg(feature = "markdown")]
mod outline;
mod parts;
mod plot;
mod read;
mod rust;
#[cfg(feature = "markdown")]
pub mod surroundings;
mod worksheet;

pub use builds::{BuildChange, BuildLine, BuildsBlock, CompareRequest};
#[cfg(feature = "markdown")]
pub use metadata::SAMPLES;
#[cfg(feature = "markdown")]
pub use outline::{is_title, markdown, metadata_of, read};
pub use parts::{PartLine, PartsBlock};
pub use worksheet::{Carried, Edit, Fence, Inline, Part, Worksheet};

use std::collections::HashSet;

use crate::{
    day::Day,
    lang::{
        Item, Parser,
        ast::{Definition, Distribution, Expr, Quantity, Statement, StatementBody},
    },
    problem::Problem,
    span::{Span, Spanned},
};

/// The version of the language that this engine speaks.
pub const LANGUAGE: u32 = 1;

/// A worksheet as read.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// The metadata, defaults filled in.
    pub metadata: Metadata,
    /// Where the CommonMark begins: after the metadata, if any.
    pub body_start: usize,
    /// Fences and inline results as the Markdown has them.
    pub parts: Vec<Part>,
    /// The engine's blocks in reading order.
    pub blocks: Vec<Block>,
    /// The inline results of the prose (and of notes), in reading order.
    pub inlines: Vec<Spanned<InlineRequest>>,
    /// Files beside the worksheet that it carries with it.
    pub files: Vec<Carried>,
}

impl Sheet {
    /// The engine block whose fence starts at this byte, if one does.
    pub fn block_at(&self, start: usize) -> Option<(usize, &Block)> {
        let index = self.blocks.binary_search_by_key(&start, |block| block.span.start).ok()?;
        Some((index, &self.blocks[index]))
    }

    /// Every statement, in reading order.
    pub fn statements(&self) -> impl Iterator<Item = &Statement> {
        self.blocks.iter().flat_map(|block| block.body.statements())
    }

    /// The givens, in reading order: definitions whose right side is a literal. A name that is defined twice counts once.
    pub fn givens(&self) -> Vec<&Definition> {
        let mut givens: Vec<&Definition> = Vec::new();
        let statements = self.statements();
        let mut names = HashSet::new();
        for statement in statements {
            if let StatementBody::Definition(definition) = &statement.body
                && definition.is_given()
                && names.insert(definition.name.item.as_str())
            {
                givens.push(definition);
            }
        }
        givens
    }
}

/// The TOML metadata at the head of a worksheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Metadata {
    /// Title; the first heading where absent.
    pub title: Option<String>,
    /// One paragraph for index pages.
    pub summary: Option<String>,
    /// Who wrote it.
    pub author: Option<String>,
    /// When, as written.
    pub date: Option<String>,
    /// Monte Carlo samples.
    pub samples: u64,
    /// Seed of the random numbers.
    pub seed: u64,
    /// Significant digits shown.
    pub digits: u8,
    /// Version of the language.
    pub language: u32,
    /// Values wanted as constants of a program, as written.
    pub constants: Vec<Spanned<String>>,
    /// Its place among the worksheets of its folder, the least first.
    pub order: Option<u32>,
}

impl Default for Metadata {
    fn default() -> Self {
        Self {
            title: None,
            summary: None,
            author: None,
            date: None,
            samples: 10_000,
            seed: 1,
            digits: 3,
            language: LANGUAGE,
            constants: Vec::new(),
            order: None,
        }
    }
}

/// A fenced block that belongs to the engine.
#[derive(Clone, Debug)]
pub struct Block {
    /// From the opening fence to the end of the closing one.
    pub span: Span,
    /// The text between the fences.
    pub content: Span,
    /// What is in it.
    pub body: BlockBody,
}

/// What a block holds.
#[derive(Clone, Debug)]
pub enum BlockBody {
    /// Calculations.
    Calc(Vec<Statement>),
    /// Parts that are bought.
    Parts(PartsBlock),
    /// A safety note. Its text is the block's content (Markdown).
    Note(Note),
    /// Curves.
    Plot(Plot),
    /// A question with its answer.
    Exercise(Box<Exercise>),
    /// Readings of a value.
    Bench(Box<Bench>),
    /// Builds side by side.
    Builds(Box<BuildsBlock>),
    /// A calculation in Rust. Its text is the block's content.
    Rust(RustBlock),
}

impl BlockBody {
    /// The statements in it.
    pub fn statements(&self) -> &[Statement] {
        match self {
            BlockBody::Calc(statements) => statements,
            BlockBody::Parts(parts) => &parts.statements,
            _ => &[],
        }
    }
}

/// The words that open a block of the engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum BlockWord {
    Calc,
    Danger,
    Warning,
    Caution,
    Notice,
    Plot,
    Parts,
    Builds,
    Exercise,
    Bench,
    RustCalc,
}

impl BlockWord {
    /// Every word with its spelling.
    pub const TABLE: &'static [(BlockWord, &'static str)] = &[
        (BlockWord::Calc, "calc"),
        (BlockWord::Danger, "danger"),
        (BlockWord::Warning, "warning"),
        (BlockWord::Caution, "caution"),
        (BlockWord::Notice, "notice"),
        (BlockWord::Plot, "plot"),
        (BlockWord::Parts, "parts"),
        (BlockWord::Builds, "builds"),
        (BlockWord::Exercise, "exercise"),
        (BlockWord::Bench, "bench"),
        (BlockWord::RustCalc, "rust calc"),
    ];

    /// The word as written.
    pub fn text(self) -> &'static str {
        Self::TABLE.iter().find(|row| row.0 == self).map_or("", |row| row.1)
    }
}

/// A safety note.
#[derive(Clone, Debug)]
pub struct Note {
    /// Its signal word.
    pub signal: Signal,
    /// When it applies; always where absent.
    pub condition: Option<Expr>,
}

/// Signal words of ISO 3864-2; `notice`, for damage to property alone, is of ANSI Z535.6.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Signal {
    /// Will result in death or serious injury if not avoided.
    Danger,
    /// Could result in death or serious injury.
    Warning,
    /// Could result in minor or moderate injury.
    Caution,
    /// Damage to property alone.
    Notice,
}

impl Signal {
    /// The block word, in lower case.
    pub fn word(self) -> &'static str {
        match self {
            Signal::Danger => "danger",
            Signal::Warning => "warning",
            Signal::Caution => "caution",
            Signal::Notice => "notice",
        }
    }
}

/// A plot block.
#[derive(Clone, Debug, Default)]
pub struct Plot {
    /// Its title.
    pub title: Option<String>,
    /// The curves, in order.
    pub curves: Vec<CurveRequest>,
    /// The series drawn, in order.
    pub series: Vec<SeriesRequest>,
    /// The lines drawn across.
    pub bounds: Vec<BoundRequest>,
    /// `spread of t_on`.
    pub spreads: Vec<SpreadRequest>,
    /// `shares of t_on`.
    pub budgets: Vec<SpreadRequest>,
}

/// `spread of t_on [ms]`, `shares of t_on`.
#[derive(Clone, Debug)]
pub struct SpreadRequest {
    /// Of what.
    pub subject: Expr,
    /// Unit of the axis.
    pub unit: Option<Spanned<String>>,
    /// Where the line stands.
    pub span: Span,
}

/// `t_on [s] against R_t from 100 kΩ to 2 MΩ log`.
#[derive(Clone, Debug)]
pub struct CurveRequest {
    /// What is drawn.
    pub subject: Expr,
    /// Unit of the vertical axis.
    pub unit: Option<Spanned<String>>,
    /// The given that runs along the horizontal axis.
    pub against: Spanned<String>,
    /// Left end.
    pub from: Expr,
    /// Right end.
    pub to: Expr,
    /// Spacing along the horizontal axis.
    pub scale: Scale,
    /// What the reader sees in the legend.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
}

/// `v [V] against t [ms] "supply"`: one series of a Rust block against another.
#[derive(Clone, Debug)]
pub struct SeriesRequest {
    /// What is drawn.
    pub subject: Spanned<String>,
    /// Unit of the vertical axis.
    pub unit: Option<Spanned<String>>,
    /// What runs along the horizontal axis.
    pub against: Spanned<String>,
    /// Unit of the horizontal axis.
    pub against_unit: Option<Spanned<String>>,
    /// What the reader sees in the legend.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
}

/// `bound 30 s "flood"`.
#[derive(Clone, Debug)]
pub struct BoundRequest {
    /// Where the line is.
    pub value: Expr,
    /// What it says.
    pub label: Option<String>,
    /// Where it stands.
    pub span: Span,
}

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

/// What the fence of a Rust block says: `rust calc -> t_on [s], series v [V]`.
#[derive(Clone, Debug, Default)]
pub struct RustBlock {
    /// The values that it gives.
    pub outputs: Vec<RustResult>,
    /// The series that it gives.
    pub series: Vec<RustResult>,
    /// Whether the fence did not read.
    pub broken: bool,
}

impl RustBlock {
    /// Reads results behind the arrow, up to what is none.
    fn results(&mut self, parser: &mut Parser) -> Result<(), Problem> {
        loop {
            let series = parser.is_word("series") && matches!(parser.peek_at(1), Some(Item::Word(_)));
            if series {
                parser.next();
            }
            let name = parser.name("the name of a result")?;
            let result = RustResult { name, unit: parser.bracket(), label: parser.label() };
            if series { &mut self.series } else { &mut self.outputs }.push(result);
            if parser.take(&Item::Comma).is_none() {
                return Ok(());
            }
        }
    }
}

/// `t_on [s] "pulse length"`.
#[derive(Clone, Debug)]
pub struct RustResult {
    /// Its name.
    pub name: Spanned<String>,
    /// Its unit; a plain number where absent.
    pub unit: Option<Spanned<String>>,
    /// What the reader sees.
    pub label: Option<String>,
}

/// How an axis is spaced.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Scale {
    /// Evenly.
    #[default]
    Linear,
    /// By ratio.
    Logarithmic,
}

/// An inline result: `{t_on}`, `{t_on:ms}`, `{t_on:4}`, `{t_on:range}`.
#[derive(Clone, Debug, PartialEq)]
pub struct InlineRequest {
    /// The value's name, with a dot for a field.
    pub name: String,
    /// What to show of it.
    pub format: InlineFormat,
}

/// What an inline result shows.
#[derive(Clone, Debug, PartialEq)]
pub enum InlineFormat {
    /// The value as its block shows it.
    Plain,
    /// In a unit of choice.
    Unit(String),
    /// With so many significant digits.
    Digits(u8),
    /// The worst-case range.
    Range,
    /// The least of the worst case.
    Least,
    /// The greatest of the worst case.
    Greatest,
}
