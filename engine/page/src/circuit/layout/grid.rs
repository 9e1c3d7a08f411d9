//! The grid that wires run on: what is taken, and by which net.

use super::geometry::{Point, Rect};

/// The four ways from a point: right, down, left, up.
pub(super) const WAYS: [(i32, i32); 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

/// What belongs to no net.
pub(super) const NOBODY: u16 = 0;

/// The grid.
pub(super) struct Grid {
    pub(super) frame: Rect,
    pub(super) width: usize,
    pub(super) height: usize,
    points: Vec<Point>,
    /// Whether a symbol or a label covers the point.
    pub(super) solid: Vec<bool>,
    /// The net that alone may use the point: one that ends, turns or branches there.
    pub(super) node: Vec<u16>,
    /// The net whose pin lies beside the point, and in which way; others cross there only straight on.
    pub(super) front: Vec<(u16, u8)>,
    /// The net whose wire runs from the point to the right, and down.
    pub(super) right: Vec<u16>,
    pub(super) down: Vec<u16>,
}

impl Grid {
    pub(super) fn new(frame: Rect) -> Self {
        let width = (frame.right - frame.left + 1).max(1) as usize;
        let height = (frame.bottom - frame.top + 1).max(1) as usize;
        let size = width * height;
        let empty = || vec![NOBODY; size];
        let rows = frame.top..frame.top + height as i32;
        let points =
            rows.flat_map(|y| (frame.left..frame.left + width as i32).map(move |x| Point::new(x, y))).collect();
        let edge =
            |at: usize| at < width || at >= size - width || at.is_multiple_of(width) || (at + 1).is_multiple_of(width);
        Self {
            frame,
            width,
            height,
            points,
            solid: (0..size).map(edge).collect(),
            node: empty(),
            front: vec![(NOBODY, 0); size],
            right: empty(),
            down: empty(),
        }
    }

    /// Where a point stands in the lists.
    pub(super) fn index(&self, point: Point) -> usize {
        let x = (point.x - self.frame.left).clamp(0, self.width as i32 - 1) as usize;
        let y = (point.y - self.frame.top).clamp(0, self.height as i32 - 1) as usize;
        y * self.width + x
    }

    pub(super) fn point(&self, index: usize) -> Point {
        self.points[index]
    }

    pub(super) fn cover(&mut self, rect: Rect) {
        for y in rect.top..=rect.bottom {
            for x in rect.left..=rect.right {
                let at = self.index(Point::new(x, y));
                self.solid[at] = true;
            }
        }
    }

    /// The neighbour of a point. The outermost points are solid, so that every other one has four.
    pub(super) fn next(&self, at: usize, way: usize) -> usize {
        match way {
            0 => at + 1,
            1 => at + self.width,
            2 => at - 1,
            _ => at - self.width,
        }
    }

    /// Whose wire runs from a point in a way.
    pub(super) fn edge(&self, at: usize, way: usize) -> u16 {
        match way {
            0 => self.right[at],
            1 => self.down[at],
            2 => at.checked_sub(1).map_or(NOBODY, |before| self.right[before]),
            _ => at.checked_sub(self.width).map_or(NOBODY, |above| self.down[above]),
        }
    }

    pub(super) fn lay(&mut self, at: usize, way: usize, net: u16) {
        match way {
            0 => self.right[at] = net,
            1 => self.down[at] = net,
            2 => self.right[at - 1] = net,
            _ => self.down[at - self.width] = net,
        }
    }

    /// Whose wires pass through a point.
    pub(super) fn around(&self, at: usize) -> [u16; 4] {
        std::array::from_fn(|way| self.edge(at, way))
    }
}
