//! Blocks of simulated builds: the steps of a program that move from build to build, run over columns, so that the loop
//! over steps is outside and the loop over builds inside.

mod reuse;

use std::{collections::HashMap, ops::Range};

pub(crate) use reuse::{Reused, Watch};

use super::{
    draws::{Copula, Stream, draw, fill},
    tolerances::Tolerances,
};
use crate::{
    handbook::LANES,
    program::{Callee, Columnwise, Program, Reg, RunState, Source, Step, WIDEST, operate},
    results::CURVE_BUILDS,
};

/// Builds a block holds.
pub(crate) const BLOCK: usize = 512;
const _: () = assert!(BLOCK.is_multiple_of(LANES) && BLOCK == CURVE_BUILDS);
/// A block's values of one register. A little longer than a block: a call of a model reads some builds across many columns,
/// and if these were 4096 bytes apart they would all want the same few lines of the processor's cache.
pub(crate) type Column = [f64; STRIDE];
const STRIDE: usize = BLOCK + 8;

/// Which sources are drawn again, from builds of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Redrawn {
    None,
    All,
    Only(u32),
    AllBut(u32),
}

/// The steps that move from build to build, on columns of their own.
pub(crate) struct Plan<'a> {
    pub(super) program: &'a Program,
    sources: &'a [Source],
    state: &'a RunState,
    /// Steps in order, their registers replaced by columns.
    pub(super) steps: Vec<(Step, usize)>,
    /// Sources drawn: stream, source, column.
    pub(super) draws: Vec<(Stream, u32, usize)>,
    calls: Vec<Wiring>,
    /// Columns that hold one number throughout.
    pub(super) fixed: Vec<(usize, f64)>,
    /// The column of each number that does not move, by its bits.
    constants: HashMap<u64, usize>,
    pub(super) columns: usize,
    slots: Vec<usize>,
    pub(super) copula: &'a Copula,
}

/// What some columns reach.
pub(super) struct Following {
    /// Steps, by their place in the plan.
    pub(super) steps: Vec<usize>,
    /// All columns that change with them, themselves among them.
    pub(super) columns: Vec<usize>,
}

/// A block of builds to look at.
pub(crate) struct View<'v> {
    plan: &'v Plan<'v>,
    columns: &'v Columns,
    count: usize,
}

impl View<'_> {
    /// A register's values; none where it does not vary.
    pub(crate) fn values(&self, reg: Reg) -> &[f64] {
        self.plan.slot(reg).map_or(&[], |slot| &self.columns.values[slot][..self.count])
    }

    /// The values drawn of a source; none where it is not drawn.
    pub(crate) fn drawn(&self, source: u32) -> &[f64] {
        let slot = self.plan.draws.iter().find(|draw| draw.1 == source).map(|draw| draw.2);
        slot.map_or(&[], |slot| &self.columns.values[slot][..self.count])
    }
}

/// How a call of a model is wired to columns.
#[derive(Clone, Debug, Default)]
struct Wiring {
    /// Its arguments, as often as builds stand lanes; undefined where they move from build to build.
    arguments: Vec<[f64; LANES]>,
    /// The arguments that move, each with its column.
    inputs: Vec<(usize, usize)>,
    /// The fields that are read, each with its column.
    outputs: Vec<(u32, usize)>,
}

/// Steps that a run of a Rust block or of a system of differential equations counts for.
const STEPS_OF_A_RUN: u64 = 500;
const NONE: usize = usize::MAX;
/// Builds far beyond any that a worksheet may ask for are the ones drawn again.
const ANEW: u64 = 1 << 60;

/// Working columns of one thread.
pub(crate) struct Columns {
    pub(super) values: Vec<Column>,
    scores: Vec<Column>,
}

impl Columns {
    /// The builds of a column.
    pub(crate) fn column(&self, slot: usize, count: usize) -> &[f64] {
        &self.values[slot][..count]
    }
}

impl<'a> Plan<'a> {
    /// Of all that the targets need.
    pub(crate) fn new(tolerances: &'a Tolerances<'_>, targets: &[Reg], copula: &'a Copula, seed: u64) -> Self {
        Self::along(tolerances, &tolerances.needed(targets), copula, seed)
    }

