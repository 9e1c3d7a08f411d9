//! The normal distribution: its quantiles, one by one and by the run, and its distribution function.

/// The normal distribution's quantile, to about 1e-16 (M. J. Wichura, "Algorithm AS 241", Applied Statistics 37, 1988).
pub(super) fn normal_quantile(p: f64) -> f64 {
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
pub(super) fn normal_quantiles(probabilities: &mut [f64]) {
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
pub(super) fn normal_probability(z: f64) -> f64 {
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
