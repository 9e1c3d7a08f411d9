//! Exercises: as they stand in a page, a question with its hints behind disclosures and a form that the page's script
//! brings to life; and what the script asks the engine for, [`attempt`]: the question with a learner's numbers, the
//! feedback to an answer, and the worked solution. Nothing of the answer is in the page itself.

mod solution;

use benchleaf_core::{
    Evaluator, Options,
    exercise::{Feedback, Marker, NotMarked},
    results::Task,
    sheet::{BlockBody, Exercise, Worksheet},
    span::Span,
};
use benchleaf_words::{Words, count, key, say, set};
use maud::{Markup, html};

use crate::{block_prose, context::PageContext, format::narrow, problems, results, rows::two_columns};

/// What a learner does with an exercise.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Attempt {
    /// The exercise's name.
    pub exercise: String,
    /// The learner's name or number, where one was typed in.
    pub learner: Option<String>,
    /// The answer as typed; nothing to see the question alone.
    pub answer: Option<String>,
    /// Whether the learner wants to see the solution.
    pub gives_up: GivesUp,
}

/// Whether a learner wants to see the solution without a right answer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum GivesUp {
    /// Not yet.
    #[default]
    No,
    /// Yes.
    Yes,
}

/// What the page shows then. `inlines`, `message` and `solution` are HTML.
#[derive(Clone, Debug, PartialEq)]
pub struct Reply {
    /// The inline results of the question and its hints with the learner's numbers, each with its place among those of
    /// the worksheet.
    pub inlines: Vec<(usize, String)>,
    /// The feedback to the answer, if one was given.
    pub feedback: Option<Said>,
    /// The worked solution, where the answer is right or the learner gave up.
    pub solution: Option<String>,
}

/// The feedback to an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Said {
    /// What it is, in a word: `right`, `slip`, `prefix`, …
    pub word: &'static str,
    /// What is said to the learner.
    pub message: String,
    /// What the answer earns.
    pub points: f64,
    /// What a right one earns.
    pub of: f64,
}

/// Answers a learner of a published page; `worksheet` is as its author wrote it.
///
/// # Errors
/// Where there is no such exercise, or nothing to hold an answer against.
pub fn attempt(worksheet: &Worksheet, attempt: &Attempt, words: Words<'_>) -> Result<Reply, NotMarked> {
    let marker = Marker::new(worksheet);
    let variant = marker.variant(&attempt.exercise, attempt.learner.as_deref())?;
    let expected = marker.expected(&variant)?;
    let worksheet = variant.worksheet(worksheet);
    // Neither a question nor a solution shows simulated builds.
    let evaluation =
        Evaluator::with(&Options { samples: Some(1), ..Options::default() }).evaluate_worksheet(&worksheet, Vec::new());
    let context = PageContext::new(&evaluation, &worksheet.source, words);
    let unknown = || NotMarked::Unsound { name: attempt.exercise.clone() };
    let task = evaluation.exercises.iter().find(|task| task.name == attempt.exercise).ok_or_else(unknown)?;
    let feedback = attempt.answer.as_deref().map(|answer| expected.assess(answer));
    let solved = attempt.gives_up == GivesUp::Yes || feedback.as_ref().is_some_and(Feedback::is_right);
    Ok(Reply {
        inlines: within(&context, &task.name),
        feedback: feedback.map(|feedback| Said {
            word: feedback.word(),
            message: problems::message(&feedback.phrase().say(words)).into_string(),
            points: feedback.points(),
            of: task.points,
        }),
        solution: solved.then(|| solution::worked(&context, task).into_string()),
    })
}

