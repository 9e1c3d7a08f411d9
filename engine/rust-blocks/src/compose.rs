//! From blocks to one program: each block becomes a module with its items, those of the blocks above it, and one function
//! of plain numbers. A block's text stands in it line by line and column by column as its author wrote it, so that the
//! compiler's places are the worksheet's.

use std::{fmt::Write, ops::Range};

use benchleaf_core::host::{Finding, Place, wire::Source};
use syn::{parse::Parser, spanned::Spanned};

use crate::rust_type;

/// A block, parted in what a later block sees and what is run.
pub(crate) struct Parted {
    items: String,
    body: String,
}

/// A program with the places of each block's text in it.
#[derive(Debug)]
pub(crate) struct Composed {
    pub(crate) code: String,
    blocks: Vec<Places>,
}

/// Where a block stands in the program; lines count from 1.
#[derive(Debug)]
struct Places {
    block: u32,
    /// Its text stands here, from its first line to its last.
    texts: Vec<Range<usize>>,
    /// The line of each result.
    results: Vec<usize>,
}

impl Composed {
    /// Where a place of the program stands in a block: `(line from 1, column in characters from 1)` to bytes.
    pub(crate) fn place(&self, block: u32, code: &str, from: (usize, usize), to: (usize, usize)) -> Option<Place> {
        let places = self.blocks.iter().find(|places| places.block == block)?;
        if let Some(result) = places.results.iter().position(|line| *line == from.0) {
            return Some(Place::Result(result));
        }
        let text = places.texts.iter().find(|lines| lines.contains(&from.0))?;
        let start = offset(code, from.0 - text.start, from.1);
        let end = if text.contains(&to.0) { offset(code, to.0 - text.start, to.1) } else { code.len() };
        Some(Place::Code(start..end.max(start)))
    }

    fn line(&self) -> usize {
        self.code.matches('\n').count() + 1
    }
}

/// The byte of a line (from 0) and a column (from 1) of a text.
fn offset(text: &str, line: usize, column: usize) -> usize {
    let start = text.split_inclusive('\n').take(line).map(str::len).sum::<usize>().min(text.len());
    let line = text[start..].split('\n').next().unwrap_or("");
    start + line.char_indices().nth(column.saturating_sub(1)).map_or(line.len(), |(at, _)| at)
}

/// Parts a block.
///
/// # Errors
/// What does not read as Rust.
pub(crate) fn part(code: &str) -> Result<Parted, Finding> {
    let statements = syn::Block::parse_within.parse_str(code).map_err(|error| Finding {
        place: Place::Code(bytes(code, error.span())),
        message: "this does not read as Rust".to_owned(),
        compiler: Some(error.to_string()),
    })?;
    let items: Vec<Range<usize>> = statements
        .iter()
        .filter(|statement| matches!(statement, syn::Stmt::Item(_)))
        .map(|statement| bytes(code, statement.span()))
        .collect();
    let inside = |at: usize| items.iter().any(|item| item.contains(&at));
    let keep = |wanted: bool| -> String {
        // Comments stay with what is run: they may stand anywhere.
        let kept = |(at, c): (usize, char)| if c == '\n' || c == '\r' || inside(at) == wanted { c } else { ' ' };
        code.char_indices().map(kept).collect()
    };
    Ok(Parted { items: keep(true), body: keep(false) })
}

fn bytes(code: &str, span: proc_macro2::Span) -> Range<usize> {
    let (start, end) = (span.start(), span.end());
    let column = |line: usize, column: usize| offset(code, line.saturating_sub(1), column + 1);
    column(start.line, start.column)..column(end.line, end.column)
}

