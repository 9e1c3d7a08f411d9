//! Parts and their cost as programs read them.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::{
    bill::{Amount, Bought, Part, QUANTITIES, total},
    results::Evaluation,
};

/// A part.
#[derive(Clone, Debug, Serialize)]
pub struct PartEntry<'a> {
    /// Line where it stands.
    pub line: usize,
    /// Its name; `null` for a part without one.
    pub name: Option<&'a str>,
    /// Its value with the tolerance as its author wrote it; `null` for a part without one.
    pub value: Option<&'a str>,
    /// The label that a reader sees.
    pub label: Option<&'a str>,
    /// What the drawing calls it.
    pub designators: &'a [String],
    /// Pieces in one build; of a part that is bought once, in all.
    pub pieces: u64,
    /// Whether it is bought once for all builds.
    pub once: bool,
    /// Its ratings by the field that reads them, SI.
    pub ratings: BTreeMap<&'static str, f64>,
    /// The currency of its prices (ISO 4217); `null` without a price.
    pub currency: Option<&'static str>,
    /// Its prices, each with the number of pieces from which on it is asked.
    pub prices: Vec<PriceEntry>,
    /// What its pieces cost for some numbers of builds.
    pub totals: Vec<TotalEntry>,
}

/// A price of one piece.
#[derive(Clone, Debug, Serialize)]
pub struct PriceEntry {
    /// From how many pieces on.
    pub from: u64,
    /// In the currency's units.
    pub price: f64,
}

/// What a number of builds costs.
#[derive(Clone, Debug, Serialize)]
pub struct TotalEntry {
    /// How many builds.
    pub quantity: u64,
    /// In the currency's units, rounded to its smallest coin.
    pub total: f64,
    /// The currency (ISO 4217).
    pub currency: &'static str,
}

impl TotalEntry {
    fn new(quantity: u64, amount: Amount) -> Self {
        Self { quantity, total: amount.units(), currency: amount.code() }
    }

    /// What all parts cost, for each of the usual quantities and each currency.
    pub(super) fn of(parts: &[Part]) -> Vec<Self> {
        let each = |quantity: u64| total(parts, quantity).into_iter().map(move |amount| Self::new(quantity, amount));
        QUANTITIES.into_iter().flat_map(each).collect()
    }
}

impl<'a> PartEntry<'a> {
    pub(super) fn new(part: &'a Part, evaluation: &Evaluation) -> Self {
        let amounts =
            QUANTITIES.into_iter().filter_map(|quantity| Some(TotalEntry::new(quantity, part.amount(quantity)?)));
        let totals: Vec<TotalEntry> = amounts.collect();
        Self {
            line: evaluation.lines.line(part.span.start),
            name: part.name.as_deref(),
            value: part.value.as_deref(),
            label: part.label.as_deref(),
            designators: &part.designators,
            pieces: part.count(),
            once: part.bought == Bought::Once,
            ratings: part.ratings.iter().map(|rating| (rating.field, rating.si)).collect(),
            currency: totals.first().map(|total| total.currency),
            prices: part.prices.iter().map(|price| PriceEntry { from: price.from, price: price.units() }).collect(),
            totals,
        }
    }
}
