//! The commands and their options, as `clap` reads them. The texts here are the program's `--help`.

use std::{path::PathBuf, sync::LazyLock};

use benchleaf_core::{
    Options,
    sheet::{LANGUAGE, SAMPLES},
};
use benchleaf_publish::{address::BaseUrl, live::module_sources};
use clap::{Args, Parser, Subcommand};

use crate::locale::named;

/// Evaluate unit-checked worksheets written in Markdown, and publish them as pages
///
/// A worksheet is a Markdown file with blocks of calculation. Benchleaf checks its units, works out every value at
/// nominal and over its tolerances, and says which requirements hold.
#[derive(Debug, Parser)]
#[command(name = "benchleaf", version, long_version = VERSIONS.as_str(), after_help = EXIT_STATUS, disable_help_subcommand = true)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
    #[command(flatten)]
    pub(crate) options: EvaluationOptions,
    /// Language of what is printed, en or de; without it the one that LC_ALL, LC_MESSAGES or LANG names, else English
    #[arg(long, global = true, value_name = "CODE", value_parser = named)]
    pub(crate) locale: Option<benchleaf_words::Language>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Render(RenderRequest),
    Serve(ServeRequest),
    Check(CheckRequest),
    New(NewRequest),
    Mark(MarkRequest),
    Parts(PartsRequest),
    Source(SourceRequest),
    Verify(VerifyRequest),
    Diff(DiffRequest),
    Constants(ConstantsRequest),
    Vary(VaryRequest),
    /// Help an editor with worksheets: a language server on the input and output streams
    ///
    /// An editor starts it. It says what is wrong as a worksheet is written, shows values, ranges, units and handbook models
    /// under the pointer, completes names, units, models and their arguments, and goes to where a name is defined. It speaks
    /// the language server protocol 3.17, and runs no Rust block.
    ///
    /// Exit status: 0 when the editor ended it as the protocol has it, 1 when it did not.
    Lsp,
}

/// What the person running the engine asks of every evaluation.
#[derive(Args, Clone, Copy, Debug)]
pub(crate) struct EvaluationOptions {
    /// Monte Carlo samples, in place of the number in each worksheet
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u64).range(SAMPLES))]
    pub(crate) samples: Option<u64>,
    /// Seed of the random numbers, in place of the one in each worksheet
    #[arg(long, global = true, value_name = "N")]
    pub(crate) seed: Option<u64>,
    /// Run the Rust blocks of these worksheets: they can do what a program of their author's could do, within limits
    /// that the guide names
    #[arg(long, global = true)]
    pub(crate) allow_rust: bool,
}

impl EvaluationOptions {
    /// What of these the engine is asked for.
    pub(crate) fn of_engine(&self) -> Options {
        Options { samples: self.samples, seed: self.seed, ..Options::default() }
    }
}

/// Write each worksheet as a page: one HTML file that needs nothing else
///
/// The page is live: a reader may change the givens and everything follows, without a network. Each page has the engine
/// inside; the pages of a folder share two files, benchleaf.js and benchleaf-engine.js, that stand beside index.html.
///
/// A folder is searched, with its folders, for worksheets: files named NAME.md, other than README.md and those whose
/// name begins with a dot or an underscore. It becomes a site: an index.html (unless it has an index.md of its own), a search,
/// and lists of all exercises, parts and safety notes. The site, and each folder inside it as a section, is called by the
/// metadata or the first heading of the folder's README.md or index.md. A page replaces an older page of Benchleaf's, but no
/// other file; pages of a site that would be made again as they stand are left as they are.
///
/// Exit status: 0 when every page is written, 2 when a worksheet holds an error (its page is written and shows it),
/// 3 when something could not be read or written.
#[derive(Args, Debug)]
pub(crate) struct RenderRequest {
    /// Worksheets, or folders of worksheets
    #[arg(required = true, value_name = "PATH")]
    pub(crate) paths: Vec<PathBuf>,
    /// Folder to write to; it is made where it is missing. Without it each page stands beside its worksheet
    #[arg(short, long, value_name = "DIR")]
    pub(crate) output: Option<PathBuf>,
    /// Leave the engine out: pages for reading alone
    #[arg(long)]
    pub(crate) still: bool,
    /// Make handouts to be printed: no solutions, no tables of numbers behind plots, room for answers. They carry neither
    /// engine nor worksheet
    #[arg(long)]
    pub(crate) handout: bool,
    /// Let the worksheets' raw HTML through, cleaned of scripts, styles and forms; without this it is shown as text
    #[arg(long)]
    pub(crate) html: bool,
    /// Address that the site will have, https://example.org/mister/: pages then name their own address, and the site has a
    /// feed of its dated worksheets
    #[arg(long, value_name = "URL")]
    pub(crate) base_url: Option<BaseUrl>,
    /// Make every page of a site anew, also where nothing that it depends on has changed
    #[arg(long)]
    pub(crate) fresh: bool,
}

