//! How often each value comes up over all builds: a histogram that stands on the range bar of its quantity, so that thin
//! line, thick line and tick mean what they mean everywhere; the mean and the bounds are upright lines.

use std::fmt::Write;

use benchleaf_core::{
    results::{PlotData, Shown, SpreadPlot},
    sheet::Scale,
};
use benchleaf_words::{Words, key as word, say};
use maud::{Markup, html};

use super::{DIGITS, axis::Ruler, axis_title, over, short};
use crate::{
    aligned,
    context::PageContext,
    format::{self, RANGE_DIGITS, count},
    typography::{apostrophes, held_together},
};

/// A histogram with its legend and numbers; empty where there is no room to draw it in.
pub(super) fn part(context: &PageContext<'_>, plot: &PlotData, spread: &SpreadPlot) -> Markup {
    let worst = worst(context, spread);
    let Some(frame) = Frame::of(plot, spread, worst) else { return html! {} };
    let words = context.words;
    let figures = Figures::of(words, spread, worst);
    html! {
        ul.legend {
            li { (key("nominal")) " " (say!(words, PLOT_HISTOGRAM_NOMINAL, value = figures.nominal)) }
            @if let Some(mean) = &figures.mean { li { (key("mean")) " " (say!(words, PLOT_HISTOGRAM_MEAN, value = mean)) } }
            li { (key("likely")) " " (say!(words, VARIES_LIKELY, interval = figures.interval)) }
            @if let Some(worst) = &figures.worst { li { (key("worst")) " " (say!(words, PLOT_HISTOGRAM_WORST, range = worst)) } }
        }
        div.scroll { (frame.draw(words, &figures.sentence(words, spread, &frame))) }
        details.numbers {
            summary { (words.text(word::PLOT_HISTOGRAM_NUMBERS)) }
            (table(words, spread))
        }
    }
}

/// What is marked, in words.
struct Figures {
    nominal: String,
    mean: Option<String>,
    interval: String,
    worst: Option<String>,
}

impl Figures {
    fn of(words: Words<'_>, spread: &SpreadPlot, worst: Option<(f64, f64)>) -> Self {
        let unit = &spread.axis.unit;
        let range = |ends: (f64, f64)| held_together(&format::range(words, unit, ends, DIGITS));
        let one = |si: f64| held_together(&unit.show(si, DIGITS));
        Self {
            nominal: one(spread.nominal),
            mean: spread.spread.mean.map(one),
            interval: range(spread.spread.interval.ends()),
            worst: worst.map(range),
        }
    }

    fn sentence(&self, words: Words<'_>, spread: &SpreadPlot, frame: &Frame<'_>) -> String {
        let (name, n) = (short(&spread.axis.quantity), count(spread.counts.iter().sum()));
        let nominal = &self.nominal;
        let (low, high) = spread.spread.interval.ends();
        let interval = match low.is_finite() && high.is_finite() {
            true => {
                let unit = spread.axis.unit.for_range(low, high);
                let digits = DIGITS.max(RANGE_DIGITS);
                let (low, high) = (unit.number(low, digits), unit.show(high, digits));
                say!(words, PLOT_BETWEEN, low = held_together(&low), high = held_together(&high))
            }
            false => self.interval.clone(),
        };
        let middle = match &self.mean {
            Some(mean) => say!(words, PLOT_NOMINAL_AND_MEAN, nominal = nominal, mean = mean),
            None => say!(words, PLOT_NOMINAL_ALONE, nominal = nominal),
        };
        let mut said = vec![
            say!(words, PLOT_HOW_OFTEN, name = name, n = n),
            match (spread.spread.interval.shown, &self.worst) {
                (Shown::Shortest, None) => say!(words, PLOT_SHORTEST, middle = middle, interval = interval),
                (Shown::Symmetric, None) => say!(words, PLOT_SYMMETRIC, middle = middle, interval = interval),
                (Shown::Shortest, Some(worst)) => {
                    say!(words, PLOT_SHORTEST_WORST, middle = middle, interval = interval, worst = worst)
                }
                (Shown::Symmetric, Some(worst)) => {
                    say!(words, PLOT_SYMMETRIC_WORST, middle = middle, interval = interval, worst = worst)
                }
            },
        ];
        for (at, label) in &frame.bounds {
            let value = spread.axis.unit.join(number(*at));
            said.push(match label {
                Some(label) => say!(words, PLOT_LINE_LABELLED, value = value, label = label),
                None => say!(words, PLOT_LINE, value = value),
            });
        }
        said.join(" ")
    }
}

