//! Where a variance comes from, given by given: a table with a bar in each row, which is a drawing to the eye and numbers
//! to every other reader. The thick bar is what a given brings alone; a thin one reaches on to what it brings together
//! with others.

use benchleaf_core::results::Share;
use benchleaf_words::{Words, count, key};
use maud::{Markup, html};

use crate::{context::PageContext, format::percent, labels, mathml};

/// How much room there is for each given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Room {
    /// Its symbol alone.
    Margin,
    /// Its label too.
    Column,
}

/// The shares as a table, the greatest first; `caption` says whose.
pub(crate) fn table(context: &PageContext<'_>, shares: &[Share], room: Room, caption: &Markup) -> Markup {
    let words = context.words;
    let with_total = shares.iter().any(|share| share.total.is_some());
    let counts = |share: &&Share| share.first.abs().max(share.total.unwrap_or(0.0)) >= LEAST;
    let shown: Vec<&Share> = shares.iter().filter(counts).collect();
    html! {
        table.shares {
            caption { (caption) }
            thead class=[(!with_total).then_some("unseen")] { tr {
                th scope="col" { span.unseen { (words.text(key::SHARES_GIVEN)) } }
                th scope="col" { span.unseen { (words.text(key::SHARES_BAR)) } }
                th.right scope="col" { (words.text(if with_total { key::SHARES_ALONE } else { key::SHARES_SHARE })) }
                @if with_total { th.right scope="col" { (words.text(key::SHARES_WITH_OTHERS)) } }
            } }
            tbody {
                @for share in &shown {
                    tr {
                        th scope="row" {
                            @if room == Room::Column {
                                @if let Some(label) = context.label(&share.name) { (labels::opening(&labels::inside(label))) ", " }
                            }
                            (mathml::symbol(&share.name))
                        }
                        td.bar { (bar(share)) }
                        td.right { (estimate(words, share.first, share)) }
                        @if with_total { td.right { @if let Some(total) = share.total { (estimate(words, total, share)) } } }
                    }
                }
            }
        }
        @if shown.len() < shares.len() { p.rest { (count!(words, SHARES_REST, shares.len() - shown.len(), n = shares.len() - shown.len())) } }
        @if let Some(note) = note(words, &shown) { p.rest { (note) } }
    }
}

/// A share as well as it is known: `31.4 ± 0.6 %`, or `about 0` where it may be chance.
fn estimate(words: Words<'_>, figure: f64, share: &Share) -> String {
    let Some(error) = error(share) else { return percent(figure) };
    if is_chance(figure, share) {
        return words.text(key::SHARES_ABOUT_0).to_owned();
    }
    let (sign, places) = (if figure < 0.0 { "−" } else { "" }, usize::from(error < 0.0095));
    format!("{sign}{:.places$}\u{202f}±\u{202f}{:.places$}\u{202f}%", figure.abs() * 100.0, error * 100.0)
}

/// The error, where it can be seen.
fn error(share: &Share) -> Option<f64> {
    share.error.filter(|error| *error >= SEEN)
}

fn is_chance(figure: f64, share: &Share) -> bool {
    let errors = if share.total.is_some() { 2.0 } else { 1.0 };
    error(share).is_some_and(|error| figure.abs() <= errors * error)
}

/// What `±` and `about 0` stand for.
fn note<'w>(words: Words<'w>, shown: &[&Share]) -> Option<&'w str> {
    let estimated = shown.iter().find(|share| error(share).is_some())?;
    let figures = |share: &Share| [Some(share.first), share.total].into_iter().flatten();
    let seen = shown.iter().any(|share| figures(share).any(|figure| is_chance(figure, share)));
    Some(words.text(match (estimated.total, seen) {
        (Some(_), false) => key::SHARES_ESTIMATED,
        (Some(_), true) => key::SHARES_ESTIMATED_CHANCE,
        (None, false) => key::SHARES_STRAIGHT,
        (None, true) => key::SHARES_STRAIGHT_CHANCE,
    }))
}

fn bar(share: &Share) -> Markup {
    let width =
        |fraction: f64| format!("{:.1}", if fraction.is_finite() { fraction.clamp(0.0, 1.0) * 100.0 } else { 0.0 });
    html! {
        svg.share-bar viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true" {
            @if let Some(total) = share.total { rect.total x="0" y="3" width=(width(total)) height="2" {} }
            rect.first x="0" y="0.5" width=(width(share.first)) height="7" {}
        }
    }
}

/// A share below this is reported by count alone.
const LEAST: f64 = 0.005;
/// An error below this is less than the last digit.
const SEEN: f64 = 0.0005;

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use super::*;
    use crate::sample::context_of;

    fn share(name: &str, first: f64, total: Option<f64>) -> Share {
        Share { name: name.to_owned(), first, total, error: total.map(|_| 0.0064) }
    }

    fn set(shares: &[Share]) -> String {
        let evaluation = Evaluator::default().evaluate("");
        table(&context_of(&evaluation, ""), shares, Room::Margin, &html! { "x" }).into_string()
    }

    #[test]
    fn small_shares_are_counted_and_not_listed() {
        let html =
            set(&[share("a", 0.82, None), share("b", 0.18, None), share("c", 0.001, None), share("d", 0.0, None)]);
        assert_eq!(html.matches("<svg").count(), 2);
        assert!(html.contains("82\u{202f}%") && html.contains("2 more bring less"), "{html}");
        assert!(!html.contains("with others"));
    }

    #[test]
    fn a_share_within_its_error_of_zero_says_so() {
        let html = set(&[share("a", 0.991, Some(1.0)), share("b", 0.012, Some(0.02))]);
        assert!(html.contains(">about 0<") && html.contains("2.0\u{202f}±\u{202f}0.6\u{202f}%"), "{html}");
        assert!(html.contains("“About 0” is within two standard errors of zero."), "{html}");
    }

    #[test]
    fn a_total_effect_stands_beside_and_odd_shares_stay_in_their_bar() {
        let html = set(&[share("a", 0.4, Some(0.7)), share("b", -0.2, Some(f64::NAN))]);
        assert!(html.contains("with others") && html.contains(r#"width="70.0""#) && html.contains("−20"), "{html}");
        assert!(
            html.contains("70.0\u{202f}±\u{202f}0.6\u{202f}%") && html.contains("is the standard error."),
            "{html}"
        );
        assert!(!html.contains(r#"width="NaN"#) && !html.contains(r#"width="-"#));
    }
}
