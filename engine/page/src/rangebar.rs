//! The range bar, the sign of every result: a thin line for the worst case, a thicker one for the 95 % interval, a tick
//! for the nominal value, a hatched zone where a requirement would break, a dot for a reading; all on the scale of that
//! result. What flows in is SI values and the unit they are shown in; what comes out is one inline SVG.

use std::fmt::Write;

use benchleaf_core::{
    results::{Certainty, Interval95, LimitValue, Shown, Value, Verdict, WorstCase},
    units::{DisplayUnit, ValueType},
};
use benchleaf_words::{Words, key, say};
use maud::{Markup, html};

use crate::format::{RANGE_DIGITS, range_in};

/// What a bar shows; SI throughout.
pub(crate) struct RangeBar {
    pub(crate) nominal: f64,
    /// Least and greatest over the tolerances; infinite where unbounded.
    pub(crate) worst: Option<(f64, f64)>,
    /// Whether the worst case is proven.
    pub(crate) certainty: Certainty,
    /// The 95 % coverage interval.
    pub(crate) interval95: Option<Interval95>,
    /// Below this a requirement breaks.
    pub(crate) lower: Option<f64>,
    /// Above this a requirement breaks.
    pub(crate) upper: Option<f64>,
    /// Readings.
    pub(crate) readings: Vec<f64>,
    pub(crate) unit: DisplayUnit,
    pub(crate) digits: u8,
}

impl RangeBar {
    /// The bar of a result; none where it does not vary.
    pub(crate) fn of_value(value: &Value) -> Option<Self> {
        let certainty = value.worst.as_ref()?.certainty;
        let worst = ends(value.worst.as_ref().filter(|_| value.value_type != ValueType::Condition)?);
        (worst.0 < worst.1).then_some(Self {
            nominal: value.nominal,
            worst: Some(worst),
            certainty,
            interval95: value.spread.map(|spread| spread.interval),
            lower: None,
            upper: None,
            readings: Vec::new(),
            unit: value.unit.for_range(worst.0, worst.1),
            digits: value.digits.max(RANGE_DIGITS),
        })
    }

    /// The bar of a value that was read; it shows the readings also where nothing varies.
    pub(crate) fn of_readings(value: &Value, readings: Vec<f64>) -> Self {
        let plain = || Self {
            nominal: value.nominal,
            worst: None,
            certainty: Certainty::Proven,
            interval95: None,
            lower: None,
            upper: None,
            readings: Vec::new(),
            unit: value.unit.clone(),
            digits: value.digits.max(RANGE_DIGITS),
        };
        Self { readings, ..Self::of_value(value).unwrap_or_else(plain) }
    }

    /// The bar of a requirement.
    pub(crate) fn of_verdict(verdict: &Verdict) -> Self {
        let tightest = |limit: &Option<LimitValue>| limit.map(|limit| limit.tightest);
        let worst = verdict.worst.as_ref().map(ends).filter(|(low, high)| low < high);
        Self {
            nominal: verdict.nominal,
            worst,
            certainty: verdict.worst.as_ref().map_or(Certainty::Proven, |worst| worst.certainty),
            interval95: verdict.spread.map(|spread| spread.interval),
            lower: tightest(&verdict.lower),
            upper: tightest(&verdict.upper),
            readings: Vec::new(),
            unit: worst.map_or_else(|| verdict.unit.clone(), |(low, high)| verdict.unit.for_range(low, high)),
            digits: verdict.digits.max(RANGE_DIGITS),
        }
    }

    /// The drawing.
    pub(crate) fn draw(&self, words: Words<'_>) -> Markup {
        self.draw_on(words, &Scale::of(self))
    }

