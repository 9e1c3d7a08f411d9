//! A table of answers (CSV, RFC 4180): which column holds what, its rows one by one, and the same table with what was
//! found behind it. Commas, semicolons or tabs part the cells, whichever part the first line into the columns wanted.
//!
//! A cell that begins with `=`, `+`, `-` or `@` would be run by a spreadsheet as a formula. It is written with an
//! apostrophe before it, and such an apostrophe is taken off again where one is read, so that a marked table can be
//! marked once more.

use std::{
    borrow::Cow,
    fs::File,
    io::{self, Read},
    iter,
    path::Path,
};

use benchleaf_words::{Phrase, phrase, phrase_count};
use csv::{ByteRecord, ReaderBuilder, WriterBuilder};

use super::statistics::Statistics;
use benchleaf_publish::failure::{AnswersFault, Failure};

/// A table as read.
pub(super) struct Table {
    bytes: Vec<u8>,
    delimiter: u8,
    header: Vec<String>,
    learner: usize,
    exercise: usize,
    answer: usize,
}

/// A row of a table, as wide as its first line.
pub(super) struct Row {
    /// The line that it begins on, from 1.
    pub(super) line: u64,
    cells: Vec<String>,
    /// Why it cannot be marked.
    pub(super) fault: Option<Phrase>,
}

impl Table {
    /// Reads a table and finds its columns.
    pub(super) fn read(path: &Path) -> Result<Self, Failure> {
        let bytes = bytes_of(path)?;
        let refused = |fault| Failure::Answers { path: path.to_owned(), fault };
        let mut first = None;
        for delimiter in DELIMITERS {
            match Self::parted(&bytes, delimiter) {
                Ok(table) => return Ok(Self { bytes, ..table }),
                Err(fault) => first = first.or(Some(fault)),
            }
        }
        Err(refused(first.unwrap_or(AnswersFault::NotText)))
    }

