//! What a learner reads about an answer, and what it earns.

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
        match self {
            Feedback::DecimalComma { written: Some(written) } => {
                format!("A decimal is written with a point here, not with a comma: `{written}`.")
            }
            Feedback::DecimalComma { written: None } => {
                "A decimal is written with a point here, and thousands are not parted by commas.".to_owned()
            }
            Feedback::Unreadable { why, help } => {
                let help = help.as_deref().map_or(String::new(), |help| format!("; {help}"));
                format!("This cannot be read: {why}{help}.")
            }
            Feedback::NoUnit { wanted, unit } => {
                format!(
                    "The unit is missing. The question wants {wanted}: write `{unit}` behind the number, or another unit of it."
                )
            }
            Feedback::Dimension { found, wanted } => format!("That is {found}; the question wants {wanted}."),
            Feedback::Kind { found, wanted, help } => {
                format!("That is {found}; the question wants {wanted}. The two share a unit but not a meaning: {help}.")
            }
            Feedback::Prefix { power } => {
                let size = if *power > 0 { "large" } else { "small" };
                format!(
                    "The digits are right, but it is {} times too {size}. Look at the prefixes.",
                    Self::factor(*power)
                )
            }
            Feedback::Sign => "The size is right, but not the sign.".to_owned(),
            Feedback::Slip { name } => format!("A slip that others make too: {name}."),
            Feedback::Close { times } => {
                format!("Close, but it is off by up to {times} times as much as it may be. Work with one more digit.")
            }
            Feedback::Wrong => "The unit fits, but the number does not.".to_owned(),
            Feedback::Right { .. } => "Right.".to_owned(),
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
