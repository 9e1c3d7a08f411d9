//! Published pages as a validator and a browser meet them: those of the demonstration worksheets, and of worksheets that
//! are wrong.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use std::{
    ffi::OsString,
    fs,
    io::{BufRead, BufReader},
    path::Path,
    process::Command,
    sync::Arc,
};

use benchleaf::{
    Drawing, LiveEngine, Outcome, Progress, RawHtml, RenderSettings, Terminal, render_worksheet, render_worksheet_with,
};
use benchleaf_core::{
    exercise::Marker,
    host::{BlockCode, CompiledBlock, Fault, Host, Refusal, Run},
    sheet::Worksheet,
};
use benchleaf_page::exercises::{Attempt, attempt};
use benchleaf_tests::{
    SETTING,
    outside::{node, tests},
};
use serde_json::json;
use tempfile::TempDir;

/// The HTML standard, as `html-validate` holds pages against it; a page for every message among them.
#[test]
#[ignore = "needs html-validate: run tests/run"]
fn pages_are_valid_html() {
    let site = site(&["../worksheets", "messages", "errors.md"]);
    let mut validator = node(Some("html-validate"));
    succeeds(validator.args(["--config", ".htmlvalidate.json", "--formatter", "text"]).arg(site.path()));
}

/// At several widths, light and dark and in print: nothing wrong that `axe` can find (WCAG 2.2 AA), nothing wider than
/// the window, nothing fetched, nothing said on the console.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn pages_stand_in_a_browser() {
    let site = site(&["../worksheets", "errors.md"]);
    succeeds(node(None).arg("look.js").arg(site.path()));
}

/// A learner's way through exercises, in a page with its engine.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn exercises_are_gone_through_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    let setting = RenderSettings { samples: Some(1), engine: LiveEngine::Inside, ..SETTING };
    fs::write(folder.path().join("page.html"), render_worksheet(EXERCISES, "x", &setting).unwrap().html).unwrap();
    let worksheet = Worksheet::new(EXERCISES).0;
    let marker = Marker::new(&worksheet);
    let right = marker.expected(&marker.variant("pulse", Some("Ada")).unwrap()).unwrap().value();
    let answers = [
        ("twenty".to_owned(), "unreadable"),
        ("2,2 s".to_owned(), "decimal-comma"),
        ("22".to_owned(), "no-unit"),
        ("22 µF".to_owned(), "dimension"),
        (format!("{right:.3} ms"), "prefix"),
        (format!("{:.3} s", -right), "sign"),
        (format!("{:.3} s", right / 3f64.ln() * 2f64.ln()), "slip"),
        (format!("{:.3} s", right * 1.03), "close"),
        (format!("{:.3} s", right * 1.5), "wrong"),
        (format!("{right:.3} s"), "right"),
    ];
    let asked = Attempt { exercise: "pulse".to_owned(), learner: Some("Ada".to_owned()), ..Attempt::default() };
    let own = attempt(&worksheet, &asked, benchleaf_words::Words::ENGLISH).unwrap().inlines.remove(0).1;
    let number = own.split(['<', '>']).find(|part| part.ends_with("kΩ")).unwrap();
    let line = format!("Ada,pulse,{}", answers.last().unwrap().0);
    let scenario = json!({"answers": answers, "question": number, "line": line});
    fs::write(folder.path().join("scenario.json"), scenario.to_string()).unwrap();
    succeeds(node(None).arg("exercise.js").arg(folder.path()));
}

/// A reader changes givens, follows a link, saves; and what was saved verifies.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn pages_are_live_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = folder.path().join("page.md");
    fs::write(&sheet, LIVE).unwrap();
    succeeds_here(&["render".into(), sheet.into_os_string()]);
    let site = folder.path().join("site");
    succeeds_here(&["render".into(), tests().join("../worksheets").into(), "-o".into(), site.into_os_string()]);
    succeeds(node(None).arg("live.js").arg(folder.path()));
    for page in ["page.html", "mine.html"] {
        succeeds_here(&["verify".into(), folder.path().join(page).into_os_string()]);
    }
}

