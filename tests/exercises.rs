//! Exercises: what is said to an answer, in the order in which a good teacher says it; numbers of a learner's own; and
//! what an author reads about an exercise that cannot be set.
#![allow(clippy::unwrap_used, clippy::disallowed_methods)]

use std::collections::{BTreeMap, BTreeSet};

use benchleaf_core::{
    Evaluator, Options, assess,
    exercise::{Feedback, Marker, NotMarked},
    report::Report,
    sheet::Worksheet,
};
use benchleaf_tests::codes;
use proptest::prelude::*;

const GIVENS: &str =
    "R_t = 910 kΩ ± 5 %\nC_t = 22 µF -20 % +50 %\nV_s = 12 V\nT_a = 25 °C\nn = 3\nt_on [s] = R_t * C_t * ln(3)";

/// A worksheet with some givens and one exercise.
fn sheet(lines: &str) -> String {
    format!("# Sheet\n\n```calc\n{GIVENS}\n```\n\n```exercise ex1\n{lines}\n```\n")
}

/// What is said to an answer, where the exercise is sound.
#[track_caller]
fn said(lines: &str, answer: &str) -> Feedback {
    let source = sheet(lines);
    let evaluation = Evaluator::default().evaluate(&source);
    assert!(evaluation.problems.is_empty(), "{lines}\n{:#?}", evaluation.problems);
    assess(&source, "ex1", answer, None).unwrap()
}

const PULSE: &str = "ask \"How long?\"\nanswer [s] = t_on within 2 %\nslip \"used ln 2 for ln 3\" = R_t * C_t * ln(2)\n\
                     slip \"left ln 3 out\" = R_t * C_t\nhint \"One.\"\nhint \"Two.\"\npoints 2";

/// 910 kΩ · 22 µF · ln 3 = 21.994 s.
#[test]
fn answers_are_distinguished_in_the_order_of_a_good_teacher() {
    for (answer, word, part) in [
        ("22 s", "right", "Right."),
        ("21.99 s", "right", ""),
        ("22s", "right", ""),
        ("0.022 ks", "right", ""),
        ("22_000 ms", "right", ""),
        ("t_on = 22 s", "right", ""),
        ("= 22 s", "right", ""),
        ("≈ 22 s", "right", ""),
        (" 0.366 min ", "right", ""),
        ("2.2e1 s", "right", ""),
        ("22,0 s", "decimal-comma", "`22.0 s`"),
        ("22,000 ms", "decimal-comma", "not parted by commas"),
        ("1.234,5 s", "decimal-comma", "not parted by commas"),
        ("", "unreadable", "nothing is written here"),
        ("about 22 s", "unreadable", "it is no number with its unit"),
        ("twenty", "unreadable", "work it out and type the result"),
        ("2 * 11 s", "unreadable", "work it out"),
        ("22 s ± 1 s", "unreadable", "leave that out"),
        ("22 sec", "unreadable", "did you mean `s`?"),
        ("22 s s", "unreadable", ""),
        ("1e999 s", "unreadable", "too large"),
        ("22", "no-unit", "write `s`"),
        ("22 µF", "dimension", "That is a capacitance (F); the question wants a time (s)."),
        ("4k7", "dimension", "That is a resistance (Ω)"),
        ("22 ms", "prefix", "1000 times too small"),
        ("22 ks", "prefix", "1000 times too large"),
        ("220 s", "prefix", "10 times too large"),
        ("22e9 s", "prefix", "10⁹ times too large"),
        ("-22 s", "sign", "not the sign"),
        ("13.88 s", "slip", "A slip that others make too: used ln 2 for ln 3."),
        ("20.02 s", "slip", "left ln 3 out"),
        ("22.6 s", "close", "up to 2 times as much"),
        ("23.9 s", "close", "up to 5 times"),
        ("25 s", "wrong", "the number does not"),
        ("0 s", "wrong", ""),
    ] {
        let feedback = said(PULSE, answer);
        assert_eq!(feedback.word(), word, "{answer}: {feedback:?}");
        assert!(feedback.phrase().english().contains(part), "{answer}: {}", feedback.phrase().english());
        assert_eq!(feedback.points(), if word == "right" { 2.0 } else { 0.0 }, "{answer}");
    }
}

