//! Builds side by side: a column for each, a row for what is compared, for every requirement and for some numbers of builds;
//! then where the cheapest changes, in a sentence and as a plot of cost against quantity.

use benchleaf_core::{
    bill::{Amount, BreakEven, MOST_COMPARED, Part, QUANTITIES, total},
    results::{Axis, Build, BuildSet, Curve, CurvePoint, PlotData, Value, Verdict},
    sheet::Scale,
    units::{DisplayUnit, Unit, parse},
};
use benchleaf_words::{Words, count, key, say, set};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    format, icons, labels, mathml,
    parts::sum,
    plot,
    rangebar::{RangeBar, side_by_side},
    typography::{apostrophes, held_together},
    verdicts,
};

/// A block of builds.
pub(crate) fn block(context: &PageContext<'_>, number: usize, set: &BuildSet) -> Markup {
    let Some(first) = set.builds.first() else { return html! {} };
    let words = context.words;
    let totals: Vec<(u64, Vec<Vec<Amount>>)> = QUANTITIES
        .into_iter()
        .map(|quantity| (quantity, set.builds.iter().map(|build| total(&build.parts, quantity)).collect()))
        .collect();
    let priced = totals.iter().any(|(_, builds)| builds.iter().any(|amounts| !amounts.is_empty()));
    html! {
        section.builds id={ "builds-" (number + 1) } data-builds=(number) {
            div.scroll {
                table.builds {
                    caption.unseen { (words.text(key::BUILDS_CAPTION)) }
                    thead { tr {
                        td {}
                        @for build in &set.builds { th scope="col" { (apostrophes(&build.name)) } }
                    } }
                    tbody {
                        @for at in 0..first.values.len() { (values(words, set, at)) }
                        @for at in 0..first.keeps.len() { (requirements(context, set, at)) }
                        (own_parts(words, set))
                        @if priced { @for (quantity, builds) in &totals { (costs(words, *quantity, builds)) } }
                    }
                }
            }
            @if let Some(text) = cheapest(words, set) { p.says { (text) } }
            @if priced { (plotted(words, set)) }
        }
    }
}

fn row(words: Words<'_>, head: &Markup, differs: Differs, cells: &[Markup]) -> Markup {
    html! {
        tr {
            th scope="row" { (head) @if differs == Differs::Yes { " " small { (words.text(key::BUILDS_DIFFERS)) } } }
            @for cell in cells { td { (cell) } }
        }
    }
}

/// Whether the builds of a row are not all alike.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Differs {
    Yes,
    No,
}

impl Differs {
    fn among<T: PartialEq>(all: &[T]) -> Self {
        if all.windows(2).all(|two| two[0] == two[1]) { Differs::No } else { Differs::Yes }
    }
}

/// What is compared: the value, its range in words, and its bar on the scale of the row.
fn values(words: Words<'_>, set: &BuildSet, at: usize) -> Markup {
    let row_of: Vec<&Value> = set.builds.iter().filter_map(|build| build.values.get(at)).collect();
    let Some(first) = row_of.first() else { return html! {} };
    let bars: Vec<Option<RangeBar>> = row_of.iter().map(|value| RangeBar::of_value(value)).collect();
    let drawn = side_by_side(words, &bars);
    let cells: Vec<Markup> = row_of
        .iter()
        .zip(drawn)
        .map(|(value, bar)| {
            html! {
                data value=(value.nominal) { (held_together(&value.shown_in(words))) }
                @if let Some(range) = value.shown_range_in(words) { br; small { (held_together(&range)) } }
                (bar)
            }
        })
        .collect();
    let is_name = first.name.chars().all(|c| c.is_alphanumeric() || c == '_' || c == '.');
    let head = html! {
        @if let Some(label) = &first.label { (labels::opening(label)) " " }
        @if is_name { (mathml::symbol(&first.name)) } @else if first.label.is_none() { (first.name) }
    };
    let figures: Vec<(u64, Option<String>)> =
        row_of.iter().map(|value| (value.nominal.to_bits(), value.shown_range())).collect();
    row(words, &head, Differs::among(&figures), &cells)
}

