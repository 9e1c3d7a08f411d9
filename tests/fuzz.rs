//! A fixed number of fuzzed inputs, and those that once went wrong. `cargo run --release -p benchleaf-tests --example fuzz`
//! runs as many as wanted; an input that fails here is named by its number.

use std::{
    panic::catch_unwind,
    sync::atomic::{AtomicU64, Ordering},
    thread,
};

use benchleaf_tests::fuzzing::target_of;

#[test]
fn no_input_breaks_what_must_hold() {
    let (next, threads) = (AtomicU64::new(0), thread::available_parallelism().map_or(1, usize::from));
    let wrong: Vec<String> = thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|_| {
                scope.spawn(|| {
                    let mut wrong = Vec::new();
                    loop {
                        let number = next.fetch_add(1, Ordering::Relaxed);
                        if number >= INPUTS {
                            return wrong;
                        }
                        let target = target_of(number);
                        let input = (target.input)(number);
                        if catch_unwind(|| (target.run)(&input)).is_err() {
                            wrong.push(format!(
                                "input {number}, {}: {:?}",
                                target.name,
                                String::from_utf8_lossy(&input)
                            ));
                        }
                    }
                })
            })
            .collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap_or_else(|_| vec!["a worker".to_owned()])).collect()
    });
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Half a minute on two cores without optimisation.
const INPUTS: u64 = 4_000;
