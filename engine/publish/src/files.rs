//! Files that a worksheet reads from: tables and pictures beside it or in folders beside it, and nothing else. A worksheet is
//! data from anybody; what it reads becomes part of its page, so it may name no other file of the reader's.

use std::{
    fs::{self, File},
    io::{ErrorKind, Read},
    path::{Component, Path},
};

use benchleaf_core::{host::FileFault, sheet::surroundings::stays_inside};
use benchleaf_words::phrase;

use crate::{failure::reason, text, write::folder_of};

/// The text of a table by its path from a worksheet's folder.
///
/// # Errors
/// Why it is not read, in a sentence without a full stop.
pub fn read_beside(worksheet: &Path, path: &str) -> Result<String, String> {
    let relative = Path::new(path);
    let plain = |part: Component<'_>| match part {
        Component::Normal(name) => !name.to_string_lossy().starts_with('.'),
        _ => false,
    };
    if path.contains('\\') || path.is_empty() || !relative.components().all(plain) {
        return Err(format!("`{path}` is not the name of a file beside the worksheet"));
    }
    let is_table = relative
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("csv") || ending.eq_ignore_ascii_case("tsv"));
    if !is_table {
        return Err(format!("`{path}` is not named as a table: its name ends in neither .csv nor .tsv"));
    }
    let bytes = inside(folder_of(worksheet), path, LIMIT + 1).map_err(|fault| match fault {
        FileFault::Outside => format!("`{path}` leads out of the worksheet's folder"),
        other => format!("`{path}` cannot be read: {other}"),
    })?;
    if bytes.len() as u64 > LIMIT {
        return Err(format!("`{path}` is too large: more than {} MiB", LIMIT / (1024 * 1024)));
    }
    String::from_utf8(bytes).map_err(|_| format!("`{path}` is not UTF-8 text"))
}

/// The text of a worksheet by its path from another worksheet's folder.
///
/// # Errors
/// Why it is not read.
pub fn worksheet_beside(worksheet: &Path, path: &str) -> Result<String, FileFault> {
    worksheet_in(folder_of(worksheet), path)
}

/// The text of a worksheet in a folder, or in a folder inside it.
pub(crate) fn worksheet_in(folder: &Path, path: &str) -> Result<String, FileFault> {
    let bytes = inside(folder, path, text::LIMIT + 1)?;
    let too_large = bytes.len() as u64 > text::LIMIT;
    let read = (!too_large).then(|| String::from_utf8(bytes).ok());
    let read = read.ok_or_else(|| FileFault::Unusable(phrase!(FILE_FAULT_IS_TOO_LARGE)))?;
    let read = read.ok_or_else(|| FileFault::Unusable(phrase!(FILE_FAULT_IS_NO_TEXT)))?;
    Ok(read.strip_prefix(text::BYTE_ORDER_MARK).map(str::to_owned).unwrap_or(read))
}

/// The first `most` bytes of a file in a folder, or in a folder inside it.
pub(crate) fn inside(folder: &Path, path: &str, most: u64) -> Result<Vec<u8>, FileFault> {
    if !stays_inside(path) {
        return Err(FileFault::Outside);
    }
    let file = fs::canonicalize(folder.join(path)).map_err(|cause| fault(&cause))?;
    // A link may lead out of it.
    if !fs::canonicalize(folder).is_ok_and(|folder| file.starts_with(folder)) {
        return Err(FileFault::Outside);
    }
    if !file.is_file() {
        return Err(FileFault::Unusable(phrase!(FILE_FAULT_IS_NO_FILE)));
    }
    let mut bytes = Vec::new();
    let read = File::open(file).and_then(|file| file.take(most).read_to_end(&mut bytes));
    read.map_err(|cause| fault(&cause))?;
    Ok(bytes)
}

/// Why a file could not be read.
pub(crate) fn fault(cause: &std::io::Error) -> FileFault {
    match cause.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => FileFault::Missing,
        _ => FileFault::Unusable(phrase!(FILE_FAULT_CANNOT_BE_READ, reason = reason(cause))),
    }
}

/// The largest table that is read; it becomes part of the page.
const LIMIT: u64 = 1024 * 1024;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_worksheet_reads_tables_beside_it_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::create_dir_all(at("sheets/logs")).unwrap();
        std::fs::write(at("secret.csv"), "a\n").unwrap();
        std::fs::write(at("sheets/logs/a.csv"), "date,t\n").unwrap();
        std::fs::write(at("sheets/.env.csv"), "key\n").unwrap();
        std::fs::write(at("sheets/key.txt"), "key\n").unwrap();
        std::fs::write(at("sheets/latin.csv"), [0xe9]).unwrap();
        std::fs::write(at("sheets/large.csv"), vec![b'1'; LIMIT as usize + 1]).unwrap();
        let read = |path: &str| read_beside(&at("sheets/x.md"), path);
        assert_eq!(read("logs/a.csv").as_deref(), Ok("date,t\n"));
        let absolute = at("secret.csv").to_string_lossy().into_owned();
        for (path, why) in [
            ("../secret.csv", "not the name of a file"),
            (absolute.as_str(), "not the name of a file"),
            ("logs/../../secret.csv", "not the name of a file"),
            (".env.csv", "not the name of a file"),
            ("", "not the name of a file"),
            ("key.txt", "not named as a table"),
            ("none.csv", "no such file"),
            ("latin.csv", "not UTF-8"),
            ("large.csv", "too large"),
        ] {
            assert!(read(path).unwrap_err().contains(why), "{path}: {:?}", read(path));
        }
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(at("secret.csv"), at("sheets/link.csv")).unwrap();
            assert!(read("link.csv").unwrap_err().contains("leads out"));
        }
    }
}
