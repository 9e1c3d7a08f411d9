//! A reader's changes to a worksheet: another literal in the place of a given's. What a reader types is read as the
//! language reads it and held against the given's quantity; what it leaves out (the tolerance) stays as the author has
//! it. A worksheet and changes flow in; the changed worksheet flows out, and a reason for every change that was refused.

use std::collections::BTreeMap;

use benchleaf_words::phrase;

use crate::{
    check::{self, Checked},
    host::NoHost,
    lang::{
        ast::{Bounds, Definition, Expr, Notation, Quantity, StatementBody, Tolerance},
        parse_literal,
    },
    problem::{Code, Problem, Severity},
    program::Source,
    sheet::{Edit, Joined, Sheet, Worksheet, from_folder_of},
    span::Span,
    units::{QuantityType, ValueType},
};

/// What a reader typed for a given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// The given's name.
    pub name: String,
    /// Its new value, with or without a tolerance.
    pub text: String,
}

/// A change that was not made.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal {
    /// What was asked for.
    pub change: Change,
    /// Why it was not made; its span means nothing.
    pub problem: Problem,
}

/// A worksheet with a reader's changes in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Changed {
    /// The worksheet.
    pub worksheet: Worksheet,
    /// What was not changed, and why.
    pub refused: Vec<Refusal>,
}

/// Puts changes into a worksheet. Of several changes to one given the first that can be made is made.
///
/// ```
/// use benchleaf_core::{Evaluator, change::{Change, change}, sheet::Worksheet};
///
/// let (worksheet, _) = Worksheet::new("```calc\nR = 10 kΩ ± 5 %\nI [mA] = 5 V / R\n```\n");
/// let wanted = [("R", "22 kΩ"), ("R", "22 V")].map(|(name, text)| Change { name: name.into(), text: text.into() });
/// let changed = change(&worksheet, &wanted[..1]);
/// let evaluation = Evaluator::default().evaluate_worksheet(&changed.worksheet, vec![]);
/// // The tolerance stays as the author has it.
/// assert_eq!(evaluation.value("I").unwrap().shown_range().unwrap(), "0.216 mA to 0.239 mA");
/// // A change to another quantity is refused, with the reason.
/// assert_eq!(change(&worksheet, &wanted[1..]).refused.len(), 1);
/// ```
pub fn change(worksheet: &Worksheet, changes: &[Change]) -> Changed {
    let (sheet, _) = worksheet.read();
    // By the place of the worksheet that is changed among those that are used; none for this one.
    let mut made: BTreeMap<Option<usize>, Vec<Edit>> = BTreeMap::new();
    let mut refused = Vec::new();
    for change in changes {
        let outcome = match taken(worksheet, &sheet, &change.name) {
            None => make(made.entry(None).or_default(), (&sheet, &worksheet.source), &change.name, &change.text),
            Some((file, name)) => {
                let used = &worksheet.used[file].worksheet;
                make(made.entry(Some(file)).or_default(), (&used.read().0, &used.source), &name, &change.text)
            }
        };
        if let Err(problem) = outcome {
            refused.push(Refusal { change: change.clone(), problem });
        }
    }
    let mut changed = worksheet.edited(made.get(&None).map_or(&[], Vec::as_slice));
    for (file, edits) in &made {
        if let Some(used) = file.and_then(|file| changed.used.get_mut(file)) {
            used.worksheet = used.worksheet.edited(edits).into();
        }
    }
    Changed { worksheet: changed, refused }
}

/// Notes the change of a given of one worksheet, unless one is noted.
fn make(edits: &mut Vec<Edit>, (sheet, source): (&Sheet, &str), name: &str, text: &str) -> Result<(), Problem> {
    let givens = givens(sheet, source);
    let Some(given) = givens.iter().find(|given| given.name == name) else {
        let message = phrase!(SHARED_THE_WORKSHEET_HAS_NO_GIVEN, name = name);
        return Err(Problem::new(Code::UnknownName, Span::default(), message));
    };
    if edits.iter().all(|edit| edit.span != given.span) {
        edits.push(Edit { span: given.span, text: given.right_side(source, text)? });
    }
    Ok(())
}

/// Where a value stands that is taken from another worksheet: the place of that among those that are used, and its name
/// there.
fn taken(worksheet: &Worksheet, sheet: &Sheet, name: &str) -> Option<(usize, String)> {
    let mut at = taken_from(worksheet, sheet, "", name)?;
    // A worksheet may pass on what it takes itself.
    for _ in &worksheet.used {
        let used = &worksheet.used[at.0];
        match taken_from(worksheet, &used.worksheet.read().0, &used.path, &at.1) {
            Some(next) => at = next,
            None => break,
        }
    }
    Some(at)
}

