//! What samples come to: mean, standard deviation, and the two 95 % coverage intervals of JCGM 101, 7.7: the symmetric
//! one (as many builds below as above) and the shortest.

/// The share of builds that a coverage interval holds.
pub(crate) const COVERAGE: f64 = 0.95;

/// Count, mean and sum of squared deviations, put together block by block (T. F. Chan, G. H. Golub, R. J. LeVeque, 1979).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Moments {
    pub(crate) count: u64,
    pub(crate) mean: f64,
    pub(crate) squares: f64,
}

impl Moments {
    /// Of a block; undefined values are left out.
    pub(crate) fn of(values: &[f64]) -> Self {
        let sum: f64 = lanes(values, |x| x);
        if sum.is_finite() && !values.is_empty() {
            return Self::around(values, sum / values.len() as f64);
        }
        let finite = finite(values);
        match finite.len() {
            0 => Self::default(),
            // All are numbers, but their sum overflows: each is divided before they are added.
            n if n == values.len() => Self::around(values, lanes(values, |x| x / n as f64)),
            _ => Self::of(&finite),
        }
    }

    /// Of finite values with a known mean.
    fn around(values: &[f64], mean: f64) -> Self {
        let squares = lanes(values, |x| (x - mean) * (x - mean));
        Self { count: values.len() as u64, mean, squares }
    }

    /// Of both together.
    pub(crate) fn with(self, other: Self) -> Self {
        if self.count == 0 || other.count == 0 {
            return if self.count == 0 { other } else { self };
        }
        let count = self.count + other.count;
        let (n, m) = (self.count as f64, other.count as f64);
        let step = other.mean - self.mean;
        let mean = self.mean + step * (m / (n + m));
        let squares = self.squares + other.squares + step * step * (n * m / (n + m));
        Self { count, mean, squares }
    }

    /// The standard deviation of the samples.
    pub(crate) fn std(self) -> f64 {
        if self.count < 2 { 0.0 } else { (self.squares / (self.count - 1) as f64).sqrt() }
    }
}

/// Moments of numbered blocks, put together in the order of their numbers, in whichever order they come.
#[derive(Clone, Debug, Default)]
pub(crate) struct InOrder {
    /// Of the blocks before `next`.
    sum: Moments,
    next: u64,
    /// Of later blocks.
    waiting: Vec<(u64, Moments)>,
}

impl InOrder {
    /// Takes the moments of a block, of which each comes once.
    pub(crate) fn add(&mut self, block: u64, moments: Moments) {
        if block != self.next {
            return self.waiting.push((block, moments));
        }
        self.take(moments);
        while let Some(at) = self.waiting.iter().position(|waiting| waiting.0 == self.next) {
            let (_, moments) = self.waiting.swap_remove(at);
            self.take(moments);
        }
    }

    fn take(&mut self, moments: Moments) {
        self.sum = self.sum.with(moments);
        self.next += 1;
    }

    /// Takes what was collected of other blocks.
    pub(crate) fn append(&mut self, mut other: Self) {
        if other.next > self.next {
            std::mem::swap(self, &mut other);
        }
        self.waiting.extend(other.waiting);
    }

    /// How many values were counted.
    pub(crate) fn count(&self) -> u64 {
        self.sum.count + self.waiting.iter().map(|waiting| waiting.1.count).sum::<u64>()
    }

    /// Of all blocks.
    pub(crate) fn all(mut self) -> Moments {
        self.waiting.sort_unstable_by_key(|waiting| waiting.0);
        self.waiting.into_iter().fold(self.sum, |sum, block| sum.with(block.1))
    }
}

/// The values that are numbers and not infinite.
pub(crate) fn finite(values: &[f64]) -> Vec<f64> {
    values.iter().copied().filter(|x| x.is_finite()).collect()
}

/// A sum in four lanes, always in the same order: the same bits on every machine, and no addition waits for the last.
pub(crate) fn lanes(values: &[f64], f: impl Fn(f64) -> f64) -> f64 {
    let (fours, rest) = values.as_chunks::<4>();
    let (mut a, mut b, mut c, mut d) = (0.0, 0.0, 0.0, 0.0);
    for x in fours {
        a += f(x[0]);
        b += f(x[1]);
        c += f(x[2]);
        d += f(x[3]);
    }
    (a + b) + (c + d) + rest.iter().map(|x| f(*x)).sum::<f64>()
}

