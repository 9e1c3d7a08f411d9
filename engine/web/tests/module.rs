//! The modules that are kept in `dist/`: of the sizes that a page can carry, and asking nothing of their surroundings. Whether they
//! were built from the sources beside them is checked before a change is taken, and not here.

#![allow(clippy::unwrap_used)]

use std::{fs, io::Read, path::Path};

use flate2::read::GzDecoder;
use lzma_rust2::LzmaReader;

#[path = "../pack/sections.rs"]
mod sections;

fn dist(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("dist").join(name)).unwrap()
}

#[test]
fn the_modules_are_small_and_ask_for_nothing() {
    let (engine, unpacker) = (dist("benchleaf.wasm.lzma"), dist("unpack.wasm.gz"));
    let packed = engine.len() + unpacker.len();
    assert!(packed <= MOST_PACKED, "{packed} bytes packed");
    let module = read(LzmaReader::new_mem_limit(engine.as_slice(), u32::MAX, None).unwrap());
    assert!(module.len() <= MOST, "{} bytes", module.len());
    for module in [module, read(GzDecoder::new(unpacker.as_slice()))] {
        let kinds = sections::sections(&module).unwrap();
        assert!(!kinds.contains(&IMPORT), "the module asks for imports");
        assert_eq!(sections::without_custom_sections(&module).as_deref(), Some(module.as_slice()));
        for path in ["/root/", "/home/", ".cargo/", "/usr/src"] {
            assert!(!module.windows(path.len()).any(|window| window == path.as_bytes()), "{path} stands in the module");
        }
    }
}

fn read(mut packed: impl Read) -> Vec<u8> {
    let mut module = Vec::new();
    packed.read_to_end(&mut module).unwrap();
    module
}

/// A page of 100 kB with the modules inside (four characters for three bytes) takes 1.6 seconds of a line of 3 Mbit/s from a
/// host that compresses what it sends, and 2.1 from one that does not.
const MOST_PACKED: usize = 540_000;
/// What a browser has to compile.
const MOST: usize = 1_600_000;
const IMPORT: u8 = 2;