/// The worst case of what is spread, where it is a value of the worksheet.
fn worst(context: &PageContext<'_>, spread: &SpreadPlot) -> Option<(f64, f64)> {
    let called = &spread.axis.quantity;
    let values = &context.evaluation.values;
    let same = values.iter().find(|value| {
        (value.label.as_ref() == Some(called) || value.name == *called) && value.nominal == spread.nominal
    });
    let worst = same?.worst.as_ref()?;
    Some((worst.low, worst.high))
}

/// Where everything stands, in the numbers of the axis.
struct Frame<'a> {
    spread: &'a SpreadPlot,
    x: Ruler,
    y: Ruler,
    worst: Option<(f64, f64)>,
    bounds: Vec<(f64, Option<&'a str>)>,
    /// The bounds' labels: place, row, text.
    labels: Vec<Label<'a>>,
    top: f64,
}

struct Label<'a> {
    at: f64,
    row: usize,
    anchor: &'static str,
    text: &'a str,
}

impl<'a> Frame<'a> {
    fn of(plot: &'a PlotData, spread: &'a SpreadPlot, worst: Option<(f64, f64)>) -> Option<Self> {
        let unit = &spread.axis.unit.unit;
        let bounds = if bounds_apply(plot, spread) { plot.bounds.as_slice() } else { &[] };
        let bounds: Vec<(f64, Option<&str>)> =
            bounds.iter().map(|bound| (unit.of_si(bound.value), bound.label.as_deref())).collect();
        let (low, high) = (unit.of_si(spread.low), unit.of_si(spread.high));
        let worst = worst.map(|(low, high)| (unit.of_si(low), unit.of_si(high)));
        // What is not far outside is brought into view.
        let reach = REACH * (high - low);
        let marked = worst.into_iter().flat_map(|(low, high)| [low, high]).chain(bounds.iter().map(|bound| bound.0));
        let near = marked.chain([unit.of_si(spread.nominal)]).filter(|at| *at > low - reach && *at < high + reach);
        let (from, to) = near.fold((low, high), |(from, to), at| (from.min(at), to.max(at)));
        let room = ROOM * (to - from);
        let x = Ruler::exact(from - room, to + room, Scale::Linear)?;
        let total = spread.counts.iter().sum::<u64>();
        let most = *spread.counts.iter().max()?;
        if total == 0 || spread.counts.is_empty() {
            return None;
        }
        let y = Ruler::rounded(0.0, 100.0 * most as f64 / total as f64, Scale::Linear)?;
        let mut frame = Self { spread, x, y, worst, bounds, labels: Vec::new(), top: FIRST_ROW };
        frame.labels = frame.placed();
        let rows = frame.labels.iter().map(|label| label.row + 1).max().unwrap_or(1);
        frame.top = FIRST_ROW + ROW * rows as f64;
        Some(frame)
    }

    fn across(&self, at: f64) -> f64 {
        LEFT + ((at - self.x.low) / (self.x.high - self.x.low)).clamp(0.0, 1.0) * (RIGHT - LEFT)
    }

    fn up(&self, per_cent: f64) -> f64 {
        BASE - (per_cent / self.y.high).clamp(0.0, 1.0) * (BASE - self.top)
    }

