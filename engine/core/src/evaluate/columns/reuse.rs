//! The same builds in fewer columns. A column that no later step reads is used again, and a source is drawn where it is
//! first read, so that memory follows what is alive at once and not how long a program is.

use super::{Columns, NONE, Plan};
use crate::program::{Reg, Step};

/// A plan whose columns are used again.
pub(crate) struct Reused<'a> {
    plan: Plan<'a>,
    acts: Vec<Act>,
}

/// When the watched registers are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Watch {
    /// Each as soon as it is made; its column may then be used again.
    AsMade,
    /// All of them stand in columns of their own after a block.
    AtEnd,
}

/// What is done on a block, one after the other.
#[derive(Clone, Copy, Debug)]
enum Act {
    /// Draws a source, by its place in the plan.
    Draw(usize),
    /// Fills a column with one number.
    Fill(usize, f64),
    /// Runs a step, by its place in the plan.
    Step(usize),
    /// Shows a watched register, by its place among them, in a column.
    Show(usize, usize),
}

impl<'a> Plan<'a> {
    /// The plan in as few columns as the watched registers allow.
    pub(crate) fn reusing(mut self, watched: &[Reg], watch: Watch) -> Reused<'a> {
        let mut layout = Layout::new(&self, watched, watch);
        let (mut read, mut written) = (Vec::new(), Vec::new());
        for (i, (step, slot)) in self.steps.iter().enumerate() {
            read.clear();
            written.clear();
            self.reads(*step, |column| read.push(column));
            self.outputs(*step, |_, column| written.push(column));
            if !matches!(step, Step::Call(_)) {
                written.push(*slot);
            }
            read.iter().for_each(|column| layout.make(*column));
            written.iter().for_each(|column| layout.place(*column));
            layout.acts.push(Act::Step(i));
            written.iter().for_each(|column| layout.show(*column));
            read.iter().chain(&written).for_each(|column| layout.release(*column, i));
        }
        // A source that is watched and that no step reads.
        let unread = (0..self.columns).filter(|column| !layout.watchers[*column].is_empty());
        unread.collect::<Vec<_>>().into_iter().for_each(|column| layout.make(column));
        let Layout { places, acts, columns, .. } = layout;
        self.move_to(&places, columns);
        Reused { plan: self, acts }
    }

    /// Puts every column in its place.
    fn move_to(&mut self, places: &[usize], columns: usize) {
        // A column without a place is never read nor written.
        let place = |column: usize| if places[column] == NONE { 0 } else { places[column] };
        for (step, slot) in &mut self.steps {
            *step = step.map(|column| place(column as usize) as u32);
            *slot = place(*slot);
        }
        self.draws.iter_mut().for_each(|draw| draw.2 = place(draw.2));
        for wiring in &mut self.calls {
            wiring.inputs.iter_mut().for_each(|input| input.1 = place(input.1));
            wiring.outputs.iter_mut().for_each(|output| output.1 = place(output.1));
        }
        let moves = |slot: &&mut usize| **slot != NONE;
        self.slots.iter_mut().filter(moves).for_each(|slot| *slot = place(*slot));
        self.fixed.clear();
        self.constants.clear();
        self.columns = columns;
    }
}

impl Reused<'_> {
    /// The column of a watched register after a block, where it moves.
    pub(crate) fn slot(&self, reg: Reg) -> Option<usize> {
        self.plan.slot(reg)
    }

    /// How many steps a build takes, and how many of them are calls of models.
    pub(crate) fn length(&self) -> (usize, usize) {
        self.plan.length()
    }

    /// Columns to work on.
    pub(crate) fn columns(&self) -> Columns {
        self.plan.columns()
    }

    /// Runs the builds `first` to `first + count`; `show` gets each watched register, by its place among them, with its
    /// values, where these are shown as they are made.
    pub(crate) fn run(&self, columns: &mut Columns, first: u64, count: usize, mut show: impl FnMut(usize, &[f64])) {
        self.plan.copula.fill(&mut columns.scores, first, count);
        for act in &self.acts {
            match *act {
                Act::Draw(draw) => self.plan.draw_one(draw, columns, first, count),
                Act::Fill(column, value) => columns.values[column][..count].fill(value),
                Act::Step(i) => {
                    let (step, column) = self.plan.steps[i];
                    self.plan.step(step, column, &mut columns.values, count);
                }
                Act::Show(watched, column) => show(watched, &columns.values[column][..count]),
            }
        }
    }
}

/// Which column goes where, as the steps are gone through.
struct Layout {
    /// By column of the plan.
    places: Vec<usize>,
    /// The last step that reads a column.
    last_read: Vec<usize>,
    /// How a column comes about that no step writes, with its place left open.
    origins: Vec<Option<Act>>,
    watchers: Vec<Vec<usize>>,
    watch: Watch,
    acts: Vec<Act>,
    /// Places to be used again, and the columns that gave them back.
    free: Vec<usize>,
    is_free: Vec<bool>,
    columns: usize,
}

