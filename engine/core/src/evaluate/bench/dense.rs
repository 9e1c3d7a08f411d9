//! Small systems of linear equations with a symmetric matrix, by the decomposition of Cholesky.

/// The lower triangle L of a symmetric, positive definite matrix A = L Lᵀ; or the first row at which it is not positive
/// definite: what is left of its diagonal there is `least` of it or less.
pub(super) fn cholesky(a: &[Vec<f64>], least: f64) -> Result<Vec<Vec<f64>>, usize> {
    let n = a.len();
    let mut l = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let sum: f64 = (0..j).map(|k| l[i][k] * l[j][k]).sum();
            let left = a[i][j] - sum;
            if i == j {
                // Written so that NaN does not pass.
                if !(left > least * a[i][i] && left.is_finite()) {
                    return Err(i);
                }
                l[i][i] = left.sqrt();
            } else {
                l[i][j] = left / l[j][j];
            }
        }
    }
    Ok(l)
}

/// L⁻¹ b.
pub(super) fn forward(l: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let mut x: Vec<f64> = Vec::with_capacity(b.len());
    for (row, b) in l.iter().zip(b) {
        let i = x.len();
        let sum: f64 = row.iter().zip(&x).map(|(l, x)| l * x).sum();
        x.push((b - sum) / row[i]);
    }
    x
}

/// The solution of L Lᵀ x = b.
pub(super) fn solve(l: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let mut x = forward(l, b);
    for i in (0..x.len()).rev() {
        let sum: f64 = (i + 1..x.len()).map(|k| l[k][i] * x[k]).sum();
        x[i] = (x[i] - sum) / l[i][i];
    }
    x
}

/// The inverse of L Lᵀ.
pub(super) fn inverse(l: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let unit = |i: usize| (0..l.len()).map(|k| if k == i { 1.0 } else { 0.0 }).collect::<Vec<f64>>();
    (0..l.len()).map(|i| solve(l, &unit(i))).collect()
}

/// Jᵀ J and Jᵀ r of a matrix given by its rows.
pub(super) fn normal(rows: &[Vec<f64>], r: &[f64]) -> (Vec<Vec<f64>>, Vec<f64>) {
    let m = rows.first().map_or(0, Vec::len);
    let product = |i: usize, j: usize| rows.iter().map(|row| row[i] * row[j]).sum::<f64>();
    let matrix = (0..m).map(|i| (0..m).map(|j| product(i, j)).collect()).collect();
    let right = (0..m).map(|i| rows.iter().zip(r).map(|(row, r)| row[i] * r).sum()).collect();
    (matrix, right)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_solved_is_a_solution() {
        // Numbers from a linear congruential generator: no symmetry to hide behind.
        let mut seed = 12_345_u64;
        let mut number = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 40) as f64 / f64::from(1 << 24) - 0.5
        };
        for m in 1..7 {
            let rows: Vec<Vec<f64>> = (0..m + 2).map(|_| (0..m).map(|_| number()).collect()).collect();
            let right: Vec<f64> = (0..m + 2).map(|_| number()).collect();
            let (a, b) = normal(&rows, &right);
            let l = cholesky(&a, 1e-12).unwrap();
            let (x, inverse) = (solve(&l, &b), inverse(&l));
            for i in 0..m {
                let product: f64 = (0..m).map(|k| a[i][k] * x[k]).sum();
                assert!((product - b[i]).abs() < 1e-9, "{m}");
                // The inverse is symmetric, as the matrix is.
                for (j, column) in inverse.iter().enumerate() {
                    let product: f64 = a[i].iter().zip(column).map(|(a, x)| a * x).sum();
                    assert!((product - if i == j { 1.0 } else { 0.0 }).abs() < 1e-8, "{m}");
                }
            }
        }
        assert_eq!(cholesky(&[vec![1.0, 1.0], vec![1.0, 1.0]], 1e-9), Err(1));
        assert_eq!(cholesky(&[vec![f64::NAN]], 1e-9), Err(0));
    }
}
