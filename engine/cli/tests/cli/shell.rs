//! Completions and manual pages, as they are written for the archive that is handed out.

#[path = "../../examples/shell.rs"]
mod files;

use std::{
    fs,
    process::{Command, Stdio},
};

use crate::bench::Bench;

/// The commands that the help lists.
fn commands(bench: &Bench) -> Vec<String> {
    let help = bench.run(&["--help"]).out;
    let (_, list) = help.split_once("Commands:\n").unwrap();
    let (list, _) = list.split_once("\n\n").unwrap();
    let named = list.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    named.filter_map(|line| line.split_whitespace().next()).map(str::to_owned).collect()
}

#[test]
fn a_shell_and_the_manual_know_all_commands() {
    let bench = Bench::new();
    files::write(&bench.path("shell")).unwrap();
    let commands = commands(&bench);
    assert!(commands.len() > 9 && commands.contains(&"vary".to_owned()), "{commands:?}");
    for file in ["benchleaf.bash", "_benchleaf", "benchleaf.fish", "_benchleaf.ps1", "benchleaf.elv"] {
        let text = bench.read(&format!("shell/completions/{file}"));
        for word in commands.iter().map(String::as_str).chain(["samples", "strict", "handout"]) {
            assert!(text.contains(word), "{file} does not know `{word}`");
        }
    }
    for command in &commands {
        let page = bench.read(&format!("shell/man/benchleaf-{command}.1"));
        assert!(page.contains(".SH OPTIONS") && page.contains(".TH"), "{command}");
    }
    assert!(bench.read("shell/man/benchleaf-vary.1").contains("worked out"));
    assert_eq!(fs::read_dir(bench.path("shell/man")).unwrap().count(), commands.len() + 1);
}

/// Bash itself completes with what was written.
#[cfg(target_os = "linux")]
#[test]
fn bash_completes_commands_and_options() {
    let bench = Bench::new();
    files::write(&bench.path("shell")).unwrap();
    let asked = "source shell/completions/benchleaf.bash
        COMP_WORDS=(benchleaf va); COMP_CWORD=1; _benchleaf benchleaf va benchleaf; echo \"${COMPREPLY[@]}\"
        COMP_WORDS=(benchleaf vary --ra); COMP_CWORD=2; _benchleaf benchleaf --ra vary; echo \"${COMPREPLY[@]}\"";
    let mut bash = Command::new("bash");
    bash.args(["--norc", "-c", asked]).current_dir(bench.path("")).stderr(Stdio::inherit());
    let answer = String::from_utf8(bash.output().unwrap().stdout).unwrap();
    assert_eq!(answer, "vary\n--range\n");
}

#[test]
fn the_version_names_all_that_figures_hang_on() {
    let bench = Bench::new();
    let hash = include_str!("../../../web/dist/sources.sha256");
    let version = env!("CARGO_PKG_VERSION");
    let long = bench.run(&["--version"]);
    let wanted = format!(
        "benchleaf {version}\nlanguage of worksheets: 1\nengine of live pages: {version}, from sources {}\n",
        &hash[..12]
    );
    assert_eq!((long.status, long.out), (0, wanted));
    assert_eq!(bench.run(&["-V"]).out, format!("benchleaf {version}\n"));
}
