//! Simulated builds of `R*C*ln(3)`, everything reported of them, against a hand-written loop with the same random numbers
//! that adds its results up and keeps nothing.

use std::fmt::Write;

use benchleaf_core::{Evaluator, Options, parallel::with_threads};

use crate::paired::{measure, ms};

const SHEET: &str = "```calc\nR = 910 kΩ ± 5 %\nC = 22 µF ± 20 %\nt [s] = R * C * ln(3)\n```\n";
const SAMPLES: [u64; 3] = [100_000, 1_000_000, 10_000_000];

pub(crate) fn table() -> String {
    let mut text =
        "| samples | loop / ms | loop / M/s | engine / ms | engine / M/s | loop's speed kept, least | median |\n\
                    | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n"
            .to_owned();
    for samples in SAMPLES {
        let options = Options { samples: Some(samples), seed: Some(1), ..Options::default() };
        let paired = with_threads(1, || measure(9, || by_hand(samples), || Evaluator::with(&options).evaluate(SHEET)));
        let (floor, subject) = paired.least();
        let speed = |time: std::time::Duration| samples as f64 / time.as_secs_f64() / 1e6;
        let ratio = paired.ratio();
        let _ = writeln!(
            text,
            "| {samples} | {} | {:.0} | {} | {:.0} | {:.2} | {:.2} |",
            ms(floor),
            speed(floor),
            ms(subject),
            speed(subject),
            1.0 / ratio.least,
            1.0 / ratio.median
        );
    }
    text
}

// As one would write it.
#[allow(clippy::disallowed_methods)]
fn by_hand(samples: u64) -> f64 {
    let ln_3 = 3f64.ln();
    (0..samples)
        .map(|i| {
            let r = 910e3 * (0.95 + 0.1 * uniform(1, i));
            let c = 22e-6 * (0.8 + 0.4 * uniform(2, i));
            r * c * ln_3
        })
        .sum()
}

/// The engine's generator (SplitMix64 by counter).
fn uniform(key: u64, n: u64) -> f64 {
    let mut z = key.wrapping_add(n.wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^= z >> 31;
    ((z >> 12) as f64 + 0.5) * (1.0 / (1u64 << 52) as f64)
}
