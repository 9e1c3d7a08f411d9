//! The values of givens that readings imply: generalised least squares, weighed by the uncertainties of the readings and of
//! all other givens (which all readings have in common), by steps of K. Levenberg ("A method for the solution of certain
//! non-linear problems in least squares", Quarterly of Applied Mathematics 2, 1944). The uncertainties follow from the
//! slopes at the solution (JCGM 100, 5; JCGM 102, 6.3 for several values at once). With one given and one value this is the
//! given solved for, and u = √(u_read² + Σ (c_i u_i)²) / |c|.

use benchleaf_words::{Phrase, phrase, phrase_count};

use super::{counted, dense, read, root::Moved};
use crate::{
    check::{Checked, CheckedFit},
    evaluate::{
        draws::{Copula, moments},
        tolerances::Tolerances,
    },
    problem::{Code, Problem},
    program::{Reg, Step},
    results::{Fit, Fitted},
};

/// Finds the givens of a fit.
///
/// # Errors
/// Why the readings do not determine them.
pub(super) fn fit(
    checked: &Checked,
    tolerances: &Tolerances<'_>,
    copula: &Copula,
    asked: &CheckedFit,
) -> Result<Fit, Problem> {
    let refused = |message: Phrase, help: Phrase| Problem::new(Code::Bench, asked.span, message).help(help);
    let mut observed = Vec::new();
    for place in &asked.benches {
        let bench = &checked.benches[*place];
        let readings: Vec<f64> = counted(bench).map(|reading| reading.1).collect();
        if !readings.is_empty() {
            let read = read(bench, &readings);
            observed.push(Observed {
                reg: checked.values[bench.value].typed.reg,
                mean: read.mean,
                u: read.u,
                n: read.n,
            });
        }
    }
    let names: Vec<String> = asked.givens.iter().map(|given| format!("`{}`", given.0)).collect();
    let from: Vec<String> =
        asked.benches.iter().map(|place| checked.values[checked.benches[*place].value].name.clone()).collect();
    let mut from_names = from.clone();
    from_names.dedup();
    let values = listed(&from_names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>());
    let (fitted, n) = (names.len(), observed.len());
    if n < fitted {
        let message = phrase!(EVALUATE_FIT_CANNOT_BE_DISTINGUISHED, listed = listed(&names), values = values);
        return Err(refused(message, phrase!(EVALUATE_FIT_AS_MANY_VALUES_MUST)));
    }
    let model = Model::new(tolerances, &observed, asked.givens.iter().map(|given| given.1).collect());
    if model.at(&model.start).iter().any(|y| !y.is_finite()) {
        return Err(refused(
            phrase!(EVALUATE_FIT_HAS_NO_FINITE_VALUE, values = values),
            phrase!(SHARED_LOOK_AT_ITS_FORMULA_FIRST),
        ));
    }
    for (j, name) in names.iter().enumerate() {
        if model.jacobian(&model.start).iter().all(|row| row[j] == 0.0) {
            return Err(refused(
                phrase_count!(EVALUATE_FIT_NOT_DEPEND_ON, from_names.len(), values = values, name = name),
                phrase!(EVALUATE_FIT_FIT_A_GIVEN),
            ));
        }
    }
    let mut at = model.start.clone();
    if let ([only], [_]) = (observed.as_slice(), names.as_slice()) {
        let root = Moved::new(tolerances, only.reg, model.fitted[0]).reaching(only.mean);
        let nowhere = || {
            refused(
                phrase!(EVALUATE_FIT_NO_VALUE_OF_GIVES_THESE, names = names[0], values = values),
                phrase!(EVALUATE_FIT_ANOTHER_GIVEN_OR_THE_FORMULA),
            )
        };
        at = vec![root.ok_or_else(nowhere)?];
    }
    let unknown = observed.iter().any(|one| one.u.is_none());
    let mut covariance = model.covariance(&at, copula);
    let mut found = model.whitened(&at, &covariance);
    for _ in 0..REWEIGHTED {
        if fitted > 1 || n > 1 {
            at = model.least(at, &covariance);
        }
        covariance = model.covariance(&at, copula);
        found = model.whitened(&at, &covariance);
        if fitted == 1 && n == 1 {
            break;
        }
    }
    let (rows, left) = found;
    let scaled: Vec<Vec<f64>> = {
        let sizes: Vec<f64> = (0..fitted).map(|j| rows.iter().map(|row| row[j] * row[j]).sum::<f64>().sqrt()).collect();
        rows.iter().map(|row| row.iter().zip(&sizes).map(|(x, size)| x / size).collect()).collect()
    };
    let (matrix, _) = dense::normal(&scaled, &left);
    if let Err(row) = dense::cholesky(&matrix, IDENTIFIABLE) {
        let message = match row {
            0 => phrase!(EVALUATE_FIT_THE_READINGS_OF_DO_NOT, values = values, names = names[0]),
            row => phrase!(
                EVALUATE_FIT_THE_READINGS_OF_DO_NOT_DETERMINE,
                values = values,
                row = names[row],
                listed = listed(&names[..row])
            ),
        };
        return Err(refused(message, phrase!(EVALUATE_FIT_THEY_ACT_IN_THE_SAME)));
    }
    let (matrix, _) = dense::normal(&rows, &left);
    let inverse = dense::cholesky(&matrix, 0.0).map(|l| dense::inverse(&l)).unwrap_or_default();
    let squares: f64 = left.iter().map(|left| left * left).sum();
    let scale = model.noise.get();
    if n == fitted
        && model.at(&at).iter().zip(&observed).any(|(y, one)| (y - one.mean).abs() > MET * one.mean.abs().max(1e-300))
    {
        let message = phrase!(EVALUATE_FIT_NO_VALUES_OF_GIVE_THESE, listed = listed(&names), values = values);
        return Err(refused(message, phrase!(EVALUATE_FIT_ANOTHER_GIVEN_OR_THE_FORMULA)));
    }
    let variance = |i: usize, j: usize| inverse.get(i).and_then(|row| row.get(j)).copied().unwrap_or(f64::NAN) * scale;
    let std = |i: usize| variance(i, i).max(0.0).sqrt();
    let correlation = |i: usize, j: usize| if i == j { 1.0 } else { variance(i, j) / (std(i) * std(j)) };
    Ok(Fit {
        span: asked.span,
        from,
        readings: observed.iter().map(|one| one.n).sum(),
        givens: asked
            .givens
            .iter()
            .enumerate()
            .map(|(i, (name, source, value))| {
                let (low, high) = tolerances.ends[*source as usize];
                Fitted {
                    given: name.clone(),
                    value: *value,
                    si: at[i],
                    u: (!unknown).then(|| std(i)).filter(|u| u.is_finite()),
                    nominal: tolerances.centre[*source as usize],
                    allowed: (low..=high).contains(&at[i]),
                }
            })
            .collect(),
        correlation: (0..fitted).map(|i| (0..fitted).map(|j| correlation(i, j)).collect()).collect(),
        left: (n > fitted && scale == 1.0).then_some((squares, n - fitted)),
    })
}

