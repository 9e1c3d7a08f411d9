//! Wires: each net becomes a tree on the grid, pin by pin, by the cheapest way in length, turns and crossings (A*). A wire may
//! cross another net's only straight on, where that one runs straight too.

use std::{cmp::Reverse, collections::BinaryHeap};

use benchleaf_core::circuit::{Circuit, Role};

use super::{
    Drawing, Wire,
    geometry::{Point, Rect},
    grid::{Grid, NOBODY, WAYS},
};

/// Lays all wires; `None` where one finds no way. A net that finds none goes first in the next attempt.
pub(super) fn route(circuit: &Circuit, drawing: Drawing) -> Option<Drawing> {
    let mut first: Vec<usize> = Vec::new();
    for _ in 0..ATTEMPTS {
        match attempt(circuit, drawing.clone(), &first) {
            Ok(drawing) => return Some(drawing),
            Err(net) if first.first() == Some(&net) => return None,
            Err(net) => {
                first.retain(|known| *known != net);
                first.insert(0, net);
            }
        }
    }
    None
}

const ATTEMPTS: usize = 8;

/// Lays all wires, those of some nets first; else the net that finds no way.
fn attempt(circuit: &Circuit, mut drawing: Drawing, first: &[usize]) -> Result<Drawing, usize> {
    let mut router = Router::new(circuit, &drawing);

    for bus in &drawing.buses {
        router.bus(circuit, bus.net, bus.at);
    }
    let mut nets: Vec<usize> = (0..circuit.nets.len()).collect();
    let place = |net: &usize| first.iter().position(|known| known == net).unwrap_or(first.len());
    nets.sort_by_key(|net| (place(net), circuit.nets[*net].role == Role::Ground, router.span(*net), *net));
    for net in nets {
        router.net(net).ok_or(net)?;
    }
    for bus in &drawing.buses {
        router.trim(bus.net, bus.at);
    }
    drawing.wires = router.wires();
    drawing.dots = router.dots();
    drawing.crossings = router.crossings();
    drawing.frame = cropped(&drawing);
    Ok(drawing)
}

const STEP: u32 = 2;
const TURN: u32 = 5;
const CROSSING: u32 = 9;
const BEFORE_A_PIN: u32 = 12;
/// Beside a symbol or another wire there is less room to read.
const CLOSE: u32 = 1;

struct Router {
    grid: Grid,
    /// Where each net begins and what it must reach.
    ends: Vec<Vec<usize>>,
    /// Whether a point is part of the net's tree so far, by its net.
    tree: Vec<u16>,
    /// The straight lines of each net's tree.
    lines: Vec<Vec<Rect>>,
    /// Rows that signals keep between: the lowest rail and ground.
    rows: (i32, i32),
    signal: Vec<bool>,
    search: Search,
}

/// What a search for a way holds; kept from one to the next.
struct Search {
    cost: Vec<u32>,
    from: Vec<u32>,
    seen: Vec<u32>,
    round: u32,
    heap: BinaryHeap<Reverse<(u32, u32, u32)>>,
}

impl Router {
    fn new(circuit: &Circuit, drawing: &Drawing) -> Self {
        let mut grid = Grid::new(drawing.frame);
        let mut ends: Vec<Vec<usize>> = vec![Vec::new(); circuit.nets.len()];
        let mut pins: Vec<(usize, Point, Rect)> = Vec::new();
        for symbol in &drawing.symbols {
            grid.cover(symbol.body);
            symbol.labels.iter().for_each(|label| grid.cover(*label));
            let part = &circuit.parts[symbol.part];
            let joined = part.pins.iter().zip(&symbol.pins);
            pins.extend(joined.map(|(pin, at)| (pin.net, *at, symbol.body)));
        }
        for flag in &drawing.flags {
            let body = Rect::new(flag.at.x - 1, flag.at.y, flag.at.x + 1, flag.at.y + 3);
            grid.cover(body);
            grid.cover(flag.label);
            pins.push((flag.net, flag.at, body));
        }
        for bus in &drawing.buses {
            grid.cover(bus.label);
            let at = grid.index(bus.at);
            grid.solid[at] = false;
        }
        for (net, at, body) in pins {
            let index = grid.index(at);
            grid.solid[index] = false;
            grid.node[index] = net as u16 + 1;
            ends[net].push(index);
            // The point before a pin belongs to it.
            let way = WAYS.iter().position(|(x, y)| !body.holds(at.moved(*x, *y)));
            let before = way.map(|way| grid.next(index, way));
            if let Some(before) = before.filter(|before| !grid.solid[*before] && circuit.nets[net].pins.len() > 1) {
                grid.front[before] = (net as u16 + 1, way.unwrap_or(0) as u8);
            }
        }
        let rail =
            drawing.buses.iter().filter(|bus| circuit.nets[bus.net].role == Role::Rail).map(|bus| bus.at.y).max();
        let ground = drawing.buses.iter().find(|bus| bus.net == 0).map(|bus| bus.at.y);
        let rows = (rail.unwrap_or(drawing.frame.top - 1), ground.unwrap_or(drawing.frame.bottom + 1));
        let states = grid.width * grid.height * WAYS.len();
        let search = Search {
            cost: vec![0; states],
            from: vec![0; states],
            seen: vec![0; states],
            round: 0,
            heap: BinaryHeap::new(),
        };
        let tree = vec![NOBODY; grid.width * grid.height];
        let signal = circuit.nets.iter().map(|net| net.role == Role::Signal).collect();
        let lines = vec![Vec::new(); circuit.nets.len()];
        Self { grid, ends, tree, lines, rows, signal, search }
    }

