//! From a request to an answer: the reader's changes go into the worksheet, it is evaluated and set, and the page gets
//! what it shows. The order of an answer's texts stands in [`answer`], and once more in the page's script.

use std::fmt::Write;

use benchleaf_core::{
    change::{Given, Refusal, change, givens},
    evaluate,
    results::{Evaluation, Role, Spread, WorstCase},
    units::parse,
};
use benchleaf_page::render;
use sha2::{Digest, Sha256};

use crate::message::{Answer, Request};

/// The answer to a request: the changed worksheet, its hash, the page's title, how many requirements hold, are at risk
/// and are broken, the givens, what was refused, the head, and the pieces of the body.
pub fn answer(request: &[u8]) -> Vec<u8> {
    let request = Request::read(request);
    let changed = change(&request.source, &request.changes);
    let evaluation = evaluate(&changed.source, &request.options);
    let page = render(&evaluation, &changed.source, &request.page);
    let tally = page.tally;
    let mut answer = Answer::new();
    answer.say(&changed.source);
    answer.say(&hexadecimal(&Sha256::digest(&changed.source)));
    answer.say(&page.title);
    answer.say(&format!("{}\t{}\t{}\t{}", tally.holds, tally.at_risk, tally.broken, tally.errors));
    answer.say(&fields(&evaluation, &changed.source));
    answer.say(&refusals(&changed.refused));
    answer.say(&page.head);
    for piece in &page.pieces {
        answer.say(piece);
    }
    answer.finish()
}

/// Every number of a request's worksheet as the bits of its double, one value or requirement a line.
pub fn exact(request: &[u8]) -> Vec<u8> {
    let request = Request::read(request);
    let evaluation = evaluate(&change(&request.source, &request.changes).source, &request.options);
    let mut text = String::new();
    for value in &evaluation.values {
        text.push_str(&value.name);
        bits(&mut text, [value.nominal]);
        bits(&mut text, value.worst.as_ref().map(ends).into_iter().flatten());
        bits(&mut text, value.spread.as_ref().map(spread).into_iter().flatten());
        for share in &value.shares {
            let _ = write!(text, " {}", share.name);
            bits(&mut text, [share.first]);
            bits(&mut text, share.total);
        }
        text.push('\n');
    }
    for keep in &evaluation.keeps {
        text.push_str(keep.status.word());
        bits(&mut text, [keep.nominal]);
        bits(&mut text, keep.worst.as_ref().map(ends).into_iter().flatten());
        bits(&mut text, keep.margin.into_iter().chain(keep.margin_worst));
        bits(&mut text, keep.fails.map(|fails| fails.share));
        text.push('\n');
    }
    for point in evaluation.plots.iter().flat_map(|plot| &plot.curves).flat_map(|curve| &curve.points) {
        bits(&mut text, [point.x, point.y, point.low, point.high]);
        text.push('\n');
    }
    let mut answer = Answer::new();
    answer.say(&text);
    answer.finish()
}

/// The givens, one a line: name, what stands in its field, number and unit of that, and the ends that its author wrote
/// in the same unit, and its SI value; between tabs, empty where there is none.
fn fields(evaluation: &Evaluation, source: &str) -> String {
    let mut text = String::new();
    for given in givens(&evaluation.sheet, source) {
        let Some(value) = evaluation.value(given.name).filter(|value| value.role == Role::Given) else { continue };
        let unit = given.quantity.unit.as_ref().map_or("", |unit| unit.item.as_str());
        let number = if given.negative { -given.quantity.number } else { given.quantity.number };
        let written = given.written(source).map_or_else(|| value.shown(), str::to_owned);
        let _ = write!(text, "{}\t{}\t{number}\t{}", given.name, one_line(&written), one_line(unit));
        let (low, high) = bounds(&given).unwrap_or_default();
        for end in [low, high] {
            text.push('\t');
            if let Some(end) = end {
                let _ = write!(text, "{end}");
            }
        }
        let _ = writeln!(text, "\t{}", value.nominal);
    }
    text
}

