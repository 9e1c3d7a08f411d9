//! Units against `pint`, constants against `scipy.constants`: general-purpose libraries with tables of their own.
//! `tests/reference/units.py` does the comparing, and lists every unit that pint does not know with the reason.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use benchleaf_core::{
    check::CONSTANTS,
    units::{parse, table},
};
use benchleaf_tests::{nominal, outside, sound};
use serde_json::{Value, json};

/// Every unit that the engine accepts, both ways; a scale of temperature at its zero, below it and above.
#[test]
#[ignore = "needs pint: run tests/run"]
fn units_and_constants_agree_with_reference_libraries() {
    let numbers = [1.0, -40.0, 0.0, 12.5, 98.6];
    let units: Vec<Value> = table()
        .symbols()
        .map(|symbol| {
            let unit = parse(symbol).unwrap();
            let si = numbers.map(|number| unit.to_si(number));
            json!({
                "symbol": symbol, "dimension": unit.quantity.dimension.to_string(), "numbers": numbers,
                "si": si, "back": si.map(|si| unit.of_si(si)),
            })
        })
        .collect();
    let constants: serde_json::Map<String, Value> = CONSTANTS
        .iter()
        .map(|constant| (constant.name.to_owned(), constant_in_si(constant.name, constant.unit)))
        .collect();
    let total = units.len();
    let answer = outside::python("units.py", &json!({ "units": units, "constants": constants }));
    let wrong: Vec<&str> = answer["wrong"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert!(wrong.is_empty(), "{} disagree:\n{}", wrong.len(), wrong.join("\n"));
    // Currencies, and the standard cubic foot.
    assert_eq!(answer["uncompared"].as_object().unwrap().len(), UNCOMPARED, "{}", answer["uncompared"]);
    assert_eq!(answer["compared"], total - UNCOMPARED);
}

/// A constant as a worksheet meets it, so that its unit is held to account as well.
fn constant_in_si(name: &str, unit: &str) -> Value {
    let unit = if unit.is_empty() { "1".to_owned() } else { format!("(1 {unit})") };
    json!(nominal(&sound(&format!("x = {name} / {unit}")), "x"))
}

const UNCOMPARED: usize = 15;
