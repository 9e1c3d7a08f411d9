//! Permission for Rust blocks, and what is reported where they are not run. Nothing here needs a Rust toolchain: the program is
//! run from a place that has no `benchleaf-rust` beside it, so that what is permitted is reported as missing. What blocks do
//! when they run is tested in `engine/rust-blocks`.

#![allow(clippy::unwrap_used)]

use std::{fs, path::PathBuf};

use crate::bench::{Bench, Run};

const SHEET: &str = "# Sheet\n\n```calc\nR = 10 kΩ ± 5 %\nkeep R below 11 kΩ\n```\n\n```rust calc -> R_2 [Ω] \"twice\"\nlet R_2 = R * 2.0;\n```\n\n\
                     ```calc\nR_4 = 2 * R_2\nkeep R_4 above 1 Ω\n```\n\nIt is {R_4}.\n";

#[test]
fn without_permission_a_block_is_shown_as_code_and_nothing_is_wrong() {
    let bench = Bench::with(&[("a.md", SHEET)]);
    let found = bench.alone(&["check", "--strict", "a.md"]).exits(0);
    assert!(found.out.starts_with("a.md: 1 requirement holds, 0 at risk, 0 broken\n"), "{}", found.out);
    assert_eq!(found.err.matches("N-rust").count(), 1, "one note is enough: {}", found.err);
    found.warns(&["N-rust-off", "shown as code: you have not permitted Rust blocks to run", "--allow-rust"]);
    bench.alone(&["render", "--still", "a.md"]).exits(0);
    let page = bench.read("a.html");
    for part in ["let R_2 = R * 2.0;", "A calculation in Rust, not run:", "waits for a Rust block that was not run"] {
        assert!(page.contains(part), "{part} is missing");
    }
    let json: serde_json::Value =
        serde_json::from_str(&bench.alone(&["check", "--json", "a.md"]).exits(0).out).unwrap();
    let severities: Vec<&str> =
        json["problems"].as_array().unwrap().iter().map(|problem| problem["severity"].as_str().unwrap()).collect();
    assert!(severities.len() >= 3 && severities.iter().all(|severity| *severity == "note"), "{severities:?}");
}

#[test]
fn the_command_line_permits_and_what_is_missing_is_told() {
    let bench = Bench::with(&[("a.md", SHEET)]);
    let found = bench.alone(&["check", "--allow-rust", "a.md"]).exits(0);
    found.warns(&["the program benchleaf-rust is not installed", "cargo install --locked --path engine/rust-blocks"]);
}

#[test]
fn a_folder_of_the_configuration_permits_what_lies_in_it_and_nothing_else() {
    let bench = Bench::with(&[("sheets/a.md", SHEET), ("elsewhere/a.md", SHEET)]);
    let folder = bench.path("sheets");
    bench.put("config/benchleaf/config.toml", format!("allow_rust_in = [{:?}]\n", folder.to_str().unwrap()));
    bench.alone(&["check", "sheets/a.md"]).exits(0).warns(&["benchleaf-rust is not installed"]);
    bench.alone(&["check", "elsewhere/a.md"]).exits(0).warns(&["you have not permitted"]);
    bench.alone(&["check", "sheets/../elsewhere/a.md"]).exits(0).warns(&["you have not permitted"]);
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(bench.path("elsewhere/a.md"), bench.path("sheets/link.md")).unwrap();
        bench.alone(&["check", "sheets/link.md"]).exits(0).warns(&["you have not permitted"]);
    }
    // A worksheet cannot give the permission itself.
    bench.put("sheets/b.md", "+++\nallow_rust = true\n+++\n# x\n");
    bench.alone(&["check", "sheets/b.md"]).exits(2).warns(&["E-metadata-key"]);
    bench.put("config/benchleaf/config.toml", "allow_rust_in = \"everywhere\"\n");
    bench.alone(&["check", "sheets/a.md"]).exits(3).warns(&["config.toml", "allow_rust_in = ["]);
}

#[test]
fn the_fence_is_read_with_care() {
    for (fence, code) in [
        ("rust calc => a", "E-syntax"),
        ("rust calc ->", "E-syntax"),
        ("rust calc -> a [s", "E-unclosed"),
        ("rust calc -> a [foo]", "E-unknown-unit"),
        ("rust calc -> R [Ω]", "E-redefined"),
        ("rust calc -> a, a", "E-redefined"),
        ("rust calc -> a, series a", "E-redefined"),
        ("rust calc -> a [EUR]", "E-rust"),
    ] {
        let bench = Bench::with(&[("a.md", &format!("```calc\nR = 1 kΩ\n```\n\n```{fence}\nlet a = 1;\n```\n"))]);
        bench.alone(&["check", "a.md"]).exits(2).warns(&[code]);
    }
}

impl Bench {
    /// Runs a copy of the program from a folder of its own, with a path that leads nowhere and settings from here.
    fn alone(&self, arguments: &[&str]) -> Run {
        let program = self.program();
        let mut command = self.any_command(program);
        command.args(arguments).env("PATH", "/nonexistent");
        command.env("XDG_CONFIG_HOME", self.path("config")).env("XDG_CACHE_HOME", self.path("cache"));
        Run::of(&mut command)
    }

    fn program(&self) -> PathBuf {
        let copy = self.path("bin").join(format!("benchleaf{}", std::env::consts::EXE_SUFFIX));
        if !copy.exists() {
            fs::create_dir_all(self.path("bin")).unwrap();
            // No symbolic link, since the program looks beside itself with these followed. And a copy last: where another test
            // starts a process while it is written, it stays busy for a moment.
            let program = env!("CARGO_BIN_EXE_benchleaf");
            fs::hard_link(program, &copy).or_else(|_| fs::copy(program, &copy).map(|_| ())).unwrap();
        }
        copy
    }
}
