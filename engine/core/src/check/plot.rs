//! Plots: curves, distributions, shares and bounds, each in a unit of its axis.

use benchleaf_words::phrase;

use super::{
    Binding, CheckedCurve, CheckedPlot, CheckedSpread, Checker, Typed, expression::quantity_in, statement::written_unit,
};
use crate::{
    lang::ast::{Expr, Node},
    problem::Code,
    sheet::{CurveRequest, Plot, SpreadRequest},
    span::Span,
    units::ValueType,
};

impl Checker<'_> {
    pub(super) fn plot(&mut self, plot: &Plot, span: Span) {
        let mut curves: Vec<CheckedCurve> = Vec::new();
        for request in &plot.curves {
            let Some(curve) = self.curve(request) else { continue };
            let clash = curves.first().is_some_and(|first| {
                !same_axis(first.subject.value_type, curve.subject.value_type)
                    || !same_axis(first.against_type, curve.against_type)
            });
            if clash {
                let message = phrase!(CHECK_PLOT_THIS_CURVE_DOES_NOT_SHARE);
                self.fail_with_help(Code::Plot, request.span, message, phrase!(SHARED_GIVE_IT_A_PLOT));
            } else {
                curves.push(curve);
            }
        }
        let spreads: Vec<CheckedSpread> = plot.spreads.iter().filter_map(|request| self.spread(request)).collect();
        // A bound is of what stands first.
        let first = curves.first().map(|curve| curve.subject.value_type);
        let first =
            first.or(spreads.first().map(|spread| spread.subject.value_type)).or_else(|| self.trace_type(&plot.traces));
        let mut bounds = Vec::new();
        for request in &plot.bounds {
            let Some(typed) = self.expression(&request.value) else { continue };
            match first {
                None if plot.spreads.is_empty() && plot.traces.is_empty() => {
                    self.fail(Code::Plot, request.span, phrase!(CHECK_PLOT_A_BOUND_NEEDS_A_CURVE));
                }
                Some(first) if !same_axis(first, typed.value_type) => {
                    let message = phrase!(
                        CHECK_PLOT_THE_BOUND_IS_THE_PLOT,
                        found = typed.value_type.describe(),
                        first = first.describe()
                    );
                    self.fail(Code::Plot, request.span, message);
                }
                _ => bounds.push((typed, request.label.clone())),
            }
        }
        if let (Some(request), false) = (plot.traces.first(), curves.is_empty()) {
            let message = phrase!(CHECK_PLOT_A_TRACE_OVER_TIME_DOES);
            self.fail_with_help(Code::Plot, request.span, message, phrase!(SHARED_GIVE_IT_A_PLOT));
        }
        let series = self.series_curves(&plot.series);
        let traces = self.trace_curves(&plot.traces);
        let budgets = plot.budgets.iter().filter_map(|request| self.spread(request)).collect();
        self.checked.plots.push(CheckedPlot {
            span,
            title: plot.title.clone(),
            curves,
            series,
            traces,
            bounds,
            spreads,
            budgets,
        });
    }

    fn spread(&mut self, request: &SpreadRequest) -> Option<CheckedSpread> {
        let (reg, quantity) = self.quantity(&request.subject)?;
        let mut subject = quantity_in(reg, quantity);
        let mut unit = self.unit_of_expression(&request.subject);
        if let Some(declared) = &request.unit {
            (subject, unit) = self.declared(subject, declared, request.subject.span)?;
        }
        Some(CheckedSpread { subject, unit, written: request.subject.span, span: request.span })
    }

    fn curve(&mut self, request: &CurveRequest) -> Option<CheckedCurve> {
        let subject = self.quantity(&request.subject).map(|(reg, quantity)| quantity_in(reg, quantity));
        let Some(entry) = self.names.get(&request.against.item).cloned() else {
            self.unknown_name(&request.against.item, request.against.span);
            return None;
        };
        if matches!(entry.binding, Binding::Failed) {
            let message = phrase!(SHARED_COULD_NOT_BE_EVALUATED_SO, name = request.against.item);
            self.depends(&request.against.item, request.against.span, message);
            return None;
        }
        let Binding::Value(against @ Typed { value_type: ValueType::Quantity(_), .. }) = entry.binding else {
            let message = phrase!(CHECK_PLOT_IS_NOT_A_QUANTITY, against = request.against.item);
            let help = phrase!(CHECK_PLOT_A_CURVE_RUNS_ALONG);
            self.fail_with_help(Code::Plot, request.against.span, message, help);
            return None;
        };
        let against_reg = against.reg;
        let end = |checker: &mut Self, expr: &Expr| {
            let (reg, quantity) = checker.quantity(expr)?;
            let ValueType::Quantity(wanted) = against.value_type else { return None };
            let point = Expr { node: Node::Name(request.against.item.clone()), span: request.against.span };
            checker.alike(wanted, quantity, &point, expr, phrase!(SHARED_STAND_ON_ONE_AXIS))?;
            Some(quantity_in(reg, quantity))
        };
        let (from, to) = (end(self, &request.from), end(self, &request.to));
        let (mut subject, from, to) = (subject?, from?, to?);
        let mut shown = self.unit_of_expression(&request.subject);
        if let Some(unit) = &request.unit {
            (subject, shown) = self.declared(subject, unit, request.subject.span)?;
        }
        let label = request.label.clone().unwrap_or_else(|| request.subject.span.text(self.text).to_owned());
        Some(CheckedCurve {
            label,
            subject,
            subject_span: request.subject.span,
            unit: shown,
            against: request.against.item.clone(),
            against_unit: written_unit(&request.to).or(entry.unit),
            against_type: against.value_type,
            against_reg,
            from,
            to,
            scale: request.scale,
            span: request.span,
        })
    }
}

pub(super) fn same_axis(a: ValueType, b: ValueType) -> bool {
    match (a, b) {
        (ValueType::Quantity(a), ValueType::Quantity(b)) => {
            a.dimension == b.dimension && a.kind.joined(b.kind).is_some()
        }
        _ => false,
    }
}
