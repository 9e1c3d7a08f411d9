//! Studies: one worksheet at many values of its givens. It is checked once; what changes from point to point are the
//! sources of its program. A point is worked out at nominal values alone, or with its ranges as a whole evaluation gives them.
//! A worksheet and the names of values flow in; a [`Study`] takes changes of givens and gives values and verdicts.

use std::collections::HashMap;

use benchleaf_words::phrase;

use super::{
    Options,
    assembly::{NOTHING, ValidRange, is_broken},
    builds::{priced, reduced},
    design,
    pipeline::{self, WholeSheet},
};
use crate::{
    change::Given,
    check::{self, Checked, CheckedValue},
    handbook::Condition,
    host::{Fidelity, Host},
    lang::ast::Definition,
    problem::{Code, Problem, Severity},
    program::{Callee, Reg, RunState, Scenario, Source, Step, WIDEST},
    results::{Role, Status},
    sheet::{Sheet, Worksheet},
    span::{LineIndex, Span},
    suggest::nearest,
    units::ValueType,
};

/// A worksheet that is to be worked out at many points. It never changes: threads share it.
///
/// ```
/// use benchleaf_core::{Options, host::NoHost, sheet::Worksheet, study::{Study, To}};
///
/// let (worksheet, _) = Worksheet::new("```calc\nR = 10 kΩ ± 5 %\nI [mA] = 5 V / R\nkeep I below 1 mA\n```\n");
/// let study = Study::new(&worksheet, &[], &Options::default(), &NoHost).unwrap();
/// let mut points = study.points();
/// let changes = [study.change("R", To::Text("4k7")).unwrap()];
/// let point = points.nominal(&changes);
/// assert_eq!((point.values, point.broken), (&[5.0 / 4700.0][..], &[true][..]));
/// let changes = [study.change("R", To::Si(50e3)).unwrap()];
/// assert_eq!(points.nominal(&changes).values, [1e-4]);
/// ```
#[derive(Debug)]
pub struct Study {
    source: String,
    sheet: Sheet,
    /// The definitions of its givens, those taken from other worksheets included, by their names here.
    definitions: Vec<(String, Definition)>,
    lines: LineIndex,
    checked: Checked,
    /// The same with no more than the values that are wanted and the requirements.
    reduced: Checked,
    values: Vec<StudiedValue>,
    keeps: Vec<StudiedKeep>,
    /// The source of each given, and its place among the sheet's.
    givens: HashMap<String, (u32, usize)>,
    /// The steps to run at each point, in order.
    order: Vec<Reg>,
    /// Models and circuits among them.
    limits: Vec<Limit>,
    /// Whether a search, a Rust block or a system of differential equations is among them.
    is_costly: bool,
    /// Whether a choice is among them that looks at the tolerances too.
    looks_around: bool,
}

/// A value that is wanted of each point.
#[derive(Clone, Debug, PartialEq)]
pub struct StudiedValue {
    /// Its name; `record.field` for a field.
    pub name: String,
    /// Its type.
    pub value_type: ValueType,
    reg: Reg,
}

/// A requirement.
#[derive(Clone, Debug, PartialEq)]
pub struct StudiedKeep {
    /// Line of its statement.
    pub line: usize,
    /// Its label.
    pub label: Option<String>,
}

/// The new value of a given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum To<'t> {
    /// A number in the SI unit of its quantity (Ω, F, m, K); the tolerance stays as the author has it.
    Si(f64),
    /// A quantity as the language writes it, with or without a tolerance.
    Text(&'t str),
}

/// A change of one given, held against the worksheet.
#[derive(Clone, Debug, PartialEq)]
pub struct StudyChange {
    at: u32,
    source: Source,
}

impl StudyChange {
    /// Whether both change the same given.
    pub fn is_of_same(&self, other: &Self) -> bool {
        self.at == other.at
    }
}

/// Why there is no study.
#[derive(Clone, Debug, PartialEq)]
pub enum NoStudy {
    /// The worksheet holds errors.
    Errors(Vec<Problem>),
    /// The worksheet has no such value, or something else that was asked for cannot be had.
    Asked(Problem),
}

