//! Looks after the process that blocks run in: takes what it prints, and ends it when it takes too long or prints without
//! end. `evcxr` waits for that process and for nobody else, so the watch has a thread of its own.

use std::{
    process::Child,
    sync::{Arc, Mutex, PoisonError},
    time::{Duration, Instant},
};

use evcxr::EvalContextOutputs;

/// The watch over a process.
#[derive(Clone)]
pub(crate) struct Watch {
    seen: Arc<Mutex<Seen>>,
}

/// What was seen since the last look.
#[derive(Default)]
struct Seen {
    outputs: Option<EvalContextOutputs>,
    printed: String,
    /// Bytes printed, those that are not kept included.
    bytes: usize,
    complaints: String,
    deadline: Option<Instant>,
    /// This process's memory when the run began, in pages.
    memory: u64,
    ended: Option<Ended>,
}

/// Why the watch ended the process.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ended {
    /// It took too long.
    TooLong,
    /// It printed too much.
    TooMuch,
}

impl Watch {
    /// Watches a process; whichever process the handle stands for in future, too.
    pub(crate) fn over(process: Arc<Mutex<Child>>, outputs: EvalContextOutputs) -> Self {
        let seen = Arc::new(Mutex::new(Seen { outputs: Some(outputs), ..Seen::default() }));
        let watched = Arc::clone(&seen);
        std::thread::spawn(move || {
            loop {
                std::thread::sleep(LOOK);
                let mut seen = watched.lock().unwrap_or_else(PoisonError::into_inner);
                seen.take();
                let late = seen.deadline.is_some_and(|deadline| Instant::now() > deadline);
                // A line without an end does not come through, and grows in this process's own memory.
                let grown = seen.deadline.is_some() && memory().saturating_sub(seen.memory) > MOST_GROWN;
                if let (true, None) = (late || grown || seen.bytes > MOST_PRINTED, seen.ended) {
                    seen.ended = Some(if late { Ended::TooLong } else { Ended::TooMuch });
                    // Gone already is as good.
                    let _ = process.lock().unwrap_or_else(PoisonError::into_inner).kill();
                }
            }
        });
        Self { seen }
    }

    /// From now on the process is on the clock, and what it prints is kept.
    pub(crate) fn begin(&self, time: Duration) {
        let mut seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        seen.take();
        seen.forget();
        seen.deadline = Some(Instant::now() + time);
        seen.memory = memory();
    }

    /// Off the clock again: what it printed, what it wrote to its error stream, and whether it was ended.
    pub(crate) fn end(&self) -> (String, String, Option<Ended>) {
        let mut seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        seen.take();
        let answer = (std::mem::take(&mut seen.printed), std::mem::take(&mut seen.complaints), seen.ended);
        seen.forget();
        answer
    }
}

impl Seen {
    fn take(&mut self) {
        let Some(outputs) = self.outputs.take() else { return };
        for line in outputs.stdout.try_iter() {
            self.bytes += line.len() + 1;
            if self.printed.len() < MOST_KEPT {
                self.printed.push_str(&line);
                self.printed.push('\n');
            }
        }
        for line in outputs.stderr.try_iter() {
            self.bytes += line.len() + 1;
            if self.complaints.len() < MOST_KEPT {
                self.complaints.push_str(&line);
                self.complaints.push('\n');
            }
        }
        self.outputs = Some(outputs);
    }

    fn forget(&mut self) {
        self.printed.clear();
        self.complaints.clear();
        (self.bytes, self.deadline, self.ended) = (0, None, None);
    }
}

/// Pages of memory that this process takes; 0 where the system does not say.
fn memory() -> u64 {
    let answer = std::fs::read_to_string("/proc/self/statm").unwrap_or_default();
    answer.split(' ').nth(1).and_then(|pages| pages.parse().ok()).unwrap_or(0)
}

/// Pages that this process may grow by in a run: 64 MiB on the usual systems.
const MOST_GROWN: u64 = 16 << 10;
/// How often it looks.
const LOOK: Duration = Duration::from_millis(2);
/// Text that is kept of a run.
const MOST_KEPT: usize = 64 << 10;
/// Text after which a run is ended.
const MOST_PRINTED: usize = 2 << 20;
