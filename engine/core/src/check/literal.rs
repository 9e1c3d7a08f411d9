//! Literal quantities: their unit, their SI value, and the two ends of a tolerance.

use benchleaf_words::phrase;

use super::{Checker, Typed};
use crate::{
    case::lowercase,
    lang::ast::{Bounds, Distribution, Quantity, Tolerance},
    problem::{Code, Problem},
    program::{Source, Step},
    span::{Span, Spanned},
    suggest::nearest,
    units::{self, Kind, QuantityType, Unit, ValueType, table},
};

/// The unit that a text names, or the problem that it names none.
pub(super) fn unit(text: &Spanned<String>) -> Result<Unit, Problem> {
    if let Some(unit) = units::parse(&text.item) {
        return Ok(unit);
    }
    let (part, spelt) = units::unknown_part(&text.item).unwrap_or_else(|| (text.item.clone(), text.item.clone()));
    let message = phrase!(SHARED_IS_NOT_A_UNIT, part = part);
    let problem = Problem::new(Code::UnknownUnit, text.span, message);
    let prefix_alone = matches!(part.as_str(), "k" | "M" | "G" | "µ" | "u" | "n" | "p");
    let other_case = || in_another_case(&spelt);
    let misspelt = || table().symbol_of_misspelt(&part);
    let near = || nearest(&spelt, table().symbols()).filter(|_| part.chars().count() > 1).map(str::to_owned);
    let known = table().symbol_of_name(&part).or_else(other_case).or_else(misspelt).or_else(near);
    Err(match (prefix_alone, known) {
        (true, _) => problem.help(phrase!(CHECK_LITERAL_A_PREFIX_NEEDS_ITS_UNIT)),
        (_, Some(known)) => {
            match in_another_case(&spelt).filter(|other| *other == known).and_then(|_| mega_or_milli(&known)) {
                Some(other) => problem.help(phrase!(CHECK_LITERAL_DID_YOU_MEAN_OR, known = known, other = other)),
                None => problem.help(phrase!(SHARED_DID_YOU_MEAN, known = known)),
            }
        }
        _ => problem.help(phrase!(CHECK_LITERAL_WRITE_SI_SYMBOLS)),
    })
}

/// The symbol that a text is but for the case of its letters: the one that keeps most of them as written; but a
/// megahertz before a millihertz, and so with the other units that hardly anyone meets by the thousandth.
fn in_another_case(written: &str) -> Option<String> {
    const SELDOM_BY_THE_THOUSANDTH: [&str; 5] = ["Hz", "Pa", "eV", "bit", "B"];
    let seldom = |symbol: &str| symbol.strip_prefix('m').is_some_and(|unit| SELDOM_BY_THE_THOUSANDTH.contains(&unit));
    let kept = |symbol: &str| symbol.chars().zip(written.chars()).filter(|(a, b)| a == b).count();
    let alike = table().symbols().filter(|symbol| lowercase(symbol) == lowercase(written));
    alike.max_by_key(|symbol| (!seldom(symbol), kept(symbol))).map(str::to_owned)
}

/// The symbol with mega for milli, or milli for mega, if there is one.
fn mega_or_milli(symbol: &str) -> Option<String> {
    let unit = symbol.strip_prefix(['m', 'M']).filter(|unit| !unit.is_empty())?;
    let other = format!("{}{unit}", if symbol.starts_with('m') { 'M' } else { 'm' });
    units::parse(&other).is_some_and(|other| !other.symbol.is_empty()).then_some(other)
}

/// The unit of a literal; a plain number's where none is written.
pub(crate) fn unit_of(quantity: &Quantity) -> Result<Unit, Problem> {
    quantity.unit.as_ref().map_or(Ok(Unit::one()), unit)
}

