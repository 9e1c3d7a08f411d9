//! Builds side by side as programs read them.

use serde::Serialize;

use super::{KeepEntry, TotalEntry, ValueEntry};
use crate::results::Evaluation;

/// A build.
#[derive(Clone, Debug, Serialize)]
pub struct BuildEntry<'a> {
    /// What it is called.
    pub name: &'a str,
    /// What is compared.
    pub values: Vec<ValueEntry<'a>>,
    /// Every requirement of the worksheet.
    pub keeps: Vec<KeepEntry<'a>>,
    /// What its parts cost, for some numbers of builds.
    pub cost: Vec<TotalEntry>,
}

/// Where the cheapest build changes.
#[derive(Clone, Debug, Serialize)]
pub struct BreakEvenEntry<'a> {
    /// The build that is cheapest below, and the one that is from there on.
    pub builds: [&'a str; 2],
    /// The least number of pieces for which the second is cheaper.
    pub quantity: u64,
}

pub(super) fn entries(evaluation: &Evaluation) -> Vec<BuildEntry<'_>> {
    let builds = evaluation.builds.iter().flat_map(|set| &set.builds);
    builds
        .map(|build| BuildEntry {
            name: &build.name,
            values: build.values.iter().map(|value| ValueEntry::new(value, evaluation)).collect(),
            keeps: build.keeps.iter().map(|verdict| KeepEntry::new(verdict, evaluation)).collect(),
            cost: TotalEntry::of(&build.parts),
        })
        .collect()
}

pub(super) fn break_even(evaluation: &Evaluation) -> Vec<BreakEvenEntry<'_>> {
    let found = evaluation.builds.iter().flat_map(|set| set.break_even.iter().map(move |found| (set, found)));
    found
        .filter_map(|(set, found)| {
            let name = |at: usize| set.builds.get(at).map(|build| build.name.as_str());
            Some(BreakEvenEntry { builds: [name(found.below)?, name(found.from)?], quantity: found.quantity })
        })
        .collect()
}