    fn inside(&self, at: f64) -> bool {
        at >= self.x.low && at <= self.x.high
    }

    /// The bounds' labels over the drawing, each in the first row where it touches no other. The first row begins with the
    /// title of the upright axis.
    fn placed(&self) -> Vec<Label<'a>> {
        let mut rows: Vec<f64> = vec![TITLE];
        let mut labels = Vec::new();
        let mut bounds: Vec<_> = self.bounds.iter().filter(|bound| self.inside(bound.0)).collect();
        bounds.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (at, text) in bounds {
            let Some(text) = text.filter(|text| !text.is_empty()) else { continue };
            let (at, width) = (self.across(*at), text.chars().count() as f64 * FIGURE);
            let (anchor, from) = if at + width < RIGHT { ("start", at) } else { ("end", at - width) };
            let row = rows.iter().position(|taken| from > taken + 8.0).unwrap_or(rows.len());
            if row == rows.len() {
                rows.push(0.0);
            }
            rows[row] = from + width;
            labels.push(Label { at, row, anchor, text });
        }
        labels
    }

    fn draw(&self, words: Words<'_>, sentence: &str) -> Markup {
        let unit = &self.spread.axis.unit.unit;
        let (likely_low, likely_high) = self.spread.spread.interval.ends();
        let likely = (unit.of_si(likely_low), unit.of_si(likely_high));
        let upright = |at: f64, top: f64| format!("M{:.1} {top:.1}V{}", self.across(at), BASE + SIGN + 7.0);
        html! {
            svg.drawing.histogram role="img" viewBox=(format!("0 0 {WIDTH} {HEIGHT}")) {
                title { (sentence) }
                path.grid d=(self.grid()) {}
                path.bins d=(self.outline(f64::NEG_INFINITY, f64::INFINITY)) {}
                path.within d=(self.outline(likely.0, likely.1)) {}
                path.hatching d=(self.hatching(likely)) {}
                @if let Some(mean) = self.spread.spread.mean {
                    path.mean d=(format!("M{:.1} {:.1}V{BASE}", self.across(unit.of_si(mean)), self.top)) {}
                }
                @for (at, _) in self.bounds.iter().filter(|bound| self.inside(bound.0)) {
                    @let row = self.labels.iter().find(|label| label.at == self.across(*at)).map_or(self.top, |label| row_top(label.row));
                    path.bound-line d=(upright(*at, row)) {}
                }
                path.axis d=(format!("M{LEFT} {0}H{RIGHT}", BASE + SIGN)) {}
                path.worst d=(self.worst_line()) {}
                path.likely d=(format!("M{:.1} {}H{:.1}", self.across(likely.0), BASE + SIGN, self.across(likely.1))) {}
                @if self.inside(unit.of_si(self.spread.nominal)) {
                    path.nominal d=(upright(unit.of_si(self.spread.nominal), self.top)) {}
                }
                @for (at, text) in &self.x.ticks {
                    text.tick x=(format!("{:.1}", self.across(*at))) y=(BASE + 34.0) text-anchor="middle" { (text) }
                }
                @for (at, text) in &self.y.ticks {
                    text.tick x=(LEFT - 7.0) y=(format!("{:.1}", self.up(*at) + 4.5)) text-anchor="end" { (text) }
                }
                text.axis-title x=(RIGHT) y=(BASE + 56.0) text-anchor="end" { (axis_title(&self.spread.axis)) }
                text.axis-title x="2" y="16" { (words.text(word::PLOT_BUILDS_AXIS)) }
                @for label in &self.labels {
                    @let aside = if label.anchor == "start" { 5.0 } else { -5.0 };
                    text.bound x=(format!("{:.1}", label.at + aside)) y=(row_top(label.row) + 12.0) text-anchor=(label.anchor) { (apostrophes(label.text)) }
                }
            }
        }
    }

    fn grid(&self) -> String {
        self.y.ticks.iter().map(|(at, _)| format!("M{LEFT} {:.1}H{RIGHT}", self.up(*at))).collect()
    }

    /// Each bin's ends and height in drawing numbers, cut to a part of the axis.
    fn bins(&self, from: f64, to: f64) -> impl Iterator<Item = (f64, f64, f64)> {
        let unit = &self.spread.axis.unit.unit;
        let (low, high) = (unit.of_si(self.spread.low), unit.of_si(self.spread.high));
        let width = (high - low) / self.spread.counts.len() as f64;
        let total = self.spread.counts.iter().sum::<u64>() as f64;
        self.spread.counts.iter().enumerate().filter_map(move |(i, counted)| {
            let left = (low + width * i as f64).max(from);
            let right = (low + width * (i + 1) as f64).min(to);
            (left < right).then(|| (self.across(left), self.across(right), self.up(100.0 * *counted as f64 / total)))
        })
    }

    fn outline(&self, from: f64, to: f64) -> String {
        let mut path = String::new();
        let mut end = None;
        for (left, right, top) in self.bins(from, to) {
            // Writing to a String cannot fail.
            if end.is_none() {
                let _ = write!(path, "M{left:.1} {BASE}");
            }
            let _ = write!(path, "V{top:.1}H{right:.1}");
            end = Some(right);
        }
        if end.is_some() {
            let _ = write!(path, "V{BASE}Z");
        }
        path
    }

    /// Upright strokes through the bins of the interval, for paper.
    fn hatching(&self, (from, to): (f64, f64)) -> String {
        let mut path = String::new();
        let mut next = self.across(from) + HATCH;
        for (_, right, top) in self.bins(from, to) {
            while next < right {
                // Writing to a String cannot fail.
                let _ = write!(path, "M{next:.1} {BASE}V{top:.1}");
                next += HATCH;
            }
        }
        path
    }

    /// The worst case along the axis, with a stop at each end that is in view.
    fn worst_line(&self) -> String {
        let Some((low, high)) = self.worst else { return String::new() };
        let middle = BASE + SIGN;
        let mut path = format!("M{:.1} {middle}H{:.1}", self.across(low), self.across(high));
        for end in [low, high].into_iter().filter(|end| self.inside(*end)) {
            // Writing to a String cannot fail.
            let _ = write!(path, "M{:.1} {}V{}", self.across(end), middle - 5.0, middle + 5.0);
        }
        path
    }
}

