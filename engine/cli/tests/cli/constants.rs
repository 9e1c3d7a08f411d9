//! `benchleaf constants`: what it writes is compiled by the compilers of its languages, and says the numbers that it should.

use std::process::Command;

use crate::bench::{Bench, ERROR, HOLDS, Run};

const SHEET: &str = "+++\nconstants = [\"t_on:ms:u32\", \"t_on:ticks@1MHz/64:u32\", \"V_off:mV:i16\", \"gain::f32\", \"τ_1:µs:f64\"]\n+++\n\
    # A pulse\n\n```calc\nt_on = 21.9958 s ± 5 % \"pulse */ length\"\nV_off = -3.3 V\ngain = 1/3\nτ_1 = 2.5 ms\n```\n";

fn written(lang: &str, file: &str) -> Bench {
    let bench = Bench::with(&[("a.md", SHEET)]);
    bench.run(&["constants", "a.md", "--lang", lang, "-o", file]).exits(0);
    // A second time: what Benchleaf wrote may be replaced.
    bench.run(&["constants", "a.md", "--lang", lang, "-o", file]).exits(0);
    bench
}

fn runs(bench: &Bench, program: &str, arguments: &[&str]) -> Run {
    let mut command = Command::new(program);
    command.args(arguments).current_dir(bench.path(""));
    Run::of(&mut command).exits(0)
}

#[test]
fn c_takes_them() {
    let bench = written("c", "pulse.h");
    bench.put(
        "main.c",
        "#include <stdio.h>\n#include \"pulse.h\"\nint main(void) { printf(\"%lu %lu %d %.9g %.17g\\n\", (unsigned long)T_ON_MS, \
         (unsigned long)T_ON_TICKS, (int)(0 - V_OFF_MV), (double)GAIN, TAU_1_US); return 0; }\n",
    );
    runs(&bench, "cc", &["-std=c11", "-Wall", "-Wextra", "-Werror", "-pedantic", "main.c", "-o", "main"]);
    let program = bench.path("main");
    assert_eq!(runs(&bench, program.to_str().unwrap(), &[]).out, "21996 343684 3300 0.333333343 2500\n");
    let text = bench.read("pulse.h");
    assert!(text.contains("rounding error +0.20, +0.00091 %") && text.contains("ticks of 1 MHz / 64"), "{text}");
    // An assertion that guards: with a number that the type cannot hold it does not compile.
    bench.put("pulse.h", text.replace("INT16_C(-3300)", "INT16_C(-33000)"));
    let mut broken = Command::new("cc");
    broken.args(["-std=c11", "-c", "main.c"]).current_dir(bench.path(""));
    assert_ne!(Run::of(&mut broken).status, 0);
}

#[test]
fn rust_takes_them() {
    let bench = written("rust", "pulse.rs");
    bench.put(
        "main.rs",
        "#![deny(warnings)]\n#[allow(dead_code)]\nmod pulse;\nuse pulse::*;\nfn main() { let t: u32 = T_ON_MS; println!(\"{t} {T_ON_TICKS} {} {GAIN} {TAU_1_US}\", -V_OFF_MV); }\n",
    );
    runs(&bench, "rustc", &["--edition", "2024", "main.rs", "-o", "main"]);
    let program = bench.path("main");
    assert_eq!(runs(&bench, program.to_str().unwrap(), &[]).out, "21996 343684 3300 0.33333334 2500\n");
    bench.put("pulse.rs", bench.read("pulse.rs").replace(": u32 = 21996;", ": u32 = 21997;"));
    let mut broken = Command::new("rustc");
    broken.args(["--edition", "2024", "main.rs"]).current_dir(bench.path(""));
    assert_ne!(Run::of(&mut broken).status, 0);
}

#[test]
#[ignore = "needs Python: tests/run"]
fn python_takes_them() {
    let bench = written("python", "pulse.py");
    let script = "import pulse; print(pulse.T_ON_MS, pulse.T_ON_TICKS, -pulse.V_OFF_MV, pulse.TAU_1_US, len(pulse.WORKSHEET_SHA256))";
    assert_eq!(runs(&bench, "python3", &["-W", "error", "-c", script]).out, "21996 343684 3300 2500.0 64\n");
}

#[test]
fn what_cannot_be_written_is_told() {
    let bench = Bench::with(&[("a.md", SHEET), ("none.md", HOLDS), ("wrong.md", ERROR), ("mine.h", "int mine;\n")]);
    bench.put("wide.md", SHEET.replace("t_on:ms:u32", "t_on:ms:u8"));
    bench.run(&["constants", "a.md", "--lang", "c", "-o", "mine.h"]).exits(3).warns(&["stands in the way"]);
    assert_eq!(bench.read("mine.h"), "int mine;\n");
    bench.run(&["constants", "none.md", "--lang", "c"]).exits(3).warns(&["asks for no constants"]);
    bench.run(&["constants", "wrong.md", "--lang", "c"]).exits(2);
    bench.run(&["constants", "wide.md", "--lang", "c"]).exits(2).warns(&["E-constants", "which u8 cannot hold"]);
    bench.run(&["constants", "missing.md", "--lang", "c"]).exits(3);
    bench.run(&["constants", "a.md", "--lang", "basic"]).exits(3);
    assert!(bench.run(&["constants", "a.md", "--lang", "python"]).exits(0).out.contains("T_ON_MS = 21996\n"));
}
