//! Rows and columns become places on the grid: taps of one net stand in one row where they can, columns have a width of
//! their own, rails run above and ground below.

use benchleaf_core::circuit::{Circuit, Role};

use super::{
    Bus, Drawing, Flag, Widths,
    columns::{Column, Form, Way},
    geometry::{Orientation, Point, Rect, Symbol, transistor, width_of},
};

/// Sets each column's row, so that nets run level from what stands in its place already.
pub(super) fn rows(circuit: &Circuit, mut columns: Vec<Column>) -> Vec<Column> {
    let mut rows: Vec<Option<i32>> = vec![None; circuit.nets.len()];
    let mut left: Vec<usize> = (0..columns.len()).collect();
    // Boxes have most pins: what is joined to them follows their rows.
    left.sort_by_key(|at| (columns[*at].form != Form::Chip, columns[*at].rank));
    while !left.is_empty() {
        let joined = |at: &usize| aligned(circuit, &columns[*at], &rows);
        let found = left.iter().enumerate().find_map(|(place, at)| Some((place, joined(at)?)));
        let (place, y) = found.unwrap_or_else(|| (0, default_row(&columns[left[0]])));
        let at = left.remove(place);
        columns[at].y = y;
        for tap in &columns[at].taps {
            if circuit.nets[tap.net].role == Role::Signal {
                rows[tap.net].get_or_insert(tap.y + y);
            }
        }
    }
    columns
}

/// The row at which one of a column's taps stands level with its net.
fn aligned(circuit: &Circuit, column: &Column, rows: &[Option<i32>]) -> Option<i32> {
    let signal = |net: usize| circuit.nets[net].role == Role::Signal;
    let taps = column.taps.iter().filter(|tap| signal(tap.net));
    let level = taps.filter_map(|tap| Some((tap, rows[tap.net]?)));
    let best = level.min_by_key(|(tap, _)| match tap.side {
        Way::Left | Way::Right => 0,
        Way::Turnable => 1,
        Way::Either => 2,
    })?;
    Some(best.1 - best.0.y)
}

/// Where a column stands that nothing else gives a row.
fn default_row(column: &Column) -> i32 {
    if column.form == Form::Run { 3 } else { 0 }
}

/// Rows between the lowest rail and the uppermost symbol, and below.
const MARGIN: i32 = 3;
/// Rows between two rails.
const BETWEEN: i32 = 4;
/// Steps between two columns.
const APART: i32 = 2;

/// Gives everything its place. Wires come later.
pub(super) fn place(circuit: &Circuit, columns: &[Column], widths: &Widths, spread: i32) -> Drawing {
    let turned = turned(circuit, columns, widths);
    let mut drawing = Drawing { symbols: vec![unplaced(); circuit.parts.len()], ..Drawing::default() };
    let mut x = 0;
    for (number, column) in turned.iter().enumerate() {
        let extent = column.extent();
        let apart = if number == 0 { 0 } else { APART + 2 * spread + crowding(circuit, &turned, number) };
        let (dx, dy) = (x + apart - extent.left, column.y);
        for symbol in &column.symbols {
            drawing.symbols[symbol.part] = symbol.moved(dx, dy);
        }
        for flag in &column.flags {
            let (at, label) = (flag.at.moved(dx, dy), flag.label.moved(dx, dy));
            drawing.flags.push(Flag { net: flag.net, test: flag.test, at, label });
        }
        x += apart + extent.right - extent.left + 1;
    }
    buses(circuit, &mut drawing, widths, spread);
    drawing
}

fn unplaced() -> Symbol {
    Symbol {
        part: 0,
        at: Point::default(),
        orientation: Orientation::Upright,
        body: Rect::default(),
        labels: Vec::new(),
        pins: Vec::new(),
    }
}

/// More room beside a box with many pins on that side, whose wires turn there.
fn crowding(circuit: &Circuit, columns: &[Column], number: usize) -> i32 {
    let pins = |column: &Column, way: Way| {
        let signal = |net: usize| circuit.nets[net].pins.len() > 1;
        column.taps.iter().filter(|tap| tap.side == way && signal(tap.net)).count() as i32
    };
    (pins(&columns[number - 1], Way::Right).max(pins(&columns[number], Way::Left)) + 1) / 2
}

