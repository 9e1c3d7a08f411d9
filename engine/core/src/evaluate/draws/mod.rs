//! Random numbers: the draws of each given, and how correlated givens are drawn together.

mod copula;
mod normal;
mod random;
mod student;

pub(super) use copula::Copula;
pub(super) use random::{Stream, draw, fill, moments, numbered};
pub(super) use student::student_quantile;
