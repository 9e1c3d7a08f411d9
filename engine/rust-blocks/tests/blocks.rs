//! Rust blocks as a user meets them: worksheets go through the program `benchleaf`, which starts `benchleaf-rust` from the
//! same folder. Needs both programs (`cargo build -p benchleaf`), a Rust toolchain, and the first time
//! the network. What is built for the blocks is kept under the build folder.

#![allow(clippy::unwrap_used, clippy::panic)]

use std::{
    path::{Path, PathBuf},
    process::{Command, Output},
    sync::atomic::{AtomicU32, Ordering},
    time::{Duration, Instant},
};

use serde_json::{Value as Json, json};

/// Lines before and after blocks, as a worksheet has them.
const GIVENS: &str = "# Test\n\n```calc\nR = 100 kΩ ± 5 %\nC = 100 µF -20 % +50 %\nV = 12 V\n```\n\n";

#[test]
fn results_are_values_like_any_other_to_the_last_bit() {
    let found = check(&format!(
        "{GIVENS}```rust calc -> t_rust [s] \"by the block\"\nlet t_rust = R * C * 2.0;\n```\n\n```calc\n\
         t_calc [s] = R * C * 2\nd = t_rust - t_calc\nkeep t_rust below 22 s\n```\n"
    ));
    assert_eq!(found.codes(), [""; 0], "{found:?}");
    let (block, formula) = (found.value("t_rust"), found.value("t_calc"));
    for key in ["si", "worst", "std", "interval95"] {
        assert_eq!(block[key], formula[key], "{key}");
    }
    assert!(block["worst"].is_array() && block["std"].is_number(), "{block}");
    assert_eq!((&block["label"], &block["dimension"]), (&"by the block".into(), &"T".into()));
    // What the tolerances of both have in common is one and the same.
    let difference = found.value("d");
    assert_eq!((difference["si"].as_f64(), difference["std"].as_f64()), (Some(0.0), Some(0.0)));
    assert_eq!(found.json["keeps"][0]["status"], "at-risk");
    assert_eq!(found.json["keeps"][0]["blame"], "C");
}

#[test]
fn loops_items_models_records_and_plain_numbers_work() {
    let found = check(&format!("{GIVENS}{LOOPS}"));
    assert_eq!(found.codes(), [""; 0], "{found:?}");
    assert_eq!(found.value("n")["si"], 7.0);
    assert_eq!(found.value("T_j")["si"], found.value("reg.junction")["si"]);
    assert_eq!((found.value("tau")["si"].as_f64(), found.value("v_2")["si"].as_f64()), (Some(1.5), Some(168.0)));
    assert_eq!(found.value("P")["si"], found.value("reg.dissipation")["si"]);
}

const LOOPS: &str = "```calc
reg = regulator.linear(input = V, output = 8 V, load = 60 mA, ambient = 35 °C, junction_to_ambient = 65 K/W)
```

```rust calc -> n, T_j [°C], tau [N·m]
fn doubled(v: ElectricPotential) -> ElectricPotential { v * 2.0 }
let mut n = 0;
for _ in 0..7 {
    n += 1;
}
let T_j = reg.junction;
let tau = Force::new::<force::newton>(3.0) * Length::new::<length::meter>(0.5);
```

```rust calc -> v_2 [V], P [mW]
// The function is of the block above.
let v_2 = doubled(V) * n;
let kelvin_per_watt = |x| ThermalResistance::new::<thermal_resistance::kelvin_per_watt>(x);
let celsius = |x| ThermodynamicTemperature::new::<thermodynamic_temperature::degree_celsius>(x);
let given = regulator::Linear {
    input: V,
    output: ElectricPotential::new::<electric_potential::volt>(8.0),
    load: ElectricCurrent::new::<electric_current::milliampere>(60.0),
    quiescent: ElectricCurrent::new::<electric_current::milliampere>(5.0),
    dropout: ElectricPotential::new::<electric_potential::volt>(2.0),
    ambient: celsius(35.0),
    junction_to_ambient: kelvin_per_watt(65.0),
    junction_to_case: kelvin_per_watt(5.0),
    case_to_sink: kelvin_per_watt(0.5),
    junction_limit: celsius(125.0),
};
let P = regulator::linear(&given).dissipation;
```
";

#[test]
fn a_unit_mistake_is_reported_at_the_author_s_own_line() {
    let found = check(&format!(
        "{GIVENS}```rust calc -> a [s]\n// A comment before.\nlet a = R * C;\nlet b =\n    R + C;\n```\n\n\
         ```rust calc -> c [s]\nlet c = R;\n```\n\n```rust calc -> e [s]\nlet f = 1;\n```\n\n\
         ```rust calc -> g [s]\nlet g = R * ;\n```\n\n```rust calc -> h [s]\nfn of() -> f64 {{ R.value }}\nlet h = R * C * of();\n```\n\n\
         ```calc\nsound = 2 * V\nhangs = 2 * a\n```\n"
    ));
    let reported: Vec<(u64, String)> = found.problems("E-rust").into_iter().map(|p| (line(&p), text(&p))).collect();
    let wanted = [
        (13, "this adds a capacitance (F) to a resistance (Ω)"),
        (16, "the fence says that `c` is a time (s), but the block gives a resistance (Ω)"),
        (20, "the block never sets `e`: it should hold `let e = …;`"),
        (25, "this does not read as Rust"),
        (29, "`R` is a value of the worksheet, which a function does not see: hand it over as an argument"),
    ];
    assert_eq!(reported, wanted.map(|(line, text)| (line, text.to_owned())), "{found:?}");
    let help = found.problems("E-rust")[0]["help"].as_str().unwrap().to_owned();
    assert!(help.starts_with("the compiler says: mismatched types [E0308]"), "{help}");
    // All else stands.
    assert_eq!(found.value("sound")["si"], 24.0);
    assert_eq!(line(&found.problems("E-depends-on-error")[0]), 35);
    assert_eq!(found.status, 2);
}

