//! The same work on every worksheet of a call: at once on all cores where there are several, in place where there is one,
//! which then has the cores for itself. Results come in the order of the worksheets. A bar shows how far
//! the work is where it takes long and a person is there to see.

use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    path::Path,
    sync::Once,
    time::{Duration, Instant},
};

use benchleaf_core::threads;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::{failure::Failure, terminal::Progress};

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
    let results = threads::each(items, threads::available(None), step);
    bar.finish();
    results
}

/// The same on worksheets: one that brings up a fault of the program takes none of the others with it.
pub(crate) fn each_worksheet<T: Sync, R: Send>(
    items: &[T],
    path: impl Fn(&T) -> &Path + Sync,
    progress: Progress,
    work: impl Fn(&T) -> Result<R, Failure> + Sync,
) -> Vec<Result<R, Failure>> {
    each(items, progress, |item| {
        // Of a worksheet that failed nothing is used any more, so nothing half done can be seen.
        let result = catch_unwind(AssertUnwindSafe(|| work(item)));
        result.unwrap_or_else(|_| Err(Failure::Fault { path: path(item).to_owned() }))
    })
}

/// Threads that one of so many items may use for itself: where there are several, the items share the cores already.
pub(crate) fn threads_each(items: usize) -> Option<usize> {
    (items > 1).then_some(1)
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

    #[test]
    fn a_worksheet_that_brings_up_a_fault_takes_none_of_the_others_with_it() {
        for paths in [&["a.md", "b.md", "c.md", "d.md"][..], &["b.md"]] {
            let results = each_worksheet(
                paths,
                |path| Path::new(path),
                Progress::None,
                |path| {
                    assert!(*path != "b.md", "a fault");
                    Ok(path.len())
                },
            );
            for (path, result) in paths.iter().zip(results) {
                match result {
                    Ok(length) => assert!(length == 4 && *path != "b.md"),
                    Err(failure) => {
                        assert!(matches!(&failure, Failure::Fault { path } if path == Path::new("b.md")));
                        assert_eq!(failure.outcome().status(), 2);
                    }
                }
            }
        }
    }
}
