//! Sizes: how large each symbol is, where its pins stand, and what room its label has.

use benchleaf_core::circuit::{Kind, Part, Side};

/// A point of the grid.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Point {
    pub(crate) x: i32,
    pub(crate) y: i32,
}

impl Point {
    pub(crate) fn new(x: i32, y: i32) -> Self {
        Self { x, y }
    }

    pub(crate) fn moved(self, x: i32, y: i32) -> Self {
        Self { x: self.x + x, y: self.y + y }
    }
}

/// A rectangle; both corners belong to it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Rect {
    pub(crate) left: i32,
    pub(crate) top: i32,
    pub(crate) right: i32,
    pub(crate) bottom: i32,
}

impl Rect {
    pub(crate) fn new(left: i32, top: i32, right: i32, bottom: i32) -> Self {
        Self { left, top, right, bottom }
    }

    pub(crate) fn moved(self, x: i32, y: i32) -> Self {
        Self::new(self.left + x, self.top + y, self.right + x, self.bottom + y)
    }

    pub(crate) fn around(self, other: Self) -> Self {
        Self::new(
            self.left.min(other.left),
            self.top.min(other.top),
            self.right.max(other.right),
            self.bottom.max(other.bottom),
        )
    }

    pub(crate) fn meets(self, other: Self) -> bool {
        self.left <= other.right && other.left <= self.right && self.top <= other.bottom && other.top <= self.bottom
    }

    pub(crate) fn holds(self, point: Point) -> bool {
        (self.left..=self.right).contains(&point.x) && (self.top..=self.bottom).contains(&point.y)
    }
}

/// How a symbol stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Orientation {
    /// First pin at the top.
    Upright,
    /// First pin at the bottom.
    UpsideDown,
    /// First pin at the left.
    Lying,
    /// First pin at the right.
    LyingTurned,
    /// A transistor whose control pin is at the right.
    Mirrored,
}

/// A part's symbol in the drawing.
#[derive(Clone, Debug)]
pub(crate) struct Symbol {
    pub(crate) part: usize,
    /// Its origin: the end that is uppermost or leftmost; a box's upper left corner.
    pub(crate) at: Point,
    pub(crate) orientation: Orientation,
    /// What it covers, pins on its edge.
    pub(crate) body: Rect,
    /// Where its label has room; one above and one below where it lies.
    pub(crate) labels: Vec<Rect>,
    /// Its pins, in the part's order.
    pub(crate) pins: Vec<Point>,
}

/// Length of a part with two ends.
pub(crate) const LENGTH: i32 = 6;

/// Steps of the grid that so many characters take.
pub(crate) fn width_of(characters: usize) -> i32 {
    (characters as i32 * 15 + 15) / 16 + 1
}

/// How far a symbol reaches to the left and the right of its line as it stands upright.
fn reach(kind: Kind) -> (i32, i32) {
    match kind {
        Kind::Led => (1, 3),
        Kind::Motor | Kind::Lamp | Kind::Supply | Kind::Load | Kind::Coil | Kind::Battery | Kind::Zener => (2, 2),
        Kind::Switch | Kind::Button | Kind::Contact => (2, 1),
        Kind::PolarisedCapacitor | Kind::Capacitor => (2, 2),
        _ => (1, 1),
    }
}

/// A part with two ends, upright, its upper end at the origin.
pub(crate) fn upright(index: usize, part: &Part, flipped: bool, characters: usize) -> Symbol {
    let (left, right) = reach(part.kind);
    let (near, far) = (Point::new(0, 0), Point::new(0, LENGTH));
    Symbol {
        part: index,
        at: near,
        orientation: if flipped { Orientation::UpsideDown } else { Orientation::Upright },
        body: Rect::new(-left, 0, right, LENGTH),
        labels: vec![Rect::new(right + 1, 1, right + 1 + width_of(characters), LENGTH - 1)],
        pins: if flipped { vec![far, near] } else { vec![near, far] },
    }
}