    /// The line of a rail or of ground, as far as its last pin in a column below or above it.
    fn bus(&mut self, circuit: &Circuit, net: usize, at: Point) {
        let own = net as u16 + 1;
        let ends = self.ends[net].iter().map(|end| self.grid.point(*end).x);
        let right = ends.max().unwrap_or(at.x).max(at.x);
        for x in at.x..=right {
            let index = self.grid.index(Point::new(x, at.y));
            self.grow(index, own);
            if x < right {
                self.grid.lay(index, 0, own);
            }
        }
        let first = self.grid.index(at);
        self.grid.node[first] = own;
        self.ends[net].insert(0, first);
        let last = self.grid.index(Point::new(right, at.y));
        self.grid.node[last] = own;
        debug_assert!(net < circuit.nets.len());
    }

    /// How far a net reaches.
    fn span(&self, net: usize) -> i32 {
        let points = self.ends[net].iter().map(|end| self.grid.point(*end));
        let all = points.map(|at| Rect::new(at.x, at.y, at.x, at.y)).reduce(Rect::around).unwrap_or_default();
        all.right - all.left + all.bottom - all.top
    }

    fn net(&mut self, net: usize) -> Option<()> {
        let own = net as u16 + 1;
        let mut ends = self.ends[net].clone();
        if ends.len() < 2 {
            return Some(());
        }
        let first = ends.remove(0);
        self.grow(first, own);
        let mut joined = vec![self.grid.point(first)];
        if !self.signal[net] {
            ends.retain(|end| !self.drops(own, *end));
        }
        while !ends.is_empty() {
            let far = |end: &usize| {
                let at = self.grid.point(*end);
                joined.iter().map(|other| (at.x - other.x).abs() + (at.y - other.y).abs()).min().unwrap_or(0)
            };
            let nearest = (0..ends.len()).min_by_key(|at| (far(&ends[*at]), *at))?;
            let end = ends.remove(nearest);
            joined.push(self.grid.point(end));
            if self.tree[end] != own {
                self.join(net, end)?;
            }
        }
        Some(())
    }

    /// Lays a straight wire from a pin to its rail, or to ground, where nothing is in the way.
    fn drops(&mut self, own: u16, end: usize) -> bool {
        let level = self.ends[own as usize - 1][0] / self.grid.width;
        let way = if level < end / self.grid.width { 3 } else { 1 };
        let mut passed = vec![end];
        let mut at = end;
        while at / self.grid.width != level {
            let next = self.grid.next(at, way);
            if self.entering(own, at, next, way).is_none() {
                return false;
            }
            if self.tree[next] == own && next / self.grid.width != level {
                return false;
            }
            passed.push(next);
            at = next;
        }
        if self.tree[at] != own {
            return false;
        }
        for pair in passed.windows(2) {
            self.grid.lay(pair[0], way, own);
        }
        passed.iter().for_each(|at| self.grow(*at, own));
        self.grid.node[end] = own;
        self.grid.node[at] = own;
        true
    }

