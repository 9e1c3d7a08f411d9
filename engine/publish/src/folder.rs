//! The files beside a worksheet, as the engine asks for them: pictures in its folder, and the worksheets that its links lead
//! to. Everything else that the engine asks for goes to another host.

use std::{
    fs,
    path::{Path, PathBuf},
    sync::Arc,
};

use benchleaf_core::host::{BlockCode, CompiledBlock, FileFault, Host, Refusal};

use crate::{
    files::{fault, inside},
    pictures, text,
    write::folder_of,
};

/// A worksheet's folder.
pub struct Folder<'h> {
    folder: PathBuf,
    rest: &'h dyn Host,
}

impl<'h> Folder<'h> {
    /// The folder of the worksheet of this path; `rest` answers what is no matter of files.
    pub fn of(worksheet: &Path, rest: &'h dyn Host) -> Self {
        Self { folder: folder_of(worksheet).to_owned(), rest }
    }
}

impl Host for Folder<'_> {
    fn compile(&self, code: &BlockCode<'_>) -> Result<Arc<dyn CompiledBlock>, Refusal> {
        self.rest.compile(code)
    }

    fn read(&self, path: &str) -> Result<String, String> {
        self.rest.read(path)
    }

    fn picture(&self, path: &str) -> Result<Vec<u8>, FileFault> {
        let bytes = inside(&self.folder, path, pictures::LARGEST + 1)?;
        pictures::kind(&bytes).map_err(FileFault::Unusable)?;
        Ok(bytes)
    }

    fn linked(&self, path: &str) -> Result<String, FileFault> {
        let file = self.folder.join(path);
        let metadata = fs::metadata(&file).map_err(|cause| fault(&cause))?;
        if !metadata.is_file() {
            return Err(FileFault::Unusable("it is no file".to_owned()));
        }
        text::read(&file).map_err(|failure| FileFault::Unusable(failure.to_string()))
    }
}
