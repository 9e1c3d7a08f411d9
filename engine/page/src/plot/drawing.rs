//! The drawing of a plot. Lines and areas are drawn by `plotters`, in tenths of a pixel; the words are set here, because
//! they take the page's type. Every colour is one that the stylesheet knows by its value, so that the dark scheme and
//! paper can have their own.

use benchleaf_core::results::{Axis, Curve, CurvePoint, PlotData};
use maud::{Markup, html};
use plotters::{
    coord::{Shift, types::RangedCoordf64},
    prelude::{
        Cartesian2d, Circle, DrawingArea, IntoDrawingArea, PathElement, Polygon, RGBColor, SVGBackend, ShapeStyle,
    },
};

use super::{axis::Ruler, axis_title};
use crate::typography::apostrophes;

/// The drawing as SVG; `None` where the numbers leave nothing to draw.
pub(super) fn draw(plot: &PlotData, x: &Axis, y: &Axis, sentence: &str) -> Option<String> {
    let curves: Vec<Vec<Place>> = plot.curves.iter().map(|curve| places(curve, x, y)).collect();
    let bounds: Vec<(f64, Option<&str>)> =
        plot.bounds.iter().map(|bound| (y.unit.unit.of_si(bound.value), bound.label.as_deref())).collect();
    let across = extent(curves.iter().flatten().map(|place| place.x))?;
    let numbers = curves.iter().flatten().flat_map(|place| [place.y, place.low, place.high]);
    let up = extent(numbers.chain(bounds.iter().map(|bound| bound.0)))?;
    let frame = Frame { x: Ruler::exact(across.0, across.1, x.scale)?, y: Ruler::rounded(up.0, up.1, y.scale)? };

    let nominal: Vec<(f64, f64)> = plot
        .curves
        .iter()
        .filter_map(|curve| curve.nominal)
        .map(|(at, value)| (x.unit.unit.of_si(at), y.unit.unit.of_si(value)))
        .filter(|(at, value)| at.is_finite() && value.is_finite())
        .collect();
    let heights: Vec<f64> = bounds.iter().map(|bound| bound.0).collect();
    let lines = lines(&frame, &curves, &heights, &nominal)?;
    let words = words(&frame, x, y, &bounds).into_string();
    let title = html! { title { (sentence) } }.into_string();
    Some(format!(
        r#"<svg class="drawing" role="img" viewBox="0 0 {WIDTH} {HEIGHT}" xmlns="http://www.w3.org/2000/svg">{title}<g transform="scale({})">{lines}</g>{words}</svg>"#,
        1.0 / f64::from(FINE)
    ))
}

/// The colour of a curve, which stands for its line style too.
pub(super) fn curve_colour(index: usize) -> String {
    hexadecimal(CURVES[index % CURVES.len()])
}

/// A band around a curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Band {
    /// Between the extremes over the tolerances.
    Worst,
    /// 95 % of builds.
    Likely,
}

impl Band {
    /// How far apart the strokes of its hatching are, in a legend.
    pub(super) fn key_pitch(self) -> u32 {
        match self {
            Band::Worst => 7,
            Band::Likely => 3,
        }
    }

    fn of(self, place: &Place) -> (f64, f64) {
        match self {
            Band::Worst => (place.low, place.high),
            Band::Likely => place.inner,
        }
    }
}

/// The tint of the first curve's band.
pub(super) fn tint(band: Band) -> String {
    hexadecimal(tints(band)[0])
}

/// The colour of its hatching.
pub(super) fn hatch_colour() -> String {
    hexadecimal(HATCHES[0])
}

fn tints(band: Band) -> [RGBColor; 2] {
    match band {
        Band::Worst => WORST,
        Band::Likely => LIKELY,
    }
}

fn hexadecimal(RGBColor(r, g, b): RGBColor) -> String {
    format!("#{r:02X}{g:02X}{b:02X}")
}

/// A curve's point in the numbers of the axes.
#[derive(Clone, Copy)]
struct Place {
    x: f64,
    y: f64,
    low: f64,
    high: f64,
    /// NaN where nothing varies.
    inner: (f64, f64),
}

fn places(curve: &Curve, x: &Axis, y: &Axis) -> Vec<Place> {
    let (across, up) = (&x.unit.unit, &y.unit.unit);
    let place = |point: &CurvePoint| Place {
        x: across.of_si(point.x),
        y: up.of_si(point.y),
        low: up.of_si(point.low),
        high: up.of_si(point.high),
        inner: point.inner.map_or((f64::NAN, f64::NAN), |(low, high)| (up.of_si(low), up.of_si(high))),
    };
    curve.points.iter().map(place).collect()
}