/// A point at its nominal values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NominalPoint<'p> {
    /// The wanted values, SI; 1 or 0 for a condition; not a number, or infinite, where there is none.
    pub values: &'p [f64],
    /// Of each requirement, whether it fails at these values. One that does not may still fail in builds around them.
    pub broken: &'p [bool],
    /// What limits the figures: lines where a model is used outside the range that it is good for, or where the solution of a
    /// circuit took for granted what is not so.
    pub doubts: &'p [Doubt],
}

/// A reason to doubt the figures of a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// [`Code::Validity`] or [`Code::CircuitCheck`].
    pub code: Code,
    /// Line of the call or of the circuit.
    pub line: usize,
}

/// A point with its ranges.
#[derive(Clone, Debug, PartialEq)]
pub struct RangedPoint {
    /// The wanted values, SI.
    pub values: Vec<f64>,
    /// Least and greatest of each over the tolerances, SI; nothing where it does not vary.
    pub worst: Vec<Option<(f64, f64)>>,
    /// The verdict on each requirement.
    pub status: Vec<Status>,
}

/// What a model or the solution of a circuit is good for.
#[derive(Debug)]
struct Limit {
    doubt: Doubt,
    of: LimitOf,
}

#[derive(Debug)]
enum LimitOf {
    /// Arguments within ranges, by register, and conditions on all arguments.
    Model { inputs: Vec<Reg>, ranges: Vec<(Reg, ValidRange)>, conditions: &'static [Condition] },
    /// A register that is not below zero.
    Circuit(Reg),
}

impl Study {
    /// Checks a worksheet for a study of some of its values; where none is named, of all that are worked out. What was found
    /// when its Markdown was read is the caller's to look at.
    ///
    /// # Errors
    /// [`NoStudy`]: the worksheet holds an error, or it has no such value.
    pub fn new(worksheet: &Worksheet, wanted: &[String], options: &Options, host: &dyn Host) -> Result<Self, NoStudy> {
        let worksheet = &*worksheet.with_used(host);
        let WholeSheet { joined, sheet, checked, mut problems } = WholeSheet::new(worksheet, options, host);
        problems.retain(|problem| problem.severity() == Severity::Error);
        let problems: Vec<Problem> =
            problems.into_iter().map(|problem| joined.placed(problem, &checked.used_at)).collect();
        if !problems.is_empty() {
            return Err(NoStudy::Errors(problems));
        }
        let wanted = wanted_values(&checked, wanted).map_err(NoStudy::Asked)?;
        let lines = LineIndex::new(&joined.text);
        let own = sheet.givens().into_iter().map(|definition| (definition.name.item.clone(), definition.clone()));
        let taken = checked.values.iter().filter(|value| value.role == Role::Given).filter_map(|value| {
            let origin = value.origin.as_deref()?;
            let definition = joined.given(&origin.file, &origin.name)?;
            Some((value.name.clone(), definition.clone()))
        });
        let definitions: Vec<(String, Definition)> = own.chain(taken).collect();
        let names = definitions.iter().map(|(name, _)| name.clone());
        let source_of = |(place, name): (usize, String)| {
            let value = checked.values.iter().find(|value| value.role == Role::Given && value.name == name)?;
            match checked.program.steps[value.typed.reg as usize] {
                Step::Source(source) => Some((name, (source, place))),
                _ => None,
            }
        };
        let givens = names.enumerate().filter_map(source_of).collect();
        let keep =
            |keep: &check::CheckedKeep| StudiedKeep { line: lines.line(keep.span.start), label: keep.label.clone() };
        let keeps = checked.keeps.iter().map(keep).collect();
        let order = order(&checked, &wanted);
        let needs = |step: &Step| match step {
            Step::Sought(..) => true,
            Step::Call(call) => checked.program.is_costly(*call),
            _ => false,
        };
        let is_costly = order.iter().any(|reg| needs(&checked.program.steps[*reg as usize]));
        let looks_around = order.iter().any(|reg| match checked.program.steps[*reg as usize] {
            Step::Sought(search, _) => !checked.program.searches[search as usize].kept.is_empty(),
            _ => false,
        });
        let line = |span| lines.line(joined.here(span, &checked.used_at).start);
        let limits = limits(&checked, &order, &line);
        let value = |value: &CheckedValue| StudiedValue {
            name: value.name.clone(),
            value_type: value.typed.value_type,
            reg: value.typed.reg,
        };
        let values = wanted.iter().map(value).collect();
        let reduced = Checked {
            values: wanted,
            keeps: checked.keeps.clone(),
            fields_read: checked.fields_read.clone(),
            ..reduced(&checked)
        };
        let source = joined.text.to_string();
        Ok(Self {
            source,
            sheet,
            definitions,
            lines,
            checked,
            reduced,
            values,
            keeps,
            givens,
            order,
            limits,
            is_costly,
            looks_around,
        })
    }

