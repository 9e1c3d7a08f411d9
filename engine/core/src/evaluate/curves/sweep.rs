//! The same simulated builds at one value after the other of a register: what does not depend on it is worked out once,
//! and what depends on nothing else once for each value.

use super::super::{
    columns::{BLOCK, Columns, Following, Plan},
    draws::Copula,
    tolerances::Tolerances,
};
use crate::program::Reg;

/// One block of builds of a subject, along a register that is held.
pub(super) struct Sweep<'a> {
    plan: Plan<'a>,
    columns: Columns,
    /// Column of the held register, where the subject depends on it.
    held: Option<usize>,
    subject: usize,
    following: Following,
    /// Columns that hold one number in all builds.
    level: Vec<bool>,
}

impl<'a> Sweep<'a> {
    /// Draws the builds; `None` where the subject does not vary from build to build. The register held is the one that
    /// `tolerances` hold.
    pub(super) fn new(tolerances: &'a Tolerances<'_>, subject: Reg, copula: &'a Copula, seed: u64) -> Option<Self> {
        let plan = Plan::new(tolerances, &[subject], copula, seed);
        let subject = plan.slot(subject)?;
        let held = tolerances.pinned.and_then(|reg| plan.slot(reg));
        let following = plan.following(held.into_iter());
        let level = level(&plan);
        if level[subject] {
            return None;
        }
        let mut columns = plan.columns();
        plan.run(&mut columns, 0, BLOCK);
        Some(Self { plan, columns, held, subject, following, level })
    }

    /// The subject's values with the register held at `value`.
    pub(super) fn at(&mut self, value: f64) -> &[f64] {
        if let Some(held) = self.held {
            self.columns.values[held].fill(value);
        }
        for i in &self.following.steps {
            let (step, slot) = self.plan.steps[*i];
            if self.level[slot] {
                self.plan.step(step, slot, &mut self.columns.values, 1);
                let values = &mut self.columns.values;
                self.plan.writes(step, slot, |column| {
                    let value = values[column][0];
                    values[column].fill(value);
                });
            } else {
                self.plan.step(step, slot, &mut self.columns.values, BLOCK);
            }
        }
        &self.columns.values[self.subject][..BLOCK]
    }
}

/// Which columns hold one number in all builds.
fn level(plan: &Plan<'_>) -> Vec<bool> {
    let mut level = vec![false; plan.columns];
    for (column, _) in &plan.fixed {
        level[*column] = true;
    }
    for (step, slot) in &plan.steps {
        let mut all = true;
        plan.reads(*step, |column| all &= level[column]);
        plan.writes(*step, *slot, |column| level[column] = all);
    }
    level
}
