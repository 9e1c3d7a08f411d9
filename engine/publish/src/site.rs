//! Where pages go. Each worksheet has one page, beside it or under the output folder, where folders keep their structure;
//! each folder that was asked for is a site, with a list of its pages at its top. Two worksheets that want the same page
//! get neither, since one would silently take the other's place.

use std::{
    collections::{HashMap, HashSet},
    fs,
    path::{Component, Path, PathBuf},
};

use benchleaf_core::sheet;
use benchleaf_words::Language;

use crate::{
    failure::Failure,
    inputs::{Inputs, Worksheet},
    text,
};
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, percent_encode};

/// The pages of a call, and the lists over them.
#[derive(Debug)]
pub struct SitePlan {
    /// Pages to write.
    pub pages: Vec<PlannedPage>,
    /// Indexes to write.
    pub lists: Vec<PlannedList>,
    /// Worksheets that get no page.
    pub failures: Vec<Failure>,
}

/// A worksheet and where its page goes.
#[derive(Debug)]
pub struct PlannedPage {
    /// Its worksheet.
    pub worksheet: Worksheet,
    /// The file that it is written to.
    pub target: PathBuf,
}

/// A site: the folder that its list stands in, without `.` parts, and what its author calls it.
#[derive(Debug)]
pub struct PlannedList {
    /// The folder that it lists.
    pub folder: PathBuf,
    /// Its title and its summary.
    pub front: Front,
}

impl PlannedList {
    /// The file that it is written to.
    pub fn target(&self) -> PathBuf {
        self.folder.join(INDEX)
    }

    /// The link from the list to a page of its site; nothing where the page is none of them.
    pub fn link(&self, page: &Path) -> Option<String> {
        plain(page).strip_prefix(&self.folder).ok().map(href)
    }

    /// The link from a page of the site to a file beside the list; nothing where the page is none of them.
    pub fn link_back(&self, page: &Path, name: &str) -> Option<String> {
        let page = plain(page);
        let depth = page.strip_prefix(&self.folder).ok()?.components().count().saturating_sub(1);
        Some("../".repeat(depth) + name)
    }
}

/// What a folder's author says of the site that it becomes.
#[derive(Clone, Debug, Default)]
pub struct Front {
    /// Its title.
    pub title: String,
    /// A sentence or two below the title.
    pub summary: Option<String>,
    /// Its place among the folders beside it.
    pub order: Option<u32>,
    /// The language of the site's own pages.
    pub lang: Language,
    /// Whether a README.md says so, which is no worksheet and gets no page.
    pub readme: bool,
    /// The file that says so, with the metadata at its head; what is wrong with them, the author should hear.
    pub metadata: Option<(PathBuf, String)>,
}

impl Front {
    /// From the metadata of the folder's `index.md` or `README.md`; without a title there, from the first heading; and
    /// else from the folder's name, unless that is only a way there (`.`, `..`, `/`).
    pub fn of(folder: &Path) -> Self {
        let mut files = ["index.md", "README.md"].into_iter().map(|name| folder.join(name));
        let Some((path, source)) = files.find_map(|path| text::read(&path).ok().map(|source| (path, source))) else {
            return Self::named_by(folder);
        };
        let worksheet = sheet::Worksheet::new(&source).0;
        let (head, body) = source.split_at_checked(worksheet.body_start).unwrap_or(("", &source));
        let title = worksheet.metadata.title.or_else(|| heading(body));
        Self {
            title: title.unwrap_or_else(|| Self::named_by(folder).title),
            summary: worksheet.metadata.summary,
            order: worksheet.metadata.order,
            lang: worksheet.metadata.lang,
            readme: path.ends_with("README.md"),
            metadata: (!head.is_empty()).then(|| (path, head.to_owned())),
        }
    }

    fn named_by(folder: &Path) -> Self {
        folder.file_name().map_or_else(|| Self::named(TITLE), |name| Self::named(&name.to_string_lossy()))
    }

    fn named(title: &str) -> Self {
        Self { title: title.to_owned(), ..Self::default() }
    }
}

/// The first heading of a text, as it is written.
pub fn heading(body: &str) -> Option<String> {
    body.lines().find_map(|line| line.strip_prefix("# ")).map(|title| title.trim().to_owned())
}

/// Where the pages of these worksheets go.
pub fn plan(inputs: Inputs, output: Option<&Path>) -> SitePlan {
    let Inputs { worksheets, folders, failures } = inputs;
    let list = |folder: &Path, front| PlannedList { folder: plain(folder), front };
    let mut lists: Vec<PlannedList> = match (output, folders.as_slice()) {
        (_, []) => Vec::new(),
        (Some(output), [only]) => vec![list(output, Front::of(only))],
        (Some(output), _) => vec![list(output, Front::named(TITLE))],
        (None, folders) => folders.iter().map(|folder| list(folder, Front::of(folder))).collect(),
    };
    let mut seen = HashSet::new();
    lists.retain(|list| seen.insert(list.folder.clone()));
    let mut plan = SitePlan { pages: Vec::with_capacity(worksheets.len()), lists, failures };
    let targets = worksheets.into_iter().map(|worksheet| {
        let target = match output {
            Some(output) => output.join(&worksheet.within),
            None => worksheet.path.clone(),
        };
        PlannedPage { worksheet, target: target.with_extension("html") }
    });
    plan.add_unique(targets.collect());
    plan
}

