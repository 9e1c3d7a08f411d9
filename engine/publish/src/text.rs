//! Reading a worksheet's text from its file: UTF-8, not empty, and of a size that a worksheet can have. A byte-order mark
//! at its head, which some editors write, is no part of the text.

use std::{fs::File, io::Read, path::Path};

use crate::failure::Failure;

/// The text of a worksheet.
pub fn read(path: &Path) -> Result<String, Failure> {
    let mut text = read_whole(path)?;
    if text.starts_with(BYTE_ORDER_MARK) {
        text.drain(..BYTE_ORDER_MARK.len_utf8());
    }
    Ok(text)
}

/// The same with the mark at its head, where there is one: a page carries its worksheet byte for byte.
pub fn read_whole(path: &Path) -> Result<String, Failure> {
    let unreadable = |cause| Failure::Unreadable { path: path.to_owned(), cause };
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(unreadable)?;
    file.take(LIMIT + 1).read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() as u64 > LIMIT {
        return Err(Failure::TooLarge { path: path.to_owned(), limit: LIMIT });
    }
    if bytes.starts_with(UTF16_LITTLE) || bytes.starts_with(UTF16_BIG) {
        return Err(Failure::Utf16 { path: path.to_owned() });
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let offset = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..offset].iter().filter(|byte| **byte == b'\n').count() + 1;
        Failure::NotUtf8 { path: path.to_owned(), offset, line }
    })?;
    if text.trim_start_matches(BYTE_ORDER_MARK).trim().is_empty() {
        return Err(Failure::Empty { path: path.to_owned() });
    }
    Ok(text)
}

/// The largest worksheet that is read: some hundred times what a person writes, and little enough that a stray log or
/// disk image is refused before it fills the memory.
pub(crate) const LIMIT: u64 = 8 * 1024 * 1024;
pub(crate) const BYTE_ORDER_MARK: char = '\u{feff}';
const UTF16_LITTLE: &[u8] = &[0xff, 0xfe];
const UTF16_BIG: &[u8] = &[0xfe, 0xff];

/// Text as it may stand in a script element, whatever it says.
pub(crate) fn in_script(json: &str) -> String {
    json.replace('<', "\\u003c").replace('\u{2028}', "\\u2028").replace('\u{2029}', "\\u2029")
}
