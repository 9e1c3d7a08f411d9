//! The `benchleaf` program: hands the process's arguments and streams to the library and turns what came of it into an
//! exit status. Start reading at the library's `run`.

use std::{
    io::{self, BufWriter, IsTerminal},
    process::ExitCode,
};

use benchleaf::{Drawing, Progress, Terminal, language_of_environment, run};
use benchleaf_core::parallel;
use mimalloc::MiMalloc;

/// A page is thousands of small strings, set by several threads: the system's own allocators are slow at that.
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    parallel::set_up();
    let (out, err) = (io::stdout(), io::stderr());
    let interactive = err.is_terminal();
    let no_color = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let drawing = if interactive && !no_color { Drawing::Coloured } else { Drawing::Plain };
    let progress = if interactive { Progress::Line } else { Progress::None };
    // The error stream stays unlocked: the line of progress is written to it from threads of its own.
    let mut out = BufWriter::new(out.lock());
    let mut err = err;
    let language = language_of_environment(|name| std::env::var_os(name));
    let mut terminal = Terminal::new(&mut out, &mut err, drawing, progress).in_language(language);
    run(std::env::args_os(), &mut terminal).into()
}
