//! The command line as a user meets it: the program is run in a folder of its own, and judged by its exit status, its two
//! streams and the files that it leaves.

mod bad_input;
#[cfg(test)]
mod bench;
mod check;
mod constants;
mod diff;
mod files;
#[cfg(test)]
mod languages;
#[cfg(test)]
mod lsp;
mod mark;
mod pictures;
mod published;
mod render;
mod rust;
#[cfg(test)]
mod serve;
#[cfg(test)]
mod shell;
mod start;
mod streams;
#[cfg(test)]
mod uses;
#[cfg(test)]
mod vary;
