//! A log of readings over the days: each reading as a dot, each day's mean with its 95 % interval, over the band that was
//! predicted. Set by hand: days are no numbers of a unit, and there is one band.

use benchleaf_core::{
    results::{Axis, BenchLog, Value},
    sheet::Scale,
};
use benchleaf_words::{Words, say};
use maud::{Markup, html};

use super::{axis::Ruler, axis_title, drawing, drawing::Band};
use crate::format::{self, RANGE_DIGITS, range_in};

/// The drawing; empty where all readings are of one day, or no band can be drawn around them.
pub(crate) fn draw(log: &BenchLog, value: &Value, sentence: &str) -> Markup {
    let (Some(first), Some(last)) = (log.days.first(), log.days.last()) else { return html! {} };
    let (from, to) = (first.day.number() as f64, last.day.number() as f64);
    let unit = &value.unit.unit;
    let readings: Vec<(f64, f64)> = log
        .rows
        .iter()
        .filter_map(|row| Some((row.day?.number() as f64, unit.of_si(*row.reading.as_ref().ok()?))))
        .collect();
    let finite = |ends: (f64, f64)| {
        let ends = (unit.of_si(ends.0), unit.of_si(ends.1));
        (ends.0.is_finite() && ends.1.is_finite()).then_some(ends)
    };
    let worst = value.worst.as_ref().and_then(|worst| finite((worst.low, worst.high)));
    let likely = log.prediction.interval.and_then(finite);
    let bands: Vec<(Band, (f64, f64))> = [(Band::Worst, worst), (Band::Likely, likely)]
        .into_iter()
        .filter_map(|(band, ends)| Some((band, ends?)))
        .collect();
    let means: Vec<(f64, f64, f64)> = log
        .days
        .iter()
        .map(|day| (day.day.number() as f64, unit.of_si(day.mean), day.student * day.u.unwrap_or(0.0) / unit.factor))
        .collect();
    let heights = readings.iter().map(|reading| reading.1);
    let heights = heights.chain(bands.iter().flat_map(|(_, ends)| [ends.0, ends.1]));
    let heights = heights.chain(means.iter().flat_map(|(_, mean, u)| [mean - u, mean + u]));
    let extent =
        heights.filter(|y| y.is_finite()).fold((f64::INFINITY, f64::NEG_INFINITY), |e, y| (e.0.min(y), e.1.max(y)));
    let Some(ruler) = Ruler::rounded(extent.0, extent.1, Scale::Linear).filter(|_| from < to) else { return html! {} };
    let room = 0.03 * (to - from);
    let across = |at: f64| LEFT + (at - from + room) / (to - from + 2.0 * room) * (RIGHT - LEFT);
    let up =
        |at: f64| BOTTOM - (at.clamp(ruler.low, ruler.high) - ruler.low) / (ruler.high - ruler.low) * (BOTTOM - TOP);
    let place = |number: f64| format!("{number:.1}");
    let mut free = f64::NEG_INFINITY;
    let dates: Vec<(f64, String)> = log
        .days
        .iter()
        .filter_map(|day| {
            let centre = across(day.day.number() as f64).clamp(LEFT + DATE / 2.0, RIGHT - DATE / 2.0 + 12.0);
            (centre - DATE / 2.0 >= free + 8.0).then(|| free = centre + DATE / 2.0)?;
            Some((centre, day.day.to_string()))
        })
        .collect();
    let axis = Axis { quantity: value.name.clone(), unit: value.unit.clone(), scale: Scale::Linear };
    let nominal = unit.of_si(value.nominal);
    html! {
        svg.drawing role="img" viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } xmlns="http://www.w3.org/2000/svg" {
            title { (sentence) }
            @for (band, (low, high)) in &bands {
                rect x=(LEFT) y=(place(up(*high))) width=(RIGHT - LEFT) height=(place((up(*low) - up(*high)).max(1.0))) fill=(drawing::tint(*band)) {}
            }
            @for (at, _) in &ruler.ticks { path d={ "M" (LEFT) " " (place(up(*at))) "H" (RIGHT) } stroke="#E4DFD7" fill="none" {} }
            @if nominal.is_finite() && !bands.is_empty() {
                path d={ "M" (LEFT) " " (place(up(nominal))) "H" (RIGHT) } stroke=(drawing::curve_colour(0)) fill="none" stroke-width="1.6" {}
            }
            path d={ "M" (LEFT) " " (TOP) "V" (BOTTOM) "H" (RIGHT) } stroke="#1F1D1C" fill="none" {}
            @for (at, mean, u) in &means {
                path d={ "M" (place(across(*at))) " " (place(up(mean - u))) "V" (place(up(mean + u))) "M" (place(across(*at) - 6.0)) " " (place(up(*mean))) "h12" }
                    stroke="#1F1D1C" fill="none" stroke-width="1.6" {}
            }
            @for (at, y) in &readings { circle.reading cx=(place(across(*at))) cy=(place(up(*y))) r="3.6" {} }
            @for (at, text) in &ruler.ticks { text.tick x=(LEFT - 7.0) y=(place(up(*at) + 4.5)) text-anchor="end" { (text) } }
            @for (at, text) in &dates { text.tick x=(place(*at)) y=(BOTTOM + 18.0) text-anchor="middle" { (text) } }
            text.axis-title x="2" y="16" { (axis_title(&axis)) }
        }
    }
}

/// What is drawn, in a sentence.
pub(crate) fn sentence(words: Words<'_>, log: &BenchLog, value: &Value) -> String {
    let (Some(first), Some(last)) = (log.days.first(), log.days.last()) else { return String::new() };
    let show = |si: f64| value.unit.show(si, value.digits.max(RANGE_DIGITS));
    let (name, days) = (&value.name, log.days.len());
    let (from, to) = (format::day(words, first.day), format::day(words, last.day));
    let (first, last) = (show(first.mean), show(last.mean));
    match log.prediction.interval {
        Some(ends) => {
            let band = range_in(words, &value.unit, ends, value.digits.max(RANGE_DIGITS));
            say!(
                words,
                BENCH_LOG_BAND,
                name = name,
                n = days,
                first = first,
                from = from,
                last = last,
                to = to,
                band = band
            )
        }
        None => say!(words, BENCH_LOG, name = name, n = days, first = first, from = from, last = last, to = to),
    }
}

const WIDTH: f64 = 600.0;
const HEIGHT: f64 = 260.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 578.0;
const TOP: f64 = 30.0;
const BOTTOM: f64 = 228.0;
/// Width of a date.
const DATE: f64 = 74.0;
