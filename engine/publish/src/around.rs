//! The pages of a site that are no worksheet's: its front page with the list of worksheets, such a list for a folder inside it
//! that has a README, the search, and the lists of all exercises, all parts and all safety notes. Each line of these leads
//! to its place on a worksheet's page.

use benchleaf_core::{
    bill::{Amount, total},
    sheet::Signal,
};
use benchleaf_page::narrow;
use benchleaf_words::{Language, Words, count, key};
use serde::Serialize;

use crate::{
    address::{Address, BaseUrl},
    date::is_dated,
    failure::Failure,
    feed::{FEED_NAME, feed},
    kept::{Kept, KeptPart},
    live::{search_policy, search_script, still_policy},
    marks::INDEX_NAME,
    neighbours::Link,
    search::{LARGEST_INDEX, SearchIndex, search_index},
    sections::Section,
    site::{INDEX, percent_encoded},
    style::STYLE,
    template::{EXERCISES, INDEX as FRONT_PAGE, PARTS, SAFETY, SEARCH, Template, TemplateWords, fill, template_words},
};

/// A site, once its worksheets' pages are made.
#[derive(Clone, Copy, Debug)]
pub struct Around<'a> {
    /// Its folders in reading order; the pages are indices into `pages`.
    pub sections: &'a [Section],
    /// Its pages with their links from the front page; those that could not be made have nothing kept.
    pub pages: &'a [(String, Option<Kept>)],
    /// Where it is published.
    pub base: Option<&'a BaseUrl>,
    /// Which of its own pages it has.
    pub own: OwnPages,
}

/// Which pages a site has besides those of its worksheets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OwnPages {
    /// Its lists, and its search.
    #[default]
    All,
    /// The list of worksheets alone, as for handouts.
    FrontPage,
}

/// A file of a site.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SiteFile {
    /// The section whose folder it stands in, as an index.
    pub section: usize,
    /// Its name.
    pub name: &'static str,
    /// What is in it.
    pub text: String,
}

/// A page of a site's own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum OwnPage {
    Search,
    Exercises,
    Parts,
    SafetyNotes,
}

impl OwnPage {
    const ALL: [Self; 4] = [Self::Search, Self::Exercises, Self::Parts, Self::SafetyNotes];

    fn name(self) -> &'static str {
        match self {
            Self::Search => SEARCH_NAME,
            Self::Exercises => "exercises.html",
            Self::Parts => "parts.html",
            Self::SafetyNotes => "safety-notes.html",
        }
    }

    fn title(self, language: Language) -> &'static str {
        language.words().text(match self {
            Self::Search => key::SITE_TITLE_SEARCH,
            Self::Exercises => key::SITE_TITLE_EXERCISES,
            Self::Parts => key::SITE_TITLE_PARTS,
            Self::SafetyNotes => key::SITE_TITLE_NOTES,
        })
    }

    fn has_something(self, kept: &Kept) -> bool {
        match self {
            Self::Search => true,
            Self::Exercises => !kept.register.exercises.is_empty(),
            Self::Parts => !kept.parts.is_empty(),
            Self::SafetyNotes => !kept.register.notes.is_empty(),
        }
    }
}

/// The names that the site's own files may have, besides its lists of worksheets.
pub fn own_names() -> impl Iterator<Item = &'static str> {
    OwnPage::ALL.into_iter().map(OwnPage::name).chain([INDEX_NAME])
}

/// The name of a site's search.
pub const SEARCH_NAME: &str = "search.html";
/// What links call it.
pub fn search_title(language: Language) -> &'static str {
    OwnPage::Search.title(language)
}