#[test]
fn kinds_are_distinguished_behind_one_unit() {
    let rise = "ask \"How warm?\"\nanswer [°C] = T_a + 40 K within 0.5 K";
    assert_eq!(said(rise, "65 °C").word(), "right");
    assert_eq!(said(rise, "65.4 °C").word(), "right");
    assert_eq!(said(rise, "66 °C").word(), "close");
    let kelvin = said(rise, "65 K");
    assert_eq!(kelvin.word(), "kind");
    assert!(
        kelvin.phrase().english().contains("a temperature difference (K); the question wants a temperature (°C)"),
        "{kelvin:?}"
    );
    assert_eq!(said(rise, "6.5 °C").word(), "wrong", "no power of ten on a scale whose zero is arbitrary");
    let torque = "ask \"How hard?\"\nanswer [N·m] = 2 N * 3 m within 1 %";
    assert_eq!(said(torque, "6 N·m").word(), "right");
    assert_eq!(said(torque, "6 J").word(), "kind");
    let absolute = "ask \"How warm?\"\nanswer [K] = T_a within 1 K";
    assert_eq!(said(absolute, "298 K").word(), "right");
    assert_eq!(said(absolute, "25 °C").word(), "right");
}

#[test]
fn plain_numbers_part_codes_and_defaults() {
    let count = "ask \"How many?\"\nanswer = n + 1 within 0.1";
    for (answer, word) in [("4", "right"), ("4.05", "right"), ("4.2", "close"), ("40", "prefix"), ("4 V", "dimension")]
    {
        assert_eq!(said(count, answer).word(), word, "{answer}");
    }
    assert_eq!(said(count, "4").points(), 1.0, "one point where nothing is said");
    let share = "ask \"How much?\"\nanswer [%] = 55 %";
    for (answer, word) in [("55 %", "right"), ("0.55", "right"), ("56 %", "right"), ("55", "prefix")] {
        assert_eq!(said(share, answer).word(), word, "{answer}");
    }
    let resistor = "ask \"Which?\"\nanswer [kΩ] = 4.7 kΩ within 2 %";
    for answer in ["4k7", "4k7J", "4.7 kΩ", "4700 ohm", "R = 4k7"] {
        assert_eq!(said(resistor, answer).word(), "right", "{answer}");
    }
    assert_eq!(said(resistor, "470R").word(), "prefix");
    assert_eq!(said(resistor, "4,7 kΩ"), Feedback::DecimalComma { written: Some("4.7 kΩ".to_owned()) });
    let current = "ask \"Which way?\"\nanswer [mA] = -V_s / 1 kΩ";
    assert_eq!(said(current, "-12 mA").word(), "right");
    assert_eq!(said(current, "−12 mA").word(), "right");
    assert_eq!(said(current, "12 mA").word(), "sign");
}

#[test]
fn what_cannot_be_marked_says_why() {
    let source = sheet(PULSE);
    let refused = assess(&source, "ex2", "22 s", None).unwrap_err();
    assert_eq!(refused.to_string(), "there is no exercise `ex2`; did you mean `ex1`?");
    let broken = sheet("ask \"How long?\"\nanswer [V] = t_on");
    assert_eq!(assess(&broken, "ex1", "22 s", None), Err(NotMarked::Unsound { name: "ex1".to_owned() }));
    let endless = sheet("ask \"How long?\"\nanswer = 1 / (n - 3)");
    assert!(matches!(assess(&endless, "ex1", "1", None), Err(NotMarked::NoValue { .. })));
}

const VARIED: &str = "ask \"How long with {R_t} and {C_t}?\"\nanswer [s] = t_on within 2 %\n\
                      vary R_t in 100 kΩ … 1 MΩ E24\nvary C_t in 10 µF ... 47 µF\nvary T_a in -10 °C … 40 °C";