    /// A table, its bytes left out, if its first line has the columns when it is parted so.
    fn parted(bytes: &[u8], delimiter: u8) -> Result<Self, AnswersFault> {
        let first = records(bytes, delimiter).next().unwrap_or_default();
        let cells = first.iter().map(|cell| std::str::from_utf8(cell).map(str::to_owned));
        let header = cells.collect::<Result<Vec<String>, _>>().map_err(|_| AnswersFault::NotText)?;
        let place = |wanted: &'static str| {
            let mut found = header.iter().enumerate().filter(|(_, column)| is_column(column, wanted)).map(|(at, _)| at);
            match (found.next(), found.next()) {
                (Some(at), None) => Ok(at),
                (None, _) => Err(AnswersFault::NoColumn(wanted)),
                (Some(_), Some(_)) => Err(AnswersFault::TwoColumns(wanted)),
            }
        };
        let (learner, exercise, answer) = (place("learner")?, place("exercise")?, place("answer")?);
        Ok(Self { bytes: Vec::new(), delimiter, header, learner, exercise, answer })
    }

    /// The rows below the first line.
    pub(super) fn rows(&self) -> impl Iterator<Item = Row> {
        records(&self.bytes, self.delimiter).skip(1).map(|record| self.row(&record))
    }

    fn row(&self, record: &ByteRecord) -> Row {
        let line = self.line(record);
        let broken = record.iter().any(|cell| std::str::from_utf8(cell).is_err());
        let cells = record.iter().map(|cell| armed(String::from_utf8_lossy(cell)).into_owned());
        let mut cells: Vec<String> = cells.collect();
        let (found, wanted, comma) = (cells.len(), self.header.len(), char::from(self.delimiter));
        let fault = if broken {
            Some(phrase!(MARK_NOT_TEXT))
        } else if found > wanted {
            Some(phrase_count!(MARK_TOO_MANY_CELLS, found, n = found, wanted = wanted, comma = comma))
        } else if found < wanted {
            Some(phrase_count!(MARK_TOO_FEW_CELLS, found, n = found, wanted = wanted))
        } else {
            None
        };
        if found > wanted {
            // All of it is kept, and the columns stay in line.
            let tail = cells.split_off(wanted - 1).join(&comma.to_string());
            cells.push(tail);
        }
        cells.resize(wanted, String::new());
        Row { line, cells, fault }
    }

    /// The line that a record begins on; the line ends before it count.
    fn line(&self, record: &ByteRecord) -> u64 {
        let Some(position) = record.position() else { return 0 };
        let from = self.bytes.get(position.byte() as usize..).unwrap_or_default();
        let ends = from.iter().take_while(|byte| matches!(byte, b'\n' | b'\r')).filter(|byte| **byte == b'\n').count();
        position.line() + ends as u64
    }

    /// The learner, the exercise and the answer of a row.
    pub(super) fn answer<'r>(&self, row: &'r Row) -> [&'r str; 3] {
        let cell = |at: usize| row.cells.get(at).map_or("", |cell| cell.trim());
        [cell(self.learner), cell(self.exercise), cell(self.answer)]
    }

    /// A table of each learner's points: one column for each exercise, the sum, and what is to be had; parted as this one.
    pub(super) fn totals(&self, statistics: &Statistics) -> Result<Vec<u8>, Failure> {
        let csv = WriterBuilder::new().delimiter(self.delimiter).from_writer(Vec::new());
        let mut writer = Writer { csv, places: [0; ADDED.len()], width: 0 };
        let header = iter::once(LEARNER).chain(statistics.names()).chain(SUMS);
        writer.put(&header.map(str::to_owned).collect::<Vec<_>>())?;
        for learner in statistics.class() {
            let points = learner.points.iter().copied().chain([learner.total(), statistics.most()]);
            let cells = iter::once(learner.name.clone()).chain(points.map(|points| points.to_string()));
            writer.put(&cells.collect::<Vec<_>>())?;
        }
        writer.finish()
    }

    /// Where the marked table is written to, its first line written.
    pub(super) fn writer(&self) -> Result<Writer, Failure> {
        let mut header = self.header.clone();
        let places = ADDED.map(|added| {
            header.iter().position(|column| is_column(column, added)).unwrap_or_else(|| {
                header.push(added.to_owned());
                header.len() - 1
            })
        });
        let csv = WriterBuilder::new().delimiter(self.delimiter).from_writer(Vec::new());
        let mut writer = Writer { csv, places, width: header.len() };
        writer.put(&header)?;
        Ok(writer)
    }
}

/// A marked table on its way out.
pub(super) struct Writer {
    csv: csv::Writer<Vec<u8>>,
    /// Where what was found goes.
    places: [usize; ADDED.len()],
    width: usize,
}

impl Writer {
    /// Writes a row with what was found: a word, a sentence, points.
    pub(super) fn write(&mut self, row: Row, found: [&str; ADDED.len()]) -> Result<(), Failure> {
        let mut cells = row.cells;
        cells.resize(self.width, String::new());
        for (place, text) in self.places.into_iter().zip(found) {
            if let Some(cell) = cells.get_mut(place) {
                text.clone_into(cell);
            }
        }
        self.put(&cells)
    }

    fn put(&mut self, cells: &[String]) -> Result<(), Failure> {
        let cells = cells.iter().map(|cell| disarmed(cell));
        self.csv.write_record(cells.map(|cell| cell.into_owned().into_bytes())).map_err(not_written)
    }

    pub(super) fn finish(self) -> Result<Vec<u8>, Failure> {
        self.csv.into_inner().map_err(|error| Failure::Answer { cause: io::Error::other(error.to_string()) })
    }
}

/// Whether a file is a table that was marked: its first line has the columns that marking adds.
pub(super) fn is_marked(head: &[u8]) -> bool {
    let line = head.split(|byte| matches!(byte, b'\n' | b'\r')).next().unwrap_or_default();
    let line = String::from_utf8_lossy(line);
    ADDED.iter().all(|added| line.split([',', ';', '\t']).any(|column| is_column(column, added)))
}

