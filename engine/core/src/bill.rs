//! The parts of a build and what they cost. Money is counted, not calculated: a price is a whole number of millionths of
//! its currency, an amount a whole number of the smallest coins, and no price is ever added to one in another currency. An
//! amount is rounded once a line of the list, halves up, as on an invoice; a total is the sum of these amounts.

use benchleaf_words::{Phrase, phrase};

use crate::{
    span::Span,
    units::{CURRENCIES, QuantityType, Unit, parse},
};

/// The quantities that a list of parts gives totals for.
pub const QUANTITIES: [u64; 4] = [1, 10, 100, 1000];

/// Most builds that are priced at once.
pub const MOST_BUILDS: u64 = 1_000_000;

/// Millionths of a currency's unit.
const MILLION: i128 = 1_000_000;

/// A part as it is bought.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its name in the worksheet, where it has one.
    pub name: Option<String>,
    /// Its value with the tolerance as its author wrote it, where it has one.
    pub value: Option<String>,
    /// The label that a reader sees.
    pub label: Option<String>,
    /// Where its line stands.
    pub span: Span,
    /// What the drawing and the board call it.
    pub designators: Vec<String>,
    /// What it is bought for: every build, or all of them together.
    pub bought: Bought,
    /// What it has ratings for.
    pub ratings: Vec<Rating>,
    /// Its prices by the number of pieces, rising; empty where it has none.
    pub prices: Vec<Price>,
}

/// What a part can stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Rating {
    /// The field that it is read by: `power_rating`.
    pub field: &'static str,
    /// What it is called.
    pub name: &'static str,
    /// The rating, SI.
    pub si: f64,
    /// As its author wrote it.
    pub shown: String,
}

impl Rating {
    /// What a part is rated for: the field, what it is called, and a unit of it.
    pub(crate) const TABLE: [(&'static str, &'static str, &'static str); 7] = [
        ("power_rating", "power rating", "W"),
        ("voltage_rating", "voltage rating", "V"),
        ("current_rating", "current rating", "A"),
        ("energy_rating", "energy rating", "J"),
        ("force_rating", "force rating", "N"),
        ("torque_rating", "torque rating", "N·m"),
        ("temperature_rating", "temperature rating", "°C"),
    ];

    /// The field that holds the rating for a quantity, and what it is called.
    pub fn field_of(quantity: QuantityType) -> Option<(&'static str, &'static str)> {
        let fits = |unit: Unit| {
            let (a, b) = (unit.quantity, quantity);
            a.dimension == b.dimension && a.kind.joined(b.kind).is_some()
        };
        let found = Self::TABLE.iter().find(|row| parse(row.2).is_some_and(fits));
        found.map(|(field, name, _)| (*field, *name))
    }
}

/// What a part is bought for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bought {
    /// So many pieces a build.
    EachBuild(u64),
    /// Once, however many are built: a tool, a stencil.
    Once,
}

/// A price from a number of pieces on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Price {
    /// The least number of pieces.
    pub from: u64,
    /// Millionths of the currency's unit a piece.
    pub millionths: i64,
    /// Its currency, by its place in [`CURRENCIES`].
    pub currency: usize,
}

/// Money of one currency.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Amount {
    /// Its currency, by its place in [`CURRENCIES`].
    pub currency: usize,
    /// How many of its smallest coins.
    pub coins: i64,
}

impl Amount {
    /// The number of the currency's units; the nearest that a double can hold.
    pub fn units(self) -> f64 {
        self.coins as f64 / coins_of_one(self.currency) as f64
    }

    /// The currency's code (ISO 4217).
    pub fn code(self) -> &'static str {
        CURRENCIES.get(self.currency).copied().unwrap_or("")
    }

    /// Number and code: `12.30 EUR`.
    pub fn shown(self) -> String {
        format!("{} {}", self.figures().replace('-', "−"), self.code())
    }

    /// The number alone, with the decimals of its coins.
    pub fn figures(self) -> String {
        let one = coins_of_one(self.currency);
        let (sign, coins) = (if self.coins < 0 { "-" } else { "" }, self.coins.unsigned_abs());
        match one {
            1 => format!("{sign}{coins}"),
            _ => format!("{sign}{}.{:02}", coins / one, coins % one),
        }
    }
}

