//! A text that the editor has open, and what it comes to. It is evaluated when somebody wants to know something of it. No
//! Rust block is run: what depends on one is left open.

use std::{
    cell::OnceCell,
    panic::{AssertUnwindSafe, catch_unwind},
    path::{Path, PathBuf},
};

use benchleaf_core::{
    Evaluator, Options,
    host::{Host, NoHost},
    lang::ast::StatementBody,
    problem::{Code, Problem, Severity},
    results::Evaluation,
    sheet::{Worksheet, surroundings},
    span::Span,
};
use benchleaf_publish::{files::read_beside, folder::Folder, site::href};
use benchleaf_words::{Words, key, say};
use percent_encoding::percent_decode_str;
use serde_json::{Value, json};

use super::{
    lines::{Lines, boundary},
    names,
};

/// A text as the editor has it.
#[derive(Debug)]
pub(super) struct Document {
    pub(super) uri: String,
    pub(super) version: Option<i64>,
    pub(super) text: String,
    pub(super) lines: Lines,
    /// The words of the editor's language.
    pub(super) words: Words<'static>,
    evaluation: OnceCell<Option<Evaluation>>,
}

impl Document {
    pub(super) fn new(uri: String, version: Option<i64>, text: String, words: Words<'static>) -> Self {
        Self { lines: Lines::of(&text), uri, version, text, words, evaluation: OnceCell::new() }
    }

    /// What it comes to; nothing where the engine has a fault.
    pub(super) fn evaluation(&self) -> Option<&Evaluation> {
        // Nothing of a text that failed is used afterwards, so nothing half done can be seen.
        let made = || catch_unwind(AssertUnwindSafe(|| self.evaluate())).ok();
        self.evaluation.get_or_init(made).as_ref()
    }

    /// What it came to may differ now: files beside it were saved.
    pub(super) fn forget(&mut self) {
        self.evaluation = OnceCell::new();
    }

    fn evaluate(&self) -> Evaluation {
        let path = path_of(&self.uri);
        let beside = Beside(path.clone());
        let folder = path.as_deref().map(|path| Folder::of(path, &beside));
        let host: &dyn Host = folder.as_ref().map_or(&NoHost, |folder| folder);
        let (worksheet, problems) = Worksheet::new(&self.text);
        let worksheet = worksheet.carrying(host);
        // Typing does not wait for millions of builds.
        let samples = Some(worksheet.metadata.samples.min(SAMPLES));
        let options = Options { samples, ..Options::default() };
        let mut evaluation = Evaluator::with(&options).host(host).evaluate_worksheet(&worksheet, problems);
        evaluation.add(surroundings::problems(&worksheet, &evaluation.sheet, host));
        evaluation
    }

    /// The byte of a place that a request names.
    pub(super) fn offset(&self, position: &Value) -> Option<usize> {
        self.lines.offset(&self.text, position)
    }

    /// The URI of a file by its path from this one's folder.
    fn beside(&self, path: &str) -> Option<String> {
        let (folder, _) = self.uri.rsplit_once('/').filter(|_| self.uri.starts_with("file:"))?;
        Some(format!("{folder}/{}", href(Path::new(path))))
    }

    /// Where what stands at a place is defined: in this text, or in a worksheet that it uses.
    pub(super) fn definition(&self, offset: usize) -> Option<Value> {
        let evaluation = self.evaluation()?;
        let stands = names::around(&self.text, offset);
        let name = stands.text(&self.text);
        let head = name.split('.').next().unwrap_or(name);
        for used in evaluation.sheet.statements() {
            let StatementBody::Use(used) = &used.body else { continue };
            if used.path.span.contains(Span::new(offset, offset)) {
                return self.in_used(&used.path.item, "");
            }
            if let Some(value) =
                used.values.iter().find(|value| value.here.item == head || value.span().contains(stands))
            {
                return self.in_used(&used.path.item, &value.name.item);
            }
        }
        let span = names::definition(&evaluation.sheet, &evaluation.values, &self.text, name)?;
        Some(json!({"uri": self.uri, "range": self.range(span)}))
    }

