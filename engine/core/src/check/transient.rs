//! `transient` blocks: states and rates whose units must go together, an event, and measures, which become values. The
//! formulas are checked like any others; what of them depends on a state or on the time becomes the program of a
//! [`System`], and all else stays in the worksheet's program and is read from there.

use std::sync::Arc;

use benchleaf_words::phrase;

use super::{
    Binding, Checker, Entry, Typed, expression::quantity_in, plot::same_axis, rust::fence_line, statement::written_unit,
};
use crate::{
    lang::ast::Expr,
    problem::Code,
    program::{Call, Callee, Extracted, MOST_STATES, Mark, MeasureOf, Reg, Step, System, SystemParts, WIDEST},
    sheet::{EndLine, MeasureLine, MeasureRequest, StateLine, TraceRequest, TransientBlock},
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

/// A block whose lines have been checked, its steps still in the worksheet's program.
#[derive(Default)]
struct Lines<'b> {
    states: Vec<State>,
    /// The registers of its formulas over time.
    formulas: Vec<Reg>,
    traces: Vec<CheckedTrace>,
    until: Option<Reg>,
    wanted: Vec<Wanted<'b>>,
    /// The times of `at`.
    times: Vec<Reg>,
    /// Names that mean something else inside the block, with what they mean outside.
    hidden: Vec<(String, Option<Entry>)>,
    /// Whether a line has a problem.
    broken: bool,
}

/// A system ready to be called, and the registers that it reads.
struct Ready {
    system: System,
    inputs: Vec<Reg>,
}

