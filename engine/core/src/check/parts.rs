//! Parts: their values are givens as in a `calc` block; their ratings and prices become fields of these. `cost(n)` and `keep …
//! within rating at …` read them.

use benchleaf_words::phrase;

use super::{Binding, CheckedKeep, CheckedValue, Checker, Typed, expression::quantity_in};
use crate::{
    bill::{Bought, MOST_BUILDS, Part, Price, Rating, millionths, total},
    lang::ast::{Expr, Keep, Node, Quantity, Statement},
    problem::Code,
    program::{Reg, Source, Step, Unary},
    results::{Outcome, Role},
    sheet::{BlockBody, PartLine, PartsBlock},
    span::Spanned,
    units::{CURRENCIES, Dimension, Kind, QuantityType, TEMPERATURE, Unit, ValueType, parse},
};

/// A value `cost(n)`: the source that holds it, and for how many builds it is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CheckedCost {
    pub(crate) source: u32,
    pub(crate) builds: Builds,
}

/// For how many builds a cost is.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Builds {
    /// A number that is written out.
    Written(u64),
    /// A given's.
    Given(u32),
}

impl CheckedCost {
    /// Whether another source can stand in the place of one: the number of builds is whole, and the same in all builds.
    pub(crate) fn takes(self, at: u32, source: &Source) -> bool {
        !matches!(self.builds, Builds::Given(number) if number == at)
            || (!source.varies() && whole(source.nominal).is_some())
    }

    /// The cost with these parts and sources, in the currency's units; not a number where it has none.
    pub(crate) fn of(self, parts: &[Part], sources: &[Source]) -> f64 {
        let builds = match self.builds {
            Builds::Written(builds) => builds,
            Builds::Given(source) => match sources.get(source as usize).and_then(|source| whole(source.nominal)) {
                Some(builds) => builds,
                None => return f64::NAN,
            },
        };
        total(parts, builds).first().map_or(0.0, |amount| amount.units())
    }
}

