//! The formulas of handbook models, read and checked by the same parser and checker as a worksheet's, once in a process. A
//! page sets them beside the numbers of a call; what stands between inputs and fields is evaluated here.

use std::{collections::HashMap, sync::OnceLock};

use super::{Checker, Typed, expression::quantity_in};
use crate::{
    handbook::{self, Input, Model, Output},
    host::{Fidelity, NoHost},
    lang::{Parser, ast::Expr, lines, whole},
    program::{Program, Reg, RunState, Source, Step},
    sheet::{Joined, Metadata, Sheet},
    span::{Span, Spanned},
    units::{DisplayUnit, QuantityType, Unit, ValueType, parse},
};

/// The formulas of a model.
#[derive(Debug)]
pub struct Formulas {
    /// Reads inputs and fields as sources, in this order.
    program: Program,
    steps: Vec<Option<(Expr, Reg)>>,
    fields: Vec<Option<(Expr, Reg)>>,
    /// What is wrong with them, each with its formula in front; a test wants nothing here.
    pub problems: Vec<String>,
}

/// The formulas of a model of the handbook.
pub fn formulas(model: &'static Model) -> Option<&'static Formulas> {
    static READ: OnceLock<Vec<OnceLock<Formulas>>> = OnceLock::new();
    let all = handbook::models();
    let at = all.iter().position(|known| known.name == model.name)?;
    let read = READ.get_or_init(|| all.iter().map(|_| OnceLock::new()).collect());
    Some(read.get(at)?.get_or_init(|| Formulas::new(model)))
}

impl Formulas {
    fn new(model: &Model) -> Self {
        let sheet = Sheet {
            metadata: Metadata::default(),
            body_start: 0,
            parts: Vec::new(),
            blocks: Vec::new(),
            inlines: Vec::new(),
            files: Vec::new(),
            used: Vec::new(),
        };
        let joined = Joined { text: "".into(), files: Vec::new() };
        let mut checker = Checker::new(&joined, &sheet, &NoHost, Default::default());
        checker.parameters = vec![HashMap::new()];
        for parameter in model.parameters {
            match parameter.input {
                Input::Quantity(unit) => checker.source(parameter.name, quantity_of(unit)),
                Input::Choice(words) => {
                    checker.source(parameter.name, QuantityType::NUMBER);
                    for (index, word) in words.iter().enumerate() {
                        let typed = checker.constant(index as f64, QuantityType::NUMBER);
                        checker.bind_in_formula(word, typed);
                    }
                }
            }
        }
        for field in model.fields {
            match field.output {
                Output::Quantity(unit) => checker.source(field.name, quantity_of(unit)),
                // No formula reads a condition.
                Output::Condition => checker.program_source(field.name),
            }
        }
        let mut formulas = Self {
            program: Program::default(),
            steps: Vec::with_capacity(model.steps.len()),
            fields: Vec::with_capacity(model.fields.len()),
            problems: Vec::new(),
        };
        for step in model.steps {
            let read = checker.formula(step.formula, Some(step.unit), &mut formulas.problems);
            if let Some((_, typed)) = &read {
                checker.bind_in_formula(step.name, *typed);
            }
            formulas.steps.push(read.map(|(expr, typed)| (expr, typed.reg)));
        }
        for field in model.fields {
            let unit = match field.output {
                Output::Quantity(unit) => Some(unit),
                Output::Condition => None,
            };
            let read = checker.formula(field.formula, unit, &mut formulas.problems);
            formulas.fields.push(read.map(|(expr, typed)| (expr, typed.reg)));
        }
        formulas.program = checker.checked.program;
        formulas
    }

    /// The formula of a step, by its place in the model.
    pub fn step(&self, at: usize) -> Option<&Expr> {
        self.steps.get(at)?.as_ref().map(|read| &read.0)
    }

    /// The formula of a field, by its place in the model.
    pub fn field(&self, at: usize) -> Option<&Expr> {
        self.fields.get(at)?.as_ref().map(|read| &read.0)
    }

    /// What the steps come to for a call's inputs and fields, SI.
    pub fn step_values(&self, inputs: &[f64], fields: &[f64]) -> Vec<f64> {
        self.values(&self.steps, inputs, fields)
    }

    /// What the fields' formulas come to for a call's inputs and fields, SI.
    pub fn field_values(&self, inputs: &[f64], fields: &[f64]) -> Vec<f64> {
        self.values(&self.fields, inputs, fields)
    }

    fn values(&self, wanted: &[Option<(Expr, Reg)>], inputs: &[f64], fields: &[f64]) -> Vec<f64> {
        let sources: Vec<f64> = inputs.iter().chain(fields).copied().collect();
        if wanted.is_empty() || sources.len() != self.program.sources.len() {
            return vec![f64::NAN; wanted.len()];
        }
        let state = RunState::new(&self.program, Fidelity::Builds);
        let mut regs = vec![0.0; self.program.steps.len()];
        let order: Vec<Reg> = (0..self.program.steps.len() as Reg).collect();
        self.program.rerun(&state, &order, &sources, &mut regs, &mut []);
        wanted.iter().map(|read| read.as_ref().map_or(f64::NAN, |(_, reg)| regs[*reg as usize])).collect()
    }
}

/// The unit in which an input, a step or a field of a model is shown.
pub fn shown_unit(symbol: &str, si: f64) -> DisplayUnit {
    let unit = super::statement::shown_as_declared(symbol);
    DisplayUnit::fitting(ValueType::Quantity(quantity_of(symbol)), unit.as_ref(), si)
}

fn quantity_of(unit: &str) -> QuantityType {
    parse(unit).unwrap_or_else(Unit::one).quantity
}

impl Checker<'_> {
    fn source(&mut self, name: &'static str, quantity: QuantityType) {
        let reg = self.push(Step::Source(self.checked.program.sources.len() as u32));
        self.program_source(name);
        self.bind_in_formula(name, quantity_in(reg, quantity));
    }

    fn program_source(&mut self, name: &'static str) {
        let distribution = crate::lang::ast::Distribution::Rectangular;
        let name = name.to_owned();
        self.checked.program.sources.push(Source {
            key: None,
            name,
            nominal: 0.0,
            low: 0.0,
            high: 0.0,
            distribution,
            degrees: f64::INFINITY,
        });
    }

    fn bind_in_formula(&mut self, name: &str, typed: Typed) {
        if let Some(scope) = self.parameters.last_mut() {
            scope.insert(name.to_owned(), typed);
        }
    }

    /// Reads and checks a formula; `None`, with a problem, where something is wrong with it.
    fn formula(&mut self, text: &str, unit: Option<&str>, problems: &mut Vec<String>) -> Option<(Expr, Typed)> {
        let read = lines(text, Span::new(0, text.len())).into_iter().next();
        let expr = match read.map(|line| whole(line, Parser::expression)) {
            Some(Ok(expr)) => expr,
            Some(Err(problem)) => {
                problems.push(format!("{text}: {}", problem.message.english()));
                return None;
            }
            None => return None,
        };
        let typed = self.expression(&expr);
        let typed = match (typed, unit) {
            (Some(typed), None | Some("")) => Some(typed),
            (Some(typed), Some(unit)) => {
                let whole = Span::new(0, text.len());
                let unit = Spanned { item: unit.to_owned(), span: whole };
                self.declared(typed, &unit, whole).map(|(typed, _)| typed)
            }
            (None, _) => None,
        };
        problems.extend(self.problems.drain(..).map(|problem| format!("{text}: {}", problem.message.english())));
        typed.map(|typed| (expr, typed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{evaluate::enclosed, program::Interval};

    impl Formulas {
        /// Ranges that surely hold what the fields' formulas come to, rounding included.
        fn ranges(&self, inputs: &[f64], fields: &[f64]) -> Vec<Interval> {
            let sources: Vec<f64> = inputs.iter().chain(fields).copied().collect();
            let regs: Vec<Reg> = self.fields.iter().flatten().map(|read| read.1).collect();
            enclosed(&self.program, &sources, &regs)
        }
    }

    #[test]
    fn every_formula_reads_and_gives_the_unit_of_its_field() {
        for model in handbook::models() {
            let read = formulas(model).unwrap();
            assert_eq!(read.problems, [] as [&str; 0], "{}", model.name);
            assert!((0..model.fields.len()).all(|at| read.field(at).is_some()), "{}", model.name);
            let mut symbols: Vec<&str> = model.parameters.iter().map(|parameter| parameter.symbol).collect();
            symbols.extend(model.steps.iter().map(|step| step.symbol));
            symbols.extend(model.fields.iter().filter_map(|field| field.symbol));
            let all = symbols.len();
            symbols.sort_unstable();
            symbols.dedup();
            assert_eq!(symbols.len(), all, "{} uses a symbol twice", model.name);
            for field in model.fields {
                assert_eq!(field.symbol.is_none(), matches!(field.output, Output::Condition), "{}", field.name);
            }
        }
    }

    /// The function of a model and the formulas that pages show agree for any inputs in the model's validity, to 1e-12 of
    /// the number and what rounding may take where a formula subtracts near numbers.
    #[test]
    fn formulas_give_what_the_functions_give() {
        const TRIES: u32 = 4000;
        // D. E. Knuth's linear congruential generator (MMIX).
        let mut state = 20_261_127u64;
        let mut draw = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        for model in handbook::models() {
            let read = formulas(model).unwrap();
            let mut compared = vec![0u32; model.fields.len()];
            let mut tight = vec![0u32; model.fields.len()];
            for _ in 0..TRIES {
                let inputs: Vec<f64> = model
                    .parameters
                    .iter()
                    .map(|parameter| match (&parameter.input, parameter.valid) {
                        (Input::Choice(words), _) => (draw() * words.len() as f64).floor(),
                        (Input::Quantity(unit), Some((low, high))) => {
                            let place = draw();
                            let number =
                                if low > 0.0 { low * libm::pow(high / low, place) } else { low + (high - low) * place };
                            let unit = parse(unit).unwrap_or_else(Unit::one);
                            unit.to_si(if draw() < 0.2 { parameter.default.unwrap_or(number) } else { number })
                        }
                        (Input::Quantity(_), None) => draw(),
                    })
                    .collect();
                let mut fields = vec![f64::NAN; model.fields.len()];
                (model.evaluate)(&inputs, &mut fields);
                if !model.conditions.iter().all(|condition| (condition.holds)(&inputs)) {
                    continue;
                }
                let found = read.field_values(&inputs, &fields);
                let ranges = read.ranges(&inputs, &fields);
                for (at, field) in model.fields.iter().enumerate() {
                    if !fields[at].is_finite() {
                        continue;
                    }
                    compared[at] += 1;
                    let allowed = 1e-12 * fields[at].abs();
                    let rounding = 2.0 * ranges[at].width();
                    tight[at] += u32::from(rounding <= allowed);
                    let off = (found[at] - fields[at]).abs();
                    assert!(
                        off <= allowed.max(rounding),
                        "{}.{}: {} by its formula, {} by the function, for {inputs:?}",
                        model.name,
                        field.name,
                        found[at],
                        fields[at]
                    );
                }
            }
            for (at, field) in model.fields.iter().enumerate() {
                let (compared, tight) = (compared[at], tight[at]);
                assert!(compared >= 300 && tight >= 10, "{}.{}: {compared} {tight}", model.name, field.name);
            }
        }
    }
}
