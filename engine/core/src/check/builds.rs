//! Builds side by side: each changes givens and parts of the worksheet, and leaves everything else as it is. What a change does
//! not say (a tolerance, ratings, prices) stays as it was.

use std::collections::HashSet;

use benchleaf_words::phrase;

use super::{CheckedValue, Checker, bench::fits, exercise::signed, literal::digits_of};
use crate::{
    bill::{Bought, Part},
    lang::ast::{Bounds, Definition, Tolerance},
    problem::Code,
    program::{Reg, Source, Step},
    results::Role,
    sheet::{BuildChange, BuildLine, BuildsBlock, CompareRequest, PartLine},
    span::{Span, Spanned},
    units::ValueType,
};

/// A block of builds.
#[derive(Debug)]
pub(crate) struct CheckedBuilds {
    pub(crate) span: Span,
    pub(crate) builds: Vec<CheckedBuild>,
    /// What is compared.
    pub(crate) compared: Vec<CheckedValue>,
    /// How many of the worksheet's parts stand above; those below are in every build.
    pub(crate) above: usize,
}

/// A build: what it changes.
#[derive(Debug)]
pub(crate) struct CheckedBuild {
    pub(crate) name: String,
    pub(crate) span: Span,
    /// Sources that it gives other values, and the significant digits of these.
    pub(crate) sources: Vec<(u32, Source, Option<u8>)>,
    /// Its parts in the place of those above the block.
    pub(crate) parts: Vec<Part>,
}