/// Bounds are of the quantity of the first thing that stands in the plot.
fn bounds_apply(plot: &PlotData, spread: &SpreadPlot) -> bool {
    let first = plot.y.as_ref().or(plot.spreads.first().map(|first| &first.axis));
    first.is_some_and(|axis| axis.unit.unit.quantity.dimension == spread.axis.unit.unit.quantity.dimension)
}

fn row_top(row: usize) -> f64 {
    4.0 + ROW * row as f64
}

fn key(class: &str) -> Markup {
    html! {
        @match class {
            "nominal" | "mean" => svg.key.upright.histogram viewBox="0 0 8 10" aria-hidden="true" focusable="false" {
                path class=(class) d="M4 0V10" {}
            },
            _ => svg.key.histogram viewBox="0 0 32 10" aria-hidden="true" focusable="false" { path class=(class) d="M1 5H31" {} },
        }
    }
}

/// Some twenty rows, however fine the bins are.
fn table(words: Words<'_>, spread: &SpreadPlot) -> Markup {
    let unit = &spread.axis.unit;
    let total = spread.counts.iter().sum::<u64>().max(1);
    let at_once = spread.counts.len().div_ceil(ROWS).max(1);
    let width = (spread.high - spread.low) / spread.counts.len().max(1) as f64;
    let ends = |bin: usize| unit.number(spread.low + width * bin as f64, DIGITS);
    let rows: Vec<(String, String, u64)> = spread
        .counts
        .chunks(at_once)
        .enumerate()
        .map(|(i, counts)| (ends(i * at_once), ends(i * at_once + counts.len()), counts.iter().sum()))
        .collect();
    let whole = aligned::whole_width(rows.iter().flat_map(|(from, to, _)| [from.as_str(), to]));
    html! {
        div.scroll {
            table.figures {
                caption { (over(&spread.axis)) }
                thead { tr {
                    th scope="col" { (words.text(word::PLOT_HISTOGRAM_FROM)) }
                    th scope="col" { (words.text(word::PLOT_TO)) }
                    th.right scope="col" { (words.text(word::PLOT_BUILDS)) }
                    th.right scope="col" { (words.text(word::PLOT_SHARE)) }
                } }
                tbody {
                    @for (from, to, counted) in &rows {
                        tr {
                            td { (aligned::aligned(from, "", whole)) }
                            td { (aligned::aligned(to, "", whole)) }
                            td.right { (count(*counted)) }
                            td.right { (format::percent(*counted as f64 / total as f64)) }
                        }
                    }
                }
            }
        }
    }
}