impl Checker<'_> {
    pub(super) fn parts(&mut self, block: &PartsBlock) {
        for line in &block.lines {
            let statement = line.statement.and_then(|at| block.statements.get(at));
            let value = statement.map(|statement| {
                let reported = self.problems.len();
                let outcome = self.statement(statement);
                if outcome == Outcome::Failed {
                    self.withhold(statement, reported);
                }
                self.checked.outcomes.push(outcome.clone());
                outcome
            });
            let source = line.name.as_ref().and_then(|name| self.names.get(&name.item)?.source);
            if value.is_none_or(|outcome| outcome != Outcome::Failed) {
                self.part(line);
                self.checked.bought.extend(source);
            }
        }
    }

    fn part(&mut self, line: &PartLine) {
        let known = self.problems.len();
        let part = self.part_of(line);
        let mut fields: Vec<(String, Typed)> = Vec::new();
        if let Some(name) = &line.name {
            let rated = line.ratings.iter().zip(&part.ratings);
            for (quantity, rating) in rated {
                let unit = quantity.unit.as_ref().and_then(|unit| parse(&unit.item));
                fields.push((
                    rating.field.to_owned(),
                    self.trait_of(line, name, rating.field, rating.name, rating.si, unit),
                ));
            }
            if let Some(price) = part.prices.first() {
                let unit = parse(CURRENCIES[price.currency]);
                fields.push((
                    "price".to_owned(),
                    self.trait_of(line, name, "price", "price of one", price.units(), unit),
                ));
            }
            if line.statement.is_none() && self.name_is_free(name) {
                self.bind(
                    name,
                    Binding::Record(phrase!(CHECK_PARTS_A_PART_WITHOUT_A_VALUE), fields.clone()),
                    None,
                    None,
                );
            }
            self.part_fields.insert(name.item.clone(), fields);
        }
        if self.problems.len() == known {
            self.checked.parts.push(part);
        }
    }

    /// What a line says of a part, whatever is wrong with it reported.
    pub(super) fn part_of(&mut self, line: &PartLine) -> Part {
        for designator in &line.designators {
            match self.designators.get(&designator.item).copied() {
                Some(first) => {
                    let message = phrase!(
                        CHECK_PARTS_IS_ON_LINE_ALREADY,
                        designator = designator.item,
                        line = self.line_of(first)
                    );
                    let help = phrase!(CHECK_PARTS_A_DESIGNATOR_STANDS);
                    self.fail_with_help(Code::Part, designator.span, message, help);
                }
                None => {
                    self.designators.insert(designator.item.clone(), designator.span);
                }
            }
        }
        let mut ratings: Vec<Rating> = Vec::new();
        for quantity in &line.ratings {
            let Some(rating) = self.rating(quantity) else { continue };
            if ratings.iter().any(|known| known.field == rating.field) {
                let message = phrase!(SHARED_IS_GIVEN_TWICE, parameter = rating.field);
                self.fail_with_help(Code::Part, quantity.span, message, phrase!(SHARED_KEEP_ONE_OF_THEM));
                continue;
            }
            ratings.push(rating);
        }
        let count = line.designators.len().max(1) as u64;
        Part {
            name: line.name.as_ref().map(|name| name.item.clone()),
            value: line.value.map(|span| span.text(self.text).to_owned()),
            label: line.label.clone(),
            span: line.span,
            designators: line.designators.iter().map(|designator| designator.item.clone()).collect(),
            bought: if line.once.is_some() { Bought::Once } else { Bought::EachBuild(count) },
            ratings,
            prices: self.prices(line),
        }
    }

    fn rating(&mut self, quantity: &Quantity) -> Option<Rating> {
        let (si, unit) = self.literal(quantity, false)?;
        let Some((field, name)) = Rating::field_of(unit.quantity) else {
            let message = phrase!(CHECK_PARTS_A_PART_HAS_NO_RATING, found = unit.quantity.describe());
            let rated: Vec<&str> = Rating::TABLE.iter().map(|row| row.2).collect();
            let help = phrase!(CHECK_PARTS_RATINGS_ARE_IN_A_PRICE, rated = rated.join(", "));
            self.fail_with_help(Code::Part, quantity.span, message, help);
            return None;
        };
        Some(Rating { field, name, si, shown: format!("{} {}", quantity.digits, unit.symbol) })
    }

    fn prices(&mut self, line: &PartLine) -> Vec<Price> {
        let mut prices: Vec<Price> = Vec::new();
        for (pieces, quantity) in &line.prices {
            let from = match pieces {
                None => Some(1),
                Some(pieces) if pieces.unit.is_none() => whole(pieces.number),
                Some(_) => None,
            };
            let span = pieces.as_ref().map_or(quantity.span, |pieces| pieces.span.to(quantity.span));
            let Some(from) = from else {
                let message = phrase!(CHECK_PARTS_A_PRICE_BEGINS);
                self.fail_with_help(Code::Part, span, message, phrase!(CHECK_PARTS_WRITE_EUR));
                continue;
            };
            let code = quantity.unit.as_ref().map_or("", |unit| unit.item.as_str());
            let Some(currency) = CURRENCIES.iter().position(|known| *known == code) else {
                let message = phrase!(CHECK_PARTS_A_PRICE);
                self.fail_with_help(Code::Part, quantity.span, message, phrase!(CHECK_PARTS_WRITE_ITS_CODE));
                continue;
            };
            let millionths = match millionths(&quantity.digits) {
                Ok(millionths) => millionths,
                Err(why) => {
                    let message = phrase!(CHECK_PARTS_THE_PRICE, digits = quantity.digits, why = why);
                    let help = phrase!(CHECK_PARTS_A_PRICE_IS_WRITTEN);
                    self.fail_with_help(Code::Part, quantity.span, message, help);
                    continue;
                }
            };
            let price = Price { from, millionths, currency };
            let wrong = match prices.last() {
                Some(last) if last.currency != currency => Some(phrase!(CHECK_PARTS_THE_PRICES_OF_A_PART)),
                Some(last) if last.from == from => Some(phrase!(CHECK_PARTS_TWO_PRICES_BEGIN)),
                Some(last) if last.from > from => Some(phrase!(CHECK_PARTS_THE_PRICES_ARE_OUT)),
                _ => None,
            };
            match wrong {
                Some(message) => {
                    let help = phrase!(CHECK_PARTS_LIST_THEM_BY_RISING_NUMBERS);
                    self.fail_with_help(Code::Part, span, message, help);
                }
                None => prices.push(price),
            }
        }
        if let Some(first) = prices.first().filter(|price| price.from > 1) {
            let message = phrase!(CHECK_PARTS_THERE_IS_NO_PRICE, from = first.from);
            self.fail_with_help(Code::Part, line.span, message, phrase!(CHECK_PARTS_BEGIN_WITH_THE_PRICE));
        }
        prices
    }

    /// A rating or a price as a value of the worksheet that does not vary.
    fn trait_of(
        &mut self,
        line: &PartLine,
        part: &Spanned<String>,
        field: &str,
        label: &str,
        si: f64,
        unit: Option<Unit>,
    ) -> Typed {
        let name = format!("{}.{field}", part.item);
        let source = self.fixed(&name, si);
        let quantity = unit.as_ref().map_or(QuantityType::NUMBER, |unit| unit.quantity);
        let typed = quantity_in(self.push(Step::Source(source)), quantity);
        self.checked.values.push(CheckedValue {
            name,
            label: Some(label.to_owned()),
            span: line.span,
            role: Role::Field,
            typed,
            unit,
            digits: None,
            origin: None,
        });
        typed
    }

    /// A source that does not vary.
    fn fixed(&mut self, name: &str, si: f64) -> u32 {
        self.checked.program.sources.push(Source::fixed(name, si));
        (self.checked.program.sources.len() - 1) as u32
    }

    /// `cost(n)`: what the parts of the worksheet cost for n builds.
    pub(super) fn cost(&mut self, argument: &Expr) -> Option<Typed> {
        let builds = self.builds_of(argument)?;
        let currencies: Vec<usize> = self.currencies().collect();
        let Some(currency) = currencies.first().copied() else {
            let help = phrase!(CHECK_PARTS_WRITE_IT_IN_A_PARTS);
            self.fail_with_help(Code::Part, argument.span, phrase!(CHECK_PARTS_NO_PART_OF_THE_WORKSHEET), help);
            return None;
        };
        if let Some(other) = currencies.into_iter().find(|other| *other != currency) {
            let (a, b) = (CURRENCIES[currency], CURRENCIES[other]);
            let message = phrase!(CHECK_PARTS_THE_PARTS_ARE_PRICED, first = a, second = b);
            self.fail_with_help(
                Code::Part,
                argument.span,
                message,
                phrase!(CHECK_PARTS_WRITE_ALL_PRICES_IN, first = a),
            );
            return None;
        }
        let source = self.fixed("cost", 0.0);
        self.checked.costs.push(CheckedCost { source, builds });
        let quantity = QuantityType { dimension: Dimension::money(currency), kind: Kind::Plain };
        Some(quantity_in(self.push(Step::Source(source)), quantity))
    }

    fn builds_of(&mut self, argument: &Expr) -> Option<Builds> {
        let found = match &argument.node {
            Node::Quantity(quantity) if quantity.unit.is_none() => whole(quantity.number).map(Builds::Written),
            Node::Name(name) => {
                let source = self.names.get(name).and_then(|entry| entry.source);
                let given = source.map(|source| &self.checked.program.sources[source as usize]);
                given.filter(|given| !given.varies() && whole(given.nominal).is_some()).and(source).map(Builds::Given)
            }
            _ => None,
        };
        if found.is_none() {
            let message = phrase!(CHECK_PARTS_TAKES_A_WHOLE_NUMBER, most_builds = MOST_BUILDS);
            let help = phrase!(CHECK_PARTS_WRITE_COST_OR_THE_NAME);
            self.fail_with_help(Code::Arguments, argument.span, message, help);
        }
        found
    }

    /// The currency of each price of the worksheet, those below included.
    fn currencies(&self) -> impl Iterator<Item = usize> + use<'_> {
        let lines = self.sheet.blocks.iter().flat_map(|block| match &block.body {
            BlockBody::Parts(parts) => parts.lines.as_slice(),
            _ => &[],
        });
        let units = lines.flat_map(|line| &line.prices).filter_map(|(_, price)| price.unit.as_ref());
        units.filter_map(|unit| CURRENCIES.iter().position(|code| *code == unit.item))
    }

    /// The costs, once all parts are known.
    pub(super) fn price_costs(&mut self) {
        for cost in &self.checked.costs {
            let nominal = cost.of(&self.checked.parts, &self.checked.program.sources);
            let source = &mut self.checked.program.sources[cost.source as usize];
            *source = Source::fixed("cost", nominal);
        }
    }

    /// A field of a part that has a value: its rating, or its price.
    pub(super) fn part_field(&self, part: &str, field: &str) -> Option<Typed> {
        self.part_fields.get(part)?.iter().find(|(known, _)| known == field).map(|(_, typed)| *typed)
    }

    /// `keep R_t within rating at I^2*R_t, 50 %`.
    pub(super) fn keep_rating(
        &mut self,
        keep: &Keep,
        at: &Expr,
        derating: Option<&Quantity>,
        statement: &Statement,
    ) -> Option<Outcome> {
        let (reg, quantity) = self.quantity(at)?;
        let (bound, bound_type, unit) = self.rating_for(&keep.subject, at, quantity)?;
        let bound = self.derated(bound, bound_type, derating)?;
        let is_temperature = quantity.dimension == TEMPERATURE;
        // A rating is for both directions of a current or a voltage.
        let reg = if is_temperature { reg } else { self.push(Step::Apply(Unary::Abs, reg)) };
        let distance = self.push(Step::Subtract(bound, reg));
        self.checked.keeps.push(CheckedKeep {
            label: statement.label.clone(),
            span: statement.span,
            subject: quantity_in(reg, QuantityType { kind: bound_type.kind, ..quantity }),
            subject_span: at.span,
            unit,
            lower: None,
            upper: Some((quantity_in(bound, bound_type), distance)),
            distance,
        });
        Some(Outcome::Keep(self.checked.keeps.len() - 1))
    }

    /// The rating of a part that is of the quantity which it is put to.
    fn rating_for(
        &mut self,
        part: &Expr,
        at: &Expr,
        quantity: QuantityType,
    ) -> Option<(Reg, QuantityType, Option<Unit>)> {
        let name = match &part.node {
            Node::Name(name) => name,
            _ => {
                let message = phrase!(CHECK_PARTS_A_RATING_IS_KEPT);
                self.fail_with_help(Code::Part, part.span, message, phrase!(CHECK_PARTS_WRITE_KEEP_R_T_WITHIN));
                return None;
            }
        };
        let Some(fields) = self.part_fields.get(name) else {
            if !self.names.contains_key(name) {
                self.unknown_name(name, part.span);
                return None;
            }
            let message = phrase!(CHECK_PARTS_IS_NO_PART, name = name);
            let help = phrase!(CHECK_PARTS_WRITE_IT_IN_A_PARTS_BLOCK, name = name);
            self.fail_with_help(Code::Part, part.span, message, help);
            return None;
        };
        let found = Rating::field_of(quantity).and_then(|(field, _)| {
            fields.iter().find(|(known, _)| known == field).map(|(field, typed)| (field.clone(), *typed))
        });
        if let Some((field, Typed { reg, value_type: ValueType::Quantity(quantity), .. })) = found {
            let full = format!("{name}.{field}");
            let unit = self.checked.values.iter().find(|value| value.name == full).and_then(|value| value.unit.clone());
            self.checked.fields_read.insert(full);
            return Some((reg, quantity, unit));
        }
        let written = at.span.text(self.text).to_owned();
        let message =
            phrase!(CHECK_PARTS_IS_HAS_NO_SUCH_RATING, written = written, found = quantity.describe(), name = name);
        let help = phrase!(CHECK_PARTS_WRITE_THE_RATING);
        self.fail_with_help(Code::Part, part.span.to(at.span), message, help);
        None
    }

    fn derated(&mut self, rating: Reg, quantity: QuantityType, derating: Option<&Quantity>) -> Option<Reg> {
        let Some(derating) = derating else { return Some(rating) };
        let (part, unit) = self.literal(derating, false)?;
        if quantity.dimension == TEMPERATURE {
            let message = phrase!(SHARED_PER_CENT_OF_A_TEMPERATURE);
            let help = phrase!(CHECK_PARTS_KEEP_THE_TEMPERATURE_ITSELF_BELOW);
            self.fail_with_help(Code::Part, derating.span, message, help);
            return None;
        }
        if !(unit.quantity.dimension.is_none() && part > 0.0 && part <= 1.0) {
            let message = phrase!(CHECK_PARTS_A_DERATING_IS_A_PART);
            self.fail_with_help(Code::Part, derating.span, message, phrase!(CHECK_PARTS_WRITE_KEEP_R_T_WITHIN));
            return None;
        }
        let part = self.push(Step::Constant(part));
        Some(self.push(Step::Multiply(rating, part)))
    }
}

/// A number of pieces or builds.
fn whole(number: f64) -> Option<u64> {
    (number.fract() == 0.0 && (1.0..=MOST_BUILDS as f64).contains(&number)).then_some(number as u64)
}
