//! Constants as C, Rust and Python write them.

use std::fmt::Write;

use benchleaf_core::{
    constants::{Constant, ConstantType},
    units::number,
};

use crate::args::Language;

/// How every file of constants begins, behind the comment's own sign.
pub(super) const MARK: &str = "Constants of a worksheet, written by Benchleaf";

/// A worksheet and its constants.
pub(super) struct Sheet<'a> {
    pub(super) name: &'a str,
    pub(super) hash: &'a str,
    pub(super) constants: &'a [Constant],
}

impl Sheet<'_> {
    /// The whole file.
    pub(super) fn written(&self, language: Language) -> String {
        let name = plain(self.name);
        let head = [
            format!("{MARK} {}, from {name}.", env!("CARGO_PKG_VERSION")),
            "Change the worksheet and write them again, not this file.".to_owned(),
            format!("SHA-256 of the worksheet: {}", self.hash),
        ];
        match language {
            Language::C => self.c(&head),
            Language::Rust => self.rust(&head),
            Language::Python => self.python(&head),
        }
    }

    fn c(&self, head: &[String]) -> String {
        let mut text = String::new();
        for line in head {
            let _ = writeln!(text, "/* {line} */");
        }
        let guard = format!("BENCHLEAF_{}_H", &self.hash[..16].to_uppercase());
        let _ = write!(text, "#ifndef {guard}\n#define {guard}\n\n#include <assert.h>\n#include <stdint.h>\n");
        let _ = write!(text, "\n#define BENCHLEAF_WORKSHEET_SHA256 \"{}\"\n", self.hash);
        for constant in self.constants {
            let name = &constant.name;
            text.push('\n');
            for line in comment(constant) {
                let _ = writeln!(text, "/* {line} */");
            }
            let (literal, asserted) = match constant.kind {
                ConstantType::Unsigned(bits) => {
                    (format!("UINT{bits}_C({})", constant.number), format!("{name} <= UINT{bits}_MAX"))
                }
                ConstantType::Signed(bits) => (
                    format!("INT{bits}_C({})", constant.number),
                    format!("{name} >= INT{bits}_MIN && {name} <= INT{bits}_MAX"),
                ),
                // C asserts on whole numbers alone; one with a fraction was held against its type when it was written.
                ConstantType::Float(32) => (format!("{}f", float32(constant.number)), String::new()),
                ConstantType::Float(_) => (format!("{:?}", constant.number), String::new()),
            };
            // In brackets, so that a negative number stays one in a sum of the reader's.
            let _ = writeln!(text, "#define {name} ({literal})");
            if !asserted.is_empty() {
                let _ = writeln!(text, "static_assert({asserted}, \"{name} fits {}\");", constant.kind.text());
            }
        }
        text.push_str("\n#endif\n");
        text
    }

    fn rust(&self, head: &[String]) -> String {
        let mut text = String::new();
        for line in head {
            let _ = writeln!(text, "// {line}");
        }
        let _ =
            write!(text, "\n/// SHA-256 of the worksheet.\npub const WORKSHEET_SHA256: &str = \"{}\";\n", self.hash);
        for constant in self.constants {
            let (name, kind) = (&constant.name, constant.kind.text());
            text.push('\n');
            for line in comment(constant) {
                let _ = writeln!(text, "/// {line}");
            }
            let (literal, asserted) = match constant.kind {
                ConstantType::Float(32) => {
                    (float32(constant.number), format!("{name} >= f32::MIN && {name} <= f32::MAX"))
                }
                ConstantType::Float(_) => {
                    (format!("{:?}", constant.number), format!("{name} >= f64::MIN && {name} <= f64::MAX"))
                }
                _ => (constant.number.to_string(), format!("{name} as i128 == {}", constant.number)),
            };
            let _ = write!(text, "pub const {name}: {kind} = {literal};\nconst _: () = assert!({asserted});\n");
        }
        text
    }

    fn python(&self, head: &[String]) -> String {
        let mut text = String::new();
        for line in head {
            let _ = writeln!(text, "# {line}");
        }
        let _ = write!(text, "\nWORKSHEET_SHA256 = \"{}\"\n", self.hash);
        for constant in self.constants {
            let name = &constant.name;
            text.push('\n');
            for line in comment(constant) {
                let _ = writeln!(text, "# {line}");
            }
            match constant.kind.ends() {
                Some((low, high)) => {
                    let _ = write!(text, "{name} = {}\nassert {low} <= {name} <= {high}\n", constant.number);
                }
                None => {
                    let _ = writeln!(text, "{name} = {:?}", constant.number);
                }
            }
        }
        text
    }
}

/// What the constant is, and what rounding did to it.
fn comment(constant: &Constant) -> Vec<String> {
    let Constant { what, shown, number: rounded, exact, unit, kind, .. } = constant;
    let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
    let mut lines = vec![format!("{}: {}", plain(what), plain(shown))];
    let error = rounded - exact;
    lines.push(match (kind, *exact) {
        (ConstantType::Float(64), _) => format!("In{unit}, not rounded.").replace("In,", "A plain number,"),
        _ if error == 0.0 => format!("Exactly {}{unit}.", trimmed(*exact)),
        (_, exact) => {
            let part =
                if exact == 0.0 { String::new() } else { format!(", {} %", signed(100.0 * error / exact.abs())) };
            format!("{}{unit}; rounding error {}{part}.", trimmed(exact), signed(error))
        }
    });
    lines.iter().map(|line| plain(line)).collect()
}

/// Ten figures, without zeros at the end of the decimals.
fn trimmed(value: f64) -> String {
    let shown = number(value, 10);
    if !shown.contains('.') || shown.contains('×') {
        return shown;
    }
    shown.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn signed(error: f64) -> String {
    format!("{}{}", if error > 0.0 { "+" } else { "" }, number(error, 2))
}

/// The shortest digits that a single-precision number reads back from.
fn float32(value: f64) -> String {
    format!("{:?}", value as f32)
}

/// Text that ends no comment of any language and begins no line.
fn plain(text: &str) -> String {
    let one_line: String = text.chars().map(|c| if c.is_control() || c == '\\' { ' ' } else { c }).collect();
    one_line.replace("*/", "* /").replace("/*", "/ *")
}