    /// Lays a wire from a pin to the net's tree.
    fn join(&mut self, net: usize, start: usize) -> Option<()> {
        let own = net as u16 + 1;
        self.search.round += 1;
        self.search.heap.clear();
        for way in 0..WAYS.len() {
            let state = start * WAYS.len() + way;
            self.note(state, 0, u32::MAX, 0);
        }
        while let Some(Reverse((expected, left, state))) = self.search.heap.pop() {
            let state = state as usize;
            let (at, way) = (state / WAYS.len(), state % WAYS.len());
            if at != start && self.tree[at] == own {
                self.lay(own, state, start);
                return Some(());
            }
            let cost = self.search.cost[state];
            if cost + left < expected {
                continue; // A cheaper way to here was found meanwhile.
            }
            // Another net passes here: only straight on.
            let crosses = at != start && self.passes(at, own);
            for next_way in 0..WAYS.len() {
                if (next_way + 2) % 4 == way && at != start || crosses && next_way != way {
                    continue;
                }
                let next = self.grid.next(at, next_way);
                let Some(entering) = self.entering(own, at, next, next_way) else { continue };
                let turn = if at != start && next_way != way { TURN } else { 0 };
                let total = cost + entering + turn;
                self.note(next * WAYS.len() + next_way, total, state as u32, self.least(net, next, next_way));
            }
        }
        None
    }

    fn note(&mut self, state: usize, cost: u32, from: u32, left: u32) {
        let Search { cost: costs, from: origins, seen, round, heap } = &mut self.search;
        if seen[state] == *round && costs[state] <= cost {
            return;
        }
        seen[state] = *round;
        costs[state] = cost;
        origins[state] = from;
        heap.push(Reverse((cost + left, left, state as u32)));
    }

    /// What a step to a point costs; `None` where it cannot be taken.
    fn entering(&self, own: u16, at: usize, next: usize, way: usize) -> Option<u32> {
        if self.grid.edge(at, way) != NOBODY || self.grid.solid[next] {
            return None;
        }
        let node = self.grid.node[next];
        if node != NOBODY && node != own {
            return None;
        }
        if self.tree[next] == own {
            // A branch cannot be where another net crosses.
            return (!self.foreign(next, own)).then_some(STEP);
        }
        let point = self.grid.point(next);
        if self.signal[own as usize - 1] && (point.y <= self.rows.0 || point.y >= self.rows.1) {
            return None;
        }
        let mut cost = STEP;
        let (front, front_way) = self.grid.front[next];
        if front != NOBODY && front != own && usize::from(front_way) % 2 == way % 2 {
            return None;
        }
        if self.passes(next, own) {
            cost += if self.foreign(next, own) { CROSSING } else { BEFORE_A_PIN };
            // It must go on on the other side.
            let beyond = self.grid.next(next, way);
            if self.grid.edge(next, way) != NOBODY || self.grid.solid[beyond] {
                return None;
            }
        }
        let aside = [(way + 1) % 4, (way + 3) % 4];
        let close = aside.iter().map(|way| self.grid.next(next, *way));
        let along = |beside: usize| {
            self.grid.solid[beside] || self.grid.edge(beside, way) != NOBODY && self.grid.edge(beside, way) != own
        };
        cost += close.filter(|beside| along(*beside)).count() as u32 * CLOSE;
        Some(cost)
    }

    /// Whether another net passes through a point, or its pin needs to.
    fn passes(&self, at: usize, own: u16) -> bool {
        let front = self.grid.front[at].0;
        front != NOBODY && front != own || self.foreign(at, own)
    }

    /// Whether a wire of another net passes through a point.
    fn foreign(&self, at: usize, own: u16) -> bool {
        self.grid.around(at).iter().any(|net| *net != NOBODY && *net != own)
    }

    /// The least that the way from a point to a net's tree can cost, for a wire that comes to the point in a direction.
    fn least(&self, net: usize, at: usize, way: usize) -> u32 {
        let at = self.grid.point(at);
        let (right, down) = WAYS[way];
        let apart = |value: i32, low: i32, high: i32| (low - value).max(0) - (value - high).max(0);
        let to = |line: &Rect| {
            let (x, y) = (apart(at.x, line.left, line.right), apart(at.y, line.top, line.bottom));
            // Straight on leads there only where no step to the side or back is needed.
            let straight = x.signum() == right && y.signum() == down || x == 0 && y == 0;
            (x.unsigned_abs() + y.unsigned_abs()) * STEP + if straight { 0 } else { TURN }
        };
        self.lines[net].iter().map(to).min().unwrap_or(0)
    }

