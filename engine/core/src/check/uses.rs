//! `use`: values of other worksheets. What a value there depends on is checked into this worksheet's program, with names of
//! its own, once however many lines ask for it; so what hangs on the same given varies together. Nothing else of a used
//! worksheet is evaluated: none of its requirements, notes or plots.

use std::{
    collections::{HashMap, HashSet},
    ops::Range,
    sync::Arc,
};

use super::{Binding, Checked, CheckedValue, Checker, Entry, Typed};
use crate::{
    host::{FileFault, Host},
    lang::ast::{Statement, StatementBody, Use, UsedValue},
    problem::{Code, Severity},
    results::{GivenBehind, Origin, Outcome, Role},
    sheet::{BlockBody, Joined, PartsBlock, Sheet, from_folder_of},
    span::Span,
    suggest::nearest,
};

/// What a worksheet may take from others.
#[derive(Debug, Default)]
pub(super) struct Uses<'a> {
    /// The used worksheet that is being checked, by its place; nothing for the one that uses them all.
    own: Option<usize>,
    /// What is taken from each, once it has been checked; why nothing is, where that is known already.
    scopes: HashMap<&'a str, Result<Scope, String>>,
    /// The names that are wanted of a used worksheet; of the one that uses them, all are.
    wanted: Option<HashSet<&'a str>>,
    /// The sources that each used worksheet brought, and its place.
    sources: Vec<(Range<usize>, usize)>,
}

/// What has been checked of a used worksheet.
#[derive(Debug)]
pub(super) struct Scope {
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
pub(super) fn check_used<'a>(
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

/// The used worksheets in an order in which each stands behind those that it uses.
#[derive(Default)]
struct Order {
    files: Vec<usize>,
    /// Those from which the way leads into a circle, and the circle in words.
    circles: HashMap<usize, String>,
    /// The line that brought each in.
    used_at: Vec<Span>,
}

impl Order {
    fn new(joined: &Joined<'_>, sheet: &Sheet) -> Self {
        let mut order = Self { used_at: vec![Span::default(); joined.files.len()], ..Self::default() };
        let mut seen = HashSet::new();
        for (used, span) in uses_of(sheet) {
            if let Some(file) = place_of(joined, "", used) {
                order.visit(joined, file, span, &mut Vec::new(), &mut seen);
            }
        }
        order
    }

    fn visit(&mut self, joined: &Joined<'_>, file: usize, at: Span, way: &mut Vec<usize>, seen: &mut HashSet<usize>) {
        if let Some(start) = way.iter().position(|before| *before == file) {
            let circle = way[start..].iter().chain([&file]).map(|file| format!("`{}`", joined.files[*file].path));
            let circle = circle.collect::<Vec<_>>().join(", which uses ").replacen(", which uses", " uses", 1);
            self.in_circle(way, &circle);
            return;
        }
        if !seen.insert(file) {
            if let Some(circle) = self.circles.get(&file).cloned() {
                self.in_circle(way, &circle);
            }
            return;
        }
        self.used_at[file] = at;
        way.push(file);
        let used = &joined.files[file];
        for (next, _) in uses_of(&used.sheet) {
            if let Some(next) = place_of(joined, &used.path, next) {
                self.visit(joined, next, at, way, seen);
            }
        }
        way.pop();
        if !self.circles.contains_key(&file) {
            self.files.push(file);
        }
    }

    /// Notes that a way leads into a circle.
    fn in_circle(&mut self, way: &[usize], circle: &str) {
        for file in way {
            self.circles.entry(*file).or_insert_with(|| circle.to_owned());
        }
    }
}

/// Something that is checked or left out as a whole.
struct Unit<'a> {
    /// Its block, and its place there.
    at: (usize, usize),
    span: Span,
    defines: Vec<String>,
    /// Its text, in which all words may be names that it reads; a word too many costs a needless step and changes nothing.
    text: &'a str,
    kind: UnitKind,
}

#[derive(Clone, Copy, PartialEq)]
enum UnitKind {
    /// Wanted for a name that it defines.
    Named,
    /// Always wanted.
    Correlation,
    /// Judges combinations.
    Choose,
    /// Wanted where combinations are judged.
    Keep,
    Part,
    Circuit,
}

/// What of a used worksheet some of its values depend on.
struct Slice<'a> {
    needed: HashSet<(usize, usize)>,
    spans: Vec<Span>,
    wanted: HashSet<&'a str>,
    /// Every name that the worksheet defines, and its line there.
    defined: HashMap<String, usize>,
}

