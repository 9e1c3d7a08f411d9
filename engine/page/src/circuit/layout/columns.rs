//! Which parts stand in one column: paths from rail to ground run downwards, transistors join what stands above and below
//! them, and paths between two signals lie.

use benchleaf_core::circuit::{Circuit, Role, Side, Step};

use super::{
    Widths,
    geometry::{LENGTH, Point, Rect, Symbol, chip, lying, transistor, upright, width_of},
};

/// A column: what stands in it, from an origin of its own.
#[derive(Clone, Debug)]
pub(super) struct Column {
    pub(super) form: Form,
    pub(super) symbols: Vec<Symbol>,
    pub(super) flags: Vec<ColumnFlag>,
    pub(super) taps: Vec<Tap>,
    /// Where its origin stands in the drawing's rows.
    pub(super) y: i32,
    /// The net that it hangs from, and the net that it stands on.
    pub(super) ends: Option<(usize, usize)>,
    /// Its place in reading order.
    pub(super) rank: usize,
}

/// What a column is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// Parts one below the other.
    Stack,
    /// A box with pins.
    Chip,
    /// Parts side by side.
    Run,
}

/// A mark that hangs from a net.
#[derive(Clone, Copy, Debug)]
pub(super) struct ColumnFlag {
    pub(super) net: usize,
    pub(super) test: Option<usize>,
    pub(super) at: Point,
    pub(super) label: Rect,
}

/// A place at which a column is joined to a net.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tap {
    pub(super) net: usize,
    pub(super) y: i32,
    pub(super) side: Way,
}

/// To which side a wire leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    Left,
    Right,
    /// The control pin of a transistor, which can be turned.
    Turnable,
    /// From the line of the column.
    Either,
}

/// A piece of a column: parts between two nets.
#[derive(Clone, Debug)]
struct Piece {
    steps: Vec<Step>,
    flag: Option<(usize, Option<usize>)>,
    upper: usize,
    lower: Option<usize>,
    rank: usize,
}

/// The columns of a circuit in reading order.
pub(super) fn columns(circuit: &Circuit, widths: &Widths, spread: i32) -> Vec<Column> {
    let (mut standing, lain) = pieces(circuit);
    let lain = mated(circuit, &mut standing, lain);
    let mut columns: Vec<Column> = standing.iter().map(|pieces| stack(circuit, widths, pieces, GAP + spread)).collect();
    columns.extend(lain.iter().map(|piece| run(circuit, widths, piece)));
    for (index, part) in circuit.parts.iter().enumerate().filter(|(_, part)| part.kind.is_box()) {
        columns.push(boxed(index, part));
    }
    for (net, found) in circuit.nets.iter().enumerate() {
        let named = found.role == Role::Signal && found.name.is_some() && !found.pins.is_empty();
        let tests = (0..found.tests.len()).map(Some);
        for test in named.then_some(None).into_iter().chain(tests) {
            let after = found.pins.iter().map(|(part, _)| *part).max().unwrap_or(0);
            let piece = Piece { steps: Vec::new(), flag: Some((net, test)), upper: net, lower: None, rank: after };
            columns.push(stack(circuit, widths, &[piece], GAP));
        }
    }
    columns.sort_by_key(|column| column.rank);
    columns
}

