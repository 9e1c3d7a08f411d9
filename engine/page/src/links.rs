//! Where the links of a page lead: to the pages of other worksheets.

use std::borrow::Cow;

use benchleaf_core::results::Origin;

/// A link to a value on the page of its worksheet.
pub(crate) fn link(origin: &Origin) -> String {
    format!("{}#value-{}", to_page(&encoded(&origin.file)), encoded(&origin.name))
}

/// A link to another worksheet leads to its page.
pub(crate) fn to_page(url: &str) -> Cow<'_, str> {
    let end = url.find(['#', '?']).unwrap_or(url.len());
    let (path, rest) = url.split_at(end);
    if path.contains(':') || path.starts_with("//") {
        return url.into();
    }
    page_of(path).map_or(url.into(), |page| format!("{page}{rest}").into())
}

/// The path of a worksheet's page: it stands in the same place under the same name, and a folder's list in the place of its
/// README, which is no worksheet. Nothing where the path is no worksheet's.
pub fn page_of(path: &str) -> Option<String> {
    let (stem, ending) = path.len().checked_sub(".md".len()).and_then(|at| path.split_at_checked(at))?;
    if !ending.eq_ignore_ascii_case(".md") {
        return None;
    }
    let folder = stem.strip_suffix("README").filter(|folder| folder.is_empty() || folder.ends_with('/'));
    Some(folder.map_or_else(|| format!("{stem}.html"), |folder| format!("{folder}index.html")))
}

/// A path as it stands in a link.
pub(crate) fn encoded(path: &str) -> String {
    let mut link = String::with_capacity(path.len());
    for c in path.chars() {
        match c {
            '%' => link.push_str("%25"),
            ' ' => link.push_str("%20"),
            '#' => link.push_str("%23"),
            '?' => link.push_str("%3F"),
            c => link.push(c),
        }
    }
    link
}