/// An exercise in the place of its block.
pub(crate) fn block(context: &PageContext<'_>, number: usize, exercise: &Exercise, task: Option<&Task>) -> Markup {
    let name = exercise.name.as_ref().map(|name| name.item.as_str());
    let id = task.map(|task| format!("exercise-{}", task.name));
    let varies = task.filter(|task| !task.varies.is_empty()).map(|task| task.varies.join(" "));
    let words = context.words;
    let name_of = match task {
        Some(_) => say!(words, EXERCISE_NUMBERED, n = number + 1),
        None => words.text(key::EXERCISE_UNNUMBERED).to_owned() + " ",
    };
    let question = html! {
        p.what { (name_of) }
        div.question data-part="question" { (paragraphs(context, &exercise.ask)) }
        (hints(context, &exercise.hints))
        @if let (Some(task), Some(id)) = (task, &id) { (form(words, task, id)) }
    };
    let margin = html! {
        @match task {
            Some(task) => {
                p.worth { (points(words, task.points)) }
                p { (say!(words, EXERCISE_WITHIN, within = narrow(&task.within))) }
                @if !task.varies.is_empty() { p { (words.text(key::EXERCISE_OWN_NUMBERS)) } }
            },
            None => p.not-evaluated { (words.text(key::FORMAT_NOT_EVALUATED)) },
        }
    };
    html! {
        section.row.exercise id=[id.as_deref()] aria-label=(name_of)
            data-exercise=[task.and(name)] data-points=[task.map(|task| task.points)] data-varies=[varies] {
            (two_columns(&question, &margin))
        }
    }
}

fn paragraphs(context: &PageContext<'_>, spans: &[Span]) -> Markup {
    html! { @for span in spans { (block_prose::prose(context, "asked", *span)) } }
}

/// The inline results of an exercise's block.
fn within(context: &PageContext<'_>, name: &str) -> Vec<(usize, String)> {
    let blocks = &context.evaluation.sheet.blocks;
    let is_named = |exercise: &Exercise| exercise.name.as_ref().is_some_and(|own| own.item == name);
    let block = blocks.iter().find(|block| matches!(&block.body, BlockBody::Exercise(exercise) if is_named(exercise)));
    let Some(span) = block.map(|block| block.span) else { return Vec::new() };
    let inlines = results::inlines(context).enumerate();
    let own = inlines.filter(|(_, (start, _))| (span.start..span.end).contains(start));
    own.map(|(number, (_, html))| (number, html)).collect()
}

/// Each hint behind the one before.
fn hints(context: &PageContext<'_>, spans: &[Span]) -> Markup {
    let Some((first, rest)) = spans.split_first() else { return html! {} };
    html! {
        details.hint {
            summary { (context.words.text(if rest.is_empty() { key::EXERCISE_HINT } else { key::EXERCISE_HINTS })) }
            (block_prose::prose(context, "hinted", *first))
            (hints(context, rest))
        }
    }
}

/// The form, hidden until the page's script can answer.
fn form(words: Words<'_>, task: &Task, id: &str) -> Markup {
    let (learner, answer) = (format!("{id}-learner"), format!("{id}-answer"));
    let unit = task.unit.symbol();
    let varies = !task.varies.is_empty();
    let asked = match unit {
        "" => set!(words, EXERCISE_ANSWER),
        unit => set!(words, EXERCISE_ANSWER_IN, unit = html! { span.unit { (unit) } }),
    };
    let who = html! {
        p.field-line {
            label for=(learner) { (words.text(key::EXERCISE_NAME)) }
            input id=(learner) name="learner" type="text" autocomplete="off" autocapitalize="off" spellcheck="false" maxlength="80";
        }
    };
    html! {
        form.answering data-part="form" hidden {
            @if varies { (who) }
            p.field-line {
                label for=(answer) {
                    (asked)
                }
                input id=(answer) name="answer" type="text" autocomplete="off" autocapitalize="off" spellcheck="false" maxlength="200"
                    aria-describedby={ (id) "-said" };
                button type="submit" { (words.text(key::EXERCISE_CHECK)) }
            }
            p.said id={ (id) "-said" } role="status" data-part="said" {}
            div.worked data-part="solution" hidden {}
            p.doings {
                button type="button" data-do="solution" { (words.text(key::EXERCISE_SHOW)) } " "
                button type="button" data-do="clear" hidden { (words.text(key::EXERCISE_CLEAR)) }
            }
            details.hand-in data-part="hand-in" hidden {
                summary { (words.text(key::EXERCISE_HAND_IN)) }
                @if !varies { (who) }
                p.field-line {
                    label for={ (id) "-line" } { (words.text(key::EXERCISE_LINE)) }
                    input id={ (id) "-line" } name="line" type="text" readonly;
                    button type="button" data-do="copy" { (words.text(key::EXERCISE_COPY)) }
                }
            }
        }
    }
}

