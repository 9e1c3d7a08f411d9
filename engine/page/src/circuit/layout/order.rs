//! The order of columns from left to right: that of reading, moved where wires would cross or run far.

use benchleaf_core::circuit::{Circuit, Role};

use super::columns::{Column, Form, Way};

/// Puts the columns in order.
pub(super) fn ordered(circuit: &Circuit, columns: Vec<Column>) -> Vec<Column> {
    let nets = nets(circuit, &columns);
    let blocks: Vec<Block> = columns.iter().map(|column| Block::of(circuit, column)).collect();
    let mut order: Vec<usize> = (0..columns.len()).collect();
    let window = if columns.len() > LARGE { NEAR } else { columns.len() };
    let runs: Vec<(usize, usize, usize)> = runs(&columns);
    let mut position = vec![0; columns.len()];
    let mut cost = |order: &[usize]| {
        order.iter().enumerate().for_each(|(at, column)| position[*column] = at);
        let moved: i32 = order.iter().enumerate().map(|(at, column)| (at as i32 - *column as i32).abs()).sum();
        let joined: i32 = nets.iter().map(|net| net.cost(order, &position, &blocks)).sum();
        let turned = runs.iter().filter(|run| is_turned(**run, &nets, &position)).count() as i32 * TURNED;
        (joined + turned) * READING + moved
    };
    let mut least = cost(&order);
    for pass in 0..PASSES {
        if pass > 0 {
            // The same from right to left may be nearer to reading order.
            order.reverse();
            let reversed = cost(&order);
            if reversed < least {
                least = reversed;
            } else {
                order.reverse();
            }
        }
        let before = least;
        for column in 0..columns.len() {
            let Some(from) = order.iter().position(|at| *at == column) else { continue };
            let mut best = (least, from);
            for to in from.saturating_sub(window)..(from + window + 1).min(order.len()) {
                move_to(&mut order, from, to);
                let found = cost(&order);
                if found < best.0 {
                    best = (found, to);
                }
                move_to(&mut order, to, from);
            }
            move_to(&mut order, from, best.1);
            least = best.0;
        }
        if least == before {
            break;
        }
    }
    let mut columns: Vec<Option<Column>> = columns.into_iter().map(Some).collect();
    order.into_iter().filter_map(|at| columns[at].take()).collect()
}

/// How much a step of the cost weighs against reading order.
const READING: i32 = 4;
const PASSES: usize = 4;
/// Columns from which on only near places are tried.
const LARGE: usize = 28;
const NEAR: usize = 8;

fn move_to(order: &mut [usize], from: usize, to: usize) {
    if from < to {
        order[from..=to].rotate_left(1);
    } else {
        order[to..=from].rotate_right(1);
    }
}

/// The parts that lie, with the nets at their two ends.
fn runs(columns: &[Column]) -> Vec<(usize, usize, usize)> {
    let lying = columns.iter().enumerate().filter(|(_, column)| column.form == Form::Run);
    lying.filter_map(|(at, column)| Some((at, column.taps.first()?.net, column.taps.last()?.net))).collect()
}

/// Whether what both ends of a lying part are joined to stands on the same side of it.
fn is_turned((column, first, last): (usize, usize, usize), nets: &[Joined], position: &[usize]) -> bool {
    let own = position[column] as i32;
    let side = |net: usize| {
        let found = nets.iter().find(|joined| joined.net == net);
        let taps = found.map_or(&[][..], |joined| joined.taps.as_slice()).iter().filter(|tap| tap.0 != column);
        taps.map(|tap| position[tap.0] as i32 - own).sum::<i32>().signum()
    };
    side(first) * side(last) > 0
}

/// What a wire that runs across a column meets.
struct Block {
    /// Rows with symbols and labels.
    solid: (i32, i32),
    /// Rows with wires of the column too, up to rail and ground.
    wired: (i32, i32),
    form: Form,
}

impl Block {
    fn of(circuit: &Circuit, column: &Column) -> Self {
        let solid = column.rows();
        let fixed = |net: usize| circuit.nets[net].role != Role::Signal;
        let mut wired = solid;
        for tap in &column.taps {
            if fixed(tap.net) {
                match circuit.nets[tap.net].role {
                    Role::Ground => wired.1 = i32::MAX,
                    _ => wired.0 = i32::MIN,
                }
            }
        }
        Self { solid, wired, form: column.form }
    }
}

/// A net and the columns that it joins.
struct Joined {
    net: usize,
    /// Column, row, way out.
    taps: Vec<(usize, i32, Way)>,
    row: i32,
}

fn nets(circuit: &Circuit, columns: &[Column]) -> Vec<Joined> {
    let mut nets: Vec<Joined> = (0..circuit.nets.len()).map(|net| Joined { net, taps: Vec::new(), row: 0 }).collect();
    for (index, column) in columns.iter().enumerate() {
        for tap in &column.taps {
            nets[tap.net].taps.push((index, tap.y + column.y, tap.side));
        }
    }
    for (index, net) in nets.iter_mut().enumerate() {
        if circuit.nets[index].role != Role::Signal {
            net.taps.clear();
        }
        let mut rows: Vec<i32> = net.taps.iter().map(|tap| tap.1).collect();
        rows.sort_unstable();
        net.row = rows.get(rows.len() / 2).copied().unwrap_or(0);
    }
    nets.retain(|net| net.taps.len() > 1);
    nets
}

impl Joined {
    fn cost(&self, order: &[usize], position: &[usize], blocks: &[Block]) -> i32 {
        let places = self.taps.iter().map(|tap| position[tap.0]);
        let (first, last) = places.fold((usize::MAX, 0), |(first, last), at| (first.min(at), last.max(at)));
        let mut cost = (last - first) as i32 * LONG;
        for column in order.iter().copied().take(last).skip(first + 1) {
            if self.taps.iter().any(|tap| tap.0 == column) {
                continue;
            }
            let block = &blocks[column];
            if (block.solid.0..=block.solid.1).contains(&self.row) {
                cost += if block.form == Form::Chip { AROUND } else { THROUGH };
            } else if (block.wired.0..=block.wired.1).contains(&self.row) {
                cost += CROSSED;
            }
        }
        // A pin at one side of a box, and all that it is joined to at the other.
        for (column, _, way) in &self.taps {
            let at = position[*column];
            let others = || self.taps.iter().map(|tap| position[tap.0]).filter(|other| *other != at);
            let wrong = match way {
                Way::Left => others().filter(|other| *other > at).count(),
                Way::Right => others().filter(|other| *other < at).count(),
                Way::Turnable | Way::Either => 0,
            };
            cost += wrong as i32 * TURNED;
        }
        cost
    }
}

/// What a column between two that are joined costs, and what it costs to pass through it.
const LONG: i32 = 2;
const CROSSED: i32 = 5;
const THROUGH: i32 = 7;
const AROUND: i32 = 12;
const TURNED: i32 = 14;
