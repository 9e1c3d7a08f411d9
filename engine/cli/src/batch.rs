//! The same work on every worksheet of a call: at once on all cores where there are several, in place where there is one,
//! which then has the cores for itself. Results come in the order of the worksheets. A line shows how far
//! the work is and what was begun last, where a person is there to see.

use benchleaf_core::parallel;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::terminal::Progress;

/// What is done with each item, as a person at a terminal reads it.
pub(crate) struct Task<T> {
    /// In one word: `Rendering`.
    pub(crate) name: &'static str,
    /// What an item is called. It is drawn as it is, so it must be harmless.
    pub(crate) item: fn(&T) -> String,
}

/// What the work gives for each item, in the items' order.
pub(crate) fn each<T: Sync, R: Send>(
    items: &[T],
    task: &Task<T>,
    progress: Progress,
    work: impl Fn(&T) -> R + Sync,
) -> Vec<R> {
    if items.len() < 2 {
        return items.iter().map(work).collect();
    }
    let line = match progress {
        Progress::Line => line(items.len(), task.name),
        Progress::None => ProgressBar::hidden(),
    };
    let step = |item: &T| {
        if progress == Progress::Line {
            line.set_message((task.item)(item));
        }
        let result = work(item);
        line.inc(1);
        result
    };
    let results = parallel::each_alone(items, step);
    line.finish_and_clear();
    results
}

fn line(length: usize, task: &'static str) -> ProgressBar {
    let line = ProgressBar::with_draw_target(Some(length as u64), ProgressDrawTarget::stderr());
    match ProgressStyle::with_template("{prefix}: {pos} of {len} worksheets done, begun {wide_msg}") {
        Ok(style) => line.with_style(style).with_prefix(task),
        Err(_) => line,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_keep_the_order_of_the_items() {
        let items: Vec<usize> = (0..500).collect();
        let task = Task { name: "Doubling", item: usize::to_string };
        let doubled = each(&items, &task, Progress::None, |item| item * 2);
        assert!(doubled.iter().enumerate().all(|(i, double)| *double == i * 2));
        assert_eq!(each(&items[..1], &task, Progress::None, |item| item + 1), [1]);
    }
}