    fn lay(&mut self, own: u16, goal: usize, start: usize) {
        let mut state = goal;
        self.grid.node[goal / WAYS.len()] = own;
        loop {
            let (at, way) = (state / WAYS.len(), state % WAYS.len());
            self.grow(at, own);
            let from = self.search.from[state];
            if at == start || from == u32::MAX {
                break;
            }
            let before = from as usize / WAYS.len();
            self.grid.lay(before, way, own);
            // Where it turns, nothing else may pass.
            if before != start && from as usize % WAYS.len() != way {
                self.grid.node[before] = own;
            }
            state = from as usize;
        }
        self.grid.node[start] = own;
        self.grow(start, own);
    }

    /// Adds a point to a net's tree.
    fn grow(&mut self, at: usize, own: u16) {
        self.tree[at] = own;
        let Point { x, y } = self.grid.point(at);
        let point = Rect::new(x, y, x, y);
        let lines = &mut self.lines[own as usize - 1];
        if let Some(last) = lines.last_mut() {
            let longer = last.around(point);
            let (width, height) = (longer.right - longer.left, longer.bottom - longer.top);
            let steps = last.right - last.left + last.bottom - last.top;
            if (width == 0 || height == 0) && width + height <= steps + 1 {
                *last = longer;
                return;
            }
        }
        lines.push(point);
    }

    /// Takes away the end of a rail's line that leads nowhere.
    fn trim(&mut self, net: usize, start: Point) {
        let own = net as u16 + 1;
        let mut at = self.grid.index(start);
        while self.grid.right[at] == own {
            at += 1;
        }
        let first = self.grid.index(start);
        while at > first {
            let used = self.grid.around(at).iter().filter(|other| **other == own).count() > 1;
            if used || self.ends[net].contains(&at) {
                break;
            }
            self.tree[at] = NOBODY;
            at -= 1;
            self.grid.right[at] = NOBODY;
        }
    }

    /// The wires as long straight lines.
    fn wires(&self) -> Vec<Wire> {
        let mut wires = Vec::new();
        for (way, edges) in [(0, &self.grid.right), (1, &self.grid.down)] {
            for at in 0..edges.len() {
                let net = edges[at];
                let back = (way + 2) % 4;
                if net == NOBODY || (self.grid.edge(at, back) == net && !self.ends_here(at, net)) {
                    continue;
                }
                let mut end = at;
                while edges[end] == net {
                    end = self.grid.next(end, way);
                    if self.ends_here(end, net) {
                        break;
                    }
                }
                wires.push(Wire { net: net as usize - 1, from: self.grid.point(at), to: self.grid.point(end) });
            }
        }
        wires
    }

    /// Whether a straight wire is cut here, because others of its net leave it.
    fn ends_here(&self, at: usize, net: u16) -> bool {
        let around = self.grid.around(at);
        around.iter().filter(|other| **other == net).count() > 2
    }

    fn dots(&self) -> Vec<Point> {
        let mut dots = Vec::new();
        for at in 0..self.tree.len() {
            let own = self.tree[at];
            if own == NOBODY {
                continue;
            }
            let wires = self.grid.around(at).iter().filter(|net| **net == own).count();
            let pin = self.ends[own as usize - 1]
                .iter()
                .skip(usize::from(!self.signal[own as usize - 1]))
                .any(|end| *end == at);
            if wires + usize::from(pin) > 2 {
                dots.push(self.grid.point(at));
            }
        }
        dots
    }

    fn crossings(&self) -> usize {
        let crossed = |at: &usize| {
            let [right, down, left, up] = self.grid.around(*at);
            right != NOBODY && right == left && down != NOBODY && down == up && right != down
        };
        (0..self.tree.len()).filter(crossed).count()
    }
}

/// The frame without what is empty at its edges.
fn cropped(drawing: &Drawing) -> Rect {
    let wires = drawing.wires.iter().map(|wire| {
        Rect::new(wire.from.x, wire.from.y, wire.from.x, wire.from.y)
            .around(Rect::new(wire.to.x, wire.to.y, wire.to.x, wire.to.y))
    });
    let symbols = drawing.symbols.iter().map(super::Symbol::extent);
    let flags = drawing.flags.iter().map(|flag| flag.label);
    let buses = drawing.buses.iter().map(|bus| bus.label);
    let all = wires.chain(symbols).chain(flags).chain(buses).reduce(Rect::around).unwrap_or_default();
    Rect::new(all.left - 1, all.top - 1, all.right + 1, all.bottom + 1)
}
