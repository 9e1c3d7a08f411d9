//! The pages of a preview, and what those who look at them are told. A page is made when it is first asked for and made anew
//! when files change; the last one without an error is kept beside the last one. Whoever listens hears the state of every page
//! as it is, not each step on the way there, so that nobody who is slow or comes late misses anything.

use std::{
    collections::{BTreeMap, BTreeSet, HashMap},
    fs,
    hash::{DefaultHasher, Hash, Hasher},
    panic::{AssertUnwindSafe, catch_unwind},
    path::{Path, PathBuf},
    sync::{Arc, Mutex, MutexGuard},
    thread,
    time::{Duration, SystemTime},
};

use benchleaf_core::{
    parallel::{self, locked},
    problem::Severity,
};
use benchleaf_publish::{
    around::{Around, OwnPages, SEARCH_NAME, search_title},
    failure::Failure,
    folder::Folder,
    inputs::Worksheet,
    kept::Kept,
    live::{LiveEngine, SHARED_NAME},
    marks::INDEX_NAME,
    neighbours::{Head, Link, Neighbours},
    page::{RenderSettings, RenderedPage, render_in_folder},
    pictures::Larger,
    preview::{Shown, previewed},
    sections::Section,
    site::{Front, INDEX},
    text,
    thumbnail::{ENDING, SmallPicture},
};
use benchleaf_words::{Language, Words, key, say};
use http_body_util::channel::Sender;
use hyper::body::Bytes;
use serde::Serialize;
use tokio::{sync::watch, time::timeout};

use super::{
    order::Order,
    place::{Place, Resource, page_of},
};
use crate::{message::Passage, rust::Rust};

/// All pages that were asked for.
pub(super) struct Pages {
    place: Place,
    setting: RenderSettings,
    rust: Rust,
    /// The language of what the preview itself says.
    language: Language,
    known: Mutex<Known>,
    /// News so far.
    news: watch::Sender<u64>,
}

#[derive(Default)]
struct Known {
    /// By the browser's path.
    pages: BTreeMap<String, Page>,
    /// What the metadata of each worksheet say, and the state of its file that they were read in.
    heads: HashMap<PathBuf, (FileState, Arc<Head>)>,
    /// The order of the worksheets, and the change of files that it was found after.
    order: Option<(u64, Arc<Order>)>,
    /// What the list says of each worksheet, and the change of files that it was made after.
    listed: HashMap<PathBuf, (u64, Arc<Listed>)>,
    /// The files of the site that are no worksheet's, by their links from its front page, and the change of files that they
    /// were made after.
    of_site: Option<(u64, Arc<HashMap<String, String>>)>,
    /// Changes of files so far.
    changes: u64,
}

struct Page {
    resource: Resource,
    /// The change of files that it was made after.
    after: u64,
    /// The last one, and the last one without an error.
    current: Arc<Version>,
    sound: Arc<Version>,
    problems: Arc<Vec<Told>>,
    /// The news that it was last in.
    news: u64,
}

struct Version {
    html: String,
    hash: String,
}

impl Version {
    fn new(html: String) -> Self {
        let mut hasher = DefaultHasher::new();
        html.hash(&mut hasher);
        Self { hash: format!("{:016x}", hasher.finish()), html }
    }
}

/// An error as it is shown over a page.
#[derive(Debug, Default, PartialEq, Serialize)]
struct Told {
    /// Line and column, from 1; absent where it is not of the worksheet's text.
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<usize>,
    column: usize,
    code: &'static str,
    message: String,
    help: Option<String>,
    /// The line that it stands in: before it, itself, and behind it.
    before: String,
    marked: String,
    after: String,
}

struct Listed {
    kept: Kept,
    /// Its small picture, where that is a drawing.
    drawing: Option<String>,
}

/// When a file was last written, and its length.
type FileState = Option<(SystemTime, u64)>;

/// A page as it was just made.
struct Made {
    html: String,
    problems: Vec<Told>,
}

impl Pages {
    /// No page as yet.
    pub(super) fn new(place: Place, setting: RenderSettings, rust: Rust, language: Language) -> Self {
        Self { place, setting, rust, language, known: Mutex::default(), news: watch::Sender::new(0) }
    }

    /// What is previewed.
    pub(super) fn place(&self) -> &Place {
        &self.place
    }

