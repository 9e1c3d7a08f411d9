//! Random numbers by counter: the draw of a given in build number n depends on the seed, the given's name and n alone, so
//! it is the same at any number of threads, on any machine, and whatever else stands in the worksheet. The mixing function
//! is SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014).

use std::f64::consts::PI;

use super::{
    normal::{normal_quantile, normal_quantiles},
    student::student_quantile,
};
use crate::lang::ast::Distribution;
use crate::program::Source;

/// Draws of one source.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stream {
    key: u64,
}

const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

impl Stream {
    /// The stream of a source, by the seed and its key.
    pub(crate) fn new(seed: u64, source: &Source) -> Self {
        // FNV-1a over the key, mixed with the seed.
        let key = source.key.as_deref().unwrap_or(&source.name);
        let hash = key.bytes().fold(0xcbf2_9ce4_8422_2325, |hash: u64, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
        Self { key: mix(hash ^ mix(seed.wrapping_add(GOLDEN))) }
    }

    /// A number between 0 and 1, never either, for build number `n`.
    #[inline]
    pub(crate) fn uniform(self, n: u64) -> f64 {
        share(mix(self.place(n)))
    }

    #[inline]
    fn place(self, n: u64) -> u64 {
        self.key.wrapping_add(n.wrapping_add(1).wrapping_mul(GOLDEN))
    }
}

/// A number between 0 and 1 by its own number: for searches, which need no seed.
pub(crate) fn numbered(n: u64) -> f64 {
    Stream { key: 0 }.uniform(n)
}

/// 52 bits as a number between 0 and 1: the middle of one of 2^52 equal parts, exactly. The bits are laid behind the
/// exponent of one, which is cheaper than converting them.
#[inline]
fn share(bits: u64) -> f64 {
    f64::from_bits((bits >> 12) | 0x3ff0_0000_0000_0000) - (1.0 - f64::EPSILON / 2.0)
}

#[inline]
fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A source's values for the builds from `first` on: what [`draw`] makes of its uniform numbers. The common shapes have
/// loops of their own, which are nearly all arithmetic.
pub(crate) fn fill(column: &mut [f64], source: &Source, stream: Stream, first: u64) {
    let (low, high, middle) = (source.low, source.high, source.nominal);
    // The counter is stepped instead of multiplied anew: the same numbers.
    let mut at = stream.place(first);
    for x in &mut *column {
        *x = share(mix(at));
        at = at.wrapping_add(GOLDEN);
    }
    match source.distribution {
        Distribution::Rectangular => column.iter_mut().for_each(|x| *x = low + (high - low) * *x),
        Distribution::Normal(k) if source.degrees.is_infinite() => {
            let (below, above) = ((middle - low) / k, (high - middle) / k);
            if below != above {
                let share = below / (below + above);
                column.iter_mut().for_each(|u| *u = on_its_side(*u, share));
            }
            normal_quantiles(column);
            column.iter_mut().for_each(|x| *x = middle + if *x < 0.0 { below } else { above } * *x);
        }
        _ => column.iter_mut().for_each(|x| *x = draw(source, *x)),
    }
}

/// A source's value for a uniform number: the inverse of its distribution function. Bounds that are not alike on both
/// sides of the nominal value give: a rectangle from the one to the other; a triangle with its peak at the nominal value;
/// a normal curve with a width of its own on each side (two-piece normal), so that it stays without a step.
#[inline]
pub(crate) fn draw(source: &Source, u: f64) -> f64 {
    let (low, high, middle) = (source.low, source.high, source.nominal);
    match source.distribution {
        Distribution::Rectangular => low + (high - low) * u,
        Distribution::Triangular => {
            let (left, right, width) = (middle - low, high - middle, high - low);
            if u * width < left { low + (u * width * left).sqrt() } else { high - ((1.0 - u) * width * right).sqrt() }
        }
        Distribution::Arcsine => low + (high - low) * 0.5 * (1.0 - libm::cos(PI * u)),
        Distribution::Normal(k) => {
            let (below, above) = ((middle - low) / k, (high - middle) / k);
            let quantile = |p: f64| {
                if source.degrees.is_finite() { student_quantile(p, source.degrees) } else { normal_quantile(p) }
            };
            if below == above {
                return middle + above * quantile(u);
            }
            // The left piece holds below/(below + above) of all builds.
            let share = below / (below + above);
            middle + if u < share { below } else { above } * quantile(on_its_side(u, share))
        }
    }
}

/// A uniform number, of which the left piece of a curve in two holds a share, as the probability on its own side's curve.
fn on_its_side(u: f64, share: f64) -> f64 {
    if u < share { 0.5 * u / share } else { 0.5 + 0.5 * (u - share) / (1.0 - share) }
}

/// Mean and standard uncertainty of a source, exactly (JCGM 101, 6.4). Where the latter was estimated from few readings, it
/// is the estimate (JCGM 100), not the standard deviation of the wider distribution that is drawn from.
pub(crate) fn moments(source: &Source) -> (f64, f64) {
    let (low, high, middle) = (source.low, source.high, source.nominal);
    match source.distribution {
        Distribution::Rectangular => ((low + high) / 2.0, (high - low) / 12f64.sqrt()),
        Distribution::Arcsine => ((low + high) / 2.0, (high - low) / 8f64.sqrt()),
        Distribution::Triangular => {
            let (a, b) = (middle - low, high - middle);
            ((low + high + middle) / 3.0, ((a * a + a * b + b * b) / 18.0).sqrt())
        }
        Distribution::Normal(k) => {
            let (below, above) = ((middle - low) / k, (high - middle) / k);
            let mean = middle + (2.0 / PI).sqrt() * (above - below);
            let variance = (1.0 - 2.0 / PI) * (above - below) * (above - below) + above * below;
            (mean, variance.sqrt())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::draws::normal::normal_probability;

    fn stream(seed: u64, key: Option<&str>, name: &str) -> Stream {
        let (key, name) = (key.map(Box::from), name.to_owned());
        let distribution = Distribution::Rectangular;
        Stream::new(
            seed,
            &Source { key, name, nominal: 0.0, low: 0.0, high: 0.0, distribution, degrees: f64::INFINITY },
        )
    }

    /// Table of the normal distribution (any handbook): 97.5 % at 1.959964, 99.5 % at 2.575829.
    #[test]
    fn quantiles_of_the_normal_distribution() {
        for (p, z) in [
            (0.5, 0.0),
            (0.975, 1.959_963_984_540_054),
            (0.995, 2.575_829_303_548_901),
            (1e-10, -6.361_340_902_404_056),
        ] {
            assert!((normal_quantile(p) - z).abs() < 1e-13, "{p}: {}", normal_quantile(p));
        }
        for i in 1..1000 {
            let p = f64::from(i) / 1000.0;
            assert!((normal_probability(normal_quantile(p)) - p).abs() < 1e-14);
            assert!((normal_quantile(p) + normal_quantile(1.0 - p)).abs() < 1e-12);
        }
    }

    #[test]
    fn draws_have_the_moments_of_their_distribution() {
        let shapes =
            [Distribution::Rectangular, Distribution::Triangular, Distribution::Arcsine, Distribution::Normal(2.0)];
        for distribution in shapes {
            for (low, nominal, high) in [(9.0, 10.0, 11.0), (8.0, 10.0, 15.0)] {
                let source = Source {
                    key: None,
                    name: "x".to_owned(),
                    nominal,
                    low,
                    high,
                    distribution,
                    degrees: f64::INFINITY,
                };
                let n = 200_000u64;
                // Evenly spread uniform numbers instead of random ones: an integral, good to 1/n.
                let values = (0..n).map(|i| draw(&source, (i as f64 + 0.5) / n as f64));
                let mean = values.clone().sum::<f64>() / n as f64;
                let std = (values.map(|x| (x - mean) * (x - mean)).sum::<f64>() / n as f64).sqrt();
                let (exact_mean, exact_std) = moments(&source);
                assert!((mean - exact_mean).abs() < 2e-4, "{distribution:?}: {mean} {exact_mean}");
                assert!((std - exact_std).abs() < 1e-3, "{distribution:?}: {std} {exact_std}");
            }
        }
    }

    /// However a run of builds is filled: each is what it is alone.
    #[test]
    fn a_run_of_builds_is_its_draws() {
        let shapes =
            [Distribution::Rectangular, Distribution::Triangular, Distribution::Arcsine, Distribution::Normal(2.0)];
        for distribution in shapes {
            for (high, degrees) in [(11.0, f64::INFINITY), (15.0, f64::INFINITY), (15.0, 4.0)] {
                let source =
                    Source { key: None, name: "x".to_owned(), nominal: 10.0, low: 9.0, high, distribution, degrees };
                let stream = Stream::new(3, &source);
                let mut column = vec![0.0; 5000];
                fill(&mut column, &source, stream, 700);
                let alone = (700..5700).map(|n| draw(&source, stream.uniform(n)));
                assert!(column.iter().zip(alone).all(|(a, b)| *a == b), "{distribution:?} {high} {degrees}");
            }
        }
        let mut far = [1e-13, 0.3, 0.5, 0.95, 1.0 - 1e-13];
        let alone = far.map(normal_quantile);
        normal_quantiles(&mut far);
        assert_eq!(far, alone);
    }

    #[test]
    fn streams_are_even_and_differ_by_name_and_seed() {
        let n = 100_000;
        let (a, b, c) = (stream(1, None, "R_t"), stream(1, None, "C_t"), stream(2, None, "R_t"));
        let d = stream(1, Some("timing.md"), "R_t");
        assert_ne!(a.uniform(0), d.uniform(0), "the same name in another worksheet");
        let mean = |s: Stream| (0..n).map(|i| s.uniform(i)).sum::<f64>() / n as f64;
        for stream in [a, b, c] {
            // Standard deviation of the mean of n uniform numbers: 1/sqrt(12 n).
            assert!((mean(stream) - 0.5).abs() < 4.0 / (12.0 * n as f64).sqrt());
        }
        for (x, y) in [(a, b), (a, c), (b, c)] {
            let covariance = (0..n).map(|i| (x.uniform(i) - 0.5) * (y.uniform(i) - 0.5)).sum::<f64>() / n as f64;
            assert!(covariance.abs() < 4.0 / 12.0 / (n as f64).sqrt());
        }
    }
}
