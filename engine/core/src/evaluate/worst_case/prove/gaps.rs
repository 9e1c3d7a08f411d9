//! Whether a value really lacks a value or a bound somewhere in its box: steps that ranges alone leave in doubt are
//! followed into ever smaller parts, each condition taken as it must be there.

use super::{Part, Passes, is_tiny, middle};
use crate::program::{Domain, Interval, Reg};

/// A place in the box where the target has no value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::evaluate) struct Gap {
    /// The step that has none.
    pub(in crate::evaluate) step: Reg,
    pub(in crate::evaluate) kind: Lack,
}

/// How it lacks one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::evaluate) enum Lack {
    /// It grows without end nearby.
    Endless,
    /// It has none over a part of the box.
    Nothing,
    /// Zero is divided by zero, and nothing grows nearby.
    ZeroByZero,
}

/// Poles that are followed.
const MOST_POLES: usize = 4;
/// Parts looked at in search of each gap.
const MOST_PARTS: usize = 600;
/// What counts as zero beside the size of a divisor elsewhere.
const NEXT_TO_NOTHING: f64 = 1e-6;
/// How much greater than elsewhere a quotient of zeros must be to count as one that grows without end.
const STEEP: f64 = 1e3;

/// The gap that says the most: one near which the target grows without end before one where it only has no value.
pub(in crate::evaluate) fn gap(passes: &mut Passes<'_>, whole: &Part) -> Option<Gap> {
    passes.over(&mut whole.clone())?;
    let gaps: Vec<(usize, Domain)> = passes.gaps().collect();
    let mut found: Option<Gap> = None;
    let poles = gaps.iter().filter(|gap| gap.1 == Domain::Pole).map(|gap| gap.0);
    // One by one: around a quotient of zeros the parts would hide another step's pole.
    for pole in poles.take(MOST_POLES) {
        match followed(passes, whole, Some(pole)) {
            Some(gap) if gap.kind == Lack::Endless => return Some(gap),
            other => found = found.or(other),
        }
    }
    if gaps.iter().any(|gap| gap.1 != Domain::Pole) {
        found = followed(passes, whole, None).or(found);
    }
    found
}

/// Follows the pole of one step, or all steps that lack a value over a part of the box.
fn followed(passes: &mut Passes<'_>, whole: &Part, pole: Option<usize>) -> Option<Gap> {
    let elsewhere = scattered(whole);
    let mut open = vec![whole.clone()];
    let mut zero_by_zero = None;
    for _ in 0..MOST_PARTS {
        let Some(mut part) = open.pop() else { break };
        let Some(pass) = passes.over(&mut part) else { continue };
        let fits = |(step, domain): &(usize, Domain)| match pole {
            Some(pole) => *step == pole,
            None => *domain != Domain::Pole,
        };
        let gaps: Vec<usize> = passes.gaps().filter(fits).map(|(step, _)| step).collect();
        let Some(first) = gaps.first().copied() else { continue };
        if pole.is_some() {
            if pass.open.is_none() && is_tiny(&part, &whole.ends) {
                match lack(passes, first, &scattered(&part), &elsewhere) {
                    Some(Lack::ZeroByZero) => {
                        zero_by_zero = Some(Gap { step: passes.reg(first), kind: Lack::ZeroByZero });
                    }
                    Some(kind) => return Some(Gap { step: passes.reg(first), kind }),
                    None => {}
                }
                continue;
            }
        } else {
            let values = passes.at(&scattered(&part));
            let lane = values.iter().position(|value| value.is_nan());
            let step = lane.and_then(|lane| gaps.iter().copied().find(|step| passes.found(*step, lane).is_nan()));
            if let Some(step) = step {
                return Some(Gap { step: passes.reg(step), kind: Lack::Nothing });
            }
        }
        open.extend(halves(&part, whole, pass.open));
    }
    zero_by_zero
}

/// What a step lacks in a tiny part.
fn lack(passes: &mut Passes<'_>, step: usize, points: &[Vec<f64>], elsewhere: &[Vec<f64>]) -> Option<Lack> {
    let zero_too = passes.quotient(step).is_some_and(|(a, _)| a.has_zero());
    let greatest = |found: f64, other: f64| if other.is_finite() { found.max(other.abs()) } else { found };
    passes.at(elsewhere);
    let lanes = 0..elsewhere.len();
    let size = lanes.clone().map(|lane| passes.suspect_found(step, lane)).fold(0.0, greatest);
    let usual = lanes.map(|lane| passes.found(step, lane)).fold(0.0, greatest);
    passes.at(points);
    let lanes = 0..points.len();
    let nearest = lanes.clone().map(|lane| passes.suspect_found(step, lane).abs()).fold(f64::INFINITY, f64::min);
    let here = lanes.clone().map(|lane| passes.found(step, lane)).fold(0.0, greatest);
    let nowhere = lanes.clone().any(|lane| !passes.found(step, lane).is_finite());
    let steep = here > STEEP * usual;
    if zero_too && nearest <= NEXT_TO_NOTHING * size {
        return Some(if steep { Lack::Endless } else { Lack::ZeroByZero });
    }
    (nearest <= NEXT_TO_NOTHING * size || nowhere || steep).then_some(Lack::Endless)
}

fn halves(part: &Part, whole: &Part, comparison: Option<usize>) -> Vec<Part> {
    if let Some(k) = comparison {
        return [true, false].map(|truth| part.taking(k, truth)).to_vec();
    }
    let share = |i: &usize| part.ends[*i].width() / whole.ends[*i].width();
    let Some(i) = (0..part.ends.len()).max_by(|i, j| share(i).total_cmp(&share(j))) else { return Vec::new() };
    let Interval { low, high } = part.ends[i];
    let middle = middle(part.ends[i]);
    if middle <= low || middle >= high {
        return Vec::new();
    }
    [(low, middle), (middle, high)].map(|(low, high)| part.within(i, Interval::new(low, high))).to_vec()
}

/// The middle of a part, its two opposite corners, and two between.
fn scattered(part: &Part) -> Vec<Vec<f64>> {
    let at = |share: f64| part.ends.iter().map(|ends| ends.low + ends.width() * share).collect();
    [0.5, 0.0, 1.0, 0.27, 0.73].map(at).to_vec()
}