fn points(words: Words<'_>, points: f64) -> String {
    count!(words, EXERCISE_POINTS, if points == 1.0 { 1 } else { 2 }, n = points)
}

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use super::*;
    use crate::PageOptions;

    const SOURCE: &str = "```calc\nR_t = 910 kΩ ± 5 %\nC_t = 22 µF\nV_s = 12 V\nk = ln(3)\nt_on [s] = R_t * C_t * k \"pulse\"\n```\n\n\
        ```exercise pulse\nask \"How long with *{R_t}* and {C_t}?\"\nask \"Say it in seconds.\"\nanswer [s] = t_on within 2 %\n\
        slip \"used ln 2\" = R_t * C_t * ln(2)\nhint \"First.\"\nhint \"Then {V_s}.\"\npoints 2\nvary R_t in 100 kΩ … 1 MΩ E24\n```\n\n\
        ```exercise other\nask \"What current?\"\nanswer = V_s / R_t within 1 µA\n```\n";

    fn page() -> String {
        let evaluation = Evaluator::default().evaluate(SOURCE);
        assert!(evaluation.problems.is_empty(), "{:#?}", evaluation.problems);
        crate::render(&evaluation, SOURCE, &PageOptions::default()).body
    }

    fn exercise_of(page: &str) -> &str {
        &page[page.find("<section").unwrap()..]
    }

    #[test]
    fn the_page_has_the_question_and_the_hints_but_nothing_of_the_answer() {
        let page = page();
        let set = exercise_of(&page);
        assert!(
            set.contains("<em><data") && set.contains("910\u{202f}kΩ") && set.contains("Say it in seconds."),
            "{set}"
        );
        assert_eq!(set.matches("<details class=\"hint\">").count(), 2);
        let (first, then) = (set.find("First.").unwrap(), set.find("Then <data").unwrap());
        assert!(!set[first..then].contains("</details>"), "the second hint is not inside the first: {set}");
        assert!(set.contains("<form class=\"answering\" data-part=\"form\" hidden>"), "{set}");
        for secret in ["21.9", "22.0", "ln", "t_on", "13.1", "13.2", "µA or", "12 / "] {
            assert!(!set.contains(secret), "{secret} is in the page: {set}");
        }
        assert!(set.contains("in <span class=\"unit\">A</span>"), "the unit would show the size: {set}");
        for banned in [" style=", "onclick", "onsubmit", "<script"] {
            assert!(!page.contains(banned), "{banned}");
        }
    }

    fn tried(learner: Option<&str>, answer: Option<&str>, gives_up: GivesUp) -> Reply {
        let (learner, answer) = (learner.map(str::to_owned), answer.map(str::to_owned));
        let asked = Attempt { exercise: "pulse".to_owned(), learner, answer, gives_up };
        attempt(&Worksheet::new(SOURCE).0, &asked, Words::ENGLISH).unwrap()
    }

    #[test]
    fn a_learner_gets_numbers_feedback_and_in_the_end_the_solution() {
        let plain = tried(None, None, GivesUp::No);
        assert!(plain.inlines[0].1.contains("910\u{202f}kΩ") && plain.feedback.is_none() && plain.solution.is_none());
        let ada = tried(Some("Ada"), Some("22 s"), GivesUp::No);
        assert!(!ada.inlines[0].1.contains("910") && ada.inlines[0].1.contains("kΩ"), "{ada:?}");
        assert_eq!(ada.inlines.iter().map(|inline| inline.0).collect::<Vec<_>>(), [0, 1, 2]);
        assert_eq!(ada.feedback.as_ref().unwrap().of, 2.0);
        assert!(ada.solution.is_none());
        let right = tried(None, Some("22 s"), GivesUp::No);
        assert_eq!(right.feedback.as_ref().map(|said| (said.word, said.points)), Some(("right", 2.0)));
        let solution = right.solution.unwrap();
        assert!(solution.contains("<math") && solution.contains("22.0"), "{solution}");
        assert!(tried(Some("Ada"), None, GivesUp::Yes).solution.is_some());
        let reported = tried(None, Some("<b>x</b> sec"), GivesUp::No).feedback.unwrap();
        assert!(!reported.message.contains("<b>"), "{reported:?}");
    }

    #[test]
    fn a_worked_solution_shows_what_a_model_does() {
        let source = "```calc\nreg = regulator.linear(input = 9 V, output = 5 V, load = 60 mA, ambient = 35 °C, \
                      junction_to_ambient = 60 K/W)\n```\n\n```exercise hot\nask \"How hot?\"\nanswer = reg.junction within 1 K\n```\n";
        let asked = Attempt { exercise: "hot".to_owned(), gives_up: GivesUp::Yes, ..Attempt::default() };
        let solution = attempt(&Worksheet::new(source).0, &asked, Words::ENGLISH).unwrap().solution.unwrap();
        let places: Vec<_> =
            ["<mn>285</mn>", "<mn>17.1</mn>", "<mn>52.1</mn>"].map(|n| solution.find(n).unwrap()).into();
        assert!(places.is_sorted(), "power, rise and temperature stand in this order: {solution}");
        assert!(solution.contains(">JA</mi>"), "{solution}");
    }

    #[test]
    fn a_worked_solution_shows_a_model_wherever_its_fields_are_read() {
        let source = "```calc\nreg = regulator.linear(input = 9 V, output = 5 V, load = 60 mA, ambient = 35 °C, \
                      junction_to_ambient = 60 K/W)\nT = reg.junction\n```\n\n\
                      ```exercise rise\nask \"By how much?\"\nanswer = reg.junction - 35 °C + 0 * reg.dissipation * 1 K/W within 2 %\n```\n\n\
                      ```exercise named\nask \"How hot?\"\nanswer = T within 1 K\n```\n";
        for exercise in ["rise", "named"] {
            let asked = Attempt { exercise: exercise.to_owned(), gives_up: GivesUp::Yes, ..Attempt::default() };
            let solution = attempt(&Worksheet::new(source).0, &asked, Words::ENGLISH).unwrap().solution.unwrap();
            let (power, answer) = (solution.find("<mn>285</mn>").unwrap(), solution.rfind("<mn>52.1</mn>").unwrap());
            assert!(power < answer, "{exercise}: {solution}");
            assert_eq!(solution.matches(">JA</mi>").count(), 1, "{exercise}: {solution}");
        }
    }

    #[test]
    fn a_worked_solution_goes_through_what_differs() {
        let own = tried(Some("Ada"), None, GivesUp::Yes).solution.unwrap();
        assert_eq!(own.matches("class=\"formula\"").count(), 1, "the pulse alone depends on what varies: {own}");
        let other = Attempt { exercise: "other".to_owned(), gives_up: GivesUp::Yes, ..Attempt::default() };
        let reply = attempt(&Worksheet::new(SOURCE).0, &other, Words::ENGLISH).unwrap();
        assert!(reply.solution.unwrap().contains("µA"));
        let none = Attempt { exercise: "othr".to_owned(), ..Attempt::default() };
        assert_eq!(
            attempt(&Worksheet::new(SOURCE).0, &none, Words::ENGLISH).unwrap_err().to_string(),
            "there is no exercise `othr`; did you mean `other`?"
        );
    }
}
