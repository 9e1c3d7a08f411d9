//! Whether two formulas are the same function of the givens, however they are written.

use super::Checker;
use crate::program::{Reg, Step, parallel, whole_power};

/// Points at which two formulas are compared.
const POINTS: u32 = 12;
/// How far apart rounding leaves them, as a part of the greater.
const ROUNDING: f64 = 1e-10;
/// Most steps that are compared.
const MOST: usize = 50_000;

/// The givens whose values are moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Moving {
    Varying,
    All,
}

impl Checker<'_> {
    /// Whether two registers are one rational function of the givens that vary. Two such functions that are equal at points
    /// chosen at random are equal everywhere, but for a chance of nought (the lemma of Schwartz and Zippel). Where another
    /// operation is involved the answer is no.
    pub(super) fn is_same(&self, one: Reg, other: Reg) -> bool {
        if one == other {
            return true;
        }
        let Some(needed) = self.rational(&[one, other]) else { return false };
        self.is_same_moving(&needed, (one, other), Moving::Varying)
    }

    /// Two registers are the same. Notes the givens without a tolerance whose values this relies on.
    pub(super) fn rely_on(&mut self, one: Reg, other: Reg) {
        let needed = if one == other { None } else { self.rational(&[one, other]) };
        let Some(needed) = needed.filter(|needed| !self.is_same_moving(needed, (one, other), Moving::All)) else {
            return;
        };
        let program = &self.checked.program;
        let fixed = needed.into_iter().filter_map(|reg| match program.steps[reg as usize] {
            Step::Source(source) if !program.sources[source as usize].varies() => Some(source),
            _ => None,
        });
        self.checked.relied_on.extend(fixed);
    }

    fn is_same_moving(&self, needed: &[Reg], regs: (Reg, Reg), moving: Moving) -> bool {
        (1..=POINTS).all(|point| {
            let (a, b) = self.at_point(needed, point, regs, moving);
            a.is_finite() && (a - b).abs() <= ROUNDING * a.abs().max(b.abs())
        })
    }

    /// The steps that some registers need, in order; `None` where one is no rational operation.
    fn rational(&self, regs: &[Reg]) -> Option<Vec<Reg>> {
        let program = &self.checked.program;
        let last = regs.iter().copied().max()? as usize;
        let mut wanted = vec![false; last + 1];
        regs.iter().for_each(|reg| wanted[*reg as usize] = true);
        let mut needed = Vec::new();
        for at in (0..=last).rev().filter(|at| *at <= last) {
            if !wanted[at] {
                continue;
            }
            let rational = matches!(
                program.steps[at],
                Step::Constant(_)
                    | Step::Source(_)
                    | Step::Negate(_)
                    | Step::Add(..)
                    | Step::Subtract(..)
                    | Step::Multiply(..)
                    | Step::Divide(..)
                    | Step::Parallel(..)
                    | Step::WholePower(..)
            );
            if !rational || needed.len() >= MOST {
                return None;
            }
            program.inputs(at as Reg, |input| wanted[input as usize] = true);
            needed.push(at as Reg);
        }
        needed.reverse();
        Some(needed)
    }

    /// Two registers where each given that moves is between half and one and a half times its nominal value.
    fn at_point(&self, needed: &[Reg], point: u32, regs: (Reg, Reg), moving: Moving) -> (f64, f64) {
        let program = &self.checked.program;
        let last = needed.last().map_or(0, |reg| *reg as usize + 1);
        let mut values = vec![0.0; last];
        for reg in needed {
            let value = |reg: Reg| values[reg as usize];
            values[*reg as usize] = match program.steps[*reg as usize] {
                Step::Constant(number) => number,
                Step::Source(source) => {
                    let given = &program.sources[source as usize];
                    let share = share(u64::from(source) << 32 | u64::from(point));
                    match (given.varies() || moving == Moving::All, given.nominal == 0.0) {
                        (false, _) => given.nominal,
                        (true, true) => share - 0.5,
                        (true, false) => given.nominal * (0.5 + share),
                    }
                }
                Step::Negate(a) => -value(a),
                Step::Add(a, b) => value(a) + value(b),
                Step::Subtract(a, b) => value(a) - value(b),
                Step::Multiply(a, b) => value(a) * value(b),
                Step::Divide(a, b) => value(a) / value(b),
                Step::Parallel(a, b) => parallel(value(a), value(b)),
                Step::WholePower(a, n) => whole_power(value(a), n),
                _ => f64::NAN,
            };
        }
        (values[regs.0 as usize], values[regs.1 as usize])
    }
}

/// A number from 0 to 1 that looks random, by its own number.
fn share(number: u64) -> f64 {
    let mut bits = number.wrapping_add(0x9E37_79B9_7F4A_7C15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((bits ^ (bits >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}
