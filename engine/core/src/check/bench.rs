//! Readings of a value: held against its quantity, those of a file taken from its table, and what is to be fitted to them.

use std::{collections::HashMap, sync::Arc};

use benchleaf_words::{Phrase, phrase, phrase_count};

use super::{Binding, Checker, Typed, exercise::signed, literal::unit};
use crate::{
    problem::Code,
    program::Source,
    results::ReadingRow,
    sheet::{Bench, Carried, DatedReadings, FitRequest, Instrument, ReadingsFile},
    span::{Span, Spanned},
    table::{self, Row},
    units::{Kind, QuantityType, Unit, ValueType},
};

/// The readings of a value.
#[derive(Debug)]
pub(crate) struct CheckedBench {
    pub(crate) span: Span,
    pub(crate) label: Option<String>,
    /// Its place in the worksheet's values.
    pub(crate) value: usize,
    /// All readings, by their days; those of one day in the order of the worksheet.
    pub(crate) rows: Vec<ReadingRow>,
    pub(crate) instruments: Vec<CheckedInstrument>,
    pub(crate) fits: Vec<CheckedFit>,
}

/// What an instrument is good for.
#[derive(Debug)]
pub(crate) struct CheckedInstrument {
    /// How far off it may be, around zero: SI, or a fraction of the reading.
    pub(crate) source: Source,
    pub(crate) of: InstrumentOf,
}

/// What an instrument's uncertainty is a part of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum InstrumentOf {
    /// The same for all readings.
    Scale,
    /// In proportion to the reading.
    Reading,
}

/// Givens that are found from readings.
#[derive(Debug)]
pub(crate) struct CheckedFit {
    pub(crate) span: Span,
    /// Name, source, and place among the worksheet's values.
    pub(crate) givens: Vec<(String, u32, usize)>,
    /// The benches that their readings come from, by their places.
    pub(crate) benches: Vec<usize>,
}

