//! A worksheet as a command reads it that wants no simulated builds of it.

use std::path::Path;

use benchleaf_core::{
    Evaluator, Options,
    host::NoHost,
    results::Evaluation,
    sheet::{SAMPLES, Worksheet},
};
use benchleaf_publish::{failure::name, folder::Folder};

use crate::{message::draw_problems, terminal::Terminal};

/// The worksheet of this path and text with those that it uses, and its evaluation with the fewest builds. What is wrong with
/// it is printed.
pub(crate) fn read(path: &Path, source: &str, terminal: &mut Terminal<'_>) -> (Worksheet, Evaluation) {
    let (worksheet, problems) = Worksheet::new(source);
    let folder = Folder::of(path, &NoHost);
    let worksheet = worksheet.using(&folder);
    let options = Options { samples: Some(*SAMPLES.start()), ..Options::default() };
    let evaluation = Evaluator::with(&options).host(&folder).evaluate_worksheet(&worksheet, problems);
    terminal.warn(&draw_problems(&name(path), source, &evaluation, terminal.look()));
    (worksheet, evaluation)
}
