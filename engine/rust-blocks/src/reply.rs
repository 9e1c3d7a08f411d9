//! What the process that runs blocks says, as answers to the command line: numbers, or why there are none.

use benchleaf_core::host::{
    Fault, Place,
    wire::{Answer, Ask, Source},
};

use crate::{
    compose::{Composed, Parted},
    watch::Ended,
};

/// What that process said.
#[derive(Debug)]
pub(crate) enum Reply {
    Ran(Vec<Vec<u64>>),
    Rows(Vec<u64>),
    Panicked { line: usize, said: String },
    Garbled,
}

impl Reply {
    pub(crate) fn read(text: &str) -> Self {
        let mut words = text.split(' ');
        match words.next() {
            Some("ran") => Reply::Ran(words.map(unhex).collect()),
            Some("rows") => Reply::Rows(words.next().map(unhex).unwrap_or_default()),
            Some("panicked") => Reply::Panicked {
                line: words.next().and_then(|line| line.parse().ok()).unwrap_or(0),
                said: words.next().map(text_of).unwrap_or_default(),
            },
            _ => Reply::Garbled,
        }
    }
}

/// The answer to a question.
pub(crate) fn answer(
    reply: Reply,
    ask: &Ask,
    blocks: &[(Source, Vec<Parted>)],
    composed: &Composed,
    mut printed: String,
) -> Answer {
    let (Ask::Once { block, .. } | Ask::Many { block, .. }) = ask else { return garbled() };
    let Some((source, _)) = blocks.iter().find(|(source, _)| source.block == *block) else { return garbled() };
    match reply {
        Reply::Ran(mut columns) if !columns.is_empty() => {
            // The line break before each answer is not the block's.
            if printed.ends_with('\n') {
                printed.pop();
            }
            let outputs = columns.remove(0);
            if outputs.len() == source.outputs.len() && columns.len() == source.series.len() {
                return Answer::Ran { outputs, series: columns, printed: printed.trim_end().to_owned() };
            }
            let help = "let it run to its end: take out the return";
            Answer::Fault(fault("the block ended before its results were there", help, Place::Whole))
        }
        Reply::Rows(rows) => Answer::Rows(rows),
        Reply::Panicked { line, said } => {
            let place = composed.place(*block, &source.code, (line, 1), (line, usize::MAX));
            Answer::Fault(Fault::panicked(&said, place.unwrap_or(Place::Whole)))
        }
        Reply::Ran(_) | Reply::Garbled => garbled(),
    }
}

/// The message for a process that ended while a block ran.
pub(crate) fn died(ended: Option<Ended>, complaints: &str, how: &str) -> Fault {
    let memory = complaints.contains("memory allocation of") || how.contains("memory allocation of");
    let stack = complaints.contains("overflowed its stack") || how.contains("SIGSEGV");
    let (message, help) = match ended {
        Some(Ended::TooLong) => {
            ("the block ran longer than it may, and was stopped", "look for a loop that does not end")
        }
        Some(Ended::TooMuch) => {
            ("the block printed more than it may, and was stopped", "print less: a line a step at most")
        }
        None if memory => (
            "the block asked for more memory than it may have, and was stopped",
            "keep less, or do it in smaller steps",
        ),
        None if stack => (
            "the block called itself too deeply, or reached for memory that is not its own, and was stopped",
            "write the recursion as a loop",
        ),
        None => {
            return fault(
                &format!("the block's process ended before it had a result ({})", first_line(how)),
                "look for what ends a program: abort, exit, a killed process",
                Place::Whole,
            );
        }
    };
    fault(message, help, Place::Whole)
}

fn first_line(text: &str) -> &str {
    let words = text.lines().map(str::trim).rfind(|line| !line.is_empty()).unwrap_or("without a word");
    words.trim_start_matches("Subprocess terminated with status: ")
}

fn garbled() -> Answer {
    Answer::Fault(fault(
        "the block's process said what cannot be understood",
        "let the block not write to the output stream by itself",
        Place::Whole,
    ))
}

fn fault(message: &str, help: &str, place: Place) -> Fault {
    Fault { message: message.to_owned(), help: help.to_owned(), place }
}

/// Numbers as that process reads them.
pub(crate) fn hex(bits: &[u64]) -> String {
    use std::fmt::Write;
    let mut text = String::with_capacity(bits.len() * 16 + 1);
    for bits in bits {
        let _ = write!(text, "{bits:016x}");
    }
    if text.is_empty() { "-".to_owned() } else { text }
}

fn unhex(text: &str) -> Vec<u64> {
    let digits = text.as_bytes().chunks_exact(16);
    digits
        .map(|digits| std::str::from_utf8(digits).ok().and_then(|digits| u64::from_str_radix(digits, 16).ok()))
        .map(|bits| bits.unwrap_or(f64::NAN.to_bits()))
        .collect()
}

fn text_of(hex: &str) -> String {
    let bytes: Vec<u8> =
        (0..hex.len() / 2).filter_map(|i| u8::from_str_radix(hex.get(2 * i..2 * i + 2)?, 16).ok()).collect();
    String::from_utf8_lossy(&bytes).into_owned()
}
