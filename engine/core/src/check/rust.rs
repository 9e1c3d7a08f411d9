//! Rust blocks: which values one reads, what it gives, and its place in the program. Its text is looked through for the
//! names of values alone; what it says is the compiler's business.

use std::{collections::HashMap, sync::Arc};

use benchleaf_words::phrase;

use super::{Binding, Checker, Typed, expression::quantity_in, literal::unit};
use crate::{
    host::{Block, BlockCode, BlockInput, BlockOutput, CompiledBlock, Fault, Finding, Holds, Host, Place, Refusal},
    problem::{Code, Problem},
    program::{Call, Callee, Reg, Step, WIDEST},
    results::BlockOutcome,
    sheet::{RustBlock, RustResult, SeriesRequest},
    span::{Span, Spanned},
    units::{QuantityType, Unit, ValueType},
};

/// Rust blocks while a worksheet is checked.
pub(crate) struct Blocks<'a> {
    /// Compiles them.
    host: &'a dyn Host,
    /// The texts of those so far.
    codes: Vec<&'a str>,
    /// Series by name: the Rust block and its series; nothing where it could not be run.
    series: HashMap<String, Option<(usize, usize)>>,
    /// Whether the block at hand reads what waits for another.
    awaits: bool,
}

impl<'a> Blocks<'a> {
    /// The program around the engine.
    pub(super) fn host(&self) -> &'a dyn Host {
        self.host
    }

    pub(super) fn new(host: &'a dyn Host) -> Self {
        Self { host, codes: Vec::new(), series: HashMap::new(), awaits: false }
    }
}

/// A Rust block.
#[derive(Debug)]
pub(crate) struct CheckedRust {
    pub(crate) span: Span,
    /// Its text, without the fences.
    pub(crate) code: Span,
    /// The place of its call in `rust_calls`; absent where it is not run.
    pub(crate) call: Option<u32>,
    /// Its results, by their places in the worksheet's values.
    pub(crate) outputs: Vec<usize>,
    pub(crate) series: Vec<CheckedSeries>,
}

/// A series that a Rust block gives.
#[derive(Debug)]
pub(crate) struct CheckedSeries {
    pub(crate) name: String,
    pub(crate) label: Option<String>,
    pub(crate) quantity: QuantityType,
    pub(crate) unit: Option<Unit>,
}

/// One series drawn against another: the Rust block, its series, and the unit of the axis.
#[derive(Debug)]
pub(crate) struct CheckedSeriesCurve {
    pub(crate) label: String,
    pub(crate) subject: (usize, usize, Option<Unit>),
    pub(crate) against: (usize, usize, Option<Unit>),
    pub(crate) span: Span,
}