/// Turns transistors and lying parts towards what they are joined to.
fn turned(circuit: &Circuit, columns: &[Column], widths: &Widths) -> Vec<Column> {
    let mut places: Vec<Vec<usize>> = vec![Vec::new(); circuit.nets.len()];
    for (at, column) in columns.iter().enumerate() {
        column.taps.iter().for_each(|tap| places[tap.net].push(at));
    }
    let middle = |net: usize, own: usize| {
        let others: Vec<i32> = places[net].iter().filter(|at| **at != own).map(|at| *at as i32).collect();
        let count = others.len() as i32;
        (count > 0).then(|| others.iter().sum::<i32>() as f64 / f64::from(count))
    };
    let mut turned = columns.to_vec();
    for (at, column) in turned.iter_mut().enumerate() {
        match column.form {
            Form::Run => {
                let (Some(first), Some(last)) = (column.taps.first(), column.taps.last()) else { continue };
                let ends = (middle(first.net, at), middle(last.net, at));
                let (Some(start), Some(end)) = ends else { continue };
                if start > end {
                    flip(column);
                }
            }
            Form::Stack => {
                for symbol in &mut column.symbols {
                    let part = &circuit.parts[symbol.part];
                    let Some(control) = part.pins.get(2) else { continue };
                    if middle(control.net, at).is_some_and(|middle| middle > at as f64) {
                        let (x, y) = (symbol.at.x, symbol.at.y);
                        let flipped = symbol.orientation == Orientation::UpsideDown;
                        *symbol = transistor(symbol.part, flipped, true, widths.parts[symbol.part]).moved(x, y);
                    }
                }
            }
            Form::Chip => {}
        }
    }
    turned
}

/// Turns a run end for end.
fn flip(column: &mut Column) {
    let extent = column.extent();
    let mirrored = |rect: Rect| Rect::new(extent.right - rect.right, rect.top, extent.right - rect.left, rect.bottom);
    for symbol in &mut column.symbols {
        symbol.body = mirrored(symbol.body);
        symbol.labels.iter_mut().for_each(|label| *label = mirrored(*label));
        symbol.pins.iter_mut().for_each(|pin| pin.x = extent.right - pin.x);
        symbol.at.x = symbol.body.left;
        symbol.orientation = match symbol.orientation {
            Orientation::Lying => Orientation::LyingTurned,
            _ => Orientation::Lying,
        };
    }
    column.symbols.reverse();
    column.taps.reverse();
}

/// Rails above everything, ground below it, each with its label at the left end.
fn buses(circuit: &Circuit, drawing: &mut Drawing, widths: &Widths, spread: i32) {
    let flags = drawing
        .flags
        .iter()
        .map(|flag| flag.label.around(Rect::new(flag.at.x - 1, flag.at.y, flag.at.x + 1, flag.at.y + 3)));
    let all = drawing.symbols.iter().map(Symbol::extent).chain(flags).reduce(Rect::around).unwrap_or_default();
    let (margin, left) = (MARGIN + 2 * spread, all.left - 3 - spread);
    let mut top = all.top - margin;
    let mut frame = all;
    let used = |net: &usize| circuit.nets[*net].pins.len() + circuit.nets[*net].tests.len() > 0;
    let rails = (0..circuit.nets.len()).filter(|net| circuit.nets[*net].role == Role::Rail).filter(used);
    for net in rails.collect::<Vec<_>>().into_iter().rev() {
        let at = Point::new(left, top);
        let label = Rect::new(left - 1 - width_of(widths.nets[net]), top - 1, left - 1, top + 1);
        frame = frame.around(label);
        drawing.buses.push(Bus { net, at, label });
        top -= BETWEEN;
    }
    if used(&0) {
        let at = Point::new(left, all.bottom + margin);
        let label = Rect::new(left - 2, at.y + 1, left + 2, at.y + 4);
        frame = frame.around(label);
        drawing.buses.push(Bus { net: 0, at, label });
    }
    let margin = margin + 1;
    drawing.frame = Rect::new(frame.left - margin, frame.top - margin, frame.right + margin, frame.bottom + margin);
}
