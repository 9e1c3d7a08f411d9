//! Names and quantities in formulas. A name is set as its letter, with what follows the first underscore as a subscript;
//! names lean however long they are (a name may be a word of the sentence's language), units stand upright, and a thin
//! space parts a number from its unit (ISO 80000-1).

use benchleaf_core::{
    lang::ast::{Notation, Quantity},
    results::Value,
    units::{ValueType, literal_number, number as shown_number, parse},
};
use benchleaf_words::{Words, key};
use maud::{Markup, PreEscaped, Render, html};

use super::{ATOM, NEGATION, Piece, QUANTITY};

/// A name: `R_t` with a subscript, `reg.junction` with its record in front.
pub(crate) fn name(text: &str) -> Markup {
    let mut out = String::with_capacity(ROOM + text.len());
    set(text, &mut out);
    PreEscaped(out)
}

/// A name in running text.
pub(crate) fn symbol(text: &str) -> Markup {
    let mut out = String::with_capacity(ROOM + text.len());
    out.push_str("<math>");
    set(text, &mut out);
    out.push_str("</math>");
    PreEscaped(out)
}

/// Written by hand into what is there already: a page is full of names.
fn set(text: &str, out: &mut String) {
    if let Some((record, field)) = text.split_once('.') {
        out.push_str("<mrow>");
        set(record, out);
        out.push_str(r#"<mo lspace="0" rspace="0">.</mo>"#);
        // A field is a word of the handbook's, but for the symbols among them.
        if field.split_once('_').is_some_and(|(base, _)| base.chars().count() == 1) {
            set(field, out);
        } else {
            out.push_str("<mi>");
            field.render_to(out);
            out.push_str("</mi>");
        }
        out.push_str("</mrow>");
        return;
    }
    match text.split_once('_') {
        Some((base, subscript)) if !base.is_empty() && !subscript.is_empty() => {
            out.push_str("<msub>");
            set_letters(base, out);
            out.push_str(r#"<mi mathvariant="normal">"#);
            subscript.replace('_', ",").render_to(out);
            out.push_str("</mi></msub>");
        }
        _ => set_letters(text, out),
    }
}

/// A literal quantity as its author wrote it: the number and the unit.
pub(crate) fn written(quantity: &Quantity) -> (String, String) {
    let number = match quantity.notation {
        Notation::Plain => literal_number(&quantity.digits),
        Notation::PartCode => shown_number(quantity.number, significant(&quantity.digits)),
    };
    let unit = quantity.unit.as_ref().map_or(String::new(), |unit| unit_symbol(&unit.item));
    (number, unit)
}

/// A unit's symbol, however its author spelled it: `uF` is `µF`.
fn unit_symbol(written: &str) -> String {
    parse(written).map_or_else(|| written.to_owned(), |unit| unit.symbol)
}

/// A number that is text already, and its unit.
pub(crate) fn quantity_text(number: &str, unit: &str) -> Markup {
    match unit {
        "" => digits(number),
        "°" | "′" | "″" => html! { mrow { (digits(number)) mi mathvariant="normal" { (unit) } } },
        _ => html! {
            mrow { (digits(number)) mspace width="0.17em" {} mi.unit mathvariant="normal" { (unit) } }
        },
    }
}

/// The number and the unit that a value is shown with.
pub(crate) fn number_and_unit(words: Words<'_>, value: &Value, si: f64) -> (String, String) {
    match value.value_type {
        ValueType::Condition => {
            (words.text(if si == 0.0 { key::FORMAT_NO } else { key::FORMAT_YES }).to_owned(), String::new())
        }
        ValueType::Quantity(_) => (
            if si == value.nominal { value.number() } else { value.unit.number(si, value.digits) },
            value.unit.symbol().to_owned(),
        ),
    }
}

/// A name with a subscript, raised to a power: the power stands over the subscript.
pub(super) fn raised_name(text: &str, power: &Markup) -> Option<Markup> {
    let (base, subscript) = text.split_once('_').filter(|_| !text.contains('.'))?;
    (!base.is_empty() && !subscript.is_empty()).then(|| {
        html! { msubsup { (name(base)) mi mathvariant="normal" { (subscript.replace('_', ",")) } mrow { (power) } } }
    })
}

pub(super) fn quantity(quantity: &Quantity) -> Piece {
    let (number, unit) = written(quantity);
    piece(&number, &unit)
}

/// A value as it is shown: a quantity, or yes or no.
pub(super) fn value(words: Words<'_>, value: &Value) -> Piece {
    let (number, unit) = number_and_unit(words, value, value.nominal);
    match value.value_type {
        ValueType::Condition => Piece::atom(super::words(&number), number.len()),
        ValueType::Quantity(_) => piece(&number, &unit),
    }
}

pub(super) fn piece(number: &str, unit: &str) -> Piece {
    let leading_minus = number.starts_with('−');
    let binding = match (leading_minus, unit.is_empty() && !number.contains(['×', '^', 'e', 'E'])) {
        (true, _) => NEGATION,
        (false, true) => ATOM,
        (false, false) => QUANTITY,
    };
    let width = number.chars().count() + if unit.is_empty() { 0 } else { 1 + unit.chars().count() };
    Piece { markup: quantity_text(number, unit), width, binding, leading_minus }
}

/// Figures, with powers of ten raised.
fn digits(number: &str) -> Markup {
    if let Some(rest) = number.strip_prefix('−') {
        return html! { mrow { mo form="prefix" { "−" } (digits(rest)) } };
    }
    if let Some((mantissa, exponent)) = number.split_once(['e', 'E'])
        && mantissa.ends_with(|c: char| c.is_ascii_digit() || c == '.')
    {
        return html! { mrow { mn { (mantissa) } mo { "×" } (raised("10", exponent.trim_start_matches('+'))) } };
    }
    if let Some((base, exponent)) = number.split_once('^') {
        return raised(base, exponent);
    }
    html! { mn { (number) } }
}

fn raised(base: &str, exponent: &str) -> Markup {
    html! { msup { mn { (base) } (digits(exponent.trim_matches(['(', ')']))) } }
}

/// The letters of a name.
fn set_letters(text: &str, out: &mut String) {
    if text.is_empty() {
        return;
    }
    out.push_str(r#"<mi class="letter">"#);
    text.render_to(out);
    out.push_str("</mi>");
}

/// What the elements of a name take at most, as a rule.
const ROOM: usize = 150;

fn significant(digits: &str) -> u8 {
    let count = digits.chars().filter(char::is_ascii_digit).count();
    u8::try_from(count.clamp(1, 15)).unwrap_or(15)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_part_after_the_first_underscore_is_a_subscript() {
        assert_eq!(
            name("R_t").into_string(),
            r#"<msub><mi class="letter">R</mi><mi mathvariant="normal">t</mi></msub>"#
        );
        assert_eq!(
            name("t_on_max").into_string(),
            r#"<msub><mi class="letter">t</mi><mi mathvariant="normal">on,max</mi></msub>"#
        );
        assert_eq!(name("alpha").into_string(), r#"<mi class="letter">alpha</mi>"#);
        assert_eq!(name("τ").into_string(), r#"<mi class="letter">τ</mi>"#);
        assert!(name("reg.input_current").into_string().ends_with(">.</mo><mi>input_current</mi></mrow>"));
        assert!(name("drv.I_c").into_string().contains("<msub>"));
    }

    #[test]
    fn units_have_one_spelling() {
        for (written, wanted) in [("uF", "µF"), ("kohm", "kΩ"), ("V/A", "V/A"), ("no such", "no such")] {
            assert_eq!(unit_symbol(written), wanted);
        }
    }

    #[test]
    fn a_thin_space_parts_number_and_unit() {
        let set = quantity_text("910", "kΩ").into_string();
        assert_eq!(
            set,
            r#"<mrow><mn>910</mn><mspace width="0.17em"></mspace><mi class="unit" mathvariant="normal">kΩ</mi></mrow>"#
        );
        assert!(quantity_text("30", "°").into_string().starts_with("<mrow><mn>30</mn><mi"));
    }
}
