//! Chapter 9 of the guide: every code of [`Code::ALL`] with its meaning, a worksheet that earns it, what the engine says
//! to that worksheet, and a way out. Message and underline are the engine's own, at the moment of printing.

use std::{fmt::Write, sync::Arc};

use benchleaf_core::{
    Evaluator,
    host::{BlockCode, CompiledBlock, Fault, FileFault, Host, NoHost, Place, Refusal, Run},
    problem::{Code, MOST_LISTED, Problem, Severity},
    results::Evaluation,
};

/// The chapter as Markdown.
pub(crate) fn chapter() -> String {
    let mut text = HEAD.to_owned();
    for (severity, title) in [
        (Severity::Error, "## Errors\n\n"),
        (Severity::Warning, "## Warnings\n\nEvery value stands; have a look all the same.\n\n"),
        (Severity::Note, "## Notes\n\nNothing is wrong with the worksheet; something was left undone.\n\n"),
    ] {
        text.push_str(title);
        for code in Code::ALL.iter().filter(|code| code.severity() == severity) {
            entry(*code, &mut text);
        }
    }
    text.truncate(text.trim_end().len());
    text.push('\n');
    text
}

/// The codes that have no example that earns them.
pub(crate) fn unexplained() -> Vec<&'static str> {
    let explained = |code: Code| example(code).is_some_and(|example| earned(code, example.written).is_some());
    Code::ALL.iter().filter(|code| !explained(**code)).map(|code| code.text()).collect()
}

/// A code in use.
struct Example {
    /// Lines of a `calc` block; or a whole worksheet, where it begins with a fence or with metadata.
    written: &'static str,
    /// What to do.
    way_out: &'static str,
}

fn entry(code: Code, text: &mut String) {
    let _ = write!(text, "### {}\n\n{}", code.text(), code.meaning());
    let Some(example) = example(code) else {
        text.push_str(" The code is kept for that; this engine does not give it yet.\n\n");
        return;
    };
    let _ = write!(text, "\n\n");
    if let Some((source, evaluation, problem)) = earned(code, example.written) {
        let fence = if source.contains("```") && is_whole(example.written) { "````" } else { "```" };
        let _ = writeln!(text, "{fence}text\n{}{fence}\n", drawn(example.written, &source, &evaluation, &problem));
    }
    let _ = write!(text, "{}\n\n", example.way_out);
}

/// The worksheet, its evaluation and the first problem with this code.
fn earned(code: Code, written: &str) -> Option<(String, Evaluation, Problem)> {
    let written = match code {
        Code::MoreErrors | Code::MoreWarnings => &written.repeat(MOST_LISTED + 1),
        _ => written,
    };
    let source = if is_whole(written) { format!("{written}\n") } else { format!("```calc\n{written}\n```\n") };
    let evaluation = Evaluator::default().host(runner(code)).evaluate(&source);
    let problem = evaluation.problems.iter().find(|problem| problem.code == code)?.clone();
    Some((source, evaluation, problem))
}

/// Who runs the Rust blocks of an example: nobody, but where the message is about a run. There it is a stand-in, since no
/// compiler should be wanted to print a chapter; its words are those of the real one.
fn runner(code: Code) -> &'static dyn Host {
    match code {
        Code::RustRun => &Scripted(Script::Panics),
        Code::RustNominal => &Scripted(Script::TakesTooLong),
        Code::Reading | Code::Use => &Scripted(Script::HasFiles),
        _ => &NoHost,
    }
}

#[derive(Clone, Copy, Debug)]
enum Script {
    Panics,
    TakesTooLong,
    /// It has a file of readings and a worksheet, and runs nothing.
    HasFiles,
}

#[derive(Clone, Copy, Debug)]
struct Scripted(Script);

impl Host for Scripted {
    fn compile(&self, _: &BlockCode<'_>) -> Result<Arc<dyn CompiledBlock>, Refusal> {
        Ok(Arc::new(*self))
    }

    fn used(&self, _: &str) -> Result<String, FileFault> {
        Ok("```calc\nR_t = 910 kΩ ± 5 %\nt_on [s] = R_t * 22 µF * ln(3)\n```\n".to_owned())
    }

    fn read(&self, _: &str) -> Result<String, String> {
        Ok("date,R_t / kΩ\n2026-11-25,905\n2026-11-26,\"903,5\"\n".to_owned())
    }
}