impl Checker<'_> {
    /// A Rust block: its results become values, or are withheld where it is not run.
    pub(super) fn rust(&mut self, block: &RustBlock, content: Span, span: Span) -> BlockOutcome {
        let text = self.text;
        let fence = fence_line(text, span);
        let outcome = self.run_rust(block, content, fence);
        self.blocks.codes.push(content.text(text));
        let mut checked = CheckedRust { span, code: content, call: None, outputs: Vec::new(), series: Vec::new() };
        match outcome {
            Ok((call, units, series)) => {
                checked.call = Some(call);
                for (i, (result, unit)) in block.outputs.iter().zip(units).enumerate() {
                    checked.outputs.push(self.output(result, unit, call, i as u32));
                }
                let index = self.checked.rust.len();
                for (i, (result, unit)) in block.series.iter().zip(series).enumerate() {
                    let (quantity, unit) =
                        unit.map_or((QuantityType::NUMBER, None), |unit| (unit.quantity, Some(unit)));
                    let (name, label) = (result.name.item.clone(), result.label.clone());
                    self.blocks.series.insert(name.clone(), Some((index, i)));
                    checked.series.push(CheckedSeries { name, label, quantity, unit });
                }
            }
            Err(Stopped { withheld }) => {
                self.without_values(&block.outputs, withheld);
                for result in &block.series {
                    self.blocks.series.insert(result.name.item.clone(), None);
                    if withheld {
                        self.withheld.insert(result.name.item.clone());
                    }
                }
            }
        }
        self.checked.rust.push(checked);
        BlockOutcome::Rust(self.checked.rust.len() - 1)
    }

    fn output(&mut self, result: &RustResult, unit: Option<Unit>, call: u32, place: u32) -> usize {
        let at = self.checked.rust_calls[call as usize];
        let reg = self.push(Step::Output(at, place));
        let typed = quantity_in(reg, unit.as_ref().map_or(QuantityType::NUMBER, |unit| unit.quantity));
        self.derived(&result.name, (result.label.as_ref(), result.name.span), typed, unit)
    }

    fn run_rust(&mut self, block: &RustBlock, content: Span, fence: Span) -> Result<Ran, Stopped> {
        let broken = Stopped { withheld: false };
        let mut whole = !block.broken;
        let (mut output_units, mut series_units) = (Vec::new(), Vec::new());
        let mut named: Vec<&str> = Vec::new();
        for (results, units) in [(&block.outputs, &mut output_units), (&block.series, &mut series_units)] {
            for result in results {
                whole &= self.name_is_free(&result.name) && self.is_new(&result.name, &mut named);
                match result.unit.as_ref().map(unit).transpose() {
                    Ok(unit) => units.push(unit),
                    Err(problem) => {
                        self.report(problem);
                        whole = false;
                    }
                }
            }
        }
        if !whole {
            return Err(broken);
        }
        let Ok((inputs, regs)) = self.inputs_of(content) else { return Err(broken) };
        if self.blocks.awaits {
            self.blocks.awaits = false;
            return Err(Stopped { withheld: true });
        }
        let described = |results: &[RustResult], units: &[Option<Unit>]| -> Option<Vec<BlockOutput>> {
            let both = results.iter().zip(units);
            both.map(|(result, unit)| {
                let quantity = unit.as_ref().map_or(QuantityType::NUMBER, |unit| unit.quantity);
                Some(BlockOutput { name: result.name.item.clone(), holds: Holds::of(ValueType::Quantity(quantity))? })
            })
            .collect()
        };
        let outputs = described(&block.outputs, &output_units);
        let series = described(&block.series, &series_units);
        let (Some(outputs), Some(series)) = (outputs, series) else {
            let message = phrase!(CHECK_RUST_A_RESULT_OF_A_RUST);
            self.fail_with_help(Code::Rust, fence, message, phrase!(CHECK_RUST_GIVE_A_PLAIN_NUMBER));
            return Err(broken);
        };
        if inputs.len() > WIDEST || outputs.len() > WIDEST {
            let message = phrase!(CHECK_RUST_A_RUST_BLOCK_READS, widest = WIDEST);
            self.fail_with_help(Code::Rust, fence, message, phrase!(CHECK_RUST_PART_IT_IN_TWO));
            return Err(broken);
        }
        let code = BlockCode {
            code: content.text(self.text),
            earlier: &self.blocks.codes,
            inputs: &inputs,
            outputs: &outputs,
            series: &series,
        };
        match self.blocks.host.compile(&code) {
            Ok(compiled) => Ok((self.foreign(compiled, regs, outputs.len(), fence), output_units, series_units)),
            Err(refusal) => {
                let withheld = matches!(refusal, Refusal::NotRun { .. } | Refusal::Published);
                self.refused(refusal, block, content, fence);
                Err(Stopped { withheld })
            }
        }
    }

    fn foreign(&mut self, compiled: Arc<dyn CompiledBlock>, inputs: Vec<Reg>, outputs: usize, fence: Span) -> u32 {
        let callee = Callee::Block(Block::new(compiled, outputs));
        self.checked.program.calls.push(Call { callee, inputs });
        self.checked.call_spans.push(fence);
        let step = self.push(Step::Call((self.checked.program.calls.len() - 1) as u32));
        self.checked.rust_calls.push(step);
        (self.checked.rust_calls.len() - 1) as u32
    }

    fn is_new<'n>(&mut self, name: &'n Spanned<String>, named: &mut Vec<&'n str>) -> bool {
        let new = !named.contains(&name.item.as_str()) && !self.blocks.series.contains_key(&name.item);
        if !new {
            let message = phrase!(SHARED_IS_GIVEN_TWICE, parameter = name.item);
            self.fail_with_help(Code::Redefined, name.span, message, phrase!(SHARED_A_VALUE_IS_DEFINED_ONCE));
        }
        named.push(&name.item);
        new
    }

    /// The values that a block reads, each with its register. One that could not be evaluated is an error.
    fn inputs_of(&mut self, content: Span) -> Result<(Vec<BlockInput>, Vec<Reg>), ()> {
        let words = words(content.text(self.text));
        let mut found: Vec<(BlockInput, Reg)> = Vec::new();
        let mut whole = true;
        for (i, word) in words.iter().enumerate() {
            let name = word.text;
            let Some(entry) = self.names.get(name) else { continue };
            let span = Span::new(content.start + word.start, content.start + word.start + name.len());
            let mut wanted: Vec<(Option<String>, Typed)> = Vec::new();
            match &entry.binding {
                Binding::Value(typed) => wanted.push((None, *typed)),
                Binding::Record(_, fields) => {
                    let field = words.get(i + 1).filter(|next| next.follows_dot).map(|next| next.text);
                    let named = fields.iter().filter(|(known, _)| Some(known.as_str()) == field);
                    wanted.extend(named.map(|(known, typed)| (Some(known.clone()), *typed)));
                    if wanted.is_empty() {
                        wanted.extend(fields.iter().map(|(known, typed)| (Some(known.clone()), *typed)));
                    }
                }
                Binding::Failed => {
                    let message = phrase!(CHECK_RUST_COULD_NOT_BE_EVALUATED_SO, name = name);
                    let waits = self.withheld.contains(name);
                    self.depends(name, span, message);
                    whole &= waits;
                    self.blocks.awaits |= waits;
                    continue;
                }
                Binding::Function(_) => continue,
            }
            for (field, typed) in wanted {
                if let Some(field) = &field {
                    self.checked.fields_read.insert(format!("{name}.{field}"));
                }
                let Some(holds) = Holds::of(typed.value_type) else {
                    let message =
                        phrase!(CHECK_RUST_IS_RUST_HAS_NO_TYPE, name = name, found = typed.value_type.describe());
                    self.fail_with_help(Code::Rust, span, message, phrase!(CHECK_RUST_DIVIDE_IT_BY_ITS_UNIT));
                    whole = false;
                    continue;
                };
                let input = BlockInput { name: name.to_owned(), field, holds };
                if found.iter().all(|(known, _)| *known != input) {
                    found.push((input, typed.reg));
                }
            }
        }
        if whole { Ok(found.into_iter().unzip()) } else { Err(()) }
    }

    /// A block without a function: what is reported of it.
    fn refused(&mut self, refusal: Refusal, block: &RustBlock, content: Span, fence: Span) {
        match refusal {
            Refusal::NotRun { why, help } => {
                self.fail_with_help(Code::RustOff, fence, phrase!(CHECK_RUST_THIS_BLOCK_IS_SHOWN, why = why), help);
            }
            Refusal::Published => {}
            Refusal::Findings(findings) => {
                for Finding { place, message, compiler } in findings {
                    let span = place_in(&place, block, content, fence);
                    let problem = Problem::new(Code::Rust, span, message);
                    self.report(match compiler {
                        Some(words) => problem.help(phrase!(CHECK_RUST_THE_COMPILER_SAYS, words = words)),
                        None => problem,
                    });
                }
            }
            Refusal::Failed(Fault { message, help, place }) => {
                let span = place_in(&place, block, content, fence);
                self.fail_with_help(Code::RustRun, span, message, help);
            }
        }
    }

    /// Series drawn against series.
    pub(super) fn series_curves(&mut self, requests: &[SeriesRequest]) -> Vec<CheckedSeriesCurve> {
        requests.iter().filter_map(|request| self.series_curve(request)).collect()
    }

    /// `v [V] against t [ms]`, both of them series of Rust blocks.
    fn series_curve(&mut self, request: &SeriesRequest) -> Option<CheckedSeriesCurve> {
        let subject = self.series_axis(&request.subject, request.unit.as_ref());
        let against = self.series_axis(&request.against, request.against_unit.as_ref());
        let (subject, against) = (subject?, against?);
        let label = request.label.clone().unwrap_or_else(|| request.subject.item.clone());
        Some(CheckedSeriesCurve { label, subject, against, span: request.span })
    }

    fn series_axis(
        &mut self,
        name: &Spanned<String>,
        declared: Option<&Spanned<String>>,
    ) -> Option<(usize, usize, Option<Unit>)> {
        match self.blocks.series.get(&name.item) {
            Some(Some((block, series))) => {
                let (block, series) = (*block, *series);
                let known = &self.checked.rust[block].series[series];
                let (quantity, unit) = (known.quantity, known.unit.clone());
                let Some(declared) = declared else { return Some((block, series, unit)) };
                // A register of its own, so that the declared unit is held against the series as against a value.
                let typed = quantity_in(0, quantity);
                let (_, unit) = self.declared(typed, declared, name.span)?;
                Some((block, series, unit))
            }
            Some(None) => {
                self.depends(&name.item, name.span, phrase!(SHARED_COULD_NOT_BE_EVALUATED_SO, name = name.item));
                None
            }
            None => {
                let message = phrase!(CHECK_RUST_IS_NOT_A_SERIES, name = name.item);
                let help = phrase!(SHARED_A_CURVE_OF_A_VALUE);
                self.fail_with_help(Code::Plot, name.span, message, help);
                None
            }
        }
    }
}

