//! The search for what a proof leaves open: cusps, ridges askew of the sources, waves narrower than the even scatter, and
//! what stands beside a jump. Many points are tried, simulated builds among them, and the best of them that lie apart are
//! refined by steps in all directions, down to the last bits. (Random search with a step that adapts: F. J. Solis, R. J.-B.
//! Wets, "Minimization by random search techniques", Mathematics of Operations Research 6, 1981.)

use super::{COORDINATES, ExtremeSearch, PRIMES, halton};
use crate::{evaluate::draws::numbered, handbook::LANES};

/// How much is tried.
struct Extent {
    /// Points of the scatter.
    points: usize,
    /// Starts that are refined.
    starts: usize,
    /// Rounds of one refinement, each of up to [`LANES`] points.
    rounds: u64,
}

const FORMULA: Extent = Extent { points: 512, starts: 4, rounds: 160 };
/// Handbook models cost far more than formulas, and are smooth but for few places.
const MODEL: Extent = Extent { points: 0, starts: 1, rounds: 40 };
/// How far apart the starts lie, as a part of each source's span.
const APART: f64 = 1e-3;
const FIRST_STEP: f64 = 1.0 / 64.0;
const LAST_STEP: f64 = 1e-17;
/// What a step is multiplied by after a round that found something better, and after one that did not.
const LONGER: f64 = 2.0;
const SHORTER: f64 = 0.25;

impl ExtremeSearch<'_> {
    /// The least or greatest finite value found from the corners, a dense scatter and some settings of all sources, and the
    /// sources that give it; `None` where there is nothing to search, or where a step takes long.
    pub(in super::super) fn deep(mut self, seeds: &[Vec<f64>], least: bool) -> Option<(f64, Vec<f64>)> {
        if self.plan.is_costly() || self.free.is_empty() {
            return None;
        }
        self.turn = if least { 1.0 } else { -1.0 };
        self.sources.copy_from_slice(&self.tolerances.centre);
        self.settle();
        let mut points: Vec<Vec<f64>> = seeds.iter().map(|seed| self.shares_of(seed)).collect();
        points.extend(self.points());
        let Extent { points: scattered, starts: most, rounds } =
            if self.plan.length().1 == 0 { FORMULA } else { MODEL };
        points.extend((0..scattered).map(|point| (0..self.free.len()).map(|i| coordinate(point, i)).collect()));
        let values = self.values_at(&points);
        let mut ranked: Vec<(f64, &Vec<f64>)> =
            values.iter().map(|value| self.turn * value).zip(&points).filter(|(score, _)| score.is_finite()).collect();
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut starts: Vec<(f64, Vec<f64>)> = Vec::new();
        for (score, point) in ranked {
            let far = |(_, other): &(f64, Vec<f64>)| other.iter().zip(point).any(|(a, b)| (a - b).abs() > APART);
            if starts.iter().all(far) {
                starts.push((score, point.clone()));
            }
            if starts.len() == most {
                break;
            }
        }
        let refined = starts.into_iter().map(|(score, point)| self.in_all_directions(score, point, rounds));
        let (score, point) = refined.min_by(|a, b| a.0.total_cmp(&b.0))?;
        let mut sources = self.sources.clone();
        for ((source, _), share) in self.free.iter().zip(point) {
            sources[*source as usize] = self.at_share(*source, share);
        }
        Some((self.turn * score, sources))
    }

    /// Tries points around the best one: along each source, on along the way that led there, and in random directions.
    fn in_all_directions(&mut self, mut score: f64, mut point: Vec<f64>, rounds: u64) -> (f64, Vec<f64>) {
        let n = self.free.len();
        let mut way = vec![0.0; n];
        let mut step = FIRST_STEP;
        for round in 0..rounds {
            if step < LAST_STEP {
                break;
            }
            let trials: Vec<Vec<f64>> = (0..LANES).map(|lane| trial(&point, &way, step, round, lane)).collect();
            let found = self.values_at(&trials);
            let scores = found.into_iter().map(|value| self.turn * value).zip(trials);
            let best = scores.filter(|(found, _)| found.is_finite()).min_by(|a, b| a.0.total_cmp(&b.0));
            match best.filter(|(found, _)| *found < score) {
                Some((found, to)) => {
                    way = to.iter().zip(&point).map(|(to, from)| to - from).collect();
                    (score, point) = (found, to);
                    step *= LONGER;
                }
                None => step *= SHORTER,
            }
        }
        (score, point)
    }
}

/// A point around another one.
fn trial(point: &[f64], way: &[f64], step: f64, round: u64, lane: usize) -> Vec<f64> {
    const ALONG: usize = LANES / 4;
    let n = point.len();
    // Two to each source; where there are many sources, they take turns.
    let single = lane.checked_sub(ALONG).filter(|at| *at < (2 * n).min(LANES / 4));
    let moved = |i: usize| {
        if lane < ALONG {
            way[i] * libm::exp2(lane as f64 - 4.0)
        } else if let Some(at) = single {
            let (which, up) = ((at / 2 + round as usize * (LANES / 8)) % n, at % 2 == 0);
            if which != i {
                0.0
            } else if up {
                step
            } else {
                -step
            }
        } else {
            step * (2.0 * numbered((round * LANES as u64 + lane as u64) * n as u64 + i as u64) - 1.0)
        }
    };
    point.iter().enumerate().map(|(i, share)| (share + moved(i)).clamp(0.0, 1.0)).collect()
}

/// A coordinate of the dense scatter: Halton's sequence, turned on where there are more sources than it has bases.
fn coordinate(point: usize, i: usize) -> f64 {
    let turned = halton(point as u32 + 1, PRIMES[i % COORDINATES]) + 0.618_033_988_749_894_9 * (i / COORDINATES) as f64;
    turned - libm::floor(turned)
}
