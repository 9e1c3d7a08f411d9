//! `solve` and `choose`: what is moved, what is watched, and where to look.

use benchleaf_words::phrase;

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
        self.alike(left_type, right_type, &solve.left, &solve.right, phrase!(CHECK_SOLVE_COME_OUT_ALIKE))?;
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
            let message = phrase!(CHECK_SOLVE_MAKES_NO_DIFFERENCE_TO_THIS, given = solve.given.item);
            let help = phrase!(CHECK_SOLVE_SOLVE_FOR_A_GIVEN);
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
                let message = phrase!(SHARED_COULD_NOT_BE_EVALUATED_SO, name = name.item);
                self.depends(&name.item, name.span, message);
                None
            }
            _ => {
                let message = phrase!(SHARED_IS_NOT_A_GIVEN, name = name.item);
                let help = phrase!(CHECK_SOLVE_WHAT_IS_SOUGHT);
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
            self.alike(quantity, found, &point, expr, phrase!(SHARED_STAND_ON_ONE_AXIS))?;
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
        let message = phrase!(CHECK_SOLVE_IS_NO_PART_IS_MADE, given = given.item, found = quantity.describe());
        let help = phrase!(CHECK_SOLVE_IEC_LISTS_RESISTANCES_CAPACITANCES_INDUCTANCES, given = given.item);
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
            let message = phrase!(SHARED_IS_NOT_A_SERIES, written = choose.series.item);
            let help = phrase!(SHARED_NAME_ONE_OF, names = names.join(", "));
            self.fail_with_help(Code::Arguments, choose.series.span, message, help);
            return None;
        };
        if choose.givens.len() > MOST_GIVENS {
            let message = phrase!(CHECK_SOLVE_GIVENS_MAKE_TOO_MANY_COMBINATIONS, givens = choose.givens.len());
            let help = phrase!(CHECK_SOLVE_CHOOSE_UP, most_givens = MOST_GIVENS);
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
                let message = phrase!(CHECK_SOLVE_STANDS_TWICE, given = given.item);
                let help = phrase!(CHECK_SOLVE_NAME_EACH_GIVEN_ONCE);
                self.fail_with_help(Code::Arguments, given.span, message, help);
                return None;
            }
        }
        let quantity = self.alike(
            subject,
            target_type,
            &choose.subject,
            &choose.target,
            phrase!(CHECK_SOLVE_COME_NEAR_ONE_ANOTHER),
        )?;
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
            self.bind(name, Binding::Record(phrase!(CHECK_SOLVE_A_CHOICE_OF_PREFERRED_VALUES), fields), None, None);
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