impl Checker<'_> {
    /// A `transient` block: its measures become values. `None` where it cannot be run; a problem says why.
    pub(super) fn transient(&mut self, block: &TransientBlock, span: Span) -> Option<usize> {
        let fence = fence_line(self.text, span);
        let mut lines = Lines::default();
        let ready = self.end_of(block, fence).and_then(|end| self.ready(block, end, fence, &mut lines));
        // Inside names end with the block; those outside mean again what they meant.
        for (name, entry) in lines.hidden.drain(..).rev() {
            match entry {
                Some(entry) => self.names.insert(name, entry),
                None => self.names.remove(&name),
            };
        }
        let (Some(Ready { system, inputs }), Some(end)) = (ready, &block.end) else {
            for line in
                block.measures.iter().filter(|line| !self.names.contains_key(&line.name.item)).collect::<Vec<_>>()
            {
                self.bind(&line.name, Binding::Failed, None, None);
            }
            let inside = block.states.iter().map(|line| &line.name).chain(block.formulas.iter().map(|line| &line.name));
            self.traces.extend(inside.map(|name| (name.item.clone(), None)));
            return None;
        };
        self.checked.program.calls.push(Call { callee: Callee::System(Arc::new(system)), inputs });
        self.checked.call_spans.push(fence);
        let call = self.push(Step::Call((self.checked.program.calls.len() - 1) as u32));
        let Lines { wanted, traces, .. } = lines;
        let measures =
            wanted.into_iter().enumerate().map(|(place, wanted)| self.measured(wanted, call, place)).collect();
        let index = self.checked.transients.len();
        let places = traces.iter().enumerate().map(|(place, trace)| (trace.name.clone(), Some((index, place))));
        self.traces.extend(places);
        self.checked.transients.push(CheckedTransient { span, end_span: end.span, call, measures, traces });
        Some(index)
    }

    /// The value of a measure, by its place in the worksheet's values.
    fn measured(&mut self, wanted: Wanted<'_>, call: Reg, place: usize) -> usize {
        let Wanted { line, typed, unit, .. } = wanted;
        let typed = Typed { reg: self.push(Step::Output(call, place as u32)), margin: None, ..typed };
        self.derived(&line.name, (line.label.as_ref(), line.span), typed, unit)
    }

    /// The end of a block that has all that it needs.
    fn end_of<'b>(&mut self, block: &'b TransientBlock, fence: Span) -> Option<&'b EndLine> {
        if block.broken {
            return None;
        }
        let lack = if block.states.is_empty() {
            Some((phrase!(CHECK_TRANSIENT_THE_BLOCK_HAS_NO_STATE), phrase!(CHECK_TRANSIENT_A_STATE_READS)))
        } else if block.states.len() > MOST_STATES {
            Some((
                phrase!(CHECK_TRANSIENT_A_BLOCK_FOLLOWS_STATES, most_states = MOST_STATES),
                phrase!(CHECK_TRANSIENT_PART_IT_IN_TWO_BLOCKS),
            ))
        } else if block.end.is_none() {
            let help = phrase!(CHECK_TRANSIENT_IT_ENDS_WITH_AN_EVENT);
            Some((phrase!(CHECK_TRANSIENT_THE_BLOCK_HAS_NO_END), help))
        } else if block.measures.len() > WIDEST {
            Some((
                phrase!(CHECK_TRANSIENT_A_BLOCK_MEASURES_VALUES, widest = WIDEST),
                phrase!(CHECK_TRANSIENT_PART_IT_IN_TWO_BLOCKS),
            ))
        } else {
            None
        };
        match lack {
            Some((message, help)) => {
                self.fail_with_help(Code::Transient, fence, message, help);
                None
            }
            None => block.end.as_ref(),
        }
    }

    /// Checks the lines of a block, and takes its formulas out of the worksheet's program.
    fn ready<'b>(
        &mut self,
        block: &'b TransientBlock,
        end: &EndLine,
        fence: Span,
        lines: &mut Lines<'b>,
    ) -> Option<Ready> {
        // What is read once, before time begins.
        let starts: Vec<_> = block.states.iter().map(|line| self.start(line)).collect();
        let longest = self.time_of(&end.longest, end);
        // From here on steps may depend on the time and on states.
        let mark = self.checked.program.mark();
        let time = self.place_holder(QuantityType::product(Dimension::TIME));
        self.states(block, starts, lines);
        // A worksheet may have a time of its own; in here it is the one that runs.
        let name = Spanned { item: TIME_NAME.to_owned(), span: fence };
        lines.hidden.push((name.item.clone(), self.names.remove(TIME_NAME)));
        self.bind(&name, Binding::Value(time), None, None);
        self.formulas_over_time(block, lines);
        self.rates(block, lines);
        if let Some(event) = &end.event {
            let found = self.condition(event);
            lines.broken |= found.is_none();
            lines.until = found.map(|typed| typed.margin.unwrap_or(typed.reg));
        }
        for line in &block.measures {
            lines.broken |= !self.name_is_free(&line.name);
            match self.measure(line, &mut lines.times, end) {
                Some(measure) => lines.wanted.push(measure),
                None => lines.broken = true,
            }
        }
        let Some(longest) = longest.filter(|_| !lines.broken) else {
            self.checked.program.forget(mark);
            self.checked.call_spans.truncate(self.checked.program.calls.len());
            self.checked.divisors.retain(|(reg, _)| (*reg as usize) < self.checked.program.steps.len());
            return None;
        };
        self.system(longest, mark, fence, lines)
    }

    /// Where a state starts, and the unit that it is shown in.
    fn start(&mut self, line: &StateLine) -> Option<(Typed, Option<Unit>)> {
        let (reg, quantity) = self.quantity(&line.start)?;
        let typed = quantity_in(reg, quantity);
        match &line.unit {
            Some(unit) => self.declared(typed, unit, line.start.span),
            None => Some((typed, self.unit_of_expression(&line.start).or_else(|| written_unit(&line.start)))),
        }
    }

    fn states(&mut self, block: &TransientBlock, starts: Vec<Option<(Typed, Option<Unit>)>>, lines: &mut Lines<'_>) {
        for (line, start) in block.states.iter().zip(starts) {
            lines.broken |= start.is_none() | !self.inside_name(&line.name, &mut lines.hidden);
            let quantity = start.as_ref().map_or(QuantityType::NUMBER, |(typed, _)| quantity_of(*typed));
            let typed = self.place_holder(quantity);
            let binding = if start.is_some() { Binding::Value(typed) } else { Binding::Failed };
            let (start, unit) = start.map_or((0, None), |(typed, unit)| (typed.reg, unit));
            self.bind(&line.name, binding, None, unit.clone());
            lines.traces.push(CheckedTrace { name: line.name.item.clone(), label: line.label.clone(), quantity, unit });
            lines.states.push(State { typed, start, rate: None });
        }
    }

    fn formulas_over_time(&mut self, block: &TransientBlock, lines: &mut Lines<'_>) {
        for line in &block.formulas {
            lines.broken |= !self.inside_name(&line.name, &mut lines.hidden);
            let found = self.quantity(&line.formula).and_then(|(reg, quantity)| {
                let typed = quantity_in(reg, quantity);
                line.unit.as_ref().map_or(Some((typed, None)), |unit| self.declared(typed, unit, line.formula.span))
            });
            let Some((typed, unit)) = found else {
                self.bind(&line.name, Binding::Failed, None, None);
                lines.broken = true;
                continue;
            };
            self.bind(&line.name, Binding::Value(typed), None, unit.clone());
            let (name, label) = (line.name.item.clone(), line.label.clone());
            lines.traces.push(CheckedTrace { name, label, quantity: quantity_of(typed), unit });
            lines.formulas.push(typed.reg);
        }
    }

    fn rates(&mut self, block: &TransientBlock, lines: &mut Lines<'_>) {
        for line in &block.rates {
            let Some(at) = block.states.iter().position(|state| state.name.item == line.state.item) else {
                let message = phrase!(CHECK_TRANSIENT_IS_NOT_A_STATE, state = line.state.item);
                self.fail_with_help(
                    Code::Transient,
                    line.state.span,
                    message,
                    phrase!(CHECK_TRANSIENT_A_STATE_READS_2),
                );
                lines.broken = true;
                continue;
            };
            let state = &mut lines.states[at];
            if state.rate.is_some() {
                let message = phrase!(CHECK_TRANSIENT_THE_RATE_OF_IS_GIVEN, state = line.state.item);
                let help = phrase!(CHECK_TRANSIENT_A_STATE_HAS_ONE_RATE);
                self.fail_with_help(Code::Redefined, line.span, message, help);
                lines.broken = true;
                continue;
            }
            state.rate = self.rate(&line.state, state.typed, &line.rate);
        }
        for (line, state) in block.states.iter().zip(&lines.states) {
            if !block.rates.iter().any(|rate| rate.state.item == line.name.item) {
                let message = phrase!(CHECK_TRANSIENT_THE_STATE_HAS_NO_RATE, name = line.name.item);
                let help = phrase!(CHECK_TRANSIENT_SAY_HOW_IT_CHANGES, name = line.name.item);
                self.fail_with_help(Code::Transient, line.span, message, help);
            }
            lines.broken |= state.rate.is_none();
        }
    }

    /// The system of checked lines, its formulas taken out of the worksheet's program.
    fn system(&mut self, longest: Reg, mark: Mark, fence: Span, lines: &Lines<'_>) -> Option<Ready> {
        let Lines { states, formulas, until, wanted, times, .. } = lines;
        let extracted = self.extract(mark, states.len());
        let at_time = |wanted: &&Wanted<'_>| match wanted.of {
            MeasureOf::At(_, time) => extracted.is_inside(times[time]),
            _ => false,
        };
        if let Some(wanted) = wanted.iter().find(at_time) {
            let message = phrase!(CHECK_TRANSIENT_THE_TIME_OF_DEPENDS_ON);
            self.fail_with_help(
                Code::Transient,
                wanted.line.written,
                message,
                phrase!(CHECK_TRANSIENT_GIVE_A_FIXED_TIME),
            );
            return None;
        }
        let traced: Vec<Reg> = states.iter().map(|state| state.typed.reg).chain(formulas.iter().copied()).collect();
        let rates: Vec<Reg> = states.iter().filter_map(|state| state.rate).collect();
        let mut inputs = vec![longest];
        inputs.extend(states.iter().map(|state| state.start));
        inputs.extend(times.iter().map(|time| extracted.outside(*time)));
        let measured = wanted.iter().filter_map(|wanted| wanted.of.reg());
        let all = rates.iter().chain(until).chain(&traced).copied().chain(measured);
        let inside = extracted.inside(&self.checked.program, states.len(), all);
        inputs.extend(&inside.reads);
        if inputs.len() > WIDEST {
            let message = phrase!(CHECK_TRANSIENT_THE_BLOCK_READS_VALUES, inputs = inputs.len(), widest = WIDEST);
            self.fail_with_help(Code::Transient, fence, message, phrase!(CHECK_TRANSIENT_PUT_TOGETHER_IN_A_CALC));
            return None;
        }
        let place = |reg: Reg| inside.place(reg);
        let parts = SystemParts {
            reads: inside.reads.len(),
            rates: rates.into_iter().map(place).collect(),
            until: until.map(place),
            measures: wanted.iter().map(|wanted| wanted.of.moved(place)).collect(),
            traces: traced.into_iter().map(place).collect(),
        };
        Some(Ready { system: System::new(inside.program, parts), inputs })
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
            let message = phrase!(CHECK_TRANSIENT_ALREADY_STANDS_FOR_SOMETHING_OVER, name = name.item);
            self.fail_with_help(Code::Redefined, name.span, message, phrase!(SHARED_CHOOSE_ANOTHER_NAME));
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
            ValueType::Quantity(quantity) if quantity.dimension == Dimension::TIME => Some(typed.reg),
            ValueType::Condition => {
                let help = phrase!(CHECK_TRANSIENT_ADD_THE_LONGEST_TIME);
                self.fail_with_help(Code::Transient, end.span, phrase!(CHECK_TRANSIENT_AN_EVENT_NEEDS_A_LONGEST), help);
                None
            }
            other => {
                let message = phrase!(CHECK_TRANSIENT_THIS_IS_NOT_A_TIME, found = other.describe());
                self.fail_with_help(Code::UnitMismatch, expr.span, message, phrase!(CHECK_TRANSIENT_WRITE_A_TIME));
                None
            }
        }
    }

    fn rate(&mut self, name: &Spanned<String>, state: Typed, expr: &Expr) -> Option<Reg> {
        let (reg, found) = self.quantity(expr)?;
        let ValueType::Quantity(of) = state.value_type else { return None };
        let wanted = QuantityType::product(of.dimension.over(Dimension::TIME));
        if found.dimension != wanted.dimension {
            let message = phrase!(
                CHECK_TRANSIENT_THE_RATE_OF_IS_NOT,
                name = name.item,
                found = found.describe(),
                wanted = wanted.describe()
            );
            let help = phrase!(CHECK_TRANSIENT_IS_SO_ITS_RATE, name = name.item, found = of.describe());
            self.fail_with_help(Code::UnitMismatch, expr.span, message, help);
            return None;
        }
        Some(reg)
    }

    fn measure<'b>(&mut self, line: &'b MeasureLine, times: &mut Vec<Reg>, end: &EndLine) -> Option<Wanted<'b>> {
        let time = QuantityType::product(Dimension::TIME);
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
                let message = phrase!(CHECK_TRANSIENT_THIS_TRACE_DOES_NOT_SHARE);
                self.fail_with_help(Code::Plot, request.span, message, phrase!(SHARED_GIVE_IT_A_PLOT));
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
                let message = phrase!(SHARED_COULD_NOT_BE_EVALUATED_SO, name = subject.item);
                self.depends(&subject.item, subject.span, message);
                return None;
            }
            None => {
                let message = phrase!(CHECK_TRANSIENT_IS_NOT_A_STATE_OR_A_FORMULA, subject = subject.item);
                let help = phrase!(SHARED_A_CURVE_OF_A_VALUE);
                self.fail_with_help(Code::Plot, subject.span, message, help);
                return None;
            }
        };
        let known = self.checked.transients[block].traces[trace].clone();
        let unit = match unit {
            Some(unit) => self.declared(quantity_in(0, known.quantity), unit, subject.span)?.1,
            None => known.unit,
        };
        let time = quantity_in(0, QuantityType::product(Dimension::TIME));
        let time_unit = match time_unit {
            Some(unit) => self.declared(time, unit, subject.span)?.1,
            None => None,
        };
        let label = label.clone().or(known.label).unwrap_or(known.name);
        Some(CheckedTraceCurve { label, block, trace, unit, time_unit })
    }
}

/// The quantity of a value that is no condition.
fn quantity_of(typed: Typed) -> QuantityType {
    match typed.value_type {
        ValueType::Quantity(quantity) => quantity,
        ValueType::Condition => QuantityType::NUMBER,
    }
}
