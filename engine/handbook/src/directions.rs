//! Which way each field of a model goes when one of its inputs grows, all others held, within the ranges that the model is
//! good for. Models are functions of plain numbers that no interval goes through: where the directions of all inputs that
//! vary are declared here, a field's range over a box is what it comes to at two corners, and proven. The declarations
//! follow from the formulas; the test holds each against a dense scatter of inputs.

mod declared;
mod guarded;

use super::Model;
use declared::DECLARED;
use guarded::GUARDED;

/// Which way a field goes when an input grows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// It rises or stays.
    Rises,
    /// It falls or stays.
    Falls,
    /// It does not depend on it.
    Level,
    /// This way or that, or not declared.
    Unknown,
}

/// The directions of a field, and where they hold.
#[derive(Clone, Debug)]
pub struct Directions {
    /// Parameter by parameter.
    pub by: Vec<Direction>,
    /// Whether they hold for such inputs, in SI; linear in each input, so that it holds over a box if it does at all
    /// corners. Absent where they hold for all.
    pub where_: Option<Guard>,
}

/// The directions of a field, as they hold everywhere first; all unknown where nothing is declared.
pub fn directions(model: &Model, field: usize) -> Vec<Directions> {
    let name = model.fields.get(field).map_or("", |field| field.name);
    let signs = |fields: &Fields| fields.iter().find(|(field, _)| *field == name).map(|(_, signs)| *signs);
    let declared = DECLARED.iter().find(|(other, ..)| *other == model.name);
    let everywhere = declared.and_then(|(_, fields)| signs(fields)).unwrap_or_default();
    let mut found = vec![Directions { by: read(model, everywhere), where_: None }];
    for (_, where_, fields) in GUARDED.iter().filter(|(other, ..)| *other == model.name) {
        found.extend(signs(fields).map(|signs| Directions { by: read(model, signs), where_: Some(*where_) }));
    }
    found
}

fn read(model: &Model, signs: &str) -> Vec<Direction> {
    let mut signs = signs.chars();
    let direction = |sign: Option<char>| match sign {
        Some('+') => Direction::Rises,
        Some('-') => Direction::Falls,
        Some('0') => Direction::Level,
        _ => Direction::Unknown,
    };
    model.parameters.iter().map(|_| direction(signs.next())).collect()
}

type Fields = &'static [(&'static str, &'static str)];

/// Whether some inputs (SI) are of the kind that directions hold for.
type Guard = fn(&[f64]) -> bool;

#[cfg(test)]
mod tests {
    #![allow(clippy::disallowed_methods)]

    use super::*;
    use benchleaf_core::units::{Unit, parse};

    use crate::{Input, models};

    /// Scattered numbers, the same in every run (xorshift; G. Marsaglia, 2003).
    struct Scatter(u64);

    impl Scatter {
        fn share(&mut self) -> f64 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            (self.0 >> 11) as f64 / (1u64 << 53) as f64
        }