    /// The values that are wanted, in the order of each point's.
    pub fn values(&self) -> &[StudiedValue] {
        &self.values
    }

    /// The requirements, in reading order.
    pub fn keeps(&self) -> &[StudiedKeep] {
        &self.keeps
    }

    /// A change of a given.
    ///
    /// # Errors
    /// The worksheet has no such given, or the value does not fit it.
    pub fn change(&self, name: &str, to: To<'_>) -> Result<StudyChange, Problem> {
        let Some((at, place)) = self.givens.get(name).copied() else { return Err(self.no_given(name)) };
        let refused = |code, message| Err(Problem::new(code, Span::default(), message));
        let source = match to {
            To::Si(si) if !si.is_finite() => {
                return refused(Code::NotFinite, phrase!(EVALUATE_STUDY_THE_NEW_VALUE, name = name));
            }
            To::Si(si) => {
                let Some((_, definition)) = self.definitions.get(place) else { return Err(self.no_given(name)) };
                check::given_at(&self.source, &self.sheet, definition, si)?
            }
            To::Text(text) => self.given(name, place)?.source_with(&self.source, text)?,
        };
        if !self.checked.costs.iter().all(|cost| cost.takes(at, &source)) {
            return refused(Code::Arguments, phrase!(EVALUATE_STUDY_TAKES_AS_A_WHOLE_NUMBER, name = name));
        }
        if self.checked.relied_on.contains(&at) {
            let message = phrase!(EVALUATE_STUDY_CANNOT_BE_VARIED, name = name);
            return Err(Problem::new(Code::Arguments, Span::default(), message)
                .help(phrase!(EVALUATE_STUDY_CHANGE_IT_IN_THE_WORKSHEET)));
        }
        let own = &self.checked.program.sources[at as usize];
        if own.varies() && !source.varies() && self.checked.program.correlations.iter().any(|c| c.0 == at || c.1 == at)
        {
            return refused(Code::Correlation, phrase!(EVALUATE_STUDY_NEEDS_A_TOLERANCE, name = name));
        }
        Ok(StudyChange { at, source })
    }

    fn given(&self, name: &str, place: usize) -> Result<Given<'_>, Problem> {
        let given = self.definitions.get(place).and_then(|(_, definition)| Given::of(definition, &self.source));
        given.ok_or_else(|| self.no_given(name))
    }

    fn no_given(&self, name: &str) -> Problem {
        if self.checked.values.iter().any(|value| value.name == name) {
            let message = phrase!(EVALUATE_STUDY_IS_WORKED_OUT_ONLY, name = name);
            return Problem::new(Code::UnknownName, Span::default(), message)
                .help(phrase!(EVALUATE_STUDY_CHANGE_THE_GIVENS));
        }
        let problem =
            Problem::new(Code::UnknownName, Span::default(), phrase!(SHARED_THE_WORKSHEET_HAS_NO_GIVEN, name = name));
        match nearest(name, self.givens.keys().map(String::as_str)) {
            Some(near) => problem.help(phrase!(SHARED_DID_YOU_MEAN, known = near)),
            None => problem,
        }
    }

    /// Whether a point takes long: a search, a Rust block or a system of differential equations is behind what is wanted.
    pub fn is_costly(&self) -> bool {
        self.is_costly
    }