fn extent(numbers: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    numbers.filter(|number| number.is_finite()).fold(None, |extent, number| {
        let (low, high) = extent.unwrap_or((number, number));
        Some((number.min(low), number.max(high)))
    })
}

struct Frame {
    x: Ruler,
    y: Ruler,
}

impl Frame {
    fn across(&self, at: f64) -> f64 {
        LEFT + (at - self.x.low) / (self.x.high - self.x.low) * (RIGHT - LEFT)
    }

    fn up(&self, at: f64) -> f64 {
        BOTTOM - (at - self.y.low) / (self.y.high - self.y.low) * (BOTTOM - TOP)
    }

    /// A point in drawing numbers, kept inside the frame.
    fn point(&self, x: f64, y: f64) -> (f64, f64) {
        (self.x.place(x).clamp(self.x.low, self.x.high), self.y.place(y).clamp(self.y.low, self.y.high))
    }
}

type Area<'a> = DrawingArea<SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// Grid, bands, bounds, curves and nominal points, without the enclosing element.
fn lines(frame: &Frame, curves: &[Vec<Place>], bounds: &[f64], nominal: &[(f64, f64)]) -> Option<String> {
    let mut svg = String::new();
    {
        let size = (WIDTH as u32 * FINE, HEIGHT as u32 * FINE);
        let root: DrawingArea<SVGBackend<'_>, Shift> = SVGBackend::with_string(&mut svg, size).into_drawing_area();
        let fine = |pixels: f64| (pixels * f64::from(FINE)).round() as i32;
        let area: Area<'_> = root.apply_coord_spec(Cartesian2d::new(
            frame.x.low..frame.x.high,
            frame.y.low..frame.y.high,
            (fine(LEFT)..fine(RIGHT), fine(BOTTOM)..fine(TOP)),
        ));
        grid(&area, frame)?;
        for (index, places) in curves.iter().enumerate() {
            band(&area, frame, index, places, Band::Worst)?;
        }
        for (index, places) in curves.iter().enumerate() {
            band(&area, frame, index, places, Band::Likely)?;
        }
        for bound in bounds {
            let level = frame.point(0.0, *bound).1;
            path(&area, vec![(frame.x.low, level), (frame.x.high, level)], BOUND, 9)?;
        }
        for (index, places) in curves.iter().enumerate() {
            let colour = CURVES[index % CURVES.len()];
            for run in places.split(|place| !place.y.is_finite()).filter(|run| run.len() > 1) {
                path(&area, run.iter().map(|place| frame.point(place.x, place.y)).collect(), colour, 20)?;
            }
        }
        for (x, y) in nominal {
            let style = ShapeStyle { color: NOMINAL.into(), filled: true, stroke_width: 15 };
            area.draw(&Circle::new(frame.point(*x, *y), 4 * FINE as i32, style)).ok()?;
        }
        area.present().ok()?;
    }
    let inside = svg.find('>').and_then(|start| svg.get(start + 1..svg.rfind("</svg>")?))?;
    Some(inside.replace('\n', ""))
}

fn path(area: &Area<'_>, points: Vec<(f64, f64)>, colour: RGBColor, width: u32) -> Option<()> {
    let style = ShapeStyle { color: colour.into(), filled: false, stroke_width: width };
    area.draw(&PathElement::new(points, style)).ok()
}

fn grid(area: &Area<'_>, frame: &Frame) -> Option<()> {
    let (x, y) = (&frame.x, &frame.y);
    for (at, _) in &x.ticks {
        path(area, vec![(*at, y.low), (*at, y.high)], GRID, 7)?;
    }
    for (at, _) in &y.ticks {
        path(area, vec![(x.low, *at), (x.high, *at)], GRID, 7)?;
    }
    path(area, vec![(x.low, y.high), (x.low, y.low), (x.high, y.low)], AXIS, 10)
}