    fn draw_on(&self, words: Words<'_>, scale: &Scale) -> Markup {
        let limits = self.lower.is_some() || self.upper.is_some();
        let middle = if limits { 22.0 } else { 9.0 };
        // Numbers stand below the ends of the worst case alone.
        let height = middle + if self.worst.is_some() { 23.0 } else { 9.0 };
        html! {
            svg.range-bar role="img" viewBox={ "0 0 " (WIDTH) " " (height) } {
                title { (self.sentence(words)) }
                @if let Some(lower) = self.lower.filter(|lower| lower.is_finite()) {
                    (zone(LEFT, scale.at(lower), scale.at(lower), middle))
                    (label(scale.at(lower), middle - 13.0, Side::Left, &self.number(lower), "limit"))
                }
                @if let Some(upper) = self.upper.filter(|upper| upper.is_finite()) {
                    (zone(scale.at(upper), RIGHT, scale.at(upper), middle))
                    (label(scale.at(upper), middle - 13.0, Side::Right, &self.number(upper), "limit"))
                }
                path.axis d=(format!("M{LEFT} {middle}H{RIGHT}")) {}
                @if let Some(worst) = self.worst { (self.line(worst, scale, middle)) }
                @if let Some((low, high)) = self.interval95.map(|interval| interval.ends()) {
                    path.likely d=(format!("M{:.1} {middle}H{:.1}", scale.at(low), scale.at(high))) {}
                }
                @if self.nominal.is_finite() {
                    path.nominal d=(format!("M{:.1} {}V{}", scale.at(self.nominal), middle - 6.5, middle + 6.5)) {}
                }
                @for reading in &self.readings {
                    circle.reading cx=(format!("{:.1}", scale.at(*reading))) cy=(middle) r="3.2" {}
                }
            }
        }
    }

    /// The worst case: a line with stops, or with an arrow where it has no end; and its numbers below.
    fn line(&self, (low, high): (f64, f64), scale: &Scale, middle: f64) -> Markup {
        let (from, to) = (scale.at(low), scale.at(high));
        let mut path = format!("M{from:.1} {middle}H{to:.1}");
        for (end, at, inwards) in [(low, from, 5.0), (high, to, -5.0)] {
            // Writing to a String cannot fail.
            let _ = if end.is_finite() {
                write!(path, "M{at:.1} {}V{}", middle - 3.5, middle + 3.5)
            } else {
                write!(
                    path,
                    "M{:.1} {}L{at:.1} {middle}L{:.1} {}",
                    at + inwards,
                    middle - 3.5,
                    at + inwards,
                    middle + 3.5
                )
            };
        }
        let unbounded = high == f64::INFINITY;
        let (low, high) = (self.number(low), self.number(high));
        let high = if unbounded { high } else { self.unit.join(high) };
        let (left, right) = apart(from, to, width_of(&low), width_of(&high));
        html! {
            path.worst d=(path) {}
            (label(left, middle + 19.0, Side::Middle, &low, "end"))
            (label(right, middle + 19.0, Side::Middle, &high, "end"))
        }
    }

    fn number(&self, si: f64) -> String {
        self.unit.number(si, self.digits)
    }

    /// The same in words.
    fn sentence(&self, words: Words<'_>) -> String {
        let show = |si: f64| self.unit.show(si, self.digits);
        let mut said = vec![say!(words, BAR_NOMINAL, value = show(self.nominal))];
        let worst = self.worst.map(|(low, high)| match (low == f64::NEG_INFINITY, high == f64::INFINITY) {
            (true, true) => words.text(key::BAR_ENDLESS).to_owned(),
            (false, true) => say!(words, BAR_ENDLESS_HIGH, low = show(low)),
            (true, false) => say!(words, BAR_ENDLESS_LOW, high = show(high)),
            (false, false) => say!(words, BAR_WORST, low = self.number(low), high = show(high)),
        });
        said.extend(worst.map(|worst| match self.certainty {
            Certainty::Searched => say!(words, BAR_BY_SEARCH, worst = worst),
            Certainty::Proven => worst,
        }));
        said.extend(self.interval95.map(|interval| {
            let (low, high) = interval.ends();
            match (low.is_finite() && high.is_finite(), interval.shown) {
                (true, Shown::Shortest) => {
                    say!(words, BAR_LIKELY_SHORTEST, low = self.number(low), high = show(high))
                }
                (true, Shown::Symmetric) => {
                    say!(words, BAR_LIKELY_SYMMETRIC, low = self.number(low), high = show(high))
                }
                (false, Shown::Shortest) => say!(words, BAR_OPEN_SHORTEST, range = self.range(words, (low, high))),
                (false, Shown::Symmetric) => say!(words, BAR_OPEN_SYMMETRIC, range = self.range(words, (low, high))),
            }
        }));
        if !self.readings.is_empty() {
            let (low, high) =
                self.readings.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |e, x| (e.0.min(*x), e.1.max(*x)));
            let n = self.readings.len();
            said.push(match n {
                1 => say!(words, BAR_READ_ONE, value = show(low)),
                n => say!(words, BAR_READ, n = n, least = self.number(low), greatest = show(high)),
            });
        }
        said.extend(match (self.lower, self.upper) {
            (Some(lower), Some(upper)) => {
                Some(say!(words, BAR_ALLOWED, lower = self.number(lower), upper = show(upper)))
            }
            (Some(lower), None) => Some(say!(words, BAR_ALLOWED_FROM, lower = show(lower))),
            (None, Some(upper)) => Some(say!(words, BAR_ALLOWED_TO, upper = show(upper))),
            (None, None) => None,
        });
        said.join("; ")
    }

    fn range(&self, words: Words<'_>, ends: (f64, f64)) -> String {
        range_in(words, &self.unit, ends, self.digits)
    }
}