/// What one bench read.
struct Observed {
    reg: Reg,
    mean: f64,
    u: Option<f64>,
    n: usize,
}

/// The values that were read, as functions of the givens that are fitted.
struct Model<'a> {
    tolerances: &'a Tolerances<'a>,
    observed: &'a [Observed],
    regs: Vec<Reg>,
    order: Vec<Reg>,
    fitted: Vec<u32>,
    /// All other sources with a tolerance.
    others: Vec<u32>,
    start: Vec<f64>,
    /// What the whitened rows are to be scaled by: 1, or 0 where nothing has any uncertainty.
    noise: std::cell::Cell<f64>,
}

impl<'a> Model<'a> {
    fn new(tolerances: &'a Tolerances<'a>, observed: &'a [Observed], fitted: Vec<u32>) -> Self {
        let regs: Vec<Reg> = observed.iter().map(|one| one.reg).collect();
        let order = tolerances.varying_steps(&regs);
        let mut others: Vec<u32> = order
            .iter()
            .filter_map(|reg| match tolerances.program.steps[*reg as usize] {
                Step::Source(source) => Some(source),
                _ => None,
            })
            .filter(|source| !fitted.contains(source) && tolerances.sources[*source as usize].varies())
            .collect();
        others.sort_unstable();
        others.dedup();
        let start = fitted.iter().map(|source| tolerances.centre[*source as usize]).collect();
        Self { tolerances, observed, regs, order, fitted, others, start, noise: std::cell::Cell::new(1.0) }
    }

