//! Calls in formulas: roots, fences and parallel bars where mathematics has a sign of its own, words for preferred
//! values, and upright names with their arguments for everything else.

use benchleaf_core::lang::ast::{Argument, BinaryOp, Expr};
use benchleaf_words::{Word, key};
use maud::{Markup, html};

use super::{Names, Piece, Setter, name::name, operator, words};

impl Setter<'_, '_> {
    pub(super) fn call(&self, function: &str, arguments: &[Argument]) -> Piece {
        let unnamed = arguments.iter().all(|argument| argument.name.is_none());
        match (function, arguments) {
            ("sqrt", [x]) if unnamed => {
                let x = self.set(&x.value);
                Piece::atom(html! { msqrt { (x.markup) } }, x.width + 2)
            }
            ("abs", [x]) if unnamed => self.fenced("|", &x.value, "|"),
            ("floor", [x]) if unnamed => self.fenced("⌊", &x.value, "⌋"),
            ("ceil", [x]) if unnamed => self.fenced("⌈", &x.value, "⌉"),
            ("parallel", [_, _, ..]) if unnamed => self.parallel(arguments),
            ("preferred_nearest", [series, x]) if unnamed => self.preferred(series, key::FORMULA_NEAREST, x),
            ("preferred_below", [series, x]) if unnamed => self.preferred(series, key::FORMULA_BELOW, x),
            ("preferred_above", [series, x]) if unnamed => self.preferred(series, key::FORMULA_ABOVE, x),
            ("interpolate", [x, points @ ..]) if unnamed && points.len() > 4 => self.through(function, x, points),
            _ => self.named(function, arguments),
        }
    }

    fn fenced(&self, open: &str, inner: &Expr, close: &str) -> Piece {
        let inner = self.set(inner);
        let markup = html! {
            mrow {
                mo form="prefix" stretchy="true" { (open) } (inner.markup) mo form="postfix" stretchy="true" { (close) }
            }
        };
        Piece::atom(markup, inner.width + 2)
    }

    fn parallel(&self, arguments: &[Argument]) -> Piece {
        let binding = BinaryOp::Parallel.binding();
        let parts: Vec<Piece> = arguments.iter().map(|a| self.set(&a.value).after_operator(binding)).collect();
        let width = parts.iter().map(|part| part.width + 3).sum();
        let markup = html! {
            mrow {
                @for (i, part) in parts.iter().enumerate() {
                    @if i > 0 { (operator("∥")) }
                    (part.markup)
                }
            }
        };
        Piece::bound(markup, width, binding)
    }

    /// `E24 value at or below x`.
    fn preferred(&self, series: &Argument, relation: Word<0>, x: &Argument) -> Piece {
        let relation = self.context.words.text(relation);
        let series = self.set(&series.value);
        let x = self.set(&x.value).after_operator(BinaryOp::Multiply.binding());
        let markup = html! { mrow { (series.markup) (words(relation)) (x.markup) } };
        Piece::bound(markup, series.width + relation.len() + 2 + x.width, BinaryOp::Or.binding())
    }

    /// A line through points: these in rows of a few, pair by pair. Where numbers are put in, they stand above already.
    fn through(&self, function: &str, x: &Argument, points: &[Argument]) -> Piece {
        let x = self.set(&x.value);
        let mut has_names = false;
        points.iter().for_each(|point| point.value.names(&mut |_| has_names = true));
        let repeats = self.names == Names::Values && !has_names;
        let pairs: Vec<Vec<Piece>> =
            points.chunks(2).map(|pair| pair.iter().map(|one| self.set(&one.value)).collect()).collect();
        let width = |pair: &Vec<Piece>| pair.iter().map(|one| one.width + 2).sum::<usize>() + 2;
        let widest = pairs.iter().map(width).max().unwrap_or(1);
        let room = WIDE.saturating_sub(function.len() + x.width);
        let markup = html! {
            mrow {
                (function_name(function)) mo { "\u{2061}" } mo { "(" } (x.markup) mo separator="true" { "," }
                @if repeats { mi { "…" } } @else {
                    mtable class="arguments" {
                        @for row in pairs.chunks((room / widest).max(1)) {
                            mtr {
                                @for pair in row {
                                    mtd {
                                        mo stretchy="false" { "(" }
                                        @for (i, one) in pair.iter().enumerate() {
                                            @if i > 0 { mo separator="true" { "," } }
                                            (one.markup)
                                        }
                                        mo stretchy="false" { ")" }
                                    }
                                }
                            }
                        }
                    }
                }
                mo { ")" }
            }
        };
        Piece::atom(markup, if repeats { x.width + function.len() + 4 } else { WIDE })
    }

    fn named(&self, function: &str, arguments: &[Argument]) -> Piece {
        let set: Vec<(Option<Markup>, Piece)> = arguments
            .iter()
            .map(|argument| (argument.name.as_ref().map(|given| name(&given.item)), self.set(&argument.value)))
            .collect();
        let width: usize = arguments
            .iter()
            .zip(&set)
            .map(|(a, (_, piece))| piece.width + 2 + a.name.as_ref().map_or(0, |n| n.item.len() + 3))
            .sum();
        let head = function_name(function);
        let tabled = set.len() > 3 && width > WIDE;
        let markup = html! {
            mrow {
                (head) mo { "\u{2061}" } mo { "(" }
                @if tabled {
                    mtable class="arguments" {
                        @for (named, piece) in &set {
                            mtr {
                                mtd { @if let Some(named) = named { (named) } }
                                mtd { @if named.is_some() { mo { "=" } } (piece.markup) }
                            }
                        }
                    }
                } @else {
                    @for (i, (named, piece)) in set.iter().enumerate() {
                        @if i > 0 { mo separator="true" { "," } }
                        @if let Some(named) = named { (named) mo { "=" } }
                        (piece.markup)
                    }
                }
                mo { ")" }
            }
        };
        Piece::atom(markup, if tabled { WIDE } else { width + function.len() })
    }
}

/// The name of a function: an index for a logarithm's base, upright words for the rest.
fn function_name(function: &str) -> Markup {
    match function {
        "log10" => html! { msub { mi { "log" } mn { "10" } } },
        _ if function.contains(['.', '_']) => html! { mi mathvariant="normal" { (function) } },
        _ => html! { mi { (function) } },
    }
}

/// Arguments wider than this, in characters, stand below one another.
const WIDE: usize = 40;
