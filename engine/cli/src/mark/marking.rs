//! Marking many answers: each exercise is worked out once for each set of numbers, and each answer to it is marked once,
//! however often it comes.

use std::{collections::HashMap, rc::Rc};

use benchleaf_core::{
    exercise::{Expected, Feedback, Marker, Variant, learner_key},
    sheet::Worksheet,
};

/// A worksheet's exercises with what has been marked so far.
pub(super) struct Marking {
    marker: Marker,
    /// By exercise, and by learner where it varies.
    set: HashMap<(String, String), Result<usize, String>>,
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
        Self { marker: Marker::new(worksheet), set: HashMap::new(), numbers: HashMap::new(), variants: Vec::new() }
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
    pub(super) fn mark(&mut self, learner: &str, exercise: &str, answer: &str) -> Result<Rc<MarkedAnswer>, String> {
        let place = self.place(learner, exercise)?;
        let Some(worked) = self.variants.get_mut(place) else { return Err("it was not set".to_owned()) };
        if let Some(finding) = worked.answers.get(answer) {
            return Ok(Rc::clone(finding));
        }
        let feedback = worked.expected.assess(answer);
        let (message, points) = (feedback.message(), feedback.points().to_string());
        let finding = Rc::new(MarkedAnswer { feedback, message, points });
        worked.answers.insert(answer.to_owned(), Rc::clone(&finding));
        Ok(finding)
    }

    /// The exercise with the learner's numbers, worked out where it was not yet.
    fn place(&mut self, learner: &str, exercise: &str) -> Result<usize, String> {
        if exercise.is_empty() {
            return Err("it names no exercise".to_owned());
        }
        let varies = self.marker.varies(exercise);
        let key = if varies { learner_key(learner) } else { String::new() };
        if varies && key.is_empty() {
            return Err(format!("it names no learner, and the numbers of `{exercise}` depend on one"));
        }
        let key = (exercise.to_owned(), key);
        if let Some(known) = self.set.get(&key) {
            return known.clone();
        }
        let found = self.worked(exercise, varies.then_some(learner));
        self.set.insert(key, found.clone());
        found
    }

    fn worked(&mut self, exercise: &str, learner: Option<&str>) -> Result<usize, String> {
        let variant = self.marker.variant(exercise, learner).map_err(|refused| refused.to_string())?;
        if let Some(place) = self.numbers.get(&variant) {
            return Ok(*place);
        }
        let expected = self.marker.expected(&variant).map_err(|refused| refused.to_string())?;
        self.variants.push(Worked { expected, answers: HashMap::new() });
        self.numbers.insert(variant, self.variants.len() - 1);
        Ok(self.variants.len() - 1)
    }
}
