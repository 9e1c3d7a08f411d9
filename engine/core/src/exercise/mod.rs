//! Marking exercises: a learner's answer is held against what the worksheet comes to, with numbers of the learner's own
//! where the exercise varies. A worksheet, the exercise's name, the answer as typed and the learner flow in; [`Feedback`]
//! flows out. The same code marks in a published page and on the command line, so that the two can't differ.

mod variant;

pub use crate::answer::Feedback;
use std::fmt;

use benchleaf_words::{Phrase, phrase};
use thiserror::Error;
pub use variant::{Variant, learner_key};

use crate::{
    answer::quantity,
    check::{self, Checked, CheckedExercise, Within},
    evaluate,
    host::{Fidelity, NoHost},
    program::{Program, Reg, RunState, Scenario},
    sheet::{self, Joined, Worksheet},
    suggest::nearest,
    units::{DisplayUnit, Kind, QuantityType, ValueType},
};

/// Marks one answer. `learner` is the name or number by which an exercise varies; without one it is set with the
/// author's own numbers.
///
/// # Errors
/// Where there is no such exercise, or nothing to hold an answer against.
///
/// ```
/// use benchleaf_core::{assess, exercise::Feedback};
///
/// let worksheet = "```exercise series\nask \"Two of 10 kΩ in series?\"\nanswer [kΩ] = 2 * 10 kΩ within 1 %\n```\n";
/// assert!(matches!(assess(worksheet, "series", "20 kΩ", None), Ok(Feedback::Right { .. })));
/// assert!(!matches!(assess(worksheet, "series", "5 kΩ", None), Ok(Feedback::Right { .. })));
/// assert!(assess(worksheet, "parallel", "5 kΩ", None).is_err());
/// ```
#[cfg(feature = "markdown")]
pub fn assess(source: &str, exercise: &str, answer: &str, learner: Option<&str>) -> Result<Feedback, NotMarked> {
    let marker = Marker::new(&Worksheet::new(source).0);
    Ok(marker.expected(&marker.variant(exercise, learner)?)?.assess(answer))
}

/// Why an answer cannot be marked.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NotMarked {
    /// The worksheet has no such exercise.
    Unknown {
        /// The name that was asked for.
        name: String,
        /// The nearest that there is.
        known: Option<String>,
    },
    /// The exercise holds an error.
    Unsound {
        /// Its name.
        name: String,
    },
    /// Its answer has no finite value with this learner's numbers.
    NoValue {
        /// The exercise's name.
        name: String,
        /// The learner's numbers, where it varies.
        with: Option<String>,
    },
}

impl NotMarked {
    /// The same in words.
    pub fn phrase(&self) -> Phrase {
        match self {
            NotMarked::Unknown { name, known: None } => phrase!(EXERCISE_THERE_IS_NO_EXERCISE, name = name),
            NotMarked::Unknown { name, known: Some(known) } => {
                phrase!(EXERCISE_THERE_IS_NO_EXERCISE_BUT, name = name, known = known)
            }
            NotMarked::Unsound { name } => phrase!(EXERCISE_HOLDS_AN_ERROR, name = name),
            NotMarked::NoValue { name, with: None } => phrase!(EXERCISE_HAS_NO_FINITE_VALUE, name = name),
            NotMarked::NoValue { name, with: Some(with) } => {
                phrase!(EXERCISE_HAS_NO_FINITE_VALUE_WITH, name = name, with = with)
            }
        }
    }
}

impl fmt::Display for NotMarked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.phrase().english())
    }
}

/// A worksheet's exercises, ready to mark any number of answers.
#[derive(Debug)]
pub struct Marker {
    checked: Checked,
    /// The names of all exercises, those with an error included.
    names: Vec<String>,
}

impl Marker {
    /// Reads and checks a worksheet.
    pub fn new(worksheet: &Worksheet) -> Self {
        let (sheet, _) = worksheet.read();
        let (checked, _) = check::check(&Joined::new(worksheet), &sheet, &NoHost);
        let name = |block: &sheet::Block| match &block.body {
            sheet::BlockBody::Exercise(exercise) => exercise.name.as_ref().map(|name| name.item.clone()),
            _ => None,
        };
        let names = sheet.blocks.iter().filter_map(name).collect();
        Self { checked, names }
    }

    /// The names of the exercises that can be marked, in reading order, with the points of each.
    pub fn exercises(&self) -> impl Iterator<Item = (&str, f64)> {
        self.checked.exercises.iter().map(|exercise| (exercise.name.as_str(), exercise.points))
    }

    /// Whether an exercise differs from learner to learner.
    pub fn varies(&self, exercise: &str) -> bool {
        self.checked.exercises.iter().any(|known| known.name == exercise && !known.varies.is_empty())
    }

    /// The exercise with a learner's numbers. Learners who get the same numbers get the same variant.
    ///
    /// # Errors
    /// Where there is no such exercise, or it holds an error.
    pub fn variant(&self, exercise: &str, learner: Option<&str>) -> Result<Variant, NotMarked> {
        let place = self.checked.exercises.iter().position(|known| known.name == exercise);
        let place = place.ok_or_else(|| self.unknown(exercise))?;
        Ok(Variant::of(place, &self.checked.exercises[place], learner))
    }

