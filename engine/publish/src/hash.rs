//! The hash of a worksheet, and of a file.

use std::fmt::Write;

use sha2::{Digest, Sha256};

/// SHA-256 in hexadecimal.
pub fn hash(text: &str) -> String {
    hash_of(text.as_bytes())
}

/// The same of bytes.
pub(crate) fn hash_of(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().fold(String::with_capacity(64), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_published_one() {
        // FIPS 180-4's example for the message "abc".
        assert_eq!(hash("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