/// A page in German and a site around it, live: what follows a change is German too.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn a_page_in_another_language_is_live_in_it() {
    let folder = tempfile::tempdir().unwrap();
    let sheets = folder.path().join("sheets");
    fs::create_dir(&sheets).unwrap();
    let source = fs::read_to_string(tests().join("../worksheets/nebel.md")).unwrap();
    fs::write(sheets.join("nebel.md"), &source).unwrap();
    fs::write(folder.path().join("page.md"), &source).unwrap();
    fs::write(sheets.join("README.md"), "+++\ntitle = \"Blätter\"\nlang = \"de\"\n+++\n").unwrap();
    succeeds_here(&["render".into(), folder.path().join("page.md").into_os_string()]);
    let site = folder.path().join("site");
    succeeds_here(&["render".into(), sheets.into_os_string(), "-o".into(), site.into_os_string()]);
    succeeds(node(None).arg("german.js").arg(folder.path()));
    succeeds_here(&["verify".into(), folder.path().join("page.html").into_os_string()]);
}

/// Somebody builds by a page: what is ticked and read stays in the browser, and readings are judged.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn steps_are_followed_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    let other = STEPS.replace("# A divider", "# Another divider");
    let pages = [
        ("page", STEPS, LiveEngine::Inside),
        ("other", &other, LiveEngine::Inside),
        ("still", STEPS, LiveEngine::LeftOut),
    ];
    for (name, source, engine) in pages {
        write_sound(folder.path(), name, source, engine);
    }
    succeeds(node(None).arg("steps.js").arg(folder.path()));
}

/// Somebody looks at a circuit in a page, changes a value and saves the drawing.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn circuits_are_used_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    write_sound(folder.path(), "page", CIRCUIT, LiveEngine::Inside);
    succeeds(node(None).arg("circuit.js").arg(folder.path()));
}

/// A reader changes a value of a worksheet with runs over time: nominal values come at once, the rest follows.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn runs_over_time_show_nominal_values_first() {
    let folder = tempfile::tempdir().unwrap();
    write_sound(folder.path(), "page", OVER_TIME, LiveEngine::Inside);
    succeeds(node(None).arg("glance.js").arg(folder.path()));
}

/// Authors, links and a browser's memory that mean harm.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn nothing_hostile_runs_in_a_browser() {
    let payloads = include_str!("payloads.txt");
    let mut prose = String::new();
    let mut calc = "R_t = 910 kΩ ± 5 %\nt [s] = R_t * 22 µF\n".to_owned();
    for (number, payload) in payloads.lines().enumerate() {
        let label = payload.replace(['\\', '"'], "");
        prose.push_str(&format!(
            "{payload} {{t}}\n\n[a]({payload}) ![b]({payload})\n\n| {payload} |\n|---|\n| {payload} |\n\n"
        ));
        calc.push_str(&format!("x_{number} = 2 * t \"{label}\"\n"));
    }
    let first = payloads.lines().next().unwrap();
    let source = format!(
        "+++\ntitle = '{first}'\nsummary = '{first}'\nauthor = '{first}'\n+++\n\n```calc\n{calc}```\n\n\
         ```exercise ex\nask \"{first} {{R_t}}\"\nanswer [s] = t within 2 %\nhint \"{first}\"\nvary R_t in 100 kΩ … 820 kΩ E24\n```\n\n\
         ```warning when t > 1 s\n{first}\n```\n\n```plot\ntitle \"{first}\"\nt against R_t from 1 kΩ to 2 MΩ\n```\n\n{prose}"
    );
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("payloads.txt"), payloads).unwrap();
    for raw_html in [RawHtml::ShownAsText, RawHtml::Cleaned] {
        let setting = RenderSettings { samples: Some(100), engine: LiveEngine::Inside, raw_html, ..SETTING };
        for name in ["page.html", "other.html"] {
            fs::write(folder.path().join(name), render_worksheet(&source, first, &setting).unwrap().html).unwrap();
        }
        succeeds(node(None).arg("hostile.js").arg(folder.path()));
    }
}

/// No browser runs Rust: what follows from a block stays at its author's values, and says so once they do not hold.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn what_follows_from_rust_is_greyed_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    let setting = RenderSettings { engine: LiveEngine::Inside, ..SETTING };
    let page = render_worksheet_with(RUST, "page", &setting, &InThisProcess).unwrap();
    assert_eq!(page.evaluation.problems, []);
    fs::write(folder.path().join("page.html"), page.html).unwrap();
    succeeds(node(None).arg("rust.js").arg(folder.path()));
}