impl<'a> Slice<'a> {
    fn new((text, begin): (&'a str, usize), sheet: &'a Sheet, names: HashSet<&'a str>) -> Self {
        let units = units(text, sheet);
        let mut by_name: HashMap<&str, Vec<usize>> = HashMap::new();
        for (i, unit) in units.iter().enumerate() {
            unit.defines.iter().for_each(|name| by_name.entry(name.as_str()).or_default().push(i));
        }
        let mut needed = vec![false; units.len()];
        let mut stack: Vec<usize> = names.iter().filter_map(|name| by_name.get(name)).flatten().copied().collect();
        let mut wanted = names;
        loop {
            while let Some(i) = stack.pop() {
                if std::mem::replace(&mut needed[i], true) {
                    continue;
                }
                for word in words(units[i].text) {
                    if wanted.insert(word) {
                        stack.extend(by_name.get(word).into_iter().flatten());
                    }
                }
            }
            let any = |kind| units.iter().zip(&needed).any(|(unit, needed)| *needed && unit.kind == kind);
            let calls = |function: &str| {
                units.iter().zip(&needed).any(|(unit, needed)| *needed && unit.text.contains(function))
            };
            let (judges, costs, asks) = (any(UnitKind::Choose), calls("cost("), calls("V(") || calls("I("));
            let goes_with = |unit: &Unit<'_>| match unit.kind {
                UnitKind::Named | UnitKind::Choose => false,
                // Its two givens may come in from elsewhere too.
                UnitKind::Correlation => true,
                UnitKind::Keep => judges,
                UnitKind::Part => costs,
                UnitKind::Circuit => asks,
            };
            stack.extend((0..units.len()).filter(|i| !needed[*i] && goes_with(&units[*i])));
            if stack.is_empty() {
                break;
            }
        }
        let line = |at: usize| text.get(begin..at).map_or(1, |before| before.matches('\n').count() + 1);
        let chosen = || units.iter().zip(&needed).filter(|(_, needed)| **needed).map(|(unit, _)| unit);
        Self {
            needed: chosen().map(|unit| unit.at).collect(),
            spans: chosen().map(|unit| unit.span).collect(),
            defined: units
                .iter()
                .rev()
                .flat_map(|unit| unit.defines.iter().map(|name| (name.clone(), line(unit.span.start))))
                .collect(),
            wanted,
        }
    }

    fn covers(&self, span: Span) -> bool {
        self.spans.iter().any(|unit| unit.contains(span))
    }
}

fn units<'a>(text: &'a str, sheet: &'a Sheet) -> Vec<Unit<'a>> {
    let mut units = Vec::new();
    for (block, found) in sheet.blocks.iter().enumerate() {
        let whole =
            |defines, kind| Unit { at: (block, 0), span: found.span, defines, text: found.content.text(text), kind };
        match &found.body {
            BlockBody::Calc(statements) => {
                units.extend(statements.iter().enumerate().map(|(i, of)| statement(text, (block, i), of)));
            }
            BlockBody::Parts(parts) => units.extend(parts.lines.iter().enumerate().map(|(i, line)| Unit {
                at: (block, i),
                span: line.span,
                defines: line.name.iter().chain(&line.designators).map(|name| name.item.clone()).collect(),
                text: unquoted(line.span.text(text)),
                kind: UnitKind::Part,
            })),
            BlockBody::Transient(of) => {
                let defines = of.measures.iter().map(|measure| measure.name.item.clone()).collect();
                units.push(whole(defines, UnitKind::Named));
            }
            BlockBody::Rust(of) => {
                let defines = of.outputs.iter().map(|output| output.name.item.clone()).collect();
                units.push(Unit { text: "", ..whole(defines, UnitKind::Named) });
            }
            BlockBody::Circuit(_) => units.push(whole(Vec::new(), UnitKind::Circuit)),
            _ => {}
        }
    }
    units
}

fn statement<'a>(text: &'a str, at: (usize, usize), statement: &'a Statement) -> Unit<'a> {
    let mut written = unquoted(statement.span.text(text));
    let mut defines: Vec<String> = statement.body.defines().into_iter().collect();
    let kind = match &statement.body {
        StatementBody::Use(used) => {
            defines.extend(used.values.iter().map(|value| value.here.item.clone()));
            written = "";
            UnitKind::Named
        }
        StatementBody::Unreadable => {
            defines.extend(words(written).next().map(str::to_owned));
            UnitKind::Named
        }
        StatementBody::Choose(_) => UnitKind::Choose,
        StatementBody::Keep(_) => UnitKind::Keep,
        StatementBody::Correlation(_) => UnitKind::Correlation,
        _ => UnitKind::Named,
    };
    Unit { at, span: statement.span, defines, text: written, kind }
}