        /// A value of an input: evenly or by decades between the ends of its range, now and then an end.
        fn input(&mut self, input: &Input, valid: Option<(f64, f64)>) -> f64 {
            let symbol = match input {
                Input::Choice(words) => return (self.share() * words.len() as f64).floor(),
                Input::Quantity(symbol) => symbol,
            };
            let (low, high) = valid.unwrap();
            // A range without end is looked at over many decades.
            let high = if high.is_finite() { high } else { low.abs().max(1.0) * 1e6 };
            let share = self.share();
            let number = match (self.share() * 10.0) as u32 {
                0 => {
                    if share < 0.5 {
                        low
                    } else {
                        high
                    }
                }
                1..=5 if low > 0.0 => (low.ln() + (high / low).ln() * share).exp(),
                1..=5 if low == 0.0 => high * (-14.0 * share).exp(),
                _ => low + (high - low) * share,
            };
            parse(symbol).unwrap_or_else(Unit::one).to_si(number.clamp(low, high))
        }
    }

    /// How a field was seen to go with an input.
    #[derive(Clone, Copy, Default)]
    struct Seen {
        fell: bool,
        rose: bool,
        /// Without a value between two places with one.
        gap: bool,
    }

    /// Field by field and parameter by parameter.
    fn seen(model: &Model, where_: Option<Guard>, rounds: usize) -> Vec<Vec<Seen>> {
        let (n, m) = (model.parameters.len(), model.fields.len());
        let mut seen = vec![vec![Seen::default(); n]; m];
        let mut scatter = Scatter(0x2545_f491_4f6c_dd1d);
        let mut out = [vec![0.0; m], vec![0.0; m], vec![0.0; m]];
        for _ in 0..rounds {
            let mut base: Vec<f64> = model.parameters.iter().map(|p| scatter.input(&p.input, p.valid)).collect();
            for (j, parameter) in model.parameters.iter().enumerate() {
                let Input::Quantity(_) = parameter.input else { continue };
                let mut next = || scatter.input(&parameter.input, parameter.valid);
                let mut places = [base[j], next(), next()];
                // Near one another as often as far apart.
                if places[2] > places[1] {
                    places[1] = places[0] + (places[1] - places[0]) * 1e-3;
                    places[2] = 0.5 * (places[0] + places[1]);
                }
                places.sort_by(f64::total_cmp);
                let kept = base[j];
                let holds = |place: &f64| {
                    let mut there = base.clone();
                    there[j] = *place;
                    where_.is_none_or(|holds| holds(&there))
                };
                if !places.iter().all(holds) {
                    continue;
                }
                for (place, out) in places.iter().zip(&mut out) {
                    base[j] = *place;
                    (model.evaluate)(&base, out);
                }
                base[j] = kept;
                for (f, seen) in seen.iter_mut().enumerate() {
                    let y = [out[0][f], out[1][f], out[2][f]];
                    let size = y.iter().filter(|y| y.is_finite()).fold(0.0, |size: f64, y| size.max(y.abs()));
                    for (a, b) in [(y[0], y[1]), (y[1], y[2]), (y[0], y[2])] {
                        seen[j].fell |= b < a - ROUNDING * size;
                        seen[j].rose |= b > a + ROUNDING * size;
                    }
                    seen[j].gap |= y[1].is_nan() && !y[0].is_nan() && !y[2].is_nan();
                }
            }
        }
        seen
    }

    /// What a model's own rounding may do to a value.
    const ROUNDING: f64 = 1e-11;

    #[test]
    fn what_is_declared_holds_wherever_it_is_tried() {
        let rounds = std::env::var("BENCHLEAF_ROUNDS").map_or(3000, |rounds| rounds.parse().unwrap());
        let (mut declared, mut moving) = (0, 0);
        for model in models() {
            let guards = GUARDED.iter().filter(|(name, ..)| *name == model.name).map(|(_, where_, _)| Some(*where_));
            let ways: Vec<Option<Guard>> = std::iter::once(None).chain(guards).collect();
            let seen: Vec<Vec<Vec<Seen>>> = ways.iter().map(|where_| seen(model, *where_, rounds)).collect();
            let fields = model.fields.iter().enumerate();
            for (f, field, directions) in
                fields.flat_map(|(f, field)| directions(model, f).into_iter().map(move |d| (f, field, d)))
            {
                let same = |where_: &Option<Guard>| match (where_, directions.where_) {
                    (None, None) => true,
                    (Some(a), Some(b)) => std::ptr::fn_addr_eq(*a, b),
                    _ => false,
                };
                let seen = &seen[ways.iter().position(same).unwrap()];
                for ((direction, seen), parameter) in directions.by.iter().zip(&seen[f]).zip(model.parameters) {
                    let what = format!("{}.{} with {}", model.name, field.name, parameter.name);
                    declared += usize::from(*direction != Direction::Unknown);
                    moving += usize::from(seen.rose || seen.fell);
                    match direction {
                        Direction::Rises => assert!(!seen.fell && !seen.gap, "{what} falls somewhere"),
                        Direction::Falls => assert!(!seen.rose && !seen.gap, "{what} rises somewhere"),
                        Direction::Level => assert!(!seen.rose && !seen.fell && !seen.gap, "{what} moves somewhere"),
                        Direction::Unknown => {}
                    }
                }
            }
        }
        assert!(declared > 400 && moving > 300, "{declared} declared, {moving} move");
    }

    #[test]
    fn declarations_name_models_and_fields_that_are() {
        let guarded = GUARDED.iter().map(|(name, _, fields)| (name, fields));
        for (name, fields) in DECLARED.iter().map(|(name, fields)| (name, fields)).chain(guarded) {
            let model = models().iter().find(|model| model.name == *name).unwrap();
            for (field, signs) in *fields {
                assert!(model.fields.iter().any(|known| known.name == *field), "{name}.{field}");
                assert_eq!(signs.len(), model.parameters.len(), "{name}.{field}");
            }
        }
    }
}
