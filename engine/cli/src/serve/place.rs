//! What a preview may show: the worksheets of a folder and the pictures beside them, or one worksheet. A path of the
//! browser's becomes a file here or nowhere. No way leads out of the folder: not by `..`, however it is written, nor by a
//! link in the folder.

use std::{
    fs,
    path::{Component, Path, PathBuf},
};

use benchleaf_publish::{
    around::own_names,
    failure::Failure,
    inputs::{self, gather, unusable},
    live::SHARED_NAMES,
    marks::INDEX_NAME,
    site::{INDEX, href},
};
use percent_encoding::percent_decode_str;

/// The folder of a preview, and the only worksheet that it shows, where that is so.
#[derive(Debug)]
pub(super) struct Place {
    folder: PathBuf,
    only: Option<PathBuf>,
}

/// What a path of the browser's stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Resource {
    /// A page or a script of the site that the folder becomes, which is no worksheet's: by its link from the front page.
    OfSite(String),
    /// The page of a worksheet, by its path in the folder.
    Sheet(PathBuf),
    /// A file that makes the pages live, which these share, by its name.
    Engine(&'static str),
    /// Another file of the folder, by its path in it.
    File(PathBuf),
}

impl Place {
    /// The place of a worksheet or a folder.
    ///
    /// # Errors
    /// Where it is neither, or holds no worksheet.
    pub(super) fn of(path: &Path) -> Result<Self, Failure> {
        let found = gather(std::slice::from_ref(&path.to_owned()));
        if found.worksheets.is_empty()
            && let Some(failure) = found.failures.into_iter().next()
        {
            return Err(failure);
        }
        let whole = fs::canonicalize(path).map_err(|cause| unusable(path, cause))?;
        if whole.is_dir() {
            return Ok(Self { folder: whole, only: None });
        }
        // A link to a worksheet stands for the worksheet.
        let folder = whole.parent().unwrap_or(&whole).to_owned();
        Ok(Self { folder, only: whole.file_name().map(PathBuf::from) })
    }

    /// The folder, spelled in the one true way.
    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// The only worksheet, by its path in the folder.
    pub(super) fn only(&self) -> Option<&Path> {
        self.only.as_deref()
    }

    /// The browser's path of the page to begin with.
    pub(super) fn front(&self) -> String {
        match &self.only {
            Some(sheet) => page_of(sheet),
            None => "/".to_owned(),
        }
    }

    /// The worksheets, as far as they stand in the folder.
    pub(super) fn worksheets(&self) -> Vec<inputs::Worksheet> {
        let mut found = gather(std::slice::from_ref(&self.folder)).worksheets;
        found.retain(|sheet| match &self.only {
            Some(only) => sheet.within == *only,
            None => self.inside(&sheet.within).is_some(),
        });
        found
    }

    /// What a path stands for, as it stands in a request without its query; nothing where it stands for nothing here.
    pub(super) fn resource(&self, path: &str) -> Option<Resource> {
        let within = self.within(path)?;
        if within.as_os_str().is_empty() {
            return self.only.is_none().then(|| self.page(Path::new(INDEX))).flatten();
        }
        let shared = SHARED_NAMES.iter().find(|name| within == Path::new(name) && self.only.is_none());
        if let Some(name) = shared {
            return Some(Resource::Engine(name));
        }
        if within.extension().is_some_and(|ending| ending == "html") || within == Path::new(INDEX_NAME) {
            return self.page(&within);
        }
        Some(Resource::File(within))
    }

    /// A worksheet's page, or one that the program makes where no worksheet has it.
    fn page(&self, within: &Path) -> Option<Resource> {
        if let Some(only) = &self.only {
            return self.worksheet(within).filter(|sheet| sheet == only).map(Resource::Sheet);
        }
        let of_site = || is_of_site(within).then(|| Resource::OfSite(href(within)));
        self.worksheet(within).map(Resource::Sheet).or_else(of_site)
    }

    /// The worksheet of a page.
    fn worksheet(&self, page: &Path) -> Option<PathBuf> {
        let sheet = page.with_extension("md");
        if self.inside(&sheet).is_some_and(|file| file.is_file()) && is_worksheet(&sheet) {
            return Some(sheet);
        }
        // Its name may end in capitals.
        let sheets = self.worksheets();
        let named = sheets.into_iter().find(|sheet| sheet.within.with_extension("html") == page);
        named.map(|sheet| sheet.within)
    }

    /// A path in the folder, part by part as it is called; nothing where a part means something else than a name.
    fn within(&self, path: &str) -> Option<PathBuf> {
        let path = percent_decode_str(path.strip_prefix('/')?).decode_utf8().ok()?;
        if path.is_empty() {
            return Some(PathBuf::new());
        }
        let is_name = |part: &str| {
            !part.is_empty()
                && !part.starts_with('.')
                && !part.contains(['\\', '\0', ':'])
                && !part.contains(char::is_control)
        };
        if !path.split('/').all(is_name) {
            return None;
        }
        let within = PathBuf::from(&*path);
        within.components().all(|part| matches!(part, Component::Normal(_))).then_some(within)
    }

