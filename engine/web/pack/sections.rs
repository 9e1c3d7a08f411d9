//! The sections of the packed module. Shared by the program that packs and by the tests that look after it.

/// A module without its custom sections, which are not needed to run it.
pub(crate) fn without_custom_sections(module: &[u8]) -> Option<Vec<u8>> {
    let (head, mut rest) = module.split_at_checked(8)?;
    let mut kept = head.to_vec();
    while let Some((kind, behind)) = rest.split_first() {
        let (length, content) = number(behind)?;
        let end = rest.len() - content.len() + length;
        let section = rest.get(..end)?;
        if *kind != CUSTOM {
            kept.extend_from_slice(section);
        }
        rest = &rest[end..];
    }
    Some(kept)
}

/// The kinds of sections that a module has.
#[allow(dead_code)] // The program that packs does not look.
pub(crate) fn sections(module: &[u8]) -> Option<Vec<u8>> {
    let mut rest = module.get(8..)?;
    let mut kinds = Vec::new();
    while let Some((kind, behind)) = rest.split_first() {
        let (length, content) = number(behind)?;
        kinds.push(*kind);
        rest = content.get(length..)?;
    }
    Some(kinds)
}

/// An unsigned LEB128 number, and what follows it.
fn number(bytes: &[u8]) -> Option<(usize, &[u8])> {
    let mut value = 0;
    for (i, byte) in bytes.iter().enumerate().take(5) {
        value |= usize::from(byte & 0x7f) << (7 * i);
        if byte & 0x80 == 0 {
            return Some((value, &bytes[i + 1..]));
        }
    }
    None
}

const CUSTOM: u8 = 0;