impl Layout {
    fn new(plan: &Plan<'_>, watched: &[Reg], watch: Watch) -> Self {
        let mut layout = Self {
            places: vec![NONE; plan.columns],
            last_read: vec![NONE; plan.columns],
            origins: vec![None; plan.columns],
            watchers: vec![Vec::new(); plan.columns],
            watch,
            acts: Vec::new(),
            free: Vec::new(),
            is_free: vec![false; plan.columns],
            columns: 0,
        };
        for (i, (step, _)) in plan.steps.iter().enumerate() {
            plan.reads(*step, |column| layout.last_read[column] = i);
        }
        for (i, (_, _, column)) in plan.draws.iter().enumerate() {
            layout.origins[*column] = Some(Act::Draw(i));
        }
        for (column, value) in &plan.fixed {
            layout.origins[*column] = Some(Act::Fill(*column, *value));
        }
        for (i, reg) in watched.iter().enumerate() {
            if let Some(column) = plan.slot(*reg) {
                layout.watchers[column].push(i);
            }
        }
        layout
    }

    /// Makes what no step writes, when it is first wanted.
    fn make(&mut self, column: usize) {
        let Some(origin) = self.origins[column].take() else { return };
        self.place(column);
        self.acts.push(match origin {
            Act::Fill(_, value) => Act::Fill(self.places[column], value),
            other => other,
        });
        self.show(column);
    }

    fn place(&mut self, column: usize) {
        self.places[column] = self.free.pop().unwrap_or(self.columns);
        self.columns = self.columns.max(self.places[column] + 1);
    }

    fn show(&mut self, column: usize) {
        if self.watch == Watch::AsMade {
            let place = self.places[column];
            self.acts.extend(self.watchers[column].iter().map(|watched| Act::Show(*watched, place)));
        }
    }

    /// Gives a column back after a step, if no later one reads it.
    fn release(&mut self, column: usize, step: usize) {
        let stays = self.watch == Watch::AtEnd && !self.watchers[column].is_empty();
        let read_later = self.last_read[column] != NONE && self.last_read[column] > step;
        if !stays && !read_later && self.places[column] != NONE && !std::mem::replace(&mut self.is_free[column], true) {
            self.free.push(self.places[column]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        evaluate::{design, draws::Copula, tolerances::Tolerances},
        host::Fidelity,
        lang::ast::Distribution,
        program::{Program, RunState, Scenario, Source},
    };

    const SOURCES: usize = 6;

    /// Random steps over some sources and constants; `reach` is how far back a step may read.
    fn program(steps: usize, reach: usize, mut random: impl FnMut(usize) -> usize) -> Program {
        let mut program = Program::default();
        for i in 0..SOURCES {
            let (name, distribution) = (format!("g_{i}"), Distribution::Rectangular);
            let (nominal, low, high) = (1.0, 0.9, 1.1);
            let degrees = f64::INFINITY;
            program.sources.push(Source { key: None, name, nominal, low, high, distribution, degrees });
            program.steps.push(Step::Source(i as u32));
        }
        for i in SOURCES..SOURCES + steps {
            let mut earlier = || (i - 1 - random(reach.min(i))) as Reg;
            let (a, b) = (earlier(), earlier());
            let step = match i % 5 {
                0 => Step::Constant(0.5 + i as f64),
                1 => Step::Minimum(a, b),
                2 => Step::Add(a, b),
                3 => Step::Subtract(a, b),
                _ => Step::Multiply(a, b),
            };
            program.steps.push(step);
        }
        program
    }

    /// The same bits as in columns of their own, and fewer columns where steps read what is near.
    #[test]
    fn columns_are_used_again_and_nothing_is_lost() {
        let mut state = 1u64;
        let mut random = |below: usize| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as usize % below
        };
        const BUILDS: usize = 700;
        for reach in [3, 40, 400] {
            let program = program(400, reach, &mut random);
            let (scenario, run) = (Scenario::authored(&program), RunState::new(&program, Fidelity::default()));
            let nominal = design::run(&scenario, &run);
            let (tolerances, copula) = (Tolerances::new(&scenario, &run, nominal), Copula::default());
            let watched: Vec<Reg> = (0..program.steps.len() as Reg).filter(|_| random(3) == 0).collect();
            let plain = Plan::new(&tolerances, &watched, &copula, 1);
            let mut wanted: Vec<Vec<u64>> = vec![Vec::new(); watched.len()];
            plain.visit(0..BUILDS as u64, |view| {
                for (reg, wanted) in watched.iter().zip(&mut wanted) {
                    wanted.extend(view.values(*reg).iter().map(|x| x.to_bits()));
                }
            });
            let blocks = (0..BUILDS).step_by(super::super::BLOCK);
            let blocks = blocks.map(|first| (first as u64, (BUILDS - first).min(super::super::BLOCK)));
            for watch in [Watch::AsMade, Watch::AtEnd] {
                let reused = Plan::new(&tolerances, &watched, &copula, 1).reusing(&watched, watch);
                assert!(reused.plan.columns < plain.columns, "{reach}: {} columns", reused.plan.columns);
                assert!(reach > 3 || watch == Watch::AtEnd || reused.plan.columns < 20, "{}", reused.plan.columns);
                let mut found: Vec<Vec<u64>> = vec![Vec::new(); watched.len()];
                let mut columns = reused.columns();
                for (first, count) in blocks.clone() {
                    reused.run(&mut columns, first, count, |i, values| {
                        found[i].extend(values.iter().map(|x| x.to_bits()));
                    });
                    if watch == Watch::AtEnd {
                        for (reg, found) in watched.iter().zip(&mut found) {
                            let slot = reused.slot(*reg);
                            let values = slot.map_or(&[][..], |slot| columns.column(slot, count));
                            found.extend(values.iter().map(|x| x.to_bits()));
                        }
                    }
                }
                assert_eq!(found, wanted, "{reach} {watch:?}");
            }
        }
    }
}
