//! Pages and sites as files. [`page::render_worksheet`] is the way from a worksheet's text to a whole page without touching
//! a file, for tests, benchmarks and programs that embed the engine.
//!
//! Paths are gathered into worksheets (`inputs`), and read (`text`); pages are made (`page`) with their engine and their
//! worksheet in them (`live`), planned as a site (`site`), written whole or not at all (`write`), and read back
//! (`published`). What can go wrong is a [`failure::Failure`]. The crate knows no command line.

pub mod date;
mod drawing;
pub mod failure;
pub mod files;
pub mod folder;
pub mod hash;
pub mod inputs;
pub mod live;
pub mod neighbours;
pub mod page;
pub mod pictures;
pub mod preview;
pub mod published;
pub mod site;
pub mod style;
pub mod text;
pub mod write;

pub use benchleaf_page::RawHtml;