    fn with(&self, at: &[f64], other: Option<(u32, f64)>) -> Vec<f64> {
        let mut changes: Vec<(u32, f64)> = self.fitted.iter().copied().zip(at.iter().copied()).collect();
        changes.extend(other);
        self.tolerances.probe_along(&changes, &self.order, &self.regs)
    }

    fn at(&self, at: &[f64]) -> Vec<f64> {
        self.with(at, None)
    }

    /// A step between rounding and curvature.
    fn step(&self, source: u32, x: f64) -> f64 {
        let std = moments(&self.tolerances.sources[source as usize]).1;
        let size = if std > 0.0 { std.min(x.abs().max(std)) } else { x.abs() };
        6e-6 * x.abs().max(size).max(f64::MIN_POSITIVE)
    }

    /// The slopes of what was read in the fitted givens, a row for each reading.
    fn jacobian(&self, at: &[f64]) -> Vec<Vec<f64>> {
        let columns: Vec<Vec<f64>> = (0..at.len())
            .map(|j| {
                let step = self.step(self.fitted[j], at[j]);
                let moved = |by: f64| {
                    let mut moved = at.to_vec();
                    moved[j] += by;
                    self.at(&moved)
                };
                slopes(&moved(step), &moved(-step), step)
            })
            .collect();
        (0..self.regs.len()).map(|i| columns.iter().map(|column| column[i]).collect()).collect()
    }

    /// The covariance of what is left: of the readings, and of all other givens.
    fn covariance(&self, at: &[f64], copula: &Copula) -> Vec<Vec<f64>> {
        let n = self.observed.len();
        let columns: Vec<(u32, Vec<f64>)> = self
            .others
            .iter()
            .map(|source| {
                let x = self.tolerances.centre[*source as usize];
                let step = self.step(*source, x);
                let (above, below) =
                    (self.with(at, Some((*source, x + step))), self.with(at, Some((*source, x - step))));
                let std = moments(&self.tolerances.sources[*source as usize]).1;
                (*source, slopes(&above, &below, step).into_iter().map(|slope| slope * std).collect())
            })
            .collect();
        let mut covariance = vec![vec![0.0; n]; n];
        for (i, row) in covariance.iter_mut().enumerate() {
            let u = self.observed[i].u.unwrap_or(0.0);
            row[i] = u * u;
            for (j, cell) in row.iter_mut().enumerate() {
                for (a, in_a) in &columns {
                    for (b, in_b) in &columns {
                        let r = if a == b { 1.0 } else { copula.between(*a, *b) };
                        *cell += r * in_a[i] * in_b[j];
                    }
                }
            }
        }
        covariance
    }

    /// Rows of the slopes and what is left, in terms of the covariance's root.
    fn whitened(&self, at: &[f64], covariance: &[Vec<f64>]) -> (Vec<Vec<f64>>, Vec<f64>) {
        let (l, noise) = root_of(covariance, self.observed);
        self.noise.set(noise);
        let left: Vec<f64> = self.observed.iter().zip(self.at(at)).map(|(one, y)| one.mean - y).collect();
        let jacobian = self.jacobian(at);
        let columns: Vec<Vec<f64>> =
            (0..at.len()).map(|j| dense::forward(&l, &jacobian.iter().map(|row| row[j]).collect::<Vec<_>>())).collect();
        let rows = (0..self.regs.len()).map(|i| columns.iter().map(|column| column[i]).collect()).collect();
        (rows, dense::forward(&l, &left))
    }