impl Checker<'_> {
    /// Checks a block of builds; `None` where a problem was reported.
    pub(super) fn builds(&mut self, block: &BuildsBlock, span: Span) -> Option<CheckedBuilds> {
        let fence = super::fence_line(self.text, span);
        let reported = self.problems.len();
        let mut names = HashSet::new();
        let mut builds = Vec::new();
        for line in &block.builds {
            if !names.insert(line.name.item.as_str()) {
                let message = phrase!(CHECK_BUILDS_TWO_BUILDS_ARE_CALLED, name = line.name.item);
                self.fail_with_help(Code::Build, line.name.span, message, phrase!(CHECK_BUILDS_GIVE_EACH_ITS_OWN_NAME));
            }
            builds.push(self.build(line));
        }
        if !block.broken && block.builds.len() < 2 {
            let message = phrase!(CHECK_BUILDS_THERE_IS_NOTHING_TO_COMPARE);
            let help = phrase!(CHECK_BUILDS_THE_WORKSHEET);
            self.fail_with_help(Code::Build, fence, message, help);
        }
        if !block.broken && block.compared.is_empty() {
            let message = phrase!(CHECK_BUILDS_THE_BLOCK_DOES_NOT_SAY);
            self.fail_with_help(Code::Build, fence, message, phrase!(CHECK_BUILDS_ADD_A_LINE));
        }
        let compared = block.compared.iter().filter_map(|asked| self.compared_value(asked)).collect();
        let above = self.checked.parts.len();
        let sound = !block.broken && self.problems.len() == reported;
        sound.then_some(CheckedBuilds { span, builds, compared, above })
    }

    fn compared_value(&mut self, asked: &CompareRequest) -> Option<CheckedValue> {
        let typed = self.expression(&asked.subject)?;
        let written = asked.subject.span.text(self.text);
        let known =
            self.checked.values.iter().find(|value| value.name == written && value.typed.reg == typed.reg).cloned();
        if let Some(known) = known {
            self.checked.fields_read.extend(written.contains('.').then(|| written.to_owned()));
            return Some(CheckedValue { label: asked.label.clone().or(known.label), ..known });
        }
        Some(CheckedValue {
            name: written.to_owned(),
            label: asked.label.clone(),
            span: asked.subject.span,
            role: Role::Derived,
            typed,
            unit: None,
            digits: None,
            origin: None,
        })
    }

    fn build(&mut self, line: &BuildLine) -> CheckedBuild {
        // Two builds may both put another part in one place.
        let designators = self.designators.clone();
        let mut build = CheckedBuild {
            name: line.name.item.clone(),
            span: line.span,
            sources: Vec::new(),
            parts: self.checked.parts.clone(),
        };
        // What is left out makes room for what is added, in whatever order they stand.
        for change in &line.changes {
            if let BuildChange::Without(name) = change {
                self.without(name, &mut build);
            }
        }
        let mut changed = HashSet::new();
        for change in &line.changes {
            let name = match change {
                BuildChange::Value(definition, _) => Some(&definition.name),
                BuildChange::Rated(part) => part.name.as_ref(),
                BuildChange::With(_) | BuildChange::Without(_) => None,
            };
            if let Some(name) = name.filter(|name| !changed.insert(name.item.as_str())) {
                let message = phrase!(CHECK_BUILDS_IS_CHANGED_TWICE_IN_THIS, name = name.item);
                self.fail_with_help(Code::Build, name.span, message, phrase!(CHECK_BUILDS_KEEP_ONE_OF_THE_CHANGES));
                continue;
            }
            match change {
                BuildChange::Value(definition, part) => self.other_value(definition, part, &mut build),
                BuildChange::Rated(part) => self.other_part(part, None, &mut build),
                BuildChange::With(part) => {
                    let part = self.part_of(part);
                    build.parts.push(part);
                }
                BuildChange::Without(_) => {}
            }
        }
        self.designators = designators;
        build
    }

    fn without(&mut self, name: &Spanned<String>, build: &mut CheckedBuild) {
        if let Some(designator) = name.item.strip_prefix('@') {
            let place = build.parts.iter().position(|part| part.designators.iter().any(|known| known == designator));
            let Some(place) = place else {
                let message = phrase!(CHECK_BUILDS_NO_PART_ABOVE, designator = designator);
                let known = self.designators.keys().map(String::as_str).collect::<Vec<_>>();
                let help = match crate::suggest::nearest(designator, known) {
                    Some(near) => phrase!(SHARED_DID_YOU_MEAN_DESIGNATOR, near = near),
                    None => phrase!(CHECK_BUILDS_A_PART_HAS_ITS_DESIGNATOR),
                };
                self.fail_with_help(Code::Build, name.span, message, help);
                return;
            };
            self.designators.remove(designator);
            let part = &mut build.parts[place];
            part.designators.retain(|known| known != designator);
            if part.designators.is_empty() {
                build.parts.remove(place);
            } else if let Bought::EachBuild(count) = &mut part.bought {
                *count -= 1;
            }
            return;
        }
        match build.parts.iter().position(|part| part.name.as_ref() == Some(&name.item)) {
            Some(place) => {
                let part = build.parts.remove(place);
                part.designators.iter().for_each(|designator| {
                    self.designators.remove(designator);
                });
            }
            None if self.names.contains_key(&name.item) => {
                let message = phrase!(CHECK_BUILDS_IS_NO_PART_THAT_COULD, name = name.item);
                self.fail_with_help(Code::Build, name.span, message, phrase!(CHECK_BUILDS_A_PART_STANDS));
            }
            None => self.unknown_name(&name.item, name.span),
        }
    }

    /// Another value of a given.
    fn other_value(&mut self, definition: &Definition, line: &PartLine, build: &mut CheckedBuild) {
        let name = &definition.name;
        if let Some(unit) = &definition.unit {
            let message = phrase!(CHECK_BUILDS_A_BUILD_DOES_NOT_CHANGE);
            self.fail_with_help(Code::Build, unit.span, message, phrase!(CHECK_BUILDS_LEAVE_THE_BRACKETS_OUT));
            return;
        }
        let Some(entry) = self.names.get(&name.item) else {
            self.unknown_name(&name.item, name.span);
            return;
        };
        let Some(at) = entry.source else {
            let message = phrase!(SHARED_IS_NOT_A_GIVEN, name = name.item);
            let help = phrase!(CHECK_BUILDS_A_BUILD_CHANGES_VALUES);
            self.fail_with_help(Code::Build, name.span, message, help);
            return;
        };
        let typed =
            self.checked.values.iter().find(|value| value.name == name.item).map(|value| value.typed.value_type);
        let Some((quantity, negative)) = signed(&definition.value) else { return };
        let Some((si, unit)) = self.literal(quantity, negative) else { return };
        if let Some(ValueType::Quantity(wanted)) = typed
            && !fits(unit.quantity, wanted)
        {
            let message = phrase!(
                SHARED_THAT_IS_IS,
                found = unit.quantity.describe_kind(),
                name = name.item,
                wanted = wanted.describe_kind()
            );
            let help = phrase!(CHECK_BUILDS_WRITE_IT_IN_THE_UNIT, name = name.item);
            self.fail_with_help(Code::UnitMismatch, definition.value.span, message, help);
            return;
        }
        let own = self.definition_of(&name.item);
        let kept = own.as_ref().and_then(|own| own.tolerance.as_deref().cloned());
        let tolerance = match (&definition.tolerance, kept) {
            (Some(tolerance), _) => Some((**tolerance).clone()),
            (None, Some(Tolerance { bounds: Bounds::MinTypMax { .. }, .. })) if quantity.code_tolerance.is_none() => {
                let message = phrase!(CHECK_BUILDS_HAS_ENDS_OF_ITS_OWN, name = name.item);
                let help = phrase!(CHECK_BUILDS_WRITE_THE_TOLERANCE_OF_THIS);
                self.fail_with_help(Code::Build, definition.value.span, message, help);
                return;
            }
            (None, kept) => kept.filter(|_| quantity.code_tolerance.is_none()),
        };
        let code = quantity.code_tolerance.or_else(|| own.as_ref()?.literal()?.0.code_tolerance);
        if self.given(&name.item, si, &unit, tolerance.as_ref(), code).is_none() {
            return;
        }
        // It is the source of this build alone.
        let Some(source) = self.checked.program.sources.pop() else { return };
        build.sources.push((at, source, Some(digits_of(quantity))));
        let written = definition.value.span;
        let value = match (&definition.tolerance, &tolerance) {
            (Some(written_too), _) => written.to(written_too.span).text(self.text).to_owned(),
            (None, Some(kept)) => format!("{} {}", written.text(self.text), kept.span.text(self.text)),
            (None, None) => written.text(self.text).to_owned(),
        };
        let part = PartLine { name: Some(name.clone()), ..line.clone() };
        self.other_part(&part, Some(value), build);
    }

    fn definition_of(&self, name: &str) -> Option<Definition> {
        let origin = || self.checked.values.iter().find(|value| value.name == name)?.origin.as_deref();
        let own = self.sheet.givens().into_iter().find(|given| given.name.item == name);
        let taken = || origin().and_then(|origin| self.joined.given(&origin.file, &origin.name));
        own.or_else(taken).cloned()
    }

    /// Other ratings, prices or another value of a part.
    fn other_part(&mut self, line: &PartLine, value: Option<String>, build: &mut CheckedBuild) {
        let Some(name) = &line.name else { return };
        if let Some(designator) = line.designators.first() {
            let message = phrase!(CHECK_BUILDS_A_PART_KEEPS_ITS_DESIGNATOR);
            self.fail_with_help(Code::Build, designator.span, message, phrase!(CHECK_BUILDS_LEAVE_IT_OUT_OR_ADD));
            return;
        }
        let place = build.parts.iter().position(|part| part.name.as_ref() == Some(&name.item));
        let Some(place) = place else {
            let says_more = !line.ratings.is_empty() || !line.prices.is_empty() || line.once.is_some();
            match self.names.contains_key(&name.item) {
                true if says_more || value.is_none() => {
                    let message = phrase!(CHECK_BUILDS_IS_NO_PART_OF_THIS, name = name.item);
                    let help = phrase!(CHECK_BUILDS_WRITE_IT_IN_A_PARTS, name = name.item);
                    self.fail_with_help(Code::Build, name.span, message, help);
                }
                true => {}
                false => self.unknown_name(&name.item, name.span),
            }
            return;
        };
        let known = self.problems.len();
        let other = self.part_of(line);
        if self.problems.len() > known {
            return;
        }
        for rating in &other.ratings {
            self.other_field(&name.item, rating.field, rating.si, build);
        }
        if let Some(price) = other.prices.first() {
            self.other_field(&name.item, "price", price.units(), build);
        }
        let part = &mut build.parts[place];
        for rating in other.ratings {
            match part.ratings.iter_mut().find(|known| known.field == rating.field) {
                Some(known) => *known = rating,
                None => part.ratings.push(rating),
            }
        }
        if !other.prices.is_empty() {
            part.prices = other.prices;
        }
        if line.once.is_some() {
            part.bought = Bought::Once;
        }
        part.value = value.or(part.value.take());
        part.label = other.label.or(part.label.take());
    }

    /// Another rating or price, where the worksheet has a value of it.
    fn other_field(&self, part: &str, field: &str, si: f64, build: &mut CheckedBuild) {
        let Some(typed) = self.part_field(part, field) else { return };
        if let Some(at) = self.source_at(typed.reg) {
            build.sources.push((at, Source::fixed(&format!("{part}.{field}"), si), None));
        }
    }

    fn source_at(&self, reg: Reg) -> Option<u32> {
        match self.checked.program.steps[reg as usize] {
            Step::Source(source) => Some(source),
            _ => None,
        }
    }
}
