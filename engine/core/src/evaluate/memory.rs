//! What the builds of the last evaluation came to, each result by a key of all that it depends on. A reader of a page
//! changes one given at a time; what does not follow from that one need not be simulated anew.

use std::{
    hash::{Hash, Hasher},
    mem,
    sync::{
        Mutex,
        atomic::{AtomicU64, Ordering},
    },
};

use super::{
    builds::Plan,
    collector::Sampled,
    monte_carlo::Wanted,
    program::{Callee, Step},
    random::{GOLDEN, mix},
};
use crate::{lang::ast::Distribution, threads::locked};

/// The results of the last evaluation that remembers, by rising keys.
static LAST: Mutex<Vec<(u64, Sampled)>> = Mutex::new(Vec::new());

/// The results that are wanted: those of the last evaluation that still hold, and the others by `simulate`. Nothing older
/// than the last evaluation is kept.
pub(super) fn recalled(
    plan: &Plan<'_>,
    wanted: &[Wanted],
    samples: u64,
    simulate: impl FnOnce(&[Wanted]) -> Vec<Option<Sampled>>,
) -> Vec<Option<Sampled>> {
    let columns = keys(plan);
    let key = |wanted: &Wanted| {
        let column = columns[plan.slot(wanted.reg)?];
        Some(hash(|hasher| (column, wanted.of, samples).hash(hasher)))
    };
    let keys: Vec<Option<u64>> = wanted.iter().map(key).collect();
    // Not held while the builds run: a thread that waits for them may turn to another worksheet.
    let known = mem::take(&mut *locked(&LAST));
    let find = |key: u64| known.binary_search_by_key(&key, |known| known.0).ok().map(|at| known[at].1.clone());
    let mut results: Vec<Option<Sampled>> = keys.iter().map(|key| find((*key)?)).collect();
    let missing = |i: &usize| keys[*i].is_some() && results[*i].is_none();
    let missing: Vec<usize> = (0..wanted.len()).filter(missing).collect();
    if !missing.is_empty() {
        let found = simulate(&missing.iter().map(|i| wanted[*i]).collect::<Vec<_>>());
        for (i, found) in missing.into_iter().zip(found) {
            results[i] = found;
        }
    }
    let told = keys.iter().zip(&results).filter_map(|(key, result)| Some(((*key)?, result.clone()?)));
    let mut told: Vec<(u64, Sampled)> = told.collect();
    told.sort_unstable_by_key(|known| known.0);
    *locked(&LAST) = told;
    results
}

/// A key of each column of a plan: of what draws it or works it out, and of the keys of what that reads.
fn keys(plan: &Plan<'_>) -> Vec<u64> {
    let program = plan.program;
    let mut keys = vec![0; plan.columns];
    for (column, value) in &plan.fixed {
        keys[*column] = hash(|hasher| value.to_bits().hash(hasher));
    }
    for (stream, source, column) in &plan.draws {
        let drawn = &program.sources[*source as usize];
        keys[*column] = hash(|hasher| {
            stream.hash(hasher);
            [drawn.nominal, drawn.low, drawn.high, drawn.degrees].map(f64::to_bits).hash(hasher);
            mem::discriminant(&drawn.distribution).hash(hasher);
            if let Distribution::Normal(k) = drawn.distribution {
                k.to_bits().hash(hasher);
            }
            if let Some(place) = plan.copula.column(*source) {
                place.hash(hasher);
                plan.copula.describe(hasher);
            }
        });
    }
    for (step, slot) in &plan.steps {
        let made = hash(|hasher| {
            mem::discriminant(step).hash(hasher);
            match step {
                Step::WholePower(_, n) => n.hash(hasher),
                Step::Apply(function, _) => function.hash(hasher),
                Step::Compare(comparison, ..) => comparison.hash(hasher),
                Step::Interpolate(table, _) => {
                    let table = &program.tables[*table as usize];
                    table.x.iter().chain(&table.y).for_each(|x| x.to_bits().hash(hasher));
                }
                Step::Call(call) => {
                    match &program.calls[*call as usize].callee {
                        Callee::Model(model) => model.name.hash(hasher),
                        Callee::Block(_) => never_again().hash(hasher),
                    }
                    plan.arguments(*call).for_each(|argument| argument.to_bits().hash(hasher));
                }
                _ => {}
            }
            plan.reads(*step, |column| keys[column].hash(hasher));
        });
        keys[*slot] = made;
        plan.outputs(*step, |field, column| keys[column] = hash(|hasher| (made, field).hash(hasher)));
    }
    keys
}

/// Of a Rust block nothing is known by which it could be told from another.
fn never_again() -> u64 {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    COUNT.fetch_add(1, Ordering::Relaxed)
}

fn hash(of: impl FnOnce(&mut Mixer)) -> u64 {
    let mut mixer = Mixer(0);
    of(&mut mixer);
    mixer.finish()
}

/// A hash for what nobody chose in order to break it: the mixing function of the random numbers, word after word.
struct Mixer(u64);

impl Hasher for Mixer {
    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(u64::from(*byte));
        }
    }

    fn write_u64(&mut self, word: u64) {
        self.0 = mix(self.0.wrapping_add(GOLDEN) ^ word);
    }

    fn finish(&self) -> u64 {
        self.0
    }
}
