//! A fixed number of fuzzed inputs, and those that once went wrong. `cargo run --release -p benchleaf-tests --example fuzz`
//! runs as many as wanted; an input that fails here is named by its number.
#![allow(clippy::unwrap_used)]

use std::{
    io::{Seek, Write},
    panic::catch_unwind,
    path::Path,
    process::Command,
};

use benchleaf_core::parallel;
use benchleaf_tests::fuzzing::{TARGETS, request, target_of};

#[test]
fn no_input_breaks_what_must_hold() {
    let numbers: Vec<u64> = (0..INPUTS).collect();
    let tried = parallel::each_alone(&numbers, |number| {
        let target = target_of(*number);
        let input = (target.input)(*number);
        let failed = catch_unwind(|| (target.run)(&input)).is_err();
        failed.then(|| format!("input {number}, {}: {:?}", target.name, String::from_utf8_lossy(&input)))
    });
    let wrong: Vec<String> = tried.into_iter().flatten().collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Inputs that once broke something, each as small as it was made.
#[test]
fn what_broke_once_does_not_break_again() {
    let junk = "{".repeat(3000) + &"{ ".repeat(300);
    let cases: &[(&str, &str)] = &[
        // Builds whose sum overflows were added without end.
        ("page", "```calc\nx = 1 kΩ ± 1e308 %\ny = preferred_above(E12, x)\nkeep y below 2 kΩ\n```\n"),
        // A search climbed towards a pole in steps too small to end.
        (
            "expression",
            "(((atan2(V, V) - clamp(n, k, n)))^-0.5) * (clamp((123.625 A) * (R) / preferred_below(E192, V), \
             min((n) * (n), abs(n)), (n / (k) - abs(n))))",
        ),
        // The span of an axis overflowed, and its ticks stood nowhere.
        (
            "page",
            "```calc\nV = 75 mV ± 1e308 % triangular\nC = 1e233 F ± 5 %\n```\n\n```plot\nV against C from 208 F to 1e16 F\n```\n",
        ),
        // The last tick of an axis overflowed.
        (
            "page",
            "```calc\nV = 1 V ± 5 %\nk = 2 ± 1\n```\n\n```plot\nV * k against k from -5e-324 to 1.7976931348623157e308\n```\n",
        ),
        // Markdown has another character in the place of NUL, and a warning stood beyond the end.
        ("worksheet", "```calc\0"),
        // Raw tags outlasted the element that they stood in.
        ("page", "[where the <b> V](a.md), *a <i>b* c</i>\n\n- a <b>\n  - c\n"),
        // A page without a title did not hold against its worksheet, which does not know its file's name.
        ("folder", "```calc\nx = 1 V\n```\n"),
        // Every character without a meaning quoted its whole line, on a page of hundreds of megabytes.
        ("quantity", &junk),
    ];
    for (target, input) in cases {
        let target = TARGETS.iter().find(|known| known.name == *target).unwrap();
        (target.run)(input.as_bytes());
    }
    let page = |source: &str| benchleaf::render_worksheet(source, "x", &benchleaf_tests::SETTING).unwrap().html.len();
    assert!(page(&format!("```calc\nx = {junk}\n```\n")) < 2_000_000);
}

/// A block inside another one is not shown. What is wrong in it once went to either of the two, by which thread came first.
#[test]
fn a_page_is_the_same_however_its_blocks_are_shared_out() {
    let source = "```warning\n```calc\nx = y\n```\n\n```notice\n```calc when\n```\nText {x}.\n";
    let page = || parallel::with_threads(4, || benchleaf::render_worksheet(source, "x", &benchleaf_tests::SETTING));
    let first = page().unwrap().html;
    assert!(first.contains("E-unclosed"));
    for _ in 0..200 {
        assert_eq!(page().unwrap().html, first);
    }
}

/// The engine inside published pages, over requests with the same kinds of worksheets.
#[test]
#[ignore = "needs node: run tests/run"]
fn no_request_ends_the_module_of_a_page() {
    let web = Path::new(env!("CARGO_MANIFEST_DIR")).join("../engine/web");
    let mut requests = tempfile::tempfile().unwrap();
    for number in 0..REQUESTS {
        let request = request(number);
        requests.write_all(&(request.len() as u32).to_le_bytes()).unwrap();
        requests.write_all(&request).unwrap();
    }
    requests.rewind().unwrap();
    let mut node = Command::new("node");
    node.arg(web.join("tests/requests.js")).arg(web.join("dist")).stdin(requests);
    let output = node.output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{said}{}", String::from_utf8_lossy(&output.stderr));
}

/// A quarter of a minute in the module.
const REQUESTS: u64 = 3_000;

/// Half a minute on two cores without optimisation.
const INPUTS: u64 = 8_000;
