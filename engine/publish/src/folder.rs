//! The files beside a worksheet, as the engine asks for them: pictures in its folder, the worksheets that its links lead
//! to, and whether other files that it links to are there. Everything else that the engine asks for goes to another host.
//! What was asked for is noted, so that a page can be left as it is while none of it has changed.

use std::{
    collections::HashSet,
    fs,
    path::{Component, Path, PathBuf},
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicBool, Ordering},
    },
};

use benchleaf_core::host::{BlockCode, CompiledBlock, FileFault, Host, Refusal};
use benchleaf_page::page_of;
use benchleaf_words::phrase;
use serde::{Deserialize, Serialize};

use crate::{
    files::{fault, inside, worksheet_in},
    hash::{hash, hash_of},
    pictures, text,
    write::folder_of,
};

/// A worksheet's folder.
pub struct Folder<'h> {
    folder: PathBuf,
    rest: &'h dyn Host,
    site: Option<Site<'h>>,
    asked: Mutex<Vec<ReadFile>>,
    compiled: AtomicBool,
}

/// The site that a page is part of: where the page goes, and every page that the site will have.
#[derive(Clone, Copy)]
pub struct Site<'h> {
    /// The page's file.
    pub page: &'h Path,
    /// The files of all pages and lists, as [`lexical`] has them.
    pub pages: &'h HashSet<PathBuf>,
}

/// A file that was asked for, and what was found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadFile {
    question: Question,
    path: String,
    found: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
enum Question {
    Table,
    Picture,
    Worksheet,
    /// A worksheet that values are taken from.
    Used,
    File,
}

impl ReadFile {
    /// Whether the same is found now.
    pub(crate) fn is_same(&self, host: &dyn Host) -> bool {
        self.found == Self::ask(self.question, &self.path, host)
    }

    fn ask(question: Question, path: &str, host: &dyn Host) -> String {
        match question {
            Question::Table => found(host.read(path).map(|text| hash(&text))),
            Question::Picture => found(host.picture(path).map(|bytes| hash_of(&bytes))),
            Question::Worksheet => found(host.linked(path).map(|text| hash(&text))),
            Question::Used => found(host.used(path).map(|text| hash(&text))),
            Question::File => found(host.file(path).map(|()| String::new())),
        }
    }
}

fn found<F: ToString>(answer: Result<String, F>) -> String {
    answer.unwrap_or_else(|fault| format!("not found: {}", fault.to_string()))
}

impl<'h> Folder<'h> {
    /// The folder of the worksheet of this path; `rest` answers what is no matter of files.
    pub fn of(worksheet: &Path, rest: &'h dyn Host) -> Self {
        let (asked, compiled) = (Mutex::default(), AtomicBool::new(false));
        Self { folder: folder_of(worksheet).to_owned(), rest, site: None, asked, compiled }
    }

    /// The same for a page of a site: a link has to lead to something that will be there.
    #[must_use]
    pub fn in_site(self, site: Site<'h>) -> Self {
        Self { site: Some(site), ..self }
    }

    /// The files that were asked for so far; nothing where a Rust block was compiled, which may depend on anything.
    pub fn asked(&self) -> Option<Vec<ReadFile>> {
        let asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner).clone();
        (!self.compiled.load(Ordering::Relaxed)).then_some(asked)
    }

    fn note(&self, question: Question, path: &str, found: String) {
        let mut asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        let file = ReadFile { question, path: path.to_owned(), found };
        if !asked.contains(&file) {
            asked.push(file);
        }
    }

    fn open_worksheet(&self, path: &str) -> Result<String, FileFault> {
        let file = self.folder.join(path);
        let metadata = fs::metadata(&file).map_err(|cause| fault(&cause))?;
        if !metadata.is_file() {
            return Err(FileFault::Unusable(phrase!(FILE_FAULT_IS_NO_FILE)));
        }
        let text = text::read(&file).map_err(|failure| FileFault::Unusable(failure.message()))?;
        if self.site.zip(page_of(path)).is_some_and(|(site, page)| !site.will_have(&page)) {
            return Err(FileFault::Unusable(phrase!(FILE_FAULT_HAS_NO_PAGE)));
        }
        Ok(text)
    }

    fn open_file(&self, path: &str) -> Result<(), FileFault> {
        fs::metadata(self.folder.join(path)).map_err(|cause| fault(&cause))?;
        if self.site.is_some_and(|site| !site.will_have(path)) {
            return Err(FileFault::Unusable(phrase!(FILE_FAULT_IS_NOT_COPIED)));
        }
        Ok(())
    }
}

impl Site<'_> {
    /// Whether there will be something where a link from the page leads.
    fn will_have(&self, path: &str) -> bool {
        let file = lexical(&folder_of(self.page).join(path));
        self.pages.contains(&file) || file.exists()
    }
}

/// A path with its `.` and `..` parts followed, without a look at the files.
pub fn lexical(path: &Path) -> PathBuf {
    let mut plain = PathBuf::new();
    for part in path.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir if matches!(plain.components().next_back(), Some(Component::Normal(_))) => {
                plain.pop();
            }
            part => plain.push(part),
        }
    }
    plain
}

impl Host for Folder<'_> {
    fn compile(&self, code: &BlockCode<'_>) -> Result<Arc<dyn CompiledBlock>, Refusal> {
        self.compiled.store(true, Ordering::Relaxed);
        self.rest.compile(code)
    }

    fn read(&self, path: &str) -> Result<String, String> {
        let answer = self.rest.read(path);
        self.note(Question::Table, path, found(answer.as_ref().map(|text| hash(text))));
        answer
    }

    fn picture(&self, path: &str) -> Result<Vec<u8>, FileFault> {
        let answer = inside(&self.folder, path, pictures::LARGEST + 1).and_then(|bytes| {
            pictures::kind(&bytes).map_err(FileFault::Unusable)?;
            Ok(bytes)
        });
        self.note(Question::Picture, path, found(answer.as_ref().map(|bytes| hash_of(bytes))));
        answer
    }

    fn linked(&self, path: &str) -> Result<String, FileFault> {
        let answer = self.open_worksheet(path);
        self.note(Question::Worksheet, path, found(answer.as_ref().map(|text| hash(text))));
        answer
    }

    fn used(&self, path: &str) -> Result<String, FileFault> {
        let answer = worksheet_in(&self.folder, path);
        self.note(Question::Used, path, found(answer.as_ref().map(|text| hash(text))));
        answer
    }

    fn file(&self, path: &str) -> Result<(), FileFault> {
        let answer = self.open_file(path);
        self.note(Question::File, path, found(answer.as_ref().map(|()| String::new())));
        answer
    }
}
