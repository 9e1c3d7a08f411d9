//! The sites of a call: where each page stands in its site, and the files that a site has besides its worksheets' pages.

use std::{
    collections::{BTreeMap, HashMap, HashSet},
    path::{Path, PathBuf},
};

use benchleaf_core::{host::Host, parallel};
use benchleaf_publish::{
    address::{Address, BaseUrl},
    around::{Around, OwnPages, SEARCH_NAME, search_title},
    feed::FEED_NAME,
    folder::{Site, lexical},
    kept::Kept,
    live::shared_files,
    neighbours::{Head, Link, Neighbours, before_and_after, reading_order},
    sections::{Listed, Section, sections},
    site::{Front, INDEX, PlannedList, PlannedPage},
    text,
    unchanged::{Memory, Remembered},
    write,
};

use benchleaf_words::say;

use super::{Made, Written, open, shown};
use crate::{args::RenderRequest, outcome::Outcome, said, terminal::Terminal};

/// The sites of a call. A page that is in several keeps to the first.
pub(super) struct Sites<'a> {
    sites: Vec<OneSite>,
    /// The files of all pages and lists.
    files: HashSet<PathBuf>,
    /// Where each page stands, by its file.
    places: HashMap<PathBuf, (usize, String, Neighbours)>,
    base: Option<&'a BaseUrl>,
    own: OwnPages,
}

struct OneSite {
    list: PlannedList,
    sections: Vec<Section>,
    /// Its pages' links from the front page.
    links: Vec<String>,
    memory: Memory,
}

/// Where a page stands.
pub(super) struct Place<'s> {
    pub(super) neighbours: &'s Neighbours,
    site: &'s OneSite,
    link: &'s str,
    files: &'s HashSet<PathBuf>,
}

impl Place<'_> {
    pub(super) fn link_back(&self, page: &Path, name: &str) -> Option<String> {
        self.site.list.link_back(page, name)
    }

    pub(super) fn site<'s>(&'s self, page: &'s Path) -> Site<'s> {
        Site { page, pages: self.files }
    }

    pub(super) fn unchanged(&self, made_from: &str, target: &Path, host: &dyn Host) -> Option<&Remembered> {
        self.site.memory.unchanged(self.link, made_from, target, host)
    }
}

impl<'a> Sites<'a> {
    /// The sites of these pages.
    pub(super) fn new(pages: &[PlannedPage], lists: Vec<PlannedList>, request: &'a RenderRequest) -> Self {
        let own = if request.handout { OwnPages::FrontPage } else { OwnPages::All };
        let base = request.base_url.as_ref();
        let mut sites = Self { sites: Vec::new(), files: HashSet::new(), places: HashMap::new(), base, own };
        if lists.is_empty() {
            return sites;
        }
        let heads = parallel::each(pages, head);
        sites.files = pages.iter().map(|page| lexical(&page.target)).collect();
        for list in lists {
            sites.add(list, pages, &heads, request);
        }
        sites
    }

    fn add(&mut self, list: PlannedList, pages: &[PlannedPage], heads: &[Head], request: &RenderRequest) {
        let inside = pages.iter().zip(heads).filter_map(|(page, head)| {
            let (path, target) = (page.worksheet.path.clone(), page.target.clone());
            Some((Listed { link: list.link(&target)?, path, target, order: head.order }, head))
        });
        let (listed, heads): (Vec<Listed>, Vec<&Head>) = inside.unzip();
        let mut sections = sections(&listed, &Front::of);
        if let Some(own) = sections.first_mut() {
            own.front = list.front.clone();
            own.folder.clone_from(&list.folder);
        }
        let memory = if request.fresh { Memory::default() } else { Memory::of(&list.folder) };
        let links = listed.iter().map(|page| page.link.clone()).collect();
        let site = OneSite { list, sections, links, memory };
        let around = Around { sections: &site.sections, pages: &site.unwritten(), base: self.base, own: self.own };
        let with_list = site.sections.iter().enumerate().filter(|(number, _)| around.has_list(*number));
        self.files.extend(with_list.map(|(_, section)| lexical(&section.folder.join(INDEX))));
        let searched = self.own == OwnPages::All && !site.links.iter().any(|link| link == SEARCH_NAME);
        let feed = self.base.filter(|_| heads.iter().any(|head| head.dated)).map(|base| base.to(FEED_NAME));
        let order = reading_order(&site.sections);
        for (at, page) in order.iter().enumerate() {
            let Some(own) = listed.get(*page).filter(|own| !self.places.contains_key(&own.target)) else { continue };
            let to = |link: &str, title: &str| {
                Some(Link { href: site.list.link_back(&own.target, link)?, title: title.to_owned() })
            };
            let (previous, next) =
                before_and_after(&order, at, &|other| to(&listed.get(other)?.link, &heads.get(other)?.title));
            let title = &site.list.front.title;
            let address =
                self.base.map(|base| Address { url: base.to(&own.link), site: title.clone(), feed: feed.clone() });
            let neighbours = Neighbours {
                previous,
                contents: if own.link == INDEX { None } else { to(INDEX, title) },
                next,
                search: if searched { to(SEARCH_NAME, search_title(site.list.front.lang)) } else { None },
                address,
            };
            self.places.insert(own.target.clone(), (self.sites.len(), own.link.clone(), neighbours));
        }
        self.sites.push(site);
    }

