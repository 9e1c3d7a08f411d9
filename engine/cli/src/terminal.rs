//! The two streams of a call: answers go out, messages go to the error stream. A reader that closes its end early (a
//! pipe into a pager) is no error: what is left to say is dropped and the work goes on. Any other trouble in writing
//! is kept, and reported when the call ends.

use std::io::{BufRead, ErrorKind, Write};

use benchleaf_publish::failure::Failure;
use benchleaf_words::{Language, Words};

use crate::{
    drawing::{Drawing, Look},
    message,
    outcome::Outcome,
};

/// Whether long work shows how far it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    /// A line on the process's error stream, which goes when the work is done.
    Line,
    /// Nothing.
    None,
}

/// Whether what is written reaches anyone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Listening {
    Yes,
    No,
}

/// Where a call writes to.
pub struct Terminal<'a> {
    out: &'a mut dyn Write,
    err: &'a mut dyn Write,
    drawing: Drawing,
    language: Language,
    progress: Progress,
    out_state: StreamState,
    input: Option<&'a mut dyn BufRead>,
}

impl<'a> Terminal<'a> {
    /// A terminal over an output and an error stream, in English.
    pub fn new(out: &'a mut dyn Write, err: &'a mut dyn Write, drawing: Drawing, progress: Progress) -> Self {
        Self { out, err, drawing, language: Language::ENGLISH, progress, out_state: StreamState::Open, input: None }
    }

    /// The same with an input stream in the place of the process's own.
    #[must_use]
    pub fn with_input(self, input: &'a mut dyn BufRead) -> Self {
        Self { input: Some(input), ..self }
    }

    /// The same in a language.
    #[must_use]
    pub fn in_language(self, language: Language) -> Self {
        Self { language, ..self }
    }

    /// From now on what is said is in this language.
    pub(crate) fn speak(&mut self, language: Language) {
        self.language = language;
    }

    /// The language of what is said.
    pub(crate) fn language(&self) -> Language {
        self.language
    }

    /// Its words.
    pub(crate) fn words(&self) -> Words<'static> {
        self.language.words()
    }

    /// How messages are drawn, and their words.
    pub(crate) fn look(&self) -> Look {
        Look { drawing: self.drawing, words: self.words() }
    }

    /// The input stream, where it is not the process's own. It is given once.
    pub(crate) fn take_input(&mut self) -> Option<&'a mut dyn BufRead> {
        self.input.take()
    }

    /// How messages are drawn.
    pub fn drawing(&self) -> Drawing {
        self.drawing
    }

    /// Whether long work shows how far it is.
    pub fn progress(&self) -> Progress {
        self.progress
    }

    /// Write an answer, line ends included.
    pub fn say(&mut self, text: &str) {
        if matches!(self.out_state, StreamState::Open) {
            self.out_state = StreamState::after(self.out.write_all(text.as_bytes()));
        }
    }

    /// Write an answer at once, and say whether anyone still reads.
    pub(crate) fn say_now(&mut self, text: &str) -> Listening {
        self.say(text);
        self.flush();
        if matches!(self.out_state, StreamState::Open) { Listening::Yes } else { Listening::No }
    }

    /// Write a message, line ends included, below the answers that came before it.
    pub fn warn(&mut self, text: &str) {
        if text.is_empty() {
            return;
        }
        self.flush();
        // There is nowhere left to report trouble with the error stream.
        let _ = self.err.write_all(text.as_bytes());
    }

    /// Draw a failure, and give the outcome that it means.
    pub fn fail(&mut self, failure: &Failure) -> Outcome {
        let drawn = message::draw_failure(failure, self.look());
        self.warn(&drawn);
        Outcome::from(failure)
    }

    /// Write out what is held back, and say whether all answers reached the reader.
    pub(crate) fn finish(&mut self) -> Outcome {
        self.flush();
        match std::mem::replace(&mut self.out_state, StreamState::Closed) {
            StreamState::Open | StreamState::Closed => Outcome::Fine,
            StreamState::Broken(cause) => self.fail(&Failure::Answer { cause }),
        }
    }

    /// The stream of answers itself, for a protocol of its own.
    pub(crate) fn writer(&mut self) -> &mut dyn Write {
        self.out
    }

    /// Write out what is held back.
    pub(crate) fn flush(&mut self) {
        if matches!(self.out_state, StreamState::Open) {
            self.out_state = StreamState::after(self.out.flush());
        }
    }
}

enum StreamState {
    Open,
    /// The reader has gone.
    Closed,
    Broken(std::io::Error),
}

impl StreamState {
    fn after(result: std::io::Result<()>) -> Self {
        match result {
            Ok(()) => StreamState::Open,
            Err(cause) if cause.kind() == ErrorKind::BrokenPipe => StreamState::Closed,
            Err(cause) => StreamState::Broken(cause),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Failing(ErrorKind);

    impl Write for Failing {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(self.0.into())
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_reader_that_leaves_is_no_error_and_a_full_disk_is_one() {
        for (kind, outcome, reported) in
            [(ErrorKind::BrokenPipe, Outcome::Fine, false), (ErrorKind::StorageFull, Outcome::Failed, true)]
        {
            let (mut out, mut err) = (Failing(kind), Vec::new());
            let mut terminal = Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None);
            terminal.say("one\n");
            terminal.say("two\n");
            assert_eq!(terminal.finish(), outcome);
            assert_eq!(!err.is_empty(), reported);
        }
    }
}
