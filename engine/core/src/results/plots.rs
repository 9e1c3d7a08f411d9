//! What a plot draws: curves with their bands, distributions, shares, bounds.

use super::{Share, Spread};
use crate::{sheet::Scale, span::Span, units::DisplayUnit};

/// A plot's numbers, in SI.
#[derive(Clone, Debug)]
pub struct PlotData {
    /// Where its block stands.
    pub span: Span,
    /// Its title.
    pub title: Option<String>,
    /// Horizontal axis; absent where no curve could be drawn.
    pub x: Option<Axis>,
    /// Vertical axis.
    pub y: Option<Axis>,
    /// The curves.
    pub curves: Vec<Curve>,
    /// Lines across.
    pub bounds: Vec<BoundLine>,
    /// Histograms.
    pub spreads: Vec<SpreadPlot>,
    /// Tolerance budgets.
    pub budgets: Vec<Budget>,
}

/// `spread of t_on`: a histogram over all builds.
#[derive(Clone, Debug)]
pub struct SpreadPlot {
    /// What is spread.
    pub axis: Axis,
    /// Left end of the first bin, SI.
    pub low: f64,
    /// Right end of the last, SI.
    pub high: f64,
    /// Builds in each bin.
    pub counts: Vec<u64>,
    /// The nominal value, SI.
    pub nominal: f64,
    /// Its spread.
    pub spread: Spread,
}

/// `shares of t_on`: which given the variance comes from.
#[derive(Clone, Debug)]
pub struct Budget {
    /// Whose variance.
    pub quantity: String,
    /// The shares, the greatest first.
    pub shares: Vec<Share>,
}

/// An axis.
#[derive(Clone, Debug)]
pub struct Axis {
    /// The quantity: a name, or a label.
    pub quantity: String,
    /// The unit of its numbers.
    pub unit: DisplayUnit,
    /// Its spacing.
    pub scale: Scale,
}

/// A curve.
#[derive(Clone, Debug)]
pub struct Curve {
    /// What the legend says.
    pub label: String,
    /// Its points, from left to right.
    pub points: Vec<CurvePoint>,
    /// Where the curve's own nominal point stands, if inside: x and y.
    pub nominal: Option<(f64, f64)>,
}

/// A point of a curve, SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Horizontal.
    pub x: f64,
    /// Vertical, all else nominal; NaN where the formula has no value.
    pub y: f64,
    /// Least over the tolerances of all else.
    pub low: f64,
    /// Greatest over the tolerances of all else.
    pub high: f64,
    /// Symmetric 95 % interval over the tolerances of all else, from [`CURVE_BUILDS`] builds; absent where nothing varies.
    pub inner: Option<(f64, f64)>,
}

/// Builds that the band of a curve is simulated from, at each point.
pub const CURVE_BUILDS: usize = 512;

/// A line across a plot.
#[derive(Clone, Debug)]
pub struct BoundLine {
    /// Where, SI.
    pub value: f64,
    /// What it says.
    pub label: Option<String>,
}