    /// The words of what the preview itself says.
    pub(super) fn words(&self) -> Words<'static> {
        self.language.words()
    }

    /// A page with what the preview adds.
    pub(super) fn page(&self, resource: &Resource, shown: Shown) -> Option<String> {
        let path = match resource {
            Resource::OfSite(link) if link == INDEX => "/".to_owned(),
            Resource::OfSite(link) => format!("/{link}"),
            Resource::Sheet(sheet) => page_of(sheet),
            Resource::Engine(_) | Resource::File(_) => return None,
        };
        let version = |known: &Known| {
            let page = known.pages.get(&path)?;
            let version = if shown == Shown::Sound { &page.sound } else { &page.current };
            (page.after == known.changes).then(|| Arc::clone(version))
        };
        // Files may change while it is made; those who look at it hear of that.
        let known = version(&self.known());
        let version = match known {
            Some(version) => version,
            None if self.is_without(&path, resource) => return None,
            None => {
                let (sound, current) = self.made(&path, resource);
                if shown == Shown::Sound { sound } else { current }
            }
        };
        Some(previewed(&version.html, &path, shown, &version.hash))
    }

    /// Takes note of files that changed, and gives the paths of the pages that have to be made anew, those of the changed
    /// files first.
    pub(super) fn concerned(&self, changed: &BTreeSet<PathBuf>) -> Vec<String> {
        let mut known = self.known();
        known.changes += 1;
        let is_own = |page: &Page| match &page.resource {
            Resource::Sheet(sheet) => changed.contains(&self.place.folder().join(sheet)),
            _ => false,
        };
        let (own, others): (Vec<_>, Vec<_>) = known.pages.iter().partition(|(_, page)| is_own(page));
        own.into_iter().chain(others).map(|(path, _)| path.clone()).collect()
    }

    /// Makes a page anew, if it was asked for.
    pub(super) fn make_anew(&self, path: &str) {
        let resource = self.known().pages.get(path).map(|page| page.resource.clone());
        if let Some(resource) = resource {
            self.made(path, &resource);
        }
    }

    /// Sends the state of every page that was asked for, and of each that changes, to a client until it has gone.
    pub(super) async fn tell(self: Arc<Self>, mut client: Sender<Bytes>) {
        let mut news = self.news.subscribe();
        let (mut heard, mut events) = (0, "retry: 500\n\n".to_owned());
        while client.send_data(events.into()).await.is_ok() {
            let waited = timeout(HEARTBEAT, news.wait_for(|news| *news > heard)).await;
            // Whoever holds news must not wait for what is known: whoever changes that holds it, and waits for the news.
            events = match waited.map(|news| news.is_ok()) {
                Ok(true) => {
                    let known = self.known();
                    let since = std::mem::replace(&mut heard, *self.news.borrow());
                    known
                        .pages
                        .iter()
                        .filter(|(_, page)| page.news > since)
                        .map(|(path, page)| event(path, page))
                        .collect()
                }
                Ok(false) => return,
                // Whether the client is there shows when something is written.
                Err(_) => ":\n\n".to_owned(),
            };
        }
    }

    /// The index that the search page looks into.
    pub(super) fn search_index(&self) -> Option<String> {
        let after = self.known().changes;
        self.of_site(after).ok()?.get(INDEX_NAME).cloned()
    }

    /// The small picture of a page in the lists, by its path in the folder.
    pub(super) fn small_picture(&self, within: &Path) -> Option<String> {
        let after = self.known().changes;
        let order = self.place.only().is_none().then(|| self.order(after))?;
        let sheet = order.sheets.iter().find(|sheet| sheet.within.with_extension(ENDING) == within)?;
        self.listed(sheet, after).ok()?.drawing.clone()
    }

    /// Makes a page, keeps it, and gives it: the last one without an error, and the last one.
    fn made(&self, path: &str, resource: &Resource) -> (Arc<Version>, Arc<Version>) {
        let after = self.known().changes;
        let made = match resource {
            Resource::Sheet(sheet) => self.sheet(sheet, after),
            Resource::OfSite(link) => self.of_site(after).and_then(|files| {
                let html = files.get(link).ok_or(Failure::NothingListed)?.clone();
                Ok(Made { html, problems: Vec::new() })
            }),
            Resource::Engine(_) | Resource::File(_) => Err(Failure::NothingListed),
        };
        let made = made.unwrap_or_else(|failure| failed(self.language, &failure));
        let current = Arc::new(Version::new(made.html));
        let problems = Arc::new(made.problems);
        let mut known = self.known();
        let before = known.pages.get(path);
        if let Some(newer) = before.filter(|page| page.after > after) {
            return (Arc::clone(&newer.sound), Arc::clone(&newer.current));
        }
        // Without a sound one there is nothing better to show than what there is.
        let sound = match before {
            Some(page) if !problems.is_empty() && page.has_sound() => Arc::clone(&page.sound),
            _ => Arc::clone(&current),
        };
        let is_same = |page: &Page| {
            (&page.current.hash, &page.sound.hash, &page.problems) == (&current.hash, &sound.hash, &problems)
        };
        let unchanged = before.filter(|page| is_same(page)).map(|page| page.news);
        let so_far = *self.news.borrow();
        let news = unchanged.unwrap_or(so_far + 1);
        let versions = (Arc::clone(&sound), Arc::clone(&current));
        known.pages.insert(path.to_owned(), Page { resource: resource.clone(), after, current, sound, problems, news });
        // While all is locked, so that nobody hears of news before they are there.
        self.news.send_replace(so_far.max(news));
        versions
    }

    /// Whether the site has no such page, and had none.
    fn is_without(&self, path: &str, resource: &Resource) -> bool {
        let Resource::OfSite(link) = resource else { return false };
        let known = self.known();
        let (is_known, after) = (known.pages.contains_key(path), known.changes);
        drop(known);
        !is_known && self.of_site(after).is_ok_and(|files| !files.contains_key(link))
    }

    fn sheet(&self, within: &Path, after: u64) -> Result<Made, Failure> {
        let path = self.place.inside(within).unwrap_or_else(|| self.place.folder().join(within));
        let source = source_of(&path)?;
        let around = (self.engine_for(within), self.neighbours(within, after));
        let page = self.rendered(&path, within, &source, around)?;
        let errors = page.evaluation.problems.iter().filter(|problem| problem.severity() == Severity::Error);
        let words = page.evaluation.sheet.metadata.lang.words();
        let problems = errors.map(|problem| {
            let told = Told {
                code: problem.code.text(),
                message: problem.message.say(words),
                help: problem.help.as_ref().map(|help| help.say(words)),
                ..Told::default()
            };
            if let Some(place) = &problem.file {
                let line = place.position.line;
                let message =
                    say!(words, PREVIEW_ANSWER_IN_FILE, file = place.path, line = line, message = told.message);
                return Told { message, ..told };
            }
            let passage = Passage::of_problem(problem, "", &source, &page.evaluation);
            let ((line, column), [before, marked, after]) = (passage.position(), passage.parts().map(str::to_owned));
            Told { line: Some(line), column, before, marked, after, ..told }
        });
        let problems = problems.collect();
        Ok(Made { html: page.html, problems })
    }

    fn rendered(
        &self,
        path: &Path,
        within: &Path,
        source: &str,
        (engine, neighbours): (LiveEngine, Neighbours),
    ) -> Result<RenderedPage, Failure> {
        let stem = within.file_stem().unwrap_or_default().to_string_lossy();
        let setting = RenderSettings { engine, neighbours, ..self.setting.clone() };
        let blocks = self.rust.blocks_of(path);
        let host = Folder::of(path, &blocks);
        // Nothing of a worksheet that failed is used afterwards, so nothing half done can be seen.
        let made =
            catch_unwind(AssertUnwindSafe(|| render_in_folder(source, &stem, &setting, &host, Larger::AsItStands)));
        made.unwrap_or_else(|_| Err(Failure::Fault { path: path.to_owned() }))
    }

    fn engine_for(&self, within: &Path) -> LiveEngine {
        match self.place.only() {
            Some(_) => LiveEngine::Inside,
            None => LiveEngine::Beside(up(within) + SHARED_NAME),
        }
    }

    /// Where a reader of a worksheet's page may go on.
    fn neighbours(&self, within: &Path, after: u64) -> Neighbours {
        if self.place.only().is_some() {
            return Neighbours::NONE;
        }
        let (site, up) = (self.front(), up(within));
        let search = Link { href: format!("{up}{SEARCH_NAME}"), title: search_title(site.lang).to_owned() };
        let contents = Link { href: format!("{up}./"), title: site.title };
        let (previous, next) = self.order(after).beside(within, &up);
        Neighbours {
            previous,
            contents: (within != Path::new(INDEX_SHEET)).then_some(contents),
            next,
            search: Some(search),
            address: None,
        }
    }

    /// The order of the worksheets; the change of files that it is found after is given.
    fn order(&self, after: u64) -> Arc<Order> {
        if let Some((known, order)) = &self.known().order
            && *known == after
        {
            return Arc::clone(order);
        }
        let order = Arc::new(Order::new(self.place.worksheets(), self.front(), &|sheet| self.head(sheet)));
        self.known().order = Some((after, Arc::clone(&order)));
        order
    }

    fn head(&self, sheet: &Worksheet) -> Arc<Head> {
        let file = fs::metadata(&sheet.path).ok();
        let state = file.and_then(|file| Some((file.modified().ok()?, file.len())));
        let before = self.known().heads.get(&sheet.path).cloned();
        if let Some((known, head)) = &before
            && *known == state
        {
            return Arc::clone(head);
        }
        let source = match (text::read_whole(&sheet.path), before) {
            (Ok(source), _) => source,
            // It is just being saved, or is reported on its page.
            (Err(_), Some((_, head))) => return head,
            (Err(_), None) => String::new(),
        };
        let stem = sheet.within.file_stem().unwrap_or_default().to_string_lossy();
        let head = Arc::new(Head::of(&source, &stem));
        self.known().heads.insert(sheet.path.clone(), (state, Arc::clone(&head)));
        head
    }

    fn front(&self) -> Front {
        Front::of(self.place.folder())
    }

    /// The files of the site that are no worksheet's; the change of files that they are made after is given.
    fn of_site(&self, after: u64) -> Result<Arc<HashMap<String, String>>, Failure> {
        if let Some((known, files)) = &self.known().of_site
            && *known == after
        {
            return Ok(Arc::clone(files));
        }
        let order = self.order(after);
        let listed = parallel::each_alone(&order.sheets, |sheet| self.listed(sheet, after).ok());
        let kept = listed.iter().map(|listed| Some(listed.as_ref()?.kept.clone()));
        let pages: Vec<(String, Option<Kept>)> = order.links().zip(kept).collect();
        let sections = &order.sections;
        let around = Around { sections, pages: &pages, base: None, own: OwnPages::All };
        let within = |section: usize| sections.get(section).map_or("", |section| section.within.as_str());
        let files =
            around.files()?.into_iter().map(|file| (format!("{}{}", within(file.section), file.name), file.text));
        let files = Arc::new(files.collect());
        self.known().of_site = Some((after, Arc::clone(&files)));
        Ok(files)
    }

    fn listed(&self, sheet: &Worksheet, after: u64) -> Result<Arc<Listed>, Failure> {
        if let Some((known, listed)) = self.known().listed.get(&sheet.within)
            && *known == after
        {
            return Ok(Arc::clone(listed));
        }
        let source = source_of(&sheet.path)?;
        let page = self.rendered(&sheet.path, &sheet.within, &source, (LiveEngine::LeftOut, Neighbours::NONE))?;
        let mut listed = Listed { kept: Kept::of(&page, &source), drawing: None };
        if let Some(small) = SmallPicture::of(&page.html, &sheet.within) {
            (listed.kept.picture, listed.drawing) = (Some(small.link), small.drawing);
        }
        let listed = Arc::new(listed);
        self.known().listed.insert(sheet.within.clone(), (after, Arc::clone(&listed)));
        Ok(listed)
    }

    fn known(&self) -> MutexGuard<'_, Known> {
        locked(&self.known)
    }
}