/// The preview: saves, errors, many tabs.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn a_preview_follows_its_files_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("pulse.md"), preview()).unwrap();
    fs::write(folder.path().join("other.md"), "# Other\n\n```calc\nx = 2 V ± 1 %\n```\n").unwrap();
    let (reader, mut writer) = std::io::pipe().unwrap();
    let arguments = ["benchleaf".into(), "serve".into(), folder.path().into(), "--port".into(), OsString::from("0")];
    // It ends with the test's process.
    std::thread::spawn(move || {
        let mut err = Vec::new();
        benchleaf::run(arguments, &mut Terminal::new(&mut writer, &mut err, Drawing::Plain, Progress::None));
    });
    let mut line = String::new();
    BufReader::new(reader).read_line(&mut line).unwrap();
    let url = line.split(": ").last().unwrap().trim();
    succeeds(node(None).arg("serve.js").arg(url).arg(folder.path()));
}

fn preview() -> String {
    format!(
        "# A pulse of {{t_on}}\n\nFirst words.\n\n```calc\nR_t = 910 kΩ ± 5 %  \"timing resistor\"\nC_t = 22 µF -20 % +50 %\n\
         t_on [s] = R_t * C_t * ln(3)  \"pulse\"\nkeep t_on below 40 s \"no flood\"\n```\n\n{}## The place\n\n\
         It is on for {{t_on}}.\n\n{}",
        "Words before.\n\n".repeat(30),
        "More words.\n\n".repeat(40)
    )
}

/// Runs a block that multiplies what it reads, without a compiler.
struct InThisProcess;

impl Host for InThisProcess {
    fn compile(&self, code: &BlockCode<'_>) -> Result<Arc<dyn CompiledBlock>, Refusal> {
        assert_eq!(code.code.trim(), "let t = R * C;\nlet n = vec![1.0, 2.0];\nprintln!(\"done\");");
        Ok(Arc::new(Product))
    }
}

#[derive(Debug)]
struct Product;

impl CompiledBlock for Product {
    fn once(&self, inputs: &[f64]) -> Result<Run, Fault> {
        let outputs = vec![inputs.iter().product()];
        let terms = "Run in the process of a test.".to_owned();
        Ok(Run { outputs, series: vec![vec![1.0, 2.0]], printed: "done".to_owned(), terms })
    }

    fn many(&self, inputs: &[f64], rows: usize) -> Result<Vec<f64>, Fault> {
        Ok(inputs.chunks(inputs.len() / rows).map(|row| row.iter().product()).collect())
    }
}

const RUST: &str = "# A pulse\n\n```calc\nR = 100 kΩ ± 5 %  \"resistor\"\nC = 10 µF ± 20 %  \"capacitor\"\nX = 2  \"times\"\nY = 2  \"apart\"\n\
    y = 2 * Y \"twice\"\nkeep y below 20 \"small\"\n```\n\n```rust calc -> t [s] \"time\", series n \"count\"\nlet t = R * C;\n\
    let n = vec![1.0, 2.0];\nprintln!(\"done\");\n```\n\n```plot\nn against n \"a line\"\n```\n\n\
    ```calc\nt_2 [s] = X * t \"twice the time\"\nz = 3 * Y \"in between\"\nkeep t_2 below 5 s \"soon\"\nkeep t above 0 s \"at all\"\n```\n\n\
    It takes {t}, and y is {y}.\n\n```warning when t_2 > 2 s\nIt takes {t_2}.\n```\n";

const LIVE: &str = "# A pulse of {t_on}\n\n```calc\nR_t = 910 kΩ ± 5 %  \"timing resistor\"\nC_t = 22 µF -20 % +50 %  \"timing capacitor\"\n\
    t_on [s] = R_t * C_t * ln(3)  \"pulse\"\nkeep t_on below 40 s \"no flood\"\n```\n\nIt is on for {t_on}.\n\n\
    ```warning when t_on > 50 s\nFor {t_on} it floods.\n```\n\n```plot\nt_on [s] against R_t from 100 kΩ to 2 MΩ\n```\n";

