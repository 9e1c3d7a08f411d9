//! `benchleaf constants`: chosen values of a worksheet as constants of a program, in C, Rust or Python, with their units in
//! their names, their rounding errors in comments, assertions of their range, and the worksheet's hash.

mod languages;

use benchleaf_core::{Evaluator, constants::constants as wanted, problem::Severity};
use benchleaf_publish::{failure::Failure, folder::Folder, hash, text, write::write_constants};

use self::languages::{MARK, Sheet};
use crate::{
    args::{ConstantsRequest, EvaluationOptions},
    message::draw_problems,
    outcome::Outcome,
    rust::Rust,
    terminal::Terminal,
};

/// Run `benchleaf constants`.
pub(crate) fn constants(
    request: &ConstantsRequest,
    options: EvaluationOptions,
    terminal: &mut Terminal<'_>,
) -> Outcome {
    let made = match made(request, options, terminal) {
        Ok(Some(made)) => made,
        Ok(None) => return Outcome::WorksheetError,
        Err(failure) => return terminal.fail(&failure),
    };
    let Some(path) = &request.output else {
        terminal.say(&made);
        return Outcome::Fine;
    };
    let is_ours = |head: &[u8]| head.windows(MARK.len()).take(MOST_BEFORE).any(|window| window == MARK.as_bytes());
    match write_constants(path, &made, is_ours) {
        Ok(()) => Outcome::Fine,
        Err(failure) => terminal.fail(&failure),
    }
}

/// The text; nothing where the worksheet holds an error, which is drawn then.
fn made(
    request: &ConstantsRequest,
    options: EvaluationOptions,
    terminal: &mut Terminal<'_>,
) -> Result<Option<String>, Failure> {
    let rust = Rust::of_call(&options, terminal.progress())?;
    let source = text::read(&request.sheet)?;
    let options = options.of_engine();
    let blocks = rust.blocks_of(&request.sheet);
    let evaluation = Evaluator::with(&options).host(&Folder::of(&request.sheet, &blocks)).evaluate(&source);
    let name = request.sheet.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    terminal.warn(&draw_problems(&name, &source, &evaluation, terminal.look()));
    if evaluation.problems.iter().any(|problem| problem.severity() == Severity::Error) {
        return Ok(None);
    }
    let constants = wanted(&evaluation).0;
    if constants.is_empty() {
        return Err(Failure::NoConstants { path: request.sheet.clone() });
    }
    let sheet = Sheet { name: &name, hash: &hash::hash(&source), constants: &constants };
    Ok(Some(sheet.written(request.lang)))
}

/// Characters that may stand before the mark.
const MOST_BEFORE: usize = 8;
