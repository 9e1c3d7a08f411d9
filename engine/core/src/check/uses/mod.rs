//! `use`: values of other worksheets. What a value there depends on is checked into this worksheet's program, with names of
//! its own, once however many lines ask for it; so what hangs on the same given varies together. Nothing else of a used
//! worksheet is evaluated: none of its requirements, notes or plots.

mod order;
mod slice;
mod take;

use std::{
    collections::{HashMap, HashSet},
    ops::Range,
    sync::Arc,
};

use benchleaf_words::Phrase;

use order::Order;
use slice::Slice;

use super::{Checked, CheckedValue, Checker, Entry, Typed};
use crate::{
    host::Host,
    lang::ast::{StatementBody, Use},
    problem::Severity,
    results::{GivenBehind, Origin, Outcome},
    sheet::{BlockBody, Joined, PartsBlock, Sheet, from_folder_of},
    span::Span,
};

/// What a worksheet may take from others.
#[derive(Debug, Default)]
pub(in crate::check) struct Uses<'a> {
    /// The used worksheet that is being checked, by its place; nothing for the one that uses them all.
    own: Option<usize>,
    /// What is taken from each, once it has been checked; why nothing is, where that is known already.
    scopes: HashMap<&'a str, Result<Scope, Phrase>>,
    /// The names that are wanted of a used worksheet; of the one that uses them, all are.
    wanted: Option<HashSet<&'a str>>,
    /// The sources that each used worksheet brought, and its place.
    sources: Vec<(Range<usize>, usize)>,
}

/// What has been checked of a used worksheet.
#[derive(Debug)]
pub(in crate::check) struct Scope {
    names: HashMap<String, Entry>,
    values: Vec<CheckedValue>,
    /// The ratings and prices of parts.
    part_fields: HashMap<String, Vec<(String, Typed)>>,
    /// Values that wait for a Rust block.
    withheld: HashSet<String>,
    /// Every name that it defines, and the line.
    defined: HashMap<String, usize>,
}

/// Checks what a worksheet takes from others, in an order in which each stands behind those that it uses itself. What it
/// came to goes before the worksheet's own.
pub(in crate::check) fn check_used<'a>(
    joined: &'a Joined<'a>,
    sheet: &'a Sheet,
    host: &'a dyn Host,
) -> (Checked, Uses<'a>, Vec<crate::problem::Problem>) {
    let (mut checked, mut uses, mut problems) = (Checked::default(), Uses::default(), Vec::new());
    if joined.files.is_empty() {
        return (checked, uses, problems);
    }
    let order = Order::new(joined, sheet);
    checked.used_at = order.used_at;
    uses.scopes = order.circles.into_iter().map(|(file, why)| (&*joined.files[file].path, Err(why))).collect();
    let mut demands: HashMap<usize, HashSet<&str>> = HashMap::new();
    demand(joined, sheet, "", |_| true, &mut demands);
    let mut slices: HashMap<usize, Slice<'_>> = HashMap::new();
    for file in order.files.iter().rev() {
        let Some(names) = demands.remove(file) else { continue };
        let used = &joined.files[*file];
        let slice = Slice::new((&joined.text, used.span.start), &used.sheet, names);
        demand(joined, &used.sheet, &used.path, |name| slice.wanted.contains(name), &mut demands);
        slices.insert(*file, slice);
    }
    for file in order.files {
        let Some(slice) = slices.remove(&file) else { continue };
        let used = &joined.files[file];
        let first = checked.program.sources.len();
        (uses.own, uses.wanted) = (Some(file), Some(slice.wanted.clone()));
        let mut checker = Checker::new(joined, &used.sheet, host, (checked, uses));
        checker.slice(&slice);
        let errors = checker.problems.into_iter().filter(|problem| problem.severity() == Severity::Error);
        problems.extend(errors);
        let unread = used.problems.iter().filter(|problem| slice.covers(problem.span));
        problems.extend(unread.cloned());
        let scope = Scope {
            names: checker.names,
            values: std::mem::take(&mut checker.checked.values),
            part_fields: checker.part_fields,
            withheld: checker.withheld,
            defined: slice.defined,
        };
        (checked, uses) = (shared(checker.checked), checker.uses);
        uses.sources.push((first..checked.program.sources.len(), file));
        uses.scopes.insert(&used.path, Ok(scope));
    }
    (uses.own, uses.wanted) = (None, None);
    (checked, uses, problems)
}

/// What of a used worksheet is part of the one that uses it: the program, and what its steps are said to be.
fn shared(checked: Checked) -> Checked {
    let mut transients = checked.transients;
    transients.iter_mut().for_each(|block| block.measures.clear());
    Checked {
        program: checked.program,
        used_at: checked.used_at,
        assumptions: checked.assumptions,
        call_spans: checked.call_spans,
        correlation_spans: checked.correlation_spans,
        table_units: checked.table_units,
        divisors: checked.divisors,
        transients,
        bought: checked.bought,
        relied_on: checked.relied_on,
        ..Checked::default()
    }
}