/// A band: a tint, and for paper upright strokes that the stylesheet shows there alone, closer in the inner band;
/// the outer one has its edges drawn there too.
fn band(area: &Area<'_>, frame: &Frame, index: usize, places: &[Place], band: Band) -> Option<()> {
    let ends = |place: &Place| band.of(place);
    let bounded = |place: &Place| ends(place).0 <= ends(place).1;
    for run in places.split(|place| !bounded(place)).filter(|run| run.len() > 1) {
        if !run.iter().any(|place| ends(place).0 < ends(place).1) {
            continue;
        }
        let upper = run.iter().map(|place| frame.point(place.x, ends(place).1));
        let lower = run.iter().rev().map(|place| frame.point(place.x, ends(place).0));
        let tints = tints(band);
        let style = ShapeStyle { color: tints[index % tints.len()].into(), filled: true, stroke_width: 0 };
        area.draw(&Polygon::new(upper.chain(lower).collect::<Vec<_>>(), style)).ok()?;
        if band == Band::Worst {
            for side in [|ends: (f64, f64)| ends.0, |ends: (f64, f64)| ends.1] {
                let edge = run.iter().map(|place| frame.point(place.x, side(ends(place)))).collect();
                path(area, edge, HATCHES[index % HATCHES.len()], 5)?;
            }
        }
        for (i, pair) in run.windows(2).enumerate() {
            let [from, to] = pair else { continue };
            // The outer band is hatched at every other point, the inner one between them too.
            let strokes: &[f64] = match band {
                Band::Worst if i % 2 == 1 => &[],
                Band::Worst => &[0.0],
                Band::Likely => &[0.25, 0.5, 0.75],
            };
            for share in strokes {
                let between = |a: (f64, f64), b: (f64, f64)| (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
                let foot = between(frame.point(from.x, ends(from).0), frame.point(to.x, ends(to).0));
                let top = between(frame.point(from.x, ends(from).1), frame.point(to.x, ends(to).1));
                path(area, vec![foot, top], HATCHES[index % HATCHES.len()], 5)?;
            }
        }
    }
    Some(())
}

/// Tick numbers, axis titles and the bounds' labels.
fn words(frame: &Frame, x: &Axis, y: &Axis, bounds: &[(f64, Option<&str>)]) -> Markup {
    let number = |at: f64| format!("{at:.1}");
    let mut last = f64::NEG_INFINITY;
    let across: Vec<(f64, &str)> = frame
        .x
        .ticks
        .iter()
        .filter_map(|(at, text)| {
            let (centre, half) = (frame.across(*at), text.chars().count() as f64 * FIGURE / 2.0);
            (centre - half >= last + 6.0).then(|| last = centre + half)?;
            Some((centre, text.as_str()))
        })
        .collect();
    html! {
        @for (at, text) in &across {
            text.tick x=(number(*at)) y=(BOTTOM + 18.0) text-anchor="middle" { (text) }
        }
        @for (at, text) in &frame.y.ticks {
            text.tick x=(LEFT - 7.0) y=(number(frame.up(*at) + 4.5)) text-anchor="end" { (text) }
        }
        text.axis-title x=(RIGHT) y=(BOTTOM + 38.0) text-anchor="end" { (axis_title(x)) }
        text.axis-title x="2" y="16" { (axis_title(y)) }
        @for (at, label) in placed(frame, bounds) {
            text.bound x=(RIGHT - 4.0) y=(number(at)) text-anchor="end" { (apostrophes(label)) }
        }
    }
}

/// Each bound's label above its line, or as near below as its neighbours leave room.
fn placed<'a>(frame: &Frame, bounds: &[(f64, Option<&'a str>)]) -> Vec<(f64, &'a str)> {
    let mut labels: Vec<(f64, &str)> = bounds
        .iter()
        .filter_map(|(at, label)| Some((frame.up(frame.point(0.0, *at).1), label.filter(|label| !label.is_empty())?)))
        .collect();
    labels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut lowest = TOP - 4.0;
    for (at, _) in &mut labels {
        let above = *at - 5.0;
        *at = if above - LINE >= lowest { above } else { (*at + LINE).max(lowest + LINE) };
        lowest = *at;
    }
    // What would fall through the foot of the drawing pushes its neighbours up.
    let mut highest = BOTTOM - 4.0;
    for (at, _) in labels.iter_mut().rev() {
        *at = at.min(highest);
        highest = *at - LINE;
    }
    labels
}

/// The colour of a path of `plotters` decides how it looks; see the stylesheet.
const CURVES: [RGBColor; 4] =
    [RGBColor(0x9a, 0x4a, 0x1c), RGBColor(0x1f, 0x1d, 0x1a), RGBColor(0x9a, 0x4a, 0x1d), RGBColor(0x1f, 0x1d, 0x1b)];
