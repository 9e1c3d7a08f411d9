//! A worksheet's pictures on their way into its page. A small one goes into the page itself; a larger one stands beside the
//! page, under a name that has a part of its hash, so that no other file is overwritten. A drawing in SVG always goes into
//! the page, cleaned of all that is no drawing.

use std::{
    collections::BTreeMap,
    path::Path,
    sync::{Mutex, PoisonError},
};

use base64::{Engine as _, engine::general_purpose::STANDARD as BASE64};
use benchleaf_core::{host::Host, sheet::surroundings::file_of};
use benchleaf_page::pictures::{Picture, Pictures, ResolvedPicture};
use benchleaf_words::{Phrase, phrase};
use imagesize::ImageType;

use crate::{drawing, hash::hash_of, site::href};

/// The most bytes of a picture that goes into the page; a larger one stands beside it.
pub const INSIDE: usize = 300_000;
/// The most bytes of a picture.
pub const LARGEST: u64 = 20_000_000;
/// The most bytes of a drawing in SVG, which always goes into the page.
pub const LARGEST_DRAWING: usize = 1_000_000;

/// Where a picture that is too large for the page has its place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Larger {
    /// Where it is: the page stands beside its worksheet.
    #[default]
    AsItStands,
    /// Beside the page, as a copy.
    Copied,
}

/// A picture to be written beside the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Copy {
    /// The name of its file.
    pub name: String,
    /// What is in it.
    pub bytes: Vec<u8>,
}

/// The pictures of one page.
pub(crate) struct PagePictures<'h> {
    host: &'h dyn Host,
    larger: Larger,
    copies: Mutex<BTreeMap<String, Vec<u8>>>,
}

impl<'h> PagePictures<'h> {
    /// Pictures that the host has.
    pub(crate) fn new(host: &'h dyn Host, larger: Larger) -> Self {
        Self { host, larger, copies: Mutex::default() }
    }

    /// What is to be written beside the page.
    pub(crate) fn copies(self) -> Vec<Copy> {
        let copies = self.copies.into_inner().unwrap_or_else(PoisonError::into_inner);
        copies.into_iter().map(|(name, bytes)| Copy { name, bytes }).collect()
    }

    fn src(&self, path: &str, ending: &str, bytes: Vec<u8>) -> String {
        if bytes.len() <= INSIDE {
            return data(ending, &bytes);
        }
        if self.larger == Larger::AsItStands {
            return href(Path::new(path));
        }
        let stem = Path::new(path).file_stem().unwrap_or_default().to_string_lossy();
        let name = format!("{stem}-{}.{ending}", &hash_of(&bytes)[..HASH]);
        let src = href(Path::new(&name));
        self.copies.lock().unwrap_or_else(PoisonError::into_inner).insert(name, bytes);
        src
    }
}

impl Pictures for PagePictures<'_> {
    fn picture(&self, url: &str) -> ResolvedPicture {
        let Some((path, _)) = file_of(url) else { return ResolvedPicture::Missing };
        let bytes = match self.host.picture(&path) {
            Ok(bytes) => bytes,
            Err(benchleaf_core::host::FileFault::NoFiles) => return ResolvedPicture::Unknown,
            Err(_) => return ResolvedPicture::Missing,
        };
        match kind(&bytes) {
            Ok(Sized { ending, width, height, cleaned }) => {
                let src = match cleaned {
                    Some(drawing) => data(ending, drawing.as_bytes()),
                    None => self.src(&path, ending, bytes),
                };
                ResolvedPicture::Picture(Picture { src, width, height })
            }
            Err(_) => ResolvedPicture::Missing,
        }
    }
}

/// What a picture turned out to be.
pub(crate) struct Sized {
    ending: &'static str,
    /// Width, px.
    width: u32,
    /// Height, px.
    height: u32,
    /// The drawing in SVG, cleaned.
    cleaned: Option<String>,
}

/// What a file is, by its first bytes and not by its name; or why it is no picture for a page, in words.
pub(crate) fn kind(bytes: &[u8]) -> Result<Sized, Phrase> {
    if bytes.len() as u64 > LARGEST {
        return Err(phrase!(PICTURE_FAULT_IS_LARGER, limit = LARGEST / 1_000_000));
    }
    let ending = match imagesize::image_type(bytes) {
        Ok(ImageType::Png) => "png",
        Ok(ImageType::Jpeg) => "jpg",
        Ok(ImageType::Webp) => "webp",
        _ => return drawn(bytes),
    };
    let size = imagesize::blob_size(bytes).map_err(|_| phrase!(PICTURE_FAULT_HEAD_CANNOT_BE_READ))?;
    let (width, height) = (u32::try_from(size.width), u32::try_from(size.height));
    match (width, height) {
        (Ok(width @ 1..), Ok(height @ 1..)) => Ok(Sized { ending, width, height, cleaned: None }),
        _ => Err(phrase!(PICTURE_FAULT_HEAD_NAMES_NO_SIZE)),
    }
}

fn drawn(bytes: &[u8]) -> Result<Sized, Phrase> {
    let none = || phrase!(PICTURE_FAULT_IS_NONE);
    let text = std::str::from_utf8(bytes).map_err(|_| none())?;
    if bytes.len() > LARGEST_DRAWING {
        return Err(phrase!(PICTURE_FAULT_DRAWING_IS_LARGER, limit = LARGEST_DRAWING / 1_000_000));
    }
    let drawing::Cleaned { text, width, height } = drawing::clean(text).ok_or_else(none)?;
    Ok(Sized { ending: "svg", width, height, cleaned: Some(text) })
}

fn data(ending: &str, bytes: &[u8]) -> String {
    let medium = match ending {
        "svg" => "svg+xml",
        "jpg" => "jpeg",
        other => other,
    };
    format!("data:image/{medium};base64,{}", BASE64.encode(bytes))
}

/// Characters of the hash in a copy's name.
const HASH: usize = 10;