/// The exact time is R·C·ln 3; two slower states make the run long.
const OVER_TIME: &str = "# A charge\n\n```calc\nR = 10 kΩ ± 5 % \"resistor\"\nC = 10 µF ± 10 % \"capacitor\"\nV = 9 V ± 5 % \"supply\"\n\
    w = 40 rad/s ± 1 % \"ripple\"\n```\n\n\
    ```transient\nstate u = 0 V\nstate x = 1 V\nstate y = 0 V\nd u = (V - u) / (R * C)\nd x = w * y\nd y = -w * x\n\
    until u > 2/3 * V within 5 s\nt_end [s] = end \"time\"\nx_end [V] = last(x) \"ripple at that time\"\n```\n\n\
    ```calc\nkeep t_end below 1 s \"soon\"\ntwice = 2 * t_end\n```\n\nThat is {t_end}, {t_end:range}.\n";

const CIRCUIT: &str = "# A divider\n\n```calc\nV_s = 9 V ± 5 % \"supply\"\n\
    R_up = 20 kΩ ± 1 % \"upper resistor\"\nR_low = 10 kΩ ± 1 % \"lower resistor\"\nother = 2 * V_s\n```\n\n\
    ```circuit\ntitle \"A divider\"\nrail V_s\nnet middle\nV_s -> R_up @R1 -> middle -> R_low @R2 -> ground\n\
    middle -> capacitor @C1 -> ground\n```\n\n\
    ```calc\nV_m [V] = V_s * R_low / (R_up + R_low)\nI_m [mA] = I(@R2)\nkeep V_m below 4 V\n```\n";

const STEPS: &str = "# A divider\n\n```parts\nR_1 = 10 kΩ ± 1 %, 0.50 EUR, 50+ 0.30 EUR \"upper resistor\" @R1\nR_2 = 20 kΩ ± 1 % \"lower resistor\" @R2\n```\n\n\
    ```calc\nV_s = 9 V ± 5 % \"adapter\"\nV_m [V] = V_s * R_2 / (R_1 + R_2) \"middle\"\n```\n\n\
    ```warning when V_s > 15 V\nUp to {V_s:greatest}.\n```\n\n\
    ```steps\nstep \"Solder\"\nBoth are *alike*.\nplace @R1 @R2\ntime 10 min\ntools \"soldering iron\"\n\
    step \"Switch on\"\npower \"adapter\"\ncheck V_m at \"the middle\"\npause \"a minute\"\n```\n";

const EXERCISES: &str = "# Exercises\n\n```calc\nR_t = 910 kΩ ± 5 % \"timing resistor\"\nt_on [s] = R_t * 22 µF * ln(3) \"pulse\"\n```\n\n\
    ```exercise pulse\nask \"How long with {R_t}?\"\nanswer [s] = t_on within 2 %\n\
    slip \"used ln 2 for ln 3\" = R_t * 22 µF * ln(2)\nhint \"One.\"\nhint \"Two.\"\npoints 2\n\
    vary R_t in 100 kΩ … 820 kΩ E24\n```\n\n\
    ```exercise current\nask \"What current flows at first, from 12 V?\"\nanswer = 12 V / R_t\n```\n";

fn site(sources: &[&str]) -> TempDir {
    let site = tempfile::tempdir().unwrap();
    for source in sources.iter().map(|path| tests().join(path).into_os_string()) {
        let folder = site.path().join(Path::new(&source).file_stem().unwrap());
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let arguments = ["benchleaf".into(), "render".into(), source, "-o".into(), folder.into_os_string()];
        let outcome = benchleaf::run(arguments, &mut Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None));
        assert!(outcome <= Outcome::WorksheetError, "{}", String::from_utf8_lossy(&err));
    }
    site
}

fn succeeds_here(arguments: &[OsString]) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let arguments = std::iter::once("benchleaf".into()).chain(arguments.iter().cloned());
    let outcome = benchleaf::run(arguments, &mut Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None));
    let said = [String::from_utf8_lossy(&out), String::from_utf8_lossy(&err)].concat();
    assert!(outcome == Outcome::Fine, "{said}");
}

/// Writes the page of a worksheet that has nothing wrong with it.
fn write_sound(folder: &Path, name: &str, source: &str, engine: LiveEngine) {
    let page = render_worksheet(source, name, &RenderSettings { engine, ..SETTING }).unwrap();
    assert_eq!(page.evaluation.problems, []);
    fs::write(folder.join(format!("{name}.html")), page.html).unwrap();
}

fn succeeds(command: &mut Command) {
    let output = command.output().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    assert!(
        output.status.success(),
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}
