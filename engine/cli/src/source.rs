//! `benchleaf source`: takes the worksheet back out of a page, byte for byte.

use benchleaf_publish::published;

use crate::{args::SourceRequest, outcome::Outcome, terminal::Terminal};

/// Run `benchleaf source`.
pub(crate) fn source(request: &SourceRequest, terminal: &mut Terminal<'_>) -> Outcome {
    match published::read(&request.page) {
        Ok(page) => {
            terminal.say(&page.source);
            Outcome::Fine
        }
        Err(failure) => terminal.fail(&failure),
    }
}
