//! The drawing of a circuit as SVG, in the page's type and colour. Every text that may change with a value stands in an
//! element of its own, in room that is kept for it, so that a live page changes the texts and nothing else.

use benchleaf_core::circuit::{Circuit, Role, Side};
use benchleaf_words::Words;
use maud::{Markup, html};

use super::{
    layout::{Bus, Drawing, Flag, Orientation, Rect, Symbol},
    symbols::shape,
    words::{Texts, describe},
};

/// Pixels of a step.
const STEP: f64 = 8.0;

/// The whole drawing.
pub(super) fn set(words: Words<'_>, circuit: &Circuit, drawing: &Drawing, texts: &Texts, name: &str) -> Markup {
    let frame = drawing.frame;
    let (width, height) = (f64::from(frame.right - frame.left) * STEP, f64::from(frame.bottom - frame.top) * STEP);
    let view = format!("{} {} {width} {height}", px(frame.left), px(frame.top));
    let wires: String = drawing
        .wires
        .iter()
        .map(|wire| format!("M{} {}L{} {}", px(wire.from.x), px(wire.from.y), px(wire.to.x), px(wire.to.y)))
        .collect();
    html! {
        svg.circuit role="group" aria-label=(name) viewBox=(view) width=(width) height=(height)
            xmlns="http://www.w3.org/2000/svg" fill="none" stroke="currentColor" stroke-width="1.5" stroke-linecap="round"
            stroke-linejoin="round" font-family="sans-serif" font-size="12.5" {
            title { (name) }
            path d=(wires) {}
            @for dot in &drawing.dots { circle.dot cx=(px(dot.x)) cy=(px(dot.y)) r="2.6" fill="currentColor" stroke="none" {} }
            @for bus in &drawing.buses { (rail(circuit, bus, texts)) }
            @for flag in &drawing.flags { (mark(flag, texts)) }
            @for (number, symbol) in drawing.symbols.iter().enumerate() { (part(words, circuit, symbol, texts, number == 0)) }
        }
    }
}

fn px(steps: i32) -> f64 {
    f64::from(steps) * STEP
}

/// Where text stands against its point.
#[derive(Clone, Copy)]
enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    fn word(self) -> &'static str {
        match self {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        }
    }
}

fn text(x: f64, y: f64, anchor: Anchor, class: Option<&str>, said: &Markup) -> Markup {
    html! { text x=(x) y=(y) text-anchor=(anchor.word()) fill="currentColor" stroke="none" class=[class] { (said) } }
}

/// A text that follows a value.
fn value(x: f64, y: f64, anchor: Anchor, key: &str, said: &str) -> Markup {
    html! { text x=(x) y=(y) text-anchor=(anchor.word()) fill="currentColor" stroke="none" data-circuit-value=(key) { (said) } }
}

fn rail(circuit: &Circuit, bus: &Bus, texts: &Texts) -> Markup {
    let (x, y) = (px(bus.at.x), px(bus.at.y));
    if circuit.nets[bus.net].role == Role::Ground {
        let lines = format!("M{x} {y}v10m-10 0h20m-16 4h12m-8 4h4");
        return html! { path d=(lines) {} };
    }
    let (name, shown) = texts.net(bus.net);
    html! {
        g data-net=(bus.net) {
            @match shown {
                Some(shown) => {
                    (text(x - 8.0, y - 3.0, Anchor::End, None, &subscripted(&name)))
                    (value(x - 8.0, y + 12.0, Anchor::End, &Texts::net_key(bus.net), &shown))
                },
                None => (text(x - 8.0, y + 4.0, Anchor::End, None, &subscripted(&name))),
            }
        }
    }
}

fn mark(flag: &Flag, texts: &Texts) -> Markup {
    let (x, y) = (px(flag.at.x), px(flag.at.y));
    let (name, shown) = match flag.test {
        Some(test) => texts.test(flag.net, test),
        None => texts.net(flag.net),
    };
    let left = px(flag.label.left) - 2.0;
    html! {
        g data-net=(flag.net) {
            path d=(format!("M{x} {y}v8")) {}
            circle cx=(x) cy=(y + 12.0) r="4" {}
            (text(left, y + 12.0, Anchor::Start, None, &subscripted(&name)))
            @if let Some(shown) = shown { (value(left, y + 27.0, Anchor::Start, &texts.flag_key(flag.net, flag.test), &shown)) }
        }
    }
}

fn part(words: Words<'_>, circuit: &Circuit, symbol: &Symbol, texts: &Texts, first: bool) -> Markup {
    let index = symbol.part;
    let part = &circuit.parts[index];
    let given = part.values.first();
    let said = describe(words, circuit, texts, index);
    html! {
        g.part data-part=(part.name()) data-value=[given] role="img" aria-label=(said) tabindex=(if first { "0" } else { "-1" }) {
            title { (said) }
            @if part.kind.is_box() { (boxed(circuit, symbol)) } @else {
                (room(symbol.body))
                (drawn(circuit, symbol))
                (labels(symbol, texts, index))
            }
        }
    }
}

/// The area that a pointer finds a symbol by.
fn room(body: Rect) -> Markup {
    html! {
        rect.room x=(px(body.left)) y=(px(body.top)) width=(px(body.right - body.left)) height=(px(body.bottom - body.top))
            fill="none" stroke="none" pointer-events="all" {}
    }
}

