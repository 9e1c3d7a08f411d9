//! The worked solution of an exercise: its formula in steps, and before it the values on the way that differ from learner
//! to learner, since those are nowhere else on the page.

use std::collections::{HashMap, HashSet};

use benchleaf_core::{
    lang::ast::{Definition, Expr, Node, StatementBody},
    results::{Role, Task},
};
use benchleaf_words::key;
use maud::{Markup, html};

use crate::{context::PageContext, formula, mathml, model::Call};

/// The steps of the solution.
pub(super) fn worked(context: &PageContext<'_>, task: &Task) -> Markup {
    let definitions = Definitions::new(context);
    let mut on_the_way = definitions.between(&task.formula, &task.varies);
    let mut formula = html! {};
    // An answer that is no more than a value's name is worked out where the value is.
    match &task.formula.node {
        Node::Name(name) if definitions.derived(name).is_some() => {
            on_the_way.retain(|other| other != name);
            on_the_way.push(name.clone());
        }
        _ => {
            formula = formula::worked(
                context,
                &mathml::words(context.words.text(key::EXERCISE_ANSWER_WORD)),
                &task.formula,
                Some(&task.solution),
            );
        }
    }
    let derived: Vec<(&String, &Definition)> =
        on_the_way.iter().filter_map(|name| Some((name, definitions.derived(name)?))).collect();
    let mut models = Models { definitions: &definitions, fields: Vec::new(), set: HashSet::new() };
    derived.iter().for_each(|(_, definition)| models.read(&definition.value));
    models.read(&task.formula);
    html! {
        @for (name, definition) in derived {
            (models.behind(&definition.value))
            (formula::worked(context, &mathml::name(name), &definition.value, context.value(name)))
        }
        (models.behind(&task.formula))
        (formula)
    }
}

/// The handbook models behind a solution: each stands once, before the first formula that reads a field of it.
struct Models<'d, 'm, 's> {
    definitions: &'d Definitions<'m, 's>,
    /// Every record with a field of it that the solution reads.
    fields: Vec<(&'d str, &'d str)>,
    set: HashSet<&'d str>,
}

impl<'d> Models<'d, '_, '_> {
    fn read(&mut self, formula: &'d Expr) {
        formula.leaves(&mut |leaf| {
            if let Node::Field(record, field) = &leaf.node {
                self.fields.push((&record.item, &field.item));
            }
        });
    }

    /// The models that a formula reads, as far as they have not been set.
    fn behind(&mut self, formula: &'d Expr) -> Markup {
        let mut records = Vec::new();
        formula.leaves(&mut |leaf| {
            if let Node::Field(record, _) = &leaf.node
                && self.set.insert(&record.item)
            {
                records.push(record.item.as_str());
            }
        });
        html! { @for record in records { (self.model(record)) } }
    }

    fn model(&self, record: &str) -> Markup {
        let context = self.definitions.context;
        let Some((_, definition)) = self.definitions.by_name.get(record) else { return html! {} };
        let Node::Call(_, arguments) = &definition.value.node else { return html! {} };
        let fields = self.fields.iter().filter(|(of, _)| *of == record).map(|(_, field)| *field);
        html! { @if let Some(call) = Call::of(context, record, arguments) { (call.worked_from_inputs(context, fields)) } }
    }
}

/// What a worksheet defines, with its place.
struct Definitions<'m, 's> {
    context: &'m PageContext<'s>,
    by_name: HashMap<&'s str, (usize, &'s Definition)>,
}

impl<'m, 's> Definitions<'m, 's> {
    fn new(context: &'m PageContext<'s>) -> Self {
        let mut by_name = HashMap::new();
        for statement in context.evaluation.sheet.statements() {
            if let StatementBody::Definition(definition) = &statement.body {
                let place = by_name.len();
                by_name.entry(definition.name.item.as_str()).or_insert((place, definition));
            }
        }
        Self { context, by_name }
    }

    /// The definition of a value that is worked out from others.
    fn derived(&self, name: &str) -> Option<&'s Definition> {
        let (_, definition) = self.by_name.get(name)?;
        self.context.value(name).filter(|value| value.role == Role::Derived).map(|_| *definition)
    }

    /// The values between the givens that vary and a formula, in reading order.
    fn between(&self, formula: &Expr, varies: &[String]) -> Vec<String> {
        let mut seen: HashMap<String, bool> = varies.iter().map(|given| (given.clone(), true)).collect();
        self.follow(formula, &mut seen, 0);
        let moved = seen.iter().filter(|(name, moves)| **moves && self.derived(name).is_some());
        let mut names: Vec<String> = moved.map(|(name, _)| name.clone()).collect();
        names.sort_by_key(|name| self.by_name.get(name.as_str()).map(|row| row.0));
        names
    }

    /// Whether a formula depends on what varies; notes it for every name on the way.
    fn follow(&self, formula: &Expr, seen: &mut HashMap<String, bool>, depth: usize) -> bool {
        let mut names = HashSet::new();
        formula.names(&mut |name| {
            names.insert(name);
        });
        let mut moves = false;
        for name in names {
            if let Some(known) = seen.get(name) {
                moves |= known;
                continue;
            }
            seen.insert(name.to_owned(), false);
            let found = match self.by_name.get(name) {
                Some((_, definition)) if depth < DEEPEST => self.follow(&definition.value, seen, depth + 1),
                _ => false,
            };
            seen.insert(name.to_owned(), found);
            moves |= found;
        }
        moves
    }
}

/// Formulas deep that a solution is followed; a worksheet has fewer.
const DEEPEST: usize = 200;
