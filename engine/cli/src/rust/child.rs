//! The program that runs Rust blocks, as a child of this one: found, started when first wanted, asked over pipes, and ended
//! with all that it started. One serves a whole call. What it inherits is named one by one.

use std::{
    env, fs,
    io::{self, BufRead, BufReader, Write},
    path::{Path, PathBuf},
    process::{ChildStdin, Command, Stdio},
    sync::mpsc::{Receiver, channel},
    time::{Duration, UNIX_EPOCH},
};

use benchleaf_core::host::{
    Fault, Place, Refusal,
    wire::{Answer, Ask},
};
use benchleaf_publish::failure::{name, reason};
use benchleaf_words::{Phrase, phrase};
use indicatif::ProgressBar;

use super::Runner;
use crate::terminal::Progress;

/// The child, running or not.
#[derive(Debug)]
pub(crate) struct Child {
    running: Option<Running>,
    /// Why it cannot be started; it is not tried twice.
    unable: Option<Unable>,
    generation: u64,
    numbers: u32,
    progress: Progress,
}

#[derive(Debug)]
struct Running {
    process: std::process::Child,
    questions: ChildStdin,
    answers: Receiver<Answer>,
    terms: String,
}

/// Why it cannot be started, and what to do about it.
#[derive(Clone, Debug)]
struct Unable {
    why: Phrase,
    help: Phrase,
}

/// The child ended, or fell silent and was ended.
#[derive(Debug)]
pub(crate) struct Lost;

impl Child {
    pub(crate) fn new(progress: Progress) -> Self {
        Self { running: None, unable: None, generation: 0, numbers: 0, progress }
    }

    /// Which child this is: what was compiled in an earlier one is gone.
    pub(crate) fn generation(&self) -> u64 {
        self.generation
    }

    /// A number for a block.
    pub(crate) fn next_number(&mut self) -> u32 {
        self.numbers += 1;
        self.numbers
    }

    /// Under what limits blocks run.
    pub(crate) fn terms(&self) -> &str {
        self.running.as_ref().map_or("", |running| &running.terms)
    }

    /// Starts it, where it does not run.
    pub(crate) fn start(&mut self, runner: &Runner) -> Result<(), Refusal> {
        if self.running.is_some() {
            return Ok(());
        }
        let unable = match self.unable.clone() {
            Some(unable) => unable,
            None => match self.started(runner) {
                Ok(running) => {
                    self.generation += 1;
                    self.running = Some(running);
                    return Ok(());
                }
                Err(unable) => self.unable.insert(unable).clone(),
            },
        };
        Err(Refusal::NotRun { why: unable.why, help: unable.help })
    }

    fn started(&self, runner: &Runner) -> Result<Running, Unable> {
        let failed = |why: Phrase| Unable { why, help: phrase!(RUST_OFF_SAME_VERSION) };
        let (Some((program, _)), Some(cache)) = (&runner.program, &runner.cache) else {
            return Err(failed(phrase!(RUST_OFF_NOT_INSTALLED)));
        };
        // `evcxr` would read all sources of Rust's own library at each start, and have rustup fetch them where they are
        // missing, for the types of variables that it keeps; it keeps none here, and is shown a library without sources.
        let no_sources = cache.join("no-sources");
        fs::create_dir_all(no_sources.join("core"))
            .map_err(|cause| failed(phrase!(RUST_OFF_CACHE_NOT_MADE, path = name(cache), why = reason(&cause))))?;
        let mut command = Command::new(program);
        command.arg(cache).arg(SECONDS.to_string()).env_clear().envs(inherited());
        command.env("RUST_SRC_PATH", no_sources).current_dir(cache);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        // A group of its own, so that it can be ended with all that it started.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut process =
            command.spawn().map_err(|cause| failed(phrase!(RUST_OFF_NOT_STARTED_WHY, why = reason(&cause))))?;
        let (Some(questions), Some(out), Some(err)) =
            (process.stdin.take(), process.stdout.take(), process.stderr.take())
        else {
            return Err(failed(phrase!(RUST_OFF_NOT_STARTED)));
        };
        let (sender, answers) = channel();
        std::thread::spawn(move || {
            for line in BufReader::new(out).lines().map_while(Result::ok) {
                let Ok(answer) = serde_json::from_str(&line) else { continue };
                if sender.send(answer).is_err() {
                    return;
                }
            }
        });
        let show = Shown::new(self.progress);
        let bar = show.bar.clone();
        std::thread::spawn(move || {
            // What the compiler says while it builds.
            for line in BufReader::new(err).lines().map_while(Result::ok) {
                bar.set_message(line.trim().to_owned());
            }
        });
        let mut running = Running { process, questions, answers, terms: String::new() };
        loop {
            match running.answers.recv_timeout(LONGEST_START) {
                Ok(Answer::Progress(text)) => show.report(&text),
                Ok(Answer::Ready { terms }) => {
                    running.terms = terms;
                    return Ok(running);
                }
                Ok(Answer::Unable { why, help }) => {
                    running.end();
                    return Err(Unable { why: Phrase::from(why), help: Phrase::from(help) });
                }
                Ok(_) | Err(_) => {
                    running.end();
                    return Err(failed(phrase!(RUST_OFF_ENDED_EARLY)));
                }
            }
        }
    }

