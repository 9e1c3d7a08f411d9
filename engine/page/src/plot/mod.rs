//! A plot as a figure: its title and legend, the drawing, a sentence that says what it shows, and its numbers as a table
//! behind a disclosure.

mod axis;
mod drawing;

use benchleaf_core::{
    results::{Axis, Curve, CurvePoint, PlotData},
    units::DisplayUnit,
};
use maud::{Markup, PreEscaped, html};

use crate::{figures, mathml};

/// A plot block; empty where no curve could be drawn.
pub(crate) fn figure(number: usize, plot: &PlotData) -> Markup {
    let (Some(x), Some(y)) = (&plot.x, &plot.y) else { return html! {} };
    let Some(drawing) = drawing::draw(plot, x, y, &sentence(plot, x, y)) else { return html! {} };
    html! {
        figure.plot id={ "plot-" (number + 1) } data-plot=(number) {
            @if let Some(title) = &plot.title { figcaption { (title) } }
            @if plot.curves.len() > 1 { (legend(&plot.curves)) }
            div.scroll { (PreEscaped(drawing)) }
            details.numbers {
                summary { "The numbers of this plot" }
                div.tables { @for curve in &plot.curves { (table(curve, x, y)) } }
            }
        }
    }
}

/// A line of each curve's kind beside its name.
fn legend(curves: &[Curve]) -> Markup {
    html! {
        ul.legend {
            @for (index, curve) in curves.iter().enumerate() {
                li {
                    svg.key viewBox="0 0 32 10" aria-hidden="true" focusable="false" {
                        path d="M1 5H31" fill="none" stroke=(drawing::curve_colour(index)) stroke-width="2" {}
                    }
                    " " (quantity(&curve.label))
                }
            }
        }
    }
}

/// A name as a formula, anything else as it is.
fn quantity(text: &str) -> Markup {
    if is_name(text) {
        mathml::inline(&mathml::name(text))
    } else {
        html! { (text) }
    }
}

fn is_name(text: &str) -> bool {
    text.starts_with(char::is_alphabetic) && text.chars().all(|c| c.is_alphanumeric() || c == '_' || c == '.')
}

/// The plot in a sentence or two.
fn sentence(plot: &PlotData, x: &Axis, y: &Axis) -> String {
    let mut text = String::new();
    for curve in &plot.curves {
        let defined: Vec<&CurvePoint> = curve.points.iter().filter(|point| point.y.is_finite()).collect();
        let (Some(first), Some(last)) = (defined.first(), defined.last()) else { continue };
        let (from, to) = (first.y, last.y);
        let steady = (to - from).abs() <= 1e-9 * to.abs().max(from.abs());
        let course = if steady {
            "stays at"
        } else if to > from {
            "rises from"
        } else {
            "falls from"
        };
        text.push_str(&format!(
            "{} against {}: between {} and {} it {course} {}",
            curve.label,
            x.quantity,
            show(&x.unit, first.x),
            show(&x.unit, last.x),
            show(&y.unit, from),
        ));
        if !steady {
            text.push_str(&format!(" to {}", show(&y.unit, to)));
        }
        if let Some((at, nominal)) = curve.nominal {
            text.push_str(&format!("; the build stands at {}, {}", show(&x.unit, at), show(&y.unit, nominal)));
        }
        text.push_str(". ");
    }
    if plot.curves.iter().flat_map(|curve| &curve.points).any(|point| point.low < point.high) {
        text.push_str("The band shows the worst case over all other tolerances. ");
    }
    for bound in &plot.bounds {
        let label = bound.label.as_ref().map_or(String::new(), |label| format!(" ({label})"));
        text.push_str(&format!("A line marks {}{label}. ", show(&y.unit, bound.value)));
    }
    text.trim_end().to_owned()
}

fn show(unit: &DisplayUnit, si: f64) -> String {
    unit.show(si, DIGITS)
}

/// Some of a curve's points, evenly picked.
fn table(curve: &Curve, x: &Axis, y: &Axis) -> Markup {
    let last = curve.points.len().saturating_sub(1);
    let rows = last.min(ROWS);
    let picked: Vec<&CurvePoint> =
        (0..=rows).filter_map(|row| curve.points.get((row * last).checked_div(rows).unwrap_or(0))).collect();
    let varies = curve.points.iter().any(|point| point.low < point.high);
    let column = |unit: &DisplayUnit, of: fn(&CurvePoint) -> f64| -> (Vec<String>, usize) {
        let numbers: Vec<String> = picked.iter().map(|point| unit.number(of(point), DIGITS)).collect();
        let width = figures::whole_width(numbers.iter().map(String::as_str));
        (numbers, width)
    };
    let mut columns = vec![column(&x.unit, |point| point.x), column(&y.unit, |point| point.y)];
    if varies {
        columns.push(column(&y.unit, |point| point.low));
        columns.push(column(&y.unit, |point| point.high));
    }
    html! {
        div.scroll {
            table.figures {
                caption { (quantity(&curve.label)) }
                thead { tr {
                    th scope="col" { (over(&x.quantity, &x.unit)) }
                    th scope="col" { (over(&y.quantity, &y.unit)) }
                    @if varies {
                        th scope="col" { "at least" }
                        th scope="col" { "at most" }
                    }
                } }
                tbody {
                    @for row in 0..picked.len() {
                        tr {
                            @for (numbers, width) in &columns {
                                td { @if let Some(number) = numbers.get(row) { (figures::aligned(number, "", *width)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// `quantity / unit`, as ISO 80000-1 heads columns and axes.
fn over(name: &str, unit: &DisplayUnit) -> Markup {
    html! { (quantity(name)) @if let Some(unit) = axis::unit_text(unit) { " / " (unit) } }
}

const DIGITS: u8 = 3;
/// Intervals between the rows of the table.
const ROWS: usize = 20;
