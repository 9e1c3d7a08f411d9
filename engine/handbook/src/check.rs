//! What the models' tests share: the check of a declaration, and models called as worksheets call them.

use std::collections::HashSet;

use super::{Input, Model, Output, declare::Shape, find, models};
use benchleaf_core::units::{Dimension, Kind, QuantityType, Unit, parse};

/// A record that a model gave.
pub(crate) struct Record {
    model: &'static Model,
    numbers: Vec<f64>,
}

impl Record {
    /// A field as a number of a unit.
    pub(crate) fn get(&self, field: &str, unit: &str) -> f64 {
        let at = self.model.fields.iter().position(|f| f.name == field).unwrap_or_else(|| panic!("no field {field}"));
        let Output::Quantity(declared) = self.model.fields[at].output else { panic!("{field} is a condition") };
        let unit = unit_of(unit);
        assert_eq!(unit.quantity.dimension, unit_of(declared).quantity.dimension, "{field}");
        unit.of_si(self.numbers[at])
    }

    /// A field that is a condition.
    pub(crate) fn is(&self, field: &str) -> bool {
        let at = self.model.fields.iter().position(|f| f.name == field).unwrap_or_else(|| panic!("no field {field}"));
        assert!(matches!(self.model.fields[at].output, Output::Condition), "{field} is a quantity");
        self.numbers[at] == 1.0
    }
}

/// A model called by name with numbers of units (or the word of a choice in the unit's place), as a worksheet calls it.
pub(crate) fn record(name: &str, given: &[(&str, f64, &str)]) -> Record {
    let model = find(name).unwrap_or_else(|| panic!("no model {name}"));
    for (argument, ..) in given {
        assert!(model.parameters.iter().any(|p| p.name == *argument), "{name} has no argument {argument}");
    }
    let inputs: Vec<f64> = model
        .parameters
        .iter()
        .map(|parameter| {
            let given = given.iter().find(|(argument, ..)| *argument == parameter.name);
            let default = || parameter.default.unwrap_or_else(|| panic!("{name} wants {}", parameter.name));
            match (&parameter.input, given) {
                (Input::Choice(words), Some((.., word))) => {
                    words.iter().position(|w| w == word).unwrap_or_else(|| panic!("no choice {word}")) as f64
                }
                (Input::Choice(_), None) => default(),
                (Input::Quantity(declared), Some((argument, number, unit))) => {
                    let unit = unit_of(unit);
                    let wanted = unit_of(declared).quantity;
                    assert_eq!(unit.quantity.dimension, wanted.dimension, "{argument}");
                    assert!(unit.quantity.kind.joined(wanted.kind).is_some(), "{argument}");
                    unit.to_si(*number)
                }
                (Input::Quantity(declared), None) => unit_of(declared).to_si(default()),
            }
        })
        .collect();
    let mut numbers = vec![f64::NAN; model.fields.len()];
    (model.evaluate)(&inputs, &mut numbers);
    Record { model, numbers }
}

/// That a number is the wanted one to within a fraction of it.
#[track_caller]
pub(crate) fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within * wanted.abs(), "{found} is not {wanted} within {within}");
}

/// That a declaration is whole: units read and of the types' dimension and kind, names fit, defaults in their ranges,
/// finite results in the middle of the ranges, and that worksheets find the model.
pub(crate) fn declaration(model: &'static Model, taken: &[Shape], given: &[Shape]) {
    let name = model.name;
    assert!(find(name).is_some_and(|found| std::ptr::eq(found, model)), "{name} is not in the list of models");
    assert_eq!(models().iter().filter(|other| other.name == name).count(), 1, "{name} stands twice");
    assert!(name.split('.').count() == 2 && name.split('.').all(is_snake_case), "{name}");
    assert!(!model.summary.is_empty() && !model.source.is_empty(), "{name}");
    assert!(
        ["published", "common practice", "from memory"].iter().any(|word| model.source.contains(word)),
        "{name} does not say what its source is worth"
    );
    let mut names = HashSet::new();
    let mut middle = Vec::new();
    assert_eq!(taken.len(), model.parameters.len());
    for (parameter, shape) in model.parameters.iter().zip(taken) {
        let argument = format!("{name}({})", parameter.name);
        assert!(is_snake_case(parameter.name) && names.insert(parameter.name), "{argument}");
        assert!(!parameter.summary.is_empty() && !parameter.summary.ends_with('.'), "{argument}");
        match parameter.input {
            Input::Choice(words) => {
                assert!(parameter.default.is_none_or(|index| index.fract() == 0.0 && (index as usize) < words.len()));
                assert!(parameter.valid.is_none() && words.iter().all(|word| is_snake_case(word)), "{argument}");
                middle.push(0.0);
            }
            Input::Quantity(unit) => {
                agrees(&argument, unit, *shape);
                let (low, high) = parameter.valid.unwrap_or_else(|| panic!("{argument} has no range"));
                assert!(low < high, "{argument}");
                // The geometric mean where there is one: halfway up a range of decades is its upper end.
                let mean = if low > 0.0 { (low * high).sqrt() } else { (low + high) / 2.0 };
                let within = parameter.default.unwrap_or(mean);
                assert!((low..=high).contains(&within), "{argument}: default {within} is out of its own range");
                middle.push(unit_of(unit).to_si(within));
            }
        }
    }
    names.clear();
    assert_eq!(given.len(), model.fields.len());
    for (field, shape) in model.fields.iter().zip(given) {
        let said = format!("{name}.{}", field.name);
        assert!(is_snake_case(field.name) && names.insert(field.name), "{said}");
        assert!(!field.summary.is_empty() && !field.summary.ends_with('.'), "{said}");
        match field.output {
            Output::Quantity(unit) => agrees(&said, unit, *shape),
            Output::Condition => assert!(shape.is_none(), "{said}"),
        }
    }
    assert!(model.conditions.iter().all(|condition| !condition.says.is_empty()), "{name}");
    let mut numbers = vec![f64::NAN; model.fields.len()];
    (model.evaluate)(&middle, &mut numbers);
    for (field, number) in model.fields.iter().zip(numbers) {
        assert!(number.is_finite(), "{name}.{} is {number} in the middle of the ranges", field.name);
    }
    every_argument_has_an_effect(model, &middle);
    every_field_without_value_says_why(model);
}