/// The same for the worksheet of this path, one step of the way.
fn taken_from(worksheet: &Worksheet, sheet: &Sheet, own: &str, name: &str) -> Option<(usize, String)> {
    sheet.statements().find_map(|statement| {
        let StatementBody::Use(used) = &statement.body else { return None };
        let value = used.values.iter().find(|value| value.here.item == name && value.field.is_none())?;
        let path = from_folder_of(own, &used.path.item)?;
        let file = worksheet.used.iter().position(|used| *used.path == *path)?;
        Some((file, value.name.item.clone()))
    })
}

/// A given and where its literal stands.
#[derive(Clone, Debug)]
pub struct Given<'a> {
    /// Its name.
    pub name: &'a str,
    /// Its literal with the tolerance.
    pub span: Span,
    /// The number and the unit that its author wrote; the middle where only the ends are written.
    pub quantity: &'a Quantity,
    /// Whether a minus stands before the number.
    pub negative: bool,
    /// Its definition.
    pub definition: &'a Definition,
}

/// The givens of a worksheet, in reading order. A name that is defined twice counts once.
pub fn givens<'a>(sheet: &'a Sheet, source: &str) -> Vec<Given<'a>> {
    sheet.givens().into_iter().filter_map(|definition| Given::of(definition, source)).collect()
}

impl<'a> Given<'a> {
    /// The given that a definition in `source` makes, if it makes one.
    pub(crate) fn of(definition: &'a Definition, source: &str) -> Option<Self> {
        let (quantity, negative) = definition.literal()?;
        let span = definition.tolerance.as_ref().map_or(definition.value.span, |t| definition.value.span.to(t.span));
        source.get(span.start..span.end)?;
        Some(Given { name: definition.name.item.as_str(), span, quantity, negative, definition })
    }

    /// The source of the given with what a reader typed, which may have a tolerance of its own.
    pub(crate) fn source_with(&self, source: &str, text: &str) -> Result<Source, Problem> {
        let right = self.right_side(source, text)?;
        let made = self.checked_alone(source, &right).0.program.sources.pop();
        made.ok_or_else(|| Problem::new(Code::Syntax, Span::default(), phrase!(CHANGE_THAT_DOES_NOT_READ)))
    }

    /// The right side of the definition with what a reader typed.
    fn right_side(&self, source: &str, text: &str) -> Result<String, Problem> {
        let text = text.trim();
        let whole = Span::new(0, text.len());
        if text.contains(['\n', '\r']) {
            return Err(Problem::new(Code::Syntax, whole, phrase!(CHANGE_A_VALUE_STANDS_ON)));
        }
        let (value, tolerance) = parse_literal(text)?;
        let Some((quantity, _)) = value.literal() else {
            return Err(Problem::new(Code::Syntax, value.span, phrase!(CHANGE_A_GIVEN_IS_A_NUMBER))
                .help(phrase!(SHARED_WORK_IT_OUT_AND_TYPE)));
        };
        let right = match &tolerance {
            // A code that starts with its letter would be read as a name where one like it is defined.
            _ if quantity.notation == Notation::PartCode && text.starts_with(|c: char| c.is_alphabetic()) => {
                format!("0{}", self.completed(source, text, &value, tolerance.as_ref()))
            }
            _ => self.completed(source, text, &value, tolerance.as_ref()),
        };
        self.fits(source, text, quantity, &right)?;
        Ok(right)
    }

    /// What was typed, with the author's tolerance where none was.
    fn completed(&self, source: &str, text: &str, value: &Expr, tolerance: Option<&Tolerance>) -> String {
        let typed = value.span.text(text);
        if let Some(tolerance) = tolerance {
            return value.span.to(tolerance.span).text(text).to_owned();
        }
        if value.literal().is_some_and(|(quantity, _)| quantity.code_tolerance.is_some()) {
            return typed.to_owned();
        }
        let Some(own) = &self.definition.tolerance else {
            return match self.quantity.code_tolerance {
                Some(fraction) => format!("{typed} ± {} %", (fraction * 1e4).round() / 1e2),
                None => typed.to_owned(),
            };
        };
        match &own.bounds {
            Bounds::Symmetric(_) | Bounds::Asymmetric { .. } => format!("{typed} {}", own.span.text(source)),
            Bounds::MinTypMax { typ: Some(_), .. } => {
                let at = self.definition.value.span;
                let (before, after) = (Span::new(self.span.start, at.start), Span::new(at.end, self.span.end));
                format!("{}{typed}{}", before.text(source), after.text(source))
            }
            Bounds::MinTypMax { min, max, .. } => {
                let first = min.iter().chain(max).map(|bound| bound.span.end).min().unwrap_or(self.span.end);
                let (before, after) = (Span::new(self.span.start, first), Span::new(first, self.span.end));
                format!("{} typ {typed}{}", before.text(source), after.text(source))
            }
        }
    }

