//! Unpacks the engine in a published page: a WebAssembly module of its own, since browsers unpack gzip, which leaves the engine
//! a fifth larger than LZMA does. It is used once and let go.

#[cfg(feature = "std")]
use std::io::Read;

use lzma_rust2::LzmaReader;
#[cfg(not(feature = "std"))]
use lzma_rust2::Read;

/// Makes room for `len` bytes and gives its address.
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // An export needs its plain name, which the compiler cannot hold against other libraries.
pub extern "C" fn room(len: usize) -> *mut u8 {
    Box::into_raw(vec![0_u8; len].into_boxed_slice()).cast()
}

/// Unpacks an LZMA file (with its header of 13 bytes, which says the length unpacked): whether it could be read and has that
/// length.
///
/// # Safety
/// `packed` points to `packed_len` bytes and `unpacked` to `unpacked_len` other bytes, each of one call of [`room`].
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // The page hands over addresses; only it can know that they are rooms.
pub unsafe extern "C" fn unpack(packed: *const u8, packed_len: usize, unpacked: *mut u8, unpacked_len: usize) -> bool {
    // SAFETY: by the contract above these bytes are ours, whole, apart from one another, and nobody else uses them meanwhile.
    let (packed, unpacked) = unsafe {
        (std::slice::from_raw_parts(packed, packed_len), std::slice::from_raw_parts_mut(unpacked, unpacked_len))
    };
    unpack_into(packed, unpacked).is_some()
}

fn unpack_into(packed: &[u8], unpacked: &mut [u8]) -> Option<()> {
    let length = packed.get(5..13)?.first_chunk().copied().map(u64::from_le_bytes)?;
    if length != unpacked.len() as u64 {
        return None;
    }
    LzmaReader::new_mem_limit(packed, MOST_MEMORY, None).ok()?.read_exact(unpacked).ok()
}

/// What a file may ask for its dictionary, in KiB.
const MOST_MEMORY: u32 = 16 * 1024;

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    const TEXT: &[u8] = b"a wrong unit is reported by name, a wrong unit is reported by name";
    /// The same as `liblzma` packs it, with its length in the header.
    const PACKED: &[u8] = &[
        93, 0, 0, 1, 0, 66, 0, 0, 0, 0, 0, 0, 0, 0, 48, 136, 10, 231, 99, 252, 43, 153, 138, 202, 178, 93, 191, 218,
        117, 166, 61, 1, 138, 41, 80, 134, 150, 172, 210, 68, 1, 70, 88, 232, 61, 207, 134, 153, 180, 209, 18, 254,
        235, 176, 255, 255, 253, 78, 240, 0,
    ];

    #[test]
    fn what_another_library_packed_comes_back() {
        let mut unpacked = [0; TEXT.len()];
        unpack_into(PACKED, &mut unpacked).unwrap();
        assert_eq!(unpacked, TEXT);
    }

    #[test]
    fn what_is_no_such_file_is_refused() {
        let mut unpacked = [0; TEXT.len()];
        let mut asks_much = PACKED.to_vec();
        asks_much[1..5].fill(0xff);
        for wrong in
            [&b""[..], b"no LZMA at all, but long enough for a header", &PACKED[..PACKED.len() - 20], &asks_much]
        {
            assert!(unpack_into(wrong, &mut unpacked).is_none());
        }
        assert!(unpack_into(PACKED, &mut unpacked[1..]).is_none(), "another length than the file's");
    }
}