/// The place of its call in [`super::Checked::rust_calls`], and the units of its outputs and series.
type Ran = (u32, Vec<Option<Unit>>, Vec<Option<Unit>>);

/// A block that came to no values.
struct Stopped {
    /// It was not run: nothing is wrong with it.
    withheld: bool,
}

/// Where a place of a block stands in the worksheet.
pub(crate) fn place_in(place: &Place, block: &RustBlock, content: Span, fence: Span) -> Span {
    match place {
        Place::Code(range) => {
            let at = |offset: usize| (content.start + offset).min(content.end);
            Span::new(at(range.start), at(range.end))
        }
        Place::Result(index) => {
            let result = block.outputs.iter().chain(&block.series).nth(*index);
            result.map_or(fence, |result| result.name.span)
        }
        Place::Whole => fence,
    }
}

/// A word of Rust code that may be a name.
#[derive(Debug, PartialEq)]
struct Word<'a> {
    text: &'a str,
    start: usize,
    /// Whether a dot stands before it.
    follows_dot: bool,
}

/// The words of Rust code, comments left out. Words in texts count: they may be names in a format string. A word too
/// many costs a needless input, and changes no result.
fn words(code: &str) -> Vec<Word<'_>> {
    let mut words = Vec::new();
    let mut rest = code.char_indices().peekable();
    let mut follows_dot = false;
    while let Some((start, c)) = rest.next() {
        match c {
            '/' if code[start..].starts_with("//") => while rest.next_if(|(_, c)| *c != '\n').is_some() {},
            c if c.is_alphabetic() || c == '_' => {
                let mut end = start + c.len_utf8();
                while let Some((at, c)) = rest.next_if(|(_, c)| c.is_alphanumeric() || *c == '_') {
                    end = at + c.len_utf8();
                }
                // `r#type` is the value `type`.
                if &code[start..end] != "r" || !code[end..].starts_with('#') {
                    words.push(Word { text: &code[start..end], start, follows_dot });
                    follows_dot = false;
                }
            }
            c if c.is_ascii_digit() => {
                // Figures, and the suffix of their type.
                while rest.next_if(|(_, c)| c.is_alphanumeric() || *c == '_').is_some() {}
                follows_dot = false;
            }
            c if c.is_whitespace() => {}
            '#' => {}
            c => follows_dot = c == '.',
        }
    }
    words
}

/// The line that opens a block.
pub(crate) fn fence_line(text: &str, block: Span) -> Span {
    let line = block.text(text).lines().next().map_or(0, |line| line.trim_end().len());
    Span::new(block.start, block.start + line)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_code_are_distinguished_from_comments_and_figures() {
        let code = "let τ = R_t * C_t; // V_s is not read\nprintln!(\"{I_c:?}\"); reg.junction + 1e3f64 + r#type";
        let found: Vec<(&str, bool)> = words(code).into_iter().map(|word| (word.text, word.follows_dot)).collect();
        let plain = ["let", "τ", "R_t", "C_t", "println", "I_c", "reg"].map(|word| (word, false));
        assert_eq!(found[..7], plain);
        assert_eq!(found[7..], [("junction", true), ("type", false)]);
    }
}
