//! Pages and sites as files. [`page::render_worksheet`] is the way from a worksheet's text to a whole page without touching
//! a file, for tests, benchmarks and programs that embed the engine.
//!
//! Paths are gathered into worksheets (`inputs`), and read (`text`); pages are made (`page`) with their engine and their
//! worksheet in them (`live`), planned as a site (`site`), written whole or not at all (`write`), and read back
//! (`published`). What a site has besides its worksheets' pages is made from what is kept of these (`kept`): their order and
//! sections (`sections`), front page and lists (`around`) with small pictures (`thumbnail`), search (`search`), feed (`feed`)
//! and addresses (`address`); a page that would be made again as it stands is left alone (`unchanged`). What can go wrong is a [`failure::Failure`]. The crate knows no command line.

pub mod address;
pub mod around;
pub mod date;
mod drawing;
pub mod failure;
pub mod feed;
pub mod files;
pub mod folder;
pub mod hash;
pub mod inputs;
pub mod kept;
pub mod live;
pub mod marks;
pub mod neighbours;
pub mod page;
pub mod pictures;
pub mod preview;
pub mod published;
pub mod search;
pub mod sections;
pub mod site;
pub mod style;
mod template;
pub mod text;
pub mod thumbnail;
pub mod unchanged;
pub mod write;

pub use benchleaf_page::RawHtml;
