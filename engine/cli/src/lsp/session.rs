//! A session with an editor: from `initialize` to `exit`, as the language server protocol (3.17) has it. Texts come whole;
//! a part of one is put in its place all the same.

use std::{
    collections::{BTreeMap, BTreeSet},
    ops::ControlFlow,
};

use benchleaf_core::span::Span;
use benchleaf_words::{Language, Words};
use lsp_server::{ErrorCode, Message, Notification, Request, RequestId, Response, ResponseError};
use serde_json::{Value, json};

use super::{
    complete,
    document::Document,
    hover, symbols,
    wire::{Answer, Frame},
};
use crate::outcome::Outcome;

/// What an editor has said so far.
#[derive(Debug)]
pub(super) struct Session {
    stage: Stage,
    /// The words of the editor's language.
    words: Words<'static>,
    documents: BTreeMap<String, Document>,
    /// Texts whose problems the editor has not heard of.
    unsaid: BTreeSet<String>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Stage {
    /// Nothing was agreed upon.
    #[default]
    New,
    Open,
    /// The editor has said that it will leave.
    ShutDown,
}

impl Session {
    /// A session in these words, as long as the editor does not name a language of its own.
    pub(super) fn new(words: Words<'static>) -> Self {
        Self { stage: Stage::New, words, documents: BTreeMap::new(), unsaid: BTreeSet::new() }
    }

    /// Takes in what was read, and puts what there is to say behind `answers`. The session is over where it breaks.
    pub(super) fn take(&mut self, frame: Frame, answers: &mut Vec<Answer>) -> ControlFlow<()> {
        match frame {
            Frame::Message(Message::Request(request)) => {
                let id = request.id.clone();
                answers.push(match self.request(&request) {
                    Ok(result) => Response { id, result: Some(result), error: None }.into(),
                    Err((code, message)) => failed(id, code, message).into(),
                });
            }
            Frame::Message(Message::Notification(notification)) => return self.notification(notification, answers),
            // Nothing was asked of the editor, so an answer of its is to nothing.
            Frame::Message(Message::Response(_)) => {}
            Frame::Unreadable(code, why) => answers.push(Answer::Complaint(code, why)),
            Frame::End => return ControlFlow::Break(()),
        }
        ControlFlow::Continue(())
    }

    /// Says what is wrong with the texts that changed.
    pub(super) fn diagnose(&mut self, answers: &mut Vec<Answer>) {
        for uri in std::mem::take(&mut self.unsaid) {
            let Some(document) = self.documents.get(&uri) else { continue };
            answers.push(published(&uri, document.version, document.diagnostics()));
            if document.evaluation().is_none() {
                answers
                    .push(log(format!("{uri} could not be evaluated: this is a fault of Benchleaf; please report it")));
            }
        }
    }

    /// The outcome of the process: 0 where the editor said beforehand that it would leave, 1 where it did not.
    pub(super) fn outcome(&self) -> Outcome {
        if self.stage == Stage::ShutDown { Outcome::Fine } else { Outcome::RequirementBroken }
    }

    fn request(&mut self, request: &Request) -> Result<Value, (ErrorCode, String)> {
        match (self.stage, request.method.as_str()) {
            (Stage::New, "initialize") => {
                self.stage = Stage::Open;
                if let Some(language) = request.params["locale"].as_str().and_then(Language::of_locale) {
                    self.words = language.words();
                }
                return Ok(capabilities());
            }
            (Stage::New, _) => {
                return Err((ErrorCode::ServerNotInitialized, "the first request is `initialize`".to_owned()));
            }
            (Stage::ShutDown, _) => {
                return Err((ErrorCode::InvalidRequest, "after `shutdown` comes `exit`".to_owned()));
            }
            (Stage::Open, "initialize") => {
                return Err((ErrorCode::InvalidRequest, "this was initialized before".to_owned()));
            }
            (Stage::Open, "shutdown") => {
                self.stage = Stage::ShutDown;
                return Ok(Value::Null);
            }
            (Stage::Open, _) => {}
        }
        let params = &request.params;
        let answer: fn(&Document, usize) -> Option<Value> = match request.method.as_str() {
            "textDocument/hover" => hover::hover,
            "textDocument/completion" => |document, offset| Some(complete::complete(document, offset)),
            "textDocument/definition" => Document::definition,
            "textDocument/documentSymbol" => {
                return Ok(self.document(params)?.map_or(Value::Null, |document| json!(symbols::symbols(document))));
            }
            other => return Err((ErrorCode::MethodNotFound, format!("there is no method `{other}` here"))),
        };
        let Some(document) = self.document(params)? else { return Ok(Value::Null) };
        let offset = document.offset(&params["position"]).ok_or_else(|| invalid("position"))?;
        Ok(answer(document, offset).unwrap_or_default())
    }

