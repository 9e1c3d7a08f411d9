//! The same work on every worksheet of a call: at once on all cores where there are several, in place where there is one,
//! which then has the cores for itself. Results come in the order of the worksheets. A line shows how far
//! the work is and what was begun last, where a person is there to see.

use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    path::Path,
};

use benchleaf_core::parallel;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use benchleaf_publish::failure::Failure;
use benchleaf_words::{Word, Words, say};

use crate::terminal::Progress;

/// What is done with each item, as a person at a terminal reads it.
pub(crate) struct Labelled<T> {
    /// In a word: `Rendering`.
    pub(crate) name: Word<0>,
    /// The words of its line.
    pub(crate) words: Words<'static>,
    /// What an item is called. It is drawn as it is, so it must be harmless.
    pub(crate) item: fn(&T) -> String,
}

/// What the work gives for each item, in the items' order.
pub(crate) fn each<T: Sync, R: Send>(
    items: &[T],
    task: &Labelled<T>,
    progress: Progress,
    work: impl Fn(&T) -> R + Sync,
) -> Vec<R> {
    if items.len() < 2 {
        return items.iter().map(work).collect();
    }
    let line = match progress {
        Progress::Line => line(items.len(), task.words, task.name),
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

/// The same on worksheets: one that brings up a fault of the program takes none of the others with it.
pub(crate) fn each_worksheet<T: Sync, R: Send>(
    items: &[T],
    task: &Labelled<T>,
    path: impl Fn(&T) -> &Path + Sync,
    progress: Progress,
    work: impl Fn(&T) -> Result<R, Failure> + Sync,
) -> Vec<Result<R, Failure>> {
    each(items, task, progress, |item| {
        // Nothing of a worksheet that failed is used afterwards, so nothing half done can be seen.
        let result = catch_unwind(AssertUnwindSafe(|| work(item)));
        result.unwrap_or_else(|_| Err(Failure::Fault { path: path(item).to_owned() }))
    })
}

fn line(length: usize, words: Words<'static>, task: Word<0>) -> ProgressBar {
    let line = ProgressBar::with_draw_target(Some(length as u64), ProgressDrawTarget::stderr());
    // What stands in braces is put in by the line itself, as the work goes on.
    let template = say!(words, PROGRESS_LINE, task = "{prefix}", done = "{pos}", all = "{len}", name = "{wide_msg}");
    match ProgressStyle::with_template(&template) {
        Ok(style) => line.with_style(style).with_prefix(words.text(task)),
        Err(_) => line,
    }
}

#[cfg(test)]
mod tests {
    use benchleaf_words::key;

    use super::*;

    #[test]
    fn results_keep_the_order_of_the_items() {
        let items: Vec<usize> = (0..500).collect();
        let task = Labelled { name: key::PROGRESS_CHECKING, words: Words::ENGLISH, item: usize::to_string };
        let doubled = each(&items, &task, Progress::None, |item| item * 2);
        assert!(doubled.iter().enumerate().all(|(i, double)| *double == i * 2));
        assert_eq!(each(&items[..1], &task, Progress::None, |item| item + 1), [1]);
    }

    #[test]
    fn a_worksheet_that_brings_up_a_fault_takes_none_of_the_others_with_it() {
        for paths in [&["a.md", "b.md", "c.md", "d.md"][..], &["b.md"]] {
            let task = Labelled {
                name: key::PROGRESS_CHECKING,
                words: Words::ENGLISH,
                item: |path: &&str| (*path).to_owned(),
            };
            let results = each_worksheet(
                paths,
                &task,
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
                        assert_eq!(crate::outcome::Outcome::from(&failure).status(), 2);
                    }
                }
            }
        }
    }
}
