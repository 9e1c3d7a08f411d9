//! `solve` and `choose`: what is moved, what is watched, and where to look.

use super::{Binding, CheckedChoice, CheckedKeep, CheckedValue, Checker, Typed, expression::quantity_in};
use crate::{
    lang::ast::{Choose, Expr, Node, Solve, Statement},
    preferred::Series,
    problem::Code,
    program::{Goal, Reg, Search, Step},
    results::{Outcome, Role},
    span::Spanned,
    units::{QuantityType, Unit, ValueType, parse},
};

/// A given that is moved.
struct Moved {
    typed: Typed,
    quantity: QuantityType,
    source: u32,
    unit: Option<Unit>,
}

impl Checker<'_> {
    pub(super) fn solve(&mut self, solve: &Solve, statement: &Statement) -> Outcome {
        let name = solve.result_name();
        if !self.name_is_free(&name) {
            return Outcome::Failed;
        }
        let outcome = self.solve_checked(solve, statement, &name);
        outcome.unwrap_or_else(|| {
            self.bind(&name, Binding::Failed, None, None);
            Outcome::Failed
        })
    }

    fn solve_checked(&mut self, solve: &Solve, statement: &Statement, name: &Spanned<String>) -> Option<Outcome> {
        let moved = self.moved(&solve.given);
        let sides = (self.quantity(&solve.left), self.quantity(&solve.right));
        let (moved, (left, left_type), (right, right_type)) = (moved?, sides.0?, sides.1?);
        self.alike(left_type, right_type, &solve.left, &solve.right, "come out alike")?;
        let span = self.span_along(&solve.given, moved.quantity, &solve.from, &solve.to)?;
        let watched = self.push(Step::Subtract(left, right));
        let search = self.search(vec![moved.typed.reg], watched, Some(span), Goal::Root, solve)?;
        let typed = quantity_in(self.push(Step::Sought(search, 0)), moved.quantity);
        let (typed, declared) = match &solve.unit {
            Some(unit) => self.declared(typed, unit, statement.span)?,
            None => (typed, None),
        };
        let unit = declared.or(moved.unit);
        Some(Outcome::Value(self.derived(name, (statement.label.as_ref(), statement.span), typed, unit)))
    }

    /// Makes a search, if what is moved reaches what is watched.
    fn search(
        &mut self,
        moved: Vec<Reg>,
        watched: Reg,
        span: Option<(Reg, Reg)>,
        goal: Goal,
        solve: &Solve,
    ) -> Option<u32> {
        let order = self.checked.program.between(&moved, watched);
        if !order.contains(&watched) {
            let message = format!("`{}` makes no difference to this", solve.given.item);
            let help = "solve for a given that the formula is built on";
            self.fail_with_help(Code::Solve, solve.left.span.to(solve.right.span), message, help);
            return None;
        }
        self.checked.program.searches.push(Search { moved, watched, order, span, goal, kept: Vec::new() });
        Some((self.checked.program.searches.len() - 1) as u32)
    }

    /// The given of a name.
    fn moved(&mut self, name: &Spanned<String>) -> Option<Moved> {
        let Some(entry) = self.names.get(&name.item).cloned() else {
            self.unknown_name(&name.item, name.span);
            return None;
        };
        match (entry.binding, entry.source) {
            (Binding::Value(typed @ Typed { value_type: ValueType::Quantity(quantity), .. }), Some(source)) => {
                Some(Moved { typed, quantity, source, unit: entry.unit })
            }
            (Binding::Failed, _) => {
                let message = format!("`{}` could not be evaluated, so neither can this", name.item);
                self.depends(&name.item, name.span, message);
                None
            }
            _ => {
                let message = format!("`{}` is not a given", name.item);
                let help = "what is sought is a value that is written out, such as R_t = 910 kΩ";
                self.fail_with_help(Code::Solve, name.span, message, help);
                None
            }
        }
    }

    fn span_along(
        &mut self,
        given: &Spanned<String>,
        quantity: QuantityType,
        from: &Expr,
        to: &Expr,
    ) -> Option<(Reg, Reg)> {
        let point = Expr { node: Node::Name(given.item.clone()), span: given.span };
        let mut end = |expr: &Expr| {
            let (reg, found) = self.quantity(expr)?;
            self.alike(quantity, found, &point, expr, "stand on one axis")?;
            Some(reg)
        };
        let (from, to) = (end(from), end(to));
        Some((from?, to?))
    }

    /// Preferred values are those of parts: resistors, capacitors, inductors, and diodes by their voltage.
    fn can_be_chosen(&mut self, given: &Spanned<String>, quantity: QuantityType) -> Option<()> {
        let parts = ["Ω", "F", "H", "V"];
        if parts.iter().any(|unit| parse(unit).is_some_and(|unit| unit.quantity.dimension == quantity.dimension)) {
            return Some(());
        }
        let message = format!("`{}` is {}: no part is made in preferred values of it", given.item, quantity.describe());
        let help = format!(
            "IEC 60063 lists resistances, capacitances, inductances and voltages; for another quantity write solve {} so \
             that … = …",
            given.item
        );
        self.fail_with_help(Code::Arguments, given.span, message, help);
        None
    }

    pub(super) fn choose(&mut self, choose: &Choose, statement: &Statement) -> Outcome {
        if let Some(name) = &choose.name
            && !self.name_is_free(name)
        {
            return Outcome::Failed;
        }
        let checked = self.choose_checked(choose, statement);
        if let (None, Some(name)) = (&checked, &choose.name) {
            self.bind(name, Binding::Failed, None, None);
        }
        checked.unwrap_or(Outcome::Failed)
    }

    /// Lets choices know the requirements that they reach, those further down too.
    pub(super) fn kept_by_choices(&mut self) {
        let program = &mut self.checked.program;
        for choice in &self.checked.choices {
            let moved = program.searches[choice.search as usize].moved.clone();
            let reached = |keep: &&CheckedKeep| program.between(&moved, keep.distance).contains(&keep.distance);
            let kept = self.checked.keeps.iter().filter(reached).map(|keep| keep.distance).collect();
            program.searches[choice.search as usize].kept = kept;
        }
    }

    fn choose_checked(&mut self, choose: &Choose, statement: &Statement) -> Option<Outcome> {
        /// More would take longer than a reader waits.
        const MOST_GIVENS: usize = 3;
        let Some((series, series_name)) = Series::TABLE.iter().find(|row| row.1 == choose.series.item).copied() else {
            let names: Vec<_> = Series::TABLE.iter().map(|row| row.1).collect();
            let message = format!("`{}` is not a series of preferred values", choose.series.item);
            let help = format!("name one of {}", names.join(", "));
            self.fail_with_help(Code::Arguments, choose.series.span, message, help);
            return None;
        };
        if choose.givens.len() > MOST_GIVENS {
            let message = format!("{} givens make too many combinations to try", choose.givens.len());
            let help = format!("choose up to {MOST_GIVENS} at a time");
            self.fail_with_help(Code::Arguments, choose.givens[MOST_GIVENS].span, message, help);
            return None;
        }
        let moved: Vec<_> = choose.givens.iter().map(|given| self.moved(given)).collect();
        let sides = (self.quantity(&choose.subject), self.quantity(&choose.target));
        let moved: Vec<Moved> = moved.into_iter().collect::<Option<_>>()?;
        let ((watched, subject), (target, target_type)) = (sides.0?, sides.1?);
        for (at, (given, moved)) in choose.givens.iter().zip(&moved).enumerate() {
            self.can_be_chosen(given, moved.quantity)?;
            if choose.givens[..at].iter().any(|other| other.item == given.item) {
                let message = format!("`{}` stands twice", given.item);
                let help = "name each given once: choose E24 for R_a, R_b so that …";
                self.fail_with_help(Code::Arguments, given.span, message, help);
                return None;
            }
        }
        let quantity = self.alike(subject, target_type, &choose.subject, &choose.target, "come near one another")?;
        let span = match &choose.span {
            Some((from, to)) => Some(self.span_along(&choose.givens[0], moved[0].quantity, from, to)?),
            None => None,
        };
        let regs: Vec<Reg> = moved.iter().map(|moved| moved.typed.reg).collect();
        let order = self.checked.program.between(&regs, watched);
        let goal = Goal::Nearest(series, target);
        self.checked.program.searches.push(Search { moved: regs, watched, order, span, goal, kept: Vec::new() });
        let search = (self.checked.program.searches.len() - 1) as u32;
        let mut fields = Vec::new();
        for (i, (moved, given)) in moved.iter().zip(&choose.givens).enumerate() {
            let typed = quantity_in(self.push(Step::Sought(search, i as u32)), moved.quantity);
            fields.push((given.item.clone(), typed));
        }
        if let Some(name) = &choose.name {
            for (field, typed) in &fields {
                // A choice is made to be seen.
                self.checked.fields_read.insert(format!("{}.{field}", name.item));
                self.checked.values.push(CheckedValue {
                    name: format!("{}.{field}", name.item),
                    label: None,
                    span: statement.span,
                    role: Role::Field,
                    typed: *typed,
                    unit: None,
                    digits: Some(series.digits()),
                    origin: None,
                });
            }
            self.bind(name, Binding::Record("a choice of preferred values", fields), None, None);
        }
        let unit = self.unit_of_expression(&choose.subject).or_else(|| super::statement::written_unit(&choose.target));
        let givens = choose.givens.iter().zip(moved);
        self.checked.choices.push(CheckedChoice {
            label: statement.label.clone(),
            span: statement.span,
            search,
            givens: givens
                .map(|(given, moved)| (given.item.clone(), moved.source, moved.typed.value_type, moved.unit))
                .collect(),
            series: series_name,
            subject: quantity_in(watched, quantity),
            subject_span: choose.subject.span,
            unit,
            target,
        });
        Some(Outcome::Choice(self.checked.choices.len() - 1))
    }
}
