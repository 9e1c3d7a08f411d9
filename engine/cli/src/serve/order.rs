//! The order of the worksheets of a preview, which is that of the site that the folder becomes.

use std::{path::Path, sync::Arc};

use benchleaf_publish::{
    inputs::Worksheet,
    neighbours::{Head, Link, before_and_after, reading_order},
    sections::{Listed, Section, sections},
    site::{Front, href},
};

/// The worksheets of a folder, and its sections.
pub(super) struct Order {
    /// The worksheets as they were found.
    pub(super) sheets: Vec<Worksheet>,
    heads: Vec<Arc<Head>>,
    places: Vec<Listed>,
    /// The folder's sections, whose pages are indices into the worksheets.
    pub(super) sections: Vec<Section>,
    /// The worksheets as a reader goes through them.
    order: Vec<usize>,
}

impl Order {
    /// Of these worksheets; `front` is what the author says of the folder.
    pub(super) fn new(sheets: Vec<Worksheet>, front: Front, head: &dyn Fn(&Worksheet) -> Arc<Head>) -> Self {
        let heads: Vec<Arc<Head>> = sheets.iter().map(head).collect();
        let places: Vec<Listed> = sheets
            .iter()
            .zip(&heads)
            .map(|(sheet, head)| {
                let target = sheet.within.with_extension("html");
                Listed { link: href(&target), path: sheet.path.clone(), target, order: head.order }
            })
            .collect();
        let mut sections = sections(&places, &Front::of);
        if let Some(own) = sections.first_mut() {
            own.front = front;
        }
        let order = reading_order(&sections);
        Self { sheets, heads, places, sections, order }
    }

    /// The pages' links from the front page, in the order of the worksheets.
    pub(super) fn links(&self) -> impl Iterator<Item = String> {
        self.places.iter().map(|place| place.link.clone())
    }

    /// The links to the pages before and after a worksheet's; `up` leads from its page to the front page's folder.
    pub(super) fn beside(&self, within: &Path, up: &str) -> (Option<Link>, Option<Link>) {
        let is_own = |page: &&usize| self.sheets.get(**page).is_some_and(|sheet| sheet.within == within);
        let Some(at) = self.order.iter().position(|page| is_own(&page)) else { return (None, None) };
        let to = |page: usize| {
            let (place, head) = (self.places.get(page)?, self.heads.get(page)?);
            Some(Link { href: format!("{up}{}", place.link), title: head.title.clone() })
        };
        before_and_after(&self.order, at, &to)
    }
}
