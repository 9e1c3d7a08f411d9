//! What a class made of each exercise: how many tried it, how many had it right, and what commonly went wrong.

use std::collections::{BTreeMap, HashMap};

use benchleaf_core::{
    exercise::{Feedback, learner_key},
    summary::counted,
};
use serde::Serialize;

/// The counts of a class.
pub(super) struct Statistics {
    title: String,
    exercises: Vec<Exercise>,
    places: HashMap<String, usize>,
}

struct Exercise {
    name: String,
    points: f64,
    answers: usize,
    /// Whether each learner had it right at last.
    learners: HashMap<String, bool>,
    right: usize,
    /// What went wrong, and how often.
    wrong: BTreeMap<String, usize>,
}

/// The counts as the page tells them.
#[derive(Serialize)]
pub(super) struct Summary<'a> {
    title: &'a str,
    rows: Vec<Line<'a>>,
    /// Rows that were not marked.
    refused: usize,
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
    pub(super) fn new<'e>(title: String, exercises: impl Iterator<Item = (&'e str, f64)>) -> Self {
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
        Self { title, exercises, places }
    }

    /// Counts an answer.
    pub(super) fn add(&mut self, learner: &str, exercise: &str, feedback: &Feedback) {
        let place = self.places.get(exercise).copied().unwrap_or(usize::MAX);
        let Some(exercise) = self.exercises.get_mut(place) else { return };
        exercise.answers += 1;
        exercise.right += usize::from(feedback.is_right());
        *exercise.learners.entry(learner_key(learner)).or_default() |= feedback.is_right();
        if let Some(what) = went_wrong(feedback) {
            *exercise.wrong.entry(what).or_default() += 1;
        }
    }

    /// How many exercises there are.
    pub(super) fn exercises(&self) -> usize {
        self.exercises.len()
    }

    /// `120 answers marked, 97 right; 2 rows not marked`.
    pub(super) fn in_words(&self, refused: usize) -> String {
        let answers = self.exercises.iter().map(|exercise| exercise.answers).sum();
        let right: usize = self.exercises.iter().map(|exercise| exercise.right).sum();
        let marked = format!("{} marked, {right} right", counted(answers, "answer"));
        if refused == 0 { marked } else { format!("{marked}; {} not marked", counted(refused, "row")) }
    }

    pub(super) fn summary(&self, refused: usize) -> Summary<'_> {
        Summary { title: &self.title, rows: self.exercises.iter().map(Exercise::line).collect(), refused }
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
fn went_wrong(feedback: &Feedback) -> Option<String> {
    Some(match feedback {
        Feedback::Right { .. } => return None,
        Feedback::Slip { name } => name.clone(),
        Feedback::Prefix { power } => {
            let size = if *power > 0 { "large" } else { "small" };
            format!("the digits right, {} times too {size}", Feedback::factor(*power))
        }
        Feedback::Dimension { found, .. } | Feedback::Kind { found, .. } => format!("answered with {found}"),
        Feedback::NoUnit { .. } => "no unit".to_owned(),
        Feedback::DecimalComma { .. } => "a decimal comma".to_owned(),
        Feedback::Unreadable { .. } => "not readable".to_owned(),
        Feedback::Sign => "the wrong sign".to_owned(),
        Feedback::Close { .. } => "close, but outside the tolerance".to_owned(),
        Feedback::Wrong => "another number".to_owned(),
    })
}

/// Slips of an exercise that are named; the others are only counted.
const NAMED: usize = 5;