/// What stands before a label.
fn unquoted(text: &str) -> &str {
    text.split('"').next().unwrap_or(text)
}

/// The words of a text that may be names.
fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphanumeric() && c != '_').filter(|word| word.starts_with(char::is_alphabetic))
}

impl Checker<'_> {
    /// Where the text of this worksheet begins in the joined one.
    pub(super) fn begin(&self) -> usize {
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

    /// `use "timing.md": t_on, R_t`.
    pub(super) fn use_values(&mut self, used: &Use, statement: &Statement) -> Outcome {
        let own = self.uses.own.map_or("", |file| &*self.joined.files[file].path);
        let path = from_folder_of(own, &used.path.item);
        let (scopes, names) = (std::mem::take(&mut self.uses.scopes), self.uses.wanted.take());
        let scope = match path.as_deref().map(|path| scopes.get(path)) {
            None => Err(self.no_such_path(&used.path.item)),
            Some(Some(Ok(scope))) => Ok(scope),
            Some(Some(Err(circle))) => {
                let message = format!("{circle}: a worksheet cannot wait for itself");
                Err((message, "move what both of them need to a third worksheet, and use it in both".to_owned()))
            }
            Some(None) => Err(self.not_there(path.as_deref().unwrap_or_default())),
        };
        let mut found = Vec::new();
        let wanted = |value: &&UsedValue| names.as_ref().is_none_or(|names| names.contains(&*value.here.item));
        match scope {
            Ok(scope) => {
                for value in used.values.iter().filter(wanted) {
                    let path: Arc<str> = path.as_deref().unwrap_or_default().into();
                    match self.take(scope, value, &path, statement) {
                        Some(places) => found.extend(places),
                        None => self.fail_name(value),
                    }
                }
            }
            Err((message, help)) => {
                self.fail_with_help(Code::Use, used.path.span, message, help);
                used.values.iter().filter(wanted).for_each(|value| self.fail_name(value));
            }
        }
        (self.uses.scopes, self.uses.wanted) = (scopes, names);
        if found.is_empty() { Outcome::Failed } else { Outcome::Used(found) }
    }

    /// What is wrong with a path, and a way out.
    fn no_such_path(&self, path: &str) -> (String, String) {
        let is_worksheet = path.to_ascii_lowercase().ends_with(".md");
        if is_worksheet {
            let message = format!("`{path}` leads out of the folder of this worksheet");
            (message, "a worksheet uses those in its own folder and in folders inside it: parts/pump.md".to_owned())
        } else {
            let message = format!("`{path}` is not named as a worksheet");
            (
                message,
                "write the name of the file with its ending, .md; a table of readings is read by `bench`".to_owned(),
            )
        }
    }

    /// Why a worksheet could not be read, and a way out.
    fn not_there(&self, path: &str) -> (String, String) {
        match self.blocks.host().used(path) {
            Ok(_) => {
                let message = format!("`{path}` is one worksheet too many");
                (message, format!("a worksheet and those that it uses may use {} at most", crate::sheet::MOST_USED))
            }
            Err(FileFault::Missing) => {
                let message = format!("there is no worksheet `{path}`");
                (message, "a path begins in the folder of this worksheet; capital and small letters matter".to_owned())
            }
            Err(fault) => {
                let message = format!("`{path}` cannot be used: {fault}");
                (
                    message,
                    "a worksheet is a text file in UTF-8 of at most 8 MiB, beside this one or in a folder there"
                        .to_owned(),
                )
            }
        }
    }

    fn fail_name(&mut self, value: &UsedValue) {
        if !self.names.contains_key(&value.here.item) {
            self.bind(&value.here, Binding::Failed, None, None);
        }
    }

    /// Takes one value over; nothing where a problem was reported.
    fn take(&mut self, scope: &Scope, value: &UsedValue, path: &Arc<str>, statement: &Statement) -> Option<Vec<usize>> {
        let (there, here) = (&value.name.item, &value.here);
        if self.names.contains_key(&here.item) {
            let message =
                format!("`{}` is defined already, on line {}", here.item, self.line_of(self.names[&here.item].span));
            let help = format!("take it under another name: {} as {}_2", value.there(), here.item);
            self.fail_with_help(Code::Redefined, here.span, message, help);
            return None;
        }
        let Some(entry) = scope.names.get(there).filter(|entry| !matches!(entry.binding, Binding::Failed)) else {
            self.cannot_take(scope, value, path);
            return None;
        };
        let (mut entry, mut name) = (entry.clone(), there.clone());
        if let Some(field) = &value.field {
            let fields = match &entry.binding {
                Binding::Record(_, fields) => fields.as_slice(),
                _ => scope.part_fields.get(there).map_or(&[][..], Vec::as_slice),
            };
            let Some((_, typed)) = fields.iter().find(|(known, _)| *known == field.item) else {
                let message = format!("`{there}` in `{path}` has no field `{}`", field.item);
                let names = fields.iter().map(|(known, _)| known.as_str());
                let help = match nearest(&field.item, names.clone()) {
                    Some(known) => format!("did you mean `{there}.{known}`?"),
                    None if fields.is_empty() => format!("write {there} alone"),
                    None => format!("its fields are {}", names.collect::<Vec<_>>().join(", ")),
                };
                self.fail_with_help(Code::UnknownField, field.span, message, help);
                return None;
            };
            name = value.there();
            entry = Entry { binding: Binding::Value(*typed), span: here.span, source: None, unit: None };
        }
        if let Binding::Function(_) = entry.binding {
            let message = format!("`{there}` in `{path}` is a function: only values are taken from another worksheet");
            let help = "write the function here too, or take a value that was worked out with it";
            self.fail_with_help(Code::Use, value.name.span, message, help);
            return None;
        }
        if !self.name_is_free(here) {
            return None;
        }
        let first = self.checked.values.len();
        for known in &scope.values {
            let renamed = match known.name.strip_prefix(name.as_str()) {
                Some("") => here.item.clone(),
                Some(field) if field.starts_with('.') && matches!(entry.binding, Binding::Record(..)) => {
                    format!("{}{field}", here.item)
                }
                _ => continue,
            };
            let origin = Origin { file: Arc::clone(path), name: known.name.clone() };
            let own_label = statement.label.clone().filter(|_| renamed == here.item);
            self.checked.values.push(CheckedValue {
                name: renamed,
                label: own_label.or_else(|| known.label.clone()),
                span: value.span(),
                role: if value.field.is_some() { Role::Derived } else { known.role },
                origin: Some(Arc::new(known.origin.as_deref().cloned().unwrap_or(origin))),
                ..known.clone()
            });
        }
        if let Some(fields) = scope.part_fields.get(there).filter(|_| value.field.is_none()) {
            self.part_fields.insert(here.item.clone(), fields.clone());
        }
        let unit = entry.unit.or_else(|| self.checked.values.get(first)?.unit.clone());
        self.bind(here, entry.binding, entry.source, unit);
        Some((first..self.checked.values.len()).collect())
    }

    /// Says why a value cannot be taken.
    fn cannot_take(&mut self, scope: &Scope, value: &UsedValue, path: &str) {
        let there = &value.name.item;
        let span = value.name.span;
        if scope.withheld.contains(there) {
            let message =
                format!("`{there}` in `{path}` rests on a Rust block, which is run for its own worksheet alone");
            let help = "give the value here with its tolerance, or move the block to this worksheet";
            return self.fail_with_help(Code::Use, span, message, help);
        }
        if let Some(line) = scope.defined.get(there) {
            let message = format!("`{there}` cannot be taken: line {line} of `{path}` has an error, or depends on one");
            return self.fail(Code::DependsOnError, span, message);
        }
        let mut names: Vec<&str> = scope.defined.keys().map(String::as_str).collect();
        names.sort_unstable();
        let help = match nearest(there, names.iter().copied()) {
            Some(known) => format!("did you mean `{known}`?"),
            None if names.is_empty() => format!("`{path}` defines no values"),
            None => "look there for the name; it is the one before `=`".to_owned(),
        };
        self.fail_with_help(Code::Use, span, format!("there is no value `{there}` in `{path}`"), help);
    }

    /// Gives every source that comes from another worksheet the name that a reader of this one knows it by, and its random
    /// numbers: those of its own page, but where two worksheets have a given of one name.
    pub(super) fn name_sources(&mut self) {
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
