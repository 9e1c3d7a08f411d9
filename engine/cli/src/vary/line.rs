//! One line of changes and the line that answers it.

use std::{borrow::Cow, fmt};

use benchleaf_core::{
    problem::{Code, Problem},
    results::Status,
    span::Span,
    study::{Doubt, Points, StudiedKeep, Study, StudyChange, To},
};
use serde::{
    Deserialize, Deserializer, Serialize, Serializer,
    de::{self, MapAccess, Visitor},
};

use super::input::LONGEST;

/// What is given of each value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Figures {
    Nominal,
    Ranges,
}

/// Whether all lines could be worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Answered {
    All,
    NotAll,
}

/// The answers to some lines.
pub(super) struct Answers {
    pub(super) text: String,
    pub(super) all: Answered,
}

/// Answers lines, on one thread.
pub(super) struct Answerer<'s> {
    study: &'s Study,
    points: Points<'s>,
    figures: Figures,
}

impl<'s> Answerer<'s> {
    pub(super) fn new(study: &'s Study, figures: Figures) -> Self {
        Self { study, points: study.points(), figures }
    }

    pub(super) fn answers(&mut self, lines: &[&[u8]]) -> Answers {
        let mut answers = Answers { text: String::new(), all: Answered::All };
        for line in lines {
            let written = self.answer(line).unwrap_or_else(|problem| {
                answers.all = Answered::NotAll;
                written(&Refused { error: Error::of(&problem) })
            });
            answers.text.push_str(&written);
            answers.text.push('\n');
        }
        answers
    }

    fn answer(&mut self, line: &[u8]) -> Result<String, Problem> {
        let changes = self.changes(line)?;
        let ranged = match self.figures {
            Figures::Nominal => None,
            Figures::Ranges => Some(self.study.ranged(&changes)),
        };
        let point = self.points.nominal(&changes);
        let names = self.study.values().iter().map(|value| value.name.as_str());
        let keeps = self.study.keeps().iter().zip(point.broken).enumerate();
        let keep = |(at, (keep, broken)): (usize, (&StudiedKeep, &bool))| Kept {
            line: keep.line,
            at_nominal: if *broken { Status::Broken } else { Status::Holds }.word(),
            status: ranged.as_ref().and_then(|ranged| ranged.status.get(at)).map(|status| status.word()),
        };
        let doubt = |doubt: &Doubt| Doubtful { line: doubt.line, code: doubt.code.text() };
        Ok(written(&Answer {
            values: Named(names.clone().zip(point.values.iter().copied()).collect()),
            worst: ranged.as_ref().map(|ranged| Named(names.zip(ranged.worst.iter().copied()).collect())),
            keeps: keeps.map(keep).collect(),
            doubts: point.doubts.iter().map(doubt).collect(),
        }))
    }

    fn changes(&self, line: &[u8]) -> Result<Vec<StudyChange>, Problem> {
        let refused = |message: String| Problem::new(Code::Syntax, Span::default(), message);
        if line.len() > LONGEST {
            return Err(refused(format!("the line is longer than {} MiB", LONGEST >> 20)));
        }
        let line: Line<'_> = serde_json::from_slice(line)
            .map_err(|fault| refused(format!("this is no JSON object of givens and their new values: {fault}")))?;
        let mut changes: Vec<StudyChange> = Vec::with_capacity(line.0.len());
        for (name, wanted) in &line.0 {
            let to = match wanted {
                Wanted::Si(si) => To::Si(*si),
                Wanted::Text(text) => To::Text(text),
            };
            let change = self.study.change(name, to)?;
            if changes.iter().any(|other| other.is_of_same(&change)) {
                return Err(refused(format!("`{name}` stands twice")));
            }
            changes.push(change);
        }
        Ok(changes)
    }
}

fn written(answer: &impl Serialize) -> String {
    // Nothing of an answer cannot be written as JSON.
    serde_json::to_string(answer).unwrap_or_else(|_| "null".to_owned())
}

#[derive(Serialize)]
struct Answer<'n> {
    values: Named<'n, f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    worst: Option<Named<'n, Option<(f64, f64)>>>,
    keeps: Vec<Kept>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    doubts: Vec<Doubtful>,
}

#[derive(Serialize)]
struct Kept {
    line: usize,
    at_nominal: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    status: Option<&'static str>,
}

#[derive(Serialize)]
struct Doubtful {
    line: usize,
    code: &'static str,
}

#[derive(Serialize)]
struct Refused {
    error: Error,
}

#[derive(Serialize)]
struct Error {
    code: &'static str,
    message: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    help: Option<String>,
}

impl Error {
    fn of(problem: &Problem) -> Self {
        Self {
            code: problem.code.text(),
            message: problem.message.english(),
            help: problem.help.as_ref().map(benchleaf_words::Phrase::english),
        }
    }
}

/// Names, and what belongs to each, as an object.
struct Named<'n, T>(Vec<(&'n str, T)>);

impl<T: Serialize> Serialize for Named<'_, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, figure)| (name, figure)))
    }
}

/// Names of givens and their new values, in order.
struct Line<'l>(Vec<(Cow<'l, str>, Wanted<'l>)>);

enum Wanted<'l> {
    Si(f64),
    Text(Cow<'l, str>),
}

impl<'de: 'l, 'l> Deserialize<'de> for Line<'l> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Changes;

        impl<'de> Visitor<'de> for Changes {
            type Value = Vec<(Cow<'de, str>, Wanted<'de>)>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut object: A) -> Result<Self::Value, A::Error> {
                let mut changes = Vec::new();
                while let Some((Text(name), wanted)) = object.next_entry()? {
                    changes.push((name, wanted));
                }
                Ok(changes)
            }
        }

        deserializer.deserialize_map(Changes).map(Line)
    }
}

/// A text, borrowed from the line where nothing in it is escaped.
struct Text<'l>(Cow<'l, str>);

impl<'de: 'l, 'l> Deserialize<'de> for Text<'l> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match deserializer.deserialize_str(NewValue)? {
            Wanted::Text(text) => Ok(Text(text)),
            Wanted::Si(_) => Err(de::Error::custom("a name is a text")),
        }
    }
}

impl<'de: 'l, 'l> Deserialize<'de> for Wanted<'l> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(NewValue)
    }
}

struct NewValue;

impl<'de> Visitor<'de> for NewValue {
    type Value = Wanted<'de>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a number in SI units, or a text such as \"910 kΩ\"")
    }

    fn visit_f64<E: de::Error>(self, si: f64) -> Result<Self::Value, E> {
        Ok(Wanted::Si(si))
    }

    fn visit_i64<E: de::Error>(self, si: i64) -> Result<Self::Value, E> {
        Ok(Wanted::Si(si as f64))
    }

    fn visit_u64<E: de::Error>(self, si: u64) -> Result<Self::Value, E> {
        Ok(Wanted::Si(si as f64))
    }

    fn visit_borrowed_str<E: de::Error>(self, text: &'de str) -> Result<Self::Value, E> {
        Ok(Wanted::Text(Cow::Borrowed(text)))
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Self::Value, E> {
        Ok(Wanted::Text(Cow::Owned(text.to_owned())))
    }
}