/// Bars of one quantity, drawn on one scale; empty where there is none.
pub(crate) fn side_by_side(words: Words<'_>, bars: &[Option<RangeBar>]) -> Vec<Markup> {
    let scales = bars.iter().flatten().map(Scale::of);
    let joined = scales.reduce(|a, b| Scale { low: a.low.min(b.low), high: a.high.max(b.high) });
    let draw = |bar: &Option<RangeBar>| match (bar, &joined) {
        (Some(bar), Some(scale)) => bar.draw_on(words, scale),
        _ => html! {},
    };
    bars.iter().map(draw).collect()
}

fn ends(worst: &WorstCase) -> (f64, f64) {
    (worst.low, worst.high)
}

/// From SI values to places along the bar.
struct Scale {
    low: f64,
    high: f64,
}

impl Scale {
    /// All finite values with a little room beyond the outermost.
    fn of(bar: &RangeBar) -> Self {
        let interval95 = bar.interval95.map(|interval| interval.ends());
        let pairs = [bar.worst, interval95].into_iter().flatten().flat_map(|(low, high)| [low, high]);
        let singles = [Some(bar.nominal), bar.lower, bar.upper].into_iter().flatten();
        let singles = singles.chain(bar.readings.iter().copied());
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for value in pairs.chain(singles).filter(|value| value.is_finite()) {
            low = low.min(value);
            high = high.max(value);
        }
        if low > high {
            (low, high) = (0.0, 1.0);
        }
        let span = if high > low { high - low } else { low.abs().max(f64::MIN_POSITIVE) };
        // Beyond a limit there must be room for its zone to show.
        Self { low: low - 0.16 * span, high: high + 0.16 * span }
    }

    fn at(&self, value: f64) -> f64 {
        let fraction = (value - self.low) / (self.high - self.low);
        LEFT + (RIGHT - LEFT) * if fraction.is_nan() { 0.5 } else { fraction.clamp(0.0, 1.0) }
    }
}

/// The zone where a requirement breaks: slanted strokes from `from` to `to`, and its edge.
fn zone(from: f64, to: f64, edge: f64, middle: f64) -> Markup {
    let (top, bottom) = (middle - 8.0, middle + 8.0);
    let height = bottom - top;
    let mut strokes = String::new();
    let mut foot = from - height;
    while foot < to {
        // A stroke rises to the right at 45°; what stands outside the zone is cut off.
        let (start, end) = (foot.max(from), (foot + height).min(to));
        if start < end {
            // Writing to a String cannot fail.
            let _ = write!(strokes, "M{start:.1} {:.1}L{end:.1} {:.1}", bottom - (start - foot), bottom - (end - foot));
        }
        foot += HATCH;
    }
    html! {
        path.breaks d=(strokes) {}
        path.edge d=(format!("M{edge:.1} {}V{}", top - 1.0, bottom)) {}
    }
}

/// Where a number stands to its mark.
#[derive(Clone, Copy)]
enum Side {
    Left,
    Middle,
    Right,
}

