//! The lines of a `steps` block: how the build is made, step by step. A line that begins with one of the words of [`WORDS`] is
//! a statement; every other line is Markdown, as it stands.

use benchleaf_words::{Phrase, phrase};

use super::bench::value_name;
use crate::{
    lang::{Item, Parser, ast::Quantity, lines, whole},
    problem::{Code, Problem},
    span::{Span, Spanned},
};

/// A `steps` block as read.
#[derive(Clone, Debug, Default)]
pub struct StepsBlock {
    /// The steps, in order.
    pub steps: Vec<StepLines>,
}

/// A step as read.
#[derive(Clone, Debug)]
pub struct StepLines {
    /// What it is called.
    pub title: Spanned<String>,
    /// What it says and asks, in order.
    pub items: Vec<StepItem>,
    /// How long it takes.
    pub time: Option<Quantity>,
    /// What it takes.
    pub tools: Vec<String>,
}

/// A part of a step.
#[derive(Clone, Debug)]
pub enum StepItem {
    /// Markdown.
    Text(Span),
    /// `place @R1 @C2`: the designators of parts.
    Place(Vec<Spanned<String>>),
    /// `picture "board.svg" "the board from above"`.
    Picture(StepPicture),
    /// `check V_rail at "pin 8 to ground"`.
    Check(CheckRequest),
    /// `pause "let the capacitor discharge"`.
    Pause(String),
    /// `power "9 V adapter"`: from here on power is applied.
    Power(String),
}

/// A picture of a step.
#[derive(Clone, Debug)]
pub struct StepPicture {
    /// The file, by its path relative to the worksheet.
    pub file: Spanned<String>,
    /// What it shows, for those who do not see it.
    pub words: String,
}

/// A test point.
#[derive(Clone, Debug)]
pub struct CheckRequest {
    /// The value that is read there.
    pub value: Spanned<String>,
    /// Where.
    pub at: String,
    /// Where the line stands.
    pub span: Span,
}

impl StepsBlock {
    /// The parts that are Markdown.
    pub fn texts(&self) -> impl Iterator<Item = Span> + '_ {
        let items = self.steps.iter().flat_map(|step| &step.items);
        items.filter_map(|item| if let StepItem::Text(span) = item { Some(*span) } else { None })
    }

    /// The pictures.
    pub fn pictures(&self) -> impl Iterator<Item = &StepPicture> {
        let items = self.steps.iter().flat_map(|step| &step.items);
        items.filter_map(|item| if let StepItem::Picture(picture) = item { Some(picture) } else { None })
    }
}

/// The words that open a statement, each with how it is written.
const WORDS: &[(&str, &str)] = &[
    ("step", "step \"Solder the timer's supply\""),
    ("place", "place @R1 @C2"),
    ("picture", "picture \"board.svg\" \"the board from above\""),
    ("check", "check V_rail at \"pin 8 to ground\""),
    ("pause", "pause \"let the capacitor discharge\""),
    ("power", "power \"9 V adapter\""),
    ("time", "time 10 min"),
    ("tools", "tools \"soldering iron, side cutters\""),
];

type Read<T> = Result<T, Problem>;

/// Reads a `steps` block; `behind` is what stands behind its word.
pub(super) fn read(source: &str, behind: Span, content: Span, problems: &mut Vec<Problem>) -> StepsBlock {
    let mut block = StepsBlock::default();
    if !behind.text(source).is_empty() {
        let message = phrase!(SHEET_STEPS_DOES_NOT_BELONG_BEHIND, behind = behind.text(source));
        problems.push(Problem::new(Code::Step, behind, message).help(phrase!(SHEET_STEPS_GIVE_THE_STEPS_A_HEADING)));
    }
    let reported = problems.len();
    let (mut at, mut text, mut fence) = (content.start, None::<Span>, None::<&str>);
    for line in content.text(source).split_inclusive('\n') {
        let said = line.trim();
        let start = at + line.len() - line.trim_start().len();
        let span = Span::new(start, start + said.len());
        at += line.len();
        if said.is_empty() {
            continue;
        }
        let statement = WORDS.iter().find(|(word, _)| fence.is_none() && opens(said, word));
        if let Some((word, form)) = statement {
            block.text(text.take(), problems);
            if let Err(problem) = block.statement(source, word, span) {
                problems.push(in_form(problem, form));
            }
            continue;
        }
        text = Some(text.map_or(span, |text| text.to(span)));
        // What stands in a fence of its own is no statement.
        fence = match fence {
            None => ["```", "~~~"].into_iter().find(|mark| said.starts_with(mark)),
            Some(mark) => fence.filter(|_| !said.starts_with(mark)),
        };
    }
    block.text(text, problems);
    if block.steps.is_empty() && problems.len() == reported {
        let problem = Problem::new(Code::Step, content, phrase!(SHEET_STEPS_THE_BLOCK_HOLDS_NO_STEP));
        problems.push(problem.help(phrase!(SHEET_STEPS_BEGIN_EACH)));
    }
    block
}

