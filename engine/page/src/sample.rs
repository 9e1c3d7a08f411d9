//! A whole sample worksheet, evaluated by hand: the page that it makes is checked as a whole, and written out for looking
//! at where `BENCHLEAF_SAMPLE` names a file.

use benchleaf_core::{
    Evaluation, Options, evaluate,
    lang::ast::*,
    problem::{Code, Problem},
    results::*,
    sheet::{Block, BlockBody, Note, Plot, Scale, Signal, markdown},
    span::Span,
    units::{DisplayUnit, ValueType, parse},
};
use pulldown_cmark::{CodeBlockKind, Event, Tag};

use crate::{
    PageOptions,
    draft::{E, call, literal, model, name, quantity, spanned, when},
    render,
};

const SOURCE: &str = include_str!("sample.md");

/// What one line of a calculation came to.
enum Came {
    To(&'static str, f64, Option<(f64, f64)>),
    Yes(bool),
    Fields(Vec<(&'static str, &'static str, &'static str, f64, Option<(f64, f64)>)>),
    Verdict(Box<Verdict>),
    Nothing,
    Wrong(&'static str, Code, &'static str, &'static str),
}

struct Bench {
    evaluation: Evaluation,
    statements: Vec<Vec<Statement>>,
    next_line: usize,
}

impl Bench {
    fn line(&mut self, body: StatementBody, label: &str, came: Came) {
        let id = StatementId(self.evaluation.outcomes.len() as u32);
        let (start, text) = self.statement_line();
        let span = Span::new(start, start + text.len());
        let label = (!label.is_empty()).then(|| label.to_owned());
        let quoted = match &body {
            StatementBody::Definition(definition) => definition.name.item.clone(),
            _ => String::new(),
        };
        let given = matches!(&body, StatementBody::Definition(definition) if definition.is_given());
        let role = if given { Role::Given } else { Role::Derived };
        let outcome = match came {
            Came::To(unit, nominal, worst) => {
                self.value(&quoted, label.clone(), span, role, unit, nominal, worst);
                Outcome::Value(self.evaluation.values.len() - 1)
            }
            Came::Yes(yes) => {
                self.value(&quoted, label.clone(), span, role, "", f64::from(u8::from(yes)), None);
                self.evaluation.values.last_mut().unwrap().value_type = ValueType::Condition;
                Outcome::Value(self.evaluation.values.len() - 1)
            }
            Came::Fields(fields) => {
                let first = self.evaluation.values.len();
                for (field, summary, unit, nominal, worst) in fields {
                    let full = format!("{quoted}.{field}");
                    self.value(&full, Some(summary.to_owned()), span, Role::Field, unit, nominal, worst);
                }
                Outcome::Record((first..self.evaluation.values.len()).collect())
            }
            Came::Verdict(verdict) => {
                self.evaluation.keeps.push(Verdict { span, label: label.clone(), ..*verdict });
                Outcome::Keep(self.evaluation.keeps.len() - 1)
            }
            Came::Nothing => Outcome::Stated,
            Came::Wrong(at, code, message, help) => {
                let from = start + text.find(at).unwrap();
                let problem = Problem::new(code, Span::new(from, from + at.len()), message).help(help);
                self.evaluation.problems.push(problem);
                Outcome::Failed
            }
        };
        self.evaluation.outcomes.push(outcome);
        self.statements.last_mut().unwrap().push(Statement { id, body, label, span });
    }

    /// The next line of a calculation in the source.
    fn statement_line(&mut self) -> (usize, &'static str) {
        let calc: Vec<(usize, &str)> =
            fences().into_iter().filter(|f| f.0 == "calc").flat_map(|f| lines(f.2)).collect();
        let line = calc[self.next_line];
        self.next_line += 1;
        line
    }

    #[allow(clippy::too_many_arguments)]
    fn value(
        &mut self,
        name: &str,
        label: Option<String>,
        span: Span,
        role: Role,
        unit: &str,
        nominal: f64,
        worst: Option<(f64, f64)>,
    ) {
        let unit = parse(unit).unwrap_or_else(benchleaf_core::units::Unit::one);
        let (quantity, si) = (unit.quantity, |x: f64| unit.to_si(x));
        let worst = worst.map(|(low, high)| extremes(si(low), si(high)));
        let nominal = si(nominal);
        self.evaluation.values.push(Value {
            name: name.to_owned(),
            label,
            span,
            role,
            value_type: ValueType::Quantity(quantity),
            unit: DisplayUnit::declared(unit),
            digits: 3,
            nominal,
            worst,
        });
    }

    fn define(&mut self, name: &str, value: E, tolerance: Option<Tolerance>, label: &str, came: Came) {
        let name = spanned(name.to_owned());
        self.line(StatementBody::Definition(Definition { name, unit: None, value: value.0, tolerance }), label, came);
    }

    fn keep(&mut self, subject: E, bound: KeepBound, label: &str, verdict: Verdict) {
        self.line(StatementBody::Keep(Keep { subject: subject.0, bound }), label, Came::Verdict(Box::new(verdict)));
    }
}

fn extremes(low: f64, high: f64) -> WorstCase {
    WorstCase { low, high, low_at: Vec::new(), high_at: Vec::new(), found: Found::Proven }
}

fn lines(content: Span) -> Vec<(usize, &'static str)> {
    let mut at = content.start;
    let mut lines = Vec::new();
    for line in SOURCE[content.start..content.end].split_inclusive('\n') {
        if !line.trim().is_empty() {
            lines.push((at, line.trim_end()));
        }
        at += line.len();
    }
    lines
}

/// Info string, whole span and content of each fence.
fn fences() -> Vec<(String, Span, Span)> {
    let mut found = Vec::new();
    for (event, range) in markdown(SOURCE, body_start()) {
        if let Event::Start(Tag::CodeBlock(CodeBlockKind::Fenced(info))) = event {
            let text = &SOURCE[range.clone()];
            let start = range.start + text.find('\n').unwrap() + 1;
            let end = range.start + text.trim_end().rfind("```").unwrap();
            found.push((info.to_string(), Span::new(range.start, range.end), Span::new(start, end)));
        }
    }
    found
}

fn body_start() -> usize {
    SOURCE.rfind("+++\n").unwrap() + 4
}

fn percent(x: &str) -> Option<Tolerance> {
    Some(tolerance(Bounds::Symmetric(literal(x, "%"))))
}

fn tolerance(bounds: Bounds) -> Tolerance {
    Tolerance { bounds, distribution: Distribution::Rectangular, span: Span::default() }
}

#[allow(clippy::too_many_arguments)]
fn verdict(
    unit: &str,
    nominal: f64,
    worst: (f64, f64),
    lower: Option<f64>,
    upper: Option<f64>,
    margins: (f64, f64),
    status: Status,
    blame: &str,
) -> Verdict {
    let unit = parse(unit).unwrap();
    let limit = |x: Option<f64>| x.map(|x| LimitValue { nominal: unit.to_si(x), tightest: unit.to_si(x) });
    Verdict {
        label: None,
        span: Span::default(),
        status,
        nominal: unit.to_si(nominal),
        worst: Some(extremes(unit.to_si(worst.0), unit.to_si(worst.1))),
        lower: limit(lower),
        upper: limit(upper),
        margin: Some(margins.0),
        margin_worst: Some(margins.1),
        blame: Some(blame.to_owned()),
        digits: 3,
        unit: DisplayUnit::declared(unit),
    }
}

fn evaluated() -> Evaluation {
    let mut evaluation = evaluate(SOURCE, &Options::default());
    evaluation.sheet.body_start = body_start();
    evaluation.sheet.metadata.summary =
        Some("A mister keeps a terrarium damp: one press, one spray of some twenty seconds.".to_owned());
    evaluation.sheet.metadata.author = Some("Bench notes".to_owned());
    evaluation.sheet.blocks.clear();
    evaluation.outcomes.clear();
    evaluation.problems.clear();
    let mut bench = Bench { evaluation, statements: vec![Vec::new()], next_line: 0 };

    // The timer.
    bench.define(
        "V_s",
        quantity("12", "V"),
        percent("5"),
        "supply, wall adapter",
        Came::To("V", 12.0, Some((11.4, 12.6))),
    );
    bench.define(
        "R_t",
        quantity("910", "kΩ"),
        percent("5"),
        "timing resistor",
        Came::To("kΩ", 910.0, Some((864.5, 955.5))),
    );
    let lossy = tolerance(Bounds::Asymmetric { below: literal("20", "%"), above: literal("50", "%") });
    bench.define(
        "C_t",
        quantity("22", "µF"),
        Some(lossy),
        "timing capacitor, electrolytic",
        Came::To("µF", 22.0, Some((17.6, 33.0))),
    );
    let drop = Tolerance {
        bounds: Bounds::MinTypMax {
            min: Some(literal("0.6", "V")),
            typ: Some(literal("0.7", "V")),
            max: Some(literal("0.85", "V")),
        },
        distribution: Distribution::Normal(2.0),
        span: Span::default(),
    };
    bench.define(
        "V_be",
        quantity("0.7", "V"),
        Some(drop),
        "base-emitter drop, datasheet",
        Came::To("V", 0.7, Some((0.6, 0.85))),
    );
    bench.define("n", quantity("2", ""), None, "relay contacts", Came::To("", 2.0, None));
    bench.define(
        "t_on",
        name("R_t") * name("C_t") * call("ln", [quantity("3", "")]),
        None,
        "pulse length",
        Came::To("s", 21.99, Some((16.7, 34.6))),
    );
    bench.keep(
        name("t_on"),
        KeepBound::Between(quantity("15", "s").0, quantity("30", "s").0),
        "long enough to mist, short enough not to flood",
        verdict("s", 21.99, (16.7, 34.6), Some(15.0), Some(30.0), (0.267, -0.154), Status::AtRisk, "C_t"),
    );
    bench.statements.push(Vec::new());

    // The driver.
    bench.define("I_c", quantity("72", "mA"), percent("10"), "coil current", Came::To("mA", 72.0, Some((64.8, 79.2))));
    let ohms = (name("V_s") - name("V_be")) / quantity("5", "mA");
    bench.define("R_b", call("preferred_below", [name("E24"), ohms]), None, "base resistor", Came::To("kΩ", 2.2, None));
    let sat = when(E::op(BinaryOp::Less, name("V_s"), quantity("9", "V")), quantity("0.3", "V"), quantity("0.2", "V"));
    bench.define("V_sat", sat, None, "saturation voltage", Came::To("mV", 200.0, None));
    let loss = (E::op(BinaryOp::Power, name("I_c"), quantity("2", "")) * name("R_b")
        + name("V_be") * name("I_c")
        + name("V_sat") * name("I_c")
        - -name("V_sat") * name("I_c"))
        / (quantity("1", "") + E::op(BinaryOp::Parallel, name("R_b"), name("R_t")) / name("R_t"));
    bench.define("P_b", loss, None, "loss in the driver, everything counted", Came::To("mW", 64.8, Some((50.0, 81.0))));
    let function = Function {
        name: spanned("f".to_owned()),
        parameters: vec![spanned("R".to_owned()), spanned("C".to_owned())],
        unit: None,
        value: (quantity("1", "") / (quantity("2", "") * name("π") * call("sqrt", [name("R") * name("C")]))).0,
    };
    bench.line(StatementBody::Function(function), "", Came::Nothing);
    bench.define(
        "saturated",
        E::op(BinaryOp::LessOrEqual, name("V_sat"), quantity("0.3", "V")),
        None,
        "switch is shut",
        Came::Yes(true),
    );
    bench.keep(
        name("V_s") / quantity("220", "Ω"),
        KeepBound::Below(quantity("60", "mA").0),
        "LED current",
        verdict("mA", 54.5, (51.8, 57.3), None, Some(60.0), (0.091, 0.0455), Status::Holds, "V_s"),
    );
    bench.keep(
        name("I_c"),
        KeepBound::Below(quantity("50", "mA").0),
        "what the pin can sink",
        verdict("mA", 72.0, (64.8, 79.2), None, Some(50.0), (-0.44, -0.584), Status::Broken, "I_c"),
    );
    bench.define(
        "t_wet",
        name("t_on") + name("V_s"),
        None,
        "",
        Came::Wrong(
            "t_on + V_s",
            Code::UnitMismatch,
            "a time (s) and a voltage (V) can't be added",
            "both sides of + need one unit; did you mean a product?",
        ),
    );
    let correlation = Correlation {
        first: spanned("V_s".to_owned()),
        second: spanned("V_be".to_owned()),
        coefficient: quantity("0.2", "").0,
    };
    bench.line(StatementBody::Correlation(correlation), "", Came::Nothing);
    bench.statements.push(Vec::new());

    // The regulator.
    let arguments = [
        ("input", name("V_s")),
        ("output", quantity("8", "V")),
        ("load", quantity("60", "mA") + name("I_c")),
        ("ambient", quantity("35", "°C")),
        ("junction_to_ambient", quantity("65", "K/W")),
    ];
    bench.define(
        "reg",
        model("regulator.linear", arguments),
        None,
        "regulator for the logic",
        Came::Fields(vec![
            ("dissipation", "heat in the regulator", "W", 0.528, Some((0.449, 0.64))),
            ("junction", "junction temperature", "°C", 69.3, Some((64.2, 118.0))),
            ("headroom", "voltage above dropout", "V", 2.0, Some((1.4, f64::INFINITY))),
        ]),
    );

    finish(bench)
}

fn finish(bench: Bench) -> Evaluation {
    let Bench { mut evaluation, statements, .. } = bench;
    let mut statements = statements.into_iter();
    for (info, span, content) in fences() {
        let (body, outcome) = match info.split(' ').next().unwrap() {
            "calc" => (BlockBody::Calc(statements.next().unwrap_or_default()), BlockOutcome::Calc),
            "plot" => {
                evaluation.plots.push(plot(span));
                (BlockBody::Plot(Plot::default()), BlockOutcome::Plot(evaluation.plots.len() - 1))
            }
            word @ ("danger" | "warning" | "caution" | "notice") => {
                let signal = [Signal::Danger, Signal::Warning, Signal::Caution, Signal::Notice]
                    .into_iter()
                    .find(|s| s.word() == word)
                    .unwrap();
                let quiet = info.contains("200 °C");
                let limit = if quiet { quantity("200", "°C") } else { quantity("100", "°C") };
                let condition = info.contains("when").then(|| E::op(BinaryOp::Greater, name("reg.junction"), limit).0);
                let met_by = if condition.is_some() && !quiet {
                    vec![("reg.junction".to_owned(), "118 °C".to_owned())]
                } else {
                    vec![]
                };
                evaluation.notes.push(NoteState {
                    signal,
                    span,
                    shown: !quiet,
                    condition: condition.as_ref().map(|_| span),
                    met_by,
                });
                (BlockBody::Note(Note { signal, condition }), BlockOutcome::Note(evaluation.notes.len() - 1))
            }
            _ => continue,
        };
        evaluation.sheet.blocks.push(Block { span, content, body });
        evaluation.block_outcomes.push(outcome);
    }
    let at = SOURCE.find("{t_off}").unwrap();
    evaluation.problems.push(
        Problem::new(Code::UnknownName, Span::new(at, at + 7), "no value is named t_off").help("did you mean t_on?"),
    );
    let at = SOURCE.find("clac").unwrap();
    evaluation
        .problems
        .push(Problem::new(Code::NearWord, Span::new(at, at + 4), "clac is shown as code").help("did you mean calc?"));
    evaluation.problems.sort_by_key(|problem| problem.span.start);
    evaluation
}

fn plot(span: Span) -> PlotData {
    let unit = |text: &str| DisplayUnit::declared(parse(text).unwrap());
    let curve = |capacitance: f64, label: &str| Curve {
        label: label.to_owned(),
        points: (0..=80)
            .map(|i| 1e5 * 20f64.powf(f64::from(i) / 80.0))
            .map(|x| x * capacitance * 3f64.ln())
            .zip((0..=80).map(|i| 1e5 * 20f64.powf(f64::from(i) / 80.0)))
            .map(|(y, x)| CurvePoint { x, y, low: 0.8 * y, high: 1.5 * y })
            .collect(),
        nominal: Some((910e3, 910e3 * capacitance * 3f64.ln())),
    };
    PlotData {
        span,
        title: Some("Pulse length over the timing resistor".to_owned()),
        x: Some(Axis { quantity: "R_t".to_owned(), unit: unit("kΩ"), scale: Scale::Logarithmic }),
        y: Some(Axis { quantity: "t_on".to_owned(), unit: unit("s"), scale: Scale::Linear }),
        curves: vec![curve(22e-6, "t_on"), curve(10e-6, "with 10 µF")],
        bounds: vec![
            BoundLine { value: 30.0, label: Some("flood".to_owned()) },
            BoundLine { value: 15.0, label: Some("dry".to_owned()) },
        ],
    }
}

#[test]
fn a_whole_page_is_sound() {
    let evaluation = evaluated();
    let page = render(&evaluation, SOURCE, &PageOptions::default());
    assert_eq!(page.title, "A mister that can’t flood");
    assert_eq!((page.tally.holds, page.tally.at_risk, page.tally.broken), (1, 1, 1));
    assert_eq!((page.tally.errors, page.tally.warnings), (2, 1));
    for banned in ["style=", "onclick", "<script", "NaN"] {
        assert!(!page.body.contains(banned), "{banned}");
    }
    // Every problem is told once, and the head's links lead somewhere.
    let all = format!("{}{}", page.head, page.body);
    for part in all.split("href=\"#").skip(1) {
        let id = part.split('"').next().unwrap();
        assert_eq!(all.matches(&format!("id=\"{id}\"")).count(), 1, "{id}");
    }
    if let Some(path) = std::env::var_os("BENCHLEAF_SAMPLE") {
        std::fs::write(path, filled(&page)).unwrap();
    }
}

fn filled(page: &crate::Page) -> String {
    let mut tera = tera::Tera::default();
    tera.add_raw_template("worksheet.html", include_str!("../../../templates/worksheet.html")).unwrap();
    let mut context = tera::Context::new();
    context.insert("lang", page.lang);
    context.insert("title", &page.title);
    context.insert("summary", &page.summary);
    context.insert("author", &page.author);
    context.insert("date", &page.date);
    context.insert("style", include_str!("../../../templates/style.css"));
    context.insert("head", &page.head);
    context.insert("body", &page.body);
    let foot: std::collections::BTreeMap<&str, &str> = [
        ("engine", "0.1.0"),
        ("language", "1"),
        ("hash", "sha256:5f1c0d9d2c6a7e14b0a1d3f2"),
        ("seed", "1"),
        ("samples", "10 000"),
        ("evaluated", "2026-11-25"),
    ]
    .into();
    context.insert("foot", &foot);
    tera.render("worksheet.html", &context).unwrap()
}
