//! Prints the chapters of the guide that are made from the engine's own tables: `messages` (chapter 9) or `tables`
//! (chapter 10). A test of the guide holds the committed chapters against what is printed here.
#![allow(clippy::print_stdout, clippy::print_stderr)]

mod messages;
mod tables;

use std::process::ExitCode;

fn main() -> ExitCode {
    let unexplained = messages::unexplained();
    if !unexplained.is_empty() {
        eprintln!("no example in messages.rs earns {}", unexplained.join(", "));
    }
    let without = tables::without_example();
    if !without.is_empty() {
        eprintln!("no sound example in examples.rs for {}", without.join(", "));
    }
    match std::env::args().nth(1).as_deref() {
        Some("messages") => print!("{}", messages::chapter()),
        Some("tables") => print!("{}", tables::chapter()),
        _ => {
            eprintln!("name a chapter: messages or tables");
            return ExitCode::from(2);
        }
    }
    ExitCode::SUCCESS
}