/// Whether a line is a statement that this word opens.
fn opens(line: &str, word: &str) -> bool {
    line.strip_prefix(word).is_some_and(|rest| rest.is_empty() || rest.starts_with([' ', '\t', '"', '@']))
}

fn in_form(problem: Problem, form: &str) -> Problem {
    match problem.code {
        Code::Syntax | Code::ImpliedProduct => {
            let help = phrase!(SHEET_STEPS_IT_READS_WHERE, form = form);
            Problem { code: Code::Step, ..problem }.help(help)
        }
        _ => problem,
    }
}

impl StepsBlock {
    fn text(&mut self, span: Option<Span>, problems: &mut Vec<Problem>) {
        let Some(span) = span else { return };
        match self.steps.last_mut() {
            Some(step) => step.items.push(StepItem::Text(span)),
            // Where the first step did not read, what follows is not to blame.
            None if problems.iter().any(|problem| problem.code == Code::Step) => {}
            None => {
                let message = phrase!(SHEET_STEPS_THIS_TEXT_BELONGS_TO_NO);
                let help = phrase!(SHEET_STEPS_PUT_IT_ABOVE_THE_BLOCK);
                problems.push(Problem::new(Code::Step, span, message).help(help));
            }
        }
    }

    fn statement(&mut self, source: &str, word: &str, span: Span) -> Read<()> {
        let Some(line) = lines(source, span).into_iter().next() else { return Ok(()) };
        whole(line, |parser| {
            parser.next();
            if word == "step" {
                let at = parser.here();
                let title =
                    Spanned { item: quoted(parser, phrase!(SHEET_STEPS_THE_STEPS_NAME_BETWEEN_QUOTES))?, span: at };
                self.steps.push(StepLines { title, items: Vec::new(), time: None, tools: Vec::new() });
                return Ok(());
            }
            let Some(step) = self.steps.last_mut() else {
                let message = phrase!(SHEET_STEPS_NO_STEP_HAS_BEGUN);
                return Err(Problem::new(Code::Step, span, message).help(phrase!(SHEET_STEPS_BEGIN_IT_WITH_ITS_NAME)));
            };
            step.statement(parser, word, span)
        })
    }
}

impl StepLines {
    fn statement(&mut self, parser: &mut Parser, word: &str, span: Span) -> Read<()> {
        let item = match word {
            "place" => StepItem::Place(designators(parser)?),
            "picture" => {
                let at = parser.here();
                let file = Spanned { item: quoted(parser, phrase!(SHARED_THE_FILES_NAME_BETWEEN_QUOTES))?, span: at };
                let words = quoted(parser, phrase!(SHARED_A_TEXT_BETWEEN_QUOTES))?;
                StepItem::Picture(StepPicture { file, words })
            }
            "check" => {
                let value = value_name(parser)?;
                parser.take_word("at").ok_or_else(|| parser.unexpected("`at`"))?;
                StepItem::Check(CheckRequest {
                    value,
                    at: quoted(parser, phrase!(SHEET_STEPS_THE_PLACE_BETWEEN_QUOTES))?,
                    span,
                })
            }
            "pause" => StepItem::Pause(quoted(parser, phrase!(SHARED_A_TEXT_BETWEEN_QUOTES))?),
            "power" => StepItem::Power(quoted(parser, phrase!(SHARED_A_TEXT_BETWEEN_QUOTES))?),
            "tools" => {
                let listed = quoted(parser, phrase!(SHEET_STEPS_THE_TOOLS_BETWEEN_QUOTES))?;
                let tools = listed.split(',').map(str::trim).filter(|tool| !tool.is_empty());
                self.tools.extend(tools.map(str::to_owned));
                return Ok(());
            }
            _ => {
                let Some(Item::Quantity(time)) = parser.peek().cloned() else {
                    return Err(parser.unexpected(phrase!(SHEET_STEPS_A_TIME)));
                };
                parser.next();
                if self.time.replace(time).is_some() {
                    let message = phrase!(SHEET_STEPS_THE_STEP_HAS_A_TIME);
                    return Err(
                        Problem::new(Code::Step, span, message).help(phrase!(SHEET_STEPS_ADD_THE_TWO_AND_WRITE))
                    );
                }
                return Ok(());
            }
        };
        self.items.push(item);
        Ok(())
    }
}

