//! A worksheet's pictures on its page: each with its size, so that nothing moves while it is read, and loaded when a reader
//! comes near it. Where a picture is, and how large, is asked of the caller; a picture that is not to be had is described.

use benchleaf_core::sheet::surroundings::file_of;
use benchleaf_words::{Words, say};
use maud::{Markup, html};

/// Gives a worksheet's own pictures.
pub trait Pictures: Sync {
    /// The picture of this path, as the worksheet has it.
    fn picture(&self, url: &str) -> ResolvedPicture;
}

/// A picture, as far as it could be found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ResolvedPicture {
    /// It is shown.
    Picture(Picture),
    /// It is not to be had.
    Missing,
    /// Nobody knows of any file: it is asked for by its path when the page is opened.
    Unknown,
}

/// A picture as a page has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Where it is: the whole of it as a `data:` address, or a path from the page.
    pub src: String,
    /// Width, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
}

/// For a page without files.
pub(crate) struct NoPictures;

impl Pictures for NoPictures {
    fn picture(&self, _: &str) -> ResolvedPicture {
        ResolvedPicture::Unknown
    }
}

/// Whether an address is that of a picture which a page may show: a file beside it, or the picture itself. A page asks the
/// network for nothing.
pub(crate) fn may_be_shown(url: &str) -> bool {
    url.starts_with("data:image/") || file_of(url).is_some_and(|(path, _)| !path.contains(':'))
}

/// The picture of an address.
pub(crate) fn image(words_of: Words<'_>, pictures: &dyn Pictures, url: &str, title: &str, words: &str) -> Markup {
    let title = Some(title).filter(|title| !title.is_empty());
    if url.starts_with("data:") {
        return html! { img src=(url) alt=(words) title=[title] loading="lazy"; };
    }
    match pictures.picture(url) {
        ResolvedPicture::Picture(Picture { src, width, height }) => {
            html! { img src=(src) alt=(words) title=[title] width=(width) height=(height) loading="lazy" data-picture=(url); }
        }
        ResolvedPicture::Unknown => html! { img src=(url) alt=(words) title=[title] loading="lazy"; },
        ResolvedPicture::Missing => described(words_of, url, words),
    }
}

/// What stands for a picture that is not shown.
pub(crate) fn described(words_of: Words<'_>, url: &str, words: &str) -> Markup {
    html! { span.no-picture { @if !words.is_empty() { em { (words) } " " } (say!(words_of, PICTURE_NOT_SHOWN, url = url)) } }
}
