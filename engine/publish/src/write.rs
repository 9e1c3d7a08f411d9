//! Writing a page whole or not at all: into a temporary file in the folder where it will stand, which then takes the
//! page's name in one step. A reader sees the old page or the new one, never half of one, and nothing is left
//! behind where writing fails.

use std::{
    fs::{self, File},
    io::{self, ErrorKind, Read, Write},
    path::Path,
};

use tempfile::{Builder, NamedTempFile};

use crate::{
    failure::{AnswersFault, Failure},
    marks::{HEAD, is_ours},
};

/// Write a page, in place of an older one that this program wrote; any other file is left alone.
pub fn write_page(path: &Path, html: &str) -> Result<(), Failure> {
    let not_written = |cause| Failure::NotWritten { path: path.to_owned(), cause };
    if !may_replace(path, is_ours).map_err(not_written)? {
        return Err(Failure::InTheWay { path: path.to_owned() });
    }
    make_folder(folder_of(path))?;
    replace(path, html.as_bytes()).map_err(not_written)
}

/// The same, where it differs from what is there.
pub fn write_if_new(path: &Path, text: &str) -> Result<(), Failure> {
    if fs::metadata(path).is_ok_and(|there| there.len() == text.len() as u64)
        && fs::read(path).is_ok_and(|there| there == text.as_bytes())
    {
        return Ok(());
    }
    write_page(path, text)
}

/// Write a picture beside its page. Its name has its hash: what stands there under this name is this picture, or is left
/// alone.
pub fn write_picture(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let not_written = |cause| Failure::NotWritten { path: path.to_owned(), cause };
    match fs::metadata(path) {
        Ok(_) if fs::read(path).is_ok_and(|there| there == bytes) => Ok(()),
        Ok(_) => Err(Failure::InTheWay { path: path.to_owned() }),
        Err(cause) if cause.kind() == ErrorKind::NotFound => {
            make_folder(folder_of(path))?;
            replace(path, bytes).map_err(not_written)
        }
        Err(cause) => Err(not_written(cause)),
    }
}

/// Write a table of marked answers, in place of an older one; any other file is left alone.
pub fn write_marked(path: &Path, bytes: &[u8], is_marked: impl Fn(&[u8]) -> bool) -> Result<(), Failure> {
    let not_written = |cause| Failure::NotWritten { path: path.to_owned(), cause };
    if !may_replace(path, is_marked).map_err(not_written)? {
        return Err(Failure::Answers { path: path.to_owned(), fault: AnswersFault::InTheWay });
    }
    make_folder(folder_of(path))?;
    replace(path, bytes).map_err(not_written)
}

/// Write constants of a program, in place of older ones; any other file is left alone.
pub fn write_constants(path: &Path, text: &str, is_ours: impl Fn(&[u8]) -> bool) -> Result<(), Failure> {
    let not_written = |cause| Failure::NotWritten { path: path.to_owned(), cause };
    if !may_replace(path, is_ours).map_err(not_written)? {
        return Err(Failure::ConstantsInTheWay { path: path.to_owned() });
    }
    make_folder(folder_of(path))?;
    replace(path, text.as_bytes()).map_err(not_written)
}

/// Write a file that must not exist yet.
pub fn write_new(path: &Path, text: &str) -> Result<(), Failure> {
    let not_written = |cause: io::Error| match cause.kind() {
        ErrorKind::AlreadyExists => Failure::Exists { path: path.to_owned() },
        _ => Failure::NotWritten { path: path.to_owned(), cause },
    };
    let file = filled(folder_of(path), text.as_bytes()).map_err(not_written)?;
    file.persist_noclobber(path).map_err(|error| not_written(error.error))?;
    Ok(())
}

/// Make a folder with all that leads to it, if it is not there.
pub fn make_folder(path: &Path) -> Result<(), Failure> {
    fs::create_dir_all(path).map_err(|cause| match cause.kind() {
        ErrorKind::AlreadyExists | ErrorKind::NotADirectory => Failure::OutputIsFile { path: path.to_owned() },
        _ => Failure::OutputFolder { path: path.to_owned(), cause },
    })
}

fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    filled(folder_of(path), bytes)?.persist(path)?;
    Ok(())
}

fn filled(folder: &Path, bytes: &[u8]) -> io::Result<NamedTempFile> {
    let mut builder = Builder::new();
    builder.prefix(".benchleaf-").suffix(".part");
    #[cfg(unix)]
    {
        // As any new file: for all to read, as far as the user's mask allows.
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(bytes)?;
    Ok(file)
}

fn may_replace(path: &Path, ours: impl Fn(&[u8]) -> bool) -> io::Result<bool> {
    match fs::metadata(path) {
        Ok(metadata) if metadata.is_file() => {}
        Ok(_) => return Ok(false),
        Err(cause) if cause.kind() == ErrorKind::NotFound => return Ok(true),
        Err(cause) => return Err(cause),
    }
    let mut head = Vec::new();
    File::open(path)?.take(HEAD).read_to_end(&mut head)?;
    Ok(head.is_empty() || ours(&head))
}

pub(crate) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_that_cannot_take_its_name_leaves_nothing_behind() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("page.html");
        fs::create_dir(&target).unwrap();
        assert!(replace(&target, b"text").is_err());
        assert!(write_new(&target, "text").is_err());
        let names: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        assert_eq!(names, ["page.html"]);
    }

    #[test]
    fn a_page_has_all_its_text_under_its_name() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("deep/er/page.html");
        write_page(&target, "").unwrap();
        write_page(&target, "text").unwrap();
        assert_eq!(fs::read_to_string(&target).unwrap(), "text");
        assert!(matches!(write_page(&target, "more"), Err(Failure::InTheWay { .. })));
        assert_eq!(fs::read_to_string(&target).unwrap(), "text");
    }
}