fn quoted(parser: &mut Parser, wanted: impl Into<Phrase>) -> Read<String> {
    let missing = parser.unexpected(wanted);
    parser.label().filter(|text| !text.trim().is_empty()).ok_or(missing)
}

fn designators(parser: &mut Parser) -> Read<Vec<Spanned<String>>> {
    let mut found = Vec::new();
    while let Some(Item::Designator(designator)) = parser.peek().cloned() {
        found.push(Spanned { item: designator, span: parser.here() });
        parser.next();
        parser.take(&Item::Comma);
    }
    if found.is_empty() { Err(parser.unexpected(phrase!(SHARED_THE_DESIGNATOR_OF_A_PART))) } else { Ok(found) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn block(text: &str) -> (StepsBlock, Vec<String>) {
        let mut problems = Vec::new();
        let read = read(text, Span::new(0, 0), Span::new(0, text.len()), &mut problems);
        (read, problems.into_iter().map(|problem| problem.message.english()).collect())
    }

    #[test]
    fn statements_and_text_stand_in_their_order() {
        let text = "step \"First\"\n  Solder **R1**.\n\n  - flat\n  place @R1, @C2\n  time 10 min\n  tools \"iron, tin\"\n\
            Then look.\npicture \"a.svg\" \"the board\"\ncheck reg.voltage at \"pin 8\"\nstep \"Then\"\npower \"adapter\"\n\
            pause \"a minute\"\nPlace nothing here.\n~~~text\nplace x\n~~~\nplacement is text\n";
        let (read, problems) = block(text);
        assert_eq!(problems, Vec::<String>::new());
        let kinds = |step: &StepLines| -> Vec<String> {
            let kind = |item: &StepItem| match item {
                StepItem::Text(span) => span.text(text).to_owned(),
                StepItem::Place(places) => places.iter().map(|place| place.item.as_str()).collect::<Vec<_>>().join("+"),
                StepItem::Picture(picture) => format!("{}: {}", picture.file.item, picture.words),
                StepItem::Check(check) => format!("{} at {}", check.value.item, check.at),
                StepItem::Pause(text) | StepItem::Power(text) => text.clone(),
            };
            step.items.iter().map(kind).collect()
        };
        let first = ["Solder **R1**.\n\n  - flat", "R1+C2", "Then look.", "a.svg: the board", "reg.voltage at pin 8"];
        assert_eq!(kinds(&read.steps[0]), first);
        assert_eq!(read.steps[0].tools, ["iron", "tin"]);
        let text = "Place nothing here.\n~~~text\nplace x\n~~~\nplacement is text";
        assert_eq!(kinds(&read.steps[1]), ["adapter", "a minute", text]);
    }

    #[test]
    fn what_does_not_read_is_reported_and_the_rest_stands() {
        let (read, problems) = block(
            "Loose.\nstep First\nstep \"A\"\nplace R1\ncheck V at\ntime soon\ntime 1 min\ntime 2 min\npicture \"a.svg\"\n",
        );
        assert_eq!(problems.len(), 7, "{problems:#?}");
        assert_eq!(read.steps.len(), 1);
        assert_eq!(block("").1, ["the block holds no step"]);
        assert_eq!(block("place @R1\n").1, ["no step has begun"]);
    }
}
