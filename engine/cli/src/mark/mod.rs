//! `benchleaf mark`: a class's answers are marked by the same code that marks in a published page. A table comes in
//! (`table`), each answer is marked once however often it comes (`marking`), the table goes out with what was found, and
//! a page says per exercise how many had it right, which slips were commonest and how the points spread (`statistics`,
//! `spread`), and a second table gives each learner's points.

mod marking;
mod spread;
mod statistics;
mod table;

use std::path::{Path, PathBuf};

use benchleaf_core::summary::Summary;

use benchleaf_page::PageOptions;
use benchleaf_words::{Language, Phrase, count, say};

pub(crate) use self::table::disarmed;
use self::{marking::Marking, statistics::Statistics, table::Table};
use benchleaf_publish::{
    failure::{Failure, name},
    inputs,
    page::render_marks,
    text, write,
};

use crate::{args::MarkRequest, message::harmless, outcome::Outcome, reading, said, terminal::Terminal};

/// Run `benchleaf mark`.
pub(crate) fn mark(request: &MarkRequest, terminal: &mut Terminal<'_>) -> Outcome {
    match marked(request, terminal) {
        Ok(outcome) => outcome,
        Err(failure) => terminal.fail(&failure),
    }
}

fn marked(request: &MarkRequest, terminal: &mut Terminal<'_>) -> Result<Outcome, Failure> {
    let mut inputs = inputs::gather(std::slice::from_ref(&request.sheet));
    if let Some(failure) = inputs.failures.pop() {
        return Err(failure);
    }
    if !inputs.folders.is_empty() {
        return Err(Failure::NotNamedWorksheet { path: request.sheet.clone() });
    }
    let source = text::read(&request.sheet)?;
    let table = Table::read(&request.answers)?;
    let (worksheet, evaluation) = reading::read(&request.sheet, &source, terminal);
    let mut marking = Marking::new(&worksheet);
    if marking.is_empty() && Summary::of(&evaluation).errors == 0 {
        return Err(Failure::NoExercises { path: request.sheet.clone() });
    }
    let page = benchleaf_page::render(&evaluation, &source, &PageOptions::default());
    let title = if page.title.is_empty() { name(&request.sheet) } else { page.title };
    // What is written for the class is in the worksheet's language.
    let lang = worksheet.metadata.lang;
    let mut statistics = Statistics::new(title, lang.words(), marking.exercises());
    let mut writer = table.writer()?;
    let mut refused = Refused::default();
    for row in table.rows() {
        let [learner, exercise, answer] = table.answer(&row);
        let marked = match &row.fault {
            None => marking.mark(learner, exercise, answer),
            Some(fault) => Err(fault.clone()),
        };
        match marked {
            Ok(finding) => {
                statistics.add(learner, exercise, &finding.feedback);
                writer.write(row, [finding.feedback.word(), &finding.message, &finding.points])?;
            }
            Err(why) => {
                refused.add(row.line, &why);
                writer.write(row, [NOT_MARKED, &row_refused(lang, &why), ""])?;
            }
        }
    }
    let bytes = writer.finish()?;
    refused.report(&request.answers, terminal);
    match &request.output {
        None => terminal.say(&String::from_utf8_lossy(&bytes)),
        Some(folder) => {
            let [csv, totals, page] =
                ["marked.csv", "totals.csv", "marks.html"].map(|ending| target(folder, &request.answers, ending));
            write::make_folder(folder)?;
            write::write_marked(&csv, &bytes, table::is_marked)?;
            write::write_marked(&totals, &table.totals(&statistics)?, table::is_totals)?;
            write::write_page(&page, &render_marks(lang, &statistics.summary(refused.count))?)?;
            let words = terminal.words();
            let exercises = count!(words, MARK_EXERCISES, statistics.exercises(), n = statistics.exercises());
            for (file, what) in [
                (csv, statistics.in_words(words, refused.count)),
                (totals, statistics.spread_in_words(words)),
                (page, exercises),
            ] {
                terminal.say(&said::wrote(words, &shown(&file), &what));
            }
        }
    }
    Ok(if Summary::of(&evaluation).errors > 0 { Outcome::WorksheetError } else { Outcome::Fine })
}

/// What stands behind a row that could not be marked, as a sentence.
fn row_refused(lang: Language, why: &Phrase) -> String {
    let (words, why) = (lang.words(), why.say(lang.words()));
    if why.ends_with('?') {
        say!(words, MARK_ROW_REFUSED_QUESTION, why = why)
    } else {
        say!(words, MARK_ROW_REFUSED, why = why)
    }
}

/// `answers.csv` becomes `DIR/answers.marked.csv`.
fn target(folder: &Path, answers: &Path, ending: &str) -> PathBuf {
    let mut name = answers.file_stem().unwrap_or_default().to_owned();
    name.push(".");
    name.push(ending);
    folder.join(name)
}

fn shown(path: &Path) -> String {
    harmless(&name(path)).into_owned()
}

/// The rows that could not be marked.
#[derive(Default)]
struct Refused {
    count: usize,
    listed: Vec<(u64, Phrase)>,
}

impl Refused {
    fn add(&mut self, line: u64, why: &Phrase) {
        self.count += 1;
        if self.listed.len() < LISTED {
            self.listed.push((line, why.clone()));
        }
    }

    fn report(&self, answers: &Path, terminal: &mut Terminal<'_>) {
        let words = terminal.words();
        let mut text = String::new();
        for (line, why) in &self.listed {
            let (file, why) = (shown(answers), one_line(&why.say(words)));
            text += &(say!(words, MARK_REFUSED, file = file, line = line, why = why) + "\n");
        }
        let more = self.count - self.listed.len();
        if more > 0 {
            text += &(count!(words, MARK_REFUSED_MORE, more, n = more) + "\n");
        }
        terminal.warn(&text);
    }
}

/// What comes from a table cannot break a message's line.
fn one_line(text: &str) -> String {
    harmless(&text.replace(['\n', '\r', '\t'], " ")).into_owned()
}

/// The finding of a row that could not be marked.
const NOT_MARKED: &str = "not-marked";
/// Rows that are listed one by one; more are only counted.
const LISTED: usize = 20;
