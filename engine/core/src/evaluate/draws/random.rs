//! Random numbers by counter: the draw of a given in build number n depends on the seed, the given's name and n alone, so
//! it is the same at any number of threads, on any machine, and whatever else stands in the worksheet. The mixing function
//! is SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014).

use std::f64::consts::PI;

use super::student::student_quantile;
use crate::lang::ast::Distribution;
use crate::program::Source;

/// Draws of one source.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stream {
    key: u64,
}

const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

impl Stream {
    /// The stream of a source, by the seed, its name and, where it comes from another worksheet, that worksheet.
    pub(crate) fn new(seed: u64, source: &Source) -> Self {
        // FNV-1a over worksheet and name with a byte between them that neither has, mixed with the seed.
        let worksheet = source.worksheet.iter().flat_map(|worksheet| worksheet.bytes().chain([0]));
        let hash = worksheet.chain(source.name.bytes()).fold(0xcbf2_9ce4_8422_2325, |hash: u64, byte| {
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

/// The normal distribution's quantile, to about 1e-16 (M. J. Wichura, "Algorithm AS 241", Applied Statistics 37, 1988).
pub(crate) fn normal_quantile(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= CENTRE_ENDS {
        return central_quantile(q);
    }
    let r = depth(p);
    let size = if r <= MIDDLE_ENDS { ratio(r - 1.6, &MIDDLE) } else { ratio(r - 5.0, &FAR) };
    if q < 0.0 { -size } else { size }
}

fn central_quantile(q: f64) -> f64 {
    // The square of `CENTRE_ENDS`, as published.
    q * ratio(0.180_625 - q * q, &CENTRE)
}

/// How deep in its tail a probability lies.
fn depth(p: f64) -> f64 {
    let tail = if p < 0.5 { p } else { 1.0 - p };
    (-libm::log(tail)).sqrt()
}

/// Puts for each probability its [`normal_quantile`]: first for all as if they were central, which most are, then anew for
/// the others.
fn normal_quantiles(probabilities: &mut [f64]) {
    const AT_ONCE: usize = 256;
    for chunk in probabilities.chunks_mut(AT_ONCE) {
        let (mut places, mut depths, mut held) = ([0; AT_ONCE], [0.0; AT_ONCE], 0);
        for (i, p) in chunk.iter().enumerate() {
            // Every one is written, and the next one over it unless it is outside: no branch to guess.
            places[held % AT_ONCE] = i;
            held += usize::from((p - 0.5).abs() > CENTRE_ENDS);
        }
        let (places, depths) = (&places[..held.min(AT_ONCE)], &mut depths[..held.min(AT_ONCE)]);
        places.iter().zip(&mut *depths).for_each(|(i, r)| *r = depth(chunk[*i]));
        if depths.iter().any(|r| *r > MIDDLE_ENDS) {
            chunk.iter_mut().for_each(|p| *p = normal_quantile(*p));
            continue;
        }
        chunk.iter_mut().for_each(|p| *p = central_quantile(*p - 0.5));
        depths.iter_mut().for_each(|r| *r = ratio(*r - 1.6, &MIDDLE));
        // What the central formula makes of the outer ones has their sign.
        places.iter().zip(depths).for_each(|(i, size)| chunk[*i] = size.copysign(chunk[*i]));
    }
}

/// The normal distribution function.
pub(crate) fn normal_probability(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

type Coefficients = ([f64; 8], [f64; 8]);

fn ratio(r: f64, (above, below): &Coefficients) -> f64 {
    polynomial(r, above) / polynomial(r, below)
}

/// By Horner's rule, written out: it is wanted for every sample of a normal distribution.
fn polynomial(x: f64, c: &[f64; 8]) -> f64 {
    ((((((c[7] * x + c[6]) * x + c[5]) * x + c[4]) * x + c[3]) * x + c[2]) * x + c[1]) * x + c[0]
}

/// How far from a half the probabilities of the central formula reach.
const CENTRE_ENDS: f64 = 0.425;
/// How deep in a tail those of the middle one reach.
const MIDDLE_ENDS: f64 = 5.0;
#[allow(clippy::excessive_precision, clippy::unreadable_literal)]
const CENTRE: Coefficients = (
    [
        3.3871328727963666080,
        1.3314166789178437745e2,
        1.9715909503065514427e3,
        1.3731693765509461125e4,
        4.5921953931549871457e4,
        6.7265770927008700853e4,
        3.3430575583588128105e4,
        2.5090809287301226727e3,
    ],
    [
        1.0,
        4.2313330701600911252e1,
        6.8718700749205790830e2,
        5.3941960214247511077e3,
        2.1213794301586595867e4,
        3.9307895800092710610e4,
        2.8729085735721942674e4,
        5.2264952788528545610e3,
    ],
);
#[allow(clippy::excessive_precision, clippy::unreadable_literal)]
const MIDDLE: Coefficients = (
    [
        1.42343711074968357734,
        4.63033784615654529590,
        5.76949722146069140550,
        3.64784832476320460504,
        1.27045825245236838258,
        2.41780725177450611770e-1,
        2.27238449892691845833e-2,
        7.74545014278341407640e-4,
    ],
    [
        1.0,
        2.05319162663775882187,
        1.67638483018380384940,
        6.89767334985100004550e-1,
        1.48103976427480074590e-1,
        1.51986665636164571966e-2,
        5.47593808499534494600e-4,
        1.05075007164441684324e-9,
    ],
);
#[allow(clippy::excessive_precision, clippy::unreadable_literal)]
const FAR: Coefficients = (
    [
        6.65790464350110377720,
        5.46378491116411436990,
        1.78482653991729133580,
        2.96560571828504891230e-1,
        2.65321895265761230930e-2,
        1.24266094738807843860e-3,
        2.71155556874348757815e-5,
        2.01033439929228813265e-7,
    ],
    [
        1.0,
        5.99832206555887937690e-1,
        1.36929880922735805310e-1,
        1.48753612908506148525e-2,
        7.86869131145613259100e-4,
        1.84631831751005468180e-5,
        1.42151175831644588870e-7,
        2.04426310338993978564e-15,
    ],
);

#[cfg(test)]
mod tests {
    use super::*;

    fn stream(seed: u64, worksheet: Option<&str>, name: &str) -> Stream {
        let (worksheet, name) = (worksheet.map(Box::from), name.to_owned());
        let distribution = Distribution::Rectangular;
        Stream::new(
            seed,
            &Source { worksheet, name, nominal: 0.0, low: 0.0, high: 0.0, distribution, degrees: f64::INFINITY },
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
                    worksheet: None,
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
                let source = Source {
                    worksheet: None,
                    name: "x".to_owned(),
                    nominal: 10.0,
                    low: 9.0,
                    high,
                    distribution,
                    degrees,
                };
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
