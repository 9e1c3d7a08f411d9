//! A folder with worksheets in it, and the program run there.

use std::{
    ffi::OsStr,
    fs,
    path::{Path, PathBuf},
    process::Command,
};

use tempfile::TempDir;

/// All requirements hold.
pub(crate) const HOLDS: &str = "# Sound\n\n```calc\nV = 5 V ± 1 %\nkeep V below 6 V \"supply\"\n```\n";
/// Holds at nominal, not over the worst case.
pub(crate) const AT_RISK: &str = "# Near\n\n```calc\nV = 5 V ± 5 %\nkeep V below 5.1 V \"supply\"\n```\n";
/// Fails at nominal.
pub(crate) const BROKEN: &str = "# Over\n\n```calc\nV = 5 V ± 5 %\nkeep V below 4 V \"supply\"\n```\n";
/// Names what is not there.
pub(crate) const ERROR: &str = "# Wrong\n\n```calc\nV = 5 V\nkeep W below 6 V\n```\n";

/// A temporary folder to run the program in.
pub(crate) struct Bench {
    folder: TempDir,
}

/// What a run came to.
#[derive(Debug)]
pub(crate) struct Run {
    pub(crate) status: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Bench {
    pub(crate) fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    /// A bench with these files; folders are made on the way.
    pub(crate) fn with(files: &[(&str, &str)]) -> Self {
        let bench = Self::new();
        for (name, text) in files {
            bench.put(name, text);
        }
        bench
    }

    pub(crate) fn put(&self, name: &str, text: impl AsRef<[u8]>) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    /// The program, to be run here.
    pub(crate) fn command(&self, arguments: &[&str]) -> Command {
        let mut command = self.any_command(env!("CARGO_BIN_EXE_benchleaf"));
        command.args(arguments);
        command
    }

    /// Another program, to be run here, in English whatever the machine speaks.
    pub(crate) fn any_command(&self, program: impl AsRef<OsStr>) -> Command {
        let mut command = Command::new(program);
        command.current_dir(self.folder.path()).env("LC_ALL", "C").env_remove("SOURCE_DATE_EPOCH");
        command
    }

    pub(crate) fn run(&self, arguments: &[&str]) -> Run {
        Run::of(&mut self.command(arguments))
    }

    /// Every file, as a path from the bench with slashes, sorted.
    pub(crate) fn files(&self) -> Vec<String> {
        let mut found = Vec::new();
        collect(self.folder.path(), self.folder.path(), &mut found);
        found.sort();
        found
    }

    /// Every page of a worksheet and every list of these, likewise.
    pub(crate) fn pages(&self) -> Vec<String> {
        self.files().into_iter().filter(|name| name.ends_with(".html") && !name.ends_with("search.html")).collect()
    }
}

impl Run {
    pub(crate) fn of(command: &mut Command) -> Self {
        let output = command.output().unwrap();
        Self {
            status: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// Assert the exit status; the streams say why where it differs.
    #[track_caller]
    pub(crate) fn exits(self, status: i32) -> Self {
        assert_eq!(self.status, status, "{}\n{}", self.out, self.err);
        self
    }

    /// Assert that the messages hold all of these, whatever the line breaks.
    #[track_caller]
    pub(crate) fn warns(self, parts: &[&str]) -> Self {
        let err = in_one_line(&self.err);
        for part in parts {
            assert!(err.contains(part), "no `{part}` in: {err}");
        }
        self
    }

    /// Assert that the answer holds all of these.
    #[track_caller]
    pub(crate) fn says(self, parts: &[&str]) -> Self {
        for part in parts {
            assert!(self.out.contains(part), "no `{part}` in: {}", self.out);
        }
        self
    }
}

/// Messages are broken into lines to fit; rejoin them.
fn in_one_line(text: &str) -> String {
    text.split_whitespace().filter(|word| *word != "│").collect::<Vec<_>>().join(" ")
}

fn collect(root: &Path, folder: &Path, found: &mut Vec<String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() && !path.is_symlink() {
            collect(root, &path, found);
        } else {
            found.push(path.strip_prefix(root).unwrap().to_str().unwrap().replace('\\', "/"));
        }
    }
}

/// Random choices, the same in each run.
pub(crate) struct Random(pub(crate) u64);

impl Random {
    /// A number from zero to one less than `most`.
    pub(crate) fn below(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % most.max(1)
    }

    pub(crate) fn one_of<'t, T: ?Sized>(&mut self, all: &[&'t T]) -> &'t T {
        all[self.below(all.len())]
    }
}

/// How much of something a run tries, as an environment variable says, and else so much.
pub(crate) fn amount(variable: &str, usual: usize) -> usize {
    std::env::var(variable).ok().and_then(|count| count.parse().ok()).unwrap_or(usual)
}
