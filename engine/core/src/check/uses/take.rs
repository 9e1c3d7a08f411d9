//! A line `use`: the values that it takes, and why it cannot.

use std::sync::Arc;

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
}
