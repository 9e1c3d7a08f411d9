//! `benchleaf vary`: a worksheet at many values of its givens. Lines of JSON come in on the input stream (`input`), each is
//! worked out by a study of the engine, and lines of JSON go out in the same order (`line`). What has arrived is answered before
//! more is read: memory stays small, a slow reader slows the work, and a program that waits for each answer gets it.

mod input;
mod line;

use std::{
    io::{self, BufRead, BufReader},
    sync::Mutex,
};

use benchleaf_core::{
    Evaluator, Options, parallel,
    problem::Severity,
    sheet::{SAMPLES, Worksheet},
    study::{NoStudy, Study},
};
use benchleaf_publish::{
    failure::{Failure, name},
    folder::Folder,
    text,
};

use self::{
    input::Lines,
    line::{Answered, Answerer, Figures},
};
use crate::{
    args::{EvaluationOptions, VaryRequest},
    message::draw_problems,
    outcome::Outcome,
    rust::Rust,
    terminal::{Listening, Terminal},
};

/// Run `benchleaf vary`.
pub(crate) fn vary(request: &VaryRequest, options: EvaluationOptions, terminal: &mut Terminal<'_>) -> Outcome {
    let varied = match terminal.take_input() {
        Some(input) => varied(request, options, input, terminal),
        None => {
            let input = BufReader::with_capacity(READ_AT_ONCE, io::stdin().lock());
            varied(request, options, input, terminal)
        }
    };
    varied.unwrap_or_else(|failure| terminal.fail(&failure))
}

fn varied(
    request: &VaryRequest,
    options: EvaluationOptions,
    input: impl BufRead,
    terminal: &mut Terminal<'_>,
) -> Result<Outcome, Failure> {
    let rust = Rust::of_call(&options, terminal.progress())?;
    let source = text::read(&request.sheet)?;
    let blocks = rust.blocks_of(&request.sheet);
    let host = Folder::of(&request.sheet, &blocks);
    let (worksheet, problems) = Worksheet::new(&source);
    let options = options.of_engine();
    let is_sound = problems.iter().all(|problem| problem.severity() != Severity::Error);
    let study = match Study::new(&worksheet, &request.values, &options, &host) {
        Ok(study) if is_sound => study,
        Err(NoStudy::Asked(problem)) => {
            return Err(Failure::Values { message: problem.message, help: problem.help });
        }
        Ok(_) | Err(NoStudy::Errors(_)) => {
            let options = Options { samples: Some(*SAMPLES.start()), ..options };
            let evaluation = Evaluator::with(&options).host(&host).evaluate(&source);
            terminal.warn(&draw_problems(&name(&request.sheet), &source, &evaluation, terminal.look()));
            return Ok(Outcome::WorksheetError);
        }
    };
    let figures = if request.range { Figures::Ranges } else { Figures::Nominal };
    let mut outcome = Outcome::Fine;
    // Those that are at leisure: each keeps what serves the next line.
    let answerers = Mutex::new(Vec::new());
    let mut lines = Lines::new(input);
    while let Some(batch) = lines.batch().map_err(|cause| Failure::Input { cause })? {
        let lines: Vec<&[u8]> = batch.strip_suffix(b"\n").unwrap_or(batch).split(|byte| *byte == b'\n').collect();
        // Enough for each thread to be given several times, however unlike the lines are.
        let share = match (figures, study.is_costly()) {
            (Figures::Nominal, false) => lines.len().div_ceil(4 * parallel::threads()).max(LEAST_SHARE),
            _ => 1,
        };
        let answers = parallel::each(lines.chunks(share), |lines| {
            let known = parallel::locked(&answerers).pop();
            let mut answerer = known.unwrap_or_else(|| Answerer::new(&study, figures));
            let answers = answerer.answers(lines);
            parallel::locked(&answerers).push(answerer);
            answers
        });
        for answers in answers {
            if answers.all == Answered::NotAll {
                outcome = Outcome::RequirementBroken;
            }
            terminal.say(&answers.text);
        }
        if terminal.say_now("") == Listening::No {
            break;
        }
    }
    Ok(outcome)
}

/// Bytes that are read at once, at most.
const READ_AT_ONCE: usize = 1 << 18;
/// Lines that a thread works out before it looks for others.
const LEAST_SHARE: usize = 32;