/// The sum of products, in lanes too.
pub(crate) fn product(x: &[f64], y: &[f64]) -> f64 {
    let ((fours, rest), (others, last)) = (x.as_chunks::<4>(), y.as_chunks::<4>());
    let (mut a, mut b, mut c, mut d) = (0.0, 0.0, 0.0, 0.0);
    for (x, y) in fours.iter().zip(others) {
        a += x[0] * y[0];
        b += x[1] * y[1];
        c += x[2] * y[2];
        d += x[3] * y[3];
    }
    (a + b) + (c + d) + rest.iter().zip(last).map(|(x, y)| x * y).sum::<f64>()
}

/// The two coverage intervals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Intervals {
    pub(crate) symmetric: (f64, f64),
    pub(crate) shortest: (f64, f64),
}

/// Counts of values in narrow bins of one width: quantiles of any number of samples in fixed memory, to within a bin's
/// width. Two of them over the same bins add up to the sketch of both.
#[derive(Clone, Debug)]
pub(crate) struct Sketch {
    low: f64,
    width: f64,
    bins: Vec<u32>,
    /// Values at minus and plus infinity, which have no bin.
    infinite: (u64, u64),
}

impl Sketch {
    /// Bins of a sketch at most: the error of a quantile is then the 8,192nd part of the range.
    pub(crate) const MOST_BINS: usize = 1 << 13;

    pub(crate) fn new(low: f64, high: f64, bins: usize) -> Self {
        let width = ((high - low) / bins as f64).max(f64::MIN_POSITIVE);
        Self { low, width, bins: vec![0; bins], infinite: (0, 0) }
    }

    /// The same bins, empty.
    pub(crate) fn emptied(&self) -> Self {
        Self { bins: vec![0; self.bins.len()], infinite: (0, 0), ..*self }
    }

    /// Counts values; finite ones outside the range count at its ends, undefined ones not at all.
    pub(crate) fn add(&mut self, values: &[f64]) {
        const AT_ONCE: usize = 64;
        let scale = 1.0 / self.width;
        let most = (self.bins.len() - 1) as f64;
        for chunk in values.chunks(AT_ONCE) {
            // First the places, which is arithmetic alone; then the counting.
            let mut places = [0u32; AT_ONCE];
            for (place, x) in places.iter_mut().zip(chunk) {
                let at = (x - self.low) * scale;
                let at = if at > 0.0 { at } else { 0.0 };
                *place = if at < most { at } else { most } as u32;
            }
            for (place, x) in places.iter().zip(chunk) {
                self.bins[*place as usize] += u32::from(x.is_finite());
                self.infinite.0 += u64::from(*x == f64::NEG_INFINITY);
                self.infinite.1 += u64::from(*x == f64::INFINITY);
            }
        }
    }

    pub(crate) fn merge(&mut self, other: &Sketch) {
        for (bin, more) in self.bins.iter_mut().zip(&other.bins) {
            *bin += more;
        }
        self.infinite.0 += other.infinite.0;
        self.infinite.1 += other.infinite.1;
    }

    /// How far a quantile may be off.
    pub(crate) fn error(&self) -> f64 {
        self.width
    }

    /// The value below which so many samples lie.
    fn quantile(&self, cumulated: &[u64], rank: f64) -> f64 {
        if rank < self.infinite.0 as f64 {
            return f64::NEG_INFINITY;
        }
        let bin = cumulated.partition_point(|below| (*below as f64) <= rank);
        if bin == self.bins.len() && self.infinite.1 > 0 {
            return f64::INFINITY;
        }
        let bin = bin.min(self.bins.len() - 1);
        let before = if bin == 0 { self.infinite.0 } else { cumulated[bin - 1] };
        let share = (rank - before as f64) / f64::from(self.bins[bin].max(1));
        self.low + self.width * (bin as f64 + share.clamp(0.0, 1.0))
    }

