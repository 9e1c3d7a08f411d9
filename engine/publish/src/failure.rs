//! What can go wrong around a worksheet, as against inside it: a path that is not there, a file that is no text, a page
//! that cannot be written. Each failure is a sentence that says what happened, and a help that says what to do, in whichever
//! language it is said.

use std::{
    error, fmt,
    io::{self, ErrorKind},
    path::{Path, PathBuf},
};

use benchleaf_words::{Phrase, Word, key, phrase};

/// A failure of the command itself.
#[derive(Debug)]
#[allow(missing_docs)]
pub enum Failure {
    Missing { path: PathBuf },
    DeadLink { path: PathBuf },
    LinkLoop { path: PathBuf, ancestor: PathBuf },
    Unreadable { path: PathBuf, cause: io::Error },
    NotNamedWorksheet { path: PathBuf },
    NotAFile { path: PathBuf },
    FolderNamedWorksheet { path: PathBuf },
    NoWorksheets { path: PathBuf },
    NotUtf8 { path: PathBuf, offset: usize, line: usize },
    Utf16 { path: PathBuf },
    Empty { path: PathBuf },
    TooLarge { path: PathBuf, limit: u64 },
    NotAPage { path: PathBuf, why: Phrase },
    OutputFolder { path: PathBuf, cause: io::Error },
    OutputIsFile { path: PathBuf },
    NotWritten { path: PathBuf, cause: io::Error },
    InTheWay { path: PathBuf },
    ConstantsInTheWay { path: PathBuf },
    NoConstants { path: PathBuf },
    SameOutput { output: PathBuf, first: PathBuf, second: PathBuf },
    NotOneSite,
    NoFolder { path: PathBuf },
    Name { name: String, why: Phrase },
    Title { message: Phrase },
    Exists { path: PathBuf },
    Configuration { path: PathBuf, why: Phrase },
    SourceDate { value: String },
    Template { cause: &'static tera::Error },
    Filling { cause: tera::Error },
    Json { cause: serde_json::Error },
    Fault { path: PathBuf },
    Values { message: Phrase, help: Option<Phrase> },
    Input { cause: io::Error },
    NoExercises { path: PathBuf },
    Answers { path: PathBuf, fault: AnswersFault },
    PortInUse { port: u16 },
    NotListening { port: u16, cause: io::Error },
    NotWatched { path: PathBuf, why: Phrase },
    NothingListed,
    Answer { cause: io::Error },
}

impl Failure {
    /// What happened, in a sentence without a full stop.
    pub fn message(&self) -> Phrase {
        match self {
            Failure::Missing { path } => phrase!(FAILURE_MISSING, path = name(path)),
            Failure::DeadLink { path } => phrase!(FAILURE_DEAD_LINK, path = name(path)),
            Failure::LinkLoop { path, ancestor } => {
                phrase!(FAILURE_LINK_LOOP, path = name(path), ancestor = name(ancestor))
            }
            Failure::Unreadable { path, cause } => {
                phrase!(FAILURE_UNREADABLE, path = name(path), why = reason(cause))
            }
            Failure::NotNamedWorksheet { path } => phrase!(FAILURE_NOT_NAMED_WORKSHEET, path = name(path)),
            Failure::NotAFile { path } => phrase!(FAILURE_NOT_A_FILE, path = name(path)),
            Failure::FolderNamedWorksheet { path } => phrase!(FAILURE_FOLDER_NAMED_WORKSHEET, path = name(path)),
            Failure::NoWorksheets { path } => phrase!(FAILURE_NO_WORKSHEETS, path = name(path)),
            Failure::NotUtf8 { path, offset, line } => {
                phrase!(FAILURE_NOT_UTF8, path = name(path), offset = *offset, line = *line)
            }
            Failure::Utf16 { path } => phrase!(FAILURE_UTF16, path = name(path)),
            Failure::Empty { path } => phrase!(FAILURE_EMPTY, path = name(path)),
            Failure::TooLarge { path, limit } => {
                phrase!(FAILURE_TOO_LARGE, path = name(path), limit = limit / MEBIBYTE)
            }
            Failure::NotAPage { path, why } => phrase!(FAILURE_NOT_A_PAGE, path = name(path), why = why),
            Failure::OutputFolder { path, cause } => {
                phrase!(FAILURE_OUTPUT_FOLDER, path = name(path), why = reason(cause))
            }
            Failure::OutputIsFile { path } => phrase!(FAILURE_OUTPUT_IS_FILE, path = name(path)),
            Failure::NotWritten { path, cause } => {
                phrase!(FAILURE_NOT_WRITTEN, path = name(path), why = reason(cause))
            }
            Failure::InTheWay { path } => phrase!(FAILURE_IN_THE_WAY, path = name(path)),
            Failure::ConstantsInTheWay { path } => phrase!(FAILURE_CONSTANTS_IN_THE_WAY, path = name(path)),
            Failure::NoConstants { path } => phrase!(FAILURE_NO_CONSTANTS, path = name(path)),
            Failure::SameOutput { output, first, second } => {
                phrase!(FAILURE_SAME_OUTPUT, output = name(output), first = name(first), second = name(second))
            }
            Failure::NotOneSite => phrase!(FAILURE_NOT_ONE_SITE),
            Failure::NoFolder { path } => phrase!(FAILURE_NO_FOLDER, path = name(path)),
            Failure::Name { name, why } => phrase!(FAILURE_NAME, name = name, why = why),
            Failure::Title { message } | Failure::Values { message, .. } => message.clone(),
            Failure::Exists { path } => phrase!(FAILURE_EXISTS, path = name(path)),
            Failure::Configuration { path, why } => phrase!(FAILURE_CONFIGURATION, path = name(path), why = why),
            Failure::SourceDate { value } => phrase!(FAILURE_SOURCE_DATE, value = value),
            Failure::Template { cause } => phrase!(FAILURE_TEMPLATE, why = innermost(cause)),
            Failure::Filling { cause } => phrase!(FAILURE_FILLING, why = innermost(cause)),
            Failure::Json { cause } => phrase!(FAILURE_JSON, why = cause.to_string()),
            Failure::Fault { path } => phrase!(FAILURE_FAULT, path = name(path)),
            Failure::Input { cause } => phrase!(FAILURE_INPUT, why = reason(cause)),
            Failure::NoExercises { path } => phrase!(FAILURE_NO_EXERCISES, path = name(path)),
            Failure::Answers { path, fault } => fault.message(name(path)),
            Failure::PortInUse { port } => phrase!(FAILURE_PORT_IN_USE, port = port.to_string()),
            Failure::NotListening { port, cause } => {
                phrase!(FAILURE_NOT_LISTENING, port = port.to_string(), why = reason(cause))
            }
            Failure::NotWatched { path, why } => phrase!(FAILURE_NOT_WATCHED, path = name(path), why = why),
            Failure::NothingListed => phrase!(FAILURE_NOTHING_LISTED),
            Failure::Answer { cause } => phrase!(FAILURE_ANSWER, why = reason(cause)),
        }
    }