    /// What an answer to a variant is held against.
    ///
    /// # Errors
    /// Where the answer has no finite value with these numbers.
    pub fn expected(&self, variant: &Variant) -> Result<Expected, NotMarked> {
        let Some(exercise) = self.checked.exercises.get(variant.exercise()) else {
            return Err(self.unknown(""));
        };
        let at = run(&self.checked.program, variant);
        let value = |reg: Reg| at.get(reg as usize).copied().unwrap_or(f64::NAN);
        let expected = Expected::new(exercise, value);
        if expected.value.is_finite() {
            return Ok(expected);
        }
        let with = (!variant.is_plain()).then(|| variant.to_string());
        Err(NotMarked::NoValue { name: exercise.name.clone(), with })
    }

    fn unknown(&self, exercise: &str) -> NotMarked {
        if self.names.iter().any(|name| name == exercise) {
            return NotMarked::Unsound { name: exercise.to_owned() };
        }
        let known = nearest(exercise, self.names.iter().map(String::as_str)).map(str::to_owned);
        NotMarked::Unknown { name: exercise.to_owned(), known }
    }
}

/// What an answer is held against.
#[derive(Clone, Debug)]
pub struct Expected {
    value: f64,
    quantity: QuantityType,
    /// The symbol of the unit that is asked for.
    unit: String,
    within: Within,
    slips: Vec<(String, f64)>,
    points: f64,
}

impl Expected {
    fn new(exercise: &CheckedExercise, value: impl Fn(Reg) -> f64) -> Self {
        let quantity = match exercise.answer.value_type {
            ValueType::Quantity(quantity) => quantity,
            ValueType::Condition => QuantityType::NUMBER,
        };
        let nominal = value(exercise.answer.reg);
        // Without a prefix, which would show the size.
        let unit = exercise.unit.clone().unwrap_or_else(|| DisplayUnit::picked(quantity, 0.0).unit);
        Self {
            value: nominal,
            quantity,
            unit: unit.symbol,
            within: exercise.within,
            slips: exercise.slips.iter().map(|slip| (slip.name.clone(), value(slip.reg))).collect(),
            points: exercise.points,
        }
    }

    /// What the answer comes to, SI.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// The feedback to an answer, in the order in which a good teacher gives it.
    pub fn assess(&self, typed: &str) -> Feedback {
        match quantity(typed, self.quantity, &self.unit) {
            Ok(found) => self.value_of(found),
            Err(feedback) => feedback,
        }
    }

    fn value_of(&self, found: f64) -> Feedback {
        if self.meets(found, self.value) {
            return Feedback::Right { points: self.points };
        }
        if let Some(power) = self.power_of_ten(found) {
            return Feedback::Prefix { power };
        }
        if self.quantity.kind != Kind::Temperature && self.meets(-found, self.value) {
            return Feedback::Sign;
        }
        let slips = self.slips.iter().filter(|(_, value)| self.meets(found, *value));
        let nearest = slips.min_by(|a, b| (a.1 - found).abs().total_cmp(&(b.1 - found).abs()));
        if let Some((name, _)) = nearest {
            return Feedback::Slip { name: name.clone() };
        }
        let times = (found - self.value).abs() / self.within.distance(self.value);
        if times <= CLOSE {
            return Feedback::Close { times: libm::ceil(times) as u8 };
        }
        Feedback::Wrong
    }

    fn meets(&self, found: f64, wanted: f64) -> bool {
        // Rounding alone makes nothing wrong.
        let allowed = self.within.distance(wanted) + 1e-12 * wanted.abs();
        (found - wanted).abs() <= allowed
    }

    /// The power of ten by which an answer with the right digits is too large.
    fn power_of_ten(&self, found: f64) -> Option<i32> {
        if self.quantity.kind == Kind::Temperature || found == 0.0 || self.value == 0.0 {
            return None;
        }
        let power = libm::round(libm::log10((found / self.value).abs()));
        let scaled = found / libm::exp10(power);
        (power != 0.0 && power.abs() <= FURTHEST && self.meets(scaled, self.value)).then_some(power as i32)
    }
}

impl Within {
    /// How far off from a value an answer may be, SI.
    pub(crate) fn distance(self, value: f64) -> f64 {
        match self {
            Within::Part(part) => part * value.abs(),
            Within::Distance(distance) => distance,
        }
    }
}

/// The registers at the nominal values, with a variant's numbers in the place of the author's.
fn run(program: &Program, variant: &Variant) -> Vec<f64> {
    let numbers = variant.numbers().iter();
    let scenario =
        numbers.fold(Scenario::authored(program), |scenario, number| scenario.with_nominal(number.source, number.si));
    evaluate::run(&scenario, &RunState::new(program, Fidelity::default())).regs
}

/// An answer is close while it is off by no more than so many times what is allowed.
const CLOSE: f64 = 5.0;
/// The furthest power of ten that a prefix can be off.
const FURTHEST: f64 = 18.0;