    pub(crate) fn intervals(&self) -> Option<Intervals> {
        let cumulated: Vec<u64> = self
            .bins
            .iter()
            .scan(self.infinite.0, |sum, bin| {
                *sum += u64::from(*bin);
                Some(*sum)
            })
            .collect();
        let n = *cumulated.last()? + self.infinite.1;
        if n == 0 {
            return None;
        }
        let n = n as f64;
        let window = |share: f64| {
            let outside = 1.0 - COVERAGE;
            (
                self.quantile(&cumulated, share * outside * n),
                self.quantile(&cumulated, (share * outside + COVERAGE) * n),
            )
        };
        // Windows without an end are not compared: none of them is the shorter.
        let mut shortest = window(0.5);
        const STARTS: u32 = 200;
        for i in 0..=STARTS {
            let (low, high) = window(f64::from(i) / f64::from(STARTS));
            if high - low < shortest.1 - shortest.0
                || (high - low).is_finite() && !(shortest.1 - shortest.0).is_finite()
            {
                shortest = (low, high);
            }
        }
        Some(Intervals { symmetric: window(0.5), shortest })
    }

    /// Counts in a few wide bins over the middle of the range, for a histogram.
    pub(crate) fn coarse(&self, low: f64, high: f64, bins: usize) -> Vec<u64> {
        let mut counts = vec![0; bins];
        for (i, count) in self.bins.iter().enumerate() {
            let x = self.low + self.width * (i as f64 + 0.5);
            if x >= low && x <= high {
                let bin = ((x - low) / (high - low) * bins as f64) as usize;
                counts[bin.min(bins - 1)] += u64::from(*count);
            }
        }
        counts
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::disallowed_methods)]

    use super::*;
    use crate::evaluate::simulation::tails::{intervals, symmetric};

    #[test]
    fn intervals_of_a_skewed_sample() {
        // An exponential sample by its quantiles: the shortest 95 % starts at its least value and ends at -ln 0.05.
        let n = 100_000;
        let mut samples: Vec<f64> = (0..n).map(|i| -(1.0 - (f64::from(i) + 0.5) / f64::from(n)).ln()).collect();
        samples.reverse();
        let found = intervals(&samples).unwrap();
        assert!((found.shortest.0 - 0.0).abs() < 1e-4 && (found.shortest.1 + 0.05f64.ln()).abs() < 1e-3, "{found:?}");
        assert_eq!(symmetric(&samples), Some(found.symmetric));
        assert!((found.symmetric.0 + 0.975f64.ln()).abs() < 1e-4, "{found:?}");
        assert!((found.symmetric.1 + 0.025f64.ln()).abs() < 1e-3, "{found:?}");
        let mut sketch = Sketch::new(0.0, 14.0, Sketch::MOST_BINS);
        sketch.add(&samples);
        let rough = sketch.intervals().unwrap();
        for (a, b) in [(rough.symmetric.0, found.symmetric.0), (rough.symmetric.1, found.symmetric.1)] {
            assert!((a - b).abs() <= sketch.error(), "{a} {b}");
        }
        assert!((rough.shortest.1 - rough.shortest.0 - found.shortest.1).abs() <= 3.0 * sketch.error());
    }

    #[test]
    fn moments_come_out_the_same_in_blocks() {
        let values: Vec<f64> = (0..1000).map(|i| f64::from(i * i % 97)).collect();
        let whole = Moments::of(&values);
        let parts = values.chunks(64).map(Moments::of).fold(Moments::default(), Moments::with);
        assert!((whole.mean - parts.mean).abs() < 1e-12 && (whole.std() - parts.std()).abs() < 1e-12);
        assert_eq!(Moments::of(&[1.0, f64::NAN, 3.0]).count, 2);
    }

    #[test]
    fn values_whose_sum_overflows_have_a_mean() {
        let found = Moments::of(&[1e308, 1.2e308, f64::INFINITY, 1.4e308]);
        assert_eq!(found.count, 3);
        assert!((found.mean / 1.2e308 - 1.0).abs() < 1e-12, "{found:?}");
        assert!(found.std().is_infinite());
    }
}
