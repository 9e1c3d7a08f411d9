//! The value of one given, nearest to its nominal one, at which a register comes to a number: outwards step by step in
//! units of the given's own standard uncertainty until the sign changes, then by false position (the Illinois way, G. Dahlquist
//! and Å. Björck, "Numerical Methods", 6.4).

use crate::{
    evaluate::{draws::moments, tolerances::Tolerances},
    program::Reg,
};

/// A register as a function of one source, all other sources at their nominal values.
pub(super) struct Moved<'a> {
    tolerances: &'a Tolerances<'a>,
    order: Vec<Reg>,
    reg: Reg,
    source: u32,
}

impl<'a> Moved<'a> {
    pub(super) fn new(tolerances: &'a Tolerances<'a>, reg: Reg, source: u32) -> Self {
        Self { tolerances, order: tolerances.varying_steps(&[reg]), reg, source }
    }

    pub(super) fn at(&self, x: f64) -> f64 {
        self.tolerances.probe_along(&[(self.source, x)], &self.order, &[self.reg]).first().copied().unwrap_or(f64::NAN)
    }

    /// Where the register comes to `wanted`; nothing where it does so nowhere within reach.
    pub(super) fn reaching(&self, wanted: f64) -> Option<f64> {
        let source = &self.tolerances.sources[self.source as usize];
        let nominal = self.tolerances.centre[self.source as usize];
        let std = moments(source).1;
        let step = [std, STEP * nominal.abs(), STEP].into_iter().find(|step| *step > 0.0 && step.is_finite())?;
        let start = Point { x: nominal, y: self.at(nominal) - wanted };
        if start.y == 0.0 {
            return Some(nominal);
        }
        // No part changes its sign, unless its tolerance does.
        let keeps_sign = nominal != 0.0 && source.low * source.high > 0.0;
        let mut sides = [Some(start), Some(start)];
        for distance in distances() {
            let mut found: Option<f64> = None;
            for (side, direction) in sides.iter_mut().zip([1.0, -1.0]) {
                let Some(last) = *side else { continue };
                let mut x = nominal + direction * distance * step;
                let ends = keeps_sign && x * nominal <= nominal * nominal * NEAR_ZERO;
                if ends {
                    x = nominal * NEAR_ZERO;
                }
                let next = Point { x, y: self.at(x) - wanted };
                if last.y * next.y <= 0.0
                    && let Some(root) = self.between(last, next, wanted)
                    && found.is_none_or(|other| (root - nominal).abs() < (other - nominal).abs())
                {
                    found = Some(root);
                }
                *side = (!ends && !next.y.is_nan()).then_some(next);
            }
            if found.is_some() {
                return found;
            }
        }
        None
    }

    /// The root between two points of unlike sign; none where the sign changes in a jump or at a pole.
    fn between(&self, mut a: Point, mut b: Point, wanted: f64) -> Option<f64> {
        let around = a.y.abs().min(b.y.abs());
        let mut same_side = 0;
        for turn in 0..MOST_TURNS {
            if b.y == 0.0 {
                return Some(b.x);
            }
            if (b.x - a.x).abs() <= 4.0 * f64::EPSILON * b.x.abs() {
                break;
            }
            // Halving now and then keeps it quick where the curve bends much.
            let mut x = b.x - b.y * (b.x - a.x) / (b.y - a.y);
            if turn % 4 == 3 || !x.is_finite() || (x - a.x) * (x - b.x) >= 0.0 {
                x = a.x + 0.5 * (b.x - a.x);
            }
            let next = Point { x, y: self.at(x) - wanted };
            if next.y.is_nan() || x == a.x || x == b.x {
                break;
            }
            if next.y * b.y < 0.0 {
                a = b;
                same_side = 0;
            } else {
                same_side += 1;
                if same_side > 1 && turn % 4 != 3 {
                    a.y *= 0.5;
                }
            }
            b = next;
        }
        let left = (self.at(b.x) - wanted).abs();
        (left <= CLOSE * wanted.abs().max(around)).then_some(b.x)
    }
}

/// A value of the given, and how far the register is above what is wanted.
#[derive(Clone, Copy)]
struct Point {
    x: f64,
    y: f64,
}

/// How far from the nominal value is looked, in standard uncertainties: finely near by, and ever further out.
fn distances() -> impl Iterator<Item = f64> {
    let near = (1..=8).map(|i| f64::from(i) * 0.5);
    let far = (1..=18).scan(4.0, |distance, _| {
        *distance *= 1.5;
        Some(*distance)
    });
    near.chain(far)
}

/// The first step for a given without tolerance, as a part of its value.
const STEP: f64 = 0.02;
/// As near to zero as a value is brought that keeps its sign, as a part of its nominal value.
const NEAR_ZERO: f64 = 1e-6;
const MOST_TURNS: usize = 120;
/// What counts as reached.
const CLOSE: f64 = 1e-9;
