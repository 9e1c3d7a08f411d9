//! Design help: running a program with the searches that it declares, and remedies for requirements that do not hold.

mod remedies;
mod run;
mod search;

pub(super) use remedies::Remedies;
pub(crate) use run::{rerun, run};
pub(crate) use search::{MOST_COMBINATIONS, Memory};