#[test]
fn the_same_learner_has_the_same_numbers_and_another_has_others() {
    let source = sheet(VARIED);
    assert_eq!(codes(&Evaluator::default().evaluate(&source)), [""; 0]);
    let marker = Marker::new(&Worksheet::new(&source).0);
    let of = |learner: &str| marker.variant("ex1", Some(learner)).unwrap();
    assert_eq!(of("Ada"), of(" ADA "));
    assert_eq!(of("Ada  Lovelace"), of("ada lovelace"));
    assert_ne!(of("Ada").to_string(), of("Grace").to_string());
    // Written down, so that no later engine gives a learner other numbers.
    assert_eq!(of("Ada").to_string(), "R_t = 1 MΩ, C_t = 43 µF, T_a = 17 °C");
    assert_eq!(of("1017").to_string(), "R_t = 330 kΩ, C_t = 22 µF, T_a = 19 °C");
    assert!(marker.variant("ex1", None).unwrap().is_plain() && of("  ").is_plain());
    assert_eq!(assess(&source, "ex1", "22 s", None).unwrap().word(), "right", "the author's own numbers");
}

#[test]
fn numbers_are_of_their_series_or_of_two_digits_and_spread_over_the_span() {
    let marker = Marker::new(&Worksheet::new(&sheet(VARIED)).0);
    let mut found: BTreeMap<&str, BTreeMap<String, u32>> = BTreeMap::new();
    for learner in 0..2000 {
        let shown = marker.variant("ex1", Some(&learner.to_string())).unwrap().to_string();
        for (name, number) in ["R_t", "C_t", "T_a"].into_iter().zip(shown.split(", ")) {
            *found.entry(name).or_default().entry(number.split_once(" = ").unwrap().1.to_owned()).or_default() += 1;
        }
    }
    let resistors: BTreeSet<&str> = found["R_t"].keys().map(String::as_str).collect();
    assert_eq!(resistors.len(), 25, "E24 from 100 kΩ to 1 MΩ, both ends: {resistors:?}");
    assert!(resistors.contains("100 kΩ") && resistors.contains("1 MΩ") && resistors.contains("470 kΩ"));
    assert!(found["R_t"].values().all(|count| (40..140).contains(count)), "{:?}", found["R_t"]);
    let capacitors: Vec<&String> = found["C_t"].keys().collect();
    assert!(
        capacitors.len() == 38 && capacitors.iter().all(|c| c.split(' ').next().unwrap().len() == 2),
        "{capacitors:?}"
    );
    assert!(found["T_a"].keys().any(|t| t.starts_with('-')) && found["T_a"].len() > 100, "{:?}", found["T_a"]);
}

/// The numbers run through the checked worksheet, as against written into its text and evaluated.
#[test]
fn a_variant_is_the_worksheet_with_its_numbers_written_in() {
    let solve = "R_need = solve R_t so that t_on = 20 s from 1 kΩ to 100 GΩ";
    for lines in [
        VARIED.to_owned(),
        "ask \"?\"\nanswer = R_t + R_need\nvary C_t in 1 nF … 1 mF E192".to_owned(),
        "ask \"?\"\nanswer [Ω] = preferred_below(E12, V_s / 5 mA)\nvary V_s in 5 V … 24 V".to_owned(),
        "ask \"?\"\nanswer = n * 1.1\nvary n in 1 … 10 E24".to_owned(),
        "ask \"?\"\nanswer = n * 1.1\nvary n in 1...10".to_owned(),
    ] {
        let source = sheet(&lines).replace("ln(3)\n```", &format!("ln(3)\n{solve}\n```"));
        assert_eq!(codes(&Evaluator::default().evaluate(&source)), [""; 0], "{lines}");
        let marker = Marker::new(&Worksheet::new(&source).0);
        for learner in ["a", "b", "c", "1", "2", "3", "Zoë"] {
            let variant = marker.variant("ex1", Some(learner)).unwrap();
            let written = variant.worksheet(&Worksheet::new(&source).0).source;
            let evaluation = Evaluator::with(&Options { samples: Some(1), ..Options::default() }).evaluate(&written);
            assert_eq!(codes(&evaluation), [""; 0], "{variant}");
            let expected = marker.expected(&variant).unwrap();
            assert_eq!(expected.value().to_bits(), evaluation.exercises[0].solution.nominal.to_bits(), "{variant}");
            assert_ne!(written, source);
        }
    }
}