impl Checker<'_> {
    /// Checks a bench; `None` where a problem was reported.
    pub(super) fn bench(&mut self, bench: &Bench, span: Span) -> Option<CheckedBench> {
        let (value, quantity) = self.readable(bench.subject.as_ref()?, Code::Bench)?;
        let mut rows = Vec::new();
        for dated in &bench.dated {
            self.dated(dated, quantity, &mut rows);
        }
        for file in &bench.files {
            self.readings_of(file, quantity, &mut rows);
        }
        rows.sort_by_key(|row| row.day);
        let instruments = bench.instruments.iter().filter_map(|one| self.instrument(one, quantity)).collect();
        // A fit may take the readings of this very bench.
        let this = self.checked.benches.len();
        self.checked.benches.push(CheckedBench {
            span,
            label: bench.label.clone(),
            value,
            rows,
            instruments,
            fits: Vec::new(),
        });
        let fits = bench.fits.iter().filter_map(|fit| self.fit(fit)).collect();
        let mut checked = self.checked.benches.remove(this);
        checked.fits = fits;
        Some(checked)
    }

    /// The place of a value that can be read on a bench or at a test point, and what quantity it is; `code` is that of the
    /// problem where there is no reading of it.
    pub(super) fn readable(&mut self, name: &Spanned<String>, code: Code) -> Option<(usize, QuantityType)> {
        let found = self.checked.values.iter().position(|value| value.name == name.item);
        let Some(place) = found else {
            let base = name.item.split('.').next().unwrap_or("");
            match self.names.get(base).map(|entry| &entry.binding) {
                Some(Binding::Failed) => {
                    let message = phrase!(CHECK_BENCH_COULD_NOT_BE_EVALUATED_SO, base = base);
                    self.depends(base, name.span, message);
                }
                Some(Binding::Record(..)) if base == name.item => {
                    let message = phrase!(CHECK_BENCH_HAS_SEVERAL_FIELDS, base = base);
                    let help = phrase!(CHECK_BENCH_NAME_THE_ONE_THAT_WAS, base = base);
                    self.fail_with_help(code, name.span, message, help);
                }
                Some(_) => {
                    let message = phrase!(CHECK_BENCH_IS_NOT_A_VALUE, name = name.item);
                    self.fail_with_help(code, name.span, message, phrase!(CHECK_BENCH_A_READING));
                }
                None => self.unknown_name(&name.item, name.span),
            }
            return None;
        };
        let ValueType::Quantity(quantity) = self.checked.values[place].typed.value_type else {
            let message = phrase!(CHECK_BENCH_IS_A_CONDITION, name = name.item);
            self.fail_with_help(code, name.span, message, phrase!(CHECK_BENCH_A_READING_IS_ONE_OF_A_QUANTITY));
            return None;
        };
        if name.item.contains('.') {
            self.checked.fields_read.insert(name.item.clone());
        }
        Some((place, quantity))
    }

    fn dated(&mut self, dated: &DatedReadings, quantity: QuantityType, rows: &mut Vec<ReadingRow>) {
        let line = self.line_of(dated.span);
        for expr in &dated.readings {
            let Some((written, negative)) = signed(expr) else { continue };
            let reading = match self.literal(written, negative) {
                None => Err(phrase!(CHECK_BENCH_IT_DOES_NOT_READ)),
                Some((_, found)) if !fits(found.quantity, quantity) => {
                    let message = phrase!(
                        CHECK_BENCH_THE_READING_IS_BUT,
                        found = found.quantity.describe_kind(),
                        wanted = quantity.describe_kind()
                    );
                    let why = phrase!(CHECK_BENCH_IT_IS, found = found.quantity.describe_kind());
                    self.fail_with_help(
                        Code::UnitMismatch,
                        expr.span,
                        message,
                        phrase!(CHECK_BENCH_GIVE_EVERY_READING_ITS_UNIT),
                    );
                    Err(why)
                }
                Some((si, _)) => Ok(si),
            };
            let reading = if dated.day.is_none() { Err(phrase!(CHECK_BENCH_IT_HAS_NO_DATE)) } else { reading };
            let written = expr.span.text(self.text).to_owned();
            rows.push(ReadingRow { day: dated.day, written, reading, line, file: None, label: dated.label.clone() });
        }
    }

    /// The readings of a file. A row that does not count is reported with its line, and kept.
    fn readings_of(&mut self, file: &ReadingsFile, quantity: QuantityType, rows: &mut Vec<ReadingRow>) {
        let path = &file.path.item;
        let carried = self.sheet.files.iter().find(|carried| *carried.path == **path);
        let text: Arc<str> = match carried {
            Some(Carried { text, .. }) => Arc::clone(text),
            None => match self.blocks.host().read(path) {
                Ok(text) => text.into(),
                // Why is not said: a page that is read back does not know, and must say the same.
                Err(_) => {
                    let message = phrase!(CHECK_BENCH_CANNOT_BE_READ, path = path);
                    let help = phrase!(CHECK_BENCH_IT_STANDS_BESIDE_THE_WORKSHEET);
                    return self.fail_with_help(Code::Bench, file.path.span, message, help);
                }
            },
        };
        let table = table::rows(&text);
        let Some((head, below)) = table.split_first() else {
            return self.fail(Code::Bench, file.path.span, phrase!(CHECK_BENCH_IS_EMPTY, path = path));
        };
        let Some(column) = self.column(head, &file.column, path) else { return };
        let date_head = file.date.clone().unwrap_or(Spanned { item: "date".to_owned(), span: file.path.span });
        let Some(date) = self.column(head, &date_head, path) else { return };
        let Some(unit) = self.unit_of_column(&file.column, quantity) else { return };
        let shared: Arc<str> = path.as_str().into();
        let mut refused = 0;
        for row in below {
            let cell = |at: usize| row.cells.get(at).map_or("", String::as_str);
            if !row.broken && cell(column).is_empty() && row.cells.len() == head.cells.len() {
                // A meter that was not read that day.
                continue;
            }
            let day = crate::day::Day::parse(cell(date));
            let reading = reading_in(row, head, cell(column), &unit);
            let reading = match day {
                None if reading.is_ok() => Err(phrase!(CHECK_BENCH_IS_NOT_A_DATE, cell = cell(date))),
                _ => reading,
            };
            if let Err(why) = &reading {
                refused += 1;
                if refused <= MOST_TOLD {
                    let message = phrase!(CHECK_BENCH_LINE_OF_DOES_NOT_COUNT, line = row.line, path = path, why = why);
                    let help = phrase!(CHECK_BENCH_CORRECT_IT_IN_THE_FILE);
                    self.fail_with_help(Code::Reading, file.span, message, help);
                }
            }
            let written = cell(column).to_owned();
            let file = Some(Arc::clone(&shared));
            rows.push(ReadingRow { day, written, reading, line: row.line, file, label: None });
        }
        if refused > MOST_TOLD {
            let rest = refused - MOST_TOLD;
            let message = phrase_count!(CHECK_BENCH_MORE_ROWS_DO_NOT_COUNT, rest, n = rest, path = path);
            self.fail_with_help(Code::Reading, file.span, message, phrase!(CHECK_BENCH_THE_TABLE_OF_READINGS_SAYS));
        }
        if below.is_empty() {
            self.fail(Code::Bench, file.path.span, phrase!(CHECK_BENCH_HOLDS_NO_ROW_BELOW, path = path));
        }
    }

    /// The place of a column by its head.
    fn column(&mut self, head: &Row, wanted: &Spanned<String>, path: &str) -> Option<usize> {
        let is_it = |cell: &str| cell.to_lowercase() == wanted.item.to_lowercase();
        let mut found = head.cells.iter().enumerate().filter(|(_, cell)| is_it(cell)).map(|(at, _)| at);
        match (found.next(), found.next()) {
            (Some(at), None) => return Some(at),
            (Some(_), Some(_)) => {
                let message = phrase!(CHECK_BENCH_HAS_TWO_COLUMNS, path = path, wanted = wanted.item);
                self.fail_with_help(Code::Bench, wanted.span, message, phrase!(CHECK_BENCH_GIVE_EACH_COLUMN_A_HEAD));
            }
            (None, _) => {
                let message = phrase!(CHECK_BENCH_HAS_NO_COLUMN, path = path, wanted = wanted.item);
                let heads: Vec<String> = head.cells.iter().take(MOST_HEADS).map(|cell| format!("`{cell}`")).collect();
                let help = phrase!(CHECK_BENCH_ITS_COLUMNS_ARE, heads = heads.join(", "));
                self.fail_with_help(Code::Bench, wanted.span, message, help);
            }
        }
        None
    }

    /// The unit in a column's head, `t_on / s` or `t_on [s]`, held against the value's quantity.
    fn unit_of_column(&mut self, head: &Spanned<String>, quantity: QuantityType) -> Option<Unit> {
        let symbol = unit_in(&head.item);
        let found = match symbol {
            None => Unit::one(),
            Some(symbol) => match unit(&Spanned { item: symbol.to_owned(), span: head.span }) {
                Ok(unit) => unit,
                Err(problem) => {
                    self.report(problem);
                    return None;
                }
            },
        };
        if fits(found.quantity, quantity) {
            return Some(found);
        }
        let message = phrase!(
            CHECK_BENCH_THE_COLUMN_IS_BUT,
            found = found.quantity.describe_kind(),
            wanted = quantity.describe_kind()
        );
        self.fail_with_help(Code::UnitMismatch, head.span, message, phrase!(CHECK_BENCH_THE_HEAD_OF_A_COLUMN));
        None
    }

    fn instrument(&mut self, instrument: &Instrument, quantity: QuantityType) -> Option<CheckedInstrument> {
        let half = &instrument.half;
        let (_, unit) = self.literal(half, false)?;
        let relative = unit.quantity == QuantityType::NUMBER && half.unit.is_some();
        let size = half.number * unit.factor;
        let point = quantity.kind == Kind::Temperature;
        let of = match unit.quantity {
            _ if relative && !point => InstrumentOf::Reading,
            found if fits(found, quantity) => InstrumentOf::Scale,
            found if point && found.kind == Kind::TemperatureDifference => InstrumentOf::Scale,
            found => {
                let message = phrase!(
                    CHECK_BENCH_THIS_IS_BUT_THE_VALUE,
                    found = found.describe_kind(),
                    wanted = quantity.describe_kind()
                );
                let help = phrase!(CHECK_BENCH_WHAT_AN_INSTRUMENT_IS_GOOD);
                self.fail_with_help(Code::Bench, half.span, message, help);
                return None;
            }
        };
        let source = Source {
            key: None,
            name: instrument.label.clone().unwrap_or_default(),
            nominal: 0.0,
            low: -size,
            high: size,
            distribution: instrument.distribution,
            degrees: instrument.degrees.unwrap_or(f64::INFINITY),
        };
        Some(CheckedInstrument { source, of })
    }

    fn fit(&mut self, fit: &FitRequest) -> Option<CheckedFit> {
        let givens: Vec<_> = fit.givens.iter().map(|given| self.fitted(given)).collect();
        let mut benches = Vec::new();
        let mut known = true;
        let mut by_value: HashMap<&str, Vec<usize>> = HashMap::new();
        for (place, bench) in self.checked.benches.iter().enumerate() {
            by_value.entry(&self.checked.values[bench.value].name).or_default().push(place);
        }
        let found: Vec<Option<Vec<usize>>> =
            fit.from.iter().map(|name| by_value.get(name.item.as_str()).cloned()).collect();
        for (name, places) in fit.from.iter().zip(found) {
            match places {
                Some(places) => benches.extend(places),
                None => {
                    let message = phrase!(CHECK_BENCH_THERE_ARE_NO_READINGS, name = name.item);
                    self.fail_with_help(
                        Code::Bench,
                        name.span,
                        message,
                        phrase!(CHECK_BENCH_THEY_STAND_IN_A_BLOCK, name = name.item),
                    );
                    known = false;
                }
            }
        }
        let givens = givens.into_iter().collect::<Option<Vec<_>>>()?;
        known.then_some(CheckedFit { span: fit.span, givens, benches })
    }

    /// A given that is to be found: its source and its place among the values.
    fn fitted(&mut self, given: &Spanned<String>) -> Option<(String, u32, usize)> {
        let name = &given.item;
        let Some(entry) = self.names.get(name).cloned() else {
            self.unknown_name(name, given.span);
            return None;
        };
        let place = self.checked.values.iter().position(|value| value.name == *name);
        match (entry.binding, entry.source, place) {
            (Binding::Value(Typed { value_type: ValueType::Quantity(_), .. }), Some(source), Some(place)) => {
                Some((name.clone(), source, place))
            }
            (Binding::Failed, ..) => {
                self.depends(name, given.span, phrase!(SHARED_COULD_NOT_BE_EVALUATED_SO, name = name));
                None
            }
            _ => {
                let help = phrase!(CHECK_BENCH_WHAT_IS_FOUND_FROM_READINGS);
                self.fail_with_help(Code::Bench, given.span, phrase!(SHARED_IS_NOT_A_GIVEN, name = name), help);
                None
            }
        }
    }
}

