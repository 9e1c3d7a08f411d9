//! What a class made of each exercise: how many tried it, how many had it right, what commonly went wrong, and how the
//! points spread. A learner has of each exercise the points of the best answer, none where there is no answer; the class
//! is everyone with an answer that was marked.

use std::collections::{BTreeMap, HashMap};

use benchleaf_core::exercise::{Feedback, learner_key};
use benchleaf_words::{Words, count, key, say};
use serde::Serialize;

use super::spread::Spread;

/// The counts of a class.
pub(super) struct Statistics {
    title: String,
    /// The words of its page.
    words: Words<'static>,
    exercises: Vec<Exercise>,
    places: HashMap<String, usize>,
    /// Where each learner stands in `learners`.
    learners: HashMap<String, usize>,
    class: Vec<Learner>,
}

/// Somebody with an answer that was marked.
pub(super) struct Learner {
    /// The name as it was first typed.
    pub(super) name: String,
    /// Points of each exercise, in the worksheet's order.
    pub(super) points: Vec<f64>,
}

impl Learner {
    /// All points.
    pub(super) fn total(&self) -> f64 {
        self.points.iter().sum()
    }
}

struct Exercise {
    name: String,
    points: f64,
    answers: usize,
    /// Whether each learner had it right at last, by place in the class.
    learners: HashMap<usize, bool>,
    right: usize,
    /// What went wrong, and how often.
    wrong: BTreeMap<String, usize>,
}

/// The counts as the page shows them.
#[derive(Serialize)]
pub(super) struct Summary<'a> {
    title: &'a str,
    rows: Vec<Line<'a>>,
    /// How many learners the class has, and how points are counted.
    class: String,
    /// The points of each exercise, then of all; empty where nothing was marked.
    spreads: Vec<SpreadLine<'a>>,
    /// How many rows were not marked, as a sentence; none where all were.
    refused: Option<String>,
}

#[derive(Serialize)]
struct SpreadLine<'a> {
    /// None for the total.
    name: Option<&'a str>,
    points: String,
    #[serde(flatten)]
    spread: Spread,
}

#[derive(Serialize)]
struct Line<'a> {
    name: &'a str,
    points: String,
    answers: usize,
    learners: usize,
    solved: usize,
    /// Per cent of the learners.
    share: Option<usize>,
    /// The commonest first.
    slips: Vec<Slip<'a>>,
    /// How many other things went wrong, and were not named.
    others: usize,
}

#[derive(Serialize)]
struct Slip<'a> {
    what: &'a str,
    count: usize,
}

impl Statistics {
    pub(super) fn new<'e>(
        title: String,
        words: Words<'static>,
        exercises: impl Iterator<Item = (&'e str, f64)>,
    ) -> Self {
        let exercise = |(name, points): (&str, f64)| Exercise {
            name: name.to_owned(),
            points,
            answers: 0,
            learners: HashMap::new(),
            right: 0,
            wrong: BTreeMap::new(),
        };
        let exercises: Vec<Exercise> = exercises.map(exercise).collect();
        let places = exercises.iter().enumerate().map(|(place, exercise)| (exercise.name.clone(), place)).collect();
        Self { title, words, exercises, places, learners: HashMap::new(), class: Vec::new() }
    }

    /// Counts an answer.
    pub(super) fn add(&mut self, learner: &str, exercise: &str, feedback: &Feedback) {
        let place = self.places.get(exercise).copied().unwrap_or(usize::MAX);
        let count = self.exercises.len();
        let Some(exercise) = self.exercises.get_mut(place) else { return };
        let at = *self.learners.entry(learner_key(learner)).or_insert_with(|| {
            self.class.push(Learner { name: learner.to_owned(), points: vec![0.0; count] });
            self.class.len() - 1
        });
        if let Some(points) = self.class.get_mut(at).and_then(|learner| learner.points.get_mut(place)) {
            *points = points.max(feedback.points());
        }
        exercise.answers += 1;
        exercise.right += usize::from(feedback.is_right());
        *exercise.learners.entry(at).or_default() |= feedback.is_right();
        if let Some(what) = went_wrong(self.words, feedback) {
            *exercise.wrong.entry(what).or_default() += 1;
        }
    }

    /// How many exercises there are.
    pub(super) fn exercises(&self) -> usize {
        self.exercises.len()
    }