/// That a field which has no finite value somewhere in the ranges says why, and no other does.
fn every_field_without_value_says_why(model: &Model) {
    const TRIES: u32 = 20_000;
    let mut state = 1u64;
    let mut draw = |below: usize| {
        // D. E. Knuth's linear congruential generator (MMIX).
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below
    };
    let mut silent = HashSet::new();
    for _ in 0..TRIES {
        let inputs: Vec<f64> = model
            .parameters
            .iter()
            .map(|parameter| match (&parameter.input, parameter.valid) {
                (Input::Choice(words), _) => draw(words.len()) as f64,
                (Input::Quantity(unit), Some((low, high))) => {
                    let usual = parameter.default.unwrap_or((low + high) / 2.0);
                    unit_of(unit).to_si([low, high, usual, low + (high - low) * draw(1000) as f64 / 999.0][draw(4)])
                }
                (Input::Quantity(_), None) => 1.0,
            })
            .collect();
        let mut numbers = vec![f64::NAN; model.fields.len()];
        (model.evaluate)(&inputs, &mut numbers);
        let without = model.fields.iter().zip(numbers).filter(|(_, number)| !number.is_finite());
        silent.extend(without.filter(|(field, _)| field.without_value.is_none()).map(|(field, _)| field.name));
    }
    assert!(silent.is_empty(), "{}: {silent:?} may have no value, and do not say why", model.name);
}

/// That no argument is without effect, and that what is not a number does not get lost on its way through a model.
fn every_argument_has_an_effect(model: &Model, middle: &[f64]) {
    for (at, parameter) in model.parameters.iter().enumerate() {
        if let Input::Quantity(_) = parameter.input {
            let mut inputs = middle.to_vec();
            inputs[at] = f64::NAN;
            let mut numbers = vec![0.0; model.fields.len()];
            (model.evaluate)(&inputs, &mut numbers);
            assert!(numbers.iter().any(|number| number.is_nan()), "{} has no effect on {}", parameter.name, model.name);
        }
    }
}

fn agrees(said: &str, unit: &str, shape: Shape) {
    let QuantityType { dimension, kind } = unit_of(unit).quantity;
    let (exponents, of_uom) = shape.unwrap_or_else(|| panic!("{said} has a unit but no uom type"));
    assert_eq!(dimension, Dimension::new(exponents), "{said} [{unit}]");
    assert_eq!(kind == Kind::Temperature, of_uom.contains("TemperatureKind"), "{said} [{unit}] {of_uom}");
    if matches!(kind, Kind::Torque | Kind::AngularVelocity | Kind::Angle) {
        assert!(of_uom.contains("AngleKind"), "{said} [{unit}] {of_uom}");
    }
    if matches!(kind, Kind::Energy | Kind::Frequency) {
        assert!(!of_uom.contains("AngleKind"), "{said} [{unit}] {of_uom}");
    }
}

fn unit_of(text: &str) -> Unit {
    if text.is_empty() { Unit::one() } else { parse(text).unwrap_or_else(|| panic!("{text} is not a unit")) }
}

fn is_snake_case(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

mod tests {
    use std::array::from_fn;

    use proptest::prelude::*;

    use super::*;
    use crate::LANES;

    proptest! {
        /// Any number at all, infinities and NaN among them, is an input that a model answers without a panic, and the
        /// same numbers get the same answer, alone and lanes of others.
        #[test]
        fn every_model_is_total(numbers in proptest::collection::vec(proptest::num::f64::ANY, 16)) {
            let same = |a: f64, b: f64| a.to_bits() == b.to_bits() || a.is_nan() && b.is_nan();
            for model in models() {
                prop_assert!(model.parameters.len() <= numbers.len());
                let inputs = &numbers[..model.parameters.len()];
                let (mut once, mut twice) = (vec![0.0; model.fields.len()], vec![1.0; model.fields.len()]);
                (model.evaluate)(inputs, &mut once);
                (model.evaluate)(inputs, &mut twice);
                prop_assert!(once.iter().zip(&twice).all(|(a, b)| same(*a, *b)));
                // Each of the row with one number less of those drawn.
                let row: Vec<[f64; LANES]> =
                    inputs.iter().enumerate().map(|(k, x)| from_fn(|i| if i == k { 1.0 } else { *x })).collect();
                let mut answers = vec![[0.0; LANES]; model.fields.len()];
                (model.lanes)(&row.iter().collect::<Vec<_>>(), &mut answers);
                for i in 0..LANES {
                    let inputs: Vec<f64> = row.iter().map(|numbers| numbers[i]).collect();
                    (model.evaluate)(&inputs, &mut once);
                    prop_assert!(answers.iter().zip(&once).all(|(a, b)| same(a[i], *b)), "{}", model.name);
                }
                (model.evaluate)(inputs, &mut once);
                for (field, number) in model.fields.iter().zip(&once) {
                    prop_assert!(!matches!(field.output, Output::Condition) || *number == 0.0 || *number == 1.0);
                }
                for condition in model.conditions {
                    (condition.holds)(inputs);
                }
            }
        }
    }
}