    /// Of the steps of `order`, rising; all others hold their nominal values.
    pub(super) fn along(tolerances: &'a Tolerances<'_>, order: &[Reg], copula: &'a Copula, seed: u64) -> Self {
        let program = tolerances.program;
        let mut plan = Self {
            program,
            sources: &tolerances.sources,
            state: tolerances.state,
            steps: Vec::new(),
            draws: Vec::new(),
            calls: vec![Wiring::default(); program.calls.len()],
            fixed: Vec::new(),
            constants: HashMap::new(),
            columns: 0,
            slots: vec![NONE; program.steps.len()],
            copula,
        };
        for reg in order.iter().copied() {
            let step = program.steps[reg as usize];
            let mut moves = false;
            program.inputs(reg, |input| moves |= plan.slots[input as usize] != NONE);
            match step {
                Step::Source(source) => {
                    let (low, high) = tolerances.ends[source as usize];
                    moves = low < high;
                }
                // Chosen once, at the nominal values.
                _ if tolerances.is_held(reg) => moves = false,
                _ => {}
            }
            if tolerances.pinned == Some(reg) {
                // The caller of the plan sets it, and may set one value after the other.
                plan.slots[reg as usize] = plan.fix(tolerances.nominal[reg as usize]);
            } else if moves {
                plan.add(tolerances, reg, step, seed);
            }
        }
        plan
    }

    /// Steps that [`Plan::redraw`] takes for one build.
    pub(crate) fn steps_redrawn(&self, sources: &[u32]) -> u64 {
        let weight = |step: &Step| match step {
            Step::Call(call) if self.program.is_costly(*call) => STEPS_OF_A_RUN,
            _ => 1,
        };
        let all: u64 = self.steps.iter().map(|(step, _)| weight(step)).sum();
        let following = |source: &u32| -> u64 {
            self.following_source(*source).steps.iter().map(|at| weight(&self.steps[*at].0)).sum()
        };
        2 * (all + sources.iter().map(following).sum::<u64>())
    }