impl Price {
    /// The price as a reader sees it: with the decimals of its coins, and more where it has more.
    pub fn shown(self) -> String {
        let (whole, parts) = (self.millionths / MILLION as i64, self.millionths % MILLION as i64);
        let parts = format!("{parts:06}");
        let least = if coins_of_one(self.currency) == 1 { 0 } else { 2 };
        let kept = parts.trim_end_matches('0').len().max(least);
        let point = if kept == 0 { "" } else { "." };
        format!("{whole}{point}{} {}", &parts[..kept], CURRENCIES.get(self.currency).copied().unwrap_or(""))
    }

    /// The price in the currency's units.
    pub fn units(self) -> f64 {
        self.millionths as f64 / MILLION as f64
    }
}

impl Part {
    /// The number of pieces in one build.
    pub fn count(&self) -> u64 {
        match self.bought {
            Bought::EachBuild(count) => count,
            Bought::Once => self.designators.len().max(1) as u64,
        }
    }

    /// The number of pieces for so many builds.
    pub fn pieces(&self, builds: u64) -> u64 {
        match self.bought {
            Bought::EachBuild(count) => count.saturating_mul(builds),
            Bought::Once => self.count(),
        }
    }

    /// What a piece costs where so many are bought.
    pub fn price(&self, pieces: u64) -> Option<Price> {
        let known = self.prices.partition_point(|price| price.from <= pieces);
        self.prices.get(known.checked_sub(1)?).copied()
    }

    /// What its pieces for so many builds cost.
    pub fn amount(&self, builds: u64) -> Option<Amount> {
        let pieces = self.pieces(builds);
        let price = self.price(pieces)?;
        let coin = MILLION as i64 / coins_of_one(price.currency) as i64;
        let narrow =
            i64::try_from(pieces).ok().and_then(|pieces| price.millionths.checked_mul(pieces)?.checked_add(coin / 2));
        let coins = match narrow {
            Some(millionths) => millionths / coin,
            None => {
                let millionths = i128::from(price.millionths) * i128::from(pieces) + i128::from(coin / 2);
                i64::try_from(millionths / i128::from(coin)).unwrap_or(i64::MAX)
            }
        };
        Some(Amount { currency: price.currency, coins })
    }
}

/// What all parts for so many builds cost, one amount a currency, in the order in which the list has them. Parts without a
/// price are not in it.
pub fn total(parts: &[Part], builds: u64) -> Vec<Amount> {
    let mut totals: Vec<Amount> = Vec::new();
    for amount in parts.iter().filter_map(|part| part.amount(builds)) {
        match totals.iter_mut().find(|total| total.currency == amount.currency) {
            Some(total) => total.coins = total.coins.saturating_add(amount.coins),
            None => totals.push(amount),
        }
    }
    totals
}

/// Where the cheapest of several lists of parts changes: from which list to which, and from how many builds on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BreakEven {
    /// The list that is cheapest up to there.
    pub below: usize,
    /// The list that is cheapest from there on.
    pub from: usize,
    /// The least number of builds for which it is.
    pub quantity: u64,
}

/// Most builds among which a break-even is looked for.
pub const MOST_COMPARED: u64 = 10_000;

/// Every number of builds, up to [`MOST_COMPARED`], at which the cheapest of some lists of parts changes. At equal costs a list
/// stays the cheapest that was it before, the first of them for one build. Empty where not all prices are in one currency.
pub fn break_even(lists: &[&[Part]]) -> Vec<BreakEven> {
    let mut currencies =
        lists.iter().flat_map(|list| list.iter()).flat_map(|part| &part.prices).map(|price| price.currency);
    let first = currencies.next();
    if first.is_none() || currencies.any(|currency| Some(currency) != first) {
        return Vec::new();
    }
    // What is in all lists makes no difference.
    let common = |part: &&Part| lists.iter().all(|list| list.contains(part));
    let lists: Vec<Vec<&Part>> = lists.iter().map(|list| list.iter().filter(|part| !common(part)).collect()).collect();
    let cost = |list: &Vec<&Part>, builds| {
        list.iter().filter_map(|part| part.amount(builds)).fold(0i64, |sum, amount| sum.saturating_add(amount.coins))
    };
    let mut cheapest: Option<usize> = None;
    let mut found = Vec::new();
    for quantity in 1..=MOST_COMPARED {
        let costs: Vec<i64> = lists.iter().map(|list| cost(list, quantity)).collect();
        let Some(least) = costs.iter().min() else { break };
        if cheapest.is_some_and(|at| costs[at] == *least) {
            continue;
        }
        let Some(from) = costs.iter().position(|cost| cost == least) else { break };
        found.extend(cheapest.map(|below| BreakEven { below, from, quantity }));
        cheapest = Some(from);
    }
    found
}