#[test]
fn an_author_is_reported_what_is_wrong_with_an_exercise() {
    for (lines, code, part) in [
        ("", "E-exercise", "asks nothing"),
        ("ask \"?\"", "E-exercise", "has no answer"),
        ("answer = n", "E-exercise", "asks nothing"),
        ("ask \"?\"\nanswer = n\nanswer = 2", "E-exercise", "an answer already"),
        ("ask \"?\"\nanswer [V] = t_on", "E-unit-mismatch", "not a voltage"),
        ("ask \"?\"\nanswer [foo] = t_on", "E-unknown-unit", "foo"),
        ("ask \"?\"\nanswer = t_off", "E-unknown-name", "t_off"),
        ("ask \"?\"\nanswer = n > 2", "E-type-mismatch", "condition"),
        ("ask \"?\"\nanswer = t_on within 2 V", "E-exercise", "in per cent, or in the unit"),
        ("ask \"?\"\nanswer = t_on within 0 %", "E-exercise", "more than 0 %"),
        ("ask \"?\"\nanswer = t_on within 100 %", "E-exercise", "less than 100 %"),
        ("ask \"?\"\nanswer = T_a within 2 %", "E-exercise", "per cent of a temperature"),
        ("ask \"?\"\nanswer = 1 / (n - 3)", "E-not-finite", "divides by zero"),
        ("ask \"?\"\nanswer = n\nslip \"s\" = V_s", "E-unit-mismatch", "do not answer one question"),
        ("ask \"?\"\nanswer = n\nslip \"s\" = n * 1.01", "E-exercise", "comes to the right answer"),
        ("ask \"?\"\nanswer = n\nslip \"\" = 4", "E-syntax", "slip's name"),
        ("ask \"?\"\nanswer = n\npoints -1", "E-syntax", ""),
        ("ask \"?\"\nanswer = n\npoints 2 V", "E-exercise", "plain number from 0"),
        ("ask \"?\"\nanswer = n\npoints 1e9", "E-exercise", "plain number from 0"),
        ("ask \"?\"\nanswer = n\nvary t_on in 1 s … 2 s", "E-exercise", "not a given"),
        ("ask \"?\"\nanswer = n\nvary x in 1 s … 2 s", "E-unknown-name", "x"),
        ("ask \"?\"\nanswer = n\nvary n in 3 … 2", "E-exercise", "must rise"),
        ("ask \"?\"\nanswer = n\nvary n in 1 V … 2 V", "E-unit-mismatch", "vary on one scale"),
        ("ask \"?\"\nanswer = n\nvary n in 1 … 2\nvary n in 1 … 3", "E-exercise", "varies already"),
        ("ask \"?\"\nanswer = n\nvary R_t in 1 kΩ … 2 kΩ E25", "E-exercise", "did you mean `E24`?"),
        ("ask \"?\"\nanswer = n\nvary R_t in 1 kΩ … 1.05 kΩ E24", "E-exercise", "fewer than two"),
        ("ask \"?\"\nanswer = 1 / (n - 5)\nvary n in 2 … 5", "E-exercise", "at this end"),
        ("ask \"?\"\nanswer = n\nvary n 1 … 2", "E-syntax", "`in`"),
        ("ask \"?\"\nanswer = n\nvary n in 1 to 2", "E-syntax", "`…`"),
        ("ask ?\nanswer = n", "E-character", ""),
        ("ask n\nanswer = n", "E-syntax", "a text between quotes"),
        ("ask \"open\nanswer = n", "E-unclosed", "not closed"),
        ("question \"?\"", "E-syntax", "`ask`, `answer`"),
        ("ask \"{t_off}?\"\nanswer = n", "E-unknown-name", "t_off"),
    ] {
        let evaluation = Evaluator::default().evaluate(&sheet(lines));
        let found = codes(&evaluation);
        assert!(found.contains(&code), "{lines}: {:#?}", evaluation.problems);
        let reported = evaluation.problems.iter().any(|p| {
            p.code.text() == code && p.message.english().contains(part)
                || p.help.as_ref().map(benchleaf_words::Phrase::english).as_deref().unwrap_or("").contains(part)
        });
        assert!(reported, "{lines}: {:#?}", evaluation.problems);
    }
    for (head, part) in [
        ("exercise", "has no name"),
        ("exercise 2", "exercise's name"),
        ("exercise a b", ""),
        ("exercise keep", "word of the language"),
    ] {
        let evaluation = Evaluator::default().evaluate(&format!("```{head}\nask \"?\"\nanswer = 1\n```\n"));
        assert_eq!(codes(&evaluation), ["E-exercise"], "{head}: {:#?}", evaluation.problems);
        assert!(evaluation.problems[0].message.english().contains(part), "{head}: {:#?}", evaluation.problems);
    }
    let twice = "```exercise a\nask \"?\"\nanswer = 1\n```\n\n```exercise a\nask \"?\"\nanswer = 2\n```\n";
    assert_eq!(codes(&Evaluator::default().evaluate(twice)), ["E-redefined"]);
    let bounds =
        "```calc\nV = min 1 V typ 2 V max 3 V\n```\n```exercise a\nask \"?\"\nanswer = V\nvary V in 1 V … 2 V\n```\n";
    assert_eq!(codes(&Evaluator::default().evaluate(bounds)), ["E-exercise"]);
}

