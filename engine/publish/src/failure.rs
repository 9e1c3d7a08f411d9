//! What can go wrong around a worksheet, as against inside it: a path that is not there, a file that is no text, a page
//! that cannot be written. Each failure is a sentence that says what happened, and a help that says what to do.

use std::{
    io,
    path::{Path, PathBuf},
};

use thiserror::Error;

/// A failure of the command itself.
#[derive(Debug, Error)]
#[allow(missing_docs)]
pub enum Failure {
    #[error("`{}` does not exist", name(path))]
    Missing { path: PathBuf },
    #[error("`{}` is a link that leads nowhere, or back to itself", name(path))]
    DeadLink { path: PathBuf },
    #[error("the link `{}` leads back to `{}`, the folder that it is in", name(path), name(ancestor))]
    LinkLoop { path: PathBuf, ancestor: PathBuf },
    #[error("`{}` cannot be read: {}", name(path), reason(cause))]
    Unreadable { path: PathBuf, cause: io::Error },
    #[error("`{}` is not named as a worksheet: its name does not end in .md", name(path))]
    NotNamedWorksheet { path: PathBuf },
    #[error("`{}` is neither a file nor a folder", name(path))]
    NotAFile { path: PathBuf },
    #[error("`{}` is a folder, though it is named as a worksheet", name(path))]
    FolderNamedWorksheet { path: PathBuf },
    #[error("the folder `{}` holds no worksheet", name(path))]
    NoWorksheets { path: PathBuf },
    #[error("`{}` is not UTF-8 text: byte {offset}, in line {line}, belongs to no character", name(path))]
    NotUtf8 { path: PathBuf, offset: usize, line: usize },
    #[error("`{}` is UTF-16 text, and a worksheet is UTF-8", name(path))]
    Utf16 { path: PathBuf },
    #[error("`{}` is empty", name(path))]
    Empty { path: PathBuf },
    #[error("`{}` is too large to be read: more than {} MiB", name(path), limit / (1024 * 1024))]
    TooLarge { path: PathBuf, limit: u64 },
    #[error("`{}` is no page of Benchleaf’s: {why}", name(path))]
    NotAPage { path: PathBuf, why: &'static str },
    #[error("the folder `{}` cannot be made: {}", name(path), reason(cause))]
    OutputFolder { path: PathBuf, cause: io::Error },
    #[error("nothing can be written to the folder `{}`: there is a file where a folder is wanted", name(path))]
    OutputIsFile { path: PathBuf },
    #[error("`{}` cannot be written: {}", name(path), reason(cause))]
    NotWritten { path: PathBuf, cause: io::Error },
    #[error("`{}` stands in the way: it is not a page that Benchleaf wrote", name(path))]
    InTheWay { path: PathBuf },
    #[error("`{}` stands in the way: it holds no constants that Benchleaf wrote", name(path))]
    ConstantsInTheWay { path: PathBuf },
    #[error("`{}` asks for no constants", name(path))]
    NoConstants { path: PathBuf },
    #[error("`{}` and `{}` would both be written to `{}`", name(first), name(second), name(output))]
    SameOutput { output: PathBuf, first: PathBuf, second: PathBuf },
    #[error("--base-url gives the address of one site, and this call makes none or several")]
    NotOneSite,
    #[error("there is no folder `{}` for the worksheet", name(path))]
    NoFolder { path: PathBuf },
    #[error("`{name}` is no name for a worksheet: {why}")]
    Name { name: String, why: &'static str },
    #[error("the title {why}")]
    Title { why: &'static str },
    #[error("`{}` exists already", name(path))]
    Exists { path: PathBuf },
    #[error("the configuration `{}` cannot be used: {why}", name(path))]
    Configuration { path: PathBuf, why: String },
    #[error("SOURCE_DATE_EPOCH is `{value}`, which is no count of seconds")]
    SourceDate { value: String },
    #[error("the page's template does not work: {}", innermost(cause))]
    Template { cause: &'static tera::Error },
    #[error("the page's template could not be filled in: {}", innermost(cause))]
    Filling { cause: tera::Error },
    #[error("the worksheet's results could not be written as JSON: {cause}")]
    Json { cause: serde_json::Error },
    #[error("`{}` could not be evaluated: this is a fault of Benchleaf, not of the worksheet", name(path))]
    Fault { path: PathBuf },
    #[error("{message}")]
    Values { message: String, help: Option<String> },
    #[error("the input stream cannot be read: {}", reason(cause))]
    Input { cause: io::Error },
    #[error("`{}` holds no exercise", name(path))]
    NoExercises { path: PathBuf },
    #[error("`{}` {fault}", name(path))]
    Answers { path: PathBuf, fault: AnswersFault },
    #[error("port {port} is in use already: another program listens on it")]
    PortInUse { port: u16 },
    #[error("the preview cannot listen on port {port}: {}", reason(cause))]
    NotListening { port: u16, cause: io::Error },
    #[error("changes of `{}` cannot be watched: {why}", name(path))]
    NotWatched { path: PathBuf, why: String },
    #[error("no worksheet has anything that this page would list")]
    NothingListed,
    #[error("the answer could not be written: {}", reason(cause))]
    Answer { cause: io::Error },
}

impl Failure {
    /// What to do about it, in a sentence.
    pub fn help(&self) -> String {
        match self {
            Failure::Missing { path } if path.extension().is_none() => {
                let with_ending = path.with_extension("md");
                if with_ending.is_file() {
                    format!("Did you mean `{}`?", name(&with_ending))
                } else {
                    "Check the spelling, and which folder you are in.".to_owned()
                }
            }
            Failure::Missing { .. } => "Check the spelling, and which folder you are in.".to_owned(),
            Failure::DeadLink { .. } => "Remove the link, or make it lead to a worksheet.".to_owned(),
            Failure::LinkLoop { .. } => "Remove the link; the rest of the folder was searched.".to_owned(),
            Failure::Unreadable { .. } => "See that it is there and that you may read it.".to_owned(),
            Failure::NotNamedWorksheet { .. } => {
                "A worksheet is a Markdown file named NAME.md; rename it if it is one.".to_owned()
            }
            Failure::Configuration { .. } => {
                "It may hold allow_rust_in = [\"/home/me/sheets\"], and nothing else.".to_owned()
            }
            Failure::NotAFile { .. } => "Give a worksheet (NAME.md) or a folder of worksheets.".to_owned(),
            Failure::FolderNamedWorksheet { .. } => {
                "Rename the folder so that its name does not end in .md.".to_owned()
            }
            Failure::NoWorksheets { .. } => {
                "Worksheets are files named NAME.md; README.md and names that begin with a dot or an underscore do not \
                 count. `benchleaf new NAME` starts one."
                    .to_owned()
            }
            Failure::NotUtf8 { .. } | Failure::Utf16 { .. } => {
                "Open it in a text editor and save it again with the encoding UTF-8.".to_owned()
            }
            Failure::Empty { .. } => {
                "Write a worksheet into it, or remove it and let `benchleaf new NAME` start one.".to_owned()
            }
            Failure::TooLarge { .. } => "Split it into several worksheets; pictures can stand beside it.".to_owned(),
            Failure::NotAPage { .. } => {
                "Give a page that `benchleaf render` wrote, or that was saved from one.".to_owned()
            }
            Failure::OutputFolder { .. } | Failure::OutputIsFile { .. } | Failure::NotWritten { .. } => {
                "Choose a folder that you may write to, with -o DIR.".to_owned()
            }
            Failure::NotOneSite => "Render one folder at a time, or several into one with -o DIR.".to_owned(),
            Failure::NoFolder { path } if path.exists() => {
                format!(
                    "`{}` is a file. Choose another name for the worksheet, without `/`, or another folder.",
                    name(path)
                )
            }
            Failure::NoFolder { path } => format!(
                "Make it first (mkdir {}), or give a name without a folder; a `/` in the name leads into a folder.",
                name(path)
            ),
            Failure::Values { help, .. } => match help {
                Some(help) => help.clone(),
                None => "`benchleaf check --json` lists the names of all values.".to_owned(),
            },
            Failure::Input { .. } => "See what writes to it.".to_owned(),
            Failure::ConstantsInTheWay { .. } => "Move it away, or write to another file with -o FILE.".to_owned(),
            Failure::NoConstants { .. } => {
                "Name them in the worksheet's metadata: constants = [\"t_on:ms:u32\"].".to_owned()
            }
            Failure::InTheWay { .. } => "Move it away, or write to another folder with -o DIR.".to_owned(),
            Failure::SameOutput { .. } => {
                "Neither was written. Rename one of them, or render them to folders of their own with -o DIR."
                    .to_owned()
            }
            Failure::Name { .. } => {
                "Begin with a letter or a figure and go on with letters, figures, `-`, `_` and dots: `lamp-driver`."
                    .to_owned()
            }
            Failure::Title { .. } => "Give a line of text: --title \"Lamp driver\".".to_owned(),
            Failure::Exists { .. } => "Choose another name; nothing was changed.".to_owned(),
            Failure::SourceDate { .. } => {
                "Set it to the seconds since 1970-01-01 00:00 UTC, or unset it to have today's date.".to_owned()
            }
            Failure::Template { .. } | Failure::Filling { .. } | Failure::Json { .. } => {
                "This is a fault of Benchleaf, not of your worksheet; please report it.".to_owned()
            }
            Failure::Fault { .. } => {
                "Please report it, with the worksheet and what was said above. The other worksheets are not concerned."
                    .to_owned()
            }
            Failure::NoExercises { .. } => {
                "An exercise is a block of its own in a worksheet: exercise NAME, with a question and an answer."
                    .to_owned()
            }
            Failure::Answers { fault, .. } => fault.help().to_owned(),
            Failure::PortInUse { .. } => {
                "End that program, or choose another port with --port N; --port 0 takes any that is free.".to_owned()
            }
            Failure::NotListening { .. } => "Choose another port with --port N, above 1023.".to_owned(),
            Failure::NotWatched { .. } => {
                "The system allows too few files to be watched, or the folder is gone; try a smaller folder.".to_owned()
            }
            Failure::NothingListed => "It is back once there is something again.".to_owned(),
            Failure::Answer { .. } => "See that there is room where it is written to.".to_owned(),
        }
    }
}

/// What is wrong with a table of answers as a whole.
#[derive(Debug, Error)]
#[allow(missing_docs)]
pub enum AnswersFault {
    #[error("has no column `{0}`")]
    NoColumn(&'static str),
    #[error("has two columns `{0}`")]
    TwoColumns(&'static str),
    #[error("is not UTF-8 text")]
    NotText,
    #[error("is too large for a class's answers: more than {} MiB", .0 / (1024 * 1024))]
    TooLarge(u64),
    #[error("stands in the way: it is not a table that Benchleaf marked")]
    InTheWay,
}

impl AnswersFault {
    fn help(&self) -> &'static str {
        match self {
            AnswersFault::NoColumn(_) | AnswersFault::TwoColumns(_) => {
                "Its first line must name the columns learner, exercise and answer once each, in any order."
            }
            AnswersFault::NotText => "Save it again from the spreadsheet as CSV with the encoding UTF-8.",
            AnswersFault::TooLarge(_) => "Split it into several tables.",
            AnswersFault::InTheWay => "Move it away, or write to another folder with -o DIR.",
        }
    }
}

/// A path as a reader sees it.
pub fn name(path: &Path) -> String {
    path.display().to_string()
}

/// An I/O error in words, without the number that the system gives it.
fn reason(cause: &io::Error) -> String {
    let text = cause.to_string();
    let kind = cause.kind().to_string();
    if kind.starts_with("uncategorized") || kind.starts_with("other") {
        return text.split(" (os error").next().unwrap_or(&text).to_owned();
    }
    kind
}

/// What is at the bottom of a chain of template errors.
fn innermost(cause: &tera::Error) -> String {
    let mut error: &dyn std::error::Error = cause;
    while let Some(source) = error.source() {
        error = source;
    }
    error.to_string()
}
