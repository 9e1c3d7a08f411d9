//! Benchleaf's command line. [`run`] takes the arguments of one call and two streams, and gives an [`Outcome`]; the
//! program around it is a few lines. Pages and sites as files are made by `benchleaf-publish`.
//!
//! Worksheets are evaluated and reported (`check`) or made into pages (`render`), in parallel where there are several
//! (`batch`); pages are read back for their worksheet (`source`) or to be compared with it (`verify`). Problems of
//! worksheets and failures of the command itself are drawn alike (`message`). A class's answers are marked by `mark`. A
//! failing worksheet never stops the others, and the worst outcome is the exit status.

mod args;
mod batch;
mod check;
mod constants;
mod diff;
mod drawing;
#[cfg(test)]
mod editing;
mod locale;
mod lsp;
mod mark;
mod message;
mod outcome;
mod parts;
mod reading;
mod render;
mod rust;
mod said;
mod serve;
mod source;
mod start;
mod terminal;
mod vary;
mod verify;

use std::ffi::OsString;

use benchleaf_words::{key, say};
use clap::{CommandFactory, Parser, error::ErrorKind};

use crate::args::{Arguments, Command};
pub use benchleaf_core::Day;
pub use benchleaf_publish::{
    RawHtml,
    failure::Failure,
    live::LiveEngine,
    neighbours::Neighbours,
    page::{Form, RenderSettings, RenderedPage, render_worksheet, render_worksheet_with},
};

pub use crate::{
    drawing::Drawing,
    locale::language_of_environment,
    outcome::Outcome,
    terminal::{Progress, Terminal},
};

/// Run one call of the program. The first argument is the program's name, as in `std::env::args_os`.
pub fn run(arguments: impl IntoIterator<Item = OsString>, terminal: &mut Terminal<'_>) -> Outcome {
    let outcome = match Arguments::try_parse_from(arguments) {
        Ok(Arguments { command, options, locale }) => {
            if let Some(language) = locale {
                terminal.speak(language);
            }
            match command {
                Command::Render(request) => render::render(&request, options, terminal),
                Command::Serve(request) => serve::serve(&request, options, terminal),
                Command::Check(request) => check::check(&request, options, terminal),
                Command::Mark(request) => mark::mark(&request, terminal),
                Command::New(request) => start::start(&request, terminal),
                Command::Lsp => lsp::lsp(terminal),
                Command::Parts(request) => parts::parts(&request, terminal),
                Command::Source(request) => source::source(&request, terminal),
                Command::Verify(request) => verify::verify(&request, &options, terminal),
                Command::Diff(request) => diff::diff(&request, options, terminal),
                Command::Constants(request) => constants::constants(&request, options, terminal),
                Command::Vary(request) => vary::vary(&request, options, terminal),
            }
        }
        Err(answer) if answer.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => first_steps(terminal),
        Err(answer) => usage(&answer, terminal),
    };
    outcome.and(terminal.finish())
}

/// All commands with their options and texts, as the help shows them: for completions and manual pages.
pub fn command() -> clap::Command {
    Arguments::command()
}

/// Without a command there is nothing to do: say which command comes first, second and third.
fn first_steps(terminal: &mut Terminal<'_>) -> Outcome {
    let words = terminal.words();
    let step = |command: &str, says: &str| format!("  {command:<28}   {says}\n");
    let steps = [
        step("benchleaf new pump", words.text(key::FIRST_STEPS_NEW)),
        step("benchleaf check pump.md", words.text(key::FIRST_STEPS_CHECK)),
        step("benchleaf render pump.md", words.text(key::FIRST_STEPS_RENDER)),
    ];
    let (head, foot) = (words.text(key::FIRST_STEPS_HEAD), say!(words, FIRST_STEPS_FOOT, command = "benchleaf --help"));
    terminal.warn(&format!("{head}\n\n{}\n{foot}\n", steps.concat()));
    Outcome::Failed
}

/// Help and version are answers; anything else that the parser of arguments has to say is a usage error.
fn usage(answer: &clap::Error, terminal: &mut Terminal<'_>) -> Outcome {
    let text = answer.render();
    if answer.use_stderr() {
        terminal.warn(&match terminal.drawing() {
            Drawing::Coloured => text.ansi().to_string(),
            Drawing::Plain => text.to_string(),
        });
        Outcome::Failed
    } else {
        terminal.say(&text.to_string());
        Outcome::Fine
    }
}
