//! What blocks have in scope, as a crate on disk: the engine's core as it was when this program was built, and the prelude
//! over it. Both are unpacked once a version into the cache folder, with the versions of all dependencies held, and built
//! there once.

use std::{
    fs, io,
    path::{Path, PathBuf},
};

use include_dir::{Dir, include_dir};
use sha2::{Digest, Sha256};

static CORE: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../core/src");
const CORE_MANIFEST: &str = include_str!("../../core/Cargo.toml");
const WORKSPACE: &str = include_str!("../../../Cargo.toml");
const LOCK: &str = include_str!("../../../Cargo.lock");
const PRELUDE: &str = include_str!("../prelude/lib.rs");

/// A name for all that blocks are compiled against.
pub(crate) fn version() -> String {
    let mut hash = Sha256::new();
    for part in [CORE_MANIFEST, WORKSPACE, LOCK, PRELUDE] {
        hash.update(part);
    }
    hash_files(&CORE, &mut hash);
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

/// Unpacks the sources under `folder` and gives the prelude's folder.
///
/// # Errors
/// Where something cannot be written.
pub(crate) fn unpack(folder: &Path) -> io::Result<PathBuf> {
    let prelude = folder.join("prelude");
    let done = folder.join("unpacked");
    fs::create_dir_all(folder)?;
    if !done.exists() {
        let core = folder.join("core");
        fs::create_dir_all(core.join("src"))?;
        CORE.extract(core.join("src"))?;
        fs::write(core.join("Cargo.toml"), CORE_MANIFEST)?;
        fs::create_dir_all(prelude.join("src"))?;
        fs::write(prelude.join("src/lib.rs"), PRELUDE)?;
        fs::write(prelude.join("Cargo.toml"), MANIFEST)?;
        fs::write(folder.join("Cargo.toml"), workspace())?;
        fs::write(done, "")?;
    }
    Ok(prelude)
}

/// The versions of all dependencies, for the folder that blocks are compiled in.
pub(crate) fn lock() -> &'static str {
    LOCK
}

/// The workspace's manifest with the two crates that are there.
fn workspace() -> String {
    let here = |line: &&str| {
        !line.starts_with("members") && !line.starts_with("default-members") && !line.starts_with("benchleaf-page")
    };
    let lines: Vec<&str> = WORKSPACE.lines().filter(here).collect();
    lines
        .join("\n")
        .replace("path = \"engine/core\"", "path = \"core\"")
        .replace("[workspace]", "[workspace]\nmembers = [\"core\", \"prelude\"]")
}

const MANIFEST: &str = r#"[package]
name = "benchleaf-prelude"
version = "0.0.0"
edition = "2024"

[dependencies]
benchleaf-core.workspace = true
uom.workspace = true
"#;
