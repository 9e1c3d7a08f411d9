//! A line `use`: the values that it takes, and why it cannot.

use std::sync::Arc;

use benchleaf_words::{Phrase, phrase};

use super::{
    super::{Binding, CheckedValue, Checker, Entry},
    Scope,
};
use crate::{
    host::FileFault,
    lang::ast::{Statement, Use, UsedValue},
    problem::Code,
    results::{Origin, Outcome, Role},
    sheet::from_folder_of,
    suggest::nearest,
};

impl Checker<'_> {
    /// `use "timing.md": t_on, R_t`.
    pub(in crate::check) fn use_values(&mut self, used: &Use, statement: &Statement) -> Outcome {
        let own = self.uses.own.map_or("", |file| &*self.joined.files[file].path);
        let path = from_folder_of(own, &used.path.item);
        let (scopes, names) = (std::mem::take(&mut self.uses.scopes), self.uses.wanted.take());
        let scope = match path.as_deref().map(|path| scopes.get(path)) {
            None => Err(self.no_such_path(&used.path.item)),
            Some(Some(Ok(scope))) => Ok(scope),
            Some(Some(Err(circle))) => {
                let message = phrase!(CHECK_TAKE_A_WORKSHEET_CANNOT_WAIT, circle = circle);
                Err((message, phrase!(CHECK_TAKE_MOVE_WHAT_BOTH_OF_THEM)))
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
    fn no_such_path(&self, path: &str) -> (Phrase, Phrase) {
        let is_worksheet = path.to_ascii_lowercase().ends_with(".md");
        if is_worksheet {
            let message = phrase!(CHECK_TAKE_LEADS_OUT_OF_THE_FOLDER, path = path);
            (message, phrase!(CHECK_TAKE_A_WORKSHEET_USES_THOSE))
        } else {
            let message = phrase!(CHECK_TAKE_IS_NOT_NAMED, path = path);
            (message, phrase!(CHECK_TAKE_WRITE_THE_NAME))
        }
    }

    /// Why a worksheet could not be read, and a way out.
    fn not_there(&self, path: &str) -> (Phrase, Phrase) {
        match self.blocks.host().used(path) {
            Ok(_) => {
                let message = phrase!(CHECK_TAKE_IS_ONE_WORKSHEET_TOO_MANY, path = path);
                (message, phrase!(CHECK_TAKE_A_WORKSHEET_AND_THOSE, most_used = crate::sheet::MOST_USED))
            }
            Err(FileFault::Missing) => {
                let message = phrase!(CHECK_TAKE_THERE_IS_NO_WORKSHEET, path = path);
                (message, phrase!(CHECK_TAKE_A_PATH_BEGINS))
            }
            Err(fault) => {
                let message = phrase!(CHECK_TAKE_CANNOT_BE_USED, path = path, fault = fault.phrase());
                (message, phrase!(CHECK_TAKE_A_WORKSHEET_IS_A_TEXT))
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
            let message = phrase!(
                SHARED_IS_DEFINED_ALREADY_ON_LINE,
                name = here.item,
                line = self.line_of(self.names[&here.item].span)
            );
            let help = phrase!(CHECK_TAKE_TAKE_IT_UNDER_ANOTHER_NAME, there = value.there(), here = here.item);
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
                let message = phrase!(CHECK_TAKE_IN_HAS_NO_FIELD, there = there, path = path, field = field.item);
                let names = fields.iter().map(|(known, _)| known.as_str());
                let help = match nearest(&field.item, names.clone()) {
                    Some(known) => phrase!(SHARED_DID_YOU_MEAN_FIELD, record = there, known = known),
                    None if fields.is_empty() => phrase!(CHECK_TAKE_WRITE_ALONE, there = there),
                    None => phrase!(SHARED_ITS_FIELDS_ARE, names = names.collect::<Vec<_>>().join(", ")),
                };
                self.fail_with_help(Code::UnknownField, field.span, message, help);
                return None;
            };
            name = value.there();
            entry = Entry { binding: Binding::Value(*typed), span: here.span, source: None, unit: None };
        }
        if let Binding::Function(_) = entry.binding {
            let message = phrase!(CHECK_TAKE_IN_IS_A_FUNCTION, there = there, path = path);
            let help = phrase!(CHECK_TAKE_WRITE_THE_FUNCTION_HERE_TOO);
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
            let message = phrase!(CHECK_TAKE_IN_RESTS_ON_A_RUST, there = there, path = path);
            let help = phrase!(CHECK_TAKE_GIVE_THE_VALUE_HERE);
            return self.fail_with_help(Code::Use, span, message, help);
        }
        if let Some(line) = scope.defined.get(there) {
            let message = phrase!(CHECK_TAKE_CANNOT_BE_TAKEN, there = there, line = line, path = path);
            return self.fail(Code::DependsOnError, span, message);
        }
        let mut names: Vec<&str> = scope.defined.keys().map(String::as_str).collect();
        names.sort_unstable();
        let help = match nearest(there, names.iter().copied()) {
            Some(known) => phrase!(SHARED_DID_YOU_MEAN, known = known),
            None if names.is_empty() => phrase!(CHECK_TAKE_DEFINES_NO_VALUES, path = path),
            None => phrase!(CHECK_TAKE_LOOK_THERE_FOR_THE_NAME),
        };
        self.fail_with_help(
            Code::Use,
            span,
            phrase!(CHECK_TAKE_THERE_IS_NO_VALUE_IN, there = there, path = path),
            help,
        );
    }
}