impl Around<'_> {
    /// The files of the site that are no worksheet's. A page that a worksheet has already is left out.
    pub fn files(&self) -> Result<Vec<SiteFile>, Failure> {
        let mut files = Vec::new();
        let made: Vec<OwnPage> = OwnPage::ALL.into_iter().filter(|page| self.has(*page)).collect();
        let site = |name, text| SiteFile { section: 0, name, text };
        let index = made.contains(&OwnPage::Search).then(|| self.index());
        let left_out = index.as_ref().map_or(0, |index| index.left_out);
        for page in made.iter().copied() {
            files.push(site(page.name(), self.own_page(page, left_out, &made)?));
        }
        files.extend(index.map(|index| site(INDEX_NAME, index.text)));
        for section in 0..self.sections.len() {
            if self.has_list(section) {
                files.push(SiteFile { section, name: INDEX, text: self.list(section, &made)? });
            }
        }
        if let Some(base) = self.base {
            let dated: Vec<(&str, &Kept)> = self.written().map(|(_, link, kept)| (link, kept)).collect();
            files.extend(feed(self.title(), self.language(), &dated, base)?.map(|text| site(FEED_NAME, text)));
        }
        Ok(files)
    }

    /// The front page alone.
    pub fn front_page(&self) -> Result<String, Failure> {
        self.list(0, &[])
    }

    /// Whether a section has a list of its own: the site itself, and folders with a README, unless a worksheet is there.
    pub fn has_list(&self, section: usize) -> bool {
        let Some(own) = self.sections.get(section) else { return false };
        (section == 0 || own.front.readme) && !self.is_taken(&format!("{}{INDEX}", own.within))
    }

    fn has(&self, page: OwnPage) -> bool {
        self.own == OwnPages::All
            && !self.is_taken(page.name())
            && self.written().any(|(_, _, kept)| page.has_something(kept))
    }

    fn is_taken(&self, link: &str) -> bool {
        self.pages.iter().any(|(other, _)| other == link)
    }

    /// The language of its own pages.
    fn language(&self) -> Language {
        self.sections.first().map_or(Language::ENGLISH, |section| section.front.lang)
    }

    fn title(&self) -> &str {
        self.sections.first().map_or("", |section| &section.front.title)
    }

    /// The pages that were made, in reading order, each with its section.
    fn written(&self) -> impl Iterator<Item = (&Section, &str, &Kept)> {
        self.sections.iter().flat_map(move |section| {
            let pages = section.pages.iter().filter_map(|page| self.pages.get(*page));
            pages.filter_map(move |(link, kept)| Some((section, link.as_str(), kept.as_ref()?)))
        })
    }

    fn index(&self) -> SearchIndex {
        let pages: Vec<_> = self
            .written()
            .map(|(section, link, kept)| {
                (link, if section.within.is_empty() { "" } else { section.front.title.as_str() }, kept)
            })
            .collect();
        search_index(&pages, LARGEST_INDEX)
    }

    fn own_page(&self, page: OwnPage, left_out: usize, made: &[OwnPage]) -> Result<String, Failure> {
        let words = self.language().words();
        let shell = self.shell(page.title(self.language()), None, page.name(), made);
        match page {
            OwnPage::Search => {
                let script = search_script(self.language());
                let shell = Shell { policy: search_policy(&script), ..shell };
                let left_out = (left_out > 0).then(|| count!(words, SITE_TITLE_LEFT_OUT, left_out, n = left_out));
                let headings: usize = self.written().map(|(_, _, kept)| kept.register.headings.len()).sum();
                let groups = self.groups(|kept| {
                    let places = kept.register.headings.iter().filter(|_| headings <= HEADINGS_LISTED);
                    places.map(|place| Line::of(&place.id, &place.text)).collect()
                });
                filled(&SEARCH, shell, &Searched { groups, left_out, script })
            }
            OwnPage::Exercises => {
                let mut groups = self.groups(|kept| {
                    let exercises = kept.register.exercises.iter();
                    let line = |task: &benchleaf_page::RegisteredExercise| Line {
                        points: Some(count!(
                            words,
                            EXERCISE_POINTS,
                            if task.points == 1.0 { 1 } else { 2 },
                            n = task.points
                        )),
                        ..Line::of(&task.place.id, &task.place.text)
                    };
                    exercises.map(line).collect()
                });
                groups.retain(|group| !group.lines.is_empty());
                filled(&EXERCISES, shell, &Listed { groups })
            }
            OwnPage::Parts => filled(&PARTS, shell, &self.bought()),
            OwnPage::SafetyNotes => filled(&SAFETY, shell, &self.noted()),
        }
    }

    fn groups(&self, lines: impl Fn(&Kept) -> Vec<Line>) -> Vec<Group> {
        let group = |(_, link, kept): (&Section, &str, &Kept)| {
            let mut lines = lines(kept);
            lines.iter_mut().for_each(|line| line.href = format!("{link}#{}", percent_encoded(line.href.as_bytes())));
            Group { href: link.to_owned(), title: kept.title.clone(), lines }
        };
        self.written().map(group).collect()
    }

    fn noted(&self) -> Notes {
        let signals = [Signal::Danger, Signal::Warning, Signal::Caution, Signal::Notice];
        let signals = signals.map(|signal| {
            let of_signal = |kept: &Kept, shown: bool| {
                let notes = kept.register.notes.iter();
                let notes = notes.filter(|note| note.signal == signal.word() && note.shown == shown);
                notes.map(|note| Line::of(&note.place.id, &note.place.text)).collect()
            };
            let with_lines = |shown| {
                let mut groups = self.groups(|kept| of_signal(kept, shown));
                groups.retain(|group| !group.lines.is_empty());
                groups
            };
            let word = signal.word();
            SignalNotes {
                word,
                heading: benchleaf_page::signal_word(self.language().words(), signal).to_owned(),
                sign: (signal != Signal::Notice).then(benchleaf_page::alert_sign),
                shown: with_lines(true),
                quiet: with_lines(false),
            }
        });
        Notes {
            signals: signals
                .into_iter()
                .filter(|signal| !(signal.shown.is_empty() && signal.quiet.is_empty()))
                .collect(),
        }
    }

    fn bought(&self) -> Bought {
        let mut merged: Vec<(&KeptPart, u64, Vec<Place>)> = Vec::new();
        for (_, link, kept) in self.written() {
            for part in &kept.parts {
                let href = match &part.name {
                    Some(name) if part.value.is_some() => {
                        format!("{link}#{}", percent_encoded(format!("value-{name}").as_bytes()))
                    }
                    _ => link.to_owned(),
                };
                let at = merged.iter().position(|(known, ..)| known.is_alike(part)).unwrap_or_else(|| {
                    merged.push((part, 0, Vec::new()));
                    merged.len() - 1
                });
                let Some((_, pieces, places)) = merged.get_mut(at) else { continue };
                // What is bought once serves all worksheets.
                *pieces = if part.once { part.pieces.max(*pieces) } else { pieces.saturating_add(part.pieces) };
                places.push(Place { href, title: kept.title.clone(), designators: part.designators.join(", ") });
            }
        }
        let parts: Vec<_> = merged.iter().map(|(part, pieces, _)| part.bought(*pieces)).collect();
        let totals = total(&parts, 1).into_iter().map(|amount| narrow(&amount.shown())).collect();
        let unpriced = parts.iter().filter(|part| part.prices.is_empty()).count();
        let words = self.language().words();
        let unpriced = (unpriced > 0).then(|| count!(words, SITE_TITLE_UNPRICED, unpriced, n = unpriced));
        let rows = merged.into_iter().zip(&parts).map(|((part, pieces, places), bought)| Row {
            what: part.label.clone().or_else(|| part.name.clone()).unwrap_or_default(),
            value: narrow(part.value.as_deref().unwrap_or_default()),
            rated: narrow(&part.rated),
            once: part.once,
            pieces,
            places,
            price: bought.price(pieces).map(|price| narrow(&price.shown())),
            cost: bought.amount(1).map(|amount: Amount| narrow(&amount.shown())),
        });
        Bought { rows: rows.collect(), totals, unpriced }
    }

    fn list(&self, section: usize, made: &[OwnPage]) -> Result<String, Failure> {
        let Some(own) = self.sections.get(section) else { return Ok(String::new()) };
        let name = format!("{}{INDEX}", own.within);
        let mut shell = self.shell(&own.front.title, own.front.summary.as_deref(), &name, made);
        let back = "../".repeat(own.depth());
        for link in shell.nav.iter_mut().chain(&mut shell.up) {
            link.href.insert_str(0, &back);
        }
        let inside = self.sections.iter().filter(|other| other.within.starts_with(&own.within));
        filled(&FRONT_PAGE, shell, &Front { sections: inside.map(|section| self.shown(section, own)).collect() })
    }

    fn shown<'s>(&'s self, section: &'s Section, own: &Section) -> ShownSection<'s> {
        let pages = section.pages.iter().filter_map(|page| self.pages.get(*page));
        let words = self.language().words();
        let some = |n: usize, said: fn(usize, Words<'static>) -> String| (n > 0).then(|| said(n, words));
        let entries = pages.filter_map(|(link, kept)| {
            let kept = kept.as_ref()?;
            let href = link.strip_prefix(&own.within)?.to_owned();
            let folder = href.rsplit_once('/').map_or("", |(folder, _)| folder);
            let beside = |name: &String| if folder.is_empty() { name.clone() } else { format!("{folder}/{name}") };
            let counts = kept.counts;
            Some(Entry {
                picture: kept.picture.as_ref().map(beside),
                href,
                title: &kept.title,
                summary: kept.summary.as_deref(),
                holds: some(counts.holds, |n, words| count!(words, SITE_TITLE_HOLDS, n, n = n)),
                at_risk: some(counts.at_risk, |n, words| count!(words, SITE_TITLE_AT_RISK, n, n = n)),
                broken: some(counts.broken, |n, words| count!(words, SITE_TITLE_BROKEN, n, n = n)),
                problems: some(counts.errors, |n, words| count!(words, SITE_TITLE_PROBLEMS, n, n = n)),
            })
        });
        ShownSection {
            level: (1 + section.depth() - own.depth()).min(DEEPEST),
            anchor: section.anchor(),
            title: &section.front.title,
            summary: section.front.summary.as_deref(),
            entries: entries.collect(),
        }
    }

    fn shell<'s>(&'s self, title: &'s str, summary: Option<&'s str>, name: &str, made: &[OwnPage]) -> Shell<'s> {
        let is_front = name == INDEX;
        let nav = made.iter().filter(|page| page.name() != name);
        let link =
            |page: &OwnPage| Link { href: page.name().to_owned(), title: page.title(self.language()).to_owned() };
        let is_fed = self.written().any(|(_, _, kept)| kept.date.as_deref().is_some_and(is_dated));
        Shell {
            lang: self.language().code(),
            w: template_words(self.language(), "site"),
            title,
            site: self.title(),
            summary,
            style: STYLE,
            policy: still_policy(),
            nav: nav.map(link).collect(),
            up: (!is_front).then(|| Link { href: INDEX.to_owned(), title: self.title().to_owned() }),
            address: self.base.map(|base| Address {
                url: base.to(name),
                site: self.title().to_owned(),
                feed: is_fed.then(|| base.to(FEED_NAME)),
            }),
        }
    }
}

