//! The module that is kept in `dist/`: of the size that a page can carry, and asking nothing of its surroundings. Whether it
//! was built from the sources beside it is checked before a change is taken, and not here.

#![allow(clippy::unwrap_used)]

use std::{fs, io::Read, path::Path};

use flate2::read::GzDecoder;

#[path = "../pack/sections.rs"]
mod sections;

fn dist(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("dist").join(name)).unwrap()
}

#[test]
fn the_module_is_small_and_asks_for_nothing() {
    let packed = dist("benchleaf.wasm.gz");
    let mut module = Vec::new();
    GzDecoder::new(packed.as_slice()).read_to_end(&mut module).unwrap();
    assert!(packed.len() <= MOST_PACKED, "{} bytes packed", packed.len());
    assert!(module.len() <= MOST, "{} bytes", module.len());
    let kinds = sections::sections(&module).unwrap();
    assert!(!kinds.contains(&IMPORT), "the module asks for imports");
    assert_eq!(sections::without_custom_sections(&module).as_deref(), Some(module.as_slice()));
    for path in ["/root/", "/home/", ".cargo/", "/usr/src"] {
        assert!(!module.windows(path.len()).any(|window| window == path.as_bytes()), "{path} stands in the module");
    }
}

/// A page of 100 kB with the module inside (four characters for three bytes) takes 1.8 seconds of a line of 3 Mbit/s from a
/// host that compresses what it sends, and 2.5 from one that does not.
const MOST_PACKED: usize = 640_000;
/// What a browser has to compile.
const MOST: usize = 1_550_000;
const IMPORT: u8 = 2;