#[test]
fn whatever_a_block_does_to_itself_is_a_message_at_the_block() {
    let (mut sheet, mut wanted) = (GIVENS.to_owned(), Vec::new());
    for (i, (code, reported)) in [
        ("panic!(\"too {}\", \"wet\");", "the block stopped with a panic: too wet"),
        (
            "let v: Vec<u8> = vec![];\nlet w = v[R.value as usize];",
            "the block stopped with a panic: index out of bounds",
        ),
        ("std::process::abort();", "the block's process ended before it had a result"),
        ("std::process::exit(0);", "the block's process ended before it had a result"),
        ("loop { println!(\"again and again and again and again and again\"); }", "the block printed more than it may"),
        ("loop { print!(\"again and again and again\"); }", "the block printed more than it may"),
        (
            "let mut v = vec![];\nloop { v.push(vec![1u8; 1 << 20]); }",
            "the block asked for more memory than it may have",
        ),
        (
            "fn g(x: u64) -> u64 { if x == 0 { 0 } else { g(x + 1) + 1 } }\nprintln!(\"{}\", g(1));",
            "the block called itself",
        ),
        ("loop { std::thread::sleep(std::time::Duration::from_secs(1)); }", "the block ran longer than it may"),
        ("return;", "the block ended before its results were there"),
    ]
    .into_iter()
    .enumerate()
    {
        wanted.push((sheet.matches('\n').count() as u64 + 1, reported));
        sheet += &format!("```rust calc -> t_{i} [s]\n{code}\n#[allow(unreachable_code)]\nlet t_{i} = R * C;\n```\n\n");
    }
    sheet += "```rust calc -> whole [s]\nlet whole = R * C;\n```\n";
    let found = check(&sheet);
    let reported: Vec<(u64, String)> = found.problems("E-rust-run").into_iter().map(|p| (line(&p), text(&p))).collect();
    assert_eq!(reported.len(), wanted.len(), "{reported:#?}");
    for ((line, text), (fence, wanted)) in reported.iter().zip(&wanted) {
        assert!(text.starts_with(wanted), "{text}: {wanted} was wanted");
        assert!((*fence..fence + 4).contains(line), "{text} at {line}, its block at {fence}");
    }
    // A panic is reported at its line.
    assert_eq!((reported[0].0, reported[1].0), (wanted[0].0 + 1, wanted[1].0 + 2));
    assert_eq!(found.value("whole")["si"], 10.0);
}

#[test]
fn a_block_is_alone_in_the_world() {
    let secret = "BENCHLEAF_TEST_SECRET";
    let sheet = format!(
        "{GIVENS}```rust calc -> vars, ours, net\nlet vars = std::env::vars().filter(|(name, _)| name.contains(\"HOME\") || \
         name.contains(\"{secret}\")).count();\nlet ours = std::env::current_dir().is_ok_and(|place| place.ends_with(\"work\"));\n\
         let net = std::net::TcpStream::connect(\"127.0.0.1:9\").err().map_or(0, |error| error.raw_os_error().unwrap_or(0));\n```\n"
    );
    let found = check(&sheet);
    assert_eq!(found.codes(), [""; 0], "{found:?}");
    assert_eq!((found.value("vars")["si"].as_f64(), found.value("ours")["si"].as_f64()), (Some(0.0), Some(1.0)));
    // Where the system lets the network be denied, it is; and the page says which.
    let page = render(&sheet);
    let unreachable = found.value("net")["si"] == 101.0;
    assert_eq!(page.contains("and no network."), unreachable, "{}", found.value("net"));
    assert!(page.contains("Run with a cleared environment, 10 s a run at most"), "{page}");
}

