//! Curves on shared axes: the legend, the drawing, a sentence that says what it shows, and its numbers.

use benchleaf_core::{
    results::{Axis, Curve, CurvePoint, PlotData},
    units::DisplayUnit,
};
use benchleaf_words::{Words, key as word, say, set};
use maud::{Markup, PreEscaped, html};

use super::{DIGITS, drawing, over, quantity, short, show};
use crate::{aligned, typography::apostrophes};

/// The curves of a plot; empty where none could be drawn.
pub(super) fn part(words: Words<'_>, plot: &PlotData) -> Markup {
    let (Some(x), Some(y)) = (&plot.x, &plot.y) else { return html! {} };
    let Some(drawing) = drawing::draw(plot, x, y, &sentence(words, plot, x, y)) else { return html! {} };
    html! {
        (legend(words, &plot.curves))
        div.scroll { (PreEscaped(drawing)) }
        details.numbers {
            summary { (words.text(word::PLOT_NUMBERS)) }
            div.tables { @for curve in &plot.curves { (table(words, curve, x, y)) } }
        }
    }
}

/// What each kind of line and band stands for.
fn legend(words: Words<'_>, curves: &[Curve]) -> Markup {
    let varies = curves.iter().any(varies);
    let simulated = curves.iter().any(simulated);
    html! {
        @if curves.len() > 1 || varies {
            ul.legend {
                @for (index, curve) in curves.iter().enumerate() {
                    li {
                        (key(&html! { path d="M1 5H31" fill="none" stroke=(drawing::curve_colour(index)) stroke-width="2" {} }))
                        " " @if varies { (set!(words, PLOT_NOMINAL, name = quantity(&curve.label))) } @else { (quantity(&curve.label)) }
                    }
                }
                @if simulated { li { (band_key(drawing::Band::Likely)) " " (words.text(word::PLOT_LIKELY)) } }
                @if varies { li { (band_key(drawing::Band::Worst)) " " (words.text(word::VARIES_WORST_CASE)) } }
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
fn sentence(words: Words<'_>, plot: &PlotData, x: &Axis, y: &Axis) -> String {
    let mut said: Vec<String> = Vec::new();
    for curve in &plot.curves {
        let defined: Vec<&CurvePoint> = curve.points.iter().filter(|point| point.y.is_finite()).collect();
        let (Some(first), Some(last)) = (defined.first(), defined.last()) else { continue };
        let (name, against) = (&curve.label, short(&x.quantity));
        let (low, high) = (show(&x.unit, first.x), show(&x.unit, last.x));
        let (from, to) = (show(&y.unit, first.y), show(&y.unit, last.y));
        let is_steady = (last.y - first.y).abs() <= 1e-9 * last.y.abs().max(first.y.abs());
        let course = if is_steady {
            say!(words, PLOT_STAYS, name = name, against = against, low = low, high = high, from = from)
        } else if last.y > first.y {
            say!(words, PLOT_RISES, name = name, against = against, low = low, high = high, from = from, to = to)
        } else {
            say!(words, PLOT_FALLS, name = name, against = against, low = low, high = high, from = from, to = to)
        };
        said.push(match curve.nominal {
            Some((at, nominal)) => {
                let (at, value) = (show(&x.unit, at), show(&y.unit, nominal));
                say!(words, PLOT_STANDS_AT, course = course.trim_end_matches('.'), at = at, value = value)
            }
            None => course,
        });
    }
    if plot.curves.iter().any(varies) {
        let likely = plot.curves.iter().any(simulated);
        said.push(words.text(if likely { word::PLOT_BANDS } else { word::PLOT_BAND }).to_owned());
    }
    for bound in &plot.bounds {
        let value = show(&y.unit, bound.value);
        said.push(match &bound.label {
            Some(label) => say!(words, PLOT_LINE_LABELLED, value = value, label = label),
            None => say!(words, PLOT_LINE, value = value),
        });
    }
    apostrophes(&said.join(" "))
}

/// Some of a curve's points, evenly picked.
fn table(words: Words<'_>, curve: &Curve, x: &Axis, y: &Axis) -> Markup {
    let last = curve.points.len().saturating_sub(1);
    let rows = last.min(ROWS);
    let picked: Vec<&CurvePoint> =
        (0..=rows).filter_map(|row| curve.points.get((row * last).checked_div(rows).unwrap_or(0))).collect();
    let column = |head: Markup, unit: &DisplayUnit, of: fn(&CurvePoint) -> f64| {
        let numbers: Vec<String> = picked.iter().map(|point| unit.number(of(point), DIGITS)).collect();
        let width = aligned::whole_width(numbers.iter().map(String::as_str));
        (head, numbers, width)
    };
    let head = |text| html! { (words.text(text)) };
    let mut columns = vec![column(over(x), &x.unit, |point| point.x), column(over(y), &y.unit, |point| point.y)];
    if varies(curve) {
        columns.push(column(head(word::PLOT_AT_LEAST), &y.unit, |point| point.low));
    }
    if simulated(curve) {
        columns.push(column(head(word::PLOT_FROM), &y.unit, |point| point.inner.map_or(point.y, |inner| inner.0)));
        columns.push(column(head(word::PLOT_TO), &y.unit, |point| point.inner.map_or(point.y, |inner| inner.1)));
    }
    if varies(curve) {
        columns.push(column(head(word::PLOT_AT_MOST), &y.unit, |point| point.high));
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
