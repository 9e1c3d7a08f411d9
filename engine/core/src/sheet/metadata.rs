//! The TOML metadata between `+++` lines at the head of a worksheet.

use std::ops::RangeInclusive;

use toml::de::{DeTable, DeValue};

use super::{LANGUAGE, Metadata};
use crate::{
    problem::{Code, Problem},
    span::{Span, Spanned},
    suggest::nearest,
};

/// The keys that a worksheet may set.
const KEYS: &[&str] =
    &["title", "summary", "author", "date", "samples", "seed", "digits", "language", "constants", "order"];
/// Simulated builds that may be asked for: fewer have no 95 % interval to speak of, more take hours.
pub const SAMPLES: RangeInclusive<u64> = 100..=100_000_000;
const FENCE: &str = "+++";

/// Reads the metadata of a worksheet; gives it with the offset at which the CommonMark begins.
pub(super) fn read(source: &str, problems: &mut Vec<Problem>) -> (Metadata, usize) {
    let mut metadata = Metadata::default();
    let start = source.len() - source.trim_start_matches('\u{feff}').len();
    let mut lines = source[start..].split_inclusive('\n');
    let Some(first) = lines.next().filter(|line| line.trim_end() == FENCE) else { return (metadata, start) };
    let head = start + first.len();
    let mut at = head;
    for line in lines {
        if line.trim_end() == FENCE {
            parse(source, Span::new(head, at), &mut metadata, problems);
            return (metadata, at + line.len());
        }
        at += line.len();
    }
    let span = Span::new(start, start + FENCE.len());
    problems.push(Problem::new(Code::Metadata, span, "the metadata is never closed").help("end it with a line +++"));
    (metadata, head)
}

fn parse(source: &str, span: Span, metadata: &mut Metadata, problems: &mut Vec<Problem>) {
    let text = span.text(source);
    let within = |range: std::ops::Range<usize>| Span::new(span.start + range.start, span.start + range.end);
    let table = match DeTable::parse(text) {
        Ok(table) => table,
        Err(error) => {
            let place = error.span().map_or(span, within);
            problems.push(
                Problem::new(Code::Metadata, place, format!("the metadata is not valid TOML: {}", error.message()))
                    .help("a line reads key = \"text\" or key = number"),
            );
            return;
        }
    };
    for (key, value) in table.get_ref() {
        let place = within(value.span());
        let name = key.get_ref().as_ref();
        let read = match name {
            "title" => text_of(value.get_ref()).map(|text| metadata.title = Some(text)),
            "summary" => text_of(value.get_ref()).map(|text| metadata.summary = Some(text)),
            "author" => text_of(value.get_ref()).map(|text| metadata.author = Some(text)),
            "date" => text_of(value.get_ref()).map(|text| metadata.date = Some(text)),
            "samples" => whole_of(value.get_ref(), *SAMPLES.start() as i64, *SAMPLES.end() as i64)
                .map(|n| metadata.samples = n as u64),
            "seed" => whole_of(value.get_ref(), 0, i64::MAX).map(|n| metadata.seed = n as u64),
            "digits" => whole_of(value.get_ref(), 1, 15).map(|n| metadata.digits = n as u8),
            "language" => whole_of(value.get_ref(), 1, i64::from(u32::MAX)).map(|n| metadata.language = n as u32),
            "order" => whole_of(value.get_ref(), 0, 1_000_000).map(|n| metadata.order = Some(n as u32)),
            "constants" => texts_of(value.get_ref()).map(|texts| {
                let texts = texts.into_iter();
                metadata.constants = texts.map(|(item, range)| Spanned { item, span: within(range) }).collect();
            }),
            _ => {
                let message = format!("the metadata has no key `{name}`");
                let help = match nearest(name, KEYS.iter().copied()) {
                    Some(known) => format!("did you mean `{known}`?"),
                    None => format!("the keys are {}", KEYS.join(", ")),
                };
                problems.push(Problem::new(Code::MetadataKey, within(key.span()), message).help(help));
                continue;
            }
        };
        if let Err(wanted) = read {
            problems.push(Problem::new(Code::Metadata, place, format!("`{name}` takes {wanted}")));
        } else if name == "language" && metadata.language != LANGUAGE {
            let message = format!("the worksheet is in language {}, this engine speaks {LANGUAGE}", metadata.language);
            problems.push(Problem::new(Code::LanguageVersion, place, message).help("use a newer engine"));
        }
    }
}

fn text_of(value: &DeValue<'_>) -> Result<String, String> {
    match value {
        DeValue::String(text) => Ok(text.to_string()),
        DeValue::Datetime(date) => Ok(date.to_string()),
        _ => Err("a text between quotes".to_owned()),
    }
}

/// Texts with their places.
fn texts_of(value: &DeValue<'_>) -> Result<Vec<(String, std::ops::Range<usize>)>, String> {
    let wanted = || "a list of texts: [\"t_on:ms:u32\"]".to_owned();
    let DeValue::Array(items) = value else { return Err(wanted()) };
    let text = |item: &toml::Spanned<DeValue<'_>>| match item.get_ref() {
        DeValue::String(text) => Ok((text.to_string(), item.span())),
        _ => Err(wanted()),
    };
    items.iter().map(text).collect()
}

fn whole_of(value: &DeValue<'_>, least: i64, most: i64) -> Result<i64, String> {
    let number = match value {
        DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix()).ok(),
        _ => None,
    };
    number.filter(|n| (least..=most).contains(n)).ok_or_else(|| format!("a whole number from {least} to {most}"))
}