    /// Holds a right side against the author's: the same quantity, and nothing wrong with its tolerance.
    fn fits(&self, source: &str, text: &str, quantity: &Quantity, right: &str) -> Result<(), Problem> {
        let (wanted, _) = self.alone(source, self.span.text(source));
        let (found, problems) = self.alone(source, right);
        let whole = Span::new(0, text.len());
        if let (Some(ValueType::Quantity(wanted)), Some(found)) = (wanted, type_of(quantity))
            && !(found.dimension == wanted.dimension && found.kind.joined(wanted.kind).is_some())
        {
            let unit = self.quantity.unit.as_ref().map(|unit| unit.item.as_str());
            let name = self.name;
            let message = match (quantity.unit.is_none(), wanted == QuantityType::NUMBER) {
                (true, false) => phrase!(CHANGE_THE_UNIT_IS_MISSING, name = name, wanted = wanted.describe_kind()),
                _ => phrase!(
                    SHARED_THAT_IS_IS,
                    found = found.describe_kind(),
                    name = name,
                    wanted = wanted.describe_kind()
                ),
            };
            let problem = Problem::new(Code::UnitMismatch, whole, message);
            return Err(match unit {
                Some(unit) if quantity.unit.is_none() => problem.help(phrase!(CHANGE_WRITE, text = text, unit = unit)),
                Some(unit) => problem.help(phrase!(CHANGE_WRITE_IT_IN, unit = unit)),
                None => problem.help(phrase!(CHANGE_WRITE_A_NUMBER_WITHOUT)),
            });
        }
        if let Some(problem) = problems.into_iter().find(|problem| problem.severity() == Severity::Error) {
            // Only the value was typed: the tolerance is the author's.
            let is_authors = problem.code == Code::Tolerance && right != text;
            let own = self.definition.tolerance.as_ref().map_or("", |tolerance| tolerance.span.text(source));
            let message = match self.definition.bounds() {
                Some(Bounds::MinTypMax { .. }) if is_authors => {
                    let bounds = self.span.text(source);
                    phrase!(CHANGE_OUTSIDE_THE_BOUNDS, text = text, bounds = bounds)
                }
                Some(_) if is_authors => phrase!(CHANGE_TOLERANCE_DOES_NOT_FIT, tolerance = own, text = text),
                _ => return Err(problem),
            };
            let help = phrase!(CHANGE_WRITE_THE_TOLERANCE_TOO, text = text);
            return Err(Problem::new(Code::Tolerance, whole, message).help(help));
        }
        match found {
            Some(_) => Ok(()),
            None => Err(Problem::new(Code::Syntax, whole, phrase!(CHANGE_THAT_DOES_NOT_READ))),
        }
    }

    /// The type of the definition with this right side, in a worksheet of its own.
    fn alone(&self, source: &str, right: &str) -> (Option<ValueType>, Vec<Problem>) {
        let (checked, problems) = self.checked_alone(source, right);
        (checked.values.first().map(|value| value.typed.value_type), problems)
    }

    fn checked_alone(&self, source: &str, right: &str) -> (Checked, Vec<Problem>) {
        let head = Span::new(self.definition.name.span.start, self.span.start).text(source);
        let alone = Worksheet::of_calculations(&format!("{head}{right}"));
        let (sheet, mut problems) = alone.read();
        let (checked, found) = check::check(&Joined::new(&alone), &sheet, &NoHost);
        problems.extend(found);
        (checked, problems)
    }
}

/// The quantity that a literal's unit measures; nothing where the unit is unknown.
fn type_of(quantity: &Quantity) -> Option<QuantityType> {
    match &quantity.unit {
        None => Some(QuantityType::NUMBER),
        Some(unit) => crate::units::parse(&unit.item).map(|unit| unit.quantity),
    }
}

#[cfg(feature = "markdown")]
#[cfg(test)]
mod tests {
    use super::*;

    fn changed(definition: &str, text: &str) -> Result<String, String> {
        let source = format!("Text.\n\n```calc\n{definition}  \"label\" # comment\ny = 2 * x\n```\n");
        let result = change(&Worksheet::new(&source).0, &[Change { name: "x".to_owned(), text: text.to_owned() }]);
        match result.refused.first() {
            Some(refusal) => Err(format!(
                "{}|{}",
                refusal.problem.message.english(),
                refusal.problem.help.as_ref().map(benchleaf_words::Phrase::english).unwrap_or_default()
            )),
            None => {
                let line = result.worksheet.source.lines().nth(3).unwrap();
                let kept = line.strip_suffix("  \"label\" # comment").unwrap();
                Ok(kept.strip_prefix("x = ").unwrap_or(kept).to_owned())
            }
        }
    }

