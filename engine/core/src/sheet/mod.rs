//! A worksheet as read: metadata, and the engine's blocks with their places in the Markdown. Prose and foreign code
//! blocks stay in the source. A worksheet is read in two looks: the first (`outline`) is at Markdown and metadata and gives a
//! [`Worksheet`]; the second (`read`) is at the language.

mod bench;
mod builds;
mod circuit;
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
mod steps;
#[cfg(feature = "markdown")]
pub mod surroundings;
mod transient;
mod used;
mod worksheet;

pub use bench::{Bench, DatedReadings, FitRequest, Instrument, ReadingsFile};
pub use builds::{BuildChange, BuildLine, BuildsBlock, CompareRequest};
pub use circuit::{CircuitBlock, CircuitClause, Element, Node, PartRequest, Turn};
pub use exercise::{AnswerRequest, Exercise, SlipRequest, VaryRequest};
#[cfg(feature = "markdown")]
pub use metadata::{METADATA, MetadataKey, SAMPLES, Takes};
#[cfg(feature = "markdown")]
pub use outline::{is_title, markdown, metadata_of, read};
pub use parts::{PartLine, PartsBlock};
pub use plot::{BoundRequest, CurveRequest, Plot, SeriesRequest, SpreadRequest, TraceRequest};
pub use rust::{RustBlock, RustResult};
pub use steps::{CheckRequest, StepItem, StepLines, StepPicture, StepsBlock};
pub use transient::{EndLine, FormulaLine, MeasureLine, MeasureRequest, RateLine, StateLine, TransientBlock};
pub use used::Used;
pub(crate) use used::{Joined, MOST_USED, from_folder_of};
pub use worksheet::{Carried, Edit, Fence, Inline, Part, Worksheet};

use std::collections::HashSet;

use benchleaf_words::Language;

use crate::{
    lang::ast::{Definition, Expr, Statement, StatementBody},
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
    /// The worksheets that it uses, and those that these use.
    pub used: Vec<Used>,
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
    /// The language of the page's own words.
    pub lang: Language,
    /// Version of the language that the worksheet is written in.
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
            lang: Language::ENGLISH,
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
    /// How the build is made, step by step.
    Steps(StepsBlock),
    /// States that change over time.
    Transient(Box<TransientBlock>),
    /// How parts are joined.
    Circuit(Box<CircuitBlock>),
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
    Steps,
    Transient,
    Circuit,
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
        (BlockWord::Steps, "steps"),
        (BlockWord::Transient, "transient"),
        (BlockWord::Circuit, "circuit"),
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
