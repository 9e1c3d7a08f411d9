//! Correlated givens: a joint normal copula. Each correlated given gets a normal score; the scores are mixed so that they
//! have the stated correlations, and each is turned back into a uniform number for its own distribution (JCGM 101, 6.4.8,
//! for normal scores; R. B. Nelsen, An Introduction to Copulas).

use super::{
    normal::{normal_probability, normal_quantile},
    random::Stream,
};
use crate::program::Program;

/// How correlated sources are drawn.
#[derive(Clone, Debug, Default)]
pub(crate) struct Copula {
    /// The correlated sources, in order.
    sources: Vec<u32>,
    streams: Vec<Stream>,
    /// The lower triangle of the Cholesky factor, row by row.
    factor: Vec<Vec<f64>>,
}

impl Copula {
    /// The copula of a program's correlations.
    ///
    /// # Errors
    /// The sources of a set of correlations that cannot all hold at once (not positive semi-definite).
    pub(crate) fn new(program: &Program, seed: u64) -> Result<Self, Vec<u32>> {
        let mut sources: Vec<u32> = program.correlations.iter().flat_map(|(a, b, _)| [*a, *b]).collect();
        sources.sort_unstable();
        sources.dedup();
        let at = |source: u32| sources.binary_search(&source).unwrap_or(0);
        let n = sources.len();
        let mut matrix: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
        for (a, b, r) in &program.correlations {
            let (i, j) = (at(*a), at(*b));
            matrix[i][j] = *r;
            matrix[j][i] = *r;
        }
        let factor = cholesky(&matrix).ok_or_else(|| sources.clone())?;
        let streams = sources.iter().map(|source| Stream::new(seed, &program.sources[*source as usize])).collect();
        Ok(Self { sources, streams, factor })
    }

    /// How many sources are correlated.
    pub(crate) fn width(&self) -> usize {
        self.sources.len()
    }

    /// The column of a source's uniform numbers, if it is correlated.
    pub(crate) fn column(&self, source: u32) -> Option<usize> {
        self.sources.binary_search(&source).ok()
    }

    /// The correlation of two sources.
    pub(crate) fn between(&self, a: u32, b: u32) -> f64 {
        if a == b {
            return 1.0;
        }
        match (self.column(a), self.column(b)) {
            (Some(i), Some(j)) => self.factor[i].iter().zip(&self.factor[j]).map(|(x, y)| x * y).sum(),
            _ => 0.0,
        }
    }

    /// Fills the columns with correlated uniform numbers for the builds `first` to `first + count`.
    pub(crate) fn fill<const N: usize>(&self, columns: &mut [[f64; N]], first: u64, count: usize) {
        if self.sources.is_empty() {
            return;
        }
        let mut scores = vec![0.0; self.width()];
        for i in 0..count {
            for (score, stream) in scores.iter_mut().zip(&self.streams) {
                *score = normal_quantile(stream.uniform(first + i as u64));
            }
            for (column, row) in columns.iter_mut().zip(&self.factor) {
                let mixed: f64 = row.iter().zip(&scores).map(|(weight, score)| weight * score).sum();
                // Kept clear of 0 and 1, where a distribution without bounds has no value.
                column[i] = normal_probability(mixed).clamp(1e-300, 1.0 - f64::EPSILON / 2.0);
            }
        }
    }
}

/// The Cholesky factor of a symmetric matrix, zero rows allowed; `None` where it is not positive semi-definite.
fn cholesky(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    const SLACK: f64 = 1e-10;
    let n = matrix.len();
    let mut factor = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let sum: f64 = (0..j).map(|k| factor[i][k] * factor[j][k]).sum();
            let rest = matrix[i][j] - sum;
            if i == j {
                if rest < -SLACK {
                    return None;
                }
                factor[i][i] = rest.max(0.0).sqrt();
            } else if factor[j][j] > SLACK.sqrt() {
                factor[i][j] = rest / factor[j][j];
            } else if rest.abs() > SLACK.sqrt() {
                return None;
            }
        }
    }
    Some(factor)
}

#[cfg(test)]
mod tests {
    use super::cholesky;

    #[test]
    fn impossible_correlations_are_refused() {
        let matrix = |a: f64, b: f64, c: f64| vec![vec![1.0, a, b], vec![a, 1.0, c], vec![b, c, 1.0]];
        assert!(cholesky(&matrix(0.9, 0.9, 0.7)).is_some());
        assert!(cholesky(&matrix(0.9, -0.9, 0.9)).is_none());
        assert!(cholesky(&matrix(1.0, 1.0, 1.0)).is_some());
        assert!(cholesky(&matrix(1.0, 1.0, 0.5)).is_none());
    }
}
