//! `transient` blocks: states and rates whose units must go together, an event, and measures, which become values. The
//! formulas are checked like any others; what of them depends on a state or on the time becomes the program of a
//! [`System`], and all else stays in the worksheet's program and is read from there.

use std::sync::Arc;

use super::{
    Binding, CheckedValue, Checker, Entry, Typed, expression::quantity_in, plot::same_axis, rust::fence_line,
    statement::written_unit,
};
use crate::{
    lang::ast::Expr,
    problem::Code,
    program::{Call, Callee, Extracted, MOST_STATES, Mark, MeasureOf, Reg, Step, System, SystemParts, WIDEST},
    results::Role,
    sheet::{EndLine, MeasureLine, MeasureRequest, TraceRequest, TransientBlock},
    span::{Span, Spanned},
    units::{Dimension, QuantityType, Unit, ValueType},
};

/// A `transient` block.
#[derive(Debug)]
pub(crate) struct CheckedTransient {
    pub(crate) span: Span,
    /// Where its end is stated.
    pub(crate) end_span: Span,
    /// The step that runs it.
    pub(crate) call: Reg,
    /// What it measures, by places in the worksheet's values.
    pub(crate) measures: Vec<usize>,
    /// What can be drawn: its states, then its formulas.
    pub(crate) traces: Vec<CheckedTrace>,
}

/// A quantity over time.
#[derive(Clone, Debug)]
pub(crate) struct CheckedTrace {
    pub(crate) name: String,
    pub(crate) label: Option<String>,
    pub(crate) quantity: QuantityType,
    pub(crate) unit: Option<Unit>,
}

/// One trace drawn over time: its block, its place there, and the units of the axes.
#[derive(Debug)]
pub(crate) struct CheckedTraceCurve {
    pub(crate) label: String,
    pub(crate) block: usize,
    pub(crate) trace: usize,
    pub(crate) unit: Option<Unit>,
    pub(crate) time_unit: Option<Unit>,
}

const TIME: Dimension = Dimension::new([0, 0, 1, 0, 0, 0, 0]);
/// What the time is called in a block.
const TIME_NAME: &str = "time";

/// A state on its way: its place holder, its start, and its rate.
struct State {
    typed: Typed,
    start: Reg,
    rate: Option<Reg>,
}

/// A measure on its way.
struct Wanted<'b> {
    line: &'b MeasureLine,
    typed: Typed,
    unit: Option<Unit>,
    of: MeasureOf,
}

