//! Writes what a shell and `man` know of the program, made from the definitions that its help is made from: completions for
//! bash, zsh, fish, PowerShell and elvish, and a manual page for each command.
//!
//! `cargo run -p benchleaf --example shell -- DIR`

use std::{
    fs, io,
    path::{Path, PathBuf},
};

use clap_complete::Shell;

#[allow(dead_code)] // The tests call what it calls.
fn main() -> io::Result<()> {
    match std::env::args_os().nth(1).map(PathBuf::from) {
        Some(folder) => write(&folder),
        None => Err(io::Error::other("name the folder to write to")),
    }
}

/// Writes all of it into the folders `completions` and `man` of a folder.
pub(crate) fn write(folder: &Path) -> io::Result<()> {
    let (completions, manual) = (folder.join("completions"), folder.join("man"));
    fs::create_dir_all(&completions)?;
    fs::create_dir_all(&manual)?;
    for shell in [Shell::Bash, Shell::Elvish, Shell::Fish, Shell::PowerShell, Shell::Zsh] {
        clap_complete::generate_to(shell, &mut benchleaf::command(), "benchleaf", &completions)?;
    }
    clap_mangen::generate_to(benchleaf::command(), &manual)
}
