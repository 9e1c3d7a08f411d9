//! What is wrong with a worksheet: a severity, a code, a place, what was found and wanted, and a way out. Problems are
//! values; nothing in the engine panics or stops at the first of them. Every code stands once, in [`Code`].

use std::sync::Arc;

use benchleaf_words::{Phrase, phrase};

use serde::Serialize;

use crate::span::{LineIndex, Position, Span};

/// One finding about a worksheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// What kind of finding.
    pub code: Code,
    /// Where it stands in another file; absent for the worksheet itself.
    pub file: Option<Arc<FilePlace>>,
    /// Where it stands in the worksheet; for one of another file, where the worksheet asks for that.
    pub span: Span,
    /// What was found, and what was wanted.
    pub message: Phrase,
    /// A fix, the nearest name, or the rule in a sentence.
    pub help: Option<Phrase>,
}

impl Problem {
    /// A problem without help.
    pub fn new(code: Code, span: Span, message: impl Into<Phrase>) -> Self {
        Self { code, file: None, span, message: message.into(), help: None }
    }

    /// The same with a way out.
    #[must_use]
    pub fn help(mut self, help: impl Into<Phrase>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Whether it stops the value, warns, or only informs.
    pub fn severity(&self) -> Severity {
        self.code.severity()
    }
}

/// A place in another file than the worksheet.
#[derive(Clone, Debug, PartialEq)]
pub struct FilePlace {
    /// The file, by its path from the worksheet.
    pub path: Arc<str>,
    /// Line and column in it.
    pub position: Position,
    /// The line.
    pub line: String,
    /// Where in the line.
    pub marked: Span,
}

impl FilePlace {
    /// A place in a file of this path and text.
    pub fn new(path: &Arc<str>, text: &str, span: Span) -> Self {
        let position = LineIndex::new(text).position(text, span.start);
        let start = text.get(..span.start).map_or(0, |before| before.rfind('\n').map_or(0, |at| at + 1));
        let line = text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or("");
        let within = |at: usize| at.saturating_sub(start).min(line.len());
        let marked = Span::new(within(span.start), within(span.end));
        Self { path: Arc::clone(path), position, line: line.to_owned(), marked }
    }
}

/// How much a problem weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Something was left undone, and nothing is wrong with the worksheet.
    Note,
    /// Worth a look; every value stands.
    Warning,
    /// Something could not be evaluated.
    Error,
}

macro_rules! codes {
    ($($(#[doc = $doc:literal])+ $name:ident = $text:literal,)+) => {
        /// The codes of all problems. `E-` stops a value, `W-` warns, `N-` only informs.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Code { $($(#[doc = $doc])+ $name,)+ }

        impl Code {
            /// All codes, in the order of the guide.
            pub const ALL: &'static [Code] = &[$(Code::$name,)+];

            /// The code as printed.
            pub fn text(self) -> &'static str {
                match self { $(Code::$name => $text,)+ }
            }

            /// What the code means, in a sentence.
            pub fn meaning(self) -> &'static str {
                match self { $(Code::$name => concat!($($doc),+).trim_ascii(),)+ }
            }
        }
    };
}