/// Show a worksheet or a folder of worksheets in a browser, and follow every save
///
/// The pages are those that `render` makes, and nothing is written. A page that is open shows a saved worksheet at once; the
/// place that is read and the values that its reader changed stay. While a worksheet holds an error, the last page without
/// one stays, and the errors are shown over it.
///
/// The preview can be reached from this computer alone. It shows the worksheets of the folder and their pictures, and no
/// other file. Ctrl-C ends it.
///
/// Exit status: 0 when it was ended, 3 when the command is wrong, the port is in use or nothing can be read.
#[derive(Args, Debug)]
pub(crate) struct ServeRequest {
    /// A worksheet, or a folder of worksheets
    #[arg(value_name = "PATH")]
    pub(crate) path: PathBuf,
    /// Port to listen on; 0 takes any that is free
    #[arg(long, value_name = "N", default_value_t = 7070)]
    pub(crate) port: u16,
    /// Let the worksheets' raw HTML through, cleaned of scripts, styles and forms
    #[arg(long)]
    pub(crate) html: bool,
}

/// Evaluate worksheets and report every requirement
#[derive(Args, Debug)]
#[command(after_help = EXIT_STATUS)]
pub(crate) struct CheckRequest {
    /// Worksheets, or folders of worksheets
    #[arg(required = true, value_name = "PATH")]
    pub(crate) paths: Vec<PathBuf>,
    /// Print one JSON object a worksheet, each on a line of its own; a number that JSON cannot hold is null
    #[arg(long)]
    pub(crate) json: bool,
    /// Let a requirement that is at risk count as broken
    #[arg(long)]
    pub(crate) strict: bool,
}

/// Start a worksheet from a small working example
#[derive(Args, Debug)]
pub(crate) struct NewRequest {
    /// Name of the worksheet, with or without .md; a folder before it must exist
    #[arg(value_name = "NAME")]
    pub(crate) name: PathBuf,
    /// Title on the page; made from the name where absent
    #[arg(long, value_name = "TEXT")]
    pub(crate) title: Option<String>,
}

/// Mark a class's answers to the exercises of a worksheet
///
/// ANSWERS is a table (CSV) whose first line names its columns: learner, exercise and answer, in any order; further
/// columns are kept. Commas, semicolons or tabs part the cells. The same table comes back with the columns finding,
/// feedback and points behind it. A row that cannot be marked is reported with its line, and kept.
///
/// A cell that begins with =, +, - or @ is written with an apostrophe before it, so that no spreadsheet runs it.
///
/// Exit status: 0 when the table was marked, 2 when the worksheet holds an error (its sound exercises are marked),
/// 3 when something could not be read or written.
#[derive(Args, Debug)]
pub(crate) struct MarkRequest {
    /// The worksheet
    #[arg(value_name = "SHEET")]
    pub(crate) sheet: PathBuf,
    /// The answers
    #[arg(value_name = "ANSWERS.csv")]
    pub(crate) answers: PathBuf,
    /// Folder for the marked table and a page of statistics; without it the table is written to the output stream
    #[arg(short, long, value_name = "DIR")]
    pub(crate) output: Option<PathBuf>,
}

/// Write a worksheet's list of parts as a table (CSV)
///
/// A line for each part, with the pieces and the cost for 1, 10, 100 and 1000 builds, and a line of totals for each
/// currency. A cell that begins with =, +, - or @ is written with an apostrophe before it, so that no spreadsheet runs it.
///
/// Exit status: 0 when the list was written, 2 when the worksheet holds an error (its sound parts are listed), 3 when
/// something could not be read or written.
#[derive(Args, Debug)]
pub(crate) struct PartsRequest {
    /// The worksheet
    #[arg(value_name = "SHEET")]
    pub(crate) sheet: PathBuf,
    /// The file to write; without it the list is written to the output stream. An older list is replaced, no other file
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
}

/// Take the worksheet back out of a page, byte for byte
#[derive(Args, Debug)]
pub(crate) struct SourceRequest {
    /// A page that Benchleaf wrote, or that was saved from one
    #[arg(value_name = "PAGE")]
    pub(crate) page: PathBuf,
}

