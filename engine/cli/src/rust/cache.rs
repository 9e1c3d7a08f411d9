//! Results of a Rust block that are kept from one call to the next, so that an unchanged worksheet needs no compiler. A
//! file a block, named by the hash of all that a result depends on but its inputs: the code, the types, and the
//! versions of the programs. It holds the rows of numbers that went in and came out.

use std::{
    collections::HashMap,
    fs,
    io::Write as _,
    path::{Path, PathBuf},
};

use benchleaf_core::host::wire::Source;
use serde::{Deserialize, Serialize};

use benchleaf_publish::hash::hash;

/// What is known of a block.
#[derive(Debug)]
pub(crate) struct Cache {
    file: PathBuf,
    rows: HashMap<Box<[u64]>, Box<[u64]>>,
    once: Vec<CachedRun>,
    /// Whether something is known that the file does not hold.
    grown: bool,
    outputs: usize,
}

/// A run with all that it said.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct CachedRun {
    pub(crate) inputs: Vec<u64>,
    pub(crate) outputs: Vec<u64>,
    pub(crate) series: Vec<Vec<u64>>,
    pub(crate) printed: String,
    pub(crate) terms: String,
}

impl Cache {
    /// What is kept of a block. A file that does not read is as good as none.
    pub(crate) fn open(folder: &Path, version: &str, source: &Source) -> Self {
        let file = folder.join(name(version, source));
        let (rows, once, outputs) = (HashMap::new(), Vec::new(), source.outputs.len());
        let mut cache = Self { file, rows, once, grown: false, outputs };
        if let Ok(bytes) = fs::read(&cache.file) {
            let _ = cache.read(&bytes, source.inputs.len());
        }
        cache
    }

    /// Whether it has ever run.
    pub(crate) fn is_known(&self) -> bool {
        !self.once.is_empty() || !self.rows.is_empty()
    }

    pub(crate) fn row(&self, inputs: &[u64]) -> Option<&[u64]> {
        self.rows.get(inputs).map(AsRef::as_ref)
    }

    pub(crate) fn store_row(&mut self, inputs: &[u64], outputs: &[u64]) {
        if self.rows.len() < MOST_ROWS {
            self.rows.insert(inputs.into(), outputs.into());
            self.grown = true;
        }
    }

    pub(crate) fn run(&self, inputs: &[u64]) -> Option<&CachedRun> {
        self.once.iter().find(|run| run.inputs == inputs)
    }

    pub(crate) fn store_run(&mut self, run: CachedRun) {
        // The latest few: with a given changed and changed back, both are there.
        if self.once.len() >= MOST_RUNS {
            self.once.remove(0);
        }
        self.once.push(run);
        self.grown = true;
    }

    fn read(&mut self, bytes: &[u8], inputs: usize) -> Option<()> {
        let end = bytes.iter().position(|byte| *byte == b'\n')?;
        self.once = serde_json::from_slice(&bytes[..end]).ok()?;
        let numbers: Vec<u64> =
            bytes[end + 1..].as_chunks::<8>().0.iter().map(|bytes| u64::from_le_bytes(*bytes)).collect();
        let width = inputs + self.outputs;
        if width > 0 {
            self.rows = numbers.chunks_exact(width).map(|row| (row[..inputs].into(), row[inputs..].into())).collect();
        }
        Some(())
    }

    /// Writes what is new. Trouble with it costs time at the next call, and nothing else.
    fn write(&self) -> std::io::Result<()> {
        let Some(folder) = self.file.parent() else { return Ok(()) };
        fs::create_dir_all(folder)?;
        let mut file = tempfile::NamedTempFile::new_in(folder)?;
        let mut bytes = serde_json::to_vec(&self.once)?;
        bytes.push(b'\n');
        for (inputs, outputs) in &self.rows {
            bytes.extend(inputs.iter().chain(outputs).flat_map(|bits| bits.to_le_bytes()));
        }
        file.write_all(&bytes)?;
        file.persist(&self.file)?;
        make_room(folder)
    }
}

impl Drop for Cache {
    fn drop(&mut self) {
        if self.grown {
            let _ = self.write();
        }
    }
}

/// Removes the files that were written longest ago where there are many.
fn make_room(folder: &Path) -> std::io::Result<()> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        files.push((entry.metadata()?.modified()?, entry.path()));
    }
    files.sort();
    let spare = files.len().saturating_sub(MOST_FILES);
    files[..spare].iter().try_for_each(|(_, path)| fs::remove_file(path))
}

fn name(version: &str, source: &Source) -> String {
    // The number of a block is of one call.
    let reported = serde_json::to_string(&Source { block: 0, ..source.clone() }).unwrap_or_default();
    hash(&format!("{version}{reported}"))[..NAME].to_owned()
}

/// Characters of the hash that name a file.
const NAME: usize = 32;
/// Rows kept of a block.
const MOST_ROWS: usize = 200_000;
/// Runs kept of a block, with what they said.
const MOST_RUNS: usize = 8;
/// Blocks kept.
const MOST_FILES: usize = 256;

#[cfg(test)]
mod tests {
    use benchleaf_core::host::{BlockInput, BlockOutput, Holds};

    use super::*;

    fn source(code: &str) -> Source {
        let input = BlockInput { name: "a".to_owned(), field: None, holds: Holds::Condition };
        let output = BlockOutput { name: "b".to_owned(), holds: Holds::Condition };
        Source {
            block: 3,
            code: code.to_owned(),
            earlier: vec![],
            inputs: vec![input],
            outputs: vec![output],
            series: vec![],
        }
    }

    #[test]
    fn what_was_kept_is_there_again_to_the_last_bit() {
        let folder = tempfile::tempdir().unwrap();
        let (nan, third) = (f64::NAN.to_bits(), (1.0f64 / 3.0).to_bits());
        let mut cache = Cache::open(folder.path(), "1", &source("x"));
        assert!(!cache.is_known());
        cache.store_row(&[third], &[nan]);
        cache.store_run(CachedRun {
            inputs: vec![7],
            outputs: vec![8],
            series: vec![],
            printed: "a\nb".into(),
            terms: "t".into(),
        });
        drop(cache);
        let again = Cache::open(folder.path(), "1", &Source { block: 9, ..source("x") });
        assert_eq!(again.row(&[third]), Some(&[nan][..]));
        assert_eq!(again.run(&[7]).map(|run| run.printed.as_str()), Some("a\nb"));
        assert!(!Cache::open(folder.path(), "2", &source("x")).is_known(), "another version");
        assert!(!Cache::open(folder.path(), "1", &source("y")).is_known(), "other code");
    }

    #[test]
    fn a_file_that_does_not_read_is_as_good_as_none() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(name("1", &source("x")));
        for bytes in [&b""[..], b"\n", b"[}\n1234567", b"\xff\xfe\n", b"[]\n12345678123"] {
            fs::write(&file, bytes).unwrap();
            assert!(!Cache::open(folder.path(), "1", &source("x")).is_known(), "{bytes:?}");
        }
    }
}
