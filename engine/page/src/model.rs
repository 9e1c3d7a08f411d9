//! What a handbook model does for a field, shown as a worksheet's own formulas are: symbols, numbers put in, result, with
//! the steps that lead there before it.

use std::{borrow::Cow, cell::RefCell, collections::BTreeSet};

use benchleaf_core::{
    check::{Formulas, formulas, shown_unit},
    handbook::{Field, Input, Output},
    lang::ast::{Argument, Expr, Node},
    results::ModelCall,
};
use benchleaf_words::set;
use maud::{Markup, html};

use crate::{
    context::PageContext,
    formula::in_steps,
    mathml::{self, Names, Piece, Scope},
    problems,
};

/// A call of a model on its way to the page.
pub(crate) struct Call<'m, 's> {
    context: &'m PageContext<'s>,
    call: &'s ModelCall,
    arguments: &'m [Argument],
    formulas: &'static Formulas,
    /// What the model's steps come to, SI.
    steps: Vec<f64>,
    /// The steps that stand on the page by now.
    shown: RefCell<BTreeSet<&'static str>>,
}

impl<'m, 's> Call<'m, 's> {
    /// The call that gave a record.
    pub(crate) fn of(context: &'m PageContext<'s>, record: &str, arguments: &'m [Argument]) -> Option<Self> {
        let call = context.evaluation.calls.iter().find(|call| call.record == record)?;
        let formulas = formulas(call.model)?;
        let field = |field: &Field| context.value(&format!("{record}.{}", field.name)).map_or(f64::NAN, |v| v.nominal);
        let fields: Vec<f64> = call.model.fields.iter().map(field).collect();
        let steps = formulas.step_values(&call.inputs, &fields);
        Some(Self { context, call, arguments, formulas, steps, shown: RefCell::default() })
    }

    /// A field's formula, with the steps before it that do not stand above.
    pub(crate) fn worked(&self, context: &PageContext<'_>, field: &str) -> Markup {
        let Some((at, known)) = self.field(field) else { return html! {} };
        let Some(expr) = self.formulas.field(at) else { return html! {} };
        let value = context.value(&format!("{}.{field}", self.call.record));
        let left = known.symbol.map_or_else(|| html! {}, mathml::name);
        // What has no finite number has a reason instead.
        let endless = value.filter(|value| !value.nominal.is_finite()).and(known.without_value);
        html! {
            @for step in self.steps_before(expr) { (self.step(step)) }
            @match endless {
                Some(why) => {
                    (self.set(&left, expr, None))
                    p.states { (set!(context.words, MODEL_NO_VALUE, why = problems::in_english(context.words, html! { (why) }))) }
                },
                None => (self.set(&left, expr, value.map(|value| mathml::value(context.words, value)))),
            }
        }
    }

