//! Rust blocks: who may run them, and how. Permission is the user's alone, by `--allow-rust` or by a folder named in the
//! user's own configuration (`consent`); a worksheet cannot give it. What is permitted is run by a program of its own,
//! started when the first result is wanted that is not known already (`child`); results are kept from one call to the
//! next (`kept`).

mod block;
mod cache;
mod child;
mod consent;

use std::{
    path::{Path, PathBuf},
    sync::{Arc, Mutex},
};

use benchleaf_core::host::{BlockCode, CompiledBlock, FileFault, Host, Refusal, wire::Source};

use self::{block::PermittedBlock, cache::Cache, child::Child, consent::Consent};
use benchleaf_publish::{
    failure::Failure,
    files::{read_beside, worksheet_beside},
};
use benchleaf_words::{Word, key};

use crate::{args::EvaluationOptions, terminal::Progress};

/// All that a call of the program has for Rust blocks.
#[derive(Debug)]
pub(crate) struct Rust {
    consent: Consent,
    runner: Arc<Runner>,
}

/// The program that runs blocks, and where its results are kept.
#[derive(Debug)]
pub(crate) struct Runner {
    /// Where `benchleaf-rust` is, and which one; nothing where it is not installed.
    program: Option<(PathBuf, String)>,
    cache: Option<PathBuf>,
    child: Mutex<Child>,
}

impl Rust {
    /// What the user permits, by the command line or the configuration.
    ///
    /// # Errors
    /// Where the configuration cannot be read.
    pub(crate) fn of_call(options: &EvaluationOptions, progress: Progress) -> Result<Self, Failure> {
        let consent = Consent::of_call(options)?;
        let cache = dirs::cache_dir().map(|folder| folder.join("benchleaf"));
        let runner = Runner { program: child::find(), cache, child: Mutex::new(Child::new(progress)) };
        Ok(Self { consent, runner: Arc::new(runner) })
    }

    /// Who compiles the Rust blocks of a worksheet.
    pub(crate) fn blocks_of(&self, worksheet: &Path) -> SheetBlocks<'_> {
        SheetBlocks { rust: self, worksheet: worksheet.to_owned(), permitted: self.consent.covers(worksheet) }
    }
}

/// Compiles the blocks of one worksheet, and reads the tables beside it.
#[derive(Debug)]
pub(crate) struct SheetBlocks<'a> {
    rust: &'a Rust,
    worksheet: PathBuf,
    permitted: Permission,
}

/// Whether a worksheet's blocks are run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Permission {
    /// They are.
    Given,
    /// They are not.
    Withheld,
}

impl Host for SheetBlocks<'_> {
    fn compile(&self, code: &BlockCode<'_>) -> Result<Arc<dyn CompiledBlock>, Refusal> {
        if self.permitted == Permission::Withheld {
            return Err(not_run(key::RUST_OFF_NOT_PERMITTED, key::RUST_OFF_PERMIT));
        }
        let runner = &self.rust.runner;
        let Some((_, version)) = &runner.program else {
            return Err(not_run(key::RUST_OFF_NOT_INSTALLED, key::RUST_OFF_INSTALL));
        };
        let Some(folder) = &runner.cache else {
            return Err(not_run(key::RUST_OFF_NO_FOLDER, key::RUST_OFF_SET_HOME));
        };
        let source = Source {
            block: 0,
            code: code.code.to_owned(),
            earlier: code.earlier.iter().map(|text| (*text).to_owned()).collect(),
            inputs: code.inputs.to_vec(),
            outputs: code.outputs.to_vec(),
            series: code.series.to_vec(),
        };
        let cache = Cache::open(&folder.join("results"), version, &source);
        let known = cache.is_known();
        let block = PermittedBlock::new(Arc::clone(runner), source, cache);
        // One that ran before compiles; it is compiled again only when something is asked that is not known.
        if !known {
            block.compile()?;
        }
        Ok(Arc::new(block))
    }

    fn used(&self, path: &str) -> Result<String, FileFault> {
        worksheet_beside(&self.worksheet, path)
    }

    fn read(&self, path: &str) -> Result<String, String> {
        read_beside(&self.worksheet, path)
    }
}

fn not_run(why: Word<0>, help: Word<0>) -> Refusal {
    Refusal::NotRun { why: why.into(), help: help.into() }
}
