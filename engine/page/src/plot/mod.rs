//! A plot as a figure: its title, then its curves on shared axes, its histograms and its tolerance budgets, one below the
//! other. Each drawing has a sentence that says what it shows, and its numbers as a table behind a disclosure; a budget is a
//! table already.

mod axis;
mod curves;
mod drawing;
mod histogram;
mod log;

use benchleaf_core::{
    results::{Axis, BenchLog, Budget, PlotData, Value},
    units::DisplayUnit,
};
use benchleaf_words::{Words, key, set};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    labels, mathml,
    shares::{self, Room},
    typography::apostrophes,
};

/// A plot block; empty where nothing could be drawn.
pub(crate) fn figure(context: &PageContext<'_>, number: usize, plot: &PlotData) -> Markup {
    let drawn = html! {
        (curves::part(context.words, plot))
        @for spread in &plot.spreads { (histogram::part(context, plot, spread)) }
        @for budget in &plot.budgets { (budget_part(context, budget)) }
    };
    html! {
        @if !drawn.0.is_empty() {
            figure.plot id={ "plot-" (number + 1) } data-plot=(number) {
                @if let Some(title) = &plot.title { figcaption { (apostrophes(title)) } }
                (drawn)
            }
        }
    }
}

/// Curves alone, on shared axes; empty where none could be drawn.
pub(crate) fn curves_of(words: Words<'_>, plot: &PlotData) -> Markup {
    curves::part(words, plot)
}

/// A log of readings over the days; empty where they are of one day.
pub(crate) fn log(words: Words<'_>, log: &BenchLog, value: &Value) -> Markup {
    log::draw(log, value, &log::sentence(words, log, value))
}

/// In the place of a plot of which something waits for a Rust block.
pub(crate) fn waiting(words: Words<'_>, number: usize) -> Markup {
    html! {
        figure.plot id={ "plot-" (number + 1) } data-plot=(number) data-waits {
            p.not-evaluated { (words.text(key::PLOT_WAITS)) }
        }
    }
}

fn budget_part(context: &PageContext<'_>, budget: &Budget) -> Markup {
    // A symbol reads better in a sentence than a label.
    let mut values = context.evaluation.values.iter();
    let named = values.find(|value| value.label.as_ref() == Some(&budget.quantity) && value.shares == budget.shares);
    let called = named.map_or(budget.quantity.as_str(), |value| &value.name);
    let label = context.label(called).filter(|_| called.contains('.'));
    let words = context.words;
    let caption = match label {
        Some(label) => set!(words, PLOT_BUDGET_LABELLED, label = labels::inside(label), name = quantity(called)),
        None => set!(words, PLOT_BUDGET, name = quantity(called)),
    };
    html! { div.budget { (shares::table(context, &budget.shares, Room::Column, &caption)) } }
}

/// A name as a formula, anything else as it is.
fn quantity(text: &str) -> Markup {
    if is_name(text) {
        mathml::symbol(text)
    } else {
        html! { (apostrophes(text)) }
    }
}

fn is_name(text: &str) -> bool {
    text.starts_with(char::is_alphabetic) && text.chars().all(|c| c.is_alphanumeric() || c == '_' || c == '.')
}

/// `quantity / unit`, as ISO 80000-1 heads columns and axes.
fn over(axis: &Axis) -> Markup {
    html! { (quantity(short(&axis.quantity))) @if let Some(unit) = axis::unit_text(&axis.unit) { " / " (unit) } }
}

/// The same as text of a drawing, a name with its subscript lowered.
fn axis_title(axis: &Axis) -> Markup {
    let unit = axis::unit_text(&axis.unit).map_or(String::new(), |unit| format!(" / {unit}"));
    let quantity = short(&axis.quantity);
    let class = |base: &str| if base.chars().count() == 1 { "letter" } else { "word" };
    match quantity.split_once('_').filter(|_| is_name(quantity)) {
        Some((base, subscript)) => html! {
            tspan class=(class(base)) { (base) }
            tspan.subscript dy="4" { (subscript) }
            tspan dy="-4" { (unit) }
        },
        None => html! { tspan class=(class(quantity)) { (apostrophes(quantity)) } (unit) },
    }
}

/// A quantity as an axis has room for it: a long label without how it was come by.
fn short(quantity: &str) -> &str {
    if quantity.chars().count() <= TITLE { quantity } else { labels::first_part(quantity) }
}

fn show(unit: &DisplayUnit, si: f64) -> String {
    unit.show(si, DIGITS)
}

const DIGITS: u8 = 3;
/// Most characters of an axis' title that are set whole.
const TITLE: usize = 32;
