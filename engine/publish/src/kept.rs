//! What a site keeps of a page once it is written: what its front page, its lists, its search and its feed say of it, and
//! what says on the next call whether the page has to be made again.

use benchleaf_core::{
    bill::{Bought, Part, Price},
    results::Evaluation,
    span::Span,
    summary::Summary,
    units::CURRENCIES,
};
use benchleaf_page::{Register, register};
use serde::{Deserialize, Serialize};

use crate::page::RenderedPage;

/// What is kept of a page.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// Its title, as plain text.
    pub title: String,
    /// Its summary, as plain text.
    pub summary: Option<String>,
    /// Who wrote it.
    pub author: Option<String>,
    /// The date in its metadata, as written.
    pub date: Option<String>,
    /// How its requirements stand.
    pub counts: Counts,
    /// Its headings, values, models, exercises and notes; without them where nothing lists these.
    pub register: Register,
    /// What is bought for it.
    pub parts: Vec<KeptPart>,
    /// Its first picture, as a link from the page.
    pub picture: Option<String>,
}

impl Kept {
    /// Of a page that was made from this text.
    pub fn of(page: &RenderedPage, source: &str) -> Self {
        let metadata = &page.evaluation.sheet.metadata;
        Self {
            title: page.title.clone(),
            summary: page.summary.clone(),
            author: metadata.author.clone(),
            date: metadata.date.clone(),
            counts: Counts::of(&page.evaluation),
            register: register(&page.evaluation, source),
            parts: page.evaluation.parts.iter().map(KeptPart::of).collect(),
            picture: None,
        }
    }
}

/// How many requirements hold, and how much is wrong.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Counts {
    pub holds: usize,
    pub at_risk: usize,
    pub broken: usize,
    pub errors: usize,
    pub warnings: usize,
}

impl Counts {
    /// Those of an evaluation.
    pub fn of(evaluation: &Evaluation) -> Self {
        let Summary { holds, at_risk, broken, errors, warnings } = Summary::of(evaluation);
        Self { holds, at_risk, broken, errors, warnings }
    }

    /// The same as a sum that can be shown and added to.
    pub fn summary(self) -> Summary {
        let Self { holds, at_risk, broken, errors, warnings } = self;
        Summary { holds, at_risk, broken, errors, warnings }
    }
}

/// A part that is bought.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptPart {
    /// Its name in the worksheet.
    pub name: Option<String>,
    /// What it is.
    pub label: Option<String>,
    /// Its value with the tolerance.
    pub value: Option<String>,
    /// What it stands, as written.
    pub rated: String,
    /// Its designators.
    pub designators: Vec<String>,
    /// Pieces in one build.
    pub pieces: u64,
    /// Whether it is bought once, however many are built.
    pub once: bool,
    /// Prices by the number of pieces: the least number, millionths of the currency's unit, the currency's code.
    pub prices: Vec<(u64, i64, String)>,
}

impl KeptPart {
    fn of(part: &Part) -> Self {
        let ratings: Vec<&str> = part.ratings.iter().map(|rating| rating.shown.as_str()).collect();
        let price = |price: &Price| {
            let currency = CURRENCIES.get(price.currency).copied().unwrap_or_default();
            (price.from, price.millionths, currency.to_owned())
        };
        Self {
            name: part.name.clone(),
            label: part.label.clone(),
            value: part.value.clone(),
            rated: ratings.join(", "),
            designators: part.designators.clone(),
            pieces: part.count(),
            once: part.bought == Bought::Once,
            prices: part.prices.iter().map(price).collect(),
        }
    }

    /// So many pieces of it as a part that can be priced.
    pub fn bought(&self, pieces: u64) -> Part {
        let price = |(from, millionths, code): &(u64, i64, String)| {
            let currency = CURRENCIES.iter().position(|known| known == code)?;
            Some(Price { from: *from, millionths: *millionths, currency })
        };
        Part {
            name: None,
            value: None,
            label: None,
            span: Span::new(0, 0),
            designators: Vec::new(),
            bought: Bought::EachBuild(pieces),
            ratings: Vec::new(),
            prices: self.prices.iter().filter_map(price).collect(),
        }
    }

    /// Whether one order can buy both: they are alike in all that is said of them but where they go.
    pub fn is_alike(&self, other: &Self) -> bool {
        let called = |part: &Self| part.label.clone().or_else(|| part.name.clone());
        called(self) == called(other)
            && self.value == other.value
            && self.rated == other.rated
            && self.once == other.once
            && self.prices == other.prices
    }
}