    /// The same for a page's part that stands by itself: the fields that it rests on come first.
    pub(crate) fn worked_from_inputs<'n>(
        &self,
        context: &PageContext<'_>,
        fields: impl Iterator<Item = &'n str>,
    ) -> Markup {
        html! { @for field in self.rest_on(fields) { (self.worked(context, field)) } }
    }

    /// Some fields and all others that their formulas use, each behind those that it uses.
    pub(crate) fn rest_on<'n>(&self, fields: impl Iterator<Item = &'n str>) -> Vec<&'static str> {
        let mut order = Vec::new();
        fields.for_each(|field| self.follow(field, &mut order));
        order
    }

    fn follow(&self, name: &str, order: &mut Vec<&'static str>) {
        let model = self.call.model;
        let expr = match self.field(name) {
            Some((at, known)) if !order.contains(&known.name) => (self.formulas.field(at), Some(known.name)),
            Some(_) => return,
            None => match model.steps.iter().position(|step| step.name == name) {
                Some(at) => (self.formulas.step(at), None),
                None => return,
            },
        };
        if let (Some(expr), field) = expr {
            expr.names(&mut |name| self.follow(name, order));
            order.extend(field);
        }
    }

    fn field(&self, name: &str) -> Option<(usize, &'static Field)> {
        self.call.model.fields.iter().enumerate().find(|(_, field)| field.name == name)
    }

    /// The places of the steps that an expression needs and that are not shown yet, in order.
    fn steps_before(&self, expr: &Expr) -> Vec<usize> {
        let mut needed = BTreeSet::new();
        self.collect(expr, &mut needed);
        let steps = self.call.model.steps;
        needed.into_iter().filter(|at| self.shown.borrow_mut().insert(steps[*at].name)).collect()
    }

    fn collect(&self, expr: &Expr, needed: &mut BTreeSet<usize>) {
        expr.names(&mut |name| {
            if let Some(at) = self.call.model.steps.iter().position(|step| step.name == name)
                && needed.insert(at)
                && let Some(expr) = self.formulas.step(at)
            {
                self.collect(expr, needed);
            }
        });
    }

    fn step(&self, at: usize) -> Markup {
        let (Some(step), Some(expr)) = (self.call.model.steps.get(at), self.formulas.step(at)) else { return html! {} };
        let result = self.quantity(step.unit, self.steps.get(at).copied().unwrap_or(f64::NAN));
        html! {
            p.on-the-way { (problems::in_english(self.context.words, html! { (step.summary) })) }
            (self.set(&mathml::name(step.symbol), expr, Some(result.markup)))
        }
    }

    fn set(&self, left: &Markup, expr: &Expr, result: Option<Markup>) -> Markup {
        let symbols = mathml::formula(self.context, expr, Names::Symbols, self);
        let numbers = result.is_some().then(|| mathml::formula(self.context, expr, Names::Values, self));
        in_steps(self.context.words, left, symbols, numbers, result, expr)
    }

    fn quantity(&self, unit: &str, si: f64) -> Piece {
        let unit = shown_unit(unit, si);
        mathml::quantity(&unit.number(si, self.context.evaluation.sheet.metadata.digits), unit.symbol())
    }

    /// An input: as its author wrote it where that is a name or a number, else what it came to.
    fn input(&self, at: usize) -> Option<Piece> {
        let (parameter, si) = (self.call.model.parameters.get(at)?, *self.call.inputs.get(at)?);
        let unit = match parameter.input {
            Input::Quantity(unit) => unit,
            Input::Choice(words) => return words.get(si as usize).map(|word| mathml::word(word)),
        };
        let argument =
            self.arguments.iter().find(|given| given.name.as_ref().is_some_and(|n| n.item == parameter.name));
        Some(match (argument, parameter.default) {
            (Some(Argument { value, .. }), _)
                if matches!(value.node, Node::Quantity(_) | Node::Name(_) | Node::Field(..)) =>
            {
                mathml::expression(self.context, value, Names::Values)
            }
            (None, Some(default)) => mathml::quantity(&default.to_string().replace('-', "−"), unit),
            _ => self.quantity(unit, si),
        })
    }
}

impl Scope for Call<'_, '_> {
    fn symbol<'n>(&self, name: &'n str) -> Cow<'n, str> {
        let model = self.call.model;
        let inputs = model.parameters.iter().map(|parameter| (parameter.name, Some(parameter.symbol)));
        let steps = model.steps.iter().map(|step| (step.name, Some(step.symbol)));
        let fields = model.fields.iter().map(|field| (field.name, field.symbol));
        let found = inputs.chain(steps).chain(fields).find(|(known, _)| *known == name);
        found.and_then(|(_, symbol)| symbol).map_or(Cow::Borrowed(name), Cow::Borrowed)
    }

    fn value(&self, name: &str) -> Option<Piece> {
        let model = self.call.model;
        if let Some(at) = model.parameters.iter().position(|parameter| parameter.name == name) {
            return self.input(at);
        }
        if let Some(at) = model.steps.iter().position(|step| step.name == name) {
            return Some(self.quantity(model.steps[at].unit, *self.steps.get(at)?));
        }
        let (_, field) = self.field(name)?;
        matches!(field.output, Output::Quantity(_)).then_some(())?;
        self.context
            .value(&format!("{}.{name}", self.call.record))
            .map(|value| mathml::piece_of(self.context.words, value))
    }
}