    /// Room to work points out in, for one thread.
    pub fn points(&self) -> Points<'_> {
        let program = &self.checked.program;
        let mut regs = vec![f64::NAN; program.steps.len()];
        for (reg, step) in regs.iter_mut().zip(&program.steps) {
            if let Step::Constant(value) = step {
                *reg = *value;
            }
        }
        Points {
            study: self,
            state: RunState::new(program, Fidelity::Nominal),
            sources: Scenario::authored(program).nominal(),
            regs,
            outputs: vec![[f64::NAN; WIDEST]; program.calls.len()],
            memory: design::Memory::default(),
            values: vec![f64::NAN; self.values.len()],
            broken: vec![false; self.keeps.len()],
            doubts: Vec::new(),
        }
    }

    fn scenario(&self, changes: &[StudyChange]) -> Scenario<'_> {
        let authored = Scenario::authored(&self.checked.program);
        let changed = changes.iter().fold(authored, |all, change| all.with_source(change.at, change.source.clone()));
        priced(&self.checked, &self.checked.parts, changed)
    }

    /// A point with its ranges and verdicts, as a whole evaluation of the worksheet gives them, simulated builds included.
    pub fn ranged(&self, changes: &[StudyChange]) -> RangedPoint {
        // Its program is that of the whole worksheet.
        let scenario = self.scenario(changes);
        let scenario = Scenario { program: &self.reduced.program, sources: scenario.sources };
        let found = pipeline::scenario((&self.source, &self.sheet, &self.lines), &self.reduced, &scenario);
        RangedPoint {
            values: found.values.iter().map(|value| value.nominal).collect(),
            worst: found.values.iter().map(|value| value.worst.as_ref().map(|worst| (worst.low, worst.high))).collect(),
            status: found.keeps.iter().map(|verdict| verdict.status).collect(),
        }
    }
}

/// Works points out, one after the other.
#[derive(Debug)]
pub struct Points<'s> {
    study: &'s Study,
    /// Spent by nothing: what is costly is run in a state of its own at each point.
    state: RunState,
    sources: Vec<f64>,
    regs: Vec<f64>,
    outputs: Vec<[f64; WIDEST]>,
    memory: design::Memory,
    values: Vec<f64>,
    broken: Vec<bool>,
    doubts: Vec<Doubt>,
}

impl Points<'_> {
    /// The point at the nominal values that some changes give; of several changes of one given the last counts. All other
    /// givens are as the worksheet has them, whatever the point before was.
    pub fn nominal(&mut self, changes: &[StudyChange]) -> NominalPoint<'_> {
        let Study { checked, order, .. } = self.study;
        let program = &checked.program;
        for change in changes {
            self.sources[change.at as usize] = change.source.nominal;
        }
        let changed = (self.study.looks_around || !checked.costs.is_empty()).then(|| self.study.scenario(changes));
        if let Some(changed) = &changed {
            self.sources = changed.nominal();
        }
        if self.study.is_costly {
            self.state = RunState::new(program, Fidelity::Nominal);
            let scenario = changed.unwrap_or_else(|| Scenario::authored(program));
            let order = order.iter().copied();
            let Self { state, sources, regs, outputs, memory, .. } = &mut *self;
            design::rerun(&scenario, state, order, sources, regs, outputs, memory);
        } else {
            program.rerun(&self.state, order, &self.sources, &mut self.regs, &mut self.outputs);
        }
        for change in changes {
            self.sources[change.at as usize] = program.sources[change.at as usize].nominal;
        }
        let regs = &self.regs;
        let nominal = |reg: Reg| regs[reg as usize];
        self.values.iter_mut().zip(&self.study.values).for_each(|(slot, value)| *slot = nominal(value.reg));
        self.broken.iter_mut().zip(&checked.keeps).for_each(|(slot, keep)| *slot = is_broken(keep, nominal));
        self.doubts.clear();
        self.doubts.extend(self.study.limits.iter().filter(|limit| limit.of.is_left(nominal)).map(|limit| limit.doubt));
        NominalPoint { values: &self.values, broken: &self.broken, doubts: &self.doubts }
    }
}