codes! {
    /// The worksheet's metadata is not valid TOML, or a value has the wrong type.
    Metadata = "E-metadata",
    /// The metadata holds a key that the language does not know.
    MetadataKey = "E-metadata-key",
    /// The worksheet asks for a version of the language that this engine does not speak.
    LanguageVersion = "E-language-version",
    /// A character that has no meaning in a calculation.
    Character = "E-character",
    /// A line that does not read as a statement.
    Syntax = "E-syntax",
    /// A bracket or a quoted text that is never closed.
    Unclosed = "E-unclosed",
    /// A comma where the decimal point belongs.
    DecimalComma = "E-decimal-comma",
    /// A number joined to letters that may be a part code as well as a unit.
    TwoReadings = "E-two-readings",
    /// Two things side by side: multiplication is always written out.
    ImpliedProduct = "E-implied-product",
    /// Nested too deeply to be read.
    TooDeep = "E-too-deep",
    /// A unit that the engine does not know.
    UnknownUnit = "E-unknown-unit",
    /// A name that is not defined above.
    UnknownName = "E-unknown-name",
    /// A function or model that does not exist.
    UnknownFunction = "E-unknown-function",
    /// A record has no such field.
    UnknownField = "E-unknown-field",
    /// A name is defined twice.
    Redefined = "E-redefined",
    /// A value built on one that could not be evaluated.
    DependsOnError = "E-depends-on-error",
    /// Two dimensions that do not go together, or a result that does not have the declared unit.
    UnitMismatch = "E-unit-mismatch",
    /// The same dimension, but another kind of quantity.
    KindMismatch = "E-kind-mismatch",
    /// A number where a condition belongs, or the other way round.
    TypeMismatch = "E-type-mismatch",
    /// Too many or too few arguments, a missing or an unknown named argument.
    Arguments = "E-arguments",
    /// An exponent that must be a plain number known in advance.
    Exponent = "E-exponent",
    /// A tolerance that makes no sense: negative, out of order, or in the wrong unit.
    Tolerance = "E-tolerance",
    /// A correlation that names no two varying givens, or is outside -1 to 1.
    Correlation = "E-correlation",
    /// A formula whose result is not a finite number.
    NotFinite = "E-not-finite",
    /// A value that cannot be taken from another worksheet.
    Use = "E-use",
    /// A value that was sought and not found, or found more than once.
    Solve = "E-solve",
    /// An inline result that cannot be shown.
    Inline = "E-inline",
    /// A line of a plot block that cannot be drawn.
    Plot = "E-plot",
    /// An exercise that cannot be asked or marked as it is written.
    Exercise = "E-exercise",
    /// A constant for a program that cannot be made.
    Constants = "E-constants",
    /// A bench block that cannot be read, or a value that its readings do not determine.
    Bench = "E-bench",
    /// A line of parts that cannot be bought or distinguished as it is written, or a rating that a part does not have.
    Part = "E-part",
    /// Builds that cannot be set side by side as they are written.
    Build = "E-build",
    /// A line of steps that cannot be followed as it is written, or a part that is placed twice or does not exist.
    Step = "E-step",
    /// A `transient` block that cannot be followed over time as it is written, or whose run came to nothing.
    Transient = "E-transient",
    /// A line of a circuit that does not read, or that joins what cannot be joined.
    Circuit = "E-circuit",
    /// A Rust block that does not compile, or that the language cannot take in.
    Rust = "E-rust",
    /// A Rust block that was run and came to nothing.
    RustRun = "E-rust-run",
    /// More errors than are listed.
    MoreErrors = "E-more",
    /// A Rust block that was not run: not permitted, or a program is missing.
    RustOff = "N-rust-off",
    /// A value that waits for a Rust block that was not run.
    RustAwaited = "N-rust-awaited",
    /// A Rust block through which the tolerances were not followed all the way.
    RustNominal = "N-rust-nominal",
    /// A `transient` block through which the tolerances were not followed all the way.
    TransientNominal = "N-transient-nominal",
    /// An info string that is nearly one of the engine's words.
    NearWord = "W-near-word",
    /// A picture that is not shown, or that has no words for those who do not see it.
    Picture = "W-picture",
    /// A link to a worksheet or a heading that is not there.
    Link = "W-link",
    /// The first heading differs from the title in the metadata.
    Title = "W-title",
    /// The worksheet's own name hides a constant, a function or a unit.
    Shadows = "W-shadows",
    /// A handbook model used outside the range it is good for.
    Validity = "W-validity",
    /// A row of a file of readings that does not count.
    Reading = "W-reading",
    /// A part on the board that no step places.
    Unplaced = "W-unplaced",
    /// Something in a circuit that looks like a mistake: an open pin, a part the wrong way round, a coil without a clamp.
    CircuitCheck = "W-circuit",
    /// The worst case has no bound.
    Unbounded = "W-unbounded",
    /// Zero is divided by zero somewhere in the worst case.
    ZeroByZero = "W-zero-by-zero",
    /// More warnings and notes than are listed.
    MoreWarnings = "W-more",
}

impl Code {
    /// Whether the code stops a value, warns, or only informs.
    pub fn severity(self) -> Severity {
        match self.text().as_bytes().first() {
            Some(b'N') => Severity::Note,
            Some(b'W') => Severity::Warning,
            _ => Severity::Error,
        }
    }
}

/// Puts problems in reading order, each once, and keeps the first [`MOST_LISTED`] errors and as many warnings and notes. One
/// more of each kind says how many are left out.
pub(crate) fn in_order(mut problems: Vec<Problem>) -> Vec<Problem> {
    problems.sort_by_key(|problem| (problem.span, problem.code));
    problems.dedup();
    for (code, is_kind) in [
        (Code::MoreErrors, (|problem| problem.severity() == Severity::Error) as fn(&Problem) -> bool),
        (Code::MoreWarnings, |problem| problem.severity() != Severity::Error),
    ] {
        let Some(first_left_out) = problems.iter().filter(|problem| is_kind(problem)).nth(MOST_LISTED) else {
            continue;
        };
        let span = first_left_out.span;
        let mut seen = 0;
        problems.retain(|problem| {
            seen += usize::from(is_kind(problem));
            !is_kind(problem) || seen <= MOST_LISTED
        });
        let left = seen - MOST_LISTED;
        let message = match code {
            Code::MoreErrors => phrase!(SHARED_ONLY_THE_FIRST_ERRORS, most = MOST_LISTED, left = left),
            _ => phrase!(SHARED_ONLY_THE_FIRST_WARNINGS, most = MOST_LISTED, left = left),
        };
        problems.push(Problem::new(code, span, message).help(phrase!(SHARED_MEND_THE_FIRST_ONES)));
    }
    problems.sort_by_key(|problem| (problem.span, problem.code));
    problems
}

/// Errors that are listed of one worksheet, and as many warnings and notes.
pub const MOST_LISTED: usize = 200;
