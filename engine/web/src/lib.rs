//! The entry points of the engine in a published page. The page's script writes a request into the module's memory ([`reserve`]), calls
//! [`evaluate`], reads the answer and gives both back ([`release`]). Everything behind them is the same code as the
//! command line's. This file alone handles raw memory; what a request and an answer say is in `message`, what is done
//! in `work`.

mod message;
mod work;

pub use work::{answer, exact, first_answer, judgement, price, reply, write_bits};

/// Makes room for `len` bytes and gives its address; 0 for no bytes.
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // An export needs its plain name, which the compiler cannot hold against other libraries.
pub extern "C" fn reserve(len: usize) -> *mut u8 {
    Box::into_raw(vec![0_u8; len].into_boxed_slice()).cast()
}

/// Gives back what `reserve` or an answer took.
///
/// # Safety
/// `at` and `len` are those of one call of [`reserve`], or of an answer (with its four bytes of length), not given back
/// before.
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // The page hands over an address; only it can know that nobody uses it any more.
pub unsafe extern "C" fn release(at: *mut u8, len: usize) {
    // SAFETY: by the contract above this is the box that `reserve` or `handed_over` let go.
    drop(unsafe { Box::from_raw(std::ptr::slice_from_raw_parts_mut(at, len)) });
}

/// Puts the changes of a request into its worksheet, evaluates it and sets it: the address of the answer, whose first
/// four bytes are its whole length.
///
/// # Safety
/// `at` points to `len` bytes that [`reserve`] made room for.
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // The request is read where the page wrote it.
pub unsafe extern "C" fn evaluate(at: *const u8, len: usize) -> *mut u8 {
    // SAFETY: by the contract above these bytes are ours, whole, and nobody writes to them meanwhile.
    handed_over(answer(unsafe { std::slice::from_raw_parts(at, len) }))
}

/// The same with runs over time at the nominal values alone, which takes a small part of the time.
///
/// # Safety
/// As for [`evaluate`].
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // The request is read where the page wrote it.
pub unsafe extern "C" fn glance(at: *const u8, len: usize) -> *mut u8 {
    // SAFETY: as in `evaluate`.
    handed_over(first_answer(unsafe { std::slice::from_raw_parts(at, len) }))
}

/// Answers a learner's attempt at an exercise.
///
/// # Safety
/// As for [`evaluate`].
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // The request is read where the page wrote it.
pub unsafe extern "C" fn assess(at: *const u8, len: usize) -> *mut u8 {
    // SAFETY: as in `evaluate`.
    handed_over(reply(unsafe { std::slice::from_raw_parts(at, len) }))
}

/// Holds readings at test points against what a sound build can show.
///
/// # Safety
/// As for [`evaluate`].
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // The request is read where the page wrote it.
pub unsafe extern "C" fn judge(at: *const u8, len: usize) -> *mut u8 {
    // SAFETY: as in `evaluate`.
    handed_over(judgement(unsafe { std::slice::from_raw_parts(at, len) }))
}

/// Says what the parts of a worksheet cost for a number of builds.
///
/// # Safety
/// As for [`evaluate`].
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // The request is read where the page wrote it.
pub unsafe extern "C" fn cost(at: *const u8, len: usize) -> *mut u8 {
    // SAFETY: as in `evaluate`.
    handed_over(price(unsafe { std::slice::from_raw_parts(at, len) }))
}

/// Every number of a worksheet to the last bit, for holding this engine against the native one.
///
/// # Safety
/// As for [`evaluate`].
#[unsafe(no_mangle)]
#[allow(unsafe_code)] // The request is read where the caller wrote it.
pub unsafe extern "C" fn numbers(at: *const u8, len: usize) -> *mut u8 {
    // SAFETY: as in `evaluate`.
    handed_over(exact(unsafe { std::slice::from_raw_parts(at, len) }))
}

/// Lets go of an answer, for the page to give back.
fn handed_over(answer: Vec<u8>) -> *mut u8 {
    Box::into_raw(answer.into_boxed_slice()).cast()
}