fn filled<T: Serialize>(template: &'static Template, shell: Shell<'_>, inside: &T) -> Result<String, Failure> {
    #[derive(Serialize)]
    struct Whole<'a, T> {
        #[serde(flatten)]
        shell: Shell<'a>,
        #[serde(flatten)]
        inside: &'a T,
    }
    fill(template, &Whole { shell, inside })
}

/// What every page of a site's own has around it.
#[derive(Serialize)]
struct Shell<'a> {
    lang: &'static str,
    w: TemplateWords,
    title: &'a str,
    site: &'a str,
    summary: Option<&'a str>,
    style: &'static str,
    policy: String,
    /// The site's other own pages.
    nav: Vec<Link>,
    /// The front page, from any other.
    up: Option<Link>,
    address: Option<Address>,
}

#[derive(Serialize)]
struct Front<'a> {
    sections: Vec<ShownSection<'a>>,
}

#[derive(Serialize)]
struct ShownSection<'a> {
    /// 1 for the list's own folder, whose title is the page's.
    level: usize,
    anchor: String,
    title: &'a str,
    summary: Option<&'a str>,
    entries: Vec<Entry<'a>>,
}

#[derive(Serialize)]
struct Entry<'a> {
    href: String,
    title: &'a str,
    summary: Option<&'a str>,
    picture: Option<String>,
    /// How many requirements hold, in words; as those below, absent where there are none.
    holds: Option<String>,
    at_risk: Option<String>,
    broken: Option<String>,
    problems: Option<String>,
}

