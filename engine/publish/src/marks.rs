//! The marks at the head of what is written, by which a file is known as ours before it is replaced.

/// Whether a file is one that this program wrote: it says so at its head.
pub fn is_ours(head: &[u8]) -> bool {
    let mark = GENERATOR.as_bytes();
    let head = &head[..head.len().min(HEAD as usize)];
    let marks = [SHARED_MARK, INDEX_MARK, DRAWING_MARK, MEMORY_MARK, FEED_MARK];
    marks.iter().any(|mark| head.starts_with(mark.as_bytes()))
        || head.windows(mark.len()).any(|window| window.eq_ignore_ascii_case(mark))
}

/// How a site's feed begins, whatever version wrote it.
pub const FEED_MARK: &str = "<?xml version=\"1.0\" encoding=\"utf-8\"?>\n<!-- Written by Benchleaf. -->";

/// How the search index of a site begins, whatever version wrote it.
pub const INDEX_MARK: &str = "// Benchleaf: the search index of this folder.";

/// The name of the search index.
pub const INDEX_NAME: &str = "search-index.js";

/// How the file with the engine of a site's pages begins, whatever version wrote it.
pub const SHARED_MARK: &str = "// Benchleaf: the engine of the pages in this folder.";

/// How a small picture for a front page begins, whatever version wrote it.
pub const DRAWING_MARK: &str = "<!-- A small picture for the front page of a site by Benchleaf. -->";

/// How the record of what a site was made from begins, whatever version wrote it.
pub const MEMORY_MARK: &str = "{\"mark\":\"Benchleaf: what the pages of this folder were made from\"";

/// How much of a page is looked at for the mark.
pub const HEAD: u64 = 4096;

pub(crate) const GENERATOR: &str = "<meta name=\"generator\" content=\"benchleaf";
