//! Marking many answers: each exercise is worked out once for each set of numbers, and each answer to it is marked once,
//! however often it comes.

use std::{collections::HashMap, rc::Rc};

use benchleaf_core::{
    exercise::{Expected, Feedback, Marker, Variant, learner_key},
    sheet::Worksheet,
};
use benchleaf_words::{Phrase, Words, phrase};

/// A worksheet's exercises with what has been marked so far.
pub(super) struct Marking {
    marker: Marker,
    /// What learners read is in the worksheet's language.
    words: Words<'static>,
    /// By exercise, and by learner where it varies.
    set: HashMap<(String, String), Result<usize, Phrase>>,
    numbers: HashMap<Variant, usize>,
    variants: Vec<Worked>,
}

/// An exercise with one set of numbers, and the answers to it.
struct Worked {
    expected: Expected,
    answers: HashMap<String, Rc<MarkedAnswer>>,
}

/// What was found on an answer.
pub(super) struct MarkedAnswer {
    pub(super) feedback: Feedback,
    pub(super) message: String,
    pub(super) points: String,
}

impl Marking {
    pub(super) fn new(worksheet: &Worksheet) -> Self {
        let words = worksheet.metadata.lang.words();
        Self {
            marker: Marker::new(worksheet),
            words,
            set: HashMap::new(),
            numbers: HashMap::new(),
            variants: Vec::new(),
        }
    }

    /// Whether there is nothing to mark.
    pub(super) fn is_empty(&self) -> bool {
        self.marker.exercises().next().is_none()
    }

    /// The exercises with their points.
    pub(super) fn exercises(&self) -> impl Iterator<Item = (&str, f64)> {
        self.marker.exercises()
    }

    /// What is found on an answer; or why it cannot be marked.
    pub(super) fn mark(&mut self, learner: &str, exercise: &str, answer: &str) -> Result<Rc<MarkedAnswer>, Phrase> {
        let place = self.place(learner, exercise)?;
        let Some(worked) = self.variants.get_mut(place) else { return Err(phrase!(MARK_NOT_SET)) };
        if let Some(finding) = worked.answers.get(answer) {
            return Ok(Rc::clone(finding));
        }
        let feedback = worked.expected.assess(answer);
        let (message, points) = (feedback.phrase().say(self.words), feedback.points().to_string());
        let finding = Rc::new(MarkedAnswer { feedback, message, points });
        worked.answers.insert(answer.to_owned(), Rc::clone(&finding));
        Ok(finding)
    }

    /// The exercise with the learner's numbers, worked out where it was not yet.
    fn place(&mut self, learner: &str, exercise: &str) -> Result<usize, Phrase> {
        if exercise.is_empty() {
            return Err(phrase!(MARK_NO_EXERCISE));
        }
        let varies = self.marker.varies(exercise);
        let key = if varies { learner_key(learner) } else { String::new() };
        if varies && key.is_empty() {
            return Err(phrase!(MARK_NO_LEARNER, exercise = exercise));
        }
        let key = (exercise.to_owned(), key);
        if let Some(known) = self.set.get(&key) {
            return known.clone();
        }
        let found = self.worked(exercise, varies.then_some(learner));
        self.set.insert(key, found.clone());
        found
    }

    fn worked(&mut self, exercise: &str, learner: Option<&str>) -> Result<usize, Phrase> {
        let variant = self.marker.variant(exercise, learner).map_err(|refused| refused.phrase())?;
        if let Some(place) = self.numbers.get(&variant) {
            return Ok(*place);
        }
        let expected = self.marker.expected(&variant).map_err(|refused| refused.phrase())?;
        self.variants.push(Worked { expected, answers: HashMap::new() });
        self.numbers.insert(variant, self.variants.len() - 1);
        Ok(self.variants.len() - 1)
    }
}