    /// The least squares, from a point.
    fn least(&self, mut at: Vec<f64>, covariance: &[Vec<f64>]) -> Vec<f64> {
        let (l, _) = root_of(covariance, self.observed);
        let squares = |at: &[f64]| {
            let left: Vec<f64> = self.observed.iter().zip(self.at(at)).map(|(one, y)| one.mean - y).collect();
            dense::forward(&l, &left).iter().map(|left| left * left).sum::<f64>()
        };
        let (mut now, mut damping) = (squares(&at), 1e-3);
        for _ in 0..MOST_STEPS {
            let (rows, left) = self.whitened(&at, covariance);
            let (mut matrix, right) = dense::normal(&rows, &left);
            for (i, row) in matrix.iter_mut().enumerate() {
                row[i] *= 1.0 + damping;
            }
            let Ok(l) = dense::cholesky(&matrix, 0.0) else { return at };
            let step = dense::solve(&l, &right);
            let next: Vec<f64> = at.iter().zip(&step).map(|(x, step)| x + step).collect();
            let then = squares(&next);
            if then <= now {
                let done = at.iter().zip(&step).all(|(x, step)| step.abs() <= 1e-13 * x.abs());
                (at, now, damping) = (next, then, damping * 0.1);
                if done {
                    break;
                }
            } else {
                damping = if damping > 1e12 { break } else { damping.max(1e-9) * 10.0 };
            }
        }
        at
    }
}

/// The root of a covariance. One that is not positive definite is helped along by a part of its diagonal too small to
/// determine; where there is none at all, the readings have equal weight.
fn root_of(covariance: &[Vec<f64>], observed: &[Observed]) -> (Vec<Vec<f64>>, f64) {
    let greatest = (0..covariance.len()).map(|i| covariance[i][i]).fold(0.0, f64::max);
    let mut helped = covariance.to_vec();
    let noise = if greatest > 0.0 { 1.0 } else { 0.0 };
    for part in [0.0, 1e-14, 1e-12, 1e-10] {
        for (i, row) in helped.iter_mut().enumerate() {
            let own = if greatest > 0.0 {
                covariance[i][i].max(1e-12 * greatest)
            } else {
                observed[i].mean.abs().max(1e-300)
            };
            row[i] = covariance[i][i] + if greatest > 0.0 { part * own } else { own * own };
        }
        if let Ok(l) = dense::cholesky(&helped, 1e-15) {
            return (l, noise);
        }
    }
    let root = |i: usize, j: usize| if i == j { helped[i][i].max(f64::MIN_POSITIVE).sqrt() } else { 0.0 };
    let n = covariance.len();
    ((0..n).map(|i| (0..n).map(|j| root(i, j)).collect()).collect(), noise)
}

fn slopes(above: &[f64], below: &[f64], step: f64) -> Vec<f64> {
    above.iter().zip(below).map(|(above, below)| (above - below) / (2.0 * step)).collect()
}

/// `a`, `a and b`, `a, b and c`.
fn listed(names: &[String]) -> Phrase {
    match names {
        [] => "".into(),
        [only] => only.into(),
        [first @ .., last] => phrase!(FORMAT_LIST, first = first.join(", "), last = last),
    }
}

/// How often the weights are taken anew at what was found.
const REWEIGHTED: usize = 3;
const MOST_STEPS: usize = 60;
/// What is left of a scaled diagonal where givens act in the same way, for all that the slopes' own error says.
const IDENTIFIABLE: f64 = 1e-8;
/// How near readings are met where as many givens are fitted as values were read.
const MET: f64 = 1e-7;