    /// Visits blocks of builds as they are (`None`), with all sources drawn again, and for each source in turn with it alone
    /// and with all others drawn again.
    pub(crate) fn redraw(&self, builds: Range<u64>, sources: &[u32], mut visit: impl FnMut(Redrawn, View<'_>)) {
        let (mut plain, mut anew, mut mixed) = (self.columns(), self.columns(), self.columns());
        let following: Vec<Following> = sources.iter().map(|source| self.following_source(*source)).collect();
        let mut first = builds.start;
        while first < builds.end {
            let count = (builds.end - first).min(BLOCK as u64) as usize;
            self.run(&mut plain, first, count);
            self.run(&mut anew, first + ANEW, count);
            visit(Redrawn::None, View { plan: self, columns: &plain, count });
            visit(Redrawn::All, View { plan: self, columns: &anew, count });
            for (most, one, redrawn) in
                [(&plain, &anew, Redrawn::Only as fn(u32) -> Redrawn), (&anew, &plain, Redrawn::AllBut)]
            {
                mixed.values.copy_from_slice(&most.values);
                for (source, following) in sources.iter().zip(&following) {
                    for (_, _, slot) in self.draws.iter().filter(|draw| draw.1 == *source) {
                        mixed.values[*slot] = one.values[*slot];
                    }
                    for i in &following.steps {
                        let (step, slot) = self.steps[*i];
                        self.step(step, slot, &mut mixed.values, count);
                    }
                    visit(redrawn(*source), View { plan: self, columns: &mixed, count });
                    for column in &following.columns {
                        mixed.values[*column] = most.values[*column];
                    }
                }
            }
            first += count as u64;
        }
    }

    /// Visits blocks of builds.
    pub(crate) fn visit(&self, builds: Range<u64>, mut visit: impl FnMut(View<'_>)) {
        let mut columns = self.columns();
        let mut first = builds.start;
        while first < builds.end {
            let count = (builds.end - first).min(BLOCK as u64) as usize;
            self.run(&mut columns, first, count);
            visit(View { plan: self, columns: &columns, count });
            first += count as u64;
        }
    }

    fn following_source(&self, source: u32) -> Following {
        self.following(self.draws.iter().filter(|draw| draw.1 == source).map(|draw| draw.2))
    }

    /// The steps that some columns reach.
    pub(super) fn following(&self, columns: impl Iterator<Item = usize>) -> Following {
        let mut reached = vec![false; self.columns];
        columns.for_each(|column| reached[column] = true);
        let mut steps = Vec::new();
        for (i, (step, slot)) in self.steps.iter().enumerate() {
            let mut moves = false;
            self.reads(*step, |column| moves |= reached[column]);
            if moves {
                self.writes(*step, *slot, |column| reached[column] = true);
                steps.push(i);
            }
        }
        Following { steps, columns: (0..self.columns).filter(|column| reached[*column]).collect() }
    }

    /// Calls `visit` with every column that a step reads.
    pub(super) fn reads(&self, step: Step, mut visit: impl FnMut(usize)) {
        if let Step::Call(call) = step {
            self.calls[call as usize].inputs.iter().for_each(|(_, input)| visit(*input));
        } else {
            step.reads(|input| visit(input as usize));
        }
    }

    /// The arguments of a call, those that move left undefined.
    pub(super) fn arguments(&self, call: u32) -> impl Iterator<Item = f64> {
        self.calls[call as usize].arguments.iter().map(|[argument, ..]| *argument)
    }

    /// The arguments of a call that move, each with its column.
    pub(super) fn moving_arguments(&self, call: u32) -> &[(usize, usize)] {
        &self.calls[call as usize].inputs
    }

    /// Calls `visit` with every column that a step writes.
    pub(super) fn writes(&self, step: Step, slot: usize, mut visit: impl FnMut(usize)) {
        visit(slot);
        self.outputs(step, |_, output| visit(output));
    }

    /// Calls `visit` with the fields that are read of a call, and the column of each.
    pub(super) fn outputs(&self, step: Step, mut visit: impl FnMut(u32, usize)) {
        if let Step::Call(call) = step {
            self.calls[call as usize].outputs.iter().for_each(|(field, output)| visit(*field, *output));
        }
    }

    /// Whether one of the steps runs a Rust block or a system of differential equations.
    pub(super) fn is_costly(&self) -> bool {
        let runs = |step: &Step| matches!(step, Step::Call(call) if self.program.is_costly(*call));
        self.steps.iter().any(|(step, _)| runs(step))
    }

    /// How many steps a build takes, and how many of them are calls of models.
    pub(crate) fn length(&self) -> (usize, usize) {
        (self.steps.len(), self.steps.iter().filter(|(step, _)| matches!(step, Step::Call(_))).count())
    }

    /// The column of a register, where it moves.
    pub(crate) fn slot(&self, reg: Reg) -> Option<usize> {
        Some(self.slots[reg as usize]).filter(|slot| *slot != NONE)
    }

    /// The column that all steps share which read this number.
    fn constant(&mut self, value: f64) -> usize {
        if let Some(column) = self.constants.get(&value.to_bits()) {
            return *column;
        }
        let column = self.fix(value);
        self.constants.insert(value.to_bits(), column);
        column
    }

    /// A column that holds one number throughout.
    fn fix(&mut self, value: f64) -> usize {
        let column = self.new_column();
        self.fixed.push((column, value));
        column
    }

    fn new_column(&mut self) -> usize {
        self.columns += 1;
        self.columns - 1
    }

    fn add(&mut self, tolerances: &Tolerances<'_>, reg: Reg, step: Step, seed: u64) {
        let column = |plan: &mut Self, input: Reg| -> u32 {
            if plan.slots[input as usize] != NONE {
                return plan.slots[input as usize] as u32;
            }
            plan.constant(tolerances.nominal[input as usize]) as u32
        };
        match step {
            Step::Source(source) => {
                let slot = self.new_column();
                let stream = Stream::new(seed, &self.sources[source as usize]);
                self.draws.push((stream, source, slot));
                self.slots[reg as usize] = slot;
                return;
            }
            Step::Output(call_reg, field) => {
                let slot = self.new_column();
                if let Step::Call(call) = self.program.steps[call_reg as usize] {
                    self.calls[call as usize].outputs.push((field, slot));
                }
                self.slots[reg as usize] = slot;
                return;
            }
            Step::Call(call) => {
                let inputs = &self.program.calls[call as usize].inputs;
                let columns = inputs.iter().map(|input| (*input, self.slots[*input as usize]));
                let fixed = |(input, column): (Reg, usize)| {
                    [if column == NONE { tolerances.nominal[input as usize] } else { f64::NAN }; LANES]
                };
                let wiring = &mut self.calls[call as usize];
                wiring.arguments = columns.clone().map(fixed).collect();
                let moving = columns.enumerate().filter(|(_, (_, column))| *column != NONE);
                wiring.inputs = moving.map(|(argument, (_, column))| (argument, column)).collect();
                // A call writes no column of its own; the mark says that it moves.
                let slot = self.new_column();
                self.slots[reg as usize] = slot;
                self.steps.push((step, slot));
                return;
            }
            _ => {}
        }
        let moved = step.map(|input| column(self, input));
        let slot = self.new_column();
        self.slots[reg as usize] = slot;
        self.steps.push((moved, slot));
    }

    /// Columns to work on.
    pub(crate) fn columns(&self) -> Columns {
        let mut columns =
            Columns { values: vec![[0.0; STRIDE]; self.columns], scores: vec![[0.0; STRIDE]; self.copula.width()] };
        for (column, value) in &self.fixed {
            columns.values[*column].fill(*value);
        }
        columns
    }

    /// Runs the builds `first` to `first + count`.
    pub(crate) fn run(&self, columns: &mut Columns, first: u64, count: usize) {
        self.draw(columns, first, count);
        for (step, slot) in &self.steps {
            self.step(*step, *slot, &mut columns.values, count);
        }
    }

    /// Draws the sources.
    fn draw(&self, columns: &mut Columns, first: u64, count: usize) {
        self.copula.fill(&mut columns.scores, first, count);
        (0..self.draws.len()).for_each(|draw| self.draw_one(draw, columns, first, count));
    }

    /// Draws one source, where the scores are in place.
    fn draw_one(&self, draw: usize, columns: &mut Columns, first: u64, count: usize) {
        let (stream, source, slot) = self.draws[draw];
        let column = &mut columns.values[slot][..count];
        let source_of = &self.sources[source as usize];
        if let Some(scores) = self.copula.column(source) {
            for (x, u) in column.iter_mut().zip(&columns.scores[scores]) {
                *x = self::draw(source_of, *u);
            }
        } else {
            fill(column, source_of, stream, first);
        }
    }

    /// Runs one step over the first `count` builds of columns of any length.
    pub(super) fn step<const N: usize>(&self, step: Step, slot: usize, values: &mut [[f64; N]], count: usize) {
        if let Step::Call(call) = step {
            return self.call(call, values, count);
        }
        let columns = Columnwise::new(values, slot, count);
        columns.into_iter().for_each(|columns| operate(self.program, step, columns));
    }

    /// Some builds at a time read and write many columns.
    fn call<const N: usize>(&self, call: u32, values: &mut [[f64; N]], count: usize) {
        let callee = &self.program.calls[call as usize].callee;
        let Wiring { arguments, inputs, outputs } = &self.calls[call as usize];
        let model = match callee {
            Callee::Model(model) => model,
            Callee::System(system) => {
                let mut arguments: Vec<f64> = self.arguments(call).collect();
                let mut results = vec![0.0; system.outputs()];
                let mut run = |build: usize, values: &mut [[f64; N]]| {
                    inputs.iter().for_each(|(argument, input)| arguments[*argument] = values[*input][build]);
                    system.counted(&arguments, &mut results, self.state.budget(call));
                    outputs.iter().for_each(|(field, column)| values[*column][build] = results[*field as usize]);
                };
                (0..count).for_each(|build| run(build, values));
                return;
            }
            Callee::Block(block) => {
                let mut rows = self.arguments(call).collect::<Vec<f64>>().repeat(count);
                for (argument, input) in inputs {
                    let slots = rows.iter_mut().skip(*argument).step_by(arguments.len());
                    slots.zip(&values[*input]).for_each(|(slot, value)| *slot = *value);
                }
                let found = block.many(&rows, count, self.state.budget(call));
                for (field, column) in outputs {
                    let results = found.iter().skip(*field as usize).step_by(block.outputs());
                    values[*column].iter_mut().zip(results).for_each(|(slot, result)| *slot = *result);
                }
                return;
            }
        };
        let mut results = vec![[0.0; LANES]; model.fields.len()];
        // The last few may be of no build; their results are as little looked at as they are.
        for (tile, first) in (0..count).step_by(LANES).enumerate() {
            let mut at: [&[f64; LANES]; WIDEST] = [&[0.0; LANES]; WIDEST];
            at.iter_mut().zip(arguments).for_each(|(slot, argument)| *slot = argument);
            for (argument, input) in inputs {
                at[*argument] = &values[*input].as_chunks().0[tile];
            }
            (model.lanes)(&at[..arguments.len()], &mut results);
            for (field, column) in outputs {
                values[*column][first..first + LANES].copy_from_slice(&results[*field as usize]);
            }
        }
    }
}