impl SitePlan {
    /// Take the pages that no other worksheet claims; a worksheet that was asked for twice is taken once.
    fn add_unique(&mut self, pages: Vec<PlannedPage>) {
        let mut claims: HashMap<PathBuf, Vec<PlannedPage>> = HashMap::with_capacity(pages.len());
        let mut order = Vec::with_capacity(pages.len());
        let mut folders = HashMap::new();
        for page in pages {
            let place = place(&page.target, &mut folders);
            let claim = claims.entry(place.clone()).or_default();
            if claim.is_empty() {
                order.push(place);
            }
            if !claim.iter().any(|other| is_same(&other.worksheet.path, &page.worksheet.path)) {
                claim.push(page);
            }
        }
        for place in order {
            let mut claim = claims.remove(&place).unwrap_or_default();
            if let [first, second, ..] = claim.as_slice() {
                self.failures.push(Failure::SameOutput {
                    output: first.target.clone(),
                    first: first.worksheet.path.clone(),
                    second: second.worksheet.path.clone(),
                });
            } else {
                self.pages.append(&mut claim);
            }
        }
    }
}

/// A page's path with its folder spelled in the one true way, where that is there already. The folders known so far are
/// kept, for most pages share theirs.
fn place(page: &Path, folders: &mut HashMap<PathBuf, PathBuf>) -> PathBuf {
    let (folder, name) = (page.parent().unwrap_or(page), page.file_name().unwrap_or_default());
    if let Some(known) = folders.get(folder) {
        return known.join(name);
    }
    let spelled = fs::canonicalize(Path::new(".").join(folder)).unwrap_or_else(|_| plain(folder));
    folders.entry(folder.to_owned()).or_insert(spelled).join(name)
}

/// A path without its `.` parts, so that two spellings of one place are alike.
fn plain(path: &Path) -> PathBuf {
    path.components().filter(|part| *part != Component::CurDir).collect()
}

fn is_same(one: &Path, other: &Path) -> bool {
    one == other || matches!((fs::canonicalize(one), fs::canonicalize(other)), (Ok(one), Ok(other)) if one == other)
}

/// A relative path as a link: parts between slashes, with every byte that means something in a link in `%` form (a colon too,
/// which in a first part would be read as a scheme).
pub fn href(path: &Path) -> String {
    let parts = path.components().map(|part| percent_encoded(part.as_os_str().as_encoded_bytes()));
    parts.collect::<Vec<_>>().join("/")
}

/// A part of a link, or its anchor, with all but unreserved characters in `%` form (RFC 3986, 2.3).
pub(crate) fn percent_encoded(part: &[u8]) -> String {
    const UNRESERVED: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~');
    percent_encode(part, UNRESERVED).to_string()
}

/// The front page of a site.
pub const INDEX: &str = "index.html";
/// What a site is called that has no folder of its own.
const TITLE: &str = "Worksheets";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_site_is_called_as_its_folder_says() {
        let folder = tempfile::tempdir().unwrap();
        let site = folder.path().join("signals");
        fs::create_dir(&site).unwrap();
        let title = || Front::of(&site).title;
        assert_eq!(title(), "signals");
        fs::write(site.join("README.md"), "Words.\n\n# Signals at crossings\n").unwrap();
        assert_eq!(title(), "Signals at crossings");
        let head = "+++\ntitle = \"Crossings\"\nsummary = \"Two lamps.\"\n# no heading\n+++\n";
        fs::write(site.join("README.md"), format!("{head}\n# Signals\n")).unwrap();
        let front = Front::of(&site);
        assert_eq!((front.title.as_str(), front.summary.as_deref()), ("Crossings", Some("Two lamps.")));
        assert_eq!(front.metadata, Some((site.join("README.md"), head.to_owned())));
        fs::write(site.join("index.md"), "+++\n# no heading\n+++\n\n# The front page\n").unwrap();
        assert_eq!(title(), "The front page");
    }

    #[test]
    fn links_survive_any_file_name() {
        for (path, link) in [
            ("timer.html", "timer.html"),
            ("timers/one shot.html", "timers/one%20shot.html"),
            ("a:b#c?d%.html", "a%3Ab%23c%3Fd%25.html"),
            ("µ.html", "%C2%B5.html"),
        ] {
            assert_eq!(href(Path::new(path)), link);
        }
    }

    #[test]
    fn two_worksheets_that_want_one_page_get_neither_and_the_rest_go_on() {
        let sheet = |path: &str, within: &str| Worksheet { path: path.into(), within: within.into() };
        let inputs = Inputs {
            worksheets: vec![sheet("a/x.md", "x.md"), sheet("b/x.md", "./x.md"), sheet("a/y.md", "y.md")],
            ..Inputs::default()
        };
        let plan = plan(inputs, Some(Path::new("out")));
        assert_eq!(plan.pages.len(), 1);
        assert_eq!(plan.pages[0].target, Path::new("out/y.html"));
        assert!(matches!(plan.failures.as_slice(), [Failure::SameOutput { .. }]), "{:?}", plan.failures);
    }
}
