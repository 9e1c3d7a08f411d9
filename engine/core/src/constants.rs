//! Values of a worksheet as constants of a program: what the metadata ask for (`t_on:ms:u32`,
//! `t_on:ticks@1MHz/64:u16`), held against the evaluated values. Rounding is to the nearest whole number, and its error is
//! kept. Nothing here knows a programming language.

use benchleaf_words::{Phrase, phrase};

use crate::{
    problem::{Code, Problem},
    results::{Evaluation, Value},
    span::Spanned,
    units::{DisplayUnit, Unit, ValueType, number, parse},
};

/// A constant of a program.
#[derive(Clone, Debug, PartialEq)]
pub struct Constant {
    /// Its name: that of the value and its unit, in capitals and ASCII (`T_ON_MS`).
    pub name: String,
    /// What it is, in words: the value's label, or else its name.
    pub what: String,
    /// The value as the worksheet shows it, with its worst case where it varies.
    pub shown: String,
    /// Its type.
    pub kind: ConstantType,
    /// What stands in the program: whole for a whole type.
    pub number: f64,
    /// Its unit in words: `ms`, or `ticks of 1 MHz / 64 (15.6 kHz)`.
    pub unit: String,
    /// The number before rounding.
    pub exact: f64,
}

/// The type of a constant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum ConstantType {
    Unsigned(u8),
    Signed(u8),
    Float(u8),
}

impl ConstantType {
    /// Every type by its name in the metadata.
    pub const TABLE: &'static [(&'static str, ConstantType)] = &[
        ("u8", ConstantType::Unsigned(8)),
        ("u16", ConstantType::Unsigned(16)),
        ("u32", ConstantType::Unsigned(32)),
        ("u64", ConstantType::Unsigned(64)),
        ("i8", ConstantType::Signed(8)),
        ("i16", ConstantType::Signed(16)),
        ("i32", ConstantType::Signed(32)),
        ("i64", ConstantType::Signed(64)),
        ("f32", ConstantType::Float(32)),
        ("f64", ConstantType::Float(64)),
    ];

    /// Its name in the metadata, which is Rust's.
    pub fn text(self) -> &'static str {
        Self::TABLE.iter().find(|row| row.1 == self).map_or("", |row| row.0)
    }

    /// Least and greatest value of a whole type.
    pub fn ends(self) -> Option<(i128, i128)> {
        match self {
            ConstantType::Unsigned(bits) => Some((0, (1 << bits) - 1)),
            ConstantType::Signed(bits) => Some((-(1 << (bits - 1)), (1 << (bits - 1)) - 1)),
            ConstantType::Float(_) => None,
        }
    }
}

/// The constants that a worksheet's metadata ask for, and what is wrong with the others.
pub fn constants(evaluation: &Evaluation) -> (Vec<Constant>, Vec<Problem>) {
    let (mut made, mut problems) = (Vec::<Constant>::new(), Vec::new());
    for asked in &evaluation.sheet.metadata.constants {
        match constant(asked, evaluation) {
            Ok(constant) if made.iter().any(|other| other.name == constant.name) => {
                let message = phrase!(CONSTANTS_THERE_IS_A_CONSTANT_ALREADY, name = constant.name);
                problems.push(
                    Problem::new(Code::Constants, asked.span, message).help(phrase!(CONSTANTS_ASK_FOR_EACH_VALUE_ONCE)),
                );
            }
            Ok(constant) => made.push(constant),
            Err(problem) => problems.push(problem),
        }
    }
    (made, problems)
}