fn requirements(context: &PageContext<'_>, set: &BuildSet, at: usize) -> Markup {
    let row_of: Vec<&Verdict> = set.builds.iter().filter_map(|build| build.keeps.get(at)).collect();
    let Some(first) = row_of.first() else { return html! {} };
    let words = context.words;
    let cells: Vec<Markup> = row_of
        .iter()
        .map(|verdict| html! { span.verdict { (icons::verdict(verdict.status)) " " (icons::word(words, verdict.status)) } })
        .collect();
    let statuses: Vec<_> = row_of.iter().map(|verdict| verdict.status).collect();
    let title = verdicts::title(context, first);
    row(words, &set!(words, BUILDS_REQUIREMENT, title = title), Differs::among(&statuses), &cells)
}

/// The parts that are not in all builds.
fn own_parts(words: Words<'_>, set: &BuildSet) -> Markup {
    let common = |part: &&Part| set.builds.iter().all(|build| build.parts.contains(part));
    let own =
        |build: &Build| -> Vec<String> { build.parts.iter().filter(|part| !common(part)).map(described).collect() };
    let all: Vec<Vec<String>> = set.builds.iter().map(own).collect();
    if all.iter().all(Vec::is_empty) {
        return html! {};
    }
    let cell = |parts: &Vec<String>| html! { @for (i, part) in parts.iter().enumerate() { @if i > 0 { br; } (part) } @if parts.is_empty() { (words.text(key::BUILDS_NONE)) } };
    row(words, &set!(words, BUILDS_OWN_PARTS), Differs::Yes, &all.iter().map(cell).collect::<Vec<_>>())
}

/// `timing resistor 910 kΩ ± 5 % (R1)`.
fn described(part: &Part) -> String {
    let called = part.label.as_deref().or(part.name.as_deref());
    let words = [called, part.value.as_deref()].into_iter().flatten().map(apostrophes);
    let mut text = words.collect::<Vec<_>>().join(" ");
    if !part.designators.is_empty() {
        let places = part.designators.join(", ");
        text = if text.is_empty() { places } else { format!("{text} ({places})") };
    }
    text
}

fn costs(words: Words<'_>, quantity: u64, builds: &[Vec<Amount>]) -> Markup {
    let cost = |amounts: &Vec<Amount>| html! { @if amounts.is_empty() { (words.text(key::BUILDS_NO_PRICE)) } @else { (sum(words, amounts)) } };
    let cells: Vec<Markup> = builds.iter().map(cost).collect();
    let head = set!(words, BUILDS_COST_OF, n = format::count(quantity));
    row(words, &head, Differs::among(builds), &cells)
}

/// Where the cheapest changes, in words; nothing where prices cannot be compared.
pub fn cheapest(words: Words<'_>, set: &BuildSet) -> Option<String> {
    let called = |at: usize| apostrophes(set.builds.get(at).map_or("", |build| build.name.as_str()));
    let most = format::count(MOST_COMPARED);
    let Some(first) = set.break_even.first() else {
        let costs: Vec<Amount> = set
            .builds
            .iter()
            .filter_map(|build| <[Amount; 1]>::try_from(total(&build.parts, 1)).ok())
            .map(|[one]| one)
            .collect();
        let comparable =
            costs.len() == set.builds.len() && costs.windows(2).all(|two| two[0].currency == two[1].currency);
        let least = costs.iter().map(|cost| cost.coins).min().filter(|_| comparable)?;
        let mut at_least = (0..costs.len()).filter(|at| costs[*at].coins == least);
        let name = called(at_least.next()?);
        return match at_least.next() {
            None => Some(say!(words, BUILDS_ALWAYS, name = name, most = most)),
            Some(_) => None,
        };
    };
    let mut clauses = vec![match first.quantity - 1 {
        1 => say!(words, BUILDS_FOR_ONE, name = called(first.below)),
        below => say!(words, BUILDS_UP_TO, n = format::count(below), name = called(first.below)),
    }];
    for BreakEven { from, quantity, .. } in set.break_even.iter().take(MOST_TOLD) {
        clauses.push(say!(words, BUILDS_FROM_ON, n = format::count(*quantity), name = called(*from)));
    }
    let clauses = clauses.join("; ");
    let text = match set.break_even.len().saturating_sub(MOST_TOLD) {
        0 => say!(words, BUILDS_LOOKED_AT, clauses = clauses, most = most),
        left => count!(words, BUILDS_CHANGES_MORE, left, clauses = clauses, n = left, most = most),
    };
    Some(text)
}

