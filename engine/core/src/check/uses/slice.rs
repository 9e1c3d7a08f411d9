//! What of a used worksheet the wanted values depend on: found by words, before anything is checked.

use std::collections::{HashMap, HashSet};

use crate::{
    lang::ast::{Statement, StatementBody},
    sheet::{BlockBody, Sheet},
    span::Span,
};

/// What of a used worksheet some of its values depend on.
pub(super) struct Slice<'a> {
    pub(super) needed: HashSet<(usize, usize)>,
    spans: Vec<Span>,
    pub(super) wanted: HashSet<&'a str>,
    /// Every name that the worksheet defines, and its line there.
    pub(super) defined: HashMap<String, usize>,
}

impl<'a> Slice<'a> {
    pub(super) fn new((text, begin): (&'a str, usize), sheet: &'a Sheet, names: HashSet<&'a str>) -> Self {
        let pieces = pieces(text, sheet);
        let mut by_name: HashMap<&str, Vec<usize>> = HashMap::new();
        for (i, piece) in pieces.iter().enumerate() {
            piece.defines.iter().for_each(|name| by_name.entry(name.as_str()).or_default().push(i));
        }
        let mut needed = vec![false; pieces.len()];
        let mut stack: Vec<usize> = names.iter().filter_map(|name| by_name.get(name)).flatten().copied().collect();
        let mut wanted = names;
        loop {
            while let Some(i) = stack.pop() {
                if std::mem::replace(&mut needed[i], true) {
                    continue;
                }
                for word in words(pieces[i].text) {
                    if wanted.insert(word) {
                        stack.extend(by_name.get(word).into_iter().flatten());
                    }
                }
            }
            let any = |kind| pieces.iter().zip(&needed).any(|(piece, needed)| *needed && piece.kind == kind);
            let calls = |function: &str| {
                pieces.iter().zip(&needed).any(|(piece, needed)| *needed && piece.text.contains(function))
            };
            let (judges, costs, asks) = (any(PieceKind::Choose), calls("cost("), calls("V(") || calls("I("));
            let goes_with = |piece: &Piece<'_>| match piece.kind {
                PieceKind::Named | PieceKind::Choose => false,
                // Its two givens may come in from elsewhere too.
                PieceKind::Correlation => true,
                PieceKind::Keep => judges,
                PieceKind::Part => costs,
                PieceKind::Circuit => asks,
            };
            stack.extend((0..pieces.len()).filter(|i| !needed[*i] && goes_with(&pieces[*i])));
            if stack.is_empty() {
                break;
            }
        }
        let line = |at: usize| text.get(begin..at).map_or(1, |before| before.matches('\n').count() + 1);
        let chosen = || pieces.iter().zip(&needed).filter(|(_, needed)| **needed).map(|(piece, _)| piece);
        Self {
            needed: chosen().map(|piece| piece.at).collect(),
            spans: chosen().map(|piece| piece.span).collect(),
            defined: pieces
                .iter()
                .rev()
                .flat_map(|piece| piece.defines.iter().map(|name| (name.clone(), line(piece.span.start))))
                .collect(),
            wanted,
        }
    }

    pub(super) fn covers(&self, span: Span) -> bool {
        self.spans.iter().any(|piece| piece.contains(span))
    }
}

/// Something that is checked or left out as a whole.
struct Piece<'a> {
    /// Its block, and its place there.
    at: (usize, usize),
    span: Span,
    defines: Vec<String>,
    /// Its text, in which all words may be names that it reads; a word too many costs a needless step and changes nothing.
    text: &'a str,
    kind: PieceKind,
}

#[derive(Clone, Copy, PartialEq)]
enum PieceKind {
    /// Wanted for a name that it defines.
    Named,
    /// Always wanted.
    Correlation,
    /// Judges combinations.
    Choose,
    /// Wanted where combinations are judged.
    Keep,
    Part,
    Circuit,
}

fn pieces<'a>(text: &'a str, sheet: &'a Sheet) -> Vec<Piece<'a>> {
    let mut pieces = Vec::new();
    for (block, found) in sheet.blocks.iter().enumerate() {
        let whole =
            |defines, kind| Piece { at: (block, 0), span: found.span, defines, text: found.content.text(text), kind };
        match &found.body {
            BlockBody::Calc(statements) => {
                pieces.extend(statements.iter().enumerate().map(|(i, of)| statement(text, (block, i), of)));
            }
            BlockBody::Parts(parts) => pieces.extend(parts.lines.iter().enumerate().map(|(i, line)| Piece {
                at: (block, i),
                span: line.span,
                defines: line.name.iter().chain(&line.designators).map(|name| name.item.clone()).collect(),
                text: unquoted(line.span.text(text)),
                kind: PieceKind::Part,
            })),
            BlockBody::Transient(of) => {
                let defines = of.measures.iter().map(|measure| measure.name.item.clone()).collect();
                pieces.push(whole(defines, PieceKind::Named));
            }
            BlockBody::Rust(of) => {
                let defines = of.outputs.iter().map(|output| output.name.item.clone()).collect();
                pieces.push(Piece { text: "", ..whole(defines, PieceKind::Named) });
            }
            BlockBody::Circuit(_) => pieces.push(whole(Vec::new(), PieceKind::Circuit)),
            _ => {}
        }
    }
    pieces
}

fn statement<'a>(text: &'a str, at: (usize, usize), statement: &'a Statement) -> Piece<'a> {
    let mut written = unquoted(statement.span.text(text));
    let mut defines: Vec<String> = statement.body.defines().into_iter().collect();
    let kind = match &statement.body {
        StatementBody::Use(used) => {
            defines.extend(used.values.iter().map(|value| value.here.item.clone()));
            written = "";
            PieceKind::Named
        }
        StatementBody::Unreadable => {
            defines.extend(words(written).next().map(str::to_owned));
            PieceKind::Named
        }
        StatementBody::Choose(_) => PieceKind::Choose,
        StatementBody::Keep(_) => PieceKind::Keep,
        StatementBody::Correlation(_) => PieceKind::Correlation,
        _ => PieceKind::Named,
    };
    Piece { at, span: statement.span, defines, text: written, kind }
}

/// What stands before a label.
fn unquoted(text: &str) -> &str {
    text.split('"').next().unwrap_or(text)
}

/// The words of a text that may be names.
fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphanumeric() && c != '_').filter(|word| word.starts_with(char::is_alphabetic))
}
