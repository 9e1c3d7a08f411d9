//! Where a variance comes from, given by given: a table with a bar in each row, which is a drawing to the eye and numbers
//! to every other reader. The thick bar is what a given brings alone; a thin one reaches on to what it brings together
//! with others.

use benchleaf_core::results::Share;
use maud::{Markup, html};

use crate::{context::PageContext, format::percent, mathml, results::apostrophes};

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
    let with_total = shares.iter().any(|share| share.total.is_some());
    let counts = |share: &&Share| share.first.abs().max(share.total.unwrap_or(0.0)) >= LEAST;
    let shown: Vec<&Share> = shares.iter().filter(counts).collect();
    html! {
        table.shares {
            caption { (caption) }
            thead class=[(!with_total).then_some("unseen")] { tr {
                th scope="col" { span.unseen { "Given" } }
                th scope="col" { span.unseen { "Bar" } }
                th.right scope="col" { @if with_total { "alone" } @else { "Share" } }
                @if with_total { th.right scope="col" { "with others" } }
            } }
            tbody {
                @for share in &shown {
                    tr {
                        th scope="row" {
                            @if room == Room::Column {
                                @if let Some(label) = context.label(&share.name) { (apostrophes(first_part(label))) ", " }
                            }
                            (mathml::symbol(&share.name))
                        }
                        td.bar { (bar(share)) }
                        td.right { (percent(share.first)) }
                        @if with_total { td.right { @if let Some(total) = share.total { (percent(total)) } } }
                    }
                }
            }
        }
        @if shown.len() < shares.len() { p.rest { (rest(shares.len() - shown.len())) } }
    }
}

/// What something is called, without how it was come by.
pub(crate) fn first_part(label: &str) -> &str {
    label.split([',', ';', ':']).next().unwrap_or(label)
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

fn rest(others: usize) -> String {
    match others {
        1 => "One more brings less than half a per cent.".to_owned(),
        n => format!("{n} more bring less than half a per cent each."),
    }
}

/// A share below this is told by count alone.
const LEAST: f64 = 0.005;

#[cfg(test)]
mod tests {
    use benchleaf_core::{Options, evaluate};

    use super::*;
    use crate::sample::context_of;

    fn share(name: &str, first: f64, total: Option<f64>) -> Share {
        Share { name: name.to_owned(), first, total }
    }

    fn set(shares: &[Share]) -> String {
        let evaluation = evaluate("", &Options::default());
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
    fn a_total_effect_stands_beside_and_odd_shares_stay_in_their_bar() {
        let html = set(&[share("a", 0.4, Some(0.7)), share("b", -0.2, Some(f64::NAN))]);
        assert!(html.contains("with others") && html.contains(r#"width="70.0""#) && html.contains("−20"), "{html}");
        assert!(!html.contains(r#"width="NaN"#) && !html.contains(r#"width="-"#));
    }
}
