//! The list of parts: what is bought, with its ratings, its places on the board and its price, and what all of it costs for
//! some numbers of builds. A part with a value is a given, and stands in its row as in a block of calculations.

use benchleaf_core::{
    bill::{Amount, Bought, MOST_BUILDS, Part, QUANTITIES, total},
    lang::ast::{Definition, Statement},
    sheet::{PartLine, PartsBlock},
};
use benchleaf_words::{Words, count, key, say};
use maud::{Markup, html};

use crate::{
    aligned,
    context::PageContext,
    format::{self, narrow},
    givens, mathml, problems,
};

/// A block of parts.
pub(crate) fn block(context: &PageContext<'_>, index: usize, block: &PartsBlock) -> Markup {
    let rows: Vec<Row<'_>> = block.lines.iter().map(|line| Row::new(context, block, line)).collect();
    let (whole, words) = (givens::columns(context).whole, context.words);
    let is_last = context
        .evaluation
        .parts
        .last()
        .is_none_or(|last| block.lines.last().is_none_or(|line| line.span.start >= last.span.start));
    html! {
        div.calc data-block=(index) {
            div.scroll {
                table.givens.parts {
                    caption.unseen { (words.text(key::PARTS_CAPTION)) }
                    thead { tr {
                        th scope="col" { (words.text(key::PARTS_PART)) }
                        th scope="col" { (words.text(key::GIVENS_SYMBOL)) }
                        th scope="col" { (words.text(key::GIVENS_VALUE)) }
                        th scope="col" { (words.text(key::GIVENS_TOLERANCE)) }
                        th scope="col" { (words.text(key::PARTS_RATED)) }
                        th scope="col" { (words.text(key::PARTS_PLACES)) }
                        th.right scope="col" { (words.text(key::PARTS_PRICE)) }
                    } }
                    tbody { @for row in &rows { (row.set(context, whole)) } }
                }
            }
            @for line in &block.lines { (problems::inside(context, line.span)) }
            @if is_last { (costs(words, &context.evaluation.parts)) }
        }
    }
}

/// A line of the list.
struct Row<'a> {
    line: &'a PartLine,
    given: Option<(&'a Statement, &'a Definition)>,
    part: Option<&'a Part>,
    value: (String, String),
}

impl<'a> Row<'a> {
    fn new(context: &'a PageContext<'_>, block: &'a PartsBlock, line: &'a PartLine) -> Self {
        let statement = line.statement.and_then(|at| block.statements.get(at));
        let given = statement.and_then(|statement| Some((statement, givens::given(statement)?)));
        let part = context.evaluation.parts.iter().find(|part| part.span == line.span);
        let value =
            given.map_or_else(Default::default, |(_, definition)| givens::value(context, &definition.name.item));
        Self { line, given, part, value }
    }

    fn set(&self, context: &PageContext<'_>, whole: usize) -> Markup {
        let name = self.line.name.as_ref().map(|name| name.item.as_str());
        let anchor = self.given.and_then(|(statement, definition)| givens::anchor(context, statement, definition));
        html! {
            tr id=[anchor] data-designators=[self.part.filter(|part| !part.designators.is_empty()).map(|part| part.designators.join(" "))] data-given=[self.given.and(name)] data-statement=[self.given.map(|(statement, _)| statement.id.0)] {
                @match (self.given, self.line.label.as_deref()) {
                    (Some((statement, definition)), _) => (givens::what_and_symbol(statement.label.as_deref(), &definition.name.item)),
                    (None, Some(label)) => { th scope="row" { (givens::label(label)) } td.symbol { @if let Some(name) = name { (mathml::symbol(name)) } } },
                    (None, None) => { td {} th.symbol scope="row" { @if let Some(name) = name { (mathml::symbol(name)) } } },
                }
                td.value data-name=[self.given.and(name)] { @if self.given.is_some() { (aligned::aligned(&self.value.0, &self.value.1, whole)) } }
                td.tolerance { @if let Some((_, definition)) = self.given { (givens::tolerance(context.words, definition)) } }
                @match self.part {
                    Some(part) => { td { (rated(part)) } td { (places(context.words, part)) } td.right { (prices(context.words, part)) } },
                    None => { td.not-evaluated colspan="3" { (context.words.text(key::FORMAT_NOT_EVALUATED)) } },
                }
            }
        }
    }
}

fn rated(part: &Part) -> String {
    let shown: Vec<String> = part.ratings.iter().map(|rating| narrow(&rating.shown)).collect();
    shown.join(", ")
}

fn places(words: Words<'_>, part: &Part) -> String {
    let designators = part.designators.join(", ");
    match part.bought {
        Bought::Once if designators.is_empty() => words.text(key::PARTS_ONCE).to_owned(),
        Bought::Once => format!("{designators}, {}", words.text(key::PARTS_ONCE)),
        Bought::EachBuild(_) => designators,
    }
}