/// Cost against quantity, both by ratio.
fn plotted(words: Words<'_>, set: &BuildSet) -> Markup {
    let mut quantities: Vec<u64> = Vec::new();
    for decade in [1, 10, 100, 1000] {
        quantities.extend([1, 2, 3, 4, 5, 6, 8].map(|step| step * decade));
    }
    quantities.push(MOST_COMPARED);
    let mut currency = None;
    let curves: Vec<Curve> = set
        .builds
        .iter()
        .map(|build| {
            let point = |quantity: &u64| {
                let amount = <[Amount; 1]>::try_from(total(&build.parts, *quantity)).ok().map(|[one]| one)?;
                let one = *currency.get_or_insert(amount.currency) == amount.currency;
                let (x, y) = (*quantity as f64, amount.units());
                one.then_some(CurvePoint { x, y, low: y, high: y, inner: None })
            };
            Curve {
                label: say!(words, BUILDS_QUOTED, name = build.name),
                points: quantities.iter().filter_map(point).collect(),
                nominal: None,
            }
        })
        .collect();
    let unit = total(&set.builds[0].parts, 1).first().and_then(|amount| parse(amount.code()));
    let whole = curves.iter().all(|curve| curve.points.len() == quantities.len());
    let Some(unit) = unit.filter(|_| whole) else { return html! {} };
    let positive = curves.iter().flat_map(|curve| &curve.points).all(|point| point.y > 0.0);
    let axis =
        |quantity: &str, unit, scale| Axis { quantity: quantity.to_owned(), unit: DisplayUnit::declared(unit), scale };
    let scale = if positive { Scale::Logarithmic } else { Scale::Linear };
    let plot = PlotData {
        span: set.span,
        title: None,
        x: Some(axis(words.text(key::BUILDS_NUMBER), Unit::one(), Scale::Logarithmic)),
        y: Some(axis(words.text(key::BUILDS_COST), unit, scale)),
        curves,
        bounds: Vec::new(),
        spreads: Vec::new(),
        budgets: Vec::new(),
    };
    html! { figure.plot { (plot::curves_of(words, &plot)) } }
}

/// Changes of the cheapest that are listed one by one.
const MOST_TOLD: usize = 4;

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    fn page(builds: &str) -> String {
        let source = format!(
            "```parts\nR_t = 100 kΩ ± 1 %, 0.10 EUR \"timing resistor\" @R1\n\"timer\" 1.90 EUR @U1\n```\n```calc\n\
             t_on [s] = R_t * 100 µF\nkeep t_on below 11 s \"short enough\"\n```\n```builds\n{builds}\n```\n"
        );
        let evaluation = Evaluator::default().evaluate(&source);
        assert!(evaluation.problems.is_empty(), "{:?}", evaluation.problems);
        crate::render(&evaluation, &source, &crate::PageOptions::default()).body
    }

    #[test]
    fn builds_stand_side_by_side_with_their_differences_and_the_break_even() {
        let page = page(
            "build \"timer\"\nbuild \"controller\": R_t = 120 kΩ, without @U1, with \"chip\" 0.40 EUR @U1, with \"cable\" 30 EUR once\n\
             compare t_on, cost(100)",
        );
        for wanted in [
            "Requirement: short enough <small>differs</small>",
            "timer (U1)",
            "chip (U1)<br>cable",
            "timing resistor 120 kΩ ± 1 % (R1)",
            "2000.00\u{202f}EUR",
            "Up to 20 builds “timer” costs least; from 21 on, “controller”",
            "number of builds",
        ] {
            assert!(page.contains(wanted), "{wanted}: {page}");
        }
    }

    #[test]
    fn what_costs_least_throughout_is_said_and_equals_are_not_ranked() {
        let cheaper = page("build \"a\"\nbuild \"b\": without @U1\ncompare t_on");
        assert!(cheaper.contains("“b” costs least, from 1 to 10\u{202f}000 builds"), "{cheaper}");
        let equal = page("build \"a\"\nbuild \"b\": R_t = 120 kΩ\ncompare t_on");
        assert!(!equal.contains("costs least"), "{equal}");
    }
}