impl CompiledBlock for Scripted {
    fn once(&self, inputs: &[f64]) -> Result<Run, Fault> {
        match self.0 {
            Script::Panics => {
                let said = "index out of bounds: the len is 3 but the index is 3";
                Err(Fault::panicked(said, Place::Code(34..65)))
            }
            Script::TakesTooLong | Script::HasFiles => Ok(Run { outputs: inputs.to_vec(), ..Run::default() }),
        }
    }

    fn many(&self, inputs: &[f64], rows: usize) -> Result<Vec<f64>, Fault> {
        match (self.0, rows) {
            (Script::Panics, _) => Ok(vec![f64::NAN; rows]),
            (Script::TakesTooLong | Script::HasFiles, 1) => Ok(inputs.to_vec()),
            (Script::TakesTooLong | Script::HasFiles, _) => Err(Fault::panicked("", Place::Whole)),
        }
    }
}

fn is_whole(written: &str) -> bool {
    written.starts_with("```") || written.starts_with("+++") || written.starts_with("# ")
}

/// The lines as written, the offending text underlined, and below it what the engine says.
fn drawn(written: &str, source: &str, evaluation: &Evaluation, problem: &Problem) -> String {
    let place = evaluation.lines.position(source, problem.span.start);
    let marked = problem.span.text(source).lines().next().unwrap_or("").chars().count().max(1);
    let mut text = String::new();
    for (index, line) in source.lines().enumerate() {
        let ours = is_whole(written) || !line.starts_with("```");
        // Of a worksheet with very many lines, the last ones before the place.
        if ours && (source.len() < LONG || (index < place.line && index + 4 > place.line)) {
            let _ = writeln!(text, "{line}");
        }
        if index + 1 == place.line {
            let _ = writeln!(text, "{}{}", " ".repeat(place.column - 1), "~".repeat(marked));
        }
    }
    let severity = match problem.severity() {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Note => "note",
    };
    let _ = write!(text, "\n{severity}: {}\n", problem.message.english());
    if let Some(help) = &problem.help {
        let _ = writeln!(text, "help: {}", help.english());
    }
    text
}