    #[test]
    fn what_is_left_out_stays_as_the_author_has_it() {
        for (definition, text, wanted) in [
            ("x = 910 kΩ", "470k", "470k"),
            ("x = 910 kΩ ± 5 %", "470k", "470k ± 5 %"),
            ("x = 910 kΩ ± 5 % normal(2)", " 470 kΩ ", "470 kΩ ± 5 % normal(2)"),
            ("x = 910 kΩ ± 5 % normal(2)", "470 kΩ ± 1 %", "470 kΩ ± 1 %"),
            ("x = 22 µF -20 % +50 %", "10u", "10u -20 % +50 %"),
            ("x = min 0.6 V typ 0.7 V max 0.85 V", "0.65 V", "min 0.6 V typ 0.65 V max 0.85 V"),
            ("x = min 0.6 V max 0.85 V triangular", "0.65 V", "min 0.6 V typ 0.65 V max 0.85 V triangular"),
            ("x = min 0.6 V typ 0.7 V max 0.85 V", "1 V ± 10 %", "1 V ± 10 %"),
            ("x = 1 V", "min 1 V max 2 V normal(2)", "min 1 V max 2 V normal(2)"),
            ("x = 4k7J", "10k", "10k ± 5 %"),
            ("x = 4k7 ± 1 %", "10k0J", "10k0J"),
            ("x = 5 Ω", "R47", "0R47"),
            ("x = -20 °C ± 2 K", "-30 °C", "-30 °C ± 2 K"),
            ("x [mV] = 5 V", "6 V", "x [mV] = 6 V"),
            ("x = 5 V", "6 V # mine", "6 V"),
            ("x = 3", "4", "4"),
        ] {
            assert_eq!(changed(definition, text).as_deref(), Ok(wanted), "{definition} <- {text}");
        }
    }

    #[test]
    fn what_does_not_fit_is_refused_with_a_reason() {
        for (definition, text, wanted) in [
            ("x = 910 kΩ", "470", "the unit is missing: `x` is a resistance (Ω)|write 470 kΩ"),
            ("x = 910 kΩ", "22 µF", "that is a capacitance (F); `x` is a resistance (Ω)|write it in kΩ"),
            (
                "x = 910 kΩ",
                "2 * 3 kΩ",
                "a given is a number with its unit, not a formula|work it out and type the result",
            ),
            ("x = 910 kΩ", "", "nothing is written here|type a number and a unit"),
            ("x = 25 °C", "25 K", "that is a temperature difference (K); `x` is a temperature (°C)|write it in °C"),
            ("x = 3", "4 V", "that is a voltage (V); `x` is a plain number|write a number without a unit"),
        ] {
            assert_eq!(changed(definition, text).unwrap_err(), wanted, "{definition} <- {text}");
        }
        for text in [
            "4,7 kΩ",
            "y",
            "470 kΩ \"mine\"",
            "470 kΩ\ny = 3",
            "1e999 Ω",
            "470 kΏ",
            "5 Ω ± 3 V",
            "```",
            "keep",
            "± 5 %",
        ] {
            assert!(changed("x = 910 kΩ", text).is_err(), "{text}");
        }
        let zero = changed("x = 910 kΩ ± 5 %", "0 Ω").unwrap_err();
        assert!(zero.starts_with("the tolerance that stays, ± 5 %, does not fit 0 Ω|"), "{zero}");
        let bounds = changed("x = min 0.6 V typ 0.7 V max 0.85 V", "2 V").unwrap_err();
        assert!(
            bounds.contains("2 V is outside the bounds that stay: min 0.6 V") && bounds.contains("2 V ± 10 %"),
            "{bounds}"
        );
    }

    #[test]
    fn the_first_change_that_can_be_made_is_made() {
        let source = "```calc\na = 1 V\nb = 2 V ± 5 %\n```\n";
        let asked = [("b", "5"), ("b", "3 V"), ("b", "4 V"), ("a", "0.5 V"), ("c", "1 V")];
        let changes = asked.map(|(name, text)| Change { name: name.to_owned(), text: text.to_owned() });
        let result = change(&Worksheet::new(source).0, &changes);
        assert_eq!(result.worksheet.source, "```calc\na = 0.5 V\nb = 3 V ± 5 %\n```\n");
        let refused: Vec<&str> = result.refused.iter().map(|refusal| refusal.change.text.as_str()).collect();
        assert_eq!(refused, ["5", "1 V"]);
    }
}
