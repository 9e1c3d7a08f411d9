//! What every part of a page is set from: the evaluation, the worksheet's text, and how names are looked up in them.

use std::{
    collections::{BTreeMap, HashMap},
    sync::{Mutex, OnceLock},
};

use benchleaf_core::{
    lang::ast::{Bounds, Definition, Quantity, StatementBody, Tolerance},
    parallel::locked,
    problem::{Code, Problem},
    results::{Evaluation, Value, Verdict},
    span::Span,
};
use benchleaf_words::Words;

use crate::{aligned::Columns, links};
#[cfg(feature = "markdown")]
use {
    crate::{
        RawHtml,
        pictures::{NoPictures, Pictures},
    },
    benchleaf_core::sheet::Part,
};

/// An evaluated worksheet on its way to the page.
pub(crate) struct PageContext<'a> {
    pub(crate) evaluation: &'a Evaluation,
    pub(crate) source: &'a str,
    /// The words of the language that the page is in.
    pub(crate) words: Words<'a>,
    #[cfg(feature = "markdown")]
    pub(crate) raw_html: RawHtml,
    #[cfg(feature = "markdown")]
    pub(crate) pictures: &'a dyn Pictures,
    /// The number of the first inline result of each text that has one, by where the text begins.
    #[cfg(feature = "markdown")]
    inlines: HashMap<usize, usize>,
    values: HashMap<&'a str, &'a Value>,
    givens: HashMap<&'a str, &'a Definition>,
    /// The columns that all tables of givens share.
    columns: OnceLock<Columns>,
    /// Where each requirement of the worksheet begins.
    keeps: Vec<usize>,
    /// Numbers of the problems that have not been shown, by where they begin.
    unreported: Mutex<BTreeMap<(usize, usize), &'a Problem>>,
}

impl<'a> PageContext<'a> {
    pub(crate) fn new(evaluation: &'a Evaluation, source: &'a str, words: Words<'a>) -> Self {
        let own = evaluation.sheet.givens().into_iter().map(|given| (given.name.item.as_str(), given));
        let taken = evaluation.taken.iter().map(|given| (given.name.as_str(), &given.definition));
        let givens = taken.chain(own).collect();
        let mut values = HashMap::new();
        for value in &evaluation.values {
            values.entry(value.name.as_str()).or_insert(value);
        }
        let numbered = evaluation.problems.iter().enumerate();
        let unreported = numbered.map(|(number, problem)| ((problem.span.start, number), problem)).collect();
        let unreported = Mutex::new(unreported);
        let keeps = keeps(evaluation);
        Self {
            evaluation,
            source,
            words,
            #[cfg(feature = "markdown")]
            raw_html: RawHtml::ShownAsText,
            #[cfg(feature = "markdown")]
            pictures: &NoPictures,
            #[cfg(feature = "markdown")]
            inlines: inlines(evaluation),
            values,
            givens,
            columns: OnceLock::new(),
            keeps,
            unreported,
        }
    }

    /// The same for something that stands on the page a second time: what is wrong with it counts as shown where it stands first.
    pub(crate) fn again(&self) -> Self {
        Self {
            #[cfg(feature = "markdown")]
            raw_html: self.raw_html,
            #[cfg(feature = "markdown")]
            pictures: self.pictures,
            ..Self::new(self.evaluation, self.source, self.words)
        }
    }

    /// The place among the worksheet's inline results of the `nth` one of the text that begins here.
    #[cfg(feature = "markdown")]
    pub(crate) fn inline_number(&self, text_start: usize, nth: usize) -> Option<usize> {
        self.inlines.get(&text_start).map(|first| first + nth)
    }

    /// A value by its name.
    pub(crate) fn value(&self, name: &str) -> Option<&'a Value> {
        self.values.get(name).copied()
    }

    /// What stands in the worksheet for a given, and whether it is negated; nothing where only its bounds are written.
    pub(crate) fn literal(&self, name: &str) -> Option<(&'a Quantity, bool)> {
        let definition = self.givens.get(name).copied()?;
        match definition.tolerance.as_deref() {
            Some(Tolerance { bounds: Bounds::MinTypMax { typ: None, .. }, .. }) => None,
            _ => definition.literal(),
        }
    }

    /// The definition of a given.
    pub(crate) fn definition(&self, name: &str) -> Option<&'a Definition> {
        self.givens.get(name).copied()
    }

    /// The columns of the tables of givens; measured where that was not done yet.
    pub(crate) fn columns(&self, measured: impl FnOnce() -> Columns) -> Columns {
        *self.columns.get_or_init(measured)
    }

    /// Whether anything in the worksheet reads this field of a record.
    pub(crate) fn uses_field(&self, name: &str) -> bool {
        self.evaluation.fields_read.contains(name)
    }

    /// What a reader calls a value: its label where it has one, else nothing.
    pub(crate) fn label(&self, name: &str) -> Option<&'a str> {
        let behind = || self.evaluation.behind.get(name)?.label.as_ref();
        self.value(name).map_or_else(behind, |value| value.label.as_ref()).map(String::as_str)
    }

    /// A link to where a value or a given stands, be it on the page of another worksheet.
    pub(crate) fn link(&self, name: &str) -> String {
        match self.evaluation.behind.get(name).filter(|_| self.value(name).is_none()) {
            Some(behind) => links::link(&behind.origin),
            None => format!("#value-{name}"),
        }
    }

    /// The place of a requirement among all of the worksheet, those that could not be decided included.
    pub(crate) fn keep_number(&self, verdict: &Verdict) -> usize {
        self.keeps.iter().position(|start| *start == verdict.span.start).unwrap_or(self.keeps.len())
    }

    /// Whether something in a span waits for a Rust block that was not run.
    pub(crate) fn waits(&self, span: Span) -> bool {
        let waits = |problem: &Problem| problem.code == Code::RustAwaited && span.contains(problem.span);
        self.evaluation.problems.iter().any(waits)
    }

    /// The problems inside a span that no part of the page has shown yet, with their numbers; they count as shown from
    /// now on.
    pub(crate) fn take_problems(&self, span: Span) -> Vec<(usize, &'a Problem)> {
        let mut unreported = locked(&self.unreported);
        let within = unreported.range((span.start, 0)..=(span.end, usize::MAX));
        let taken: Vec<(usize, &'a Problem)> = within
            .filter(|(_, problem)| span.contains(problem.span))
            .map(|((_, number), problem)| (*number, *problem))
            .collect();
        for (number, problem) in &taken {
            unreported.remove(&(problem.span.start, *number));
        }
        taken
    }
}

fn keeps(evaluation: &Evaluation) -> Vec<usize> {
    let statements = evaluation.sheet.statements();
    statements
        .filter(|statement| matches!(statement.body, StatementBody::Keep(_)))
        .map(|statement| statement.span.start)
        .collect()
}

#[cfg(feature = "markdown")]
fn inlines(evaluation: &Evaluation) -> HashMap<usize, usize> {
    let mut inlines = HashMap::new();
    let starts = evaluation.sheet.parts.iter().filter_map(|part| match part {
        Part::Inline(inline) => Some(inline.text_start),
        Part::Fence(_) => None,
    });
    for (number, start) in starts.enumerate() {
        inlines.entry(start).or_insert(number);
    }
    inlines
}
