//! What blocks have in scope, as a crate on disk: the handbook as it was when this program was built, and the prelude
//! over it. Both are unpacked once a version into the cache folder, with the versions of all dependencies held, and built
//! there once. Blocks are then compiled against the finished library, and not as a package that depends on it: `evcxr`
//! would read all sources of `uom` at each start.

use std::{
    fs,
    io::{self, BufRead, BufReader, Write},
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

use include_dir::{Dir, include_dir};
use sha2::{Digest, Sha256};

static HANDBOOK: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../handbook/src");
const HANDBOOK_MANIFEST: &str = include_str!("../../handbook/Cargo.toml");
const WORKSPACE: &str = include_str!("../../../Cargo.toml");
const LOCK: &str = include_str!("../../../Cargo.lock");
const PRELUDE: &str = include_str!("../prelude/lib.rs");

/// A name for all that blocks are compiled against.
pub(crate) fn version() -> String {
    let mut hash = Sha256::new();
    for part in [HANDBOOK_MANIFEST, WORKSPACE, LOCK, PRELUDE] {
        hash.update(part);
    }
    hash_files(&HANDBOOK, &mut hash);
    let digest = hash.finalize();
    let short: String = digest.iter().take(8).map(|byte| format!("{byte:02x}")).collect();
    format!("{}-{short}", env!("CARGO_PKG_VERSION"))
}

fn hash_files(dir: &Dir<'_>, hash: &mut Sha256) {
    for file in dir.files() {
        hash.update(file.path().to_string_lossy().as_bytes());
        hash.update(file.contents());
    }
    dir.dirs().for_each(|dir| hash_files(dir, hash));
}

/// The prelude's library, built.
pub(crate) struct Library {
    file: PathBuf,
    dependencies: PathBuf,
}

impl Library {
    /// What announces it to the compiler.
    pub(crate) fn flags(&self) -> [String; 4] {
        let dependencies = format!("dependency={}", self.dependencies.display());
        let prelude = format!("benchleaf_prelude={}", self.file.display());
        ["-L".to_owned(), dependencies, "--extern".to_owned(), prelude]
    }
}

/// Why the prelude is not there.
pub(crate) enum NotBuilt {
    /// Something cannot be written, or cargo not be started.
    Io(io::Error),
    /// The last that cargo said.
    Cargo(String),
}

impl From<io::Error> for NotBuilt {
    fn from(cause: io::Error) -> Self {
        NotBuilt::Io(cause)
    }
}

/// Builds the prelude under `folder`, where that is not done yet. What cargo says goes to the error stream meanwhile.
///
/// # Errors
/// Where something cannot be written, or cargo fails.
pub(crate) fn build(folder: &Path) -> Result<Library, NotBuilt> {
    let sources = folder.join("sources");
    let target = folder.join("library");
    let library = Library {
        file: target.join("release").join("libbenchleaf_prelude.rlib"),
        dependencies: target.join("release").join("deps"),
    };
    if library.file.exists() {
        return Ok(library);
    }
    unpack(&sources)?;
    let mut cargo = Command::new("cargo");
    cargo.args(["build", "--release", "-p", "benchleaf-prelude"]).current_dir(&sources);
    // Code and not an intermediate form, so that a block is linked in no time.
    cargo.env("CARGO_PROFILE_RELEASE_LTO", "off").env("CARGO_TARGET_DIR", &target);
    let mut process = cargo.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped()).spawn()?;
    let mut last: Vec<String> = Vec::new();
    if let Some(said) = process.stderr.take() {
        for line in BufReader::new(said).lines().map_while(Result::ok) {
            let _ = writeln!(io::stderr(), "{line}");
            last.push(line);
            last.drain(..last.len().saturating_sub(LINES_KEPT));
        }
    }
    if process.wait()?.success() { Ok(library) } else { Err(NotBuilt::Cargo(last.join(" / "))) }
}

/// Lines of cargo's output that are shown where it fails.
const LINES_KEPT: usize = 12;

/// Unpacks the sources.
fn unpack(folder: &Path) -> io::Result<()> {
    let prelude = folder.join("prelude");
    let done = folder.join("unpacked");
    fs::create_dir_all(folder)?;
    if !done.exists() {
        let handbook = folder.join("handbook");
        fs::create_dir_all(handbook.join("src"))?;
        HANDBOOK.extract(handbook.join("src"))?;
        fs::write(handbook.join("Cargo.toml"), handbook_manifest())?;
        fs::create_dir_all(prelude.join("src"))?;
        fs::write(prelude.join("src/lib.rs"), PRELUDE)?;
        fs::write(prelude.join("Cargo.toml"), MANIFEST)?;
        fs::write(folder.join("Cargo.toml"), workspace())?;
        fs::write(folder.join("Cargo.lock"), LOCK)?;
        fs::write(done, "")?;
    }
    Ok(())
}

/// The workspace's manifest with the two crates that are there.
fn workspace() -> String {
    let ours = |line: &&str| line.starts_with("benchleaf-") && !line.starts_with("benchleaf-handbook");
    let here = |line: &&str| !line.starts_with("members") && !line.starts_with("default-members") && !ours(line);
    let lines: Vec<&str> = WORKSPACE.lines().filter(here).collect();
    lines
        .join("\n")
        .replace("path = \"engine/handbook\"", "path = \"handbook\"")
        .replace("[workspace]", "[workspace]\nmembers = [\"handbook\", \"prelude\"]")
}

/// The handbook's manifest without its tests, which need the engine.
fn handbook_manifest() -> String {
    let tests = HANDBOOK_MANIFEST.split("[dev-dependencies]").next().unwrap_or_default();
    format!("{tests}[lints]\nworkspace = true\n")
}

const MANIFEST: &str = r#"[package]
name = "benchleaf-prelude"
version = "0.0.0"
edition = "2024"

[dependencies]
benchleaf-handbook.workspace = true
uom.workspace = true
"#;