/// The ends that an author wrote, in the unit of the given's number.
fn bounds(given: &Given<'_>) -> Option<(Option<f64>, Option<f64>)> {
    let unit_of = |quantity: &benchleaf_core::lang::ast::Quantity| quantity.unit.as_ref().and_then(|unit| parse(&unit.item));
    let own = unit_of(given.quantity);
    let (low, high) = given.ends()?;
    let in_own = |end: Option<&benchleaf_core::lang::ast::Quantity>| {
        let end = end?;
        Some(match (&own, unit_of(end)) {
            (Some(own), Some(unit)) if *own != unit => own.of_si(unit.to_si(end.number)),
            _ => end.number,
        })
    };
    Some((in_own(low), in_own(high)))
}

/// What was refused, one a line: name, what was typed, why, and a way out.
fn refusals(refused: &[Refusal]) -> String {
    let mut text = String::new();
    for Refusal { change, problem } in refused {
        let help = problem.help.as_deref().unwrap_or("");
        let parts = [&change.name, &change.text, &problem.message, help].map(one_line);
        let _ = writeln!(text, "{}", parts.join("\t"));
    }
    text
}

fn one_line(text: &str) -> String {
    text.replace(['\t', '\n', '\r'], " ")
}

fn ends(worst: &WorstCase) -> [f64; 2] {
    [worst.low, worst.high]
}

fn spread(spread: &Spread) -> [f64; 4] {
    let (low, high) = spread.interval.ends();
    [spread.mean, spread.std, low, high]
}

fn bits(text: &mut String, numbers: impl IntoIterator<Item = f64>) {
    for number in numbers {
        // Which of the many not-a-numbers it is says nothing.
        let number = if number.is_nan() { f64::NAN } else { number };
        let _ = write!(text, " {:016x}", number.to_bits());
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(bytes: &[u8]) -> Vec<String> {
        let mut rest = &bytes[4..];
        let mut texts = Vec::new();
        while let Some((length, behind)) = rest.split_first_chunk::<4>() {
            let (text, behind) = behind.split_at(u32::from_le_bytes(*length) as usize);
            texts.push(String::from_utf8(text.to_vec()).unwrap());
            rest = behind;
        }
        texts
    }

    fn ask(texts: &[&str]) -> Vec<u8> {
        let mut request = Answer::new();
        texts.iter().for_each(|text| request.say(text));
        request.finish()[4..].to_vec()
    }

    const SHEET: &str = "# {a:2} is a\n\n```calc\na = 2 V ± 5 %\nb = min 1 mA typ 2 mA max 0.003 A\nc = -5\nkeep a below 5 V\n```\n\nText {a}.\n";

    #[test]
    fn an_answer_tells_what_the_page_shows() {
        let request = ask(&[SHEET, "100", "", "", "a", "3", "a", "4 V"]);
        let said = texts(&answer(&request));
        assert_eq!(said[0], SHEET.replace("a = 2 V", "a = 4 V"));
        assert_eq!(said[2], "4.0\u{202f}V is a");
        assert_eq!(said[3], "1\t0\t0\t0");
        assert_eq!(said[4], "a\t4 V\t4\tV\t\t\t4\nb\t2 mA\t2\tmA\t1\t3\t0.002\nc\t-5\t-5\t\t\t\t-5\n");
        assert!(said[5].starts_with("a\t3\tthe unit is missing") && said[5].matches('\n').count() == 1, "{}", said[5]);
        assert!(said[7..].concat().contains("Text <data"), "{said:?}");
        let before = texts(&answer(&ask(&[SHEET, "100", "", ""])));
        assert_eq!(before.len(), said.len(), "the pieces are as many whatever the values are");
        assert_ne!(exact(&request), exact(&ask(&[SHEET, "100", "", ""])));
    }

    #[test]
    fn no_request_is_too_odd_to_answer() {
        for request in [&[][..], &[255; 9], &ask(&["```calc\nx = 1\n", "x", "-1", "9e9", "x"])] {
            assert!(answer(request).len() > 4);
            assert!(exact(request).len() >= 8);
        }
    }
}