fn example(code: Code) -> Option<Example> {
    let (written, way_out) = match code {
        Code::Solve => (
            "```calc\nR_t = 120 kΩ\nC_t = 47 µF\nt_on [s] = R_t * C_t * ln(3)\nR_need = solve R_t so that t_on = 200 s from 15 kΩ to 250 kΩ\n```",
            "Widen the span until it holds the value, or narrow it around one of several; the message says which.",
        ),
        Code::Metadata => (
            "+++\ntitle = One shot\n+++\n# One shot",
            "Between the `+++` lines stands TOML: text goes between quotes, numbers stand bare. Chapter 10 lists the keys and \
             what each takes.",
        ),
        Code::MetadataKey => {
            ("+++\ntitel = \"One shot\"\n+++", "Take the key that the help names, or delete the line.")
        }
        Code::LanguageVersion => (
            "+++\nlanguage = 2\n+++",
            "The worksheet was written for a later engine. Use that one; or, if the number was a slip, set it to 1.",
        ),
        Code::Character => (
            "price = €0.45",
            "Most often a currency sign, a semicolon or a curly bracket. The help says what to write instead.",
        ),
        Code::Syntax => (
            "keep 5 V under 6 V",
            "Read the line against the form in the help. A line is one statement; one that goes on below must end in an \
             operator, a comma or an open bracket.",
        ),
        Code::Unclosed => {
            ("x = 2 * (3 + 4", "Close it. If the formula was to go on below, end the line in an operator.")
        }
        Code::DecimalComma => (
            "R = 4,7 kΩ",
            "Write a point. If the comma was meant to group thousands, leave it out or use an underscore: `10_000 Ω`.",
        ),
        Code::TwoReadings => (
            "R = 10K\nC = 4n7F",
            "`K` is the kelvin, and a part code's letter for kiloohms; `F` is the farad, and a tolerance letter. Put a blank \
             between the number and its unit, or write the tolerance out.",
        ),
        Code::ImpliedProduct => (
            "R = 4.7 kΩ\nx = 2 R",
            "Write the `*`. The same message comes for a word that has no place at the end of a line, such as a \
             distribution the language does not know.",
        ),
        Code::TooDeep => (
            "f(x) = f(x)\ny = f(1)",
            "A function that calls itself never ends; say it without. A formula of hundreds of brackets wants its parts \
             named on lines of their own.",
        ),
        Code::UnknownUnit => (
            "C = 22 uf",
            "Case matters: `mW` is a milliwatt, `MW` a megawatt, `F` a farad. Chapter 2 has the common units, chapter 10 \
             all of them.",
        ),
        Code::UnknownName => (
            "R_t = 120 kΩ\nt = R_1 * 47 µF",
            "Check the spelling, subscript included; then check the order: a value must be defined above its first use.",
        ),
        Code::UnknownFunction => (
            "x = sqroot(2)",
            "Chapter 10 lists the functions and models. A function of your own must stand above its first call.",
        ),
        Code::UnknownField => (
            "led = driver.led_resistor(supply = 9 V, forward = 2 V, current = 10 mA)\nR = led.resistanse",
            "Take the field that the help names; chapter 10 lists each model's fields.",
        ),
        Code::Redefined => (
            "```calc\nV_s = 9 V\nV_s = 5 V\n```",
            "A name means one thing in a whole worksheet, so that a reader may trust it. Choose a second name, with \
             another subscript.",
        ),
        Code::DependsOnError => {
            ("R = 10 foo\nI = 9 V / R", "Nothing is wrong here: mend the first message, and this one goes with it.")
        }
        Code::UnitMismatch => (
            "V_s = 9 V\nI = 20 mA\nx = V_s + I",
            "One of the two is not what you think it is. Read the units that the message names, and look for a product \
             that should be a quotient.",
        ),
        Code::KindMismatch => (
            "T_a = 25 °C\nT_j = T_a + 30 °C",
            "Both have the same unit but mean different things. A rise is in kelvin: `30 K`. For torque and energy, \
             frequency and angular velocity, the help says which factor is missing.",
        ),
        Code::TypeMismatch => (
            "x = if 9 V then 1 else 2",
            "A condition compares something: `V_s > 5 V`. A record stands for several values: name one of its fields.",
        ),
        Code::Arguments => (
            "led = driver.led_resistor(supply = 9 V, forward = 2 V)",
            "Functions take arguments by place, models by name. The help or chapter 10 gives the list.",
        ),
        Code::Exponent => (
            "A = 2 mm^2\nx = A ^ 0.725",
            "A unit can only be raised to a power that leaves whole or half exponents, known beforehand. Divide by a unit \
             first, as the help shows.",
        ),
        Code::Tolerance => (
            "T_a = 25 °C ± 10 %",
            "Give the tolerance in per cent or in the value's own unit, `min` before `typ` before `max`. Per cent of a \
             temperature, or of zero, has no meaning.",
        ),
        Code::Correlation => (
            "a = 5 V ± 1 %\nb = 2 * a\ncorrelation(a, b) = 0.5",
            "Name two different givens that both have a tolerance, and a number from -1 to 1. A result follows its givens \
             by itself and needs no correlation.",
        ),
        Code::NotFinite => (
            "V_f = 9 V\nV_s = 9 V\nR = 1 kΩ\nI = (V_s - V_f) / R\nt = 1 C / I",
            "Look at the values that go in: somewhere a divisor is zero, or a root or logarithm is fed a number that it \
             does not take. The message stands at the first such line; later ones refer back to it.",
        ),
        Code::Inline => (
            "# Pulse\n\nIt lasts {22 s}.",
            "An inline result is the name of a value, with a unit, a number of digits or `range` behind a colon. For a \
             brace in the text write two.",
        ),
        Code::Plot => (
            "```calc\nR = 10 kΩ\nt = R * 47 µF\n```\n```plot\nt against R from 0 Ω to 1 MΩ log\n```",
            "A curve runs along a given, from one end to another; a logarithmic axis cannot begin at zero; all curves of a \
             plot share their axes.",
        ),
        Code::Exercise => (
            "```calc\nR_t = 120 kΩ\nt_on [s] = R_t * 47 µF\n```\n```exercise pulse\nask \"How long is the pulse?\"\nanswer [s] = t_on within 2 %\nvary t_on in 4 s … 8 s\n```",
            "An exercise has a name of its own, asks something, and has one answer; what varies is a given; a slip comes to \
             something else than the answer. Chapter 6b has all of its lines.",
        ),
        Code::Part => (
            "```parts\nR_t = 910 kΩ ± 5 %, 0.25 W, 0.03 EUR \"timing resistor\" @R1\nR_b = 22 kΩ ± 5 %, 0.25 W, 0.03 EUR \"base resistor\" @R1\n```",
            "Each part on the board has a designator of its own; its prices are in one currency and rise with the number of pieces; \
             each of its ratings is given once. Chapter 5b has the whole form of a line.",
        ),
        Code::Constants => (
            "+++\nconstants = [\"t_on:ms:u8\"]\n+++\n```calc\nt_on = 22 s\n```",
            "What a constant is asked in must be a unit of its value, and what it comes to must fit its type. Chapter 8d has all \
             of its forms.",
        ),
        Code::Bench => (
            "```calc\nR_t = 910 kΩ ± 5 %\n```\n```bench R_t\n2026-11-31: 905 kΩ\n```",
            "A bench names the value that was read; each reading has its date and its unit, and what is fitted is a given that \
             the readings determine. Chapter 5c has all of its lines.",
        ),
        Code::Transient => (
            "```calc\nV_s = 5 V\nR = 10 kΩ\nC = 100 µF\n```\n```transient\nstate V_c = 0 V\nuntil V_c > 3 V within 20 s\nt_end = end\n```",
            "A block has states with a start and a rate each, and one end: an event with a longest time, or a time alone. What is \
             measured reads `end`, `max(…)`, `min(…)`, `first(…)`, `last(…)` or `at(…, time)`. A run that comes to nothing says at \
             which time. Chapter 5f has all of its lines.",
        ),
        Code::TransientNominal => (
            "```calc\nk = 1 ± 50 %\n```\n```transient\nstate x = 1\nd x = k*x^2/(1 s)\nuntil 0.9 s\nx_end = last(x)\n```",
            "Every simulated build is followed step by step, and an evaluation has a limit for this work. Beyond it the results \
             have a worst case but no builds, or their nominal value alone. Here many builds grow without bound, which takes \
             the most work.",
        ),
        Code::Build => (
            "```parts\nR_t = 910 kΩ ± 5 %, 0.03 EUR @R1\n```\n```builds\nbuild \"as it is\"\nbuild \"shorter\": R_t = 470 kΩ, without @R2\ncompare R_t, cost(100)\n```",
            "A build has a name of its own, changes givens, and adds or leaves out parts; the block names two builds at least and what \
             is compared. Chapter 5d has all of its forms.",
        ),
        Code::Step => (
            "```parts\nR_t = 910 kΩ ± 5 % @R1\n```\n```steps\nstep \"Solder the resistor\"\nplace @R11\n```",
            "A step has a name of its own, places parts that stand in a list of parts, each once, and reads values that vary. A \
             line that begins with one of the block's words is a statement; text begins with another one. Chapter 5e has all forms.",
        ),
        Code::Circuit => (
            "```calc\nV_rail = 9 V\nR_t = 910 kΩ\n```\n```circuit\nrail V_rail\nV_rail -> R_t -> C_t -> ground\n```",
            "Chapter 5g says how a circuit is written. What does not read is left out of the drawing, and everything else is \
             drawn.",
        ),
        Code::Rust => (
            "```rust calc -> cost [EUR]\nlet cost = 3;\n```",
            "The compiler does not accept the block, or the language cannot take in what its fence names. The message stands at \
             your own line, in words first and in the compiler's below; chapter 4b says what is in scope.",
        ),
        Code::RustRun => (
            "```calc\nn = 3\n```\n```rust calc -> last\nlet table = [1.0, 2.0, 3.0];\n\nlet last = table[n.value as usize];\n```",
            "The block compiled, ran, and came to nothing: it panicked, ran too long, or took too much of something. Look at the \
             line with the values of this worksheet in mind.",
        ),
        Code::MoreErrors => {
            ("x = §\n", "A slip at the top often makes many errors below it. Mend the first ones and look again.")
        }
        Code::RustOff => (
            "```calc\nR = 10 kΩ\n```\n```rust calc -> R_2 [Ω]\nlet R_2 = R * 2.0;\n```",
            "A Rust block is a program, and is run only where the person at the keyboard permits it; or something that it needs \
             is not installed. Chapter 4b explains both.",
        ),
        Code::RustAwaited => (
            "```calc\nR = 10 kΩ\n```\n```rust calc -> R_2 [Ω]\nlet R_2 = R * 2.0;\n```\n```calc\nkeep R_2 above 15 kΩ\n```",
            "It is evaluated once the block above is run. A requirement that waits is neither kept nor broken.",
        ),
        Code::RustNominal => (
            "```calc\nR = 10 kΩ ± 5 %\n```\n```rust calc -> R_2 [Ω]\nlet R_2 = R;\n```",
            "Ask for fewer samples, or make the block quicker: larger steps, less work a step.",
        ),
        Code::NearWord => (
            "```clac\nR = 10 kΩ\n```",
            "If you meant the engine's word, correct it. If the block is code in a language of that name, leave it: it is \
             shown untouched.",
        ),
        Code::Picture => (
            "```calc\nR = 10 kΩ\n```\n\n![The board from above](../board.jpg)",
            "Put the file into the worksheet's folder, as PNG, JPEG, WebP or SVG. Say between the square brackets what the \
             picture shows, for readers who do not see it.",
        ),
        Code::Link => (
            "```calc\nR = 10 kΩ\n```\n\nSee [the coil](#the-coill).\n\n## The coil",
            "Correct the link. A worksheet is linked to by its path, which begins at this worksheet, and a heading by its \
             words in lower case, joined by hyphens.",
        ),
        Code::Title => (
            "+++\ntitle = \"A lamp's current\"\nlanguage = 1\n+++\n\n# The lamp\n",
            "A page has one title. Where the first heading says the same as `title` it is not shown twice; case and the style of \
             apostrophes make no difference. A heading that differs is shown below the title.",
        ),
        Code::Shadows => (
            "h = 30 mm",
            "It is allowed, and from there on the name is yours. Rename it if a reader could take it for the constant.",
        ),
        Code::Validity => (
            "t = timing.one_shot(resistance = 100 kΩ, capacitance = 10 µF, supply = 30 V)",
            "The number is computed, but the model was not made for it. Change the build, or find another source for this \
             part of the sum and say so.",
        ),
        Code::CircuitCheck => (
            "```calc\nV_rail = 9 V\n```\n```circuit\nrail V_rail\nV_rail -> coil @K1 -> npn @Q1 -> ground\n@Q1.base -> ground\n```",
            "The circuit is drawn as it is written. Look at the place: chapter 5g says what is checked.",
        ),
        Code::Reading => (
            "```calc\nR_t = 910 kΩ ± 5 %\n```\n```bench R_t\nfrom \"log.csv\" column \"R_t / kΩ\"\n```",
            "The row stands in the table of readings with the reason, and the others count. Put it right in the file where it \
             is a slip of the pen.",
        ),
        Code::Use => (
            "use \"timing.md\": t_onn",
            "The help names the nearest value of that worksheet, or says what keeps it from being read. The path begins in the folder of \
             the worksheet that uses it.",
        ),
        Code::Unplaced => (
            "```parts\nR_t = 910 kΩ ± 5 % @R1 @R4\n```\n```steps\nstep \"Solder the resistor\"\nplace @R1\n```",
            "Who follows the steps would be left with this part in the hand. Place it in a step, or take its designator out of the \
             list where it has no place on the board.",
        ),
        Code::Unbounded => (
            "a = 1.00 V ± 10 %\nb = 0.95 V ± 10 %\ngain = 1 V / (a - b)",
            "Somewhere in the tolerances you divide by nothing. The build is as bad as it sounds: two nearly equal parts \
             are subtracted. Narrow the tolerances, or measure the difference itself.",
        ),
        Code::ZeroByZero => (
            "a = 0.05 ± 0.1\nratio = sin(a) / a",
            "There is one place in the tolerances at which nothing is divided by nothing, and near it the result stays where \
             it was. Write the formula so that the place has a value, or keep the given clear of it.",
        ),
        Code::MoreWarnings => ("```clac\n```\n\n", "Mend the first ones and look again."),
    };
    Some(Example { written, way_out })
}

/// A worksheet of more bytes is printed in part.
const LONG: usize = 2_000;

const HEAD: &str = r#"+++
title = "Messages"
summary = "Every message of the engine by its code: what it means, a worksheet that earns it, and a way out."
author = "The Benchleaf authors"
date = 2026-11-25
language = 1
+++

# Messages

A message names the place (file, line and column), marks the text that it is about, and carries a code. Codes that begin
with `E-` are errors: one value, or one block, could not be evaluated, and `check` and `render` end with status 2. Codes
that begin with `W-` are warnings, and those with `N-` only inform of what was left undone. In every case the page is written, the
message stands in it where the trouble is, and everything that does not depend on the trouble is evaluated.

Mend the first message first. One wrong unit makes everything below it unworkable, and each of these lines says so with
`E-depends-on-error`; they go when their cause goes.

This chapter is printed by the engine itself: below each code stands a small worksheet that earns it, the marked text,
and what the engine says.

"#;