/// Evaluate the worksheets of pages once more, and compare every figure that the pages show
///
/// Exit status: 0 when every figure still holds, 1 when one differs, 2 when a worksheet holds an error, 3 when a page
/// could not be read.
#[derive(Args, Debug)]
pub(crate) struct VerifyRequest {
    /// Pages that Benchleaf wrote, or that were saved from one
    #[arg(required = true, value_name = "PAGE")]
    pub(crate) pages: Vec<PathBuf>,
}

/// Say what differs between two worksheets, two pages, or a page and a worksheet: values, ranges, verdicts, safety notes
/// and readings, old and new
///
/// Both are evaluated by this engine; what differs is the worksheets' doing. Requirements are paired by their labels, values by
/// their names.
///
/// Exit status: 0 when no verdict got worse, 1 when one did, 2 when a worksheet holds an error, 3 when something could not
/// be read.
#[derive(Args, Debug)]
pub(crate) struct DiffRequest {
    /// The old worksheet or page
    #[arg(value_name = "OLD")]
    pub(crate) old: PathBuf,
    /// The new one
    #[arg(value_name = "NEW")]
    pub(crate) new: PathBuf,
    /// Print one JSON object
    #[arg(long)]
    pub(crate) json: bool,
}

/// Write chosen values of a worksheet as constants of a program: for the firmware of what was calculated
///
/// The worksheet's metadata say which: constants = ["t_on:ms:u32", "t_on:ticks@1MHz/64:u16"]. Each has a value's name,
/// a unit or the ticks of a timer (its clock, and what that is divided by), and the type of the constant: u8, u16, u32,
/// u64, i8 to i64, f32 or f64. Whole numbers are rounded; the rounding error stands in a comment, and what does not fit its type is
/// refused.
///
/// Exit status: 0 when the constants are written, 2 when the worksheet holds an error or a constant cannot be made, 3 when
/// something could not be read or written.
#[derive(Args, Debug)]
pub(crate) struct ConstantsRequest {
    /// The worksheet
    #[arg(value_name = "SHEET")]
    pub(crate) sheet: PathBuf,
    /// The language to write
    #[arg(long, value_enum)]
    pub(crate) lang: Language,
    /// File to write; without it the constants are written to the output stream
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
}

/// Work a worksheet out at many values of its givens: a line of JSON in, a line of JSON out
///
/// Each line of the input stream is an object that gives new values to givens: {"R_t": 470e3, "C_t": "22 µF ± 10 %"}. A number is in
/// the SI unit of its quantity (Ω, F, m, K); a text is a quantity as a worksheet has it. The tolerance of a given stays where
/// none is written, and so do all givens that are not named.
///
/// Each gives one line of the output stream, in order: {"values":{"t_on":11.3},"keeps":[{"line":15,"at_nominal":"holds"}]}. Values are in SI units;
/// one that is infinite or undefined is null. `at_nominal` speaks of the nominal values alone, and not of the builds around them. Where a
/// model is used outside the range that it is good for, "doubts" gives its line and the code of the warning. A line that
/// cannot be worked out gives {"error":{"code":"E-unknown-name","message":"…"}}.
///
/// Exit status: 0 when every line was worked out, 1 when one was not, 2 when the worksheet holds an error, 3 when something
/// could not be read or written.
#[derive(Args, Debug)]
pub(crate) struct VaryRequest {
    /// The worksheet
    #[arg(value_name = "SHEET")]
    pub(crate) sheet: PathBuf,
    /// The values to give; without it all that are worked out
    #[arg(long, value_name = "NAMES", value_delimiter = ',')]
    pub(crate) values: Vec<String>,
    /// Give the worst-case range of each value and the verdict over it too, as check does; this takes some thousand times
    /// as long
    #[arg(long)]
    pub(crate) range: bool,
}

/// A language that constants are written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Language {
    /// A header of C11 or newer
    C,
    /// A module of Rust
    Rust,
    /// A module of Python 3
    Python,
}

/// The versions of all that a page's figures hang on.
static VERSIONS: LazyLock<String> = LazyLock::new(|| {
    let version = env!("CARGO_PKG_VERSION");
    let module: String = module_sources().chars().take(SHOWN_OF_HASH).collect();
    format!("{version}\nlanguage of worksheets: {LANGUAGE}\nengine of live pages: {version}, from sources {module}")
});
/// Characters of a hash that distinguish one from any other.
const SHOWN_OF_HASH: usize = 12;

const EXIT_STATUS: &str = "Exit status of check: 0 when all requirements hold, 1 when one is broken (or at risk, with \
                           --strict), 2 when a worksheet holds an error, 3 when the command is wrong or something \
                           could not be read or written. The worst one counts.";