    fn notification(&mut self, notification: Notification, answers: &mut Vec<Answer>) -> ControlFlow<()> {
        let Notification { method, params } = notification;
        if method == "exit" {
            return ControlFlow::Break(());
        }
        if self.stage != Stage::Open {
            return ControlFlow::Continue(());
        }
        let document = &params["textDocument"];
        let (uri, version) = (document["uri"].as_str().unwrap_or_default().to_owned(), document["version"].as_i64());
        match method.as_str() {
            "textDocument/didOpen" => {
                if let Some(text) = document["text"].as_str().filter(|_| !uri.is_empty()) {
                    self.put(Document::new(uri, version, text.to_owned(), self.words));
                }
            }
            "textDocument/didChange" => {
                if let Some(before) = self.documents.get(&uri) {
                    let none = Vec::new();
                    let changes = params["contentChanges"].as_array().unwrap_or(&none);
                    let text = changes.iter().fold(before.text.clone(), changed);
                    self.put(Document::new(uri, version, text, self.words));
                }
            }
            // What is beside a worksheet may be part of another one.
            "textDocument/didSave" | "workspace/didChangeWatchedFiles" => {
                for (uri, document) in &mut self.documents {
                    document.forget();
                    self.unsaid.insert(uri.clone());
                }
            }
            "textDocument/didClose" if self.documents.remove(&uri).is_some() => {
                answers.push(published(&uri, None, Vec::new()));
            }
            _ => {}
        }
        ControlFlow::Continue(())
    }

    fn put(&mut self, document: Document) {
        self.unsaid.insert(document.uri.clone());
        self.documents.insert(document.uri.clone(), document);
    }

    /// The text that a request is about; nothing where the editor has not opened it.
    fn document(&self, params: &Value) -> Result<Option<&Document>, (ErrorCode, String)> {
        let uri = params["textDocument"]["uri"].as_str().ok_or_else(|| invalid("textDocument.uri"))?;
        Ok(self.documents.get(uri))
    }
}

/// A text after one change of it.
fn changed(text: String, change: &Value) -> String {
    let Some(fresh) = change["text"].as_str() else { return text };
    if change["range"].is_null() {
        return fresh.to_owned();
    }
    let lines = super::lines::Lines::of(&text);
    let ends = ["start", "end"].map(|end| lines.offset(&text, &change["range"][end]));
    let [Some(start), Some(end)] = ends else { return text };
    let span = Span::new(start.min(end), start.max(end));
    [&text[..span.start], fresh, &text[span.end..]].concat()
}

fn capabilities() -> Value {
    json!({
        "serverInfo": {"name": "benchleaf", "version": env!("CARGO_PKG_VERSION")},
        "capabilities": {
            "positionEncoding": "utf-16",
            "textDocumentSync": {"openClose": true, "change": 1, "save": true},
            "hoverProvider": true,
            "completionProvider": {"triggerCharacters": [".", "{", "[", "(", "`"]},
            "definitionProvider": true,
            "documentSymbolProvider": true,
        },
    })
}

fn published(uri: &str, version: Option<i64>, diagnostics: Vec<Value>) -> Answer {
    let mut params = json!({"uri": uri, "diagnostics": diagnostics});
    if let Some(version) = version {
        params["version"] = version.into();
    }
    Notification { method: "textDocument/publishDiagnostics".to_owned(), params }.into()
}

/// A line in the editor's log, as an error.
fn log(message: String) -> Answer {
    Notification { method: "window/logMessage".to_owned(), params: json!({"type": 1, "message": message}) }.into()
}

fn failed(id: RequestId, code: ErrorCode, message: String) -> Response {
    Response { id, result: None, error: Some(ResponseError { code: code as i32, message, data: None }) }
}

fn invalid(what: &str) -> (ErrorCode, String) {
    (ErrorCode::InvalidParams, format!("the request has no usable `{what}`"))
}
