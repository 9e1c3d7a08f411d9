//! How fast the engine is, as ratios: every time is measured beside a floor that the machine sets, in the same run and
//! turn about, so that the figures mean something on any machine and under any load.
//! `cargo bench -p benchleaf --profile dist` prints the tables of `book/13-speed.md`; with `-- growth`, those whose name
//! holds a word.

// A measurement that goes wrong is not worth finishing.
#![allow(clippy::unwrap_used)]

mod alternatives;
mod builds;
mod drawing;
mod growth;
mod paired;
mod process;
mod rendering;
mod site;
mod studies;

use std::io::{self, Write};

use benchleaf_core::parallel;
use mimalloc::MiMalloc;

/// The program's own.
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> io::Result<()> {
    // As the program does.
    parallel::set_up();
    // cargo passes --bench along.
    let wanted = std::env::args().skip(1).find(|argument| !argument.starts_with('-')).unwrap_or_default();
    type Table = (&'static str, fn() -> String);
    let tables: &[Table] = &[
        ("rendering", rendering::table),
        ("builds", builds::table),
        ("alternatives", alternatives::table),
        ("drawing", drawing::table),
        ("process", process::alone),
        ("copies", process::copies),
        ("site", site::table),
        ("studies", studies::table),
        ("growth", growth::evaluating),
        ("growth of pages", growth::rendering),
    ];
    for (name, table) in tables.iter().filter(|(name, _)| name.contains(&wanted)) {
        writeln!(io::stdout(), "\n{name}\n{}", table())?;
    }
    Ok(())
}
