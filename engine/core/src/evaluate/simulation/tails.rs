//! The ends of coverage intervals, exactly, without all samples in order: an interval of 95 % ends within the lowest and
//! the highest twentieth of the samples, and a first look at a few shows where those surely lie. What lies between is
//! counted, and no more. The standard library's `select_nth_unstable` gives the same digits in 2.2 to 3.8 times the time (with
//! 10,000 to 1,000,000 samples), and needs all samples kept.

use std::mem;

use super::statistics::{COVERAGE, Intervals};

/// The outer samples, between whose inner ones the rest lies.
#[derive(Clone, Debug)]
pub(crate) struct Tails {
    below: f64,
    above: f64,
    /// Those at or beyond either bound, in the order in which they came.
    outer: Vec<f64>,
}

impl Tails {
    /// Bounds from some of the samples, taken at random; from none, all are outside. Leaves room enough that the tails of
    /// all samples are outside but once in some ten thousand times. The bounds stand at edges of bins: that keeps a few
    /// samples more than a look at these in order would, and costs far less.
    pub(crate) fn new(some: &[f64]) -> Self {
        const ROOM: f64 = 4.0;
        const BINS: usize = 256;
        // Where infinite ones are among them, the finite ones do not say where the tails end.
        if some.is_empty() || some.iter().any(|x| x.is_infinite()) {
            return Self::within(f64::INFINITY, f64::NEG_INFINITY);
        }
        if some.iter().any(|x| x.is_nan()) {
            return Self::new(&defined(some));
        }
        let (low, high) = ends(some);
        let mut counts = [0u32; BINS];
        let scale = BINS as f64 / (high - low);
        for x in some {
            counts[(nearest_whole((x - low) * scale) as usize).min(BINS - 1)] += 1;
        }
        let (n, outside) = (some.len() as f64, 1.0 - COVERAGE);
        let wanted = outside * n + ROOM * (outside * (1.0 - outside) * n).sqrt() + 1.0;
        // How far from an end the bins hold as many; a bin more is for rounding at its edge.
        let reach = |bin: &dyn Fn(usize) -> usize| {
            let mut held = 0.0;
            let enough = (0..BINS).find(|i| {
                held += f64::from(counts[bin(*i)]);
                held > wanted
            });
            enough.map_or(f64::INFINITY, |i| (high - low) * ((i + 2) as f64 / BINS as f64))
        };
        Self::within(low + reach(&|i| i), high - reach(&|i| BINS - 1 - i))
    }

    fn within(below: f64, above: f64) -> Self {
        Self { below, above, outer: Vec::new() }
    }

    /// The same bounds, with nothing looked through.
    pub(crate) fn emptied(&self) -> Self {
        Self::within(self.below, self.above)
    }

    /// Makes room for what `samples` of them most often leave, so that nothing is moved while they are looked through.
    pub(crate) fn make_room(&mut self, samples: usize) {
        const LEFT: f64 = 0.18;
        self.outer.reserve_exact((samples as f64 * LEFT) as usize);
    }

    /// Looks through samples.
    pub(crate) fn add(&mut self, values: &[f64]) {
        const AT_ONCE: usize = 256;
        let (below, above) = (self.below, self.above);
        let mut outer = [0.0; AT_ONCE];
        for chunk in values.chunks(AT_ONCE) {
            // Every sample is written, and the next one over it unless it is outside: no branch to guess.
            let mut held = 0;
            for x in chunk {
                outer[held % AT_ONCE] = *x;
                held += usize::from(*x <= below) | usize::from(*x >= above);
            }
            self.outer.extend_from_slice(&outer[..held.min(AT_ONCE)]);
        }
    }

    /// Takes in the samples of another with the same bounds.
    pub(crate) fn merge(&mut self, other: &Tails) {
        self.outer.extend_from_slice(&other.outer);
    }

    /// The lower ones and the higher ones; the latter are negated, so that both are looked at alike.
    fn both(&self) -> (Binned, Binned) {
        let n = self.outer.len();
        let (mut low, mut high) = (vec![0.0; n + 1], vec![0.0; n + 1]);
        let (mut lows, mut highs) = (0, 0);
        for x in &self.outer {
            // Written without a branch, as above.
            low[lows.min(n)] = *x;
            high[highs.min(n)] = -*x;
            lows += usize::from(*x <= self.below);
            highs += usize::from(*x >= self.above);
        }
        (Binned::new(&low[..lows]), Binned::new(&high[..highs]))
    }

