//! The order of a site's worksheets, and the sections that its folders are. In every folder its own worksheets come first and
//! the folders inside it follow, both by the `order` in their metadata, the least first, and without one by their names. The
//! author's own front page comes before all others.

use std::path::{Path, PathBuf};

use crate::site::{Front, INDEX};

/// A worksheet of a site.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// Its page, as a link from the site's front page.
    pub link: String,
    /// Where its worksheet is read from.
    pub path: PathBuf,
    /// The file that its page is written to.
    pub target: PathBuf,
    /// Its place among the worksheets of its folder.
    pub order: Option<u32>,
}

/// A folder of a site.
#[derive(Clone, Debug)]
pub struct Section {
    /// The folder as the beginning of a link from the front page: empty for the site's own, else with a slash at its end.
    pub within: String,
    /// Where its pages are written to.
    pub folder: PathBuf,
    /// What its author says of it.
    pub front: Front,
    /// Its own worksheets in their order, as indices.
    pub pages: Vec<usize>,
}

impl Section {
    /// A site without worksheets.
    pub fn of_site(front: Front) -> Self {
        Self { within: String::new(), folder: PathBuf::new(), front, pages: Vec::new() }
    }

    /// How many folders stand around it in the site.
    pub fn depth(&self) -> usize {
        self.within.matches('/').count()
    }

    /// Its anchor on the front page.
    pub fn anchor(&self) -> String {
        format!("section-{}", self.within.trim_end_matches('/').replace(['/', '%'], "-"))
    }
}

/// The sections of a site in reading order, that of the site itself first. `front` is what a folder's author says, by its path.
pub fn sections(listed: &[Listed], front: &dyn Fn(&Path) -> Front) -> Vec<Section> {
    let mut found = Vec::new();
    let all: Vec<usize> = (0..listed.len()).collect();
    let site = ancestor(listed, &all, "", |page| &page.path).map_or_else(Front::default, |folder| front(&folder));
    add(listed, all, String::new(), site, front, &mut found);
    found
}

fn add(
    listed: &[Listed],
    pages: Vec<usize>,
    within: String,
    own: Front,
    front: &dyn Fn(&Path) -> Front,
    found: &mut Vec<Section>,
) {
    let rest = |page: usize| listed.get(page).and_then(|page| page.link.strip_prefix(&within)).unwrap_or_default();
    let folder = ancestor(listed, &pages, &within, |page| &page.target).unwrap_or_default();
    let (mut direct, deeper): (Vec<usize>, Vec<usize>) = pages.into_iter().partition(|page| !rest(*page).contains('/'));
    direct.sort_by_key(|page| {
        let order = listed.get(*page).and_then(|page| page.order).unwrap_or(u32::MAX);
        (rest(*page) != INDEX, order, rest(*page).to_owned())
    });
    let mut folders: Vec<(String, Vec<usize>)> = Vec::new();
    for page in deeper {
        let name = rest(page).split('/').next().unwrap_or_default();
        match folders.iter_mut().find(|(known, _)| known == name) {
            Some((_, inside)) => inside.push(page),
            None => folders.push((name.to_owned(), vec![page])),
        }
    }
    let folders = folders.into_iter().map(|(name, inside)| {
        let within = format!("{within}{name}/");
        let own = ancestor(listed, &inside, &within, |page| &page.path);
        let own = own.map_or_else(Front::default, |folder| front(&folder));
        (own.order.unwrap_or(u32::MAX), within, own, inside)
    });
    let mut folders: Vec<_> = folders.collect();
    folders.sort_by(|one, other| (one.0, &one.1).cmp(&(other.0, &other.1)));
    found.push(Section { within, folder, front: own, pages: direct });
    for (_, within, own, inside) in folders {
        add(listed, inside, within, own, front, found);
    }
}

/// The folder that a section's worksheets are read from, or their pages written to: that of the first one, less the folders
/// between.
fn ancestor(listed: &[Listed], inside: &[usize], within: &str, file: impl Fn(&Listed) -> &PathBuf) -> Option<PathBuf> {
    let first = listed.get(*inside.first()?)?;
    let between = first.link.strip_prefix(within)?.matches('/').count();
    file(first).ancestors().nth(between + 1).map(Path::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn worksheets_come_before_folders_and_both_by_their_order() {
        let sheet = |path: &str, order| Listed {
            link: path.replace(".md", ".html"),
            path: Path::new("sheets").join(path),
            target: Path::new("out").join(path),
            order,
        };
        let listed = [
            sheet("z/deep/er/x.md", Some(1)),
            sheet("b.md", None),
            sheet("a/y.md", None),
            sheet("index.md", Some(9)),
            sheet("c.md", Some(3)),
            sheet("z/x.md", None),
            sheet("a.md", None),
        ];
        let order = |folder: &Path| (folder == Path::new("sheets/z")).then_some(5);
        let front =
            |folder: &Path| Front { order: order(folder), title: folder.display().to_string(), ..Front::default() };
        let found = sections(&listed, &front);
        let shown: Vec<String> = found
            .iter()
            .map(|section| {
                let pages: Vec<&str> = section.pages.iter().map(|page| listed[*page].link.as_str()).collect();
                format!("{} {} {}", section.front.title, section.depth(), pages.join(" "))
            })
            .collect();
        assert_eq!(
            shown,
            [
                "sheets 0 index.html c.html a.html b.html",
                "sheets/z 1 z/x.html",
                "sheets/z/deep 2 ",
                "sheets/z/deep/er 3 z/deep/er/x.html",
                "sheets/a 1 a/y.html",
            ]
        );
        assert_eq!(found[3].folder, Path::new("out/z/deep/er"));
        assert_eq!(found[3].anchor(), "section-z-deep-er");
    }
}
