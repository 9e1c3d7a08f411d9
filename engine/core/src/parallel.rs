//! Work shared between threads. Results stand in the order of the items, so the number of threads changes no result. The
//! threads are those of the rayon pool that the caller runs in; without the feature `threads`, as in a published page,
//! everything is done in place.

use std::sync::{Mutex, MutexGuard, PoisonError};
#[cfg(feature = "threads")]
use std::{
    sync::atomic::{AtomicUsize, Ordering},
    thread,
};

#[cfg(feature = "threads")]
use rayon::{
    ThreadPoolBuilder,
    iter::{IndexedParallelIterator, IntoParallelIterator, ParallelIterator},
};

/// The results of the work for each item, in the items' order.
#[cfg(feature = "threads")]
pub fn each<T: Send, R: Send>(items: impl IntoIterator<Item = T>, work: impl Fn(T) -> R + Sync + Send) -> Vec<R> {
    let items: Vec<T> = items.into_iter().collect();
    if items.len() < 2 || threads() == 1 {
        return items.into_iter().map(work).collect();
    }
    items.into_par_iter().with_max_len(1).map(work).collect()
}

/// The results of the work for each item, in the items' order.
#[cfg(not(feature = "threads"))]
pub fn each<T, R>(items: impl IntoIterator<Item = T>, work: impl Fn(T) -> R) -> Vec<R> {
    items.into_iter().map(work).collect()
}

/// Two pieces of work side by side, each of which may share out work of its own.
#[cfg(feature = "threads")]
pub fn both<A: Send, B: Send>(a: impl FnOnce() -> A + Send, b: impl FnOnce() -> B + Send) -> (A, B) {
    if threads() == 1 { (a(), b()) } else { rayon::join(a, b) }
}

/// Two pieces of work, one after the other.
#[cfg(not(feature = "threads"))]
pub fn both<A, B>(a: impl FnOnce() -> A, b: impl FnOnce() -> B) -> (A, B) {
    (a(), b())
}

/// Threads that work is shared between.
#[cfg(feature = "threads")]
pub fn threads() -> usize {
    rayon::current_num_threads()
}

/// Threads that work is shared between: one.
#[cfg(not(feature = "threads"))]
pub fn threads() -> usize {
    1
}

/// Sets up the threads of the whole program, the calling one among them: as many as the machine has, or as
/// `RAYON_NUM_THREADS` says. For the first lines of `main`. A system that allows no more threads leaves the calling one.
#[cfg(feature = "threads")]
pub fn set_up() {
    let builder = || ThreadPoolBuilder::new().use_current_thread().stack_size(STACK);
    if builder().build_global().is_err() {
        // Where a pool exists already, this changes nothing.
        let _ = builder().num_threads(1).build_global();
    }
}

/// Does some work with so many threads instead of those that the caller runs in; with the latter where a system allows no
/// more.
#[cfg(feature = "threads")]
pub fn with_threads<R: Send>(threads: usize, work: impl FnOnce() -> R + Send) -> R {
    match ThreadPoolBuilder::new().num_threads(threads).stack_size(STACK).build() {
        Ok(pool) => pool.install(work),
        Err(_) => work(),
    }
}

/// The results of the work for each item, in the items' order: each item has one thread, and what it would share out is
/// done in place. For many items that are large by themselves.
#[cfg(feature = "threads")]
pub fn each_alone<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let slots: Vec<Mutex<Option<R>>> = items.iter().map(|_| Mutex::new(None)).collect();
    let next = AtomicUsize::new(0);
    let take_turns = || {
        while let Some((item, slot)) = items.iter().zip(&slots).nth(next.fetch_add(1, Ordering::Relaxed)) {
            *locked(slot) = Some(work(item));
        }
    };
    let alone = || match ThreadPoolBuilder::new().num_threads(1).use_current_thread().build() {
        Ok(pool) => pool.install(take_turns),
        Err(_) => take_turns(),
    };
    thread::scope(|scope| {
        let start = |_| thread::Builder::new().stack_size(STACK).spawn_scoped(scope, alone).is_ok();
        // Without any other thread the calling one does it all.
        if (0..threads().min(items.len())).map(start).filter(|started| *started).count() == 0 {
            take_turns();
        }
    });
    slots.into_iter().filter_map(|slot| slot.into_inner().unwrap_or_else(PoisonError::into_inner)).collect()
}

/// The value behind a mutex, even where a thread has panicked while it held it.
pub fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The stack of the main thread on the usual systems, so that a worksheet fares alike alone and among others.
#[cfg(feature = "threads")]
const STACK: usize = 8 * 1024 * 1024;

#[cfg(feature = "threads")]
#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_keep_the_order_of_the_items() {
        for threads in [1, 2, 7] {
            let doubled = with_threads(threads, || each(0..1000, |i: u32| 2 * i));
            assert_eq!(doubled, (0..1000).map(|i| 2 * i).collect::<Vec<_>>());
        }
        assert!(each(0..0, |i: u32| i).is_empty());
        let items: Vec<u32> = (0..100).collect();
        assert_eq!(each_alone(&items, |i| (2 * i, threads())), items.iter().map(|i| (2 * i, 1)).collect::<Vec<_>>());
    }

    #[test]
    fn work_may_be_shared_out_within_work() {
        let sums = with_threads(2, || each(0..20, |i: u32| each(0..i, |j| j).into_iter().sum::<u32>()));
        assert_eq!(sums, (0..20u32).map(|i| (0..i).sum()).collect::<Vec<u32>>());
    }
}
