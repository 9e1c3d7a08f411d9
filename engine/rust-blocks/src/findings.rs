//! What the compiler found, in the words of a learner first and the compiler's below. A unit mistake is to the compiler two
//! types of many parameters; here the exponents are read out of them and shown as quantities.

use std::{fs, ops::Range};

use benchleaf_core::{
    host::{Finding, Place, wire::Source},
    units::{Dimension, Kind, QuantityType},
};
use evcxr::CompilationError;

use crate::compose::Composed;

/// The findings of a block, those without a place in it left out where others have one.
pub(crate) fn in_plain_words(errors: &[CompilationError], composed: &Composed, source: &Source) -> Vec<Finding> {
    let mut findings: Vec<Finding> = Vec::new();
    for error in errors {
        let finding = finding(error, composed, source);
        if !findings.contains(&finding) {
            findings.push(finding);
        }
    }
    if findings.iter().any(|finding| finding.place != Place::Whole) {
        findings.retain(|finding| finding.place != Place::Whole);
    }
    // A mistake in the block's own text brings others behind it.
    if findings.iter().any(|finding| matches!(finding.place, Place::Code(_))) {
        findings.retain(|finding| matches!(finding.place, Place::Code(_)));
    }
    findings.truncate(MOST_TOLD);
    findings
}

/// Findings of one block that are shown.
const MOST_TOLD: usize = 5;

fn finding(error: &CompilationError, composed: &Composed, source: &Source) -> Finding {
    let primary = error.primary_spanned_message();
    let span = primary.and_then(|message| message.span);
    let place = span.and_then(|span| {
        let (from, to) = ((span.start_line, span.start_column), (span.end_line, span.end_column));
        composed.place(source.block, &source.code, from, to)
    });
    let place = place.unwrap_or(Place::Whole);
    let label = primary.map(|message| message.label.as_str()).filter(|label| !label.starts_with("error: "));
    let code = error.code().map_or_else(String::new, |code| format!(" [{code}]"));
    let label = label.filter(|label| !label.is_empty()).map_or_else(String::new, |label| format!(", {label}"));
    let said = Said { code: error.code().unwrap_or(""), message: error.message(), rendered: error.rendered() };
    Finding {
        message: said.to_a_learner(&place, source),
        compiler: Some(format!("{}{code}{label}", error.message())),
        place,
    }
}

/// What the compiler said.
struct Said<'a> {
    code: &'a str,
    message: String,
    rendered: String,
}

impl Said<'_> {
    fn to_a_learner(&self, place: &Place, source: &Source) -> String {
        let result = match place {
            Place::Result(index) => source.outputs.iter().chain(&source.series).nth(*index).map(|result| &result.name),
            _ => None,
        };
        let name = self.message.split('`').nth(1).unwrap_or("");
        match (self.code, result) {
            ("E0308", _) => self.mismatch(place, source, result),
            ("E0425", Some(result)) => format!("the block never sets `{result}`: it should hold `let {result} = …;`"),
            ("E0425", None) if source.inputs.iter().any(|input| input.name == name) => {
                format!(
                    "`{name}` is a value of the worksheet, which a function does not see: hand it over as an argument"
                )
            }
            ("E0425", None) if self.message.contains("function") => format!("there is no function `{name}` here"),
            ("E0425", None) => {
                format!("there is no value `{name}` here: neither above in the worksheet nor in this block")
            }
            ("E0277", Some(result)) => format!("`{result}` is not what the fence says that it is"),
            ("E0277" | "E0369", None) if self.message.contains("Quantity") && self.message.contains("f64") => {
                "this puts a plain number to a quantity: give the number a unit, as in `Time::new::<time::second>(1.0)`"
                    .to_owned()
            }
            ("E0277" | "E0369", None) if self.message.contains("Quantity") => {
                "these two do not go together: look at the unit and the kind of each".to_owned()
            }
            ("E0382", _) => format!("`{name}` was given away above and is gone: use a copy of it, `{name}.clone()`"),
            ("E0384", _) => "this changes a value that was not made to change: write `let mut`".to_owned(),
            ("E0599", _) => format!("there is no `{name}` to call here"),
            _ => "the Rust compiler stops here".to_owned(),
        }
    }

    fn mismatch(&self, place: &Place, source: &Source, result: Option<&String>) -> String {
        let found = quantities(&(long_types(&self.rendered) + &self.rendered));
        let [wanted, given, ..] = found[..] else {
            return match result {
                Some(result) => format!("`{result}` is not what the fence says that it is"),
                None => "this is not what belongs here".to_owned(),
            };
        };
        let (wanted, given) = (wanted.describe_kind().english(), given.describe_kind().english());
        if let Some(result) = result {
            return format!("the fence says that `{result}` is {wanted}, but the block gives {given}");
        }
        match operator(place, &source.code) {
            Some('+') => format!("this adds {given} to {wanted}"),
            Some('-') => format!("this subtracts {given} from {wanted}"),
            Some('<' | '>' | '=') => format!("this compares {wanted} with {given}"),
            _ => format!("{wanted} belongs here, and this is {given}"),
        }
    }
}