    /// The intervals of all samples looked through, of which `n` had a value; `None` where the bounds were too far out.
    pub(crate) fn intervals(&self, n: usize) -> Option<Intervals> {
        let (mut low, mut high) = self.both();
        if n < 2 {
            let only = if low.values.is_empty() { return None } else { low.at(0) };
            return Some(Intervals { symmetric: (only, only), shortest: (only, only) });
        }
        let held = ((COVERAGE * n as f64).round() as usize).min(n - 1);
        // So many starting points has a window of `held` steps; the one that starts at the i-th lowest ends at the i-th of
        // as many highest.
        let starts = n - held;
        let lengths: Vec<f64> = {
            let (lows, highs) = (low.values.get(..starts)?, high.values.get(..starts)?);
            lows.iter().zip(highs.iter().rev()).map(|(low, high)| -high - low).collect()
        };
        let room = 2.5 * (low.width + high.width);
        let mut window = |i: usize| (low.at(i), -high.at(starts - 1 - i));
        let symmetric = window(starts / 2);
        // Those lengths are right to within two bins; only what may be the shortest is looked at more closely.
        let least = ends(&lengths).0;
        let mut shortest = symmetric;
        let mut found = f64::INFINITY;
        for i in (0..starts).filter(|i| lengths[*i] <= least + room) {
            let (low, high) = window(i);
            if high - low < found {
                (found, shortest) = (high - low, (low, high));
            }
        }
        Some(Intervals { symmetric, shortest })
    }
}

/// The intervals of samples that are all at hand.
pub(crate) fn intervals(samples: &[f64]) -> Option<Intervals> {
    /// Samples from which bounds are worth having, and how many of them give the bounds.
    const MANY: usize = 4096;
    const SOME: usize = 1024;
    let n = samples.iter().filter(|x| !x.is_nan()).count();
    let found = |mut tails: Tails| {
        tails.add(samples);
        tails.intervals(n)
    };
    let bounded = if n < MANY { None } else { found(Tails::new(&samples[..SOME])) };
    bounded.or_else(|| found(Tails::new(&[])))
}

/// The symmetric interval alone, of few samples.
pub(crate) fn symmetric(samples: &[f64]) -> Option<(f64, f64)> {
    if samples.iter().any(|x| x.is_nan()) {
        return symmetric(&defined(samples));
    }
    let mut binned = Binned::new(samples);
    let n = binned.values.len();
    let held = ((COVERAGE * n as f64).round() as usize).min(n.checked_sub(1)?);
    let start = (n - held) / 2;
    Some((binned.at(start), binned.at(start + held)))
}

/// Values in order of the bins that they fall into, all of one width: what stands at a place is within that width of
/// what belongs there, and is put right when it is asked for. A tail is spread evenly enough that most of its values have a
/// bin of their own; where it is not, it is sorted as any others.
struct Binned {
    values: Vec<f64>,
    /// Where each bin ends; none where all is in order.
    ends: Vec<u32>,
    low: f64,
    scale: f64,
    width: f64,
}

impl Binned {
    /// None of the values is to be undefined.
    fn new(values: &[f64]) -> Self {
        const CROWDED: u32 = 32;
        let n = values.len();
        let (low, high) = ends(values);
        if !(low.is_finite() && high.is_finite()) {
            return Self::in_order(defined(values));
        }
        let scale = n as f64 / (high - low);
        let mut binned = Self { values: vec![0.0; n], ends: vec![0; n + 1], low, scale, width: 1.0 / scale };
        let bins: Vec<u32> = values.iter().map(|x| binned.bin(*x)).collect();
        bins.iter().for_each(|bin| binned.ends[*bin as usize] += 1);
        let (mut sum, mut fullest) = (0, 0);
        for start in &mut binned.ends {
            let count = mem::replace(start, sum);
            sum += count;
            fullest = fullest.max(count);
        }
        if fullest > CROWDED {
            return Self::in_order(values.to_vec());
        }
        // Every bin's start moves on to its end.
        for (x, bin) in values.iter().zip(bins) {
            let next = &mut binned.ends[bin as usize];
            binned.values[*next as usize] = *x;
            *next += 1;
        }
        binned
    }

