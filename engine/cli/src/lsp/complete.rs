//! What may stand at a place: words of blocks, keys of the metadata, names that are defined above, functions, handbook models
//! and their arguments, units. What cannot stand there is not offered.

use benchleaf_core::{
    check::{BUILTINS, CONSTANTS},
    handbook::{self, Input},
    lang::words::{Group, WORDS},
    preferred::Series,
    results::Evaluation,
    sheet::{BlockWord, METADATA, Takes},
    span::Span,
    units,
};
use benchleaf_words::{key, say};
use serde_json::{Value, json};

use super::{
    document::Document,
    hover::{call_around, model_text, parameter_text},
};

/// What may stand at a place, as a list of the protocol's.
pub(super) fn complete(document: &Document, offset: usize) -> Value {
    let mut found = Found { document, items: Vec::new(), more: false, word: word_before(&document.text, offset) };
    if let Some(evaluation) = document.evaluation() {
        found.at(evaluation, offset);
    }
    json!({"isIncomplete": found.more, "items": found.items})
}

struct Found<'a> {
    document: &'a Document,
    items: Vec<Value>,
    more: bool,
    /// What is typed so far, and will be replaced.
    word: Span,
}

impl Found<'_> {
    fn at(&mut self, evaluation: &Evaluation, offset: usize) {
        let text = &self.document.text;
        let line_start = text[..offset].rfind(['\n', '\r']).map_or(0, |end| end + 1);
        let before = &text[line_start..self.word.start.max(line_start)];
        let head = before.trim_start();
        if offset < evaluation.sheet.body_start {
            if head.is_empty() && line_start > 0 {
                self.keys();
            }
        } else if head.starts_with("```") || head.starts_with("~~~") {
            if head.trim_start_matches(['`', '~']).is_empty() {
                for (_, word) in BlockWord::TABLE {
                    self.offer(word, KEYWORD, self.document.words.text(key::EDITOR_BLOCK), None, None);
                }
            }
        } else if let Some(block) = evaluation.sheet.blocks.iter().find(|block| {
            block.content.start <= offset
                && offset <= block.content.end
                && !matches!(block.body, benchleaf_core::sheet::BlockBody::Rust(_))
        }) {
            self.in_block(evaluation, before, block.content.start);
        } else if open_brace(before) {
            self.values(evaluation, usize::MAX);
        }
    }

    fn keys(&mut self) {
        for key in METADATA {
            let insert = match key.takes {
                Takes::Text | Takes::Language => format!("{} = \"\"", key.name),
                Takes::Whole(..) => format!("{} = ", key.name),
                Takes::Texts(_) => format!("{} = []", key.name),
            };
            self.offer(key.name, PROPERTY, key.summary, None, Some(insert));
        }
    }

    fn in_block(&mut self, evaluation: &Evaluation, before: &str, block_start: usize) {
        let text = &self.document.text;
        let quoted = before.matches('"').count() % 2 == 1;
        if quoted {
            if open_brace(before) {
                self.values(evaluation, usize::MAX);
            }
            return;
        }
        if before.contains('#') {
            return;
        }
        if before.rfind('[').is_some_and(|open| !before[open..].contains(']')) {
            return self.units();
        }
        if self.behind_number(before) {
            self.units();
            return self.words(|group| group != Group::Statement);
        }
        let model = call_around(text, self.word.start).filter(|_| !self.written().contains('.'));
        if let Some(model) = model {
            let trimmed = text[block_start.min(self.word.start)..self.word.start].trim_end();
            if trimmed.ends_with(['(', ',']) {
                for parameter in model.parameters {
                    let (says, insert) =
                        (parameter_text(self.document.words, parameter), format!("{} = ", parameter.name));
                    self.offer(parameter.name, FIELD, model.name, Some(says), Some(insert));
                }
                return;
            }
            let named =
                trimmed.strip_suffix('=').map(|rest| word_before(rest.trim_end(), rest.trim_end().len()).text(rest));
            let parameter = named.and_then(|name| model.parameters.iter().find(|parameter| parameter.name == name));
            if let Some(Input::Choice(words)) = parameter.map(|parameter| &parameter.input) {
                for word in *words {
                    self.offer(word, KEYWORD, model.name, None, None);
                }
                return;
            }
        }
        self.values(evaluation, self.word.start);
        let words = self.document.words;
        for model in handbook::models() {
            self.offer(
                model.name,
                MODULE,
                words.text(key::EDITOR_HANDBOOK_MODEL),
                Some(model_text(words, model)),
                None,
            );
        }
        if self.written().contains('.') {
            return;
        }
        for function in BUILTINS {
            let detail = format!("({})", function.arguments);
            self.offer(function.name, FUNCTION, &detail, Some(function.summary.to_owned()), None);
        }
        for constant in CONSTANTS {
            self.offer(constant.name, CONSTANT, constant.summary, None, None);
        }
        for (_, series) in Series::TABLE {
            self.offer(series, KEYWORD, words.text(key::EDITOR_PREFERRED_VALUES), None, None);
        }
        let begins = before.trim().is_empty();
        self.words(|group| (group == Group::Statement) == begins);
    }

    /// The values that are defined before a place, and the worksheet's own functions.
    fn values(&mut self, evaluation: &Evaluation, before: usize) {
        let words = self.document.words;
        for value in evaluation.values.iter().filter(|value| value.span.start < before) {
            let range = value.shown_range_in(words).map(|range| say!(words, EDITOR_WORST_CASE, range = range));
            let label = value.label.as_ref().map(|label| format!("{label}\n\n")).unwrap_or_default();
            self.offer(&value.name, VARIABLE, &value.shown_in(words), Some(label + &range.unwrap_or_default()), None);
        }
        for statement in evaluation.sheet.statements().filter(|statement| statement.span.end < before) {
            if let benchleaf_core::lang::ast::StatementBody::Function(function) = &statement.body {
                self.offer(
                    &function.name.item,
                    FUNCTION,
                    words.text(key::EDITOR_OWN_FUNCTION),
                    statement.label.clone(),
                    None,
                );
            }
        }
    }

    fn words(&mut self, of: impl Fn(Group) -> bool) {
        for word in WORDS.iter().filter(|(group, _)| of(*group)).flat_map(|(_, words)| *words) {
            self.offer(word, KEYWORD, "", None, None);
        }
    }

    fn units(&mut self) {
        for symbol in units::table().symbols() {
            // Of compounds there are hundreds; they come once they are begun.
            let is_compound = symbol.contains(['·', '/', '²', '³', '⁻', '⁴']);
            if !is_compound || self.written().contains(['·', '/']) {
                self.offer(symbol, UNIT, "", None, None);
            }
        }
    }

    /// Whether what is typed stands behind a number, and so begins a unit: then that alone will be replaced.
    fn behind_number(&mut self, before: &str) -> bool {
        let written = self.written();
        let digits = written.len() - written.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').len();
        if digits > 0 {
            self.word.start += digits;
            return true;
        }
        let number =
            before.trim_end().rsplit(|c: char| !c.is_alphanumeric() && !"._".contains(c)).next().unwrap_or_default();
        let spaced = before.ends_with(char::is_whitespace);
        spaced && number.starts_with(|c: char| c.is_ascii_digit())
    }

    fn written(&self) -> &str {
        self.word.text(&self.document.text)
    }

    fn offer(&mut self, label: &str, kind: u8, detail: &str, says: Option<String>, insert: Option<String>) {
        if !label.to_lowercase().starts_with(&self.written().to_lowercase()) {
            return;
        }
        if self.items.len() >= MOST {
            self.more = true;
            return;
        }
        let fresh = insert.unwrap_or_else(|| label.to_owned());
        let mut item = json!({
            "label": label,
            "kind": kind,
            "detail": detail,
            "textEdit": {"range": self.document.range(self.word), "newText": fresh},
        });
        if let Some(says) = says.filter(|says| !says.is_empty()) {
            item["documentation"] = json!({"kind": "markdown", "value": says});
        }
        self.items.push(item);
    }
}

/// Whether an inline result is open at the end of a text.
fn open_brace(before: &str) -> bool {
    before.rfind('{').is_some_and(|open| !before[open..].contains('}'))
}

/// What is typed before a place: letters, digits, `_`, dots, and the signs of units.
fn word_before(text: &str, offset: usize) -> Span {
    let is_part = |c: &char| c.is_alphanumeric() || matches!(c, '_' | '.' | '°' | '%');
    let length: usize = text[..offset].chars().rev().take_while(is_part).map(char::len_utf8).sum();
    Span::new(offset - length, offset)
}

/// Items of a list at most.
const MOST: usize = 300;

const FUNCTION: u8 = 3;
const FIELD: u8 = 5;
const VARIABLE: u8 = 6;
const MODULE: u8 = 9;
const PROPERTY: u8 = 10;
const UNIT: u8 = 11;
const KEYWORD: u8 = 14;
const CONSTANT: u8 = 21;
