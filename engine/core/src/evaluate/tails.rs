//! The ends of coverage intervals, exactly, without all samples in order: an interval of 95 % ends within the lowest and
//! the highest twentieth of the samples, and a first look at a few tells where those surely lie. What lies between is
//! counted, and no more.

use super::statistics::{COVERAGE, Intervals};

/// The outer samples, between whose inner ones the rest lies.
#[derive(Clone, Debug)]
pub(crate) struct Tails {
    below: f64,
    above: f64,
    outside: Vec<f64>,
}

impl Tails {
    /// Bounds from some of the samples, taken at random. Leaves room enough that the tails of all of them are outside but
    /// once in some ten thousand times.
    pub(crate) fn new(some: &[f64]) -> Self {
        const ROOM: f64 = 4.0;
        let mut keys: Vec<i64> = some.iter().filter(|x| x.is_finite()).map(|x| key(*x)).collect();
        let n = keys.len() as f64;
        let outside = 1.0 - COVERAGE;
        let rank = (outside * n + ROOM * (outside * (1.0 - outside) * n).sqrt()).ceil() as usize + 1;
        if 2 * rank >= keys.len() {
            return Self { below: f64::INFINITY, above: f64::NEG_INFINITY, outside: Vec::new() };
        }
        let last = keys.len() - 1 - rank;
        let (_, below, above) = keys.select_nth_unstable(rank);
        let below = value(*below);
        let (_, above, _) = above.select_nth_unstable(last - rank - 1);
        Self { below, above: value(*above), outside: Vec::new() }
    }

    /// Looks through samples.
    pub(crate) fn add(&mut self, values: &[f64]) {
        const AT_ONCE: usize = 256;
        let (below, above) = (self.below, self.above);
        for chunk in values.chunks(AT_ONCE) {
            // Every sample is written, and the next one over it unless it is outside: no branch to guess.
            let mut found = [0.0; AT_ONCE];
            let mut count = 0;
            for x in chunk {
                found[count % AT_ONCE] = *x;
                count += usize::from((*x <= below) | (*x >= above));
            }
            self.outside.extend_from_slice(&found[..count.min(AT_ONCE)]);
        }
    }

    /// Takes in the samples of another with the same bounds.
    pub(crate) fn merge(&mut self, other: &Tails) {
        self.outside.extend_from_slice(&other.outside);
    }

    /// The intervals of all samples looked through, of which `n` were finite; `None` where the bounds were too far out.
    pub(crate) fn intervals(&self, n: usize) -> Option<Intervals> {
        let sorted = |belongs: &dyn Fn(f64) -> bool| {
            let finite = self.outside.iter().filter(|x| x.is_finite() && belongs(**x));
            let mut keys: Vec<i64> = finite.map(|x| key(*x)).collect();
            keys.sort_unstable();
            keys
        };
        let (low, high) = (sorted(&|x| x <= self.below), sorted(&|x| x >= self.above));
        if n < 2 {
            let only = value(*low.first()?);
            return Some(Intervals { symmetric: (only, only), shortest: (only, only) });
        }
        let held = ((COVERAGE * n as f64).round() as usize).min(n - 1);
        // So many starting points has a window of `held` steps; the one that starts at the i-th lowest ends at the i-th of
        // as many highest.
        let starts = n - held;
        let high = &high[high.len().checked_sub(starts)?..];
        let window = |i: usize| Some((value(*low.get(i)?), value(*high.get(i)?)));
        let mut shortest = window(0)?;
        for i in 1..starts {
            let (low, high) = window(i)?;
            if high - low < shortest.1 - shortest.0 {
                shortest = (low, high);
            }
        }
        Some(Intervals { symmetric: window(starts / 2)?, shortest })
    }
}

/// The intervals of samples that are all at hand.
pub(crate) fn intervals(samples: &[f64]) -> Option<Intervals> {
    /// Samples from which bounds are worth having, and how many of them tell the bounds.
    const MANY: usize = 4096;
    const SOME: usize = 1024;
    let n = samples.iter().filter(|x| x.is_finite()).count();
    let found = |mut tails: Tails| {
        tails.add(samples);
        tails.intervals(n)
    };
    let bounded = if n < MANY { None } else { found(Tails::new(&samples[..SOME])) };
    bounded.or_else(|| found(Tails::new(&[])))
}

/// A number of the same order as the value, cheaper to compare.
fn key(x: f64) -> i64 {
    let bits = x.to_bits().cast_signed();
    bits ^ ((bits >> 63).cast_unsigned() >> 1).cast_signed()
}

fn value(key: i64) -> f64 {
    f64::from_bits((key ^ ((key >> 63).cast_unsigned() >> 1).cast_signed()).cast_unsigned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::statistics::symmetric;

    /// The intervals by the definition: all samples in order.
    fn by_sorting(samples: &[f64]) -> Intervals {
        let mut sorted = samples.to_vec();
        sorted.sort_unstable_by(f64::total_cmp);
        let held = (0.95 * sorted.len() as f64).round() as usize;
        let windows: Vec<(f64, f64)> = sorted.iter().copied().zip(sorted[held..].iter().copied()).collect();
        let shortest = windows.iter().min_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0))).unwrap();
        Intervals { symmetric: windows[windows.len() / 2], shortest: *shortest }
    }

    #[test]
    fn intervals_are_those_of_the_sorted_samples() {
        for n in [21usize, 1000, 5000, 20_000] {
            for spread in [3.0, 1e-12, 0.05] {
                // From a smooth distribution to a few values over and over.
                let value = |i: usize| ((i * 7919) % 50_021) as f64 * spread;
                let shapes: [fn(f64) -> f64; 3] = [|x| x, |x| -(x * x), f64::floor];
                for shape in shapes {
                    let samples: Vec<f64> = (0..n).map(|i| shape(value(i))).collect();
                    let wanted = by_sorting(&samples);
                    assert_eq!(intervals(&samples), Some(wanted), "{n} {spread}");
                    assert_eq!(symmetric(&mut samples.clone()), Some(wanted.symmetric));
                }
            }
        }
    }

    /// The first samples may be no guide to the rest.
    #[test]
    fn samples_in_order_are_no_harm() {
        let samples: Vec<f64> = (0..10_000).map(f64::from).collect();
        assert_eq!(intervals(&samples), Some(by_sorting(&samples)));
    }

    #[test]
    fn undefined_samples_are_left_out() {
        let mut samples: Vec<f64> = (0..6000).map(|i| f64::from(i * 7919 % 5003)).collect();
        let wanted = by_sorting(&samples);
        for (i, odd) in [(3, f64::NAN), (500, f64::INFINITY), (5000, f64::NEG_INFINITY)] {
            samples.insert(i, odd);
        }
        assert_eq!(intervals(&samples), Some(wanted));
        assert_eq!(intervals(&[f64::NAN]), None);
        assert_eq!(intervals(&[2.0]).map(|found| found.shortest), Some((2.0, 2.0)));
    }

    #[test]
    fn keys_are_in_the_order_of_their_values() {
        let rising = [f64::NEG_INFINITY, -1e300, -2.0, -1e-310, -0.0, 0.0, 5e-324, 1.0, 1e300, f64::INFINITY];
        assert!(rising.windows(2).all(|pair| key(pair[0]) < key(pair[1])));
        assert!(rising.iter().all(|x| value(key(*x)).to_bits() == x.to_bits()));
    }
}
