//! `benchleaf lsp`: a language server on the process's own streams. A thread reads messages (`wire`); the session answers
//! them one after the other (`session`) from the texts that the editor has open (`document`). What is wrong with a text is
//! told once nothing more is waiting to be read, so that fast typing is not evaluated letter by letter.

mod complete;
mod document;
mod hover;
mod lines;
mod names;
mod session;
mod symbols;
mod wire;

use std::{
    io::{self, BufReader, Write},
    ops::ControlFlow,
    sync::mpsc,
    thread,
};

use self::{
    session::Session,
    wire::{Answer, Frame},
};
use crate::{outcome::Outcome, terminal::Terminal};

/// Run `benchleaf lsp` until the editor ends it.
pub(crate) fn lsp(terminal: &mut Terminal<'_>) -> Outcome {
    // A bound, so that an editor that sends faster than it is answered has to wait.
    let (sender, frames) = mpsc::sync_channel(WAITING);
    thread::spawn(move || {
        let mut input = BufReader::new(io::stdin());
        loop {
            let frame = wire::read(&mut input);
            let is_last = matches!(frame, Frame::End);
            if sender.send(frame).is_err() || is_last {
                return;
            }
        }
    });
    let mut session = Session::new(terminal.words());
    let mut answers = Vec::new();
    loop {
        let frame = match frames.try_recv() {
            Ok(frame) => frame,
            Err(_) => {
                session.diagnose(&mut answers);
                if !sent(&mut answers, terminal.writer()) {
                    return session.outcome();
                }
                let Ok(frame) = frames.recv() else { return session.outcome() };
                frame
            }
        };
        let flow = session.take(frame, &mut answers);
        if !sent(&mut answers, terminal.writer()) || flow == ControlFlow::Break(()) {
            return session.outcome();
        }
    }
}

/// Writes what is to be said; whether the editor still listens.
fn sent(answers: &mut Vec<Answer>, out: &mut dyn Write) -> bool {
    answers.drain(..).all(|answer| answer.write(out).is_ok())
}

/// Messages that may wait to be answered.
const WAITING: usize = 64;