/// The `use` lines of a worksheet.
fn uses_of(sheet: &Sheet) -> impl Iterator<Item = (&Use, Span)> {
    sheet.statements().filter_map(|statement| match &statement.body {
        StatementBody::Use(used) => Some((&**used, statement.span)),
        _ => None,
    })
}

/// The place of the used worksheet that a line in the worksheet of this path names.
fn place_of(joined: &Joined<'_>, own: &str, used: &Use) -> Option<usize> {
    let path = from_folder_of(own, &used.path.item)?;
    joined.files.binary_search_by(|file| (*file.path).cmp(&path)).ok()
}

/// Notes which values a worksheet wants of others.
fn demand<'a>(
    joined: &'a Joined<'a>,
    sheet: &'a Sheet,
    own: &str,
    wanted: impl Fn(&str) -> bool,
    demands: &mut HashMap<usize, HashSet<&'a str>>,
) {
    for (used, _) in uses_of(sheet) {
        let Some(file) = place_of(joined, own, used) else { continue };
        let names = used.values.iter().filter(|value| wanted(&value.here.item)).map(|value| value.name.item.as_str());
        demands.entry(file).or_default().extend(names);
    }
}

impl Checker<'_> {
    /// Where the text of this worksheet begins in the joined one.
    pub(in crate::check) fn begin(&self) -> usize {
        self.uses.own.map_or(0, |file| self.joined.files[file].span.start)
    }

    /// Checks what of a used worksheet is wanted.
    fn slice(&mut self, slice: &Slice<'_>) {
        let sheet = self.sheet;
        for (index, block) in sheet.blocks.iter().enumerate() {
            let is_needed = |item: usize| slice.needed.contains(&(index, item));
            match &block.body {
                BlockBody::Calc(statements) => {
                    for (_, statement) in statements.iter().enumerate().filter(|(item, _)| is_needed(*item)) {
                        let reported = self.problems.len();
                        let outcome = self.statement(statement);
                        if outcome == Outcome::Failed {
                            self.withhold(statement, reported);
                        }
                        if matches!(statement.body, StatementBody::Keep(_)) {
                            // Nothing is said of a requirement; it only bears on which combination is the best.
                            self.problems.truncate(reported);
                        }
                    }
                }
                BlockBody::Parts(parts) => {
                    let lines = parts.lines.iter().enumerate().filter(|(item, _)| is_needed(*item));
                    let lines: Vec<_> = lines.map(|(_, line)| line.clone()).collect();
                    if !lines.is_empty() {
                        self.parts(&PartsBlock { statements: parts.statements.clone(), lines });
                    }
                }
                BlockBody::Transient(transient) if is_needed(0) => {
                    self.transient(transient, block.span);
                }
                BlockBody::Circuit(circuit) if is_needed(0) => self.circuit(circuit, block.span),
                BlockBody::Rust(rust) if is_needed(0) => self.without_values(&rust.outputs, true),
                _ => {}
            }
        }
        self.price_costs();
        self.kept_by_choices();
    }

    /// Gives every source that comes from another worksheet the name that a reader of this one knows it by, and its random
    /// numbers: those of its own page, but where two worksheets have a given of one name.
    pub(in crate::check) fn name_sources(&mut self) {
        let mut uses = std::mem::take(&mut self.uses);
        let program = &mut self.checked.program;
        let file_of = |at: usize| uses.sources.iter().find(|(range, _)| range.contains(&at)).map(|(_, file)| *file);
        let mut worksheets: HashMap<String, HashSet<Option<usize>>> = HashMap::new();
        for (at, source) in program.sources.iter().enumerate() {
            worksheets.entry(source.name.clone()).or_default().insert(file_of(at));
        }
        let taken = self.checked.values.iter().filter_map(|value| {
            let origin = value.origin.as_ref()?;
            Some(((&*origin.file, origin.name.as_str()), value.name.as_str()))
        });
        let taken: HashMap<(&str, &str), &str> = taken.collect();
        for (range, file) in uses.sources.drain(..) {
            let path = &self.joined.files[file].path;
            for at in range {
                let Some(source) = program.sources.get_mut(at) else { continue };
                let is_alone = worksheets.get(&source.name).is_none_or(|files| files.len() == 1);
                let key = if is_alone { source.name.clone() } else { format!("{path}\0{}", source.name) };
                let stem = path.rsplit_once('.').map_or(&**path, |(stem, _)| stem);
                let name = match taken.get(&(&**path, source.name.as_str())) {
                    Some(name) => (*name).to_owned(),
                    None if is_alone && !self.names.contains_key(&source.name) => source.name.clone(),
                    None => format!("{stem}.{}", source.name),
                };
                let scope = uses.scopes.get(&**path).and_then(|scope| scope.as_ref().ok());
                let known = scope.and_then(|scope| scope.values.iter().find(|value| value.name == source.name));
                if let Some(value) = known.filter(|value| value.origin.is_none()) {
                    let origin = Origin { file: Arc::clone(path), name: source.name.clone() };
                    self.checked.behind.insert(name.clone(), GivenBehind { label: value.label.clone(), origin });
                }
                source.key = (key != name).then(|| key.into());
                source.name = name;
            }
        }
    }
}