    /// Where a path in the folder leads, links followed; nothing where that is nowhere or outside.
    pub(super) fn inside(&self, within: &Path) -> Option<PathBuf> {
        let file = fs::canonicalize(self.folder.join(within)).ok()?;
        file.starts_with(&self.folder).then_some(file)
    }
}

/// The browser's path of a worksheet's page.
pub(super) fn page_of(sheet: &Path) -> String {
    format!("/{}", href(&sheet.with_extension("html")))
}

/// Whether a page of the site itself may be called so: a list of a folder, or one of the pages at its top.
fn is_of_site(within: &Path) -> bool {
    within.file_name().is_some_and(|name| name == INDEX) || own_names().any(|name| within == Path::new(name))
}

/// Whether a search of the folder would take it for a worksheet.
fn is_worksheet(sheet: &Path) -> bool {
    let passed_over =
        |part: Component<'_>| part.as_os_str().as_encoded_bytes().first().is_some_and(|c| b"._".contains(c));
    !sheet.components().any(passed_over)
        && !sheet.file_name().is_some_and(|name| name.eq_ignore_ascii_case("README.md"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place() -> (tempfile::TempDir, Place) {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir_all(at("sheets/deep")).unwrap();
        for name in [
            "secret.md",
            "sheets/a.md",
            "sheets/deep/b c.md",
            "sheets/D.MD",
            "sheets/_draft.md",
            "sheets/README.md",
            "sheets/x.png",
        ] {
            fs::write(at(name), "# T\n").unwrap();
        }
        let place = Place::of(&at("sheets")).unwrap();
        (folder, place)
    }

    #[test]
    fn a_path_leads_to_a_worksheet_of_the_folder_or_nowhere() {
        let (_folder, place) = place();
        let sheet = |path: &str| Some(Resource::Sheet(PathBuf::from(path)));
        let of_site = |link: &str| Some(Resource::OfSite(link.to_owned()));
        for (path, wanted) in [
            ("/", of_site("index.html")),
            ("/index.html", of_site("index.html")),
            ("/deep/index.html", of_site("deep/index.html")),
            ("/search.html", of_site("search.html")),
            ("/search-index.js", of_site("search-index.js")),
            ("/deep/search.html", None),
            ("/a.html", sheet("a.md")),
            ("/%61.html", sheet("a.md")),
            ("/deep/b%20c.html", sheet("deep/b c.md")),
            ("/D.html", sheet("D.MD")),
            ("/benchleaf.js", Some(Resource::Engine("benchleaf.js"))),
            ("/benchleaf-engine.js", Some(Resource::Engine("benchleaf-engine.js"))),
            ("/x.png", Some(Resource::File("x.png".into()))),
            ("/none.html", None),
            ("/_draft.html", None),
            ("/README.html", None),
            ("/../secret.html", None),
            ("/%2e%2e/secret.html", None),
            ("/..%2fsecret.html", None),
            ("/deep/../../secret.html", None),
            ("/deep%5c..%5c..%5csecret.html", None),
            ("//a.html", None),
            ("/./a.html", None),
            ("/a.html%00.png", None),
            ("/%ff.html", None),
            ("/%c0%ae%c0%ae/secret.html", None),
            ("a.html", None),
            ("", None),
        ] {
            assert_eq!(place.resource(path), wanted, "{path}");
        }
    }

    #[test]
    fn one_worksheet_is_shown_alone() {
        let (folder, _) = place();
        let place = Place::of(&folder.path().join("sheets/a.md")).unwrap();
        assert_eq!(place.front(), "/a.html");
        assert_eq!(place.resource("/a.html"), Some(Resource::Sheet("a.md".into())));
        assert_eq!(
            ["/", "/D.html", "/deep/b%20c.html", "/search.html"].map(|path| place.resource(path)),
            [None, None, None, None]
        );
    }

    #[cfg(unix)]
    #[test]
    fn links_do_not_lead_out() {
        let (folder, place) = place();
        let at = |name: &str| folder.path().join(name);
        std::os::unix::fs::symlink(at("secret.md"), at("sheets/out.md")).unwrap();
        std::os::unix::fs::symlink(folder.path(), at("sheets/up")).unwrap();
        std::os::unix::fs::symlink(at("sheets/a.md"), at("sheets/in.md")).unwrap();
        assert_eq!([place.resource("/out.html"), place.resource("/up/secret.html")], [None, None]);
        assert_eq!(place.resource("/in.html"), Some(Resource::Sheet("in.md".into())));
        assert!(place.inside(Path::new("up/secret.md")).is_none());
        assert!(place.worksheets().iter().all(|sheet| sheet.within != Path::new("out.md")));
    }
}