/// A worksheet with places on its page.
#[derive(Serialize)]
struct Group {
    href: String,
    title: String,
    lines: Vec<Line>,
}

#[derive(Serialize)]
struct Line {
    href: String,
    text: String,
    /// What it earns, in words.
    points: Option<String>,
}

impl Line {
    fn of(id: &str, text: &str) -> Self {
        Self { href: id.to_owned(), text: text.to_owned(), points: None }
    }
}

#[derive(Serialize)]
struct Listed {
    groups: Vec<Group>,
}

#[derive(Serialize)]
struct Searched {
    groups: Vec<Group>,
    /// How many places the search does not know, in a sentence.
    left_out: Option<String>,
    script: String,
}

#[derive(Serialize)]
struct Notes {
    signals: Vec<SignalNotes>,
}

#[derive(Serialize)]
struct SignalNotes {
    word: &'static str,
    heading: String,
    /// The drawn sign before the word.
    sign: Option<String>,
    shown: Vec<Group>,
    quiet: Vec<Group>,
}

#[derive(Serialize)]
struct Bought {
    rows: Vec<Row>,
    totals: Vec<String>,
    /// How many lines have no price, in a sentence.
    unpriced: Option<String>,
}

#[derive(Serialize)]
struct Row {
    what: String,
    value: String,
    rated: String,
    once: bool,
    pieces: u64,
    places: Vec<Place>,
    price: Option<String>,
    cost: Option<String>,
}

#[derive(Serialize)]
struct Place {
    href: String,
    title: String,
    designators: String,
}

/// The deepest level of a section's heading; one below it is left for the worksheets in it.
const DEEPEST: usize = 5;
/// The most headings that a search page lists for readers without scripts; with more, it lists the worksheets alone.
const HEADINGS_LISTED: usize = 600;
