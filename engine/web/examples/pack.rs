//! `pack ENGINE OUT UNPACKER OUT` writes the two modules without their custom sections, compressed: the engine as LZMA, which takes
//! a sixth less than gzip, and what unpacks it as gzip, which browsers unpack. `pack` alone prints the hash of the modules'
//! sources. The build script beside runs it.
#![allow(clippy::print_stdout)]

use std::{env, error::Error, fs, io::Write};

use lzma_rust2::{LzmaOptions, LzmaWriter};
use zopfli::{Format, Options};

#[path = "../pack/sections.rs"]
mod sections;
#[path = "../pack/sources.rs"]
mod sources;

fn main() -> Result<(), Box<dyn Error>> {
    let paths: Vec<String> = env::args().skip(1).collect();
    match paths.as_slice() {
        [engine, engine_out, unpacker, unpacker_out] => {
            pack_engine(&module(engine)?, engine_out)?;
            // As closely as that format lets.
            let options = Options { maximum_block_splits: 60, ..Options::default() };
            zopfli::compress(options, Format::Gzip, module(unpacker)?.as_slice(), fs::File::create(unpacker_out)?)?;
        }
        _ => println!("{}", sources::sources_hash()?),
    }
    Ok(())
}

fn module(path: &str) -> Result<Vec<u8>, Box<dyn Error>> {
    Ok(sections::without_custom_sections(&fs::read(path)?).ok_or("this is no WebAssembly module")?)
}

/// As closely as LZMA lets; the contexts are those that code of WebAssembly packs best with.
fn pack_engine(module: &[u8], out: &str) -> Result<(), Box<dyn Error>> {
    let best = LzmaOptions::with_preset(9);
    let options = LzmaOptions { dict_size: 2 << 20, lc: 4, lp: 0, pb: 0, nice_len: 273, depth_limit: 2000, ..best };
    let mut packer = LzmaWriter::new_use_header(fs::File::create(out)?, &options, Some(module.len() as u64))?;
    packer.write_all(module)?;
    packer.finish()?.sync_all()?;
    Ok(())
}