    /// What to do about it, in a sentence.
    pub fn help(&self) -> Phrase {
        match self {
            Failure::Missing { path } => {
                let with_ending = path.with_extension("md");
                if path.extension().is_none() && with_ending.is_file() {
                    phrase!(FAILURE_HELP_DID_YOU_MEAN, path = name(&with_ending))
                } else {
                    phrase!(FAILURE_HELP_SPELLING)
                }
            }
            Failure::DeadLink { .. } => phrase!(FAILURE_HELP_DEAD_LINK),
            Failure::LinkLoop { .. } => phrase!(FAILURE_HELP_LINK_LOOP),
            Failure::Unreadable { .. } => phrase!(FAILURE_HELP_UNREADABLE),
            Failure::NotNamedWorksheet { .. } => phrase!(FAILURE_HELP_NOT_NAMED_WORKSHEET),
            Failure::Configuration { .. } => phrase!(FAILURE_HELP_CONFIGURATION),
            Failure::NotAFile { .. } => phrase!(FAILURE_HELP_NOT_A_FILE),
            Failure::FolderNamedWorksheet { .. } => phrase!(FAILURE_HELP_FOLDER_NAMED_WORKSHEET),
            Failure::NoWorksheets { .. } => phrase!(FAILURE_HELP_NO_WORKSHEETS),
            Failure::NotUtf8 { .. } | Failure::Utf16 { .. } => phrase!(FAILURE_HELP_ENCODING),
            Failure::Empty { .. } => phrase!(FAILURE_HELP_EMPTY),
            Failure::TooLarge { .. } => phrase!(FAILURE_HELP_TOO_LARGE),
            Failure::NotAPage { .. } => phrase!(FAILURE_HELP_NOT_A_PAGE),
            Failure::OutputFolder { .. } | Failure::OutputIsFile { .. } | Failure::NotWritten { .. } => {
                phrase!(FAILURE_HELP_NOT_WRITTEN)
            }
            Failure::NotOneSite => phrase!(FAILURE_HELP_NOT_ONE_SITE),
            Failure::NoFolder { path } if path.exists() => phrase!(FAILURE_HELP_FOLDER_IS_FILE, path = name(path)),
            Failure::NoFolder { path } => phrase!(FAILURE_HELP_NO_FOLDER, path = name(path)),
            Failure::Values { help, .. } => help.clone().unwrap_or_else(|| phrase!(FAILURE_HELP_VALUES)),
            Failure::Input { .. } => phrase!(FAILURE_HELP_INPUT),
            Failure::ConstantsInTheWay { .. } => phrase!(FAILURE_HELP_CONSTANTS_IN_THE_WAY),
            Failure::NoConstants { .. } => phrase!(FAILURE_HELP_NO_CONSTANTS),
            Failure::InTheWay { .. } => phrase!(FAILURE_HELP_IN_THE_WAY),
            Failure::SameOutput { .. } => phrase!(FAILURE_HELP_SAME_OUTPUT),
            Failure::Name { .. } => phrase!(FAILURE_HELP_NAME),
            Failure::Title { .. } => phrase!(FAILURE_HELP_TITLE),
            Failure::Exists { .. } => phrase!(FAILURE_HELP_EXISTS),
            Failure::SourceDate { .. } => phrase!(FAILURE_HELP_SOURCE_DATE),
            Failure::Template { .. } | Failure::Filling { .. } | Failure::Json { .. } => phrase!(FAILURE_HELP_REPORT),
            Failure::Fault { .. } => phrase!(FAILURE_HELP_FAULT),
            Failure::NoExercises { .. } => phrase!(FAILURE_HELP_NO_EXERCISES),
            Failure::Answers { fault, .. } => fault.help(),
            Failure::PortInUse { .. } => phrase!(FAILURE_HELP_PORT_IN_USE),
            Failure::NotListening { .. } => phrase!(FAILURE_HELP_NOT_LISTENING),
            Failure::NotWatched { .. } => phrase!(FAILURE_HELP_NOT_WATCHED),
            Failure::NothingListed => phrase!(FAILURE_HELP_NOTHING_LISTED),
            Failure::Answer { .. } => phrase!(FAILURE_HELP_ANSWER),
        }
    }
}

/// Its message in English.
impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message().english())
    }
}