fn prices(words: Words<'_>, part: &Part) -> Markup {
    html! {
        @for (i, price) in part.prices.iter().enumerate() {
            @if i > 0 { br; (say!(words, PARTS_FROM, n = format::count(price.from), price = narrow(&price.shown()))) }
            @else { (narrow(&price.shown())) }
        }
    }
}

/// What all parts cost, for the usual numbers of builds.
fn costs(words: Words<'_>, parts: &[Part]) -> Markup {
    let totals = QUANTITIES.map(|builds| (builds, total(parts, builds)));
    if totals.iter().all(|(_, amounts)| amounts.is_empty()) {
        return html! {};
    }
    let unpriced = parts.iter().filter(|part| part.prices.is_empty()).count();
    html! {
        div.scroll {
            table.costs data-costs {
                caption { (words.text(key::PARTS_COST)) }
                thead { tr {
                    th.right scope="col" { (words.text(key::PARTS_BUILDS)) }
                    th.right scope="col" { (words.text(key::PARTS_ALL)) }
                    th.right scope="col" { (words.text(key::PARTS_EACH)) }
                } }
                tbody {
                    @for (builds, amounts) in &totals {
                        tr {
                            th.right scope="row" { (format::count(*builds)) }
                            td.right { (sum(words, amounts)) }
                            td.right { (each(words, amounts, *builds)) }
                        }
                    }
                }
            }
        }
        @if unpriced > 0 {
            p.states { (count!(words, PARTS_UNPRICED, unpriced, n = unpriced)) }
        }
    }
}

/// Amounts of several currencies are never added.
pub(crate) fn sum(words: Words<'_>, amounts: &[Amount]) -> String {
    let shown: Vec<String> = amounts.iter().map(|amount| narrow(&amount.shown())).collect();
    format::listed(words, &shown)
}

/// What all parts cost for so many builds, and for one of them, as a page has it; `typed` is a number of builds.
///
/// # Errors
/// What is wrong with the number, in a sentence.
pub fn cost(parts: &[Part], typed: &str, words: Words<'_>) -> Result<[String; 2], String> {
    let builds = typed.trim().parse().ok().filter(|builds| (1..=MOST_BUILDS).contains(builds));
    let builds: u64 = builds.ok_or_else(|| say!(words, PARTS_WHOLE_NUMBER, most = format::count(MOST_BUILDS)))?;
    let amounts = total(parts, builds);
    Ok([sum(words, &amounts), each(words, &amounts, builds)])
}

/// The share of one build, rounded to the coin.
fn each(words: Words<'_>, amounts: &[Amount], builds: u64) -> String {
    let builds = i64::try_from(builds).unwrap_or(i64::MAX).max(1);
    let one = amounts.iter().map(|amount| Amount { coins: (amount.coins + builds / 2) / builds, ..*amount });
    sum(words, &one.collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    #[test]
    fn any_number_of_builds_can_be_asked_for() {
        let source = "```parts\nR_t = 910 kΩ, 0.03 EUR, 100+ 0.01 EUR @R1 @R4\n\"timer\" 0.45 EUR\n\"programmer\" 12 EUR once\n```\n";
        let parts = Evaluator::default().evaluate(source).parts;
        let priced = |typed| {
            super::cost(&parts, typed, benchleaf_words::Words::ENGLISH).map(|[all, one]| format!("{all}, {one}"))
        };
        assert_eq!(priced("1").unwrap(), "12.51\u{202f}EUR, 12.51\u{202f}EUR");
        // 49 builds take 98 resistors, 50 take 100, of which each costs a third.
        assert_eq!(priced(" 49 ").unwrap(), "36.99\u{202f}EUR, 0.75\u{202f}EUR");
        assert_eq!(priced("50").unwrap(), "35.50\u{202f}EUR, 0.71\u{202f}EUR");
        for wrong in ["", "0", "-1", "1.5", "1000001", "many", "1e3"] {
            assert_eq!(priced(wrong).unwrap_err(), "A whole number from 1 to 1\u{202f}000\u{202f}000.", "{wrong}");
        }
    }

    #[test]
    fn a_part_is_a_given_with_its_rating_and_the_list_has_totals() {
        let source = "```parts\nR_t = 910 kΩ ± 5 %, 0.25 W, 0.03 EUR, 100+ 0.01 EUR \"timing resistor\" @R1 @R4\n\
            \"timer\" 0.45 EUR @U1\n\"board\" @P1\n```\n";
        let evaluation = Evaluator::default().evaluate(source);
        assert!(evaluation.problems.is_empty(), "{:?}", evaluation.problems);
        let page = crate::render(&evaluation, source, &crate::PageOptions::default()).body;
        for wanted in [
            "data-given=\"R_t\"",
            "0.25\u{202f}W",
            "R1, R4",
            "0.51\u{202f}EUR",
            "470.00\u{202f}EUR",
            "One part has no price",
        ] {
            assert!(page.contains(wanted), "{wanted}: {page}");
        }
    }
}
