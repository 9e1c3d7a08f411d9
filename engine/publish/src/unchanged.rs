//! Which pages of a site are as they would be made again. A site's folder keeps a file that says for each page what it was
//! made from: the hash of its worksheet and of all that a page depends on besides, the files that were read for it, and the
//! files that were written. A page is left as it is where all of these are as they were. The file is of use to this program
//! alone; without it every page is made again.

use std::{
    collections::BTreeMap,
    fs,
    path::Path,
    sync::LazyLock,
    time::{SystemTime, UNIX_EPOCH},
};

use benchleaf_core::{Day, host::Host};
use serde::{Deserialize, Serialize};

use crate::{
    failure::Failure,
    folder::ReadFile,
    hash::hash,
    kept::Kept,
    live::LiveEngine,
    marks::MEMORY_MARK,
    page::{Form, RenderSettings},
    pictures::Larger,
    write,
};
use benchleaf_page::RawHtml;

/// What is known of a site's pages, by their links from its front page.
#[derive(Debug, Default, Serialize, Deserialize)]
pub struct Memory {
    /// First, so that the file is known by how it begins.
    mark: String,
    pages: BTreeMap<String, Remembered>,
}

/// What is known of a page.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Remembered {
    made_from: String,
    read: Vec<ReadFile>,
    written: Vec<WrittenFile>,
    kept: Kept,
}

/// A file that was written, as it was then.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct WrittenFile {
    name: String,
    length: u64,
    /// Nanoseconds since 1970.
    modified: u64,
}

/// The name of the file.
pub const MEMORY_NAME: &str = ".benchleaf.json";
impl Memory {
    /// What is kept in a site's folder. A file that does not read is as good as none.
    pub fn of(folder: &Path) -> Self {
        let bytes = fs::read(folder.join(MEMORY_NAME)).unwrap_or_default();
        if !bytes.starts_with(MEMORY_MARK.as_bytes()) {
            return Self::default();
        }
        serde_json::from_slice(&bytes).unwrap_or_default()
    }

    /// What is known of a page, if it would be made again as it stands: `target` is its file, `host` has the files beside
    /// its worksheet.
    pub fn unchanged(&self, link: &str, made_from: &str, target: &Path, host: &dyn Host) -> Option<&Remembered> {
        let known = self.pages.get(link).filter(|known| known.made_from == made_from)?;
        let stands = known.written.iter().all(|file| file.stands(target));
        (stands && known.read.iter().all(|file| file.is_same(host))).then_some(known)
    }

    /// Write what is known of a site's pages into its folder, where that differs from what is there.
    pub fn write(folder: &Path, pages: BTreeMap<String, Remembered>) -> Result<(), Failure> {
        let memory = Self { mark: MARK.to_owned(), pages };
        let text = serde_json::to_string(&memory).map_err(|cause| Failure::Json { cause })?;
        write::write_if_new(&folder.join(MEMORY_NAME), &text)
    }
}

impl Remembered {
    /// A page that was written just now, with its pictures beside it; nothing where its files cannot be looked at.
    pub fn new(made_from: String, read: Vec<ReadFile>, target: &Path, beside: &[String], kept: Kept) -> Option<Self> {
        let own = target.file_name()?.to_str()?.to_owned();
        let written = std::iter::once(&own).chain(beside).map(|name| WrittenFile::of(name, target));
        Some(Self { made_from, read, written: written.collect::<Option<_>>()?, kept })
    }

    /// What a site says of it.
    pub fn kept(&self) -> &Kept {
        &self.kept
    }
}

impl WrittenFile {
    fn of(name: &str, page: &Path) -> Option<Self> {
        let metadata = fs::metadata(page.with_file_name(name)).ok()?;
        let modified = nanoseconds(metadata.modified().ok()?);
        Some(Self { name: name.to_owned(), length: metadata.len(), modified })
    }

    fn stands(&self, page: &Path) -> bool {
        Self::of(&self.name, page).is_some_and(|now| now == *self)
    }
}

/// The hash of all that a page depends on but the files beside its worksheet. The day of evaluation is part of it only where
/// the environment sets it: a page says when it was evaluated, and that stays true.
pub fn made_from(source: &str, stem: &str, setting: &RenderSettings, larger: Larger, fixed: Option<Day>) -> String {
    let engine = match &setting.engine {
        LiveEngine::LeftOut => "",
        LiveEngine::Inside => "inside",
        LiveEngine::Beside(link) => link,
    };
    let all = (
        (&*PROGRAM, source, stem, setting.samples, setting.seed),
        (setting.raw_html == RawHtml::Cleaned, setting.form == Form::Handout, larger == Larger::Copied),
        (engine, &setting.neighbours, fixed.map(|day| day.to_string())),
    );
    hash(&serde_json::to_string(&all).unwrap_or_default())
}

/// This program: its version, and the file that it runs from, which is another one whenever it was built anew.
static PROGRAM: LazyLock<String> = LazyLock::new(|| {
    let file = std::env::current_exe().and_then(fs::metadata).ok();
    let made = file.map(|file| (file.len(), file.modified().map(nanoseconds).unwrap_or_default()));
    format!("{} {made:?}", env!("CARGO_PKG_VERSION"))
});

fn nanoseconds(time: SystemTime) -> u64 {
    time.duration_since(UNIX_EPOCH).map_or(0, |since| u64::try_from(since.as_nanos()).unwrap_or(u64::MAX))
}

const MARK: &str = "Benchleaf: what the pages of this folder were made from";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_is_known_by_how_it_begins() {
        let folder = tempfile::tempdir().unwrap();
        Memory::write(folder.path(), BTreeMap::new()).unwrap();
        let text = fs::read_to_string(folder.path().join(MEMORY_NAME)).unwrap();
        assert!(text.starts_with(MEMORY_MARK), "{text}");
        fs::write(folder.path().join(MEMORY_NAME), "{\"mark\":\"another's\"}").unwrap();
        assert!(Memory::write(folder.path(), BTreeMap::new()).is_err(), "another's file is left alone");
    }
}