impl error::Error for Failure {}

/// What is wrong with a table of answers as a whole.
#[derive(Debug)]
#[allow(missing_docs)]
pub enum AnswersFault {
    NoColumn(&'static str),
    TwoColumns(&'static str),
    NotText,
    TooLarge(u64),
    InTheWay,
}

impl AnswersFault {
    fn message(&self, path: String) -> Phrase {
        match self {
            AnswersFault::NoColumn(column) => phrase!(FAILURE_ANSWERS_NO_COLUMN, path = path, column = *column),
            AnswersFault::TwoColumns(column) => phrase!(FAILURE_ANSWERS_TWO_COLUMNS, path = path, column = *column),
            AnswersFault::NotText => phrase!(FAILURE_ANSWERS_NOT_TEXT, path = path),
            AnswersFault::TooLarge(limit) => {
                phrase!(FAILURE_ANSWERS_TOO_LARGE, path = path, limit = limit / MEBIBYTE)
            }
            AnswersFault::InTheWay => phrase!(FAILURE_ANSWERS_IN_THE_WAY, path = path),
        }
    }

    fn help(&self) -> Phrase {
        match self {
            AnswersFault::NoColumn(_) | AnswersFault::TwoColumns(_) => phrase!(FAILURE_HELP_ANSWERS_COLUMNS),
            AnswersFault::NotText => phrase!(FAILURE_HELP_ANSWERS_NOT_TEXT),
            AnswersFault::TooLarge(_) => phrase!(FAILURE_HELP_ANSWERS_TOO_LARGE),
            AnswersFault::InTheWay => phrase!(FAILURE_HELP_IN_THE_WAY),
        }
    }
}

/// A path as a reader sees it.
pub fn name(path: &Path) -> String {
    path.display().to_string()
}

/// An I/O error in words, without the number that the system gives it; what the words do not have, as the system says it.
pub fn reason(cause: &io::Error) -> Phrase {
    if let Some((_, reason)) = REASONS.iter().find(|(kind, _)| *kind == cause.kind()) {
        return Phrase::from(*reason);
    }
    let text = cause.to_string();
    let kind = cause.kind().to_string();
    if kind.starts_with("uncategorized") || kind.starts_with("other") {
        return Phrase::from(text.split(" (os error").next().unwrap_or(&text));
    }
    Phrase::from(kind)
}

const REASONS: [(ErrorKind, Word<0>); 21] = [
    (ErrorKind::AddrInUse, key::REASON_ADDRESS_IN_USE),
    (ErrorKind::AddrNotAvailable, key::REASON_ADDRESS_NOT_AVAILABLE),
    (ErrorKind::AlreadyExists, key::REASON_ALREADY_EXISTS),
    (ErrorKind::BrokenPipe, key::REASON_BROKEN_PIPE),
    (ErrorKind::FileTooLarge, key::REASON_FILE_TOO_LARGE),
    (ErrorKind::Interrupted, key::REASON_INTERRUPTED),
    (ErrorKind::InvalidData, key::REASON_INVALID_DATA),
    (ErrorKind::InvalidFilename, key::REASON_INVALID_FILENAME),
    (ErrorKind::InvalidInput, key::REASON_INVALID_INPUT),
    (ErrorKind::IsADirectory, key::REASON_IS_A_FOLDER),
    (ErrorKind::NotADirectory, key::REASON_NO_FOLDER),
    (ErrorKind::OutOfMemory, key::REASON_NO_MEMORY),
    (ErrorKind::StorageFull, key::REASON_NO_SPACE),
    (ErrorKind::NotFound, key::REASON_NOT_FOUND),
    (ErrorKind::PermissionDenied, key::REASON_PERMISSION_DENIED),
    (ErrorKind::QuotaExceeded, key::REASON_QUOTA_EXCEEDED),
    (ErrorKind::ReadOnlyFilesystem, key::REASON_READ_ONLY),
    (ErrorKind::ResourceBusy, key::REASON_RESOURCE_BUSY),
    (ErrorKind::TimedOut, key::REASON_TIMED_OUT),
    (ErrorKind::UnexpectedEof, key::REASON_UNEXPECTED_END),
    (ErrorKind::Unsupported, key::REASON_UNSUPPORTED),
];

const MEBIBYTE: u64 = 1024 * 1024;

/// What is at the bottom of a chain of template errors.
fn innermost(cause: &tera::Error) -> String {
    let mut error: &dyn error::Error = cause;
    while let Some(source) = error.source() {
        error = source;
    }
    error.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The English reasons are those of Rust's own library, so that a reason says the same whether the words have it or not.
    #[test]
    fn reasons_are_those_of_the_system() {
        for (kind, reason) in REASONS {
            assert_eq!(Phrase::from(reason).english(), kind.to_string());
        }
    }
}
