//! `pack IN OUT` writes a module without its custom sections, compressed; `pack` alone prints the hash of the module's sources. The
//! build script beside runs it.
#![allow(clippy::print_stdout)]

use std::{env, error::Error, fs};

use zopfli::{Format, Options};

#[path = "../pack/sections.rs"]
mod sections;
#[path = "../pack/sources.rs"]
mod sources;

fn main() -> Result<(), Box<dyn Error>> {
    let paths: Vec<String> = env::args().skip(1).collect();
    match paths.as_slice() {
        [from, to] => {
            let module = sections::without_custom_sections(&fs::read(from)?).ok_or("this is no WebAssembly module")?;
            // As gzip, packed as closely as that format lets.
            zopfli::compress(
                Options { maximum_block_splits: 60, ..Options::default() },
                Format::Gzip,
                module.as_slice(),
                fs::File::create(to)?,
            )?;
        }
        _ => println!("{}", sources::sources_hash()?),
    }
    Ok(())
}
