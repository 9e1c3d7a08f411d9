//! A Rust block that may run: what is known already is taken from the cache, the rest is asked of the program that
//! runs blocks.

use std::{
    sync::{Arc, Mutex, MutexGuard},
    time::{Duration, Instant},
};

use benchleaf_core::{
    host::{
        CompiledBlock, Fault, Refusal, Run,
        wire::{Answer, Ask, Source, bits, numbers},
    },
    parallel::locked,
};

use super::{
    Runner,
    cache::{Cache, CachedRun},
    child::{Lost, fault},
};

/// A block that may run.
#[derive(Debug)]
pub(crate) struct PermittedBlock {
    runner: Arc<Runner>,
    source: Source,
    state: Mutex<State>,
}

#[derive(Debug)]
struct State {
    cache: Cache,
    /// Its number in the program that runs blocks, and in which one of them.
    compiled: Option<(u64, u32)>,
    /// Why it is not run any more.
    dead: Option<Fault>,
    /// The time that its runs have taken.
    spent: Duration,
}

impl PermittedBlock {
    pub(crate) fn new(runner: Arc<Runner>, source: Source, cache: Cache) -> Self {
        Self { runner, source, state: Mutex::new(State { cache, compiled: None, dead: None, spent: Duration::ZERO }) }
    }

    /// Compiles it now.
    pub(crate) fn compile(&self) -> Result<(), Refusal> {
        self.compiled(&mut self.state()).map(|_| ())
    }

    fn state(&self) -> MutexGuard<'_, State> {
        locked(&self.state)
    }

    /// Its number in the program that runs blocks; compiles it where that does not know it.
    fn compiled(&self, state: &mut State) -> Result<u32, Refusal> {
        let mut child = locked(&self.runner.child);
        child.start(&self.runner)?;
        if let Some((generation, number)) = state.compiled
            && generation == child.generation()
        {
            return Ok(number);
        }
        let number = child.next_number();
        let source = Source { block: number, ..self.source.clone() };
        match child.ask(&Ask::Compile(Box::new(source))) {
            Ok(Answer::Compiled) => {
                state.compiled = Some((child.generation(), number));
                Ok(number)
            }
            Ok(Answer::Findings(findings)) => Err(Refusal::Findings(findings)),
            Ok(Answer::Fault(fault)) => Err(Refusal::Failed(fault)),
            Ok(_) | Err(Lost) => Err(Refusal::Failed(ended())),
        }
    }

    /// Asks for a run.
    fn ask(&self, state: &mut State, question: impl FnOnce(u32) -> Ask) -> Result<(Answer, String), Fault> {
        if let Some(fault) = &state.dead {
            return Err(fault.clone());
        }
        let number = self.compiled(state).map_err(|refusal| match refusal {
            Refusal::NotRun { why, help } => fault(&why.english(), &help.english()),
            Refusal::Published | Refusal::Findings(_) => {
                fault("the block compiled before and does not any more", "run it again")
            }
            Refusal::Failed(fault) => fault,
        })?;
        let mut child = locked(&self.runner.child);
        let began = Instant::now();
        let answer = child.ask(&question(number));
        state.spent += began.elapsed();
        match answer {
            Ok(Answer::Fault(fault)) => Err(fault),
            Ok(answer) => Ok((answer, child.terms().to_owned())),
            Err(Lost) => Err(ended()),
        }
    }

    fn missing(&self, state: &mut State, rows: &[Vec<u64>]) -> Result<(), Fault> {
        let count = rows.len();
        let inputs = rows.concat();
        let (answer, _) = self.ask(state, |block| Ask::Many { block, rows: count, inputs })?;
        let width = self.source.outputs.len();
        match answer {
            Answer::Rows(found) if found.len() == count * width => {
                for (i, row) in rows.iter().enumerate() {
                    state.cache.store_row(row, &found[i * width..(i + 1) * width]);
                }
                Ok(())
            }
            // A row that came to nothing has no outputs to count.
            Answer::Rows(_) => {
                let nothing = vec![f64::NAN.to_bits(); width];
                rows.iter().for_each(|row| state.cache.store_row(row, &nothing));
                Ok(())
            }
            _ => Err(ended()),
        }
    }
}

impl CompiledBlock for PermittedBlock {
    fn once(&self, inputs: &[f64]) -> Result<Run, Fault> {
        let state = &mut *self.state();
        let inputs = bits(inputs);
        if state.cache.run(&inputs).is_none() {
            let asked = inputs.clone();
            match self.ask(state, |block| Ask::Once { block, inputs: asked }) {
                Ok((Answer::Ran { outputs, series, printed }, terms)) => {
                    state.cache.store_run(CachedRun { inputs: inputs.clone(), outputs, series, printed, terms });
                }
                Ok(_) => return Err(ended()),
                Err(fault) => {
                    state.dead = Some(fault.clone());
                    return Err(fault);
                }
            }
        }
        let Some(run) = state.cache.run(&inputs) else { return Err(ended()) };
        Ok(Run {
            outputs: numbers(&run.outputs),
            series: run.series.iter().map(|series| numbers(series)).collect(),
            printed: run.printed.clone(),
            terms: run.terms.clone(),
        })
    }

    fn many(&self, inputs: &[f64], rows: usize) -> Result<Vec<f64>, Fault> {
        let state = &mut *self.state();
        if let Some(fault) = &state.dead {
            return Err(fault.clone());
        }
        let width = self.source.inputs.len();
        let asked: Vec<Vec<u64>> = (0..rows).map(|row| bits(&inputs[row * width..(row + 1) * width])).collect();
        let missing: Vec<Vec<u64>> = asked.iter().filter(|row| state.cache.row(row).is_none()).cloned().collect();
        if !missing.is_empty() {
            if state.spent > MOST_TIME {
                return Err(fault("its time is used up", "make it quicker"));
            }
            if let Err(fault) = self.missing(state, &missing) {
                // A single run that brings the process down does so every time.
                if rows == 1 {
                    state.dead = Some(fault.clone());
                }
                return Err(fault);
            }
        }
        let nothing = vec![f64::NAN.to_bits(); self.source.outputs.len()];
        let found = asked.iter().flat_map(|row| state.cache.row(row).unwrap_or(&nothing).iter().copied());
        Ok(found.map(f64::from_bits).collect())
    }
}

impl Drop for PermittedBlock {
    fn drop(&mut self) {
        let compiled = self.state().compiled;
        let mut child = locked(&self.runner.child);
        if let Some((generation, block)) = compiled
            && generation == child.generation()
        {
            let _ = child.ask(&Ask::Forget { block });
        }
    }
}

fn ended() -> Fault {
    fault("the program that runs Rust blocks ended", "run it again; if it does so again, report it")
}

/// Time that the runs of one block may take in all.
const MOST_TIME: Duration = Duration::from_secs(60);
