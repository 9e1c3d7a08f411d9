//! What no proof settles is looked at once more when the simulated builds are there: from the builds in which a value was
//! the least and the greatest, so that no range is narrower than what was simulated.

use super::{
    super::{draws::Copula, simulation::Sampling, tolerances::Tolerances},
    Extremes, WorstCases, prove,
    search::{ExtremeSearch, MOST_ROUNDS},
};
use crate::{
    parallel,
    program::{Interval, Reg},
    results::Certainty,
};

/// Steps of all targets together that are searched once more, and builds of other values that each search starts from.
const MOST_STEPS: usize = 20_000;
const MOST_SHARED: usize = 24;

impl WorstCases {
    /// Widens what was found by search alone, by what a search from the simulated builds finds.
    pub(in super::super) fn widen(&mut self, tolerances: &Tolerances<'_>, sampling: &Sampling<'_>) {
        let searched =
            |i: &usize| self.extremes[*i].as_ref().is_some_and(|found| found.certainty == Certainty::Searched);
        let open: Vec<usize> = (0..self.targets.len()).filter(searched).collect();
        let builds = open.iter().flat_map(|i| sampling.extreme_builds(self.targets[*i]));
        let shared: Vec<Vec<f64>> = builds.take(MOST_SHARED).map(|(_, build)| sampling.build(build).0).collect();
        let mut steps = 0;
        let tasks: Vec<(usize, Option<Vec<Reg>>)> = open
            .into_iter()
            .map(|i| {
                let order = (steps <= MOST_STEPS).then(|| tolerances.varying_steps(&[self.targets[i]]));
                steps += order.as_ref().map_or(0, Vec::len);
                (i, order)
            })
            .collect();
        let widened = parallel::each(tasks, |(i, order)| {
            let target = self.targets[i];
            let mut found = self.extremes[i].clone();
            if let Some(found) = &mut found {
                for (value, build) in sampling.extreme_builds(target) {
                    let (sources, is_inside) = sampling.build(build);
                    let again = |order: &Vec<Reg>| tolerances.at_sources(&sources, order, target);
                    let value = if is_inside { Some(value) } else { order.as_ref().map(again) };
                    value.into_iter().for_each(|value| found.take(tolerances, value, &sources));
                }
                if let Some(order) = order.as_ref().filter(|_| self.promised.binary_search(&target).is_ok()) {
                    found.search_again(tolerances, (target, order), &shared);
                }
            }
            (i, found)
        });
        widened.into_iter().for_each(|(i, found)| self.extremes[i] = found);
    }
}

impl Extremes {
    /// A value that the sources give.
    fn take(&mut self, tolerances: &Tolerances<'_>, value: f64, sources: &[f64]) {
        if !value.is_finite() {
            return;
        }
        let moving: Vec<u32> = self.low_at.iter().map(|setting| setting.0).collect();
        let settings = || tolerances.settings(moving.iter().copied(), sources);
        if value < self.low {
            (self.low, self.low_at) = (value, settings());
            self.enclosure.0 = self.enclosure.0.min(value);
        }
        if value > self.high {
            (self.high, self.high_at) = (value, settings());
            self.enclosure.1 = self.enclosure.1.max(value);
        }
    }

    /// Searches in all directions from where it stands, and from some settings of all sources.
    fn search_again(&mut self, tolerances: &Tolerances<'_>, (target, order): (Reg, &[Reg]), shared: &[Vec<f64>]) {
        let slopes: Vec<(u32, Interval)> = self.low_at.iter().map(|setting| (setting.0, Interval::ALL)).collect();
        let (range, copula) = (Interval::new(self.enclosure.0, self.enclosure.1), Copula::default());
        for (least, open) in [(true, self.low.is_finite()), (false, self.high.is_finite())] {
            let at = if least { &self.low_at } else { &self.high_at };
            let mut seeds = shared.to_vec();
            let mut here = tolerances.centre.clone();
            at.iter().for_each(|(source, value, _)| here[*source as usize] = *value);
            seeds.push(here);
            let search = ExtremeSearch::new(tolerances, order, target, range, &slopes, &copula, MOST_ROUNDS);
            let found = search.filter(|_| open).and_then(|search| search.deep(&seeds, least));
            found.into_iter().for_each(|(value, sources)| self.take(tolerances, value, &sources));
        }
        // What is found may reach as far as is known to be possible.
        let agree = prove::AGREE * self.low.abs().max(self.high.abs());
        if agree.is_finite() && self.enclosure.0 >= self.low - agree && self.enclosure.1 <= self.high + agree {
            self.certainty = Certainty::Proven;
        }
    }
}
