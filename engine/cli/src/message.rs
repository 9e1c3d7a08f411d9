//! Messages as a person reads them: what is wrong, the line it stands in with the text underlined, the code, and a way
//! out, drawn by `miette`. Text that comes from a worksheet or a path is made harmless first, so that no file can send
//! commands to the reader's terminal; a span that does not fit its text is moved to where it does.

use std::{borrow::Cow, fmt};

use benchleaf_core::{
    problem::{Code, Problem, Severity},
    results::Evaluation,
    span::Position,
};
use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError, MietteSpanContents, SourceCode,
    SourceSpan, SpanContents,
};

use benchleaf_publish::failure::Failure;
use benchleaf_words::{Words, key};

use crate::drawing::{Drawing, Look};

/// Draw every problem of a worksheet, in reading order.
pub(crate) fn draw_problems(worksheet: &str, source: &str, evaluation: &Evaluation, look: Look) -> String {
    let handler = handler(look.drawing);
    let mut drawn = String::new();
    // What waits for a Rust block is reported on the page; here the block's own note says enough.
    for problem in evaluation.problems.iter().filter(|problem| problem.code != Code::RustAwaited) {
        drawn.push_str(&draw(
            &handler,
            Message::of_problem(problem, worksheet, source, evaluation, look.words),
            look.words,
        ));
    }
    drawn
}

/// Draw a failure.
pub(crate) fn draw_failure(failure: &Failure, look: Look) -> String {
    draw(&handler(look.drawing), Message::of_failure(failure, look.words), look.words)
}

/// The same text with everything in it that a terminal or a reader could mistake (control characters, marks that turn
/// the direction of writing) replaced by a visible character of the same length, so that places in it stay true.
pub(crate) fn harmless(text: &str) -> Cow<'_, str> {
    if !text.chars().any(|c| stand_in(c).is_some()) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.chars().map(|c| stand_in(c).unwrap_or(c)).collect())
}

fn stand_in(c: char) -> Option<char> {
    match c {
        '\t' | '\n' => None,
        '\0'..='\x1f' | '\x7f' => Some('?'),
        '\u{80}'..='\u{9f}' => Some('¿'),
        '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => Some('\u{fffd}'),
        _ => None,
    }
}

fn handler(drawing: Drawing) -> GraphicalReportHandler {
    let theme = match drawing {
        Drawing::Coloured => GraphicalTheme::unicode(),
        Drawing::Plain => GraphicalTheme::unicode_nocolor(),
    };
    GraphicalReportHandler::new_themed(theme).with_width(WIDTH).with_links(false)
}

/// A message as it is drawn. `miette` has its word for a help in English alone: it is put in anew.
fn draw(handler: &GraphicalReportHandler, message: Message, words: Words<'_>) -> String {
    let drawn = rendered(handler, &message);
    let help = words.text(key::MESSAGE_HELP);
    if help == MIETTE_HELP || message.help.is_none() {
        return drawn;
    }
    let above = rendered(handler, &Message { help: None, ..message });
    let above = above.trim_end_matches('\n');
    match drawn.strip_prefix(above) {
        Some(below) => {
            let indent = |word: &str| format!("\n{}", " ".repeat(word.chars().count() + 4));
            let below = below.replacen(MIETTE_HELP, help, 1).replace(&indent(MIETTE_HELP), &indent(help));
            format!("{above}{below}")
        }
        None => drawn,
    }
}

fn rendered(handler: &GraphicalReportHandler, message: &Message) -> String {
    let mut text = String::new();
    match handler.render_report(&mut text, message) {
        Ok(()) => text + "\n",
        // Plain words are better than none.
        Err(_) => format!("{message}\n"),
    }
}

/// A message with all that it shows.
#[derive(Debug)]
struct Message {
    text: String,
    help: Option<String>,
    code: Option<&'static str>,
    severity: miette::Severity,
    passage: Option<Passage>,
}

impl Message {
    fn of_problem(problem: &Problem, worksheet: &str, source: &str, evaluation: &Evaluation, words: Words<'_>) -> Self {
        Self {
            text: harmless(&problem.message.say(words)).into_owned(),
            help: problem.help.as_ref().map(|help| harmless(&help.say(words)).into_owned()),
            code: Some(problem.code.text()),
            severity: match problem.severity() {
                Severity::Note => miette::Severity::Advice,
                Severity::Warning => miette::Severity::Warning,
                Severity::Error => miette::Severity::Error,
            },
            passage: Some(Passage::of_problem(problem, worksheet, source, evaluation)),
        }
    }