const WORST: [RGBColor; 2] = [RGBColor(0xea, 0xd8, 0xca), RGBColor(0xdc, 0xda, 0xd6)];
const LIKELY: [RGBColor; 2] = [RGBColor(0xda, 0xb8, 0x9e), RGBColor(0xbf, 0xbc, 0xb6)];
const HATCHES: [RGBColor; 2] = [RGBColor(0x9a, 0x4a, 0x20), RGBColor(0x1f, 0x1d, 0x20)];
const GRID: RGBColor = RGBColor(0xe4, 0xdf, 0xd7);
const AXIS: RGBColor = RGBColor(0x1f, 0x1d, 0x1c);
const BOUND: RGBColor = RGBColor(0x1f, 0x1d, 0x22);
const NOMINAL: RGBColor = RGBColor(0x9a, 0x4a, 0x22);

const WIDTH: f64 = 600.0;
const HEIGHT: f64 = 340.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 578.0;
const TOP: f64 = 30.0;
const BOTTOM: f64 = 290.0;
/// `plotters` counts whole pixels; ten of its make one of ours.
const FINE: u32 = 10;
const FIGURE: f64 = 7.5;
const LINE: f64 = 15.0;

#[cfg(test)]
mod tests {
    use benchleaf_core::{
        results::BoundLine,
        sheet::Scale,
        span::Span,
        units::{DisplayUnit, parse},
    };

    use super::*;

    fn axis(quantity: &str, unit: &str, scale: Scale) -> Axis {
        Axis { quantity: quantity.to_owned(), unit: DisplayUnit::declared(parse(unit).unwrap()), scale }
    }

    fn plot(points: Vec<CurvePoint>, bounds: &[f64]) -> PlotData {
        PlotData {
            span: Span::default(),
            title: None,
            x: Some(axis("R_t", "kΩ", Scale::Logarithmic)),
            y: Some(axis("t_on", "s", Scale::Linear)),
            curves: vec![Curve { label: "t_on".to_owned(), points, nominal: Some((910e3, 22.0)) }],
            bounds: bounds.iter().map(|value| BoundLine { value: *value, label: Some("a < b".to_owned()) }).collect(),
            spreads: Vec::new(),
            budgets: Vec::new(),
        }
    }

    fn drawn(plot: &PlotData) -> Option<String> {
        draw(plot, plot.x.as_ref().unwrap(), plot.y.as_ref().unwrap(), "sentence")
    }

    #[test]
    fn a_drawing_is_escaped_and_has_no_style_of_its_own() {
        let points = (1..=20).map(|i| f64::from(i) * 1e5).map(|x| CurvePoint {
            x,
            y: x * 24e-6,
            low: x * 2e-5,
            high: x * 3e-5,
            inner: Some((x * 2.2e-5, x * 2.8e-5)),
        });
        let svg = drawn(&plot(points.collect(), &[15.0, 30.0])).unwrap();
        assert!(
            svg.contains("a &lt; b") && svg.contains("<title>sentence</title>") && svg.contains("subscript"),
            "{svg}"
        );
        assert!(!svg.contains("style=") && svg.matches("<svg").count() == 1 && svg.matches("</svg>").count() == 1);
    }

    #[test]
    fn gaps_and_lone_points_do_not_break_the_drawing() {
        let nan = f64::NAN;
        let points = vec![
            CurvePoint { x: 1e5, y: nan, low: nan, high: nan, inner: None },
            CurvePoint { x: 2e5, y: 1.0, low: f64::NEG_INFINITY, high: f64::INFINITY, inner: Some((nan, nan)) },
            CurvePoint { x: 3e5, y: 2.0, low: 2.0, high: 2.0, inner: None },
        ];
        let svg = drawn(&plot(points, &[])).unwrap();
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        assert!(drawn(&plot(vec![], &[])).is_none());
        assert!(drawn(&plot(vec![CurvePoint { x: 1.0, y: nan, low: nan, high: nan, inner: None }], &[])).is_none());
    }

    #[test]
    fn labels_of_close_bounds_do_not_touch() {
        let frame = Frame {
            x: Ruler::exact(0.0, 1.0, Scale::Linear).unwrap(),
            y: Ruler::exact(0.0, 10.0, Scale::Linear).unwrap(),
        };
        let labels = placed(
            &frame,
            &[
                (5.0, Some("a")),
                (5.1, Some("b")),
                (5.2, Some("c")),
                (9.9, Some("d")),
                (0.1, Some("e")),
                (0.0, Some("f")),
            ],
        );
        for pair in labels.windows(2) {
            assert!((pair[1].0 - pair[0].0).abs() >= LINE - 0.1, "{labels:?}");
        }
        assert!(labels.iter().all(|(at, _)| *at < BOTTOM), "{labels:?}");
    }
}