/// The operator before a place, where what stands there is its right side.
fn operator(place: &Place, code: &str) -> Option<char> {
    let Place::Code(Range { start, .. }) = place else { return None };
    let before = code.get(..*start)?.trim_end();
    let last = before.chars().next_back()?;
    // `=` alone gives a value a name; behind another sign it compares.
    let compares = last != '=' || before.ends_with("==") || before.ends_with("<=") || before.ends_with(">=");
    Some(last).filter(|_| compares || before.ends_with("+=") || before.ends_with("-=")).map(|last| {
        if before.ends_with("+=") {
            '+'
        } else if before.ends_with("-=") {
            '-'
        } else {
            last
        }
    })
}

/// Types too long for a message are written to a file that the message names.
fn long_types(rendered: &str) -> String {
    let file = rendered.split('\'').find(|part| part.ends_with(".txt") && part.contains("long-type"));
    file.and_then(|file| fs::read_to_string(file).ok()).unwrap_or_default()
}

/// The quantities whose types stand in a text, in order.
fn quantities(text: &str) -> Vec<QuantityType> {
    text.split("Dimension<").skip(1).filter_map(quantity).collect()
}

fn quantity(parameters: &str) -> Option<QuantityType> {
    let of = |name: &str| {
        let at = parameters.find(&format!("{name} = "))? + name.len() + 3;
        exponent(&parameters[at..])
    };
    let exponents = [of("L")?, of("M")?, of("T")?, of("I")?, of("Th")?, of("N")?, of("J")?];
    let kind =
        if parameters.split("L = ").next()?.contains("TemperatureKind") { Kind::Temperature } else { Kind::Plain };
    let dimension = Dimension::new(exponents);
    let kind = if kind == Kind::Plain { Kind::of_product(dimension) } else { kind };
    Some(QuantityType { dimension, kind })
}

/// A whole number as the type that stands at the start of a text: `Z0`, `PInt<UInt<UInt<UTerm, B1>, B0>>`.
fn exponent(text: &str) -> Option<i8> {
    if text.starts_with("Z0") {
        return Some(0);
    }
    let sign = if text.starts_with("NInt<") { -1 } else { 1 };
    let binary = text.strip_prefix("NInt<").or_else(|| text.strip_prefix("PInt<"))?;
    let depth = binary.matches("UInt<").count().min(binary.find("UTerm")? / "UInt<".len());
    let digits = binary.split(", B").skip(1).take(depth);
    digits
        .map(|digit| if digit.starts_with('1') { 1 } else { 0 })
        .try_fold(0i8, |sum, digit| sum.checked_mul(2)?.checked_add(digit))
        .map(|n| n * sign)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exponents_are_read_from_types() {
        assert_eq!(exponent("Z0, J = Z0"), Some(0));
        assert_eq!(exponent("PInt<UInt<UTerm, B1>>, M = PInt<UInt<UInt<UTerm, B1>, B0>>"), Some(1));
        assert_eq!(exponent("NInt<UInt<UInt<UTerm, B1>, B1>>"), Some(-3));
        assert_eq!(exponent("PInt<UInt<UInt<UInt<UTerm, B1>, B0>, B0>>, Th"), Some(4));
        assert_eq!(exponent("_"), None);
    }

    #[test]
    fn quantities_are_read_from_types() {
        let text = "Quantity<(dyn Dimension<I = NInt<UInt<UInt<UTerm, B1>, B0>>, J = Z0, Kind = (dyn Kind + 'static), \
                    L = PInt<UInt<UInt<UTerm, B1>, B0>>, M = PInt<UInt<UTerm, B1>>, N = Z0, \
                    T = NInt<UInt<UInt<UTerm, B1>, B1>>, Th = Z0> + 'static), f64>";
        let found: Vec<String> = quantities(text).into_iter().map(|found| found.describe().english()).collect();
        assert_eq!(found, ["a resistance (Ω)"]);
    }

    #[test]
    fn the_operator_before_a_place_says_what_is_done() {
        let at = |code: &str| operator(&Place::Code(code.len()..code.len()), code);
        assert_eq!(at("R_t + "), Some('+'));
        assert_eq!(at("x += "), Some('+'));
        assert_eq!(at("a <= "), Some('='));
        assert_eq!(at("let x = "), None);
    }
}