impl Checker<'_> {
    /// A `transient` block: its measures become values. `None` where it cannot be run; a problem says why.
    pub(super) fn transient(&mut self, block: &TransientBlock, span: Span) -> Option<usize> {
        let mut hidden: Vec<(String, Option<Entry>)> = Vec::new();
        let checked = self.transient_inside(block, span, &mut hidden);
        // Inside names end with the block; those outside mean again what they meant.
        for (name, entry) in hidden.into_iter().rev() {
            match entry {
                Some(entry) => self.names.insert(name, entry),
                None => self.names.remove(&name),
            };
        }
        let names: Vec<Spanned<String>> = block.measures.iter().map(|line| line.name.clone()).collect();
        let Some((system, inputs, wanted, traces, end_span)) = checked else {
            let unbound: Vec<_> = names.into_iter().filter(|name| !self.names.contains_key(&name.item)).collect();
            for name in unbound {
                self.bind(&name, Binding::Failed, None, None);
            }
            let inside = block.states.iter().map(|line| &line.name).chain(block.formulas.iter().map(|line| &line.name));
            for name in inside {
                self.traces.insert(name.item.clone(), None);
            }
            return None;
        };
        self.checked.program.calls.push(Call { callee: Callee::System(Arc::new(system)), inputs });
        self.checked.call_spans.push(fence_line(self.text, span));
        let call = self.push(Step::Call((self.checked.program.calls.len() - 1) as u32));
        let mut measures = Vec::new();
        for (place, Wanted { line, typed, unit, .. }) in wanted.into_iter().enumerate() {
            let typed = Typed { reg: self.push(Step::Output(call, place as u32)), margin: None, ..typed };
            self.bind(&line.name, Binding::Value(typed), None, unit.clone());
            self.checked.values.push(CheckedValue {
                name: line.name.item.clone(),
                label: line.label.clone(),
                span: line.span,
                role: Role::Derived,
                typed,
                unit,
                digits: None,
            });
            measures.push(self.checked.values.len() - 1);
        }
        let index = self.checked.transients.len();
        for (place, trace) in traces.iter().enumerate() {
            self.traces.insert(trace.name.clone(), Some((index, place)));
        }
        self.checked.transients.push(CheckedTransient { span, end_span, call, measures, traces });
        Some(index)
    }

    #[allow(clippy::type_complexity)]
    fn transient_inside<'b>(
        &mut self,
        block: &'b TransientBlock,
        span: Span,
        hidden: &mut Vec<(String, Option<Entry>)>,
    ) -> Option<(System, Vec<Reg>, Vec<Wanted<'b>>, Vec<CheckedTrace>, Span)> {
        let fence = fence_line(self.text, span);
        let lacks = |checker: &mut Self, message: &str, help: &str| -> Option<()> {
            checker.fail_with_help(Code::Transient, fence, message, help);
            None
        };
        if block.broken {
            return None;
        }
        if block.states.is_empty() {
            lacks(self, "the block has no state", "a state reads `state V_c = 0 V`, with its rate `d V_c = …`")?;
        }
        if block.states.len() > MOST_STATES {
            lacks(self, &format!("a block follows {MOST_STATES} states at most"), "part it in two blocks")?;
        }
        let Some(end) = &block.end else {
            lacks(
                self,
                "the block has no end",
                "it ends with an event, `until V_c > 2/3 * V_s within 60 s`, or after a time, `until 60 s`",
            )?;
            return None;
        };
        if block.measures.len() > WIDEST {
            lacks(self, &format!("a block measures {WIDEST} values at most"), "part it in two blocks")?;
        }
        let mut whole = true;
        // What is read once, before time begins.
        let mut starts = Vec::new();
        for line in &block.states {
            let start = self.quantity(&line.start).and_then(|(reg, quantity)| {
                let typed = quantity_in(reg, quantity);
                match &line.unit {
                    Some(unit) => self.declared(typed, unit, line.start.span),
                    None => Some((typed, self.unit_of_expression(&line.start).or_else(|| written_unit(&line.start)))),
                }
            });
            whole &= start.is_some();
            starts.push(start);
        }
        let longest = self.time_of(&end.longest, end);
        whole &= longest.is_some();
        // From here on steps may depend on the time and on states.
        let mark = self.checked.program.mark();
        let time = self.place_holder(QuantityType::product(TIME));
        let mut states = Vec::new();
        let mut traces = Vec::new();
        for (line, start) in block.states.iter().zip(starts) {
            whole &= self.inside_name(&line.name, hidden);
            let quantity = match start.as_ref().map(|start| start.0.value_type) {
                Some(ValueType::Quantity(quantity)) => quantity,
                _ => QuantityType::NUMBER,
            };
            let typed = self.place_holder(quantity);
            let unit = start.as_ref().and_then(|start| start.1.clone());
            let binding = if start.is_some() { Binding::Value(typed) } else { Binding::Failed };
            self.bind(&line.name, binding, None, unit.clone());
            traces.push(CheckedTrace { name: line.name.item.clone(), label: line.label.clone(), quantity, unit });
            states.push(State { typed, start: start.map_or(0, |start| start.0.reg), rate: None });
        }
        // A worksheet may have a time of its own; in here it is the one that runs.
        let name = Spanned { item: TIME_NAME.to_owned(), span: fence };
        hidden.push((name.item.clone(), self.names.remove(TIME_NAME)));
        self.bind(&name, Binding::Value(time), None, None);
        let mut formulas = Vec::new();
        for line in &block.formulas {
            whole &= self.inside_name(&line.name, hidden);
            let found = self.quantity(&line.formula).and_then(|(reg, quantity)| {
                let typed = quantity_in(reg, quantity);
                line.unit.as_ref().map_or(Some((typed, None)), |unit| self.declared(typed, unit, line.formula.span))
            });
            let Some((typed, unit)) = found else {
                self.bind(&line.name, Binding::Failed, None, None);
                whole = false;
                continue;
            };
            self.bind(&line.name, Binding::Value(typed), None, unit.clone());
            let quantity = match typed.value_type {
                ValueType::Quantity(quantity) => quantity,
                ValueType::Condition => QuantityType::NUMBER,
            };
            traces.push(CheckedTrace { name: line.name.item.clone(), label: line.label.clone(), quantity, unit });
            formulas.push(typed.reg);
        }
        for line in &block.rates {
            let Some(at) = block.states.iter().position(|state| state.name.item == line.state.item) else {
                let message = format!("`{}` is not a state of this block", line.state.item);
                self.fail_with_help(Code::Transient, line.state.span, message, "a state reads `state V_c = 0 V`");
                whole = false;
                continue;
            };
            if states[at].rate.is_some() {
                let message = format!("the rate of `{}` is given twice", line.state.item);
                self.fail_with_help(
                    Code::Redefined,
                    line.span,
                    message,
                    "a state has one rate: add them up in one line",
                );
                whole = false;
                continue;
            }
            states[at].rate = self.rate(&line.state, states[at].typed, &line.rate);
            whole &= states[at].rate.is_some();
        }
        for (line, state) in block.states.iter().zip(&states) {
            if !block.rates.iter().any(|rate| rate.state.item == line.name.item) {
                let message = format!("the state `{}` has no rate", line.name.item);
                let help = format!("say how it changes: d {} = …", line.name.item);
                self.fail_with_help(Code::Transient, line.span, message, help);
            }
            whole &= state.rate.is_some();
        }
        let until = match &end.event {
            Some(event) => {
                let found = self.condition(event);
                whole &= found.is_some();
                found.map(|typed| typed.margin.unwrap_or(typed.reg))
            }
            None => None,
        };
        let mut times = Vec::new();
        let mut wanted = Vec::new();
        for line in &block.measures {
            whole &= self.name_is_free(&line.name);
            match self.measure(line, &mut times, end) {
                Some(measure) => wanted.push(measure),
                None => whole = false,
            }
        }
        let Some(longest) = longest.filter(|_| whole) else {
            self.checked.program.forget(mark);
            self.checked.call_spans.truncate(self.checked.program.calls.len());
            self.checked.divisors.retain(|(reg, _)| (*reg as usize) < self.checked.program.steps.len());
            return None;
        };
        let traced: Vec<Reg> = states.iter().map(|state| state.typed.reg).chain(formulas).collect();
        let rates: Vec<Reg> = states.iter().filter_map(|state| state.rate).collect();
        let wanted_regs: Vec<Reg> = wanted.iter().filter_map(|wanted| wanted.of.reg()).collect();
        let extracted = self.extract(mark, states.len());
        if let Some(line) = times
            .iter()
            .position(|time| extracted.is_inside(*time))
            .and_then(|at| block.measures.iter().filter(|line| matches!(line.measure, MeasureRequest::At(..))).nth(at))
        {
            let message = "the time of `at` depends on a state or on the time";
            self.fail_with_help(Code::Transient, line.written, message, "give a fixed time, or use `first(…)`");
            return None;
        }
        let mut inputs = vec![longest];
        inputs.extend(states.iter().map(|state| state.start));
        inputs.extend(times.iter().map(|time| extracted.outside(*time)));
        let all = rates.iter().chain(&until).chain(&wanted_regs).chain(&traced).copied();
        let inside = extracted.inside(&self.checked.program, states.len(), all);
        inputs.extend(&inside.reads);
        if inputs.len() > WIDEST {
            let message = format!("the block reads {} values from outside, of {WIDEST} at most", inputs.len());
            self.fail_with_help(Code::Transient, fence, message, "put together in a calc block what belongs together");
            return None;
        }
        let place = |reg: Reg| inside.place(reg);
        let parts = SystemParts {
            reads: inside.reads.len(),
            rates: rates.into_iter().map(place).collect(),
            until: until.map(place),
            measures: wanted.iter().map(|wanted| wanted.of.moved(place)).collect(),
            traces: traced.into_iter().map(place).collect(),
            program: inside.program.clone(),
        };
        Some((System::new(parts), inputs, wanted, traces, end.span))
    }

    /// Takes the steps out of the worksheet's program that depend on the time or on a state.
    fn extract(&mut self, mark: Mark, states: usize) -> Extracted {
        let extracted = self.checked.program.extract(mark, states);
        let first = self.checked.call_spans.len() - extracted.stays.len();
        let spans = self.checked.call_spans.split_off(first);
        let stay = spans.into_iter().zip(&extracted.stays).filter(|(_, stays)| **stays).map(|(span, _)| span);
        self.checked.call_spans.extend(stay);
        self.checked.divisors.retain_mut(|(reg, _)| {
            let stays = !extracted.is_inside(*reg);
            if stays {
                *reg = extracted.outside(*reg);
            }
            stays
        });
        extracted
    }

    /// A name that stands for something inside the block alone.
    fn inside_name(&mut self, name: &Spanned<String>, hidden: &mut Vec<(String, Option<Entry>)>) -> bool {
        if name.item == TIME_NAME || self.traces.contains_key(&name.item) {
            let message = format!("`{}` already stands for something over time", name.item);
            self.fail_with_help(Code::Redefined, name.span, message, "choose another name");
            return false;
        }
        let free = self.name_is_free(name);
        if free {
            hidden.push((name.item.clone(), None));
        }
        free
    }

    /// A step that stands for a number of each moment.
    fn place_holder(&mut self, quantity: QuantityType) -> Typed {
        quantity_in(self.push(Step::Constant(0.0)), quantity)
    }

    fn time_of(&mut self, expr: &Expr, end: &EndLine) -> Option<Reg> {
        let typed = self.expression(expr)?;
        match typed.value_type {
            ValueType::Quantity(quantity) if quantity.dimension == TIME => Some(typed.reg),
            ValueType::Condition => {
                let help = "add the longest time: `until V_c > 2/3 * V_s within 60 s`";
                self.fail_with_help(Code::Transient, end.span, "an event needs a longest time", help);
                None
            }
            other => {
                let message = format!("this is {}, not a time", other.describe());
                self.fail_with_help(Code::UnitMismatch, expr.span, message, "write a time: 60 s");
                None
            }
        }
    }

    fn rate(&mut self, name: &Spanned<String>, state: Typed, expr: &Expr) -> Option<Reg> {
        let (reg, found) = self.quantity(expr)?;
        let ValueType::Quantity(of) = state.value_type else { return None };
        let wanted = QuantityType::product(of.dimension.over(TIME));
        if found.dimension != wanted.dimension {
            let message = format!("the rate of `{}` is {}, not {}", name.item, found.describe(), wanted.describe());
            let help = format!("`{}` is {}, so its rate is that per second", name.item, of.describe());
            self.fail_with_help(Code::UnitMismatch, expr.span, message, help);
            return None;
        }
        Some(reg)
    }

    fn measure<'b>(&mut self, line: &'b MeasureLine, times: &mut Vec<Reg>, end: &EndLine) -> Option<Wanted<'b>> {
        let time = QuantityType::product(TIME);
        let (quantity, of, own) = match &line.measure {
            MeasureRequest::End => (time, MeasureOf::End, None),
            MeasureRequest::First(condition) => {
                let typed = self.condition(condition)?;
                (time, MeasureOf::First(typed.margin.unwrap_or(typed.reg)), None)
            }
            MeasureRequest::Greatest(of) | MeasureRequest::Least(of) | MeasureRequest::Last(of) => {
                let (reg, quantity) = self.quantity(of)?;
                let measure = match &line.measure {
                    MeasureRequest::Greatest(_) => MeasureOf::Greatest(reg),
                    MeasureRequest::Least(_) => MeasureOf::Least(reg),
                    _ => MeasureOf::Last(reg),
                };
                (quantity, measure, self.unit_of_expression(of))
            }
            MeasureRequest::At(of, at) => {
                let (reg, quantity) = self.quantity(of)?;
                times.push(self.time_of(at, end)?);
                (quantity, MeasureOf::At(reg, times.len() - 1), self.unit_of_expression(of))
            }
        };
        let typed = quantity_in(0, quantity);
        let (typed, declared) = match &line.unit {
            Some(unit) => self.declared(typed, unit, line.written)?,
            None => (typed, None),
        };
        Some(Wanted { line, typed, unit: declared.or(own), of })
    }

    /// The type of the first trace of a plot.
    pub(super) fn trace_type(&self, requests: &[TraceRequest]) -> Option<ValueType> {
        let (block, trace) = (*self.traces.get(&requests.first()?.subject.item)?)?;
        Some(ValueType::Quantity(self.checked.transients[block].traces[trace].quantity))
    }

    /// Traces drawn over time.
    pub(super) fn trace_curves(&mut self, requests: &[TraceRequest]) -> Vec<CheckedTraceCurve> {
        let mut first: Option<ValueType> = None;
        let mut curves = Vec::new();
        for request in requests {
            let Some(curve) = self.trace_curve(request) else { continue };
            let quantity = self.checked.transients[curve.block].traces[curve.trace].quantity;
            let shares = same_axis(*first.get_or_insert(ValueType::Quantity(quantity)), ValueType::Quantity(quantity));
            if shares {
                curves.push(curve);
            } else {
                let message = "this trace does not share the axis of the first";
                self.fail_with_help(Code::Plot, request.span, message, "give it a plot of its own");
            }
        }
        curves
    }

    /// `V_c [V] over time [ms]`.
    fn trace_curve(&mut self, request: &TraceRequest) -> Option<CheckedTraceCurve> {
        let TraceRequest { subject, unit, time_unit, label, .. } = request;
        let (block, trace) = match self.traces.get(&subject.item) {
            Some(Some(place)) => *place,
            Some(None) => {
                let message = format!("`{}` could not be evaluated, so neither can this", subject.item);
                self.depends(&subject.item, subject.span, message);
                return None;
            }
            None => {
                let message = format!("`{}` is not a state or a formula of a `transient` block above", subject.item);
                let help = "a curve of a value reads `t_on [s] against R_t from 100 kΩ to 2 MΩ`";
                self.fail_with_help(Code::Plot, subject.span, message, help);
                return None;
            }
        };
        let known = self.checked.transients[block].traces[trace].clone();
        let unit = match unit {
            Some(unit) => self.declared(quantity_in(0, known.quantity), unit, subject.span)?.1,
            None => known.unit,
        };
        let time = quantity_in(0, QuantityType::product(TIME));
        let time_unit = match time_unit {
            Some(unit) => self.declared(time, unit, subject.span)?.1,
            None => None,
        };
        let label = label.clone().or(known.label).unwrap_or(known.name);
        Some(CheckedTraceCurve { label, block, trace, unit, time_unit })
    }
}
