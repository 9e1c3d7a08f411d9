//! The same work on every worksheet of a call: at once on all cores where there are several, in place where there is one,
//! which then has the cores for itself. Results come in the order of the worksheets. A bar shows how far
//! the work is where it takes long and a person is there to see.

use std::{
    sync::Once,
    time::{Duration, Instant},
};

use benchleaf_core::parallel;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::terminal::Progress;

/// What the work gives for each item, in the items' order.
pub(crate) fn each<T: Sync, R: Send>(items: &[T], progress: Progress, work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    if items.len() < 2 {
        return items.iter().map(work).collect();
    }
    let bar = LateBar::new(items.len(), progress);
    let step = |item: &T| {
        let result = work(item);
        bar.step();
        result
    };
    let results = parallel::each_alone(items, step);
    bar.finish();
    results
}

/// A progress bar that appears only once the work has gone on for a while.
struct LateBar {
    bar: ProgressBar,
    started: Instant,
    progress: Progress,
    appears: Once,
}

impl LateBar {
    fn new(length: usize, progress: Progress) -> Self {
        let bar = ProgressBar::with_draw_target(Some(length as u64), ProgressDrawTarget::hidden());
        Self { bar, started: Instant::now(), progress, appears: Once::new() }
    }

    fn step(&self) {
        if self.progress == Progress::Bar && self.started.elapsed() > LONG {
            self.appears.call_once(|| {
                if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos} of {len} worksheets, {eta} left") {
                    self.bar.set_style(style);
                }
                self.bar.set_draw_target(ProgressDrawTarget::stderr());
            });
        }
        self.bar.inc(1);
    }

    fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

/// How long a person waits without asking whether anything happens.
const LONG: Duration = Duration::from_millis(700);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_keep_the_order_of_the_items() {
        let items: Vec<usize> = (0..500).collect();
        let doubled = each(&items, Progress::None, |item| item * 2);
        assert!(doubled.iter().enumerate().all(|(i, double)| *double == i * 2));
        assert_eq!(each(&items[..1], Progress::None, |item| item + 1), [1]);
    }
}
