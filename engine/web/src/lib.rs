//! sketch
/// x
#[allow(unsafe_code)]
#[unsafe(no_mangle)]
pub extern "C" fn evaluate(at: *const u8, len: usize) -> usize {
    let source = unsafe { std::str::from_utf8_unchecked(std::slice::from_raw_parts(at, len)) };
    let e = benchleaf_core::evaluate(source, &Default::default());
    let p = benchleaf_page::render(&e, source, &Default::default());
    p.body.leak().as_ptr() as usize
}
