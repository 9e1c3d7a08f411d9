//! The host: answers the command line's questions, a line each. Blocks are compiled by `evcxr` to one program, which then
//! serves their functions from inside the evaluation; the next block to compile ends that evaluation and starts another,
//! with all blocks in it. So nothing has to be kept inside the process that runs them, and when that one dies it is
//! started anew.

use std::{
    cell::RefCell,
    ffi::OsString,
    fs,
    io::{self, BufRead, Write},
    path::{Path, PathBuf},
    process::{Command, ExitCode},
    time::Duration,
};

use benchleaf_core::host::{
    Fault, Place,
    wire::{Answer, Ask, Source},
};
use evcxr::{CommandContext, CompilationError, Error, EvalCallbacks, EvalContext};

use crate::{
    compose::{Composed, Parted, compose, part},
    findings, limits,
    prelude::{self, Library, NotBuilt},
    reply::{self, Reply},
    watch::Watch,
};

/// Runs the host until there are no more questions. Takes the cache folder, and the seconds that a run may take.
pub(crate) fn run(mut arguments: impl Iterator<Item = OsString>) -> ExitCode {
    let folder = arguments.next().map(PathBuf::from);
    let seconds = arguments.next().and_then(|text| text.to_str()?.parse().ok()).unwrap_or(SECONDS);
    let Some(folder) = folder else {
        say(&Answer::Unable {
            why: "benchleaf-rust is started by benchleaf, not by hand".to_owned(),
            help: "run benchleaf render --allow-rust PATH".to_owned(),
        });
        return ExitCode::FAILURE;
    };
    if folder == Path::new(limits::TRY_NETWORK) {
        return if limits::deny_network() { ExitCode::SUCCESS } else { ExitCode::FAILURE };
    }
    if folder == Path::new("--version") {
        say(&Answer::Version(prelude::version()));
        return ExitCode::SUCCESS;
    }
    match Host::start(&folder, seconds) {
        Ok(mut host) => {
            host.answer();
            ExitCode::SUCCESS
        }
        Err(unable) => {
            say(&unable);
            ExitCode::FAILURE
        }
    }
}

/// Seconds that a run may take, where the command line does not say.
const SECONDS: u64 = 10;

struct Host {
    context: CommandContext,
    watch: Watch,
    /// The blocks that are alive, in the order they came in.
    blocks: Vec<(Source, Vec<Parted>)>,
    time: Duration,
}

/// How an evaluation that served blocks ended.
enum Served {
    /// A question came that it cannot answer.
    Asked(Ask),
    /// There are no more questions.
    Closed,
    /// The program did not compile.
    NotCompiled(Vec<CompilationError>, Composed),
    /// The process came to its end while a question was open, or the evaluation did.
    Died(Fault),
}

impl Host {
    fn start(folder: &Path, seconds: u64) -> Result<Self, Answer> {
        let toolchain = |program: &str| Command::new(program).arg("--version").output();
        if !["rustc", "cargo"].iter().all(|program| toolchain(program).is_ok_and(|output| output.status.success())) {
            return Err(Answer::Unable {
                why: "the Rust compiler is not installed".to_owned(),
                help: "install Rust with rustup (https://rustup.rs), so that rustc and cargo are on the path"
                    .to_owned(),
            });
        }
        let version = folder.join(prelude::version());
        fs::create_dir_all(&version).map_err(|cause| unwritable(&version, &cause))?;
        let lock = fs::File::create(version.join("lock")).map_err(|cause| unwritable(&version, &cause))?;
        if lock.try_lock().is_err() {
            say(&Answer::Progress("waiting for another run of Rust blocks to end".to_owned()));
            lock.lock().map_err(|cause| unwritable(&version, &cause))?;
        }
        // Held until this process ends.
        std::mem::forget(lock);
        if !version.join("built").exists() {
            say(&Answer::Progress(
                "building the units and the handbook's models for Rust blocks; this is done once and takes a minute or two"
                    .to_owned(),
            ));
        }
        let prepared = prepare(&version).map_err(|cause| match cause {
            NotBuilt::Io(cause) => unwritable(&version, &cause),
            NotBuilt::Cargo(said) => not_built(&said),
        })?;
        limits::for_host();
        let network = limits::network_can_be_denied();
        let (context, watch) = context(&prepared, network).map_err(|error| not_built(&error.to_string()))?;
        if let Err(cause) = fs::write(version.join("built"), "") {
            return Err(unwritable(&version, &cause));
        }
        say(&Answer::Ready { terms: limits::terms(seconds, network) });
        Ok(Self { context, watch, blocks: Vec::new(), time: Duration::from_secs(seconds) })
    }

