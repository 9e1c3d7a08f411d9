//! The program as a whole: one worksheet against a process that does nothing, and a thousand in a folder with one thread
//! and with two, against what the machine itself gains by a second thread. Processor time is what threads cost one
//! another on a machine that others use as well.

use std::{
    cell::Cell,
    fmt::Write,
    fs,
    hint::black_box,
    path::Path,
    process::{Command, Stdio},
    thread,
};

use crate::{
    paired::{Ratio, measure, ms},
    rendering::worksheets,
};

pub(crate) fn alone() -> String {
    let folder = tempfile::tempdir().unwrap();
    let mut text = "| command | empty process / ms | ours / ms | ratio, least | ratio, median |\n\
                    | --- | ---: | ---: | ---: | ---: |\n"
        .to_owned();
    for (name, source) in worksheets() {
        fs::write(folder.path().join(&name), source).unwrap();
        for command in ["check", "render"] {
            let paired =
                measure(25, || run(&mut Command::new("true")), || run(benchleaf(folder.path(), &[command, &name])));
            let (floor, subject) = paired.least();
            let _ = writeln!(text, "| {command} {name} | {} | {} | {} |", ms(floor), ms(subject), paired.ratio());
        }
    }
    text
}

pub(crate) fn copies() -> String {
    let folder = tempfile::tempdir().unwrap();
    let sheets = worksheets();
    for i in 0..COPIES {
        let (name, source) = &sheets[i % sheets.len()];
        fs::write(folder.path().join(format!("{i:04}-{name}")), source).unwrap();
    }
    let mut text = format!(
        "| {COPIES} worksheets | one thread / ms | two threads / ms | gain, least | gain, median | processor time, two to one |\n\
         | --- | ---: | ---: | ---: | ---: | ---: |\n"
    );
    let mut row = |name: &str, work: &dyn Fn(usize)| {
        let spent = [Cell::new(0.0), Cell::new(0.0)];
        let counted = |threads: usize| {
            let before = processor_time();
            work(threads);
            spent[threads - 1].set(spent[threads - 1].get() + processor_time() - before);
        };
        let paired = measure(ROUNDS, || counted(1), || counted(2));
        let (one, two) = paired.least();
        let Ratio { least, median } = paired.ratio();
        let (gain, usual, spent) = (1.0 / least, 1.0 / median, spent[1].get() / spent[0].get());
        let _ = writeln!(text, "| {name} | {} | {} | {gain:.2} | {usual:.2} | {spent:.2} |", ms(one), ms(two));
    };
    row("the machine: sums alone", &sums);
    row("the machine: writing files of a page's size", &|threads| files(folder.path(), threads));
    let threads = |arguments: &[&str], threads: usize| {
        run(benchleaf(folder.path(), arguments).env("RAYON_NUM_THREADS", threads.to_string()));
    };
    row("check", &|n| threads(&["check", "."], n));
    row("render", &|n| threads(&["render", ".", "-o", "site", "--fresh"], n));
    text
}

/// Seconds that this process and its ended children have had of the processors: what work costs, whatever else wants
/// them. (Linux; elsewhere it is not known.)
fn processor_time() -> f64 {
    const TICKS_A_SECOND: f64 = 100.0;
    let stat = fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = stat.rsplit(')').next().unwrap_or_default().split_whitespace();
    // Fields 14 to 17 of proc(5): user and system time, and those of children; the second ends at the bracket.
    fields.skip(11).take(4).filter_map(|ticks| ticks.parse::<f64>().ok()).sum::<f64>() / TICKS_A_SECOND
}

/// Arithmetic that touches no memory, shared out over threads.
fn sums(threads: usize) {
    shared(threads, |items| {
        for _ in items {
            let mut x = black_box(1.0f64);
            for _ in 0..500_000 {
                x = x * 0.999_999 + 1e-6;
            }
            black_box(x);
        }
    });
}

/// As many files as there are pages, of a page's size, written as pages are: beside the target, then renamed.
pub(crate) fn files(folder: &Path, threads: usize) {
    let folder = folder.join("floor");
    fs::create_dir_all(&folder).unwrap();
    let page = vec![b'x'; 80_000];
    shared(threads, |items| {
        for i in items {
            let (beside, target) = (folder.join(format!("{i}.tmp")), folder.join(format!("{i}.out")));
            fs::write(&beside, &page).unwrap();
            fs::rename(&beside, &target).unwrap();
        }
    });
}

fn shared(threads: usize, work: impl Fn(std::ops::Range<usize>) + Sync) {
    let share = |i: usize| COPIES * i / threads;
    thread::scope(|scope| {
        for i in 0..threads {
            let (work, items) = (&work, share(i)..share(i + 1));
            scope.spawn(move || work(items));
        }
    });
}

pub(crate) fn benchleaf(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_benchleaf"));
    command.args(arguments).current_dir(folder).env("LC_ALL", "C");
    command
}

/// Runs a command whose verdict does not matter here.
pub(crate) fn run(mut command: impl std::borrow::BorrowMut<Command>) {
    let command = command.borrow_mut();
    let status = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).status().unwrap();
    assert!(status.code().is_some_and(|code| code < 2), "{command:?}: {status}");
}

const COPIES: usize = 1000;
const ROUNDS: u32 = 2;
