//! Which files of a preview change, as the system says it.

use std::{path::Path, sync::mpsc::Sender};

use benchleaf_publish::failure::Failure;
use benchleaf_words::{Phrase, phrase};
use notify::{
    EventKind, RecommendedWatcher, RecursiveMode, Watcher,
    event::{AccessKind, AccessMode},
};

use super::{Event, place::Place};

/// Watches the folder of a preview for as long as what it gives is kept.
///
/// # Errors
/// Where the system cannot watch it.
pub(super) fn watch(place: &Place, events: Sender<Event>) -> Result<RecommendedWatcher, Failure> {
    let folder = place.folder().to_owned();
    let failed = |cause: notify::Error| Failure::NotWatched { path: place.folder().to_owned(), why: why(&cause) };
    let heard = move |event: notify::Result<notify::Event>| {
        let paths = match event {
            Ok(event) if is_change(event.kind) => event.paths,
            // Something was missed: what it was has to be assumed of every file.
            Err(_) => vec![folder.clone()],
            Ok(event) if event.need_rescan() => vec![folder.clone()],
            Ok(_) => return,
        };
        let paths: Vec<_> = paths.into_iter().filter(|path| concerns(path, &folder)).collect();
        if !paths.is_empty() {
            let _ = events.send(Event::Changed(paths));
        }
    };
    let mut watcher = RecommendedWatcher::new(heard, notify::Config::default()).map_err(failed)?;
    // Around one worksheet there may be anything: a whole home, say.
    let mode = if place.only().is_some() { RecursiveMode::NonRecursive } else { RecursiveMode::Recursive };
    watcher.watch(place.folder(), mode).map_err(failed)?;
    Ok(watcher)
}

/// Whether a file is another one afterwards. Reading it, as the preview does, is no change.
fn is_change(kind: EventKind) -> bool {
    !matches!(kind, EventKind::Access(access) if access != AccessKind::Close(AccessMode::Write))
}

/// Whether a page may depend on a file: on worksheets, tables and pictures, and on folders; not on what is hidden.
fn concerns(path: &Path, folder: &Path) -> bool {
    let within = path.strip_prefix(folder).unwrap_or(path);
    let is_hidden = within.components().any(|part| part.as_os_str().as_encoded_bytes().starts_with(b"."));
    let ending = path.extension().map(std::ffi::OsStr::to_ascii_lowercase);
    !is_hidden && ending.is_none_or(|ending| ENDINGS.iter().any(|known| ending == **known))
}

fn why(cause: &notify::Error) -> Phrase {
    match &cause.kind {
        notify::ErrorKind::MaxFilesWatch => phrase!(WHY_OTHER_WATCHED_LIMIT),
        _ => Phrase::from(cause.to_string()),
    }
}

const ENDINGS: &[&str] = &["md", "csv", "tsv", "png", "jpg", "jpeg", "webp", "svg"];
