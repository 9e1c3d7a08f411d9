//! The engine's studies for Python. What is natural there stands in `python/benchleaf/__init__.py`; this fills its arrays,
//! on the calling thread and without the interpreter's lock.

use std::path::PathBuf;

use benchleaf_core::{
    Options,
    host::NoHost,
    problem::{Code, Problem, Severity},
    sheet::Worksheet,
    span::LineIndex,
    study::{self, NoStudy, StudyChange, To},
};
use benchleaf_publish::folder::Folder;
use pyo3::{
    buffer::PyBuffer,
    create_exception,
    exceptions::{PyKeyError, PyValueError},
    prelude::*,
};

create_exception!(_benchleaf, WorksheetError, PyValueError, "The worksheet holds an error.");

#[pymodule]
fn _benchleaf(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("WorksheetError", module.py().get_type::<WorksheetError>())?;
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    module.add_class::<Study>()
}

/// A worksheet, checked for some of its values.
#[pyclass(frozen)]
#[derive(Debug)]
struct Study {
    study: study::Study,
}

#[pymethods]
impl Study {
    #[new]
    fn new(text: &str, path: PathBuf, values: Vec<String>) -> PyResult<Self> {
        let (worksheet, mut problems) = Worksheet::new(text);
        let study = study::Study::new(&worksheet, &values, &Options::default(), &Folder::of(&path, &NoHost));
        problems.retain(|problem| problem.severity() == Severity::Error);
        match study {
            Ok(study) if problems.is_empty() => Ok(Self { study }),
            Ok(_) => Err(errors(text, &problems)),
            Err(NoStudy::Errors(found)) => {
                problems.extend(found);
                Err(errors(text, &problems))
            }
            Err(NoStudy::Asked(problem)) => Err(refused(&problem)),
        }
    }

    /// The names of the values that are given.
    #[getter]
    fn values(&self) -> Vec<&str> {
        self.study.values().iter().map(|value| value.name.as_str()).collect()
    }

    /// The lines of the requirements.
    #[getter]
    fn keeps(&self) -> Vec<usize> {
        self.study.keeps().iter().map(|keep| keep.line).collect()
    }

    /// Fills arrays of `count` points: `values` (one for each name, SI), `broken` (one for each requirement) and `doubtful`.
    /// `texts` are changes for all points, `columns` those with a number (SI) for each point.
    #[allow(clippy::too_many_arguments)]
    fn vary(
        &self,
        py: Python<'_>,
        count: usize,
        texts: Vec<(String, String)>,
        columns: Vec<(String, PyBuffer<f64>)>,
        values: Vec<PyBuffer<f64>>,
        broken: Vec<PyBuffer<u8>>,
        doubtful: PyBuffer<u8>,
    ) -> PyResult<()> {
        let columns = columns
            .into_iter()
            .map(|(name, column)| Ok((name, column.to_vec(py)?)))
            .collect::<PyResult<Vec<(String, Vec<f64>)>>>()?;
        let points = py.detach(|| self.points(count, &texts, &columns));
        let points = points.map_err(|(point, problem)| match point {
            Some(point) => PyValueError::new_err(format!("point {point}: {}", said(&problem))),
            None => refused(&problem),
        })?;
        for (column, buffer) in points.values.iter().zip(&values) {
            buffer.copy_from_slice(py, column)?;
        }
        for (column, buffer) in points.broken.iter().zip(&broken) {
            buffer.copy_from_slice(py, column)?;
        }
        doubtful.copy_from_slice(py, &points.doubtful)
    }
}

/// Columns of results.
struct Points {
    values: Vec<Vec<f64>>,
    broken: Vec<Vec<u8>>,
    doubtful: Vec<u8>,
}

impl Study {
    /// The results, or what cannot be, with the point where it is one of many.
    fn points(
        &self,
        count: usize,
        texts: &[(String, String)],
        columns: &[(String, Vec<f64>)],
    ) -> Result<Points, (Option<usize>, Problem)> {
        let study = &self.study;
        let change = |name: &str, to| study.change(name, to).map_err(|problem| (None, problem));
        let fixed =
            texts.iter().map(|(name, text)| change(name, To::Text(text))).collect::<Result<Vec<StudyChange>, _>>()?;
        let column = || Vec::with_capacity(count);
        let mut results = Points {
            values: study.values().iter().map(|_| column()).collect(),
            broken: study.keeps().iter().map(|_| Vec::with_capacity(count)).collect(),
            doubtful: Vec::with_capacity(count),
        };
        let mut points = study.points();
        let mut changes = fixed.clone();
        for at in 0..count {
            changes.truncate(fixed.len());
            for (name, column) in columns {
                let si = column.get(at).copied().unwrap_or(f64::NAN);
                changes.push(study.change(name, To::Si(si)).map_err(|problem| {
                    let is_name = problem.code == Code::UnknownName;
                    ((!is_name).then_some(at), problem)
                })?);
            }
            let point = points.nominal(&changes);
            results.values.iter_mut().zip(point.values).for_each(|(column, value)| column.push(*value));
            results.broken.iter_mut().zip(point.broken).for_each(|(column, broken)| column.push(u8::from(*broken)));
            results.doubtful.push(u8::from(!point.doubts.is_empty()));
        }
        Ok(results)
    }
}

fn said(problem: &Problem) -> String {
    let help = problem.help.as_ref().map(|help| format!("; {}", help.english())).unwrap_or_default();
    format!("{}{help}", problem.message.english())
}

fn refused(problem: &Problem) -> PyErr {
    match problem.code {
        Code::UnknownName => PyKeyError::new_err(said(problem)),
        _ => PyValueError::new_err(said(problem)),
    }
}

fn errors(text: &str, problems: &[Problem]) -> PyErr {
    let lines = LineIndex::new(text);
    let each = problems.iter().map(|problem| {
        let line = lines.line(problem.span.start);
        format!("line {line}: {} ({})", said(problem), problem.code.text())
    });
    WorksheetError::new_err(each.collect::<Vec<String>>().join("\n"))
}
