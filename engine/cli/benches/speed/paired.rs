//! Two pieces of work timed turn about. A ratio of times that were measured a moment apart is steady where the times
//! themselves are not; harnesses that time one piece after the other do not give it.

use std::{
    fmt,
    hint::black_box,
    time::{Duration, Instant},
};

/// Times of a floor and of what is held against it, each of one pass, in the order they were measured.
pub(crate) struct Paired {
    floor: Vec<Duration>,
    subject: Vec<Duration>,
}

/// Measures both, turn about, until there are `rounds` of each. Short work is done many times in a round.
pub(crate) fn measure<F, S>(rounds: u32, mut floor: impl FnMut() -> F, mut subject: impl FnMut() -> S) -> Paired {
    let (floor_passes, subject_passes) = (passes(&mut floor), passes(&mut subject));
    let mut paired = Paired { floor: Vec::new(), subject: Vec::new() };
    for _ in 0..rounds {
        paired.floor.push(time(floor_passes, &mut floor));
        paired.subject.push(time(subject_passes, &mut subject));
    }
    paired
}

impl Paired {
    /// The least time of each: what the work takes when nothing else disturbs it.
    pub(crate) fn least(&self) -> (Duration, Duration) {
        let least = |times: &[Duration]| times.iter().min().copied().unwrap_or_default();
        (least(&self.floor), least(&self.subject))
    }

    /// Subject over floor: of the least times, and the median of the rounds'.
    pub(crate) fn ratio(&self) -> Ratio {
        let of = |floor: Duration, subject: Duration| subject.as_secs_f64() / floor.as_secs_f64();
        let mut ratios: Vec<f64> = self.floor.iter().zip(&self.subject).map(|(f, s)| of(*f, *s)).collect();
        ratios.sort_by(f64::total_cmp);
        let (floor, subject) = self.least();
        Ratio { least: of(floor, subject), median: ratios[ratios.len() / 2] }
    }
}

/// How many times as long one piece of work takes as another.
#[derive(Clone, Copy)]
pub(crate) struct Ratio {
    pub(crate) least: f64,
    pub(crate) median: f64,
}

impl fmt::Display for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.2} | {:.2}", self.least, self.median)
    }
}

/// In milliseconds.
pub(crate) fn ms(time: Duration) -> String {
    format!("{:.3}", time.as_secs_f64() * 1e3)
}

fn time<T>(passes: u32, work: &mut impl FnMut() -> T) -> Duration {
    let start = Instant::now();
    for _ in 0..passes {
        black_box(work());
    }
    start.elapsed() / passes
}

/// Passes that fill a round, by one that warms up and is not counted.
fn passes<T>(work: &mut impl FnMut() -> T) -> u32 {
    let once = time(1, work).as_secs_f64().max(1e-9);
    (ROUND.as_secs_f64() / once).clamp(1.0, 1e6) as u32
}

/// How long a round lasts, where one pass is shorter.
const ROUND: Duration = Duration::from_millis(10);
