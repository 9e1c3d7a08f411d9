//! From the paths of a call to the worksheets that they stand for. A file is taken as it is, if it is named `.md`. A
//! folder is searched with its folders, in the order of names; names that begin with a dot or an underscore and
//! README.md are passed over, for they are not meant as worksheets. Links are followed, but never in a circle. What
//! cannot be used becomes a failure beside the worksheets that can.

use std::{
    fs, io,
    path::{Path, PathBuf},
};

use walkdir::{DirEntry, WalkDir};

use crate::failure::{Failure, name};

/// All worksheets of a call, in the order in which they were asked for.
#[derive(Debug, Default)]
pub struct Inputs {
    /// Worksheets, in the order of the request.
    pub worksheets: Vec<Worksheet>,
    /// The folders that were asked for and searched.
    pub folders: Vec<PathBuf>,
    /// Paths that cannot be used.
    pub failures: Vec<Failure>,
}

/// A worksheet to be read.
#[derive(Debug)]
pub struct Worksheet {
    /// Where it is read from.
    pub path: PathBuf,
    /// Where it stands under the path that was asked for: `timers/one-shot.md`, or the bare name.
    pub within: PathBuf,
}

impl Worksheet {
    /// How it is called in messages and reports.
    pub fn name(&self) -> String {
        name(&self.path)
    }
}

/// The worksheets that these paths stand for.
pub fn gather(paths: &[PathBuf]) -> Inputs {
    let mut inputs = Inputs::default();
    for path in paths {
        if let Err(failure) = inputs.add(path) {
            inputs.failures.push(failure);
        }
    }
    inputs
}

impl Inputs {
    fn add(&mut self, path: &Path) -> Result<(), Failure> {
        let metadata = fs::metadata(path).map_err(|cause| unusable(path, cause))?;
        match (metadata.is_dir(), is_named_worksheet(path)) {
            (true, true) => Err(Failure::FolderNamedWorksheet { path: path.to_owned() }),
            (true, false) => self.search(path),
            (false, _) if !metadata.is_file() => Err(Failure::NotAFile { path: path.to_owned() }),
            (false, false) => Err(Failure::NotNamedWorksheet { path: path.to_owned() }),
            (false, true) => {
                let within = path.file_name().map(PathBuf::from).unwrap_or_default();
                self.worksheets.push(Worksheet { path: path.to_owned(), within });
                Ok(())
            }
        }
    }

    fn search(&mut self, folder: &Path) -> Result<(), Failure> {
        let before = (self.worksheets.len(), self.failures.len());
        let mut entries = WalkDir::new(folder).follow_links(true).sort_by_file_name().into_iter();
        while let Some(entry) = entries.next() {
            match entry {
                Ok(entry) if entry.depth() == 0 => {}
                Ok(entry) if is_passed_over(&entry) => {
                    if entry.file_type().is_dir() {
                        entries.skip_current_dir();
                    }
                }
                Ok(entry) if !is_named_worksheet(entry.path()) => {}
                Ok(entry) if entry.file_type().is_dir() => {
                    self.failures.push(Failure::FolderNamedWorksheet { path: entry.into_path() });
                    entries.skip_current_dir();
                }
                Ok(entry) if entry.file_type().is_file() => {
                    let within = entry.path().strip_prefix(folder).unwrap_or(entry.path()).to_owned();
                    // What a search of the current folder finds is called as its user would call it.
                    let path = if folder == Path::new(".") { within.clone() } else { entry.into_path() };
                    self.worksheets.push(Worksheet { path, within });
                }
                Ok(entry) => self.failures.push(Failure::NotAFile { path: entry.into_path() }),
                Err(error) => self.failures.extend(in_search(error)),
            }
        }
        if before == (self.worksheets.len(), self.failures.len()) {
            return Err(Failure::NoWorksheets { path: folder.to_owned() });
        }
        self.folders.push(folder.to_owned());
        Ok(())
    }
}

/// What a search stumbled over; nothing where it is no concern of a search for worksheets.
fn in_search(error: walkdir::Error) -> Option<Failure> {
    let path = error.path()?.to_owned();
    if starts_hidden(&path) {
        return None;
    }
    if let Some(ancestor) = error.loop_ancestor() {
        let ancestor = ancestor.to_owned();
        return Some(Failure::LinkLoop { path, ancestor });
    }
    let is_link = fs::symlink_metadata(&path).is_ok_and(|metadata| metadata.is_symlink());
    if is_link && !is_named_worksheet(&path) {
        return None;
    }
    let cause = error.into_io_error().unwrap_or_else(|| io::ErrorKind::Other.into());
    Some(unusable(&path, cause))
}

/// The failure of a path that cannot be read.
pub fn unusable(path: &Path, cause: io::Error) -> Failure {
    let path = path.to_owned();
    match fs::symlink_metadata(&path) {
        Ok(metadata) if metadata.is_symlink() => Failure::DeadLink { path },
        Err(missing) if missing.kind() == io::ErrorKind::NotFound => Failure::Missing { path },
        _ => Failure::Unreadable { path, cause },
    }
}

fn is_named_worksheet(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("md"))
}

fn is_passed_over(entry: &DirEntry) -> bool {
    starts_hidden(entry.path()) || entry.file_name().eq_ignore_ascii_case("README.md")
}

fn starts_hidden(path: &Path) -> bool {
    path.file_name().is_some_and(|name| matches!(name.as_encoded_bytes().first(), Some(b'.' | b'_')))
}
