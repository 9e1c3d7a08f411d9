//! What a learner reads about an answer, and what it earns.

use benchleaf_words::{Phrase, phrase};

/// The finding on an answer. The forms stand in the order in which they are looked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Feedback {
    /// A comma stands where the decimal point belongs.
    DecimalComma {
        /// The answer with a point, where it is plain how that reads.
        written: Option<String>,
    },
    /// It does not read as a quantity.
    Unreadable {
        /// Why.
        why: Phrase,
        /// A way out.
        help: Option<Phrase>,
    },
    /// A number alone, where a unit is wanted.
    NoUnit {
        /// What the question wants, with its unit.
        wanted: Phrase,
        /// The symbol of the unit that the question asks for.
        unit: String,
    },
    /// Another kind of quantity altogether.
    Dimension {
        /// What was answered.
        found: Phrase,
        /// What the question wants.
        wanted: Phrase,
    },
    /// The right unit, but it means something else.
    Kind {
        /// What was answered.
        found: Phrase,
        /// What the question wants.
        wanted: Phrase,
        /// What distinguishes the two.
        help: Phrase,
    },
    /// The right digits with the wrong prefix.
    Prefix {
        /// The answer is too large by this power of ten; too small where it is negative.
        power: i32,
    },
    /// Right but for its sign.
    Sign,
    /// A known mistake.
    Slip {
        /// What its author calls it.
        name: String,
    },
    /// Near, but further off than is allowed.
    Close {
        /// It is off by less than so many times what is allowed.
        times: u8,
    },
    /// None of these.
    Wrong,
    /// Right.
    Right {
        /// What it earns.
        points: f64,
    },
}

impl Feedback {
    /// What it is in a word, for tables and programs.
    pub fn word(&self) -> &'static str {
        match self {
            Feedback::DecimalComma { .. } => "decimal-comma",
            Feedback::Unreadable { .. } => "unreadable",
            Feedback::NoUnit { .. } => "no-unit",
            Feedback::Dimension { .. } => "dimension",
            Feedback::Kind { .. } => "kind",
            Feedback::Prefix { .. } => "prefix",
            Feedback::Sign => "sign",
            Feedback::Slip { .. } => "slip",
            Feedback::Close { .. } => "close",
            Feedback::Wrong => "wrong",
            Feedback::Right { .. } => "right",
        }
    }

    /// What is said to the learner. What it quotes stands between backticks.
    pub fn phrase(&self) -> Phrase {
        match self {
            Feedback::DecimalComma { written: Some(written) } => {
                phrase!(FEEDBACK_COMMA, written = written)
            }
            Feedback::DecimalComma { written: None } => phrase!(FEEDBACK_COMMAS),
            Feedback::Unreadable { why, help: Some(help) } => {
                phrase!(FEEDBACK_UNREADABLE_HELP, why = why, help = help)
            }
            Feedback::Unreadable { why, help: None } => phrase!(FEEDBACK_UNREADABLE, why = why),
            Feedback::NoUnit { wanted, unit } => phrase!(FEEDBACK_NO_UNIT, wanted = wanted, unit = unit),
            Feedback::Dimension { found, wanted } => {
                phrase!(FEEDBACK_DIMENSION, found = found, wanted = wanted)
            }
            Feedback::Kind { found, wanted, help } => {
                phrase!(FEEDBACK_KIND, found = found, wanted = wanted, help = help)
            }
            Feedback::Prefix { power } if *power > 0 => {
                phrase!(FEEDBACK_TOO_LARGE, times = Self::factor(*power))
            }
            Feedback::Prefix { power } => phrase!(FEEDBACK_TOO_SMALL, times = Self::factor(*power)),
            Feedback::Sign => phrase!(FEEDBACK_SIGN),
            Feedback::Slip { name } => phrase!(FEEDBACK_SLIP, name = name),
            Feedback::Close { times } => phrase!(FEEDBACK_CLOSE, times = times),
            Feedback::Wrong => phrase!(FEEDBACK_WRONG),
            Feedback::Right { .. } => phrase!(FEEDBACK_RIGHT),
        }
    }

    /// What it earns.
    pub fn points(&self) -> f64 {
        match self {
            Feedback::Right { points } => *points,
            _ => 0.0,
        }
    }

    /// Whether the answer is right.
    pub fn is_right(&self) -> bool {
        matches!(self, Feedback::Right { .. })
    }

    /// A power of ten as text, whatever its sign: `1000`, `10⁹`.
    pub fn factor(power: i32) -> String {
        let power = power.unsigned_abs();
        match 10_u32.checked_pow(power).filter(|_| power <= 6) {
            Some(plain) => plain.to_string(),
            None => crate::units::literal_number(&format!("1e{power}")),
        }
    }
}