    fn of_failure(failure: &Failure, words: Words<'_>) -> Self {
        Self {
            text: harmless(&failure.message().say(words)).into_owned(),
            help: Some(harmless(&failure.help().say(words)).into_owned()),
            code: None,
            severity: miette::Severity::Error,
            passage: None,
        }
    }
}

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl std::error::Error for Message {}

impl Diagnostic for Message {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.code.map(|code| Box::new(code) as Box<dyn fmt::Display>)
    }

    fn severity(&self) -> Option<miette::Severity> {
        Some(self.severity)
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.help.as_ref().map(|help| Box::new(help) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.passage.as_ref().map(|passage| passage as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let passage = self.passage.as_ref()?;
        Some(Box::new(std::iter::once(LabeledSpan::new(None, passage.offset, passage.length))))
    }
}

/// The line that a problem stands in (a part of it, where the line is very long), and the place in it.
#[derive(Debug)]
pub(crate) struct Passage {
    worksheet: String,
    text: String,
    /// Where in `text` the problem begins.
    offset: usize,
    /// How far it goes; a problem of several lines ends with its first.
    length: usize,
    /// Line and column in the worksheet, from 0.
    line: usize,
    column: usize,
}

impl Passage {
    /// The passage of a problem, in the worksheet or in a file that it uses.
    pub(crate) fn of_problem(problem: &Problem, worksheet: &str, source: &str, evaluation: &Evaluation) -> Self {
        let Some(place) = problem.file.as_deref() else {
            let position = |at| evaluation.lines.position(source, at);
            return Self::around(problem.span.start, problem.span.end, worksheet, source, position);
        };
        let Position { line, column } = place.position;
        let before = |at| place.line.get(place.marked.start..at).map_or(0, |text| text.chars().count());
        let position = |at| Position { line, column: column + before(at) };
        let path = beside(worksheet, &place.path);
        Self::around(place.marked.start, place.marked.end, &path, &place.line, position)
    }

    /// The passage of a place in a text.
    fn around(start: usize, end: usize, worksheet: &str, source: &str, position: impl Fn(usize) -> Position) -> Self {
        let start = boundary(source, start);
        let line_start = source[..start].rfind('\n').map_or(0, |newline| newline + 1);
        let line_end = source[start..].find('\n').map_or(source.len(), |length| start + length);
        let line_end = line_start + source[line_start..line_end].trim_end_matches('\r').len();
        let start = start.min(line_end);
        let end = boundary(source, end).clamp(start, line_end);

        let cut_start = boundary(source, line_start.max(start.saturating_sub(REACH)));
        let cut_end = boundary(source, line_end.min(end.min(start.saturating_add(REACH)).saturating_add(REACH)));
        let before = if cut_start > line_start { "…" } else { "" };
        let after = if cut_end < line_end { "…" } else { "" };
        let position = position(start);
        Self {
            worksheet: harmless(worksheet).into_owned(),
            text: format!("{before}{}{after}", harmless(&source[cut_start..cut_end])),
            offset: before.len() + start - cut_start,
            length: end.min(cut_end) - start,
            line: position.line - 1,
            column: position.column - 1,
        }
    }
}

impl Passage {
    /// Line and column of the place, from 1.
    pub(crate) fn position(&self) -> (usize, usize) {
        (self.line + 1, self.column + 1)
    }

    /// The text before the place, at it and behind it.
    pub(crate) fn parts(&self) -> [&str; 3] {
        let (before, rest) = self.text.split_at_checked(self.offset).unwrap_or(("", &self.text));
        let (at, after) = rest.split_at_checked(self.length).unwrap_or((rest, ""));
        [before, at, after]
    }
}

impl SourceCode for Passage {
    fn read_span<'a>(
        &'a self,
        _: &SourceSpan,
        lines_before: usize,
        _: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        // Asked without the lines around, the column is the place itself; else that of the passage's first character.
        let column = if lines_before == 0 { self.column } else { 0 };
        Ok(Box::new(MietteSpanContents::new_named(
            self.worksheet.clone(),
            self.text.as_bytes(),
            (0, self.text.len()).into(),
            self.line,
            column,
            1,
        )))
    }
}

/// A file as its reader would call it, by its path from a worksheet.
fn beside(worksheet: &str, path: &str) -> String {
    let folder = worksheet.rfind(['/', '\\']).map_or("", |slash| &worksheet[..=slash]);
    format!("{folder}{path}")
}

/// The nearest place at or before `offset` where a character of `text` begins, or its end.
fn boundary(text: &str, offset: usize) -> usize {
    (0..=offset.min(text.len())).rev().find(|place| text.is_char_boundary(*place)).unwrap_or(0)
}