fn label(at: f64, baseline: f64, side: Side, text: &str, class: &str) -> Markup {
    let half = width_of(text) / 2.0;
    // Limits lean into their zone where there is room; every number stays inside the drawing.
    let centre = match side {
        Side::Left => at - half + 4.0,
        Side::Middle => at,
        Side::Right => at + half - 4.0,
    };
    let centre = centre.clamp(half.min(WIDTH / 2.0), (WIDTH - half).max(WIDTH / 2.0));
    html! { text class=(class) x=(format!("{centre:.1}")) y=(baseline) text-anchor="middle" { (text) } }
}

/// Pushes two labels apart until they no longer touch.
fn apart(left: f64, right: f64, left_width: f64, right_width: f64) -> (f64, f64) {
    let left = left.max(left_width / 2.0);
    let right = right.min(WIDTH - right_width / 2.0);
    let wanted = (left_width + right_width) / 2.0 + 7.0;
    let missing = wanted - (right - left);
    if missing <= 0.0 {
        return (left, right);
    }
    let left =
        (left - missing / 2.0).clamp(left_width / 2.0, (WIDTH - right_width / 2.0 - wanted).max(left_width / 2.0));
    (left, left + wanted)
}

/// Roughly how wide a label is set.
fn width_of(text: &str) -> f64 {
    text.chars().count() as f64 * 6.0
}

const WIDTH: f64 = 216.0;
const LEFT: f64 = 2.0;
const RIGHT: f64 = WIDTH - 2.0;
const HATCH: f64 = 4.0;

#[cfg(test)]
mod tests {
    use benchleaf_core::{results::Shown, units::parse};

    use super::*;

    fn bar() -> RangeBar {
        RangeBar {
            nominal: 22.0,
            worst: Some((15.9, 36.4)),
            certainty: Certainty::Proven,
            interval95: None,
            lower: Some(15.0),
            upper: Some(30.0),
            readings: Vec::new(),
            unit: DisplayUnit::declared(parse("s").unwrap()),
            digits: 3,
        }
    }

    #[test]
    fn the_drawing_says_the_same_in_words() {
        let drawn = bar().draw(Words::ENGLISH).into_string();
        assert!(drawn.contains(r#"role="img""#));
        assert!(drawn.contains("<title>Nominal 22.0 s; worst case 15.9 to 36.4 s; allowed 15.0 to 30.0 s</title>"));
        assert!(!drawn.contains("style="));
    }

    #[test]
    fn the_interval_that_holds_most_builds_is_drawn_and_named() {
        let interval = Interval95 { shortest: (16.0, 29.9), symmetric: (17.0, 33.0), shown: Shown::Shortest };
        let drawn = RangeBar { interval95: Some(interval), ..bar() }.draw(Words::ENGLISH).into_string();
        assert!(drawn.contains("; 95 % of builds between 16.0 and 29.9 s (shortest interval)"), "{drawn}");
        assert!(drawn.contains(r#"class="likely""#));
    }

    #[test]
    fn an_unbounded_worst_case_has_an_arrow_and_stays_inside() {
        let drawn = RangeBar { worst: Some((15.9, f64::INFINITY)), ..bar() }.draw(Words::ENGLISH).into_string();
        assert!(drawn.contains("15.9 s upwards, without bound"), "{drawn}");
        assert!(!drawn.contains("inf") && !drawn.contains("NaN"), "{drawn}");
    }

    #[test]
    fn odd_numbers_draw_nothing_odd() {
        for nominal in [0.0, f64::NAN, f64::INFINITY, 1e300, -1e-300] {
            for worst in [None, Some((nominal, nominal)), Some((f64::NEG_INFINITY, f64::INFINITY))] {
                let drawn = RangeBar { nominal, worst, lower: None, upper: Some(0.0), ..bar() }
                    .draw(Words::ENGLISH)
                    .into_string();
                let path = drawn.split("</title>").nth(1).unwrap();
                assert!(!path.contains("NaN") && !path.contains("inf"), "{nominal}: {drawn}");
            }
        }
    }

    #[test]
    fn labels_keep_apart() {
        let (left, right) = apart(100.0, 102.0, 30.0, 40.0);
        assert!(right - left >= 42.0);
        let (left, right) = apart(2.0, 10.0, 30.0, 40.0);
        assert!(left >= 15.0 && right - left >= 42.0);
    }
}
