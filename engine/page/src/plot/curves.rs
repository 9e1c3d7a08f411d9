//! Curves on shared axes: the legend, the drawing, a sentence that says what it shows, and its numbers.

use benchleaf_core::{
    results::{Axis, Curve, CurvePoint, PlotData},
    units::DisplayUnit,
};
use maud::{Markup, PreEscaped, html};

use super::{DIGITS, drawing, over, quantity, short, show};
use crate::{aligned, typography::apostrophes};

/// The curves of a plot; empty where none could be drawn.
pub(super) fn part(plot: &PlotData) -> Markup {
    let (Some(x), Some(y)) = (&plot.x, &plot.y) else { return html! {} };
    let Some(drawing) = drawing::draw(plot, x, y, &sentence(plot, x, y)) else { return html! {} };
    html! {
        (legend(&plot.curves))
        div.scroll { (PreEscaped(drawing)) }
        details.numbers {
            summary { "The numbers of this plot" }
            div.tables { @for curve in &plot.curves { (table(curve, x, y)) } }
        }
    }
}

/// What each kind of line and band stands for.
fn legend(curves: &[Curve]) -> Markup {
    let varies = curves.iter().any(varies);
    let simulated = curves.iter().any(simulated);
    html! {
        @if curves.len() > 1 || varies {
            ul.legend {
                @for (index, curve) in curves.iter().enumerate() {
                    li {
                        (key(&html! { path d="M1 5H31" fill="none" stroke=(drawing::curve_colour(index)) stroke-width="2" {} }))
                        " " (quantity(&curve.label)) @if varies { ", nominal" }
                    }
                }
                @if simulated { li { (band_key(drawing::Band::Likely)) " 95\u{202f}% of builds" } }
                @if varies { li { (band_key(drawing::Band::Worst)) " worst case" } }
            }
        }
    }
}

fn key(inside: &Markup) -> Markup {
    html! { svg.key viewBox="0 0 32 10" aria-hidden="true" focusable="false" { (inside) } }
}

/// A patch of the first curve's band: its tint, and its hatching for paper.
fn band_key(band: drawing::Band) -> Markup {
    let strokes: String =
        (0..=(28 / band.key_pitch())).map(|i| format!("M{} 0V10", 2 + i * band.key_pitch())).collect();
    key(&html! {
        rect width="32" height="10" fill=(drawing::tint(band)) {}
        path d=(strokes) fill="none" stroke=(drawing::hatch_colour()) {}
    })
}

fn varies(curve: &Curve) -> bool {
    curve.points.iter().any(|point| point.low < point.high)
}

fn simulated(curve: &Curve) -> bool {
    curve.points.iter().any(|point| point.inner.is_some_and(|(low, high)| low < high))
}

/// The curves in a sentence or two.
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
            short(&x.quantity),
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
    if plot.curves.iter().any(varies) {
        text.push_str("The band shows the worst case over all other tolerances");
        text.push_str(if plot.curves.iter().any(simulated) { "; inside it, 95 % of builds. " } else { ". " });
    }
    for bound in &plot.bounds {
        let label = bound.label.as_ref().map_or(String::new(), |label| format!(" ({label})"));
        text.push_str(&format!("A line marks {}{label}. ", show(&y.unit, bound.value)));
    }
    apostrophes(text.trim_end())
}

/// Some of a curve's points, evenly picked.
fn table(curve: &Curve, x: &Axis, y: &Axis) -> Markup {
    let last = curve.points.len().saturating_sub(1);
    let rows = last.min(ROWS);
    let picked: Vec<&CurvePoint> =
        (0..=rows).filter_map(|row| curve.points.get((row * last).checked_div(rows).unwrap_or(0))).collect();
    let column = |head: Markup, unit: &DisplayUnit, of: fn(&CurvePoint) -> f64| {
        let numbers: Vec<String> = picked.iter().map(|point| unit.number(of(point), DIGITS)).collect();
        let width = aligned::whole_width(numbers.iter().map(String::as_str));
        (head, numbers, width)
    };
    let word = |text: &str| html! { (text) };
    let mut columns = vec![column(over(x), &x.unit, |point| point.x), column(over(y), &y.unit, |point| point.y)];
    if varies(curve) {
        columns.push(column(word("at least"), &y.unit, |point| point.low));
    }
    if simulated(curve) {
        columns.push(column(word("95\u{202f}% from"), &y.unit, |point| point.inner.map_or(point.y, |inner| inner.0)));
        columns.push(column(word("to"), &y.unit, |point| point.inner.map_or(point.y, |inner| inner.1)));
    }
    if varies(curve) {
        columns.push(column(word("at most"), &y.unit, |point| point.high));
    }
    html! {
        div.scroll {
            table.figures {
                caption { (quantity(&curve.label)) }
                thead { tr { @for (head, _, _) in &columns { th scope="col" { (head) } } } }
                tbody {
                    @for row in 0..picked.len() {
                        tr {
                            @for (_, numbers, width) in &columns {
                                td { @if let Some(number) = numbers.get(row) { (aligned::aligned(number, "", *width)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Intervals between the rows of the table.
const ROWS: usize = 20;