fn constant(asked: &Spanned<String>, evaluation: &Evaluation) -> Result<Constant, Problem> {
    let refused = |message: Phrase, help: Phrase| Problem::new(Code::Constants, asked.span, message).help(help);
    let parts: Vec<&str> = asked.item.split(':').map(str::trim).collect();
    let [name, unit, kind] = *parts.as_slice() else {
        return Err(refused(
            phrase!(CONSTANTS_DOES_NOT_READ, asked = asked.item),
            phrase!(CONSTANTS_A_CONSTANT_READS_T_ON),
        ));
    };
    let Some((_, kind)) = ConstantType::TABLE.iter().find(|row| row.0 == kind).copied() else {
        let names: Vec<&str> = ConstantType::TABLE.iter().map(|row| row.0).collect();
        return Err(refused(
            phrase!(CONSTANTS_IS_NOT_A_TYPE, kind = kind),
            phrase!(CONSTANTS_THE_TYPES_ARE, names = names.join(", ")),
        ));
    };
    let Some(value) = evaluation.value(name) else {
        let near = crate::suggest::nearest(name, evaluation.values.iter().map(|value| value.name.as_str()));
        let help = near.map_or_else(
            || phrase!(CONSTANTS_A_CONSTANT_READS_T_ON),
            |near| phrase!(SHARED_DID_YOU_MEAN, known = near),
        );
        return Err(refused(phrase!(CONSTANTS_THE_WORKSHEET_HAS_NO_VALUE, name = name), help));
    };
    if !value.nominal.is_finite() {
        return Err(refused(
            phrase!(SHARED_HAS_NO_FINITE_VALUE, name = name),
            phrase!(SHARED_LOOK_AT_ITS_FORMULA_FIRST),
        ));
    }
    let (exact, unit_name, unit) = in_unit(value, unit).map_err(|(message, help)| refused(message, help))?;
    let number = match kind {
        // What the program gets is the nearest number that the type can hold.
        ConstantType::Float(32) => f64::from(exact as f32),
        ConstantType::Float(_) => exact,
        _ => exact.round(),
    };
    if !number.is_finite() || number.abs() > MOST_EXACT && kind.ends().is_some() {
        let message =
            phrase!(CONSTANTS_COMES_TO_TOO_LARGE, name = name, number = crate::units::number(exact, 6), unit = unit);
        return Err(refused(message, phrase!(CONSTANTS_CHOOSE_A_LARGER_UNIT)));
    }
    if let Some((low, high)) = kind.ends().filter(|(low, high)| !(*low..=*high).contains(&(number as i128))) {
        let message = phrase!(
            CONSTANTS_COMES_TO_WHICH_CANNOT_HOLD,
            name = name,
            number = number,
            unit = unit,
            kind = kind.text(),
            low = low,
            high = high
        );
        return Err(refused(message, phrase!(CONSTANTS_CHOOSE_A_WIDER_TYPE)));
    }
    let name = identifier(&format!("{name}_{unit_name}")).ok_or_else(|| {
        let message = phrase!(CONSTANTS_NO_NAME_IN_PLAIN_LETTERS, name = name, unit = unit);
        refused(message, phrase!(CONSTANTS_CALL_THE_VALUE_BY_LETTERS))
    })?;
    let shown = match value.shown_range() {
        Some(range) => format!("{}, worst case {range}", value.shown()),
        None => value.shown(),
    };
    let what = value.label.clone().unwrap_or_else(|| value.name.clone());
    Ok(Constant { name, what, shown, kind, number, unit, exact })
}

type Refused = (Phrase, Phrase);

/// A value in the unit that is asked for: its number, the unit in a name, and in words.
fn in_unit(value: &Value, asked: &str) -> Result<(f64, String, String), Refused> {
    let ValueType::Quantity(quantity) = value.value_type else {
        return Err((
            phrase!(CONSTANTS_IS_A_CONDITION_NOT, name = value.name),
            phrase!(CONSTANTS_A_CONSTANT_HOLDS_A_QUANTITY),
        ));
    };
    let mismatch = |wanted: Phrase| {
        let message = phrase!(
            CONSTANTS_IS_IT_CANNOT_BE_WRITTEN,
            name = value.name,
            found = value.value_type.describe(),
            wanted = wanted
        );
        (message, phrase!(CONSTANTS_NAME_A_UNIT))
    };
    if let Some(clock) = asked.strip_prefix("ticks@") {
        let (frequency, shown) = clock_of(clock)?;
        let second = parse("s").unwrap_or_else(Unit::one);
        if quantity.dimension != second.quantity.dimension {
            return Err(mismatch(phrase!(CONSTANTS_TICKS_ONLY_A_TIME_CAN)));
        }
        return Ok((value.nominal * frequency, "ticks".to_owned(), shown));
    }
    let unit = match asked {
        "" | "1" => Unit::one(),
        symbol => parse(symbol)
            .ok_or_else(|| (phrase!(SHARED_IS_NOT_A_UNIT, part = symbol), phrase!(CONSTANTS_A_CONSTANT_READS_T_ON)))?,
    };
    if quantity.dimension != unit.quantity.dimension || quantity.kind.joined(unit.quantity.kind).is_none() {
        return Err(mismatch(if asked.is_empty() { phrase!(QUANTITY_PLAIN_NUMBER) } else { asked.into() }));
    }
    Ok((unit.of_si(value.nominal), unit.symbol.clone(), unit.symbol.clone()))
}

/// `1MHz/64`: how many ticks a second has, and the same in words.
fn clock_of(text: &str) -> Result<(f64, String), Refused> {
    let wrong =
        || (phrase!(CONSTANTS_DOES_NOT_READ_AS_A_TIMERS, text = text), phrase!(CONSTANTS_A_CONSTANT_READS_T_ON));
    let (clock, divisor) = text.split_once('/').unwrap_or((text, "1"));
    let digits = clock.find(|c: char| !(c.is_ascii_digit() || c == '.')).ok_or_else(wrong)?;
    let (amount, symbol) = clock.split_at(digits);
    let amount: f64 = amount.parse().map_err(|_| wrong())?;
    let unit = parse(symbol.trim())
        .filter(|unit| parse("Hz").is_some_and(|hertz| hertz.quantity == unit.quantity))
        .ok_or_else(wrong)?;
    let divisor: u64 = divisor.trim().parse().ok().filter(|divisor| *divisor > 0).ok_or_else(wrong)?;
    let frequency = unit.to_si(amount) / divisor as f64;
    if !(frequency.is_finite() && frequency > 0.0) {
        return Err(wrong());
    }
    let tick =
        DisplayUnit::picked(parse("s").unwrap_or_else(Unit::one).quantity, 1.0 / frequency).show(1.0 / frequency, 6);
    let by = if divisor == 1 { String::new() } else { format!(" / {divisor}") };
    Ok((frequency, format!("ticks of {} {}{by} ({tick} each)", number_of(amount), symbol.trim())))
}