impl LimitOf {
    fn is_left(&self, nominal: impl Fn(Reg) -> f64) -> bool {
        match self {
            LimitOf::Circuit(reg) => nominal(*reg) < -NOTHING,
            LimitOf::Model { inputs, ranges, conditions } => {
                let mut arguments = [0.0; WIDEST];
                arguments.iter_mut().zip(inputs).for_each(|(slot, reg)| *slot = nominal(*reg));
                let arguments = &arguments[..inputs.len().min(WIDEST)];
                let is_known = arguments.iter().all(|argument| !argument.is_nan());
                is_known
                    && (ranges.iter().any(|(reg, range)| range.is_outside(nominal(*reg)))
                        || conditions.iter().any(|condition| !(condition.holds)(arguments)))
            }
        }
    }
}

/// The values of these names, or all that are worked out.
fn wanted_values(checked: &Checked, names: &[String]) -> Result<Vec<CheckedValue>, Problem> {
    if names.is_empty() {
        return Ok(checked.values.iter().filter(|value| value.role != Role::Given).cloned().collect());
    }
    let find = |name: &String| {
        let found = checked.values.iter().find(|value| value.name == *name);
        found.cloned().ok_or_else(|| {
            let message = phrase!(EVALUATE_STUDY_THE_WORKSHEET_HAS_NO_VALUE, name = name);
            let problem = Problem::new(Code::UnknownName, Span::default(), message);
            match nearest(name, checked.values.iter().map(|value| value.name.as_str())) {
                Some(near) => problem.help(phrase!(SHARED_DID_YOU_MEAN, known = near)),
                None => problem,
            }
        })
    };
    names.iter().map(find).collect()
}

/// The steps that values, requirements and the limits of what they are worked out with need, in order. Those that no source
/// reaches keep what they have.
fn order(checked: &Checked, wanted: &[CheckedValue]) -> Vec<Reg> {
    let program = &checked.program;
    let mut needed = vec![false; program.steps.len()];
    let mut need = |reg: Reg| needed[reg as usize] = true;
    wanted.iter().for_each(|value| need(value.typed.reg));
    for keep in &checked.keeps {
        need(keep.subject.reg);
        keep.lower.iter().chain(&keep.upper).for_each(|(bound, distance)| {
            need(bound.reg);
            need(*distance);
        });
    }
    checked.assumptions.iter().for_each(|assumption| need(assumption.reg));
    let mut order = Vec::new();
    for reg in (0..program.steps.len() as Reg).rev() {
        if needed[reg as usize] {
            program.inputs(reg, |input| needed[input as usize] = true);
            if let Step::Sought(search, _) = program.steps[reg as usize] {
                program.searches[search as usize].read(|input| needed[input as usize] = true);
            }
            if !matches!(program.steps[reg as usize], Step::Constant(_)) {
                order.push(reg);
            }
        }
    }
    order.reverse();
    order
}

/// What the models and circuits of some steps are good for.
fn limits(checked: &Checked, order: &[Reg], line: &dyn Fn(Span) -> usize) -> Vec<Limit> {
    let called = order.iter().filter_map(|reg| match checked.program.steps[*reg as usize] {
        Step::Call(call) => Some(call as usize),
        _ => None,
    });
    let model = |call: usize| {
        let line = line(*checked.call_spans.get(call)?);
        let call = &checked.program.calls[call];
        let Callee::Model(model) = call.callee else { return None };
        let parameters = call.inputs.iter().zip(model.parameters);
        let ranges = parameters.filter_map(|(reg, parameter)| Some((*reg, ValidRange::of(parameter)?))).collect();
        let of = LimitOf::Model { inputs: call.inputs.clone(), ranges, conditions: model.conditions };
        Some(Limit { doubt: Doubt { code: Code::Validity, line }, of })
    };
    let circuits = checked.assumptions.iter().map(|assumption| Limit {
        doubt: Doubt { code: Code::CircuitCheck, line: line(assumption.span) },
        of: LimitOf::Circuit(assumption.reg),
    });
    called.filter_map(model).chain(circuits).collect()
}