/// What a cell says in a unit, SI; or why it does not count.
fn reading_in(row: &Row, head: &Row, cell: &str, unit: &Unit) -> Result<f64, Phrase> {
    let (found, wanted) = (row.cells.len(), head.cells.len());
    if row.broken {
        return Err(phrase!(CHECK_BENCH_A_QUOTATION_MARK_IS_NOT));
    }
    if found != wanted {
        return Err(phrase_count!(CHECK_BENCH_IT_HAS_WHERE_THE_FIRST, found, n = found, wanted = wanted));
    }
    let plain = cell.replace(['−', '\u{2212}'], "-");
    match plain.parse::<f64>() {
        Ok(number) if number.is_finite() && plain.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) => {
            Ok(unit.to_si(number))
        }
        _ if cell.is_empty() => Err(phrase!(CHECK_BENCH_IT_HAS_NO_READING)),
        _ if plain.replacen(',', ".", 1).parse::<f64>().is_ok() => {
            Err(phrase!(CHECK_BENCH_IN_A_COMMA_STANDS_WHERE, cell = cell))
        }
        _ => Err(phrase!(CHECK_BENCH_IS_NOT_A_NUMBER, cell = cell)),
    }
}

/// The unit in a column's head: behind the last ` / `, or in brackets at its end; a unit may itself stand in brackets.
fn unit_in(head: &str) -> Option<&str> {
    if let Some((_, symbol)) = head.rsplit_once(" / ") {
        let symbol = symbol.trim();
        return Some(symbol.strip_prefix('(').and_then(|inside| inside.strip_suffix(')')).unwrap_or(symbol));
    }
    [('[', ']'), ('(', ')')]
        .into_iter()
        .find_map(|(open, close)| head.strip_suffix(close)?.rsplit_once(open).map(|parts| parts.1.trim()))
}

/// Whether a quantity can be given for another.
pub(super) fn fits(found: QuantityType, wanted: QuantityType) -> bool {
    found.dimension == wanted.dimension && found.kind.joined(wanted.kind).is_some()
}

/// Heads of columns that a message names.
const MOST_HEADS: usize = 12;
/// Rows of a file that are listed one by one.
const MOST_TOLD: usize = 8;
