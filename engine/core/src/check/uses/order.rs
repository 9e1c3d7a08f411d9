//! The order in which used worksheets are checked.

use std::collections::{HashMap, HashSet};

use benchleaf_words::{Phrase, phrase};

use super::{place_of, uses_of};
use crate::{
    sheet::{Joined, Sheet},
    span::Span,
};

/// The used worksheets in an order in which each stands behind those that it uses.
#[derive(Default)]
pub(super) struct Order {
    pub(super) files: Vec<usize>,
    /// Those from which the way leads into a circle, and the circle in words.
    pub(super) circles: HashMap<usize, Phrase>,
    /// The line that brought each in.
    pub(super) used_at: Vec<Span>,
}

impl Order {
    pub(super) fn new(joined: &Joined<'_>, sheet: &Sheet) -> Self {
        let mut order = Self { used_at: vec![Span::default(); joined.files.len()], ..Self::default() };
        let mut seen = HashSet::new();
        for (used, span) in uses_of(sheet) {
            if let Some(file) = place_of(joined, "", used) {
                order.visit(joined, file, span, &mut Vec::new(), &mut seen);
            }
        }
        order
    }

    fn visit(&mut self, joined: &Joined<'_>, file: usize, at: Span, way: &mut Vec<usize>, seen: &mut HashSet<usize>) {
        if let Some(start) = way.iter().position(|before| *before == file) {
            let mut files = way[start..].iter().chain([&file]).map(|file| &joined.files[*file].path);
            let mut next = || files.next().map_or("", |path| path);
            let first = phrase!(CHECK_ORDER_USES, file = next(), other = next());
            let circle =
                files.fold(first, |circle, file| phrase!(CHECK_ORDER_WHICH_USES, circle = circle, file = file));
            self.in_circle(way, &circle);
            return;
        }
        if !seen.insert(file) {
            if let Some(circle) = self.circles.get(&file).cloned() {
                self.in_circle(way, &circle);
            }
            return;
        }
        self.used_at[file] = at;
        way.push(file);
        let used = &joined.files[file];
        for (next, _) in uses_of(&used.sheet) {
            if let Some(next) = place_of(joined, &used.path, next) {
                self.visit(joined, next, at, way, seen);
            }
        }
        way.pop();
        if !self.circles.contains_key(&file) {
            self.files.push(file);
        }
    }

    /// Notes that a way leads into a circle.
    fn in_circle(&mut self, way: &[usize], circle: &Phrase) {
        for file in way {
            self.circles.entry(*file).or_insert_with(|| circle.clone());
        }
    }
}
