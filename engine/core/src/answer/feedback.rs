//! What a learner reads about an answer, and what it earns.

use benchleaf_words::{Words, key, say};

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
        why: String,
        /// A way out.
        help: Option<String>,
    },
    /// A number alone, where a unit is wanted.
    NoUnit {
        /// What the question wants, with its unit.
        wanted: String,
        /// The symbol of the unit that the question asks for.
        unit: String,
    },
    /// Another kind of quantity altogether.
    Dimension {
        /// What was answered.
        found: String,
        /// What the question wants.
        wanted: String,
    },
    /// The right unit, but it means something else.
    Kind {
        /// What was answered.
        found: String,
        /// What the question wants.
        wanted: String,
        /// What distinguishes the two.
        help: String,
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

    /// What is said to the learner, as plain text. What it quotes stands between backticks.
    pub fn message(&self) -> String {
        self.message_in(Words::ENGLISH)
    }

    /// The same in a language.
    pub fn message_in(&self, words: Words<'_>) -> String {
        match self {
            Feedback::DecimalComma { written: Some(written) } => {
                say!(words, FEEDBACK_COMMA, written = written)
            }
            Feedback::DecimalComma { written: None } => words.text(key::FEEDBACK_COMMAS).to_owned(),
            Feedback::Unreadable { why, help: Some(help) } => {
                say!(words, FEEDBACK_UNREADABLE_HELP, why = why, help = help)
            }
            Feedback::Unreadable { why, help: None } => say!(words, FEEDBACK_UNREADABLE, why = why),
            Feedback::NoUnit { wanted, unit } => say!(words, FEEDBACK_NO_UNIT, wanted = wanted, unit = unit),
            Feedback::Dimension { found, wanted } => say!(words, FEEDBACK_DIMENSION, found = found, wanted = wanted),
            Feedback::Kind { found, wanted, help } => {
                say!(words, FEEDBACK_KIND, found = found, wanted = wanted, help = help)
            }
            Feedback::Prefix { power } if *power > 0 => {
                say!(words, FEEDBACK_TOO_LARGE, times = Self::factor(*power))
            }
            Feedback::Prefix { power } => say!(words, FEEDBACK_TOO_SMALL, times = Self::factor(*power)),
            Feedback::Sign => words.text(key::FEEDBACK_SIGN).to_owned(),
            Feedback::Slip { name } => say!(words, FEEDBACK_SLIP, name = name),
            Feedback::Close { times } => say!(words, FEEDBACK_CLOSE, times = times),
            Feedback::Wrong => words.text(key::FEEDBACK_WRONG).to_owned(),
            Feedback::Right { .. } => words.text(key::FEEDBACK_RIGHT).to_owned(),
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