fn number(at: f64) -> String {
    benchleaf_core::units::number(at, DIGITS)
}

const WIDTH: f64 = 600.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 578.0;
/// Where the bins stand, and how far below the range bar lies.
const BASE: f64 = 240.0;
const SIGN: f64 = 8.0;
const FIRST_ROW: f64 = 8.0;
const ROW: f64 = 20.0;
/// The upright axis' title ends here.
const TITLE: f64 = 100.0;
const FIGURE: f64 = 9.0;
const HATCH: f64 = 5.0;
/// Bounds and extremes this far outside, as part of the histogram's width, are still brought into view.
const REACH: f64 = 0.6;
const ROOM: f64 = 0.02;
/// Most rows of the table.
const ROWS: usize = 20;

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use super::*;
    use crate::sample::context_of;

    fn set(lines: &str) -> String {
        let source = format!(
            "```calc\nR = 10 kΩ ± 5 %\nC = 1 mF -20 % +50 %\nt = R * C \"time, all reported\"\n```\n\n```plot\n{lines}\n```\n"
        );
        let evaluation = Evaluator::default().evaluate(&source);
        let context = context_of(&evaluation, &source);
        let plot = evaluation.plots.first().unwrap();
        plot.spreads.iter().map(|spread| part(&context, plot, spread).into_string()).collect()
    }

    #[test]
    fn a_histogram_stands_on_its_range_bar() {
        let html = set("spread of t\nbound 12 s \"a < b\"\nbound 12.1 s \"close by\"");
        for part in [
            "nominal 10.0\u{202f}s",
            "95\u{202f}% of builds: 8.",
            "worst case: 7.60 to 15.8\u{202f}s",
            "in 10\u{202f}000 simulated builds",
            "symmetric interval",
            "a &lt; b",
            "A line marks 12.1 s (close by).",
            "time",
        ] {
            assert!(html.contains(part), "{part}: {html}");
        }
        assert!(!html.contains("NaN") && !html.contains("inf\"") && !html.contains("style="), "{html}");
        assert!(!html.contains(", with every"), "a title is short: {html}");
    }

    #[test]
    fn labels_that_would_touch_take_another_row() {
        let html = set("spread of t\nbound 12 s \"one label\"\nbound 12.1 s \"another label\"");
        let rows: Vec<&str> =
            html.split("class=\"bound\"").skip(1).map(|rest| rest.split("y=\"").nth(1).unwrap()).collect();
        assert_eq!(rows.len(), 2);
        assert_ne!(rows[0].split('"').next(), rows[1].split('"').next());
    }

    #[test]
    fn a_far_bound_does_not_squeeze_the_histogram() {
        assert!(!set("spread of t\nbound 500 s \"far\"").contains("class=\"bound\""));
    }
}
