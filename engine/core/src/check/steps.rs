//! Steps of a build: the time that each takes, the values that are read at test points, and whether every part on the board is
//! placed once.

use std::collections::HashMap;

use benchleaf_words::phrase;

use super::Checker;
use crate::{
    problem::Code,
    results::{Step, StepSet, TestPoint},
    sheet::{BlockBody, StepItem, StepLines, StepsBlock},
    span::Span,
    suggest::nearest,
    units::Dimension,
};

impl Checker<'_> {
    /// Checks a block of steps. What is wrong is reported, and left out.
    pub(super) fn steps(&mut self, block: &StepsBlock, span: Span) -> StepSet {
        let steps = block.steps.iter().map(|lines| self.step(lines)).collect();
        StepSet { span, steps }
    }

    fn step(&mut self, lines: &StepLines) -> Step {
        match self.step_titles.get(&lines.title.item).copied() {
            Some(first) => {
                let message = phrase!(CHECK_STEPS_A_STEP_ON_LINE, line = self.line_of(first));
                let help = phrase!(CHECK_STEPS_GIVE_EACH_ITS_OWN);
                self.fail_with_help(Code::Step, lines.title.span, message, help);
            }
            None => {
                self.step_titles.insert(lines.title.item.clone(), lines.title.span);
            }
        }
        let mut step = Step {
            title: lines.title.item.clone(),
            span: lines.title.span,
            seconds: self.seconds(lines),
            tools: lines.tools.clone(),
            ..Step::default()
        };
        for item in &lines.items {
            match item {
                StepItem::Place(places) => step.places.extend(places.iter().map(|place| place.item.clone())),
                StepItem::Pause(text) => step.pauses.push(text.clone()),
                StepItem::Power(text) => step.power.push(text.clone()),
                StepItem::Check(asked) => {
                    if let Some((value, _)) = self.readable(&asked.value, Code::Step) {
                        step.checks.push(TestPoint { value, at: asked.at.clone(), span: asked.span });
                    }
                }
                StepItem::Text(_) | StepItem::Picture(_) => {}
            }
        }
        step
    }

    fn seconds(&mut self, lines: &StepLines) -> Option<f64> {
        let time = lines.time.as_ref()?;
        let (si, unit) = self.literal(time, false)?;
        if unit.quantity.dimension != Dimension::TIME || si <= 0.0 {
            let message = phrase!(CHECK_STEPS_A_STEP_TAKES_A_TIME, found = unit.quantity.describe_kind());
            self.fail_with_help(Code::Step, time.span, message, phrase!(CHECK_STEPS_WRITE_IT_IN_S_MIN));
            return None;
        }
        Some(si)
    }

    /// Holds what the steps place against what the lists of parts have on the board, once both are known.
    pub(super) fn placed(&mut self) {
        let sheet = self.sheet;
        let blocks = sheet.blocks.iter().filter_map(|block| match &block.body {
            BlockBody::Steps(steps) => Some(steps),
            _ => None,
        });
        let mut placed: HashMap<&str, Span> = HashMap::new();
        for place in blocks.flat_map(|block| &block.steps).flat_map(|step| &step.items).flat_map(|item| match item {
            StepItem::Place(places) => places.as_slice(),
            _ => &[],
        }) {
            let name = place.item.as_str();
            if !self.designators.contains_key(name) {
                let message = phrase!(CHECK_STEPS_NO_PART_OF_THE_WORKSHEET, name = name);
                let mut known: Vec<&str> = self.designators.keys().map(String::as_str).collect();
                known.sort_unstable();
                let help = match nearest(name, known) {
                    Some(near) => phrase!(SHARED_DID_YOU_MEAN_DESIGNATOR, near = near),
                    None => phrase!(CHECK_STEPS_WRITE_IT_BEHIND_THE_PART, name = name),
                };
                self.fail_with_help(Code::Step, place.span, message, help);
            } else if let Some(first) = placed.get(name) {
                let message = phrase!(CHECK_STEPS_IS_PLACED_ON_LINE_ALREADY, name = name, line = self.line_of(*first));
                let help = phrase!(CHECK_STEPS_PLACE_EACH_PART);
                self.fail_with_help(Code::Step, place.span, message, help);
            } else {
                placed.insert(name, place.span);
            }
        }
        if placed.is_empty() {
            return;
        }
        let missing = self.designators.iter().filter(|(name, _)| !placed.contains_key(name.as_str()));
        let missing: Vec<(String, Span)> = missing.map(|(name, span)| (name.clone(), *span)).collect();
        for (name, span) in missing {
            let message = phrase!(CHECK_STEPS_NO_STEP_PLACES, name = name);
            self.fail_with_help(Code::Unplaced, span, message, phrase!(CHECK_STEPS_ADD_A_LINE, name = name));
        }
    }
}