    /// Where a page stands; nothing where it stands alone.
    pub(super) fn place(&self, page: &PlannedPage) -> Option<Place<'_>> {
        let (site, link, neighbours) = self.places.get(&page.target)?;
        Some(Place { neighbours, site: self.sites.get(*site)?, link, files: &self.files })
    }

    /// The metadata that say what a site or a section is called, with the files that they are in.
    pub(super) fn metadata(&self) -> impl Iterator<Item = &(PathBuf, String)> {
        let sections = self.sites.iter().flat_map(|site| &site.sections);
        sections.filter_map(|section| section.front.metadata.as_ref())
    }

    /// Write the engine that the pages of each site share.
    pub(super) fn write_engines(&self, written: &Written<'_>, terminal: &mut Terminal<'_>) -> Outcome {
        let mut outcome = Outcome::Fine;
        for (number, site) in self.sites.iter().enumerate() {
            let shares = |(page, _): &(&PlannedPage, Made)| {
                self.places.get(&page.target).is_some_and(|(first, ..)| *first == number)
            };
            if !written.iter().any(shares) {
                continue;
            }
            for (name, text) in shared_files() {
                if let Err(failure) = write::write_if_new(&site.list.folder.join(name), &text) {
                    outcome = outcome.and(terminal.fail(&failure));
                }
            }
        }
        outcome
    }

    /// Write what a site has besides its worksheets' pages, and say what to open: the sites, or a page that stands alone.
    pub(super) fn write(&self, mut written: Vec<(&PlannedPage, Made)>, terminal: &mut Terminal<'_>) -> Outcome {
        let mut outcome = Outcome::Fine;
        let mut fronts = Vec::new();
        for (number, site) in self.sites.iter().enumerate() {
            let by_link: HashMap<String, usize> = written
                .iter()
                .enumerate()
                .filter_map(|(at, (page, _))| Some((site.list.link(&page.target)?, at)))
                .collect();
            if by_link.is_empty() {
                continue;
            }
            let kept = |link: &String| written.get(*by_link.get(link)?).map(|(_, made)| made.kept.clone());
            let pages: Vec<(String, Option<Kept>)> = site.links.iter().map(|link| (link.clone(), kept(link))).collect();
            outcome = outcome.and(self.write_around(site, &pages, &mut fronts, terminal));
            let mut remembered = BTreeMap::new();
            for (link, at) in by_link {
                let Some((page, made)) = written.get_mut(at) else { continue };
                if self.places.get(&page.target).is_some_and(|(first, ..)| *first == number) {
                    remembered.extend(made.remembered.take().map(|page| (link, page)));
                }
            }
            if let Err(failure) = Memory::write(&site.list.folder, remembered) {
                outcome = outcome.and(terminal.fail(&failure));
            }
        }
        if let ([], [(page, _)]) = (self.sites.as_slice(), written.as_slice()) {
            fronts.push(page.target.clone());
        }
        open(&fronts, terminal);
        outcome
    }

    fn write_around(
        &self,
        site: &OneSite,
        pages: &[(String, Option<Kept>)],
        fronts: &mut Vec<PathBuf>,
        terminal: &mut Terminal<'_>,
    ) -> Outcome {
        let around = Around { sections: &site.sections, pages, base: self.base, own: self.own };
        let files = match around.files() {
            Ok(files) => files,
            Err(failure) => return terminal.fail(&failure),
        };
        let mut outcome = Outcome::Fine;
        let front = site.list.target();
        let mut in_the_way = false;
        for file in files {
            let folder = site.sections.get(file.section).map_or(&site.list.folder, |section| &section.folder);
            let path = folder.join(file.name);
            let is_front = path == front;
            if let Err(failure) = write::write_if_new(&path, &file.text) {
                in_the_way |= is_front;
                outcome = outcome.and(terminal.fail(&failure));
            } else if is_front {
                let words = terminal.words();
                let listed = super::pages(words, pages.iter().filter(|(_, kept)| kept.is_some()).count());
                let list = say!(words, RENDER_LIST, pages = listed);
                terminal.say(&said::wrote(words, &shown(&front), &list));
            }
        }
        if !in_the_way {
            fronts.push(front);
        }
        outcome
    }
}

impl OneSite {
    fn unwritten(&self) -> Vec<(String, Option<Kept>)> {
        self.links.iter().map(|link| (link.clone(), None)).collect()
    }
}

fn head(page: &PlannedPage) -> Head {
    // What does not read is reported when its page is made.
    let source = text::read_whole(&page.worksheet.path).unwrap_or_default();
    let stem = page.worksheet.within.file_stem().unwrap_or_default().to_string_lossy();
    Head::of(&source, &stem)
}