#[test]
fn printed_text_and_series_are_on_the_page() {
    let sheet = format!(
        "{GIVENS}```rust calc -> series t [s] \"time\", series v [V] \"supply\"\nlet (mut t, mut v) = (vec![], vec![]);\n\
         for i in 0..5 {{\n    t.push(R * C * i as f64);\n    v.push(V * (-(i as f64)).exp());\n    println!(\"step {{i}} <b>\");\n}}\n```\n\n\
         ```plot\nv [mV] against t \"the reservoir\"\n```\n"
    );
    let page = render(&sheet);
    for part in ["step 0 &lt;b&gt;\nstep 1", "5 points", "the reservoir", "<svg"] {
        assert!(page.contains(part), "{part} is missing");
    }
    // 12 V at the start, in the data table behind the plot.
    assert!(page.contains("12000") || page.contains("12\u{202f}000") || page.contains("12 000"), "no 12000 mV");
    let apart = check(&format!(
        "{GIVENS}```rust calc -> series a [s], series b [V]\nlet a = vec![R * C];\nlet b = vec![V, V];\n```\n\n```plot\nb against a\n```\n"
    ));
    assert_eq!(apart.codes(), ["E-plot"]);
}

#[test]
fn builds_beyond_the_budget_are_left_out_and_the_page_says_so() {
    let sheet = format!(
        "+++\nsamples = 500000\n+++\n{GIVENS}```rust calc -> a [s]\nlet a = R * C;\n```\n\n```calc\nb = 2 * a\nc = 2 * R\n```\n"
    );
    let found = check(&sheet);
    assert_eq!(found.codes(), ["N-rust-nominal"], "{found:?}");
    assert!(found.value("b")["worst"].is_array() && found.value("b")["std"].is_null());
    assert!(found.value("c")["std"].is_number());
    assert!(render(&sheet).contains("builds were not simulated"));
}

#[test]
fn an_unchanged_worksheet_needs_no_compiler() {
    let sheet = format!("{GIVENS}```rust calc -> a [s]\nprintln!(\"said\");\nlet a = R * C;\n```\n");
    let now = std::time::SystemTime::UNIX_EPOCH.elapsed().unwrap().as_nanos();
    let fresh = sheet.replace("said", &format!("said {now}"));
    let first = check(&fresh);
    assert_eq!(first.codes(), [""; 0]);
    // Without a compiler on the path, the program that runs blocks would say that it cannot.
    let began = Instant::now();
    let again = check_with(&fresh, |command| command.env("PATH", "/nonexistent"));
    let took = began.elapsed();
    assert_eq!(first.json, again.json);
    assert!(took < Duration::from_secs(2), "{took:?}");
    let changed = check_with(&fresh.replace("R * C", "C * R"), |command| command.env("PATH", "/nonexistent"));
    assert_eq!(changed.codes(), ["N-rust-off"]);
    assert!(
        changed.problems("N-rust-off")[0]["message"].as_str().unwrap().contains("the Rust compiler is not installed")
    );
    assert_eq!(changed.status, 0, "nothing is wrong with the worksheet");
}

#[test]
fn a_killed_child_is_a_message_and_nothing_else_is_lost() {
    // The block kills the process that asked for it: the host, its parent.
    let found = check(&format!(
        "{GIVENS}```rust calc -> a [s]\nlet host = std::fs::read_to_string(\"/proc/self/status\").unwrap();\n\
         let host = host.lines().find_map(|line| line.strip_prefix(\"PPid:\")).unwrap().trim().to_owned();\n\
         std::process::Command::new(\"/bin/kill\").args([\"-9\", &host]).status().unwrap();\n\
         std::thread::sleep(std::time::Duration::from_secs(5));\nlet a = R * C;\n```\n\n\
         ```rust calc -> b [s]\nlet b = R * C;\n```\n"
    ));
    let reported = found.problems("E-rust-run");
    assert_eq!(reported.len(), 1, "{found:?}");
    assert!(text(&reported[0]).contains("the program that runs Rust blocks ended"), "{}", reported[0]);
    assert_eq!(found.value("b")["si"], 10.0);
}