impl Page {
    /// Whether the page shown was made without an error.
    fn has_sound(&self) -> bool {
        self.problems.is_empty() || !Arc::ptr_eq(&self.sound, &self.current)
    }
}

/// The state of a page as a server-sent event.
fn event(path: &str, page: &Page) -> String {
    #[derive(Serialize)]
    struct State<'a> {
        page: &'a str,
        sound: &'a str,
        current: &'a str,
        problems: &'a [Told],
    }
    let state = State { page: path, sound: &page.sound.hash, current: &page.current.hash, problems: &page.problems };
    format!("data: {}\n\n", serde_json::to_string(&state).unwrap_or_default())
}

/// The text of a worksheet. Some editors empty a file before they write to it.
fn source_of(path: &Path) -> Result<String, Failure> {
    let read = text::read_whole(path);
    if !matches!(read, Err(Failure::Empty { .. } | Failure::Unreadable { .. })) {
        return read;
    }
    thread::sleep(REWRITING);
    text::read_whole(path)
}

/// A page for a worksheet that cannot be read.
fn failed(lang: Language, failure: &Failure) -> Made {
    let (title, message) =
        (lang.words().text(key::PREVIEW_ANSWER_TITLE).to_owned(), failure.message().say(lang.words()));
    let front = Front { title, summary: Some(format!("{message}.")), lang, ..Front::default() };
    let sections = [Section::of_site(front)];
    let around = Around { sections: &sections, pages: &[], base: None, own: OwnPages::FrontPage };
    let html = around.front_page().unwrap_or_default();
    let told = Told { message, help: Some(failure.help().say(lang.words())), ..Told::default() };
    Made { html, problems: vec![told] }
}

/// The way from a page up to the folder of the preview.
fn up(within: &Path) -> String {
    "../".repeat(within.components().count().saturating_sub(1))
}

/// The worksheet that stands in the place of the list.
const INDEX_SHEET: &str = "index.md";
/// After so long without news, a client is written to all the same.
const HEARTBEAT: Duration = Duration::from_secs(10);
/// How long a worksheet may be empty or away while it is saved.
const REWRITING: Duration = Duration::from_millis(25);
