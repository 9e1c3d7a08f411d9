//! `benchleaf serve`: worksheets in a browser, as they are saved. Every request (`server`) is answered (`answer`) with a page
//! (`pages`), a picture or a stream of what changes. The system says which files changed (`watch`); the pages that were asked
//! for are then made anew, those of the changed files first.

mod answer;
mod order;
mod pages;
mod place;
mod server;
mod watch;

use std::{
    collections::{BTreeSet, VecDeque},
    net::Ipv4Addr,
    path::PathBuf,
    sync::{
        Arc,
        mpsc::{self, Receiver, RecvTimeoutError},
    },
    thread,
    time::{Duration, Instant},
};

use benchleaf_publish::{
    date,
    failure::Failure,
    live::LiveEngine,
    neighbours::Neighbours,
    page::{Form, RenderSettings, make_ready},
};

use benchleaf_words::{key, say};
use notify::RecommendedWatcher;
use tokio::net::TcpListener;

use self::{pages::Pages, place::Place};
use crate::{
    RawHtml,
    args::{EvaluationOptions, ServeRequest},
    message::harmless,
    outcome::Outcome,
    rust::Rust,
    terminal::Terminal,
};

/// Run `benchleaf serve` until it is ended.
pub(crate) fn serve(request: &ServeRequest, options: EvaluationOptions, terminal: &mut Terminal<'_>) -> Outcome {
    match start(request, options, terminal) {
        // The files are watched for as long as there is somebody to hear of it.
        Ok(Started { pages, events, _watcher }) => {
            follow(&pages, &events);
            let ended = terminal.words().text(key::PREVIEW_END_ENDED);
            terminal.say(&format!("{ended}\n"));
            Outcome::Fine
        }
        Err(failure) => terminal.fail(&failure),
    }
}

/// What the preview follows.
pub(super) enum Event {
    /// Files changed.
    Changed(Vec<PathBuf>),
    /// The user ends the preview.
    Ended,
}

struct Started {
    pages: Arc<Pages>,
    events: Receiver<Event>,
    _watcher: RecommendedWatcher,
}

fn start(request: &ServeRequest, options: EvaluationOptions, terminal: &mut Terminal<'_>) -> Result<Started, Failure> {
    let place = Place::of(&request.path)?;
    let rust = Rust::of_call(&options, terminal.progress())?;
    let setting = RenderSettings {
        samples: options.samples,
        seed: options.seed,
        evaluated: date::of_evaluation()?,
        raw_html: if request.html { RawHtml::Cleaned } else { RawHtml::ShownAsText },
        engine: LiveEngine::Inside,
        form: Form::Full,
        neighbours: Neighbours::NONE,
    };
    let failed = |cause: std::io::Error| match cause.kind() {
        std::io::ErrorKind::AddrInUse => Failure::PortInUse { port: request.port },
        _ => Failure::NotListening { port: request.port, cause },
    };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(failed)?;
    let listener = runtime.block_on(TcpListener::bind((Ipv4Addr::LOCALHOST, request.port))).map_err(failed)?;
    let port = listener.local_addr().map_or(request.port, |address| address.port());
    let (sender, events) = mpsc::channel();
    let watcher = watch::watch(&place, sender.clone())?;
    // Without it the system's own way of ending a program applies.
    let _ = ctrlc::set_handler(move || {
        let _ = sender.send(Event::Ended);
    });
    let (language, words) = (terminal.language(), terminal.words());
    let shown = harmless(&request.path.display().to_string()).into_owned();
    let front = place.front();
    let pages = Arc::new(Pages::new(place, setting, rust, language));
    let accepted = server::accept(listener, port, Arc::clone(&pages));
    thread::spawn(make_ready);
    thread::spawn(move || runtime.block_on(accepted));
    let address = format!("http://127.0.0.1:{port}{front}");
    let begun = say!(words, PREVIEW_END_BEGUN, path = shown, address = address);
    terminal.say(&format!("{begun}\n{}\n", words.text(key::PREVIEW_END_FOLLOWS)));
    terminal.flush();
    Ok(Started { pages, events, _watcher: watcher })
}

/// Makes pages anew as files change, until the user ends it.
fn follow(pages: &Pages, events: &Receiver<Event>) {
    let mut waiting: VecDeque<String> = VecDeque::new();
    loop {
        let event = match waiting.pop_front() {
            // What changes meanwhile goes before the rest.
            Some(path) => {
                pages.make_anew(&path);
                match events.try_recv() {
                    Ok(event) => event,
                    Err(_) => continue,
                }
            }
            None => match events.recv() {
                Ok(event) => event,
                Err(_) => return,
            },
        };
        let Some(changed) = settled(event, events) else { return };
        waiting = pages.concerned(&changed).into();
    }
}

/// All that one save changes: an editor may write a file in several goes. Nothing where the user ends the preview.
fn settled(first: Event, events: &Receiver<Event>) -> Option<BTreeSet<PathBuf>> {
    let mut changed = BTreeSet::new();
    let mut event = first;
    let latest = Instant::now() + LONGEST;
    loop {
        match event {
            Event::Changed(paths) => changed.extend(paths),
            Event::Ended => return None,
        }
        if Instant::now() > latest {
            return Some(changed);
        }
        event = match events.recv_timeout(QUIET) {
            Ok(event) => event,
            Err(RecvTimeoutError::Timeout) => return Some(changed),
            Err(RecvTimeoutError::Disconnected) => return None,
        };
    }
}

/// A save is over when nothing more has come for so long,
const QUIET: Duration = Duration::from_millis(4);
/// and is not waited for any longer than this.
const LONGEST: Duration = Duration::from_millis(20);
