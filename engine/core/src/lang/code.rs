//! The letter code for resistances and capacitances (IEC 60062): a letter stands for the unit's prefix and in the place
//! of the decimal point (`4k7`, `R47`, `4n7`, `p10`), and may be followed by the letter of a tolerance (`4k7J`).

use benchleaf_words::{Phrase, phrase};

use super::ast::{Notation, Quantity};
use crate::{
    span::{Span, Spanned},
    units,
};

/// A code as read.
pub(crate) struct PartCode {
    digits: String,
    unit: &'static str,
    tolerance: Option<f64>,
    /// Where it may as well be something else: both readings, and how to write each.
    pub(crate) doubt: Option<Doubt>,
    /// Bytes it takes.
    pub(crate) len: usize,
}

/// Two readings of one text.
#[derive(Debug, PartialEq)]
pub(crate) struct Doubt {
    /// Both, in words.
    pub(crate) readings: Phrase,
    /// How to write each.
    pub(crate) cures: Phrase,
}

impl PartCode {
    /// The quantity that the code stands for.
    pub(crate) fn quantity(self, span: Span) -> Quantity {
        Quantity {
            number: self.digits.parse().unwrap_or(f64::NAN),
            digits: self.digits,
            unit: Some(Spanned { item: self.unit.to_owned(), span }),
            notation: Notation::PartCode,
            code_tolerance: self.tolerance,
            span,
        }
    }
}

/// Letters and the unit each stands for (IEC 60062, clause 3).
const LETTERS: &[(char, &str)] = &[
    ('R', "Ω"),
    ('k', "kΩ"),
    ('K', "kΩ"),
    ('M', "MΩ"),
    ('G', "GΩ"),
    ('T', "TΩ"),
    ('p', "pF"),
    ('n', "nF"),
    ('u', "µF"),
    ('µ', "µF"),
    ('μ', "µF"),
    ('m', "mF"),
];

/// Letters that end a number as units of their own, and never as codes: metre and tesla.
const UNITS_ALONE: &[char] = &['m', 'T'];

/// Tolerance letters (IEC 60062, clause 4), symmetric and in per cent.
const TOLERANCES: &[(char, f64)] = &[
    ('B', 0.001),
    ('C', 0.0025),
    ('D', 0.005),
    ('F', 0.01),
    ('G', 0.02),
    ('J', 0.05),
    ('K', 0.1),
    ('M', 0.2),
    ('N', 0.3),
];

/// The code at the start of a text, if one stands there: `4k7`, `470k`, `4k7J`; or `R47` with the letter first.
pub(crate) fn read(text: &str) -> Option<PartCode> {
    let whole = leading_figures(text);
    let mut chars = text[whole.len()..].chars();
    let letter = chars.next()?;
    let unit = LETTERS.iter().find(|row| row.0 == letter)?.1;
    let after_letter = whole.len() + letter.len_utf8();
    let fraction = leading_figures(&text[after_letter..]);
    if fraction.is_empty() && whole.is_empty() {
        return None;
    }
    let digits = match (whole, fraction) {
        ("", fraction) => format!("0.{fraction}"),
        (whole, "") => whole.to_owned(),
        (whole, fraction) => format!("{whole}.{fraction}"),
    };
    let mut len = after_letter + fraction.len();
    let mut tolerance = None;
    if let Some(row) = text[len..].chars().next().and_then(|c| TOLERANCES.iter().find(|row| row.0 == c)) {
        // `4k7K`, but not the `kB` of something else: nothing may follow.
        if !text[len + 1..].starts_with(|c: char| c.is_alphanumeric() || c == '_') {
            tolerance = Some(*row);
            len += 1;
        }
    }
    // A number joined to a unit is that unit: `10nF`, `5kN`, `10m`. Where a code is as usual, the author is asked.
    let mut doubt = None;
    if !whole.is_empty() {
        let behind = &text[whole.len()..len];
        let as_unit = units::parse(behind).filter(|_| fraction.is_empty());
        if let Some(as_unit) = as_unit {
            if UNITS_ALONE.contains(&letter) || tolerance.is_some() {
                return None;
            }
            doubt = Some(Doubt {
                readings: phrase!(
                    LANG_CODE_OR_A_PART_OF,
                    found = as_unit.quantity.describe_kind(),
                    whole = whole,
                    unit = unit
                ),
                cures: phrase!(LANG_CODE_WRITE_FOR, whole = whole, behind = behind, unit = unit),
            });
        } else if let Some((_, percent)) = tolerance.filter(|_| is_farad(unit, &text[..len])) {
            let per_cent = percent * 100.0;
            doubt = Some(Doubt {
                readings: phrase!(LANG_CODE_OR_THE_SAME, digits = digits, unit = unit, per_cent = per_cent),
                cures: phrase!(LANG_CODE_WRITE_OR, digits = digits, unit = unit, per_cent = per_cent),
            });
        } else if letter == 'm' && matches!(fraction, "2" | "3") && tolerance.is_none() {
            doubt = Some(Doubt {
                readings: phrase!(LANG_CODE_MF_OR_M, digits = digits, whole = whole, fraction = fraction),
                cures: phrase!(
                    LANG_CODE_WRITE_MF_FOR_THE_CAPACITANCE,
                    digits = digits,
                    whole = whole,
                    fraction = fraction
                ),
            });
        }
    }
    Some(PartCode { digits, unit, tolerance: tolerance.map(|row| row.1), doubt, len })
}

/// Whether a code for a capacitance ends in the unit of one: `4n7F`.
fn is_farad(unit: &str, code: &str) -> bool {
    unit.ends_with('F') && code.ends_with('F')
}

fn leading_figures(text: &str) -> &str {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    &text[..end]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 60062, the examples of clause 3 as far as they are in general use.
    #[test]
    fn codes_stand_for_their_values() {
        for (code, digits, unit) in [
            ("4k7", "4.7", "kΩ"),
            ("R47", "0.47", "Ω"),
            ("4R7", "4.7", "Ω"),
            ("470R", "470", "Ω"),
            ("2M2", "2.2", "MΩ"),
            ("4n7", "4.7", "nF"),
            ("p10", "0.10", "pF"),
            ("470k", "470", "kΩ"),
            ("10u", "10", "µF"),
        ] {
            let read = read(code).unwrap();
            assert_eq!((read.digits.as_str(), read.unit, read.len), (digits, unit, code.len()), "{code}");
        }
        assert_eq!(read("4k7J").and_then(|code| code.tolerance), Some(0.05));
        assert_eq!(read("100RK").and_then(|code| code.tolerance), Some(0.1));
        for unit in ["10m", "10nF", "100nF", "5kN", "10kJ", "10kB", "10nC", "100nK"] {
            assert!(read(unit).is_none(), "{unit}");
        }
        for doubtful in ["10K", "4n7F", "10m2"] {
            assert!(read(doubtful).unwrap().doubt.is_some(), "{doubtful}");
        }
        assert!(read("R").is_none());
    }
}