/// The whole program: all blocks as modules, and the call that serves them.
pub(crate) fn compose(blocks: &[(Source, Vec<Parted>)]) -> Composed {
    let mut composed = Composed { code: "{\n".to_owned(), blocks: Vec::new() };
    for (source, parts) in blocks {
        composed.blocks.push(Places { block: source.block, texts: Vec::new(), results: Vec::new() });
        module(&mut composed, source, parts);
    }
    // The compiler's file begins before this program: the line that it gives says by how much.
    let here = composed.line();
    let _ = write!(composed.code, "benchleaf_prelude::glue::serve(line!() - {here}, &[");
    for (source, _) in blocks {
        let number = source.block;
        let function = format!("benchleaf_block_{number}::benchleaf_run");
        let _ = write!(composed.code, "({number}, {function} as benchleaf_prelude::glue::Block), ");
    }
    composed.code.push_str("]);\n}\n");
    composed
}

fn module(composed: &mut Composed, source: &Source, parts: &[Parted]) {
    let _ = writeln!(composed.code, "mod benchleaf_block_{} {{", source.block);
    composed.code.push_str("#![allow(warnings)]\nuse benchleaf_prelude::*;\n");
    let Some((own, earlier)) = parts.split_last() else { return };
    for part in earlier {
        composed.code.push_str(&part.items);
        composed.code.push('\n');
    }
    text(composed, &own.items);
    for (i, record) in records(source).iter().enumerate() {
        let _ = write!(composed.code, "#[derive(Clone, Copy, Debug)] pub struct BenchleafRecord{i} {{ ");
        for input in source.inputs.iter().filter(|input| input.field.is_some() && input.name == *record) {
            let field = input.field.as_deref().unwrap_or_default();
            let _ = write!(composed.code, "pub {}: {}, ", identifier(field), rust_type::of(input.holds));
        }
        composed.code.push_str("}\n");
    }
    composed.code.push_str(
        "pub fn benchleaf_run(benchleaf_in: &[f64], benchleaf_out: &mut Vec<f64>, benchleaf_series: &mut Vec<Vec<f64>>) {\n",
    );
    for (place, input) in source.inputs.iter().enumerate().filter(|(_, input)| input.field.is_none()) {
        let (name, holds) = (identifier(&input.name), rust_type::of(input.holds));
        let _ = writeln!(composed.code, "let {name}: {holds} = glue::given(benchleaf_in, {place});");
    }
    for (i, record) in records(source).iter().enumerate() {
        let _ = write!(composed.code, "let {} = BenchleafRecord{i} {{ ", identifier(record));
        for (place, input) in source.inputs.iter().enumerate().filter(|(_, input)| input.name == *record) {
            let field = input.field.as_deref().unwrap_or_default();
            let _ = write!(composed.code, "{}: glue::given(benchleaf_in, {place}), ", identifier(field));
        }
        composed.code.push_str("};\n");
    }
    text(composed, &own.body);
    composed.code.push_str(";\n");
    for (i, output) in source.outputs.iter().chain(&source.series).enumerate() {
        let line = composed.line();
        composed.blocks.iter_mut().last().into_iter().for_each(|places| places.results.push(line));
        let name = identifier(&output.name);
        let _ = if i < source.outputs.len() {
            writeln!(composed.code, "benchleaf_out.push({});", rust_type::to_si(output.holds, &name))
        } else {
            writeln!(composed.code, "benchleaf_series.push({});", rust_type::to_series(output.holds, &name))
        };
    }
    composed.code.push_str("}\n}\n");
}

/// A text of the block, on lines of its own.
fn text(composed: &mut Composed, text: &str) {
    let first = composed.line();
    composed.code.push_str(text);
    composed.code.push('\n');
    let lines = first..composed.line();
    composed.blocks.iter_mut().last().into_iter().for_each(|places| places.texts.push(lines.clone()));
}

fn records(source: &Source) -> Vec<&str> {
    let mut records: Vec<&str> = Vec::new();
    for input in source.inputs.iter().filter(|input| input.field.is_some()) {
        if !records.contains(&input.name.as_str()) {
            records.push(&input.name);
        }
    }
    records
}

/// A name as Rust writes it: one that is a word of Rust is marked.
pub(crate) fn identifier(name: &str) -> String {
    if syn::parse_str::<syn::Ident>(name).is_err() && syn::parse_str::<syn::Ident>(&format!("r#{name}")).is_ok() {
        return format!("r#{name}");
    }
    name.to_owned()
}