/// What `miette` writes before a help.
const MIETTE_HELP: &str = "help";
/// Columns that the words of a message may take: the width that a terminal is sure to have.
const WIDTH: usize = 80;
/// Bytes of a line that are shown on each side of a problem.
const REACH: usize = 160;

#[cfg(test)]
mod tests {
    use benchleaf_core::{Evaluator, span::Span};

    use super::*;

    #[test]
    fn the_offending_text_is_underlined_under_its_line() {
        let source = "# Title\n\nµ = Ω·bad_name + 1\n";
        let start = source.find("bad_name").unwrap();
        let drawn = drawn(source, Span::new(start, start + 8), Drawing::Plain);
        assert_eq!(
            drawn.lines().map(str::trim_end).collect::<Vec<_>>(),
            [
                "E-unknown-name",
                "",
                "  × `x` is not defined",
                "   ╭─[a.md:3:7]",
                " 3 │ µ = Ω·bad_name + 1",
                "   ·       ────────",
                "   ╰────",
                "  help: define it",
                ""
            ]
        );
    }

    #[test]
    fn no_span_panics() {
        for source in ["", "\n", "aΩ\r\nb\n\nµ", "\u{1b}[31mΩ"] {
            for start in 0..source.len() + 3 {
                for end in 0..source.len() + 3 {
                    let text = drawn(source, Span::new(start, end), Drawing::Plain);
                    assert!(text.contains("a.md:") && text.contains("help: define it"), "{text}");
                }
            }
        }
        drawn("abc", Span::new(usize::MAX, usize::MAX), Drawing::Plain);
        drawn("abc", Span::new(0, usize::MAX), Drawing::Plain);
    }

    #[test]
    fn a_very_long_line_is_cut_around_the_place() {
        let source = format!("first\n{}bad{}", "Ω".repeat(100_000), "é".repeat(100_000));
        let start = source.find("bad").unwrap();
        let text = drawn(&source, Span::new(start, start + 3), Drawing::Plain);
        assert!(text.len() < 2_000 && text.contains("Ωbadé") && text.contains("a.md:2:100001"), "{text}");
        let text = drawn(&source, Span::new(start, source.len()), Drawing::Plain);
        assert!(text.len() < 4_000 && text.contains("Ωbadé"), "{text}");
    }

    #[test]
    fn a_worksheet_cannot_command_the_terminal() {
        let hostile = "\u{1b}[2J\u{9b}31m\u{202e}\u{7}\r";
        assert_eq!(harmless(hostile), "?[2J¿31m\u{fffd}??");
        assert_eq!(harmless(hostile).len(), hostile.len());
        assert!(matches!(harmless("plain\ttext Ω\n"), Cow::Borrowed(_)));
        let text = drawn(hostile, Span::new(0, hostile.len()), Drawing::Plain);
        assert!(!text.contains('\u{1b}') && !text.contains('\u{202e}'), "{text:?}");
    }

    #[test]
    fn the_word_for_a_help_is_in_the_language_and_its_lines_stand_below_one_another() {
        let failure = Failure::NoWorksheets { path: "help: a".into() };
        let words = benchleaf_words::Language::find("de").unwrap().words();
        for drawing in [Drawing::Plain, Drawing::Coloured] {
            let drawn = draw_failure(&failure, Look { drawing, words });
            assert!(drawn.contains("`help: a`") && drawn.matches("help").count() == 1, "{drawn}");
            let lines: Vec<&str> = drawn.lines().skip_while(|line| !line.contains("Hilfe: ")).collect();
            assert!(
                lines.len() > 1 && lines[1..].iter().all(|line| line.is_empty() || line.starts_with("         ")),
                "{drawn}"
            );
            assert!(lines.iter().all(|line| line.chars().count() <= WIDTH + 10), "{drawn}");
        }
        let english = draw_failure(&failure, Look { drawing: Drawing::Plain, words: Words::ENGLISH });
        assert!(english.contains("\n  help: Worksheets are"), "{english}");
    }

    #[test]
    fn colour_is_for_people() {
        assert!(drawn("abc", Span::new(0, 1), Drawing::Coloured).contains("\u{1b}["));
        assert!(!drawn("abc", Span::new(0, 1), Drawing::Plain).contains('\u{1b}'));
    }

    fn drawn(source: &str, span: Span, drawing: Drawing) -> String {
        let mut evaluation = Evaluator::default().evaluate(source);
        evaluation.problems = vec![Problem::new(Code::UnknownName, span, "`x` is not defined").help("define it")];
        draw_problems("a.md", source, &evaluation, Look { drawing, words: Words::ENGLISH })
    }
}