fn number_of(amount: f64) -> String {
    if amount.fract() == 0.0 { amount.to_string() } else { number(amount, 6) }
}

/// A name that every language takes: capitals, figures and `_`; nothing where a letter has no counterpart.
fn identifier(text: &str) -> Option<String> {
    let mut name = String::new();
    for c in text.chars() {
        let part = match c {
            'a'..='z' | 'A'..='Z' | '0'..='9' | '_' => None,
            '.' | '·' | '*' | ' ' => Some("_"),
            '/' => Some("_PER_"),
            'µ' | 'μ' => Some("U"),
            'Ω' | '\u{2126}' => Some("OHM"),
            '°' => Some("DEG"),
            '%' => Some("PERCENT"),
            '²' => Some("2"),
            '³' => Some("3"),
            '^' => Some(""),
            '-' | '⁻' => Some("MINUS"),
            '¹' => Some("1"),
            other => Some(GREEK.iter().find(|row| row.0.contains(other))?.1),
        };
        match part {
            Some(part) => name.push_str(part),
            None => name.push(c.to_ascii_uppercase()),
        }
    }
    let name = name.trim_end_matches('_').to_owned();
    name.starts_with(|c: char| c.is_ascii_alphabetic()).then_some(name)
}

const GREEK: &[(&str, &str)] = &[
    ("αΑ", "ALPHA"),
    ("βΒ", "BETA"),
    ("γΓ", "GAMMA"),
    ("δΔ", "DELTA"),
    ("εϵΕ", "EPSILON"),
    ("ζΖ", "ZETA"),
    ("ηΗ", "ETA"),
    ("θϑΘ", "THETA"),
    ("κΚ", "KAPPA"),
    ("λΛ", "LAMBDA"),
    ("νΝ", "NU"),
    ("ξΞ", "XI"),
    ("πΠ", "PI"),
    ("ρΡ", "RHO"),
    ("σΣ", "SIGMA"),
    ("τΤ", "TAU"),
    ("φϕΦ", "PHI"),
    ("χΧ", "CHI"),
    ("ψΨ", "PSI"),
    ("ω", "OMEGA"),
];

/// Beyond it a double does not hold every whole number.
const MOST_EXACT: f64 = 9_007_199_254_740_992.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Evaluator;

    fn made(asked: &str) -> Result<Constant, String> {
        let source = format!(
            "+++\nconstants = [\"{asked}\"]\n+++\n```calc\nt_on = 21.9958 s ± 1 % \"pulse\"\nτ_1 = 2 ms\nok = t_on > 1 s\nV = -3.3 V\nbig = 1e18\n```\n"
        );
        let evaluation = Evaluator::default().evaluate(&source);
        let (constants, problems) = constants(&evaluation);
        assert_eq!(evaluation.problems, problems, "the evaluation reports the same");
        constants.into_iter().next().ok_or_else(|| problems[0].message.english())
    }

    #[test]
    fn values_become_numbers_of_their_type() {
        for (asked, name, number) in [
            ("t_on:ms:u32", "T_ON_MS", 21_996.0),
            ("t_on:ticks@1MHz/64:u32", "T_ON_TICKS", 343_684.0),
            ("t_on:ticks@1kHz:u16", "T_ON_TICKS", 21_996.0),
            ("τ_1:µs:u16", "TAU_1_US", 2000.0),
            ("V:mV:i16", "V_MV", -3300.0),
            ("V:V:f64", "V_V", -3.3),
            ("V:V:f32", "V_V", f64::from(-3.3_f32)),
            ("V:kV:i8", "V_KV", 0.0),
        ] {
            let constant = made(asked).unwrap();
            assert_eq!((constant.name.as_str(), constant.number), (name, number), "{asked}");
        }
    }

    #[test]
    fn what_cannot_be_a_constant_is_told() {
        for (asked, wanted) in [
            ("t_on", "does not read as a constant"),
            ("t_on:ms:u12", "not a type"),
            ("t_off:ms:u32", "no value `t_off`"),
            ("t_on:mV:u32", "cannot be written in mV"),
            ("t_on:mz:u32", "not a unit"),
            ("V:ticks@1MHz:u32", "only a time"),
            ("t_on:ticks@1V:u32", "timer's clock"),
            ("t_on:ticks@1MHz/0:u32", "timer's clock"),
            ("t_on:ms:u8", "cannot hold: it goes from 0 to 255"),
            ("V:V:u8", "cannot hold"),
            ("ok::u8", "a condition"),
            ("big::u64", "last digit"),
        ] {
            let message = made(asked).unwrap_err();
            assert!(message.contains(wanted), "{asked}: {message}");
        }
    }
}