    /// Answers all questions.
    fn answer(&mut self) {
        let mut open = next();
        while let Some(ask) = open.take() {
            open = match ask {
                Ask::Compile(source) => self.compile(*source),
                Ask::Forget { block } => {
                    self.blocks.retain(|(source, _)| source.block != block);
                    say(&Answer::Forgotten);
                    next()
                }
                run @ (Ask::Once { .. } | Ask::Many { .. }) => self.serve_first(run),
            };
        }
    }

    /// Compiles a block; answers what can be answered while it is served, and gives the first question that cannot.
    fn compile(&mut self, source: Source) -> Option<Ask> {
        let own = match part(&source.code) {
            Ok(own) => own,
            Err(finding) => {
                say(&Answer::Findings(vec![finding]));
                return next();
            }
        };
        // An earlier block that does not read has said so at its own place; this one does without its items.
        let mut parts: Vec<Parted> = source.earlier.iter().filter_map(|text| part(text).ok()).collect();
        parts.push(own);
        self.blocks.push((source, parts));
        let mut compiled = false;
        match self.serve(None, || {
            say(&Answer::Compiled);
            compiled = true;
        }) {
            Served::Asked(ask) => Some(ask),
            Served::Closed => None,
            Served::NotCompiled(errors, composed) => {
                if let Some((source, _)) = self.blocks.pop() {
                    say(&Answer::Findings(findings::in_plain_words(&errors, &composed, &source)));
                }
                next()
            }
            Served::Died(fault) => {
                if !compiled {
                    self.blocks.pop();
                }
                say(&Answer::Fault(fault));
                next()
            }
        }
    }

    /// Serves the blocks anew, and answers a question first.
    fn serve_first(&mut self, ask: Ask) -> Option<Ask> {
        let known = |number: u32| self.blocks.iter().any(|(source, _)| source.block == number);
        let (Ask::Once { block, .. } | Ask::Many { block, .. }) = &ask else { return Some(ask) };
        if !known(*block) {
            say(&Answer::Fault(fault("this block is not compiled", "run it again")));
            return next();
        }
        match self.serve(Some(ask), || {}) {
            Served::Asked(ask) => Some(ask),
            Served::Closed => None,
            Served::NotCompiled(..) => {
                say(&Answer::Fault(fault("the Rust compiler did not do the same work twice", "run it again")));
                next()
            }
            Served::Died(fault) => {
                say(&Answer::Fault(fault));
                next()
            }
        }
    }

    /// Evaluates the program of all blocks, which serves them until a question comes that it cannot answer.
    fn serve(&mut self, first: Option<Ask>, mut ready: impl FnMut()) -> Served {
        let composed = compose(&self.blocks);
        let open = RefCell::new(None::<Ask>);
        let pending = RefCell::new(first);
        let left = RefCell::new(None::<Served>);
        let ready = RefCell::new(&mut ready);
        let (watch, time) = (self.watch.clone(), self.time);
        let blocks = &self.blocks;
        // Called with each answer of the program; gives the next question.
        let read = |said: &str| -> String {
            match open.borrow_mut().take() {
                Some(ask) => {
                    let (printed, _, _) = watch.end();
                    say(&reply::answer(Reply::read(said), &ask, blocks, &composed, printed));
                }
                None => (ready.borrow_mut())(),
            }
            let ask = pending.borrow_mut().take().or_else(next);
            let question = match &ask {
                Some(Ask::Once { block, inputs }) => Some(format!("once {block} 1 {}", reply::hex(inputs))),
                Some(Ask::Many { block, rows, inputs }) => Some(format!("many {block} {rows} {}", reply::hex(inputs))),
                _ => None,
            };
            match (question, ask) {
                (Some(question), ask) => {
                    *open.borrow_mut() = ask;
                    watch.begin(time);
                    question
                }
                (None, ask) => {
                    *left.borrow_mut() = Some(ask.map_or(Served::Closed, Served::Asked));
                    "stop".to_owned()
                }
            }
        };
        let mut callbacks = EvalCallbacks { input_reader: &|request| read(&request.prompt) };
        let result = self.context.execute_with_callbacks(&composed.code, &mut callbacks);
        let asked = left.borrow_mut().take();
        let (_, complaints, ended) = self.watch.end();
        match result {
            Ok(_) => asked.unwrap_or_else(|| Served::Died(reply::died(ended, &complaints, "it left its place"))),
            Err(Error::CompilationErrors(errors)) => Served::NotCompiled(errors, composed),
            Err(Error::SubprocessTerminated(how)) => Served::Died(reply::died(ended, &complaints, &how)),
            Err(error) => Served::Died(reply::died(ended, &complaints, &error.to_string())),
        }
    }
}