    /// A name in a worksheet that this one uses; the worksheet's head where it has no such name.
    fn in_used(&self, path: &str, name: &str) -> Option<Value> {
        let worksheet = path_of(&self.uri)?;
        let text = Folder::of(&worksheet, &NoHost).used(path).ok()?;
        let other = Document::new(self.beside(path)?, None, text, self.words);
        let sheet = Worksheet::new(&other.text).0.read().0;
        let span = names::definition(&sheet, &[], &other.text, name).unwrap_or_default();
        Some(json!({"uri": other.uri, "range": other.range(span)}))
    }

    /// A span as the protocol writes it. A span that does not fit the text is moved to where it does.
    pub(super) fn range(&self, span: Span) -> Value {
        let (start, end) = (boundary(&self.text, span.start), boundary(&self.text, span.end));
        self.lines.range(&self.text, Span::new(start, end))
    }

    /// What is wrong with it.
    pub(super) fn diagnostics(&self) -> Vec<Value> {
        let Some(evaluation) = self.evaluation() else { return Vec::new() };
        let told = evaluation.problems.iter().filter(|problem| problem.code != Code::RustAwaited);
        told.map(|problem| self.diagnostic(problem, evaluation)).collect()
    }

    fn diagnostic(&self, problem: &Problem, evaluation: &Evaluation) -> Value {
        let words = self.words;
        let help = problem.help.as_ref().map(|help| format!("\n{}", help.say(words))).unwrap_or_default();
        let severity = match problem.severity() {
            Severity::Error => 1,
            Severity::Warning => 2,
            Severity::Note => 3,
        };
        // Another file's problem stands at the line that uses the file.
        let message = problem.message.say(words);
        let message = match &problem.file {
            Some(place) => {
                say!(words, EDITOR_IN_FILE, file = place.path, n = place.position.line, message = message)
            }
            None => message,
        };
        let mut diagnostic = json!({
            "range": self.range(problem.span),
            "severity": severity,
            "code": problem.code.text(),
            "source": "benchleaf",
            "message": message + &help,
        });
        if let Some(related) = self.related(problem, evaluation) {
            diagnostic["relatedInformation"] = json!([related]);
        }
        diagnostic
    }

    /// The place that a problem follows from.
    fn related(&self, problem: &Problem, evaluation: &Evaluation) -> Option<Value> {
        if let Some(place) = &problem.file {
            let range = Lines::of(&place.line).range(&place.line, place.marked);
            let character = |end: &str| range[end]["character"].clone();
            let line = place.position.line - 1;
            let range = json!({"start": {"line": line, "character": character("start")}, "end": {"line": line, "character": character("end")}});
            let uri = self.beside(&place.path)?;
            return Some(json!({"location": {"uri": uri, "range": range}, "message": problem.message.say(self.words)}));
        }
        let written = problem.span.text(&self.text);
        let name = written.trim_matches(['{', '}']).split(['.', ':', ' ']).next()?;
        let (span, message) = match problem.code {
            Code::DependsOnError => {
                let defined = names::statement(&evaluation.sheet, &evaluation.values, &self.text, name)?;
                let within = |other: &&Problem| {
                    defined.contains(other.span)
                        && other.severity() == Severity::Error
                        && other.code != Code::DependsOnError
                };
                let cause = evaluation.problems.iter().find(within);
                (
                    cause.map_or(defined, |cause| cause.span),
                    cause.map_or_else(
                        || self.words.text(key::EDITOR_HAS_AN_ERROR).to_owned(),
                        |cause| cause.message.say(self.words),
                    ),
                )
            }
            Code::Redefined => (
                names::statement(&evaluation.sheet, &evaluation.values, &self.text, name)?,
                self.words.text(key::EDITOR_DEFINED_HERE_FIRST).to_owned(),
            ),
            _ => return None,
        };
        Some(json!({"location": {"uri": self.uri, "range": self.range(span)}, "message": message}))
    }
}

/// What is beside a worksheet, but for its Rust blocks.
struct Beside(Option<PathBuf>);

impl Host for Beside {
    fn read(&self, path: &str) -> Result<String, String> {
        match &self.0 {
            Some(worksheet) => read_beside(worksheet, path),
            None => NoHost.read(path),
        }
    }
}

/// The file of a `file:` URI.
fn path_of(uri: &str) -> Option<PathBuf> {
    let path = percent_decode_str(uri.strip_prefix("file://")?).decode_utf8().ok()?;
    Path::new(&*path).is_absolute().then(|| PathBuf::from(&*path))
}

/// Builds that are simulated at most.
const SAMPLES: u64 = 10_000;
