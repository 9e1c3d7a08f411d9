//! What holds for any input: nothing panics, what is printed reads back as itself, kinds are respected.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use benchleaf_core::{
    Evaluator,
    lang::parse_literal,
    units::{DisplayUnit, Kind, parse, table},
};
use benchleaf_tests::{calc, codes};
use proptest::prelude::*;

/// Pieces that worksheets are made of, so that random text gets past the first character.
const PIECES: &[&str] = &[
    "```calc\n",
    "```",
    "\n",
    " ",
    "+++\n",
    "title = \"x\"",
    "x",
    "R_t",
    "y = ",
    "12 V",
    "4k7",
    "R47",
    "± 5 %",
    "-20 % +50 %",
    "min ",
    "typ ",
    "max ",
    "(",
    ")",
    "[s]",
    "[",
    "]",
    ",",
    "keep ",
    " below ",
    " above ",
    " between ",
    " and ",
    "if ",
    " then ",
    " else ",
    "ln(",
    "sqrt(",
    "preferred_below(E24, ",
    "regulator.linear(",
    "input = ",
    "*",
    "/",
    "^",
    "-",
    "+",
    "∥",
    "||",
    "==",
    "<",
    "\"label\"",
    "\"",
    "#",
    "{x}",
    "{",
    "}",
    "{{",
    "```plot\n",
    " against ",
    " from ",
    " to ",
    " log",
    "```danger when ",
    "bound ",
    "°C",
    "µF",
    "1e999",
    "0",
    ".",
    "π",
    "correlation(",
    "normal(2)",
    "not ",
    "\u{feff}",
    "é",
    "𝄞",
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_makes_the_engine_panic(text in any::<String>()) {
        Evaluator::default().evaluate(&text);
        calc(&text);
    }

    #[test]
    fn no_soup_of_words_makes_the_engine_panic(pieces in prop::collection::vec(0..PIECES.len(), 0..60)) {
        let text: String = pieces.iter().map(|i| PIECES[*i]).collect();
        let it = Evaluator::default().evaluate(&text);
        for problem in &it.problems {
            prop_assert!(problem.span.end <= text.len() && text.get(problem.span.start..problem.span.end).is_some());
            prop_assert!(!problem.message.english().is_empty());
        }
        calc(&text);
    }

    #[test]
    fn a_printed_quantity_reads_back(mantissa in -9.9f64..9.9, exponent in -9i32..9, which in any::<prop::sample::Index>()) {
        let number = mantissa * 10f64.powi(exponent);
        let symbols: Vec<&str> = table().symbols().collect();
        let symbol = symbols[which.index(symbols.len())];
        let unit = parse(symbol).unwrap();
        let shown = DisplayUnit::declared(unit.clone()).join(format!("{number:?}"));
        let it = calc(&format!("x = {shown}"));
        let value = it.value("x").unwrap_or_else(|| panic!("{shown}: {:?}", it.problems));
        prop_assert_eq!(value.value_type, benchleaf_core::units::ValueType::Quantity(unit.quantity), "{}", shown);
        let back = unit.of_si(value.nominal);
        prop_assert!((back - number).abs() <= 1e-9 * number.abs().max(unit.offset.abs()), "{}: {}", shown, back);
    }

    #[test]
    fn what_a_page_shows_can_be_typed_in(si in 1e-9f64..1e9, digits in 3u8..9, which in 0usize..8) {
        let quantity = parse(["V", "A", "Ω", "F", "s", "W", "N·m", "Hz"][which]).unwrap().quantity;
        let shown = DisplayUnit::picked(quantity, si).show(si, digits);
        prop_assert!(parse_literal(&shown).is_ok(), "{}", shown);
        let it = calc(&format!("x = {shown}"));
        let back = it.value("x").unwrap().nominal;
        prop_assert!((back - si).abs() <= si * 10f64.powi(1 - i32::from(digits)), "{} is not {}", shown, si);
    }

    #[test]
    fn quantities_of_two_kinds_never_add(a in any::<prop::sample::Index>(), b in any::<prop::sample::Index>()) {
        let symbols: Vec<&str> = table().symbols().collect();
        let (a, b) = (symbols[a.index(symbols.len())], symbols[b.index(symbols.len())]);
        let (ua, ub) = (parse(a).unwrap().quantity, parse(b).unwrap().quantity);
        let it = calc(&format!("x = 1 {a} + 1 {b}"));
        let temperatures = [ua.kind, ub.kind].iter().filter(|kind| **kind == Kind::Temperature).count();
        let differences = [ua.kind, ub.kind].iter().filter(|kind| **kind == Kind::TemperatureDifference).count();
        let alike = ua.dimension == ub.dimension
            && match temperatures {
                0 => ua.kind == ub.kind || ua.kind == Kind::Plain || ub.kind == Kind::Plain,
                1 => differences == 1,
                _ => false,
            };
        prop_assert_eq!(codes(&it).is_empty(), alike, "1 {} + 1 {}: {:?}", a, b, codes(&it));
    }
}