impl Checker<'_> {
    /// A literal with its sign: SI value, and type.
    pub(super) fn literal(&mut self, quantity: &Quantity, negative: bool) -> Option<(f64, Unit)> {
        self.is_no_name(quantity)?;
        let found = match unit_of(quantity) {
            Ok(found) => found,
            Err(problem) => {
                self.unknown_unit(quantity, problem);
                return None;
            }
        };
        if !quantity.number.is_finite() {
            self.fail(Code::NotFinite, quantity.span, phrase!(SHARED_THE_NUMBER_IS_TOO_LARGE));
            return None;
        }
        Some((found.to_si(if negative { -quantity.number } else { quantity.number }), found))
    }

    /// `2 a` is two ares; but where a value is called `a`, twice that was meant. Units that are in everyday use stand.
    fn is_no_name(&mut self, quantity: &Quantity) -> Option<()> {
        const SELDOM: [&str; 10] = ["a", "b", "d", "l", "o", "r", "t", "u", "G", "γ"];
        let Some(unit) = quantity.unit.as_ref().filter(|unit| SELDOM.contains(&unit.item.as_str())) else {
            return Some(());
        };
        let word = unit.item.as_str();
        let joined =
            self.text.get(..unit.span.start).is_some_and(|before| before.ends_with(|c: char| c.is_ascii_digit()));
        if joined || !self.names.contains_key(word) {
            return Some(());
        }
        let digits = &quantity.digits;
        let message = phrase!(CHECK_LITERAL_MAY_BE_TIMES, digits = digits, word = word);
        let help = phrase!(CHECK_LITERAL_WRITE_FOR_THE_UNIT_LEAVE, digits = digits, word = word);
        self.fail_with_help(Code::ImpliedProduct, quantity.span, message, help);
        None
    }

    /// A word behind a number that is no unit may be a value's name: then a product sign is missing.
    fn unknown_unit(&mut self, quantity: &Quantity, problem: Problem) {
        let word = quantity.unit.as_ref().map_or("", |unit| unit.item.as_str());
        if self.names.contains_key(word) || self.parameters.iter().any(|scope| scope.contains_key(word)) {
            let digits = &quantity.digits;
            let message = phrase!(CHECK_LITERAL_STANDS_SIDE_BY_SIDE, digits = digits, word = word);
            self.fail_with_help(
                Code::ImpliedProduct,
                quantity.span,
                message,
                phrase!(CHECK_LITERAL_WRITE, digits = digits, word = word),
            );
        } else {
            self.report(problem);
        }
    }

    /// The source of a given with its tolerance.
    pub(super) fn given(
        &mut self,
        name: &str,
        si: f64,
        unit: &Unit,
        tolerance: Option<&Tolerance>,
        code: Option<f64>,
    ) -> Option<u32> {
        let mut source = Source {
            key: None,
            name: name.to_owned(),
            nominal: si,
            low: si,
            high: si,
            distribution: Distribution::Rectangular,
            degrees: f64::INFINITY,
        };
        if let Some(tolerance) = tolerance {
            source.distribution = tolerance.distribution;
            source.degrees = tolerance.degrees.unwrap_or(f64::INFINITY);
            (source.low, source.high) = self.ends(si, unit.quantity, &tolerance.bounds, tolerance.span)?;
        } else if let Some(fraction) = code {
            (source.low, source.high) = (si - si.abs() * fraction, si + si.abs() * fraction);
        }
        self.checked.program.sources.push(source);
        Some((self.checked.program.sources.len() - 1) as u32)
    }

    /// The least and greatest value that a tolerance allows around `si`.
    fn ends(&mut self, si: f64, quantity: QuantityType, bounds: &Bounds, span: Span) -> Option<(f64, f64)> {
        let (low, high) = match bounds {
            Bounds::Symmetric(half) => {
                let half = self.half(si, quantity, half)?;
                (si - half, si + half)
            }
            Bounds::Asymmetric { below, above } => {
                let (below, above) = (self.half(si, quantity, below)?, self.half(si, quantity, above)?);
                (si - below, si + above)
            }
            Bounds::MinTypMax { min, typ, max } => {
                let mut at = |bound: &Option<Quantity>| match bound {
                    None => Some(si),
                    Some(bound) => {
                        let (value, unit) = self.literal(bound, false)?;
                        self.same_type(unit.quantity, quantity, bound.span)?;
                        Some(value)
                    }
                };
                let (low, middle, high) = (at(min)?, at(typ)?, at(max)?);
                if low > middle || middle > high {
                    let message = phrase!(CHECK_LITERAL_THE_BOUNDS_ARE_OUT);
                    self.fail_with_help(Code::Tolerance, span, message, phrase!(CHECK_LITERAL_MIN_TYP_AND_MAX_MUST));
                    return None;
                }
                (low, high)
            }
        };
        Some((low, high))
    }

    /// One side of a tolerance as an SI distance, never negative.
    fn half(&mut self, si: f64, quantity: QuantityType, half: &Quantity) -> Option<f64> {
        let (_, unit) = self.literal(half, false)?;
        let relative = unit.quantity == QuantityType::NUMBER && half.unit.is_some();
        if relative && quantity.kind == Kind::Temperature {
            let message = phrase!(SHARED_PER_CENT_OF_A_TEMPERATURE);
            self.fail_with_help(
                Code::Tolerance,
                half.span,
                message,
                phrase!(CHECK_LITERAL_GIVE_THE_TOLERANCE_IN_KELVIN),
            );
            return None;
        }
        if relative && si == 0.0 {
            let message = phrase!(CHECK_LITERAL_PER_CENT_OF_ZERO);
            let help = if quantity == QuantityType::NUMBER {
                let (by, unit) = (&half.digits, half.unit.as_ref().map_or("", |unit| unit.item.as_str()));
                phrase!(CHECK_LITERAL_WRITE_THE_ENDS, by = by, unit = unit)
            } else {
                phrase!(CHECK_LITERAL_GIVE_THE_TOLERANCE)
            };
            self.fail_with_help(Code::Tolerance, half.span, message, &help);
            return None;
        }
        if relative {
            return Some(si.abs() * half.number * unit.factor);
        }
        let distance = match (quantity.kind, unit.quantity.kind) {
            (Kind::Temperature, Kind::Temperature | Kind::TemperatureDifference) => half.number * unit.factor,
            _ => {
                self.same_type(unit.quantity, quantity, half.span)?;
                unit.to_si(half.number)
            }
        };
        Some(distance)
    }

    /// Reports a tolerance in a unit that is not its value's.
    fn same_type(&mut self, found: QuantityType, wanted: QuantityType, span: Span) -> Option<()> {
        if found.dimension == wanted.dimension && found.kind.joined(wanted.kind).is_some() {
            return Some(());
        }
        let message =
            phrase!(CHECK_LITERAL_THE_TOLERANCE_IS_BUT, found = found.describe_kind(), wanted = wanted.describe_kind());
        self.fail_with_help(Code::Tolerance, span, message, phrase!(CHECK_LITERAL_GIVE_IT_IN_PER_CENT));
        None
    }

    /// A tolerance on a formula: the part that is chosen varies around the value that was worked out.
    pub(super) fn toleranced(&mut self, name: &str, value: Typed, tolerance: &Tolerance) -> Option<Typed> {
        let ValueType::Quantity(quantity) = value.value_type else {
            self.fail(Code::Tolerance, tolerance.span, phrase!(CHECK_LITERAL_A_CONDITION_HAS_NO_TOLERANCE));
            return None;
        };
        let relative = match &tolerance.bounds {
            Bounds::Symmetric(half) => half.unit.is_some() && is_relative(half),
            Bounds::Asymmetric { below, above } => is_relative(below) && is_relative(above),
            Bounds::MinTypMax { .. } => false,
        };
        if relative && quantity.kind == Kind::Temperature {
            let message = phrase!(SHARED_PER_CENT_OF_A_TEMPERATURE);
            self.fail_with_help(
                Code::Tolerance,
                tolerance.span,
                message,
                phrase!(CHECK_LITERAL_GIVE_THE_TOLERANCE_IN_KELVIN),
            );
            return None;
        }
        let (nominal, kind) = if relative { (1.0, QuantityType::NUMBER) } else { (0.0, quantity) };
        let (low, high) = self.ends(nominal, kind, &tolerance.bounds, tolerance.span)?;
        let program = &mut self.checked.program;
        let (distribution, degrees) = (tolerance.distribution, tolerance.degrees.unwrap_or(f64::INFINITY));
        program.sources.push(Source { key: None, name: name.to_owned(), nominal, low, high, distribution, degrees });
        let source = program.push(Step::Source((program.sources.len() - 1) as u32));
        let step = if relative { Step::Multiply(value.reg, source) } else { Step::Add(value.reg, source) };
        Some(Typed { reg: self.checked.program.push(step), ..value })
    }
}

fn is_relative(quantity: &Quantity) -> bool {
    unit_of(quantity).is_ok_and(|unit| quantity.unit.is_some() && unit.quantity == QuantityType::NUMBER)
}

/// Significant digits of a literal as written.
pub(super) fn digits_of(quantity: &Quantity) -> u8 {
    let mantissa = quantity.digits.split(['e', 'E']).next().unwrap_or("");
    let figures = mantissa.chars().filter(char::is_ascii_digit).skip_while(|c| *c == '0').count();
    figures.clamp(1, 15) as u8
}