/// What stands and what lies. Paths are parted at rails, at ground and at boxes.
fn pieces(circuit: &Circuit) -> (Vec<Vec<Piece>>, Vec<Piece>) {
    let fixed = |net: usize| circuit.nets[net].role != Role::Signal;
    let mut used = vec![false; circuit.parts.len()];
    let mut runs: Vec<Vec<Step>> = Vec::new();
    for path in &circuit.paths {
        let mut run: Vec<Step> = Vec::new();
        for step in path {
            let part = &circuit.parts[step.part];
            let goes_on = run.last().is_some_and(|last: &Step| {
                let net = circuit.parts[last.part].pins[last.leaves].net;
                net == part.pins[step.enters].net && !fixed(net)
            });
            if !goes_on || part.kind.is_box() {
                runs.push(std::mem::take(&mut run));
            }
            if !part.kind.is_box() && !std::mem::replace(&mut used[step.part], true) {
                run.push(*step);
            }
        }
        runs.push(run);
    }
    for (index, part) in circuit.parts.iter().enumerate() {
        if !used[index] && !part.kind.is_box() {
            runs.push(vec![Step { part: index, enters: 0, leaves: 1 }]);
        }
    }
    let (mut standing, mut lain) = (Vec::new(), Vec::new());
    for mut steps in runs.into_iter().filter(|steps| !steps.is_empty()) {
        let ends = |steps: &[Step]| {
            let net = |step: &Step, pin: usize| circuit.parts[step.part].pins[pin].net;
            (net(&steps[0], steps[0].enters), net(&steps[steps.len() - 1], steps[steps.len() - 1].leaves))
        };
        let (upper, lower) = ends(&steps);
        let rail = |net: usize| circuit.nets[net].role == Role::Rail;
        if (upper == 0 && lower != 0) || (rail(lower) && !rail(upper)) {
            steps.reverse();
            for step in &mut steps {
                (step.enters, step.leaves) = (step.leaves, step.enters);
            }
        }
        let (upper, lower) = ends(&steps);
        let rank = steps.iter().map(|step| step.part).min().unwrap_or(0);
        let has_transistor = steps.iter().any(|step| circuit.parts[step.part].kind.is_transistor());
        let piece = Piece { steps, flag: None, upper, lower: Some(lower), rank };
        let between_rails = rail(upper) && rail(lower);
        if has_transistor || ((fixed(upper) || fixed(lower)) && !between_rails) {
            standing.push(vec![piece]);
        } else {
            lain.push(piece);
        }
    }
    (standing, lain)
}

/// Puts pieces that meet at a net one below the other, and pieces that lie between two such where they close a gap.
fn mated(circuit: &Circuit, standing: &mut Vec<Vec<Piece>>, lain: Vec<Piece>) -> Vec<Piece> {
    let has_transistor = |pieces: &[Piece]| {
        let mut steps = pieces.iter().flat_map(|piece| &piece.steps);
        steps.any(|step| circuit.parts[step.part].kind.is_transistor())
    };
    let ending = |standing: &[Vec<Piece>], net: usize| {
        let found = (0..standing.len()).filter(|at| standing[*at].last().and_then(|piece| piece.lower) == Some(net));
        found.min_by_key(|at| (!has_transistor(&standing[*at]), standing[*at][0].rank))
    };
    let beginning = |standing: &[Vec<Piece>], net: usize, not: usize| {
        let found = (0..standing.len()).filter(|at| *at != not && standing[*at][0].upper == net);
        found.min_by_key(|at| (!has_transistor(&standing[*at]), standing[*at][0].rank))
    };
    for net in (0..circuit.nets.len()).filter(|net| circuit.nets[*net].role == Role::Signal) {
        let Some(above) = ending(standing, net) else { continue };
        let Some(below) = beginning(standing, net, above) else { continue };
        join(standing, above, below);
    }
    let mut left = Vec::new();
    for piece in lain {
        let above = ending(standing, piece.upper);
        let below = above.and_then(|above| beginning(standing, piece.lower?, above));
        match (above, below) {
            (Some(above), Some(below)) => {
                standing[above].push(piece);
                join(standing, above, below);
            }
            // What lies across a part of a column stands beside it.
            _ => match beside(circuit, standing, &piece) {
                Some(piece) => standing.push(vec![piece]),
                None => left.push(piece),
            },
        }
    }
    left
}

/// A piece that lies across one that stands, the same way up; `None` where there is no such.
fn beside(circuit: &Circuit, standing: &[Vec<Piece>], piece: &Piece) -> Option<Piece> {
    let ends = (piece.upper, piece.lower?);
    let net = |step: &Step, pin: usize| circuit.parts[step.part].pins[pin].net;
    let spans = |pieces: &Vec<Piece>, (upper, lower): (usize, usize)| {
        let steps: Vec<&Step> = pieces.iter().flat_map(|piece| &piece.steps).collect();
        let above = steps.iter().position(|step| net(step, step.enters) == upper);
        let below = steps.iter().rposition(|step| net(step, step.leaves) == lower);
        above.zip(below).is_some_and(|(above, below)| above <= below)
    };
    if standing.iter().any(|pieces| spans(pieces, ends)) {
        return Some(piece.clone());
    }
    standing.iter().any(|pieces| spans(pieces, (ends.1, ends.0))).then(|| {
        let turned = |step: &Step| Step { part: step.part, enters: step.leaves, leaves: step.enters };
        let steps = piece.steps.iter().rev().map(turned).collect();
        Piece { steps, upper: ends.1, lower: Some(ends.0), ..piece.clone() }
    })
}