/// Whether a file is a table of totals: its first line ends in the columns that only such a table has.
pub(super) fn is_totals(head: &[u8]) -> bool {
    let line = String::from_utf8_lossy(head.split(|byte| matches!(byte, b'\n' | b'\r')).next().unwrap_or_default());
    let mut columns = line.rsplit([',', ';', '\t']);
    SUMS.iter().rev().all(|sum| columns.next().is_some_and(|column| is_column(column, sum)))
}

fn not_written(error: csv::Error) -> Failure {
    Failure::Answer { cause: io::Error::other(error.to_string()) }
}

fn bytes_of(path: &Path) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    let unreadable = |cause: io::Error| match cause.kind() {
        io::ErrorKind::NotFound => Failure::Missing { path: path.to_owned() },
        _ => Failure::Unreadable { path: path.to_owned(), cause },
    };
    File::open(path).and_then(|file| file.take(LIMIT + 1).read_to_end(&mut bytes)).map_err(unreadable)?;
    let refused = |fault| Err(Failure::Answers { path: path.to_owned(), fault });
    if bytes.len() as u64 > LIMIT {
        return refused(AnswersFault::TooLarge(LIMIT));
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return refused(AnswersFault::NotText);
    }
    if bytes.starts_with(BYTE_ORDER_MARK) {
        bytes.drain(..BYTE_ORDER_MARK.len());
    }
    Ok(bytes)
}

/// All records; reading from memory, with rows of any width, nothing can fail.
fn records(bytes: &[u8], delimiter: u8) -> impl Iterator<Item = ByteRecord> {
    let reader = ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(bytes);
    reader.into_byte_records().map_while(Result::ok)
}

fn is_column(found: &str, wanted: &str) -> bool {
    found.trim().trim_matches('"').eq_ignore_ascii_case(wanted)
}

/// A cell that no spreadsheet runs.
pub(crate) fn disarmed(cell: &str) -> Cow<'_, str> {
    if runs(cell) { Cow::Owned(format!("'{cell}")) } else { Cow::Borrowed(cell) }
}

/// The cell as it was before [`disarmed`].
fn armed(cell: Cow<'_, str>) -> Cow<'_, str> {
    match cell.strip_prefix('\'').filter(|rest| runs(rest)) {
        Some(rest) => Cow::Owned(rest.to_owned()),
        None => cell,
    }
}

/// Whether a spreadsheet may take a cell for a formula.
fn runs(cell: &str) -> bool {
    cell.trim_start().starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']) || cell.starts_with(['\t', '\r', '\n'])
}

/// What marking adds: a word, a sentence, points.
const ADDED: [&str; 3] = ["finding", "feedback", "points"];
/// The first column and the last two of a table of totals.
const LEARNER: &str = "learner";
const SUMS: [&str; 2] = ["total", "out of"];
const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];
/// The largest table that is read: some ten million answers.
const LIMIT: u64 = 256 * 1024 * 1024;
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_that_a_spreadsheet_runs_is_written_as_it_is() {
        for cell in ["=1+1", "+1", "-5 °C", "@SUM(A1)", " =1", "\t=1", "\rx", "＝1", "-", "=cmd|' /C calc'!A0"] {
            let written = disarmed(cell);
            assert!(written.starts_with('\''), "{cell}");
            assert_eq!(armed(Cow::Borrowed(&written)), cell);
        }
        for cell in ["22 s", "", "'quoted'", "a=b", "−5 °C", "'"] {
            assert_eq!(disarmed(cell), cell);
            assert_eq!(armed(Cow::Borrowed(cell)), cell);
        }
    }

    #[test]
    fn a_marked_table_is_known_by_its_first_line() {
        assert!(is_marked(b"learner,exercise,answer,finding,feedback,points\nAda"));
        assert!(is_marked(b"Points;Finding;Feedback\r\n"));
        assert!(!is_marked(b"learner,exercise,answer\nfinding,feedback,points\n"));
    }
}