/// A number in plain figures as millionths.
///
/// # Errors
/// Why it is no price, as the end of a sentence that begins with it.
pub fn millionths(figures: &str) -> Result<i64, Phrase> {
    let (whole, fraction) = figures.split_once('.').unwrap_or((figures, ""));
    if !(whole.bytes().chain(fraction.bytes()).all(|byte| byte.is_ascii_digit())) {
        return Err(phrase!(BILL_IS_NOT_WRITTEN_IN_PLAIN));
    }
    let fraction = fraction.trim_end_matches('0');
    if fraction.len() > 6 {
        return Err(phrase!(BILL_HAS_MORE_THAN_SIX_DECIMALS));
    }
    let whole: i64 =
        if whole.is_empty() { Ok(0) } else { whole.parse() }.map_err(|_| phrase!(BILL_IS_OUT_OF_ALL_REASON))?;
    let fraction: i64 = format!("{fraction:0<6}").parse().unwrap_or(0);
    match whole {
        0..=999_999_999 => Ok(whole * MILLION as i64 + fraction),
        _ => Err(phrase!(BILL_IS_OUT_OF_ALL_REASON)),
    }
}

/// How many of its smallest coins make one of a currency (ISO 4217): the yen has none, all others in the list hundredths.
fn coins_of_one(currency: usize) -> u64 {
    if CURRENCIES.get(currency) == Some(&"JPY") { 1 } else { 100 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(prices: &[(u64, &str)], count: u64) -> Part {
        let price = |(from, figures): &(u64, &str)| Price {
            from: *from,
            millionths: millionths(figures).unwrap(),
            currency: 0,
        };
        Part {
            name: None,
            value: None,
            label: None,
            span: Span::default(),
            designators: Vec::new(),
            bought: Bought::EachBuild(count),
            ratings: Vec::new(),
            prices: prices.iter().map(price).collect(),
        }
    }

    #[test]
    fn a_break_counts_pieces_and_a_line_is_rounded_once() {
        let two = part(&[(1, "0.03"), (100, "0.0125")], 2);
        let shown = |builds| two.amount(builds).unwrap().shown();
        assert_eq!(
            [shown(1), shown(49), shown(50), shown(51)],
            ["0.06 EUR", "2.94 EUR", "1.25 EUR", "1.28 EUR"],
            "1.275 goes up"
        );
        assert_eq!(total(&[two.clone(), two, part(&[], 1)], 50)[0].shown(), "2.50 EUR");
    }

    #[test]
    fn three_tenths_are_three_tenths() {
        let tenth = part(&[(1, "0.1")], 1);
        let all = total(&[tenth.clone(), tenth.clone(), tenth], 1);
        assert_eq!((all[0].coins, all[0].units()), (30, 0.3));
    }

    #[test]
    fn what_is_no_price_is_told() {
        assert_eq!(millionths("12.50"), Ok(12_500_000));
        assert_eq!(millionths(".000001"), Ok(1));
        for wrong in ["1e3", "-1", "1.0000001", "99999999999", "∞"] {
            assert!(millionths(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn once_is_once_and_yen_have_no_cents() {
        let mut tool = part(&[(1, "19.999999")], 1);
        tool.bought = Bought::Once;
        assert_eq!((tool.amount(1), tool.amount(1000)), (tool.amount(7), tool.amount(7)));
        assert_eq!(tool.amount(1).unwrap().shown(), "20.00 EUR");
        tool.prices[0].currency = 3;
        assert_eq!(tool.amount(1).unwrap().shown(), "20 JPY");
    }
}