/// A part with two ends, lying, its left end at the origin.
pub(crate) fn lying(index: usize, part: &Part, flipped: bool, characters: usize) -> Symbol {
    let (above, below) = reach(part.kind);
    let (above, below) = (above.max(below), above);
    let (near, far) = (Point::new(0, 0), Point::new(LENGTH, 0));
    let half = (width_of(characters) - LENGTH + 1).max(0) / 2;
    let (left, right) = (-half, LENGTH + half);
    Symbol {
        part: index,
        at: near,
        orientation: if flipped { Orientation::LyingTurned } else { Orientation::Lying },
        body: Rect::new(0, -above, LENGTH, below),
        labels: vec![Rect::new(left, -above - 3, right, -above - 1), Rect::new(left, below + 1, right, below + 3)],
        pins: if flipped { vec![far, near] } else { vec![near, far] },
    }
}

/// A transistor; the main pins in its line, the control pin beside it.
pub(crate) fn transistor(index: usize, flipped: bool, mirrored: bool, characters: usize) -> Symbol {
    let (upper, lower) = (Point::new(0, 0), Point::new(0, LENGTH));
    let (width, side) = (width_of(characters), if mirrored { 1 } else { -1 });
    let control = Point::new(4 * side, LENGTH / 2);
    let (body, label) = if mirrored {
        (Rect::new(-1, 0, 4, LENGTH), Rect::new(-2 - width, 1, -2, LENGTH - 1))
    } else {
        (Rect::new(-4, 0, 1, LENGTH), Rect::new(2, 1, 2 + width, LENGTH - 1))
    };
    let orientation = match (flipped, mirrored) {
        (true, _) => Orientation::UpsideDown,
        (false, true) => Orientation::Mirrored,
        (false, false) => Orientation::Upright,
    };
    let (first, second) = if flipped { (lower, upper) } else { (upper, lower) };
    Symbol { part: index, at: upper, orientation, body, labels: vec![label], pins: vec![first, second, control] }
}

/// A box with named pins: its size without its leads, and its pins at the ends of these.
pub(crate) fn chip(index: usize, part: &Part) -> Symbol {
    let names = |side: Side| part.pins.iter().filter(move |pin| pin.side == side).map(|pin| pin.name.chars().count());
    let widest = |side: Side| names(side).max().map_or(0, width_of);
    let lines = 1 + i32::from(part.label.is_some());
    let label = part.label.as_ref().map_or(0, |label| label.chars().count()).max(part.name().chars().count());
    let row = |side: Side| names(side).map(|name| width_of(name) + 1).sum::<i32>();
    let across = [widest(Side::Left) + widest(Side::Right) + 2, width_of(label) + 1, row(Side::Top), row(Side::Bottom)];
    let width = across.into_iter().max().unwrap_or(0).max(6);
    let most = names(Side::Left).count().max(names(Side::Right).count()) as i32;
    let head = if row(Side::Top) > 0 { 3 } else { 1 } + 2 * lines;
    let foot = if row(Side::Bottom) > 0 { 3 } else { 1 };
    let height = head + (most - 1).max(0) * PITCH + 1 + foot + i32::from(most > 0);
    let mut next = [head + 1, head + 1];
    let start = |side: Side| (width - row(side)) / 2;
    let mut along = [start(Side::Top), start(Side::Bottom)];
    let mut pins = Vec::new();
    for pin in &part.pins {
        let own = width_of(pin.name.chars().count()) + 1;
        pins.push(match pin.side {
            Side::Left => Point::new(-1, take(&mut next[0], PITCH)),
            Side::Right => Point::new(width + 1, take(&mut next[1], PITCH)),
            Side::Top => Point::new(take(&mut along[0], own) + own / 2, -1),
            Side::Bottom => Point::new(take(&mut along[1], own) + own / 2, height + 1),
        });
    }
    let body = Rect::new(-1, -1, width + 1, height + 1);
    Symbol { part: index, at: Point::default(), orientation: Orientation::Upright, body, labels: Vec::new(), pins }
}

/// Distance of the pins of a box.
const PITCH: i32 = 3;

fn take(next: &mut i32, step: i32) -> i32 {
    let taken = *next;
    *next += step;
    taken
}

impl Symbol {
    pub(crate) fn moved(&self, x: i32, y: i32) -> Self {
        Self {
            at: self.at.moved(x, y),
            body: self.body.moved(x, y),
            labels: self.labels.iter().map(|label| label.moved(x, y)).collect(),
            pins: self.pins.iter().map(|pin| pin.moved(x, y)).collect(),
            ..self.clone()
        }
    }

    /// All that it covers.
    pub(crate) fn extent(&self) -> Rect {
        self.labels.iter().fold(self.body, |all, label| all.around(*label))
    }
}
