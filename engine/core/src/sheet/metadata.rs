//! The TOML metadata between `+++` lines at the head of a worksheet.

use std::ops::RangeInclusive;

use benchleaf_words::{Language, Phrase, phrase};
use toml::de::{DeTable, DeValue};

use super::{LANGUAGE, Metadata};
use crate::{
    problem::{Code, Problem},
    span::{Span, Spanned},
    suggest::nearest,
};

/// A key that a worksheet may set.
#[derive(Debug)]
pub struct MetadataKey {
    /// As written before `=`.
    pub name: &'static str,
    /// What it takes.
    pub takes: Takes,
    /// What it is for, in a sentence.
    pub summary: &'static str,
}

/// What a key takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Takes {
    /// A text; a date without quotes counts as one.
    Text,
    /// A whole number from the first to the second.
    Whole(i64, i64),
    /// The code of a language that pages can be in.
    Language,
    /// A list of texts, such as this one.
    Texts(&'static str),
}

/// Every key, in the order of the guide.
pub const METADATA: &[MetadataKey] = &[
    key("title", Takes::Text, "Title of the page; without it the first heading"),
    key("summary", Takes::Text, "A sentence or two below the title, and for lists of worksheets"),
    key("author", Takes::Text, "Who wrote the worksheet"),
    key("date", Takes::Text, "When it was written, as it is shown"),
    key(
        "samples",
        Takes::Whole(*SAMPLES.start() as i64, *SAMPLES.end() as i64),
        "Builds that are simulated; without it 10,000",
    ),
    key("seed", Takes::Whole(0, i64::MAX), "Seed of the random numbers; without it 1"),
    key("digits", Takes::Whole(1, 15), "Significant digits shown; without it 3"),
    key("lang", Takes::Language, "Language of the page's own words; without it en"),
    key("language", Takes::Whole(1, u32::MAX as i64), "Version of the language that the worksheet is written in"),
    key("constants", Takes::Texts("t_on:ms:u32"), "Values wanted as constants of a program"),
    key("order", Takes::Whole(0, 1_000_000), "Place among the worksheets of the folder, the least first"),
];

const fn key(name: &'static str, takes: Takes, summary: &'static str) -> MetadataKey {
    MetadataKey { name, takes, summary }
}

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
    problems.push(
        Problem::new(Code::Metadata, span, phrase!(SHEET_METADATA_THE_METADATA_IS_NEVER_CLOSED))
            .help(phrase!(SHEET_METADATA_END_IT_WITH_A_LINE)),
    );
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
                Problem::new(
                    Code::Metadata,
                    place,
                    phrase!(SHEET_METADATA_THE_METADATA_IS_NOT_VALID, message = error.message()),
                )
                .help(phrase!(SHEET_METADATA_A_LINE_READS_KEY_TEXT)),
            );
            return;
        }
    };
    for (key, value) in table.get_ref() {
        let place = within(value.span());
        let name = key.get_ref().as_ref();
        let Some(known) = METADATA.iter().find(|known| known.name == name) else {
            let message = phrase!(SHEET_METADATA_THE_METADATA_HAS_NO_KEY, name = name);
            let names = METADATA.iter().map(|known| known.name);
            let help = match nearest(name, names.clone()) {
                Some(known) => phrase!(SHARED_DID_YOU_MEAN, known = known),
                None => phrase!(SHEET_METADATA_THE_KEYS_ARE, names = names.collect::<Vec<_>>().join(", ")),
            };
            problems.push(Problem::new(Code::MetadataKey, within(key.span()), message).help(help));
            continue;
        };
        let read = read_as(known.takes, value.get_ref()).map(|read| match (name, read) {
            ("title", Read::Text(text)) => metadata.title = Some(text),
            ("summary", Read::Text(text)) => metadata.summary = Some(text),
            ("author", Read::Text(text)) => metadata.author = Some(text),
            ("date", Read::Text(text)) => metadata.date = Some(text),
            ("samples", Read::Whole(n)) => metadata.samples = n as u64,
            ("seed", Read::Whole(n)) => metadata.seed = n as u64,
            ("digits", Read::Whole(n)) => metadata.digits = n as u8,
            ("language", Read::Whole(n)) => metadata.language = n as u32,
            ("lang", Read::Language(language)) => metadata.lang = language,
            ("order", Read::Whole(n)) => metadata.order = Some(n as u32),
            ("constants", Read::Texts(texts)) => {
                let texts = texts.into_iter();
                metadata.constants = texts.map(|(item, range)| Spanned { item, span: within(range) }).collect();
            }
            _ => {}
        });
        if let Err(wanted) = read {
            problems.push(Problem::new(
                Code::Metadata,
                place,
                phrase!(SHEET_METADATA_TAKES, name = name, wanted = wanted),
            ));
        } else if name == "language" && metadata.language != LANGUAGE {
            let message =
                phrase!(SHEET_METADATA_THE_WORKSHEET_IS_IN_LANGUAGE, written = metadata.language, spoken = LANGUAGE);
            problems.push(
                Problem::new(Code::LanguageVersion, place, message).help(phrase!(SHEET_METADATA_USE_A_NEWER_ENGINE)),
            );
        }
    }
}

/// A value as its key takes it.
enum Read {
    Text(String),
    Whole(i64),
    Language(Language),
    Texts(Vec<(String, std::ops::Range<usize>)>),
}

fn read_as(takes: Takes, value: &DeValue<'_>) -> Result<Read, Phrase> {
    match takes {
        Takes::Text => text_of(value).map(Read::Text),
        Takes::Whole(least, most) => whole_of(value, least, most).map(Read::Whole),
        Takes::Language => language_of(value).map(Read::Language),
        Takes::Texts(example) => texts_of(value, example).map(Read::Texts),
    }
}

fn text_of(value: &DeValue<'_>) -> Result<String, Phrase> {
    match value {
        DeValue::String(text) => Ok(text.to_string()),
        DeValue::Datetime(date) => Ok(date.to_string()),
        _ => Err(phrase!(SHARED_A_TEXT_BETWEEN_QUOTES)),
    }
}

fn language_of(value: &DeValue<'_>) -> Result<Language, Phrase> {
    let found = match value {
        DeValue::String(code) => Language::find(code),
        _ => None,
    };
    found.ok_or_else(|| {
        let known: Vec<String> =
            Language::all().map(|language| format!("\"{}\" ({})", language.code(), language.name())).collect();
        phrase!(SHEET_METADATA_ONE_OF, known = known.join(", "))
    })
}

/// Texts with their places.
fn texts_of(value: &DeValue<'_>, example: &str) -> Result<Vec<(String, std::ops::Range<usize>)>, Phrase> {
    let wanted = || phrase!(SHEET_METADATA_A_LIST_OF_TEXTS, example = example);
    let DeValue::Array(items) = value else { return Err(wanted()) };
    let text = |item: &toml::Spanned<DeValue<'_>>| match item.get_ref() {
        DeValue::String(text) => Ok((text.to_string(), item.span())),
        _ => Err(wanted()),
    };
    items.iter().map(text).collect()
}

fn whole_of(value: &DeValue<'_>, least: i64, most: i64) -> Result<i64, Phrase> {
    let number = match value {
        DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix()).ok(),
        _ => None,
    };
    number
        .filter(|n| (least..=most).contains(n))
        .ok_or_else(|| phrase!(SHEET_METADATA_A_WHOLE_NUMBER_FROM_TO, least = least, most = most))
}
