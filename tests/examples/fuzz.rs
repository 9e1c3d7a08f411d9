//! A long run of the fuzzed inputs: `cargo run --release -p benchleaf-tests --example fuzz -- COUNT [FIRST] [THREADS]`. Each
//! thread keeps the number of its input in a file, so that a run that was aborted says where. An input is reported that takes
//! more than five seconds of a processor. `-- show NUMBER` writes an input to the output stream,
//! `-- requests COUNT [FIRST]` what published pages ask their engine, for `engine/web/tests/requests.js`.
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::{
    env, fs,
    io::Write,
    panic::{catch_unwind, set_hook},
    process::ExitCode,
    sync::atomic::{AtomicU64, Ordering},
    thread,
    time::Duration,
};

use benchleaf_tests::fuzzing::{request, target_of};

fn main() -> ExitCode {
    let arguments: Vec<String> = env::args().skip(1).collect();
    let whole = |at: usize, other: u64| arguments.get(at).and_then(|text| text.parse().ok()).unwrap_or(other);
    if arguments.first().is_some_and(|word| word == "show") {
        let number = whole(1, 0);
        let written = std::io::stdout().write_all(&(target_of(number).input)(number));
        return if written.is_ok() { ExitCode::SUCCESS } else { ExitCode::FAILURE };
    }
    if arguments.first().is_some_and(|word| word == "requests") {
        let written = (whole(2, 0)..whole(2, 0) + whole(1, 0)).try_for_each(|number| {
            let request = request(number);
            std::io::stdout().write_all(&(request.len() as u32).to_le_bytes())?;
            std::io::stdout().write_all(&request)
        });
        return if written.is_ok() { ExitCode::SUCCESS } else { ExitCode::FAILURE };
    }
    let (count, first, threads) = (whole(0, 100_000), whole(1, 0), whole(2, 2));
    let (next, failed, slowest) = (AtomicU64::new(first), AtomicU64::new(0), AtomicU64::new(0));
    set_hook(Box::new(|_| {}));
    thread::scope(|scope| {
        for worker in 0..threads {
            let (next, failed, slowest) = (&next, &failed, &slowest);
            scope.spawn(move || {
                let place = env::temp_dir().join(format!("fuzz-{}-{worker}", std::process::id()));
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if number >= first + count {
                        break;
                    }
                    let _ = fs::write(&place, number.to_string());
                    if number % 20_000 == 0 {
                        eprintln!("{number}");
                    }
                    let target = target_of(number);
                    let (input, before) = ((target.input)(number), busy());
                    let result = catch_unwind(|| (target.run)(&input));
                    let took = busy().saturating_sub(before);
                    slowest.fetch_max(took.as_millis() as u64, Ordering::Relaxed);
                    if let Err(cause) = result {
                        failed.fetch_add(1, Ordering::Relaxed);
                        let said = cause
                            .downcast_ref::<String>()
                            .cloned()
                            .or(cause.downcast_ref::<&str>().map(|text| (*text).to_owned()));
                        let said: String = said.unwrap_or_default().chars().take(300).collect();
                        println!("{number} {}: {said}", target.name);
                    }
                    if took > LONGEST {
                        failed.fetch_add(1, Ordering::Relaxed);
                        println!("{number} {}: {took:?}", target.name);
                    }
                }
                let _ = fs::remove_file(place);
            });
        }
    });
    let failed = failed.into_inner();
    println!("{count} inputs from {first}: {failed} failed, the slowest took {} ms", slowest.into_inner());
    if failed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// How long this thread has had a processor, where the system says so.
fn busy() -> Duration {
    let text = fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    Duration::from_nanos(text.split(' ').next().and_then(|number| number.parse().ok()).unwrap_or(0))
}

/// What an input may take.
const LONGEST: Duration = Duration::from_secs(5);
