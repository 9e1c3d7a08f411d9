//! Work dealt out to threads, where there are several. What comes of it stands in the order of the items, so the number of
//! threads changes no result. Without the feature `threads`, as in a published page, everything is done in place.

use std::sync::{Mutex, MutexGuard, PoisonError};
#[cfg(feature = "threads")]
use std::{
    sync::{
        OnceLock,
        atomic::{AtomicUsize, Ordering},
    },
    thread::{self, ThreadId},
};

#[cfg(feature = "threads")]
use rayon::{ThreadPool, ThreadPoolBuilder};

/// Whether there may be more than one.
pub const SEVERAL: bool = cfg!(feature = "threads");

/// Threads to use: as many as the machine has where nothing is said.
#[cfg(feature = "threads")]
pub fn available(most: Option<usize>) -> usize {
    most.unwrap_or_else(|| pool().map_or(1, ThreadPool::current_num_threads)).max(1)
}

/// Threads to use: one.
#[cfg(not(feature = "threads"))]
pub fn available(_: Option<usize>) -> usize {
    1
}

/// Makes the calling thread one of those that work is dealt out to, if it is the first to want them: then none has to be
/// woken in its place. For a program's main thread, which lasts as long as they do.
#[cfg(feature = "threads")]
pub fn enlist() {
    ENLISTED.get_or_init(|| thread::current().id());
}

/// The threads, made when first wanted; a system that gives none gets the work done all the same.
#[cfg(feature = "threads")]
fn pool() -> Option<&'static ThreadPool> {
    /// The stack of the main thread on the usual systems, so that a worksheet fares alike alone and among others.
    const STACK: usize = 8 * 1024 * 1024;
    let made = || {
        let builder = ThreadPoolBuilder::new().stack_size(STACK);
        let enlisted = ENLISTED.get() == Some(&thread::current().id());
        if enlisted { builder.use_current_thread() } else { builder }.build().ok()
    };
    POOL.get_or_init(made).as_ref()
}

#[cfg(feature = "threads")]
static POOL: OnceLock<Option<ThreadPool>> = OnceLock::new();
#[cfg(feature = "threads")]
static ENLISTED: OnceLock<ThreadId> = OnceLock::new();

/// What the work gives for each item, in the items' order. The calling thread does its part; whoever is done takes the next.
#[cfg(feature = "threads")]
pub fn each<T: Send, R: Send>(
    items: impl IntoIterator<Item = T>,
    threads: usize,
    work: impl Fn(T) -> R + Sync,
) -> Vec<R> {
    let items = items.into_iter();
    let pool = if threads > 1 { pool() } else { None };
    let Some(pool) = pool else { return items.map(work).collect() };
    let slots: Vec<Mutex<(Option<T>, Option<R>)>> = items.map(|item| Mutex::new((Some(item), None))).collect();
    let threads = threads.min(slots.len());
    let next = AtomicUsize::new(0);
    let take_turns = || {
        while let Some(slot) = slots.get(next.fetch_add(1, Ordering::Relaxed)) {
            let mut slot = locked(slot);
            slot.1 = slot.0.take().map(&work);
        }
    };
    pool.in_place_scope(|scope| {
        (1..threads).for_each(|_| scope.spawn(|_| take_turns()));
        take_turns();
    });
    slots.into_iter().filter_map(|slot| slot.into_inner().unwrap_or_else(PoisonError::into_inner).1).collect()
}

/// Two pieces of work side by side, each of which may deal out work of its own: whoever is done helps the other.
#[cfg(feature = "threads")]
pub fn both<A: Send, B: Send>(threads: usize, a: impl FnOnce() -> A + Send, b: impl FnOnce() -> B + Send) -> (A, B) {
    let pool = if threads > 1 { pool() } else { None };
    match pool {
        Some(pool) => pool.join(a, b),
        None => (a(), b()),
    }
}

/// Two pieces of work, one after the other.
#[cfg(not(feature = "threads"))]
pub fn both<A, B>(_: usize, a: impl FnOnce() -> A, b: impl FnOnce() -> B) -> (A, B) {
    (a(), b())
}

/// What a mutex holds, though a thread may have ended while it held it.
pub fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What the work gives for each item, in the items' order.
#[cfg(not(feature = "threads"))]
pub fn each<T, R>(items: impl IntoIterator<Item = T>, _: usize, work: impl Fn(T) -> R) -> Vec<R> {
    items.into_iter().map(work).collect()
}

#[cfg(feature = "threads")]
#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_keep_the_order_of_the_items() {
        for threads in [1, 2, 7] {
            let doubled = each(0..1000, threads, |i: u32| 2 * i);
            assert_eq!(doubled, (0..1000).map(|i| 2 * i).collect::<Vec<_>>());
        }
        assert!(each(0..0, 3, |i: u32| i).is_empty());
    }

    /// Parts of a part, as where a worksheet among others deals out its own.
    #[test]
    fn work_may_be_dealt_out_within_work() {
        let sums = each(0..20, 2, |i: u32| each(0..i, 3, |j| j).into_iter().sum::<u32>());
        assert_eq!(sums, (0..20u32).map(|i| (0..i).sum()).collect::<Vec<u32>>());
    }
}