    /// Asks a question. After [`Lost`] there is no child any more; the next question starts another.
    pub(crate) fn ask(&mut self, ask: &Ask) -> Result<Answer, Lost> {
        let Some(running) = &mut self.running else { return Err(Lost) };
        let answer = running.ask(ask);
        if answer.is_err()
            && let Some(running) = self.running.take()
        {
            running.end();
            self.generation += 1;
        }
        answer
    }
}

impl Running {
    fn ask(&mut self, ask: &Ask) -> Result<Answer, Lost> {
        let mut line = serde_json::to_vec(ask).map_err(|_| Lost)?;
        line.push(b'\n');
        self.questions.write_all(&line).and_then(|()| self.questions.flush()).map_err(|_| Lost)?;
        loop {
            match self.answers.recv_timeout(LONGEST_ANSWER) {
                Ok(Answer::Progress(_)) => {}
                Ok(answer) => return Ok(answer),
                Err(_) => return Err(Lost),
            }
        }
    }

    /// Ends it with all that it started.
    fn end(mut self) {
        #[cfg(unix)]
        if let Ok(number) = i32::try_from(self.process.id()) {
            let group = nix::unistd::Pid::from_raw(number);
            let _ = nix::sys::signal::killpg(group, nix::sys::signal::Signal::SIGKILL);
        }
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

impl Drop for Child {
    fn drop(&mut self) {
        if let Some(running) = self.running.take() {
            running.end();
        }
    }
}

/// What a person sees of the first start, which takes long.
struct Shown {
    bar: ProgressBar,
    progress: Progress,
}

impl Shown {
    fn new(progress: Progress) -> Self {
        Self { bar: ProgressBar::hidden(), progress }
    }

    fn report(&self, text: &str) {
        // Without a person there, a line in the record says why it takes so long.
        let _ = writeln!(io::stderr(), "benchleaf: {text}");
        if self.progress == Progress::Line {
            self.bar.set_draw_target(indicatif::ProgressDrawTarget::stderr());
            self.bar.enable_steady_tick(Duration::from_millis(120));
        }
    }
}

impl Drop for Shown {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

/// Where `benchleaf-rust` is, beside this program or on the path, and a name for that very build of it.
pub(crate) fn find() -> Option<(PathBuf, String)> {
    let name = format!("benchleaf-rust{}", env::consts::EXE_SUFFIX);
    let beside = env::current_exe().ok().and_then(|program| Some(program.parent()?.join(&name)));
    let path = env::var_os("PATH").unwrap_or_default();
    let on_path = env::split_paths(&path).filter(|folder| folder.is_absolute()).map(|folder| folder.join(&name));
    let found = beside.into_iter().chain(on_path).find(|file| file.is_file())?;
    let version = identity(&found)?;
    Some((found, version))
}

fn identity(program: &Path) -> Option<String> {
    let metadata = fs::metadata(program).ok()?;
    let changed = metadata.modified().ok()?.duration_since(UNIX_EPOCH).ok()?.as_nanos();
    Some(format!("{} {} {changed} {}", env!("CARGO_PKG_VERSION"), program.display(), metadata.len()))
}

/// What the child inherits: where Rust's tools are, and how they reach the network the first time. The process that
/// runs blocks gets none of it.
fn inherited() -> impl Iterator<Item = (std::ffi::OsString, std::ffi::OsString)> {
    let home = dirs::home_dir().unwrap_or_default();
    let tools = [("CARGO_HOME", ".cargo"), ("RUSTUP_HOME", ".rustup")];
    let tools = tools.into_iter().filter(|(name, _)| env::var_os(name).is_none());
    let tools: Vec<_> = tools.map(|(name, folder)| (name.into(), home.join(folder).into_os_string())).collect();
    let named = |name: &str| INHERITED.contains(&name) || INHERITED_WITH.iter().any(|start| name.starts_with(start));
    let passed = env::vars_os().filter(move |(name, _)| name.to_str().is_some_and(named));
    passed.chain(tools)
}

pub(crate) fn fault(message: &str, help: &str) -> Fault {
    Fault { message: message.to_owned(), help: help.to_owned(), place: Place::Whole }
}

const INHERITED: &[&str] = &[
    "PATH",
    "CARGO_HOME",
    "RUSTUP_HOME",
    "RUSTUP_TOOLCHAIN",
    "TMPDIR",
    "TEMP",
    "TMP",
    "SystemRoot",
    "USERPROFILE",
    "LIB",
    "INCLUDE",
    "LIBPATH",
    "SSL_CERT_FILE",
    "SSL_CERT_DIR",
    "http_proxy",
    "https_proxy",
    "no_proxy",
    "HTTP_PROXY",
    "HTTPS_PROXY",
    "NO_PROXY",
    "ALL_PROXY",
    "all_proxy",
];
const INHERITED_WITH: &[&str] = &["CARGO_HTTP_", "CARGO_NET_", "CARGO_REGISTR", "CARGO_SOURCE_"];
/// Seconds that one run may take.
const SECONDS: u64 = 10;
/// Time after which a child that says nothing is given up: longer than any run and any compilation of a block.
const LONGEST_ANSWER: Duration = Duration::from_secs(180);
/// The same for the first start, which may build for minutes or wait for another run that does.
const LONGEST_START: Duration = Duration::from_secs(1800);