#[test]
fn the_report_lists_exercises_with_their_points() {
    let source = sheet(PULSE);
    let evaluation = Evaluator::default().evaluate(&source);
    let report = serde_json::to_value(Report::new("a.md", &evaluation, &source)).unwrap();
    assert_eq!(report["exercises"], serde_json::json!([{"name": "ex1", "points": 2.0}]));
    let task = &evaluation.exercises[0];
    assert_eq!((task.slips, task.hints.len(), task.within.as_str()), (2, 2, "2 %"));
    assert_eq!(task.ask[0].text(&source), "How long?");
}

/// Pieces of what learners type and authors write.
const PIECES: &[&str] = &[
    "22",
    " ",
    "s",
    "kΩ",
    "4k7",
    ",",
    ".",
    "…",
    "...",
    "-",
    "−",
    "=",
    "≈",
    "µ",
    "°C",
    "K",
    "%",
    "1e308",
    "e",
    "±",
    "min ",
    "\"",
    "(",
    ")",
    "+",
    "'",
    "@",
    "\n",
    "ln(3)",
    "E24",
    "R_t",
    "in ",
    "vary ",
    "ask \"?\"\n",
    "answer = ",
    "answer [s] = ",
    " within ",
    "slip \"x\" = ",
    "hint \"h\"\n",
    "points ",
    "{t_on}",
    "t_on",
    "∞",
    "\u{0}",
    "𝄞",
    "```",
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_answer_makes_the_marker_panic(text in any::<String>(), pieces in prop::collection::vec(0..PIECES.len(), 0..12)) {
        let source = sheet(VARIED);
        let soup: String = pieces.iter().map(|i| PIECES[*i]).collect();
        for answer in [&text, &soup] {
            for learner in [None, Some(text.as_str())] {
                let feedback = assess(&source, "ex1", answer, learner);
                prop_assert!(feedback.is_ok_and(|feedback| !feedback.phrase().english().is_empty()));
            }
        }
    }

    #[test]
    fn no_exercise_makes_the_engine_panic(pieces in prop::collection::vec(0..PIECES.len(), 0..40), name in any::<String>()) {
        let soup: String = pieces.iter().map(|i| PIECES[*i]).collect();
        let source = sheet(&soup);
        let _ = Evaluator::with(&Options { samples: Some(1), ..Options::default() }).evaluate(&source);
        let _ = assess(&source, "ex1", "22 s", Some(&name));
        let _ = assess(&source, &name, "22 s", Some(&soup));
    }

    /// Whatever the numbers, the right answer is right, and with another prefix it is said to be that.
    #[test]
    fn the_right_answer_is_right(learner in "[a-z]{1,8}", power in prop::sample::select(vec![-9, -6, -3, 3, 6, 9])) {
        let source = sheet(VARIED);
        let marker = Marker::new(&Worksheet::new(&source).0);
        let expected = marker.expected(&marker.variant("ex1", Some(&learner)).unwrap()).unwrap();
        let value = expected.value();
        prop_assert_eq!(expected.assess(&format!("{value} s")).word(), "right");
        prop_assert_eq!(expected.assess(&format!("{} s", value * 1.019)).word(), "right");
        let power: i32 = power;
        prop_assert_eq!(expected.assess(&format!("{:e} s", value * 10f64.powi(power))), Feedback::Prefix { power });
        prop_assert_eq!(expected.assess(&format!("{value} V")).word(), "dimension");
    }
}
