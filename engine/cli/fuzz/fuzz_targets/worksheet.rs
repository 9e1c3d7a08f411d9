#![no_main]

use benchleaf_tests::fuzzing;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| fuzzing::worksheet(data));