    /// The names of the exercises, in the worksheet's order.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.exercises.iter().map(|exercise| exercise.name.as_str())
    }

    /// Everyone with an answer that was marked, in the order of the table.
    pub(super) fn class(&self) -> &[Learner] {
        &self.class
    }

    /// The points of all exercises.
    pub(super) fn most(&self) -> f64 {
        self.exercises.iter().map(|exercise| exercise.points).sum()
    }

    /// `12 learners: mean 4.2 of 6 points, standard deviation 1.1, quartiles 3, 4 and 5`.
    pub(super) fn spread_in_words(&self, words: Words<'_>) -> String {
        let class = count!(words, MARK_LEARNERS, self.class.len(), n = self.class.len());
        match Spread::of(self.class.iter().map(Learner::total)) {
            Some(spread) => format!("{class}: {}", spread.in_words(words, self.most())),
            None => class,
        }
    }

    /// `120 answers marked, 97 right; 2 rows not marked`.
    pub(super) fn in_words(&self, words: Words<'_>, refused: usize) -> String {
        let answers: usize = self.exercises.iter().map(|exercise| exercise.answers).sum();
        let right: usize = self.exercises.iter().map(|exercise| exercise.right).sum();
        let marked = count!(words, MARK_ANSWERS, answers, n = answers, right = right);
        if refused == 0 { marked } else { count!(words, MARK_ROWS, refused, answers = marked, n = refused) }
    }

    pub(super) fn summary(&self, refused: usize) -> Summary<'_> {
        let each = self.exercises.iter().enumerate().filter_map(|(at, exercise)| {
            let (name, points) = (Some(exercise.name.as_str()), exercise.points.to_string());
            let spread = Spread::of(self.class.iter().filter_map(|learner| learner.points.get(at).copied()))?;
            Some(SpreadLine { name, points, spread })
        });
        let total = Spread::of(self.class.iter().map(Learner::total));
        let total = total.map(|spread| SpreadLine { name: None, points: self.most().to_string(), spread });
        Summary {
            title: &self.title,
            rows: self.exercises.iter().map(Exercise::line).collect(),
            class: count!(self.words, MARKS_CLASS, self.class.len(), n = self.class.len()),
            spreads: each.chain(total).collect(),
            refused: (refused > 0).then(|| count!(self.words, MARKS_REFUSED, refused, n = refused)),
        }
    }
}

impl Exercise {
    fn line(&self) -> Line<'_> {
        let (learners, solved) = (self.learners.len(), self.learners.values().filter(|right| **right).count());
        let mut slips: Vec<Slip<'_>> = self.wrong.iter().map(|(what, count)| Slip { what, count: *count }).collect();
        // Those of one count stand in the order of their names.
        slips.sort_by_key(|slip| std::cmp::Reverse(slip.count));
        let others = slips.split_off(slips.len().min(NAMED)).iter().map(|slip| slip.count).sum();
        Line {
            name: &self.name,
            points: self.points.to_string(),
            answers: self.answers,
            learners,
            solved,
            share: (100 * solved).checked_div(learners),
            slips,
            others,
        }
    }
}

/// What went wrong, so that the same counts as the same.
fn went_wrong(words: Words<'_>, feedback: &Feedback) -> Option<String> {
    let text = |word| Some(words.text(word).to_owned());
    match feedback {
        Feedback::Right { .. } => None,
        Feedback::Slip { name } => Some(name.clone()),
        Feedback::Prefix { power } => {
            let times = Feedback::factor(*power);
            Some(match *power > 0 {
                true => say!(words, SLIP_TOO_LARGE, times = times),
                false => say!(words, SLIP_TOO_SMALL, times = times),
            })
        }
        Feedback::Dimension { found, .. } | Feedback::Kind { found, .. } => {
            Some(say!(words, SLIP_OTHER_QUANTITY, found = found.say(words)))
        }
        Feedback::NoUnit { .. } => text(key::SLIP_NO_UNIT),
        Feedback::DecimalComma { .. } => text(key::SLIP_COMMA),
        Feedback::Unreadable { .. } => text(key::SLIP_UNREADABLE),
        Feedback::Sign => text(key::SLIP_SIGN),
        Feedback::Close { .. } => text(key::SLIP_CLOSE),
        Feedback::Wrong => text(key::SLIP_NUMBER),
    }
}

/// Slips of an exercise that are named; the others are only counted.
const NAMED: usize = 5;