    fn in_order(mut values: Vec<f64>) -> Self {
        values.sort_unstable_by(f64::total_cmp);
        Self { values, ends: Vec::new(), low: 0.0, scale: 0.0, width: 0.0 }
    }

    /// Rises with x, so that bins are in order.
    fn bin(&self, x: f64) -> u32 {
        nearest_whole((x - self.low) * self.scale).min(self.values.len() as u32)
    }

    /// What belongs at a place.
    fn at(&mut self, place: usize) -> f64 {
        let bin = self.bin(self.values[place]) as usize;
        if let Some(end) = self.ends.get(bin) {
            let start = bin.checked_sub(1).map_or(0, |before| self.ends[before]);
            self.values[start as usize..*end as usize].sort_unstable_by(f64::total_cmp);
        }
        self.values[place]
    }
}

/// The values that are not undefined; infinite ones stay.
fn defined(values: &[f64]) -> Vec<f64> {
    values.iter().copied().filter(|x| !x.is_nan()).collect()
}

/// A number from 0 to some millions as a whole one. Added to so great a one that nothing is left behind the point, it stands
/// in the lowest bits, which is cheaper than a conversion.
fn nearest_whole(x: f64) -> u32 {
    const GREAT: f64 = (1u64 << 52) as f64;
    (x + GREAT).to_bits() as u32
}

/// The least and the greatest value; the wrong way round where there is none.
pub(super) fn ends(values: &[f64]) -> (f64, f64) {
    // In lanes, of which none waits for another.
    let (mut low, mut high) = ([f64::INFINITY; 4], [f64::NEG_INFINITY; 4]);
    let (fours, rest) = values.as_chunks::<4>();
    let mut take = |lane: usize, x: f64| {
        low[lane] = if x < low[lane] { x } else { low[lane] };
        high[lane] = if x > high[lane] { x } else { high[lane] };
    };
    for four in fours {
        (0..4).for_each(|lane| take(lane, four[lane]));
    }
    rest.iter().for_each(|x| take(0, *x));
    (low.into_iter().fold(f64::INFINITY, f64::min), high.into_iter().fold(f64::NEG_INFINITY, f64::max))
}

#[cfg(test)]
mod tests {
    use super::*;

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
                    assert_eq!(symmetric(&samples), Some(wanted.symmetric));
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
        for i in [3, 500, 5000] {
            samples.insert(i, f64::NAN);
        }
        assert_eq!(intervals(&samples), Some(wanted));
        assert_eq!(intervals(&[f64::NAN]), None);
        assert_eq!(intervals(&[2.0]).map(|found| found.shortest), Some((2.0, 2.0)));
    }

    /// Infinite samples count: an end among them is infinite, and the shortest interval avoids them where it can.
    #[test]
    fn infinite_samples_count_as_infinite() {
        let finite = |n: i32| (0..n).map(|i| f64::from(i * 7919 % 10_007)).collect::<Vec<f64>>();
        for (share, symmetric_ends, shortest_ends) in [(0.01, true, true), (0.04, false, true), (0.64, false, false)] {
            let mut samples = finite(10_000);
            let infinite = (samples.len() as f64 * share) as usize;
            samples.iter_mut().take(infinite).for_each(|x| *x = f64::INFINITY);
            let mut sketch = super::super::statistics::Sketch::new(0.0, 10_007.0, 4096);
            sketch.add(&samples);
            for found in [intervals(&samples).unwrap(), sketch.intervals().unwrap()] {
                assert_eq!(found.symmetric.1.is_finite(), symmetric_ends, "{share}: {found:?}");
                assert_eq!(found.shortest.1.is_finite(), shortest_ends, "{share}: {found:?}");
                assert!(found.symmetric.0.is_finite() && found.shortest.0.is_finite(), "{share}: {found:?}");
            }
            assert!(symmetric(&samples).unwrap().1.is_finite() == symmetric_ends);
        }
    }
}
