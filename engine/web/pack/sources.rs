//! The sources of the packed module, and their hash.

use std::{
    collections::{BTreeMap, BTreeSet},
    fs, io,
    path::{Path, PathBuf},
};

use sha2::{Digest, Sha256};

/// SHA-256 over everything that the modules are built from: the six crates, the build script and its profile, and the
/// versions of all libraries below. Tests at the foot of a file do not count, nor does where the repository stands.
pub(crate) fn sources_hash() -> io::Result<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let mut files = BTreeSet::new();
    for folder in [
        "engine/words/src",
        "engine/handbook/src",
        "engine/core/src",
        "engine/page/src",
        "engine/web/src",
        "engine/web/unpack/src",
    ] {
        gather(&root, Path::new(folder), &mut files)?;
    }
    // A worksheet for tests alone.
    files.retain(|file| !file.starts_with("engine/page/src") || file.file_stem() != Some("sample".as_ref()));
    files.extend(["engine/words/build.rs", "engine/words/words/en.txt", "engine/web/build"].map(PathBuf::from));
    let mut hash = Sha256::new();
    let mut add = |name: &str, text: &str| {
        for part in [name, text] {
            hash.update((part.len() as u64).to_le_bytes());
            hash.update(part);
        }
    };
    for file in &files {
        let text = fs::read_to_string(root.join(file))?.replace("\r\n", "\n");
        add(&file.to_string_lossy().replace('\\', "/"), text.split("\n#[cfg(test)]\nmod tests").next().unwrap_or(""));
    }
    let workspace = fs::read_to_string(root.join("Cargo.toml"))?.replace("\r\n", "\n");
    add("profile", workspace.split("[profile.wasm]").nth(1).and_then(|rest| rest.split("\n[").next()).unwrap_or(""));
    let lock = fs::read_to_string(root.join("Cargo.lock"))?.replace("\r\n", "\n");
    for package in libraries(&lock, "benchleaf-web").union(&libraries(&lock, "benchleaf-unpack")) {
        add("library", package);
    }
    Ok(hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
}

fn gather(root: &Path, folder: &Path, files: &mut BTreeSet<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(root.join(folder))? {
        let entry = entry?;
        let path = folder.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            gather(root, &path, files)?;
        } else {
            files.insert(path);
        }
    }
    Ok(())
}

/// Name, version and checksum of everything that a package rests on, by the lock file.
fn libraries(lock: &str, package: &str) -> BTreeSet<String> {
    let mut known: BTreeMap<&str, Vec<(String, Vec<&str>)>> = BTreeMap::new();
    for entry in lock.split("[[package]]").skip(1) {
        let field = |key: &str| {
            let line = entry.lines().find(|line| line.starts_with(key));
            line.and_then(|line| line.split('"').nth(1)).unwrap_or("")
        };
        let needs = entry.split("dependencies = [").nth(1).and_then(|rest| rest.split(']').next()).unwrap_or("");
        let needs = needs.split('"').skip(1).step_by(2).collect();
        let described = format!("{} {} {}", field("name ="), field("version ="), field("checksum ="));
        known.entry(field("name =")).or_default().push((described, needs));
    }
    let mut found = BTreeSet::new();
    let mut open = vec![package];
    while let Some(next) = open.pop() {
        let mut words = next.split(' ');
        let (name, version) = (words.next().unwrap_or(""), words.next());
        for (described, needs) in known.get(name).into_iter().flatten() {
            let wanted = version.is_none_or(|version| described.split(' ').nth(1) == Some(version));
            if wanted && found.insert(described.clone()) {
                open.extend(needs);
            }
        }
    }
    found
}
