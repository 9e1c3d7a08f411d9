//! Reading a page back: the worksheet and the setting that it carries. A page is parsed as a browser would, so that one
//! saved from a browser is read as well as one from the command line.

use std::{fs::File, io::Read, path::Path};

use benchleaf_core::sheet::SAMPLES;
use benchleaf_words::{Phrase, key};
use scraper::{Html, Selector};

use crate::{
    failure::Failure,
    live::{PageSetting, worksheet_of},
    marks::is_ours,
};

/// A page that was read back.
pub struct Published {
    /// The page as a browser has it.
    pub document: Html,
    /// Its worksheet, byte for byte.
    pub source: String,
    /// How it was made.
    pub setting: PageSetting,
}

/// Reads a page.
pub fn read(path: &Path) -> Result<Published, Failure> {
    let unreadable = |cause| Failure::Unreadable { path: path.to_owned(), cause };
    let mut bytes = Vec::new();
    File::open(path)
        .map_err(|cause| crate::inputs::unusable(path, cause))?
        .take(LIMIT + 1)
        .read_to_end(&mut bytes)
        .map_err(unreadable)?;
    if bytes.len() as u64 > LIMIT {
        return Err(Failure::TooLarge { path: path.to_owned(), limit: LIMIT });
    }
    let no_page = |why| Failure::NotAPage { path: path.to_owned(), why: Phrase::from(why) };
    let html = String::from_utf8(bytes).map_err(|_| no_page(key::WHY_NO_PAGE_NOT_TEXT))?;
    if !is_ours(html.as_bytes()) {
        return Err(no_page(key::WHY_NO_PAGE_NOT_OURS));
    }
    let document = Html::parse_document(&html);
    let embedded = |id: &str| {
        let selector = Selector::parse(&format!("script#{id}")).ok()?;
        document.select(&selector).next().map(|element| element.text().collect::<String>())
    };
    let source = embedded("_worksheet").ok_or_else(|| no_page(key::WHY_NO_PAGE_NO_WORKSHEET))?;
    let source = worksheet_of(&source).ok_or_else(|| no_page(key::WHY_NO_PAGE_WORKSHEET_UNREADABLE))?;
    let setting = embedded("_setting").ok_or_else(|| no_page(key::WHY_NO_PAGE_NO_SETTING))?;
    let setting: PageSetting =
        serde_json::from_str(&setting).map_err(|_| no_page(key::WHY_NO_PAGE_SETTING_UNREADABLE))?;
    if setting.samples.is_some_and(|samples| !SAMPLES.contains(&samples)) {
        return Err(no_page(key::WHY_NO_PAGE_SAMPLES));
    }
    Ok(Published { document, source, setting })
}

/// The largest page that is read: a worksheet of the largest size with its plots and its engine.
const LIMIT: u64 = 256 * 1024 * 1024;
