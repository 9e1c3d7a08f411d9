//! `request SHEET.md` writes what a page asks its engine for an update of that worksheet with nothing changed.

use std::{
    env,
    error::Error,
    fs,
    io::{Write, stdout},
};

use benchleaf_core::sheet::Worksheet;

fn main() -> Result<(), Box<dyn Error>> {
    let sheet = env::args().nth(1).ok_or("request SHEET.md")?;
    let source = fs::read_to_string(sheet)?;
    let outline = Worksheet::new(&source).0.outline();
    for text in [source.as_str(), &outline, "", ""] {
        stdout().write_all(&u32::try_from(text.len())?.to_le_bytes())?;
        stdout().write_all(text.as_bytes())?;
    }
    Ok(())
}