fn drawn(circuit: &Circuit, symbol: &Symbol) -> Markup {
    let part = &circuit.parts[symbol.part];
    let shape = shape(part.kind, part.state);
    let (x, y) = (px(symbol.at.x), px(symbol.at.y));
    let length = 6.0 * STEP;
    let mirrored = symbol.pins.get(2).is_some_and(|control| control.x > symbol.at.x);
    let across = if mirrored { -STEP } else { STEP };
    let placed = match symbol.orientation {
        Orientation::UpsideDown => format!("matrix({across} 0 0 {} {x} {})", -STEP, y + length),
        Orientation::Lying => format!("matrix(0 {} {STEP} 0 {x} {y})", -STEP),
        Orientation::LyingTurned => format!("matrix(0 {} {} 0 {} {y})", -STEP, -STEP, x + length),
        Orientation::Upright | Orientation::Mirrored => format!("matrix({across} 0 0 {STEP} {x} {y})"),
    };
    let lies = matches!(symbol.orientation, Orientation::Lying | Orientation::LyingTurned);
    let (mid_x, mid_y) = if lies { (x + length / 2.0, y) } else { (x, y + length / 2.0) };
    html! {
        path d=(shape.lines) transform=(placed) vector-effect="non-scaling-stroke" {}
        @if !shape.filled.is_empty() {
            path d=(shape.filled) transform=(placed) fill="currentColor" vector-effect="non-scaling-stroke" stroke-width="1" {}
        }
        @if let Some(letter) = shape.letter { (text(mid_x, mid_y + 4.5, Anchor::Middle, None, &html! { (letter) })) }
    }
}

fn labels(symbol: &Symbol, texts: &Texts, index: usize) -> Markup {
    let (name, shown) = texts.part(index);
    let name = subscripted(&name);
    let key = Texts::part_key(index);
    match symbol.labels.as_slice() {
        [above, below] => {
            let middle = (px(above.left) + px(above.right)) / 2.0;
            html! {
                (text(middle, px(above.bottom) - 1.0, Anchor::Middle, None, &name))
                @if let Some(shown) = shown { (value(middle, px(below.top) + 12.0, Anchor::Middle, &key, &shown)) }
            }
        }
        [beside] => {
            let before = beside.right < symbol.at.x;
            let (x, anchor) =
                if before { (px(beside.right) + 2.0, Anchor::End) } else { (px(beside.left) - 2.0, Anchor::Start) };
            let middle = (px(beside.top) + px(beside.bottom)) / 2.0;
            html! {
                @match shown {
                    Some(shown) => {
                        (text(x, middle - 3.0, anchor, None, &name))
                        (value(x, middle + 12.0, anchor, &key, &shown))
                    },
                    None => (text(x, middle + 4.5, anchor, None, &name)),
                }
            }
        }
        _ => html! {},
    }
}

/// A name whose part after the first `_` stands lower.
fn subscripted(name: &str) -> Markup {
    match name.split_once('_') {
        Some((head, below)) if !head.is_empty() && !below.is_empty() => html! {
            tspan font-style="italic" { (head) } tspan dy="3" font-size="9.5" { (below.replace('_', " ")) } tspan dy="-3" { "\u{200b}" }
        },
        _ => html! { (name) },
    }
}

fn said(text: &str) -> Markup {
    html! { (text) }
}

fn boxed(circuit: &Circuit, symbol: &Symbol) -> Markup {
    let part = &circuit.parts[symbol.part];
    let body = symbol.body;
    let (left, top) = (px(body.left + 1), px(body.top + 1));
    let (width, height) = (px(body.right - body.left - 2), px(body.bottom - body.top - 2));
    let has_top = part.pins.iter().any(|pin| pin.side == Side::Top);
    let head = top + if has_top { 36.0 } else { 20.0 };
    let leads: String = part
        .pins
        .iter()
        .zip(&symbol.pins)
        .map(|(pin, at)| {
            let (x, y) = (px(at.x), px(at.y));
            match pin.side {
                Side::Left => format!("M{x} {y}h8"),
                Side::Right => format!("M{x} {y}h-8"),
                Side::Top => format!("M{x} {y}v8"),
                Side::Bottom => format!("M{x} {y}v-8"),
            }
        })
        .collect();
    html! {
        rect x=(left) y=(top) width=(width) height=(height) pointer-events="all" {}
        path d=(leads) {}
        (text(left + width / 2.0, head, Anchor::Middle, None, &subscripted(part.name())))
        @if let Some(label) = &part.label { (text(left + width / 2.0, head + 15.0, Anchor::Middle, Some("what"), &html! { (label) })) }
        @for (pin, at) in part.pins.iter().zip(&symbol.pins) {
            @let (x, y) = (px(at.x), px(at.y));
            @match pin.side {
                Side::Left => (text(x + 13.0, y + 4.5, Anchor::Start, Some("pin"), &said(&pin.name))),
                Side::Right => (text(x - 13.0, y + 4.5, Anchor::End, Some("pin"), &said(&pin.name))),
                Side::Top => (text(x, y + 22.0, Anchor::Middle, Some("pin"), &said(&pin.name))),
                Side::Bottom => (text(x, y - 13.0, Anchor::Middle, Some("pin"), &said(&pin.name))),
            }
        }
    }
}