#[test]
fn the_demonstration_worksheet_is_not_broken_where_its_block_runs() {
    let worksheets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../worksheets");
    let sheet = std::fs::read_to_string(worksheets.join("hold-up.md")).unwrap();
    // It links to these.
    for linked in ["loads.md", "motor-and-supply.md", "regulator.md", "whole-mister.md"] {
        std::fs::copy(worksheets.join(linked), folder().join(linked)).unwrap();
    }
    let found = check(&sheet);
    assert_eq!(found.codes(), [""; 0], "{found:?}");
    let keeps: Vec<(&Json, &Json)> =
        found.json["keeps"].as_array().unwrap().iter().map(|keep| (&keep["status"], &keep["proven"])).collect();
    // A proof does not reach through a Rust block; nothing was found that breaks these.
    let unproven = (&json!("at-risk"), &json!(false));
    assert_eq!(keeps, [(&json!("holds"), &json!(true)), unproven, unproven]);
    // The regulator alone has a formula, which the loop must come near to from below.
    let (both, regulator) =
        (found.value("V_end")["si"].as_f64().unwrap(), found.value("V_reg_only")["si"].as_f64().unwrap());
    assert!(both < regulator && both > regulator - 0.5, "{both} {regulator}");
    // Without the hygrometer the current is constant, and the loop is that formula but for rounding.
    let alone = check(&sheet.replace("P_hyg = 60 mW ± 20 %", "P_hyg = 0 mW"));
    let (loop_, formula) =
        (alone.value("V_end")["si"].as_f64().unwrap(), alone.value("V_reg_only")["si"].as_f64().unwrap());
    assert!((loop_ / formula - 1.0).abs() < 1e-9, "{loop_} {formula}");
}

/// What `benchleaf check --json` said of a worksheet.
#[derive(Debug)]
struct Found {
    json: Json,
    status: i32,
}

impl Found {
    fn value(&self, name: &str) -> &Json {
        let values = self.json["values"].as_array().unwrap();
        values.iter().find(|value| value["name"] == name).unwrap_or_else(|| panic!("no {name}: {self:#?}"))
    }

    fn problems(&self, code: &str) -> Vec<Json> {
        let problems = self.json["problems"].as_array().unwrap();
        problems.iter().filter(|problem| problem["code"] == code).cloned().collect()
    }

    fn codes(&self) -> Vec<&str> {
        self.json["problems"].as_array().unwrap().iter().map(|problem| problem["code"].as_str().unwrap()).collect()
    }
}

fn line(problem: &Json) -> u64 {
    problem["line"].as_u64().unwrap()
}

fn text(problem: &Json) -> String {
    problem["message"].as_str().unwrap().to_owned()
}

fn check(sheet: &str) -> Found {
    check_with(sheet, |command| command)
}

fn check_with(sheet: &str, set: impl Fn(&mut Command) -> &mut Command) -> Found {
    let path = written(sheet);
    let mut command = benchleaf();
    let output = set(command.args(["check", "--json", "--allow-rust"]).arg(&path)).output().unwrap();
    let json = serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", said(&output)));
    let mut found = Found { json, status: output.status.code().unwrap() };
    found.json["worksheet"] = "".into();
    found
}

fn render(sheet: &str) -> String {
    let path = written(sheet);
    let output = benchleaf().args(["render", "--allow-rust"]).arg(&path).output().unwrap();
    assert!(output.status.success(), "{}", said(&output));
    std::fs::read_to_string(path.with_extension("html")).unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Where the worksheets of these tests are written.
fn folder() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sheets");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn written(sheet: &str) -> PathBuf {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let number = COUNT.fetch_add(1, Ordering::Relaxed);
    let path = folder().join(format!("sheet-{}-{number}.md", std::process::id()));
    std::fs::write(&path, sheet).unwrap();
    path
}

fn benchleaf() -> Command {
    let program = Path::new(env!("CARGO_BIN_EXE_benchleaf-rust")).with_file_name("benchleaf");
    let program = program.with_extension(std::env::consts::EXE_EXTENSION);
    assert!(program.is_file(), "build the command line first: cargo build -p benchleaf");
    let mut command = Command::new(program);
    command
        .env("LC_ALL", "C")
        .env("XDG_CACHE_HOME", Path::new(env!("CARGO_TARGET_TMPDIR")).join("cache"))
        .env("BENCHLEAF_TEST_SECRET", "1");
    command
}