/// Where blocks are run, and what they are compiled against.
struct Prepared {
    library: Library,
    work: PathBuf,
}

/// Builds the prelude and makes the folders. From here on the working folder is the version's own, where `evcxr` finds its
/// settings before those of its user.
fn prepare(version: &Path) -> Result<Prepared, NotBuilt> {
    // A workspace of its own, whatever workspace the cache folder lies in.
    fs::write(version.join("Cargo.toml"), WORKSPACE)?;
    let library = prelude::build(version)?;
    let (build, work) = (version.join("build"), version.join("work"));
    let _ = fs::remove_dir_all(&work);
    fs::create_dir_all(&work)?;
    fs::create_dir_all(&build)?;
    let tmpdir = build.to_string_lossy();
    let settings = format!("[evcxr]\ntmpdir = {tmpdir:?}\nopt_level = \"2\"\noffline_mode = true\n");
    fs::write(version.join("evcxr.toml"), settings)?;
    std::env::set_current_dir(version)?;
    Ok(Prepared { library, work })
}

/// The profile stands here, since cargo reads that of `evcxr`'s package at the root of a workspace alone.
const WORKSPACE: &str = r#"[workspace]
resolver = "3"
members = ["build"]
exclude = ["sources"]

[profile.dev]
opt-level = 2
debug = false
strip = "debuginfo"
rpath = true
"#;

fn context(prepared: &Prepared, network: bool) -> Result<(CommandContext, Watch), Error> {
    let mut command = Command::new(std::env::current_exe()?);
    command.env_clear().current_dir(&prepared.work);
    if cfg!(windows) {
        command.envs(std::env::vars_os().filter(|(name, _)| name == "SystemRoot"));
    }
    // Where the compiler says that its library is, it is looked for one folder too high.
    if let Some(folder) = library_folder() {
        let name = if cfg!(target_os = "macos") { "DYLD_LIBRARY_PATH" } else { "LD_LIBRARY_PATH" };
        command.env(name, folder);
    }
    if network {
        command.env(limits::NETWORK, "1");
    }
    let (mut context, outputs) = EvalContext::with_subprocess_command(command)?;
    let watch = Watch::over(context.process_handle(), outputs);
    let mut state = context.state();
    let mut flags = vec!["-Cprefer-dynamic".to_owned()];
    flags.extend(prepared.library.flags());
    state.set_build_env("CARGO_ENCODED_RUSTFLAGS", &flags.join("\u{1f}"));
    context.eval_with_state("benchleaf_prelude::glue::ready();", state)?;
    Ok((CommandContext::with_eval_context(context), watch))
}

/// The folder of Rust's own library.
fn library_folder() -> Option<String> {
    let answer = Command::new("rustc").args(["--print", "target-libdir"]).output().ok()?;
    Some(String::from_utf8(answer.stdout).ok()?.trim().to_owned())
}

/// The next question; none when there are no more, or what came is no question.
fn next() -> Option<Ask> {
    let mut line = String::new();
    io::stdin().lock().read_line(&mut line).ok().filter(|length| *length > 0)?;
    serde_json::from_str(&line).ok()
}

fn say(answer: &Answer) {
    let mut out = io::stdout().lock();
    // Nobody there to hear it: the next question will not come either.
    let _ = serde_json::to_writer(&mut out, answer).map_err(io::Error::from).and_then(|()| writeln!(out));
    let _ = out.flush();
}

fn unwritable(folder: &Path, cause: &io::Error) -> Answer {
    Answer::Unable {
        why: format!("the cache folder {} cannot be used ({cause})", folder.display()),
        help: "see that there is room, and that you may write there".to_owned(),
    }
}

fn not_built(said: &str) -> Answer {
    let short: Vec<&str> = said.lines().filter(|line| !line.trim().is_empty()).take(12).collect();
    Answer::Unable {
        why: format!("what Rust blocks need could not be built: {}", short.join(" / ")),
        help: "the first time this needs the network, and a C linker; afterwards it does not".to_owned(),
    }
}

fn fault(message: &str, help: &str) -> Fault {
    Fault { message: message.to_owned(), help: help.to_owned(), place: Place::Whole }
}