fn join(standing: &mut Vec<Vec<Piece>>, above: usize, below: usize) {
    let lower = std::mem::take(&mut standing[below]);
    standing[above].extend(lower);
    standing.remove(below);
}

/// Steps between two parts of a column.
const GAP: i32 = 3;

fn stack(circuit: &Circuit, widths: &Widths, pieces: &[Piece], gap: i32) -> Column {
    let mut column = Column {
        form: Form::Stack,
        symbols: Vec::new(),
        flags: Vec::new(),
        taps: Vec::new(),
        y: 0,
        ends: None,
        rank: pieces.iter().map(|piece| piece.rank).min().unwrap_or(0),
    };
    if let Some((net, test)) = pieces[0].flag {
        let characters = test.map_or(widths.nets[net], |test| widths.tests[net][test]);
        let label = Rect::new(2, 0, 2 + width_of(characters), 3);
        column.flags.push(ColumnFlag { net, test, at: Point::new(0, 0), label });
        column.taps.push(Tap { net, y: -1, side: Way::Either });
        column.ends = Some((net, net));
        return column;
    }
    let steps: Vec<Step> = pieces.iter().flat_map(|piece| piece.steps.iter().copied()).collect();
    let mut y = 0;
    for (at, step) in steps.iter().enumerate() {
        let part = &circuit.parts[step.part];
        let flipped = step.enters != 0;
        let characters = widths.parts[step.part];
        let symbol = if part.kind.is_transistor() {
            transistor(step.part, flipped, false, characters)
        } else {
            upright(step.part, part, flipped, characters)
        };
        let (upper, lower) = (part.pins[step.enters].net, part.pins[step.leaves].net);
        if at == 0 {
            column.taps.push(Tap { net: upper, y: y - 1, side: Way::Either });
            column.ends = Some((upper, lower));
        }
        if let Some(control) = part.pins.get(2) {
            column.taps.push(Tap { net: control.net, y: y + LENGTH / 2, side: Way::Turnable });
        }
        column.taps.push(Tap { net: lower, y: y + LENGTH + 1, side: Way::Either });
        column.ends = column.ends.map(|(first, _)| (first, lower));
        column.symbols.push(symbol.moved(0, y));
        y += LENGTH + gap;
    }
    column
}

fn run(circuit: &Circuit, widths: &Widths, piece: &Piece) -> Column {
    let mut symbols = Vec::new();
    let mut x = 0;
    let mut taps: Vec<Tap> = Vec::new();
    for (at, step) in piece.steps.iter().enumerate() {
        let part = &circuit.parts[step.part];
        let symbol = lying(step.part, part, step.enters != 0, widths.parts[step.part]);
        let beyond = -symbol.extent().left;
        let symbol = symbol.moved(x + if at == 0 { 0 } else { beyond + 1 }, 0);
        x = symbol.extent().right + 1;
        if at == 0 {
            taps.push(Tap { net: part.pins[step.enters].net, y: 0, side: Way::Either });
        }
        taps.push(Tap { net: part.pins[step.leaves].net, y: 0, side: Way::Either });
        symbols.push(symbol);
    }
    Column { form: Form::Run, symbols, flags: Vec::new(), taps, y: 0, ends: None, rank: piece.rank }
}

fn boxed(index: usize, part: &benchleaf_core::circuit::Part) -> Column {
    let symbol = chip(index, part);
    let taps = part.pins.iter().zip(&symbol.pins).map(|(pin, at)| {
        let (y, side) = match pin.side {
            Side::Left => (at.y, Way::Left),
            Side::Right => (at.y, Way::Right),
            Side::Top => (at.y - 1, Way::Either),
            Side::Bottom => (at.y + 1, Way::Either),
        };
        Tap { net: pin.net, y, side }
    });
    let taps = taps.collect();
    Column { form: Form::Chip, symbols: vec![symbol], flags: Vec::new(), taps, y: 0, ends: None, rank: index }
}

impl Column {
    /// What it covers, from its own origin.
    pub(super) fn extent(&self) -> Rect {
        let flags =
            self.flags.iter().map(|flag| Rect::new(flag.at.x - 1, flag.at.y, flag.at.x + 1, 3).around(flag.label));
        let all = self.symbols.iter().map(Symbol::extent).chain(flags);
        all.reduce(Rect::around).unwrap_or_default()
    }

    /// Its rows in the drawing, with the wires above and below.
    pub(super) fn rows(&self) -> (i32, i32) {
        let extent = self.extent();
        (extent.top + self.y, extent.bottom + self.y)
    }
}
