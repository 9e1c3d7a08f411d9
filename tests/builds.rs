//! Builds side by side: every figure of a build against a worksheet that is written with its values, and the break-even against
//! schoolbook sums in whole hundredths of a cent, which know nothing of how the engine holds money.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use benchleaf_core::{Evaluator, Options, report::Report, results::Evaluation};
use proptest::prelude::*;
use serde_json::{Value as Json, json};

fn evaluated(source: &str) -> Evaluation {
    let options = Options { samples: Some(2_000), ..Options::default() };
    let it = Evaluator::with(&options).evaluate(source);
    assert!(it.problems.is_empty(), "{source}\n{:#?}", it.problems);
    it
}

fn json_of(source: &str) -> Json {
    serde_json::to_value(Report::new("a.md", &evaluated(source), source)).unwrap()
}

/// A timer with a dear board against a cheap one with a tool that is bought once. By hand: 2.00 n against 30.00 + 0.50 n, so
/// that 20 of either cost 40.00, and 21 are cheaper with the tool (42.00 against 40.50).
const BY_HAND: &str = "```parts\nR_t = 100 kΩ ± 1 %, 0.25 W, 0.10 EUR \"timing resistor\" @R1\n\"timer\" 1.90 EUR @U1\n```\n\
    ```calc\nC_t = 100 µF ± 20 %\nt_on [s] = R_t * C_t\nkeep t_on below 11.5 s\n```\n\
    ```builds\nbuild \"timer\"\n\
    build \"controller\": C_t = 10 µF ± 1 %, R_t = 1 MΩ, 0.5 W, without @U1, with @U1 \"controller\" 0.40 EUR,\n\
    with \"programmer\" 30 EUR once\ncompare t_on, cost(100) \"a hundred\"\n```\n";

#[test]
fn break_even_and_values_as_worked_out_by_hand() {
    let json = json_of(BY_HAND);
    assert_eq!(json["break_even"], json!([{"builds": ["timer", "controller"], "quantity": 21}]));
    let (timer, controller) = (&json["builds"][0], &json["builds"][1]);
    assert_eq!((&timer["name"], &controller["name"]), (&json!("timer"), &json!("controller")));
    let totals = |build: &Json| -> Vec<(u64, f64)> {
        let rows = build["cost"].as_array().unwrap().iter();
        rows.map(|row| (row["quantity"].as_u64().unwrap(), row["total"].as_f64().unwrap())).collect()
    };
    assert_eq!(totals(timer), [(1, 2.0), (10, 20.0), (100, 200.0), (1000, 2000.0)]);
    assert_eq!(totals(controller), [(1, 30.5), (10, 35.0), (100, 80.0), (1000, 530.0)]);
    for (build, low, high, cost, status) in
        [(timer, 7.92, 12.12, 200.0, "at-risk"), (controller, 9.801, 10.201, 80.0, "holds")]
    {
        let [t_on, hundred] = [&build["values"][0], &build["values"][1]];
        assert_eq!((&t_on["name"], &hundred["label"]), (&json!("t_on"), &json!("a hundred")));
        let ends = |at: usize| t_on["worst"][at].as_f64().unwrap();
        assert!((ends(0) - low).abs() < 1e-9 && (ends(1) - high).abs() < 1e-9, "{t_on}");
        assert_eq!((&hundred["si"], &build["keeps"][0]["status"]), (&json!(cost), &json!(status)));
    }
}

#[test]
fn a_worksheet_without_builds_says_nothing_of_them() {
    let json = json_of("```calc\na = 1 V\n```\n");
    assert!(json.get("builds").is_none() && json.get("break_even").is_none());
}

#[test]
fn one_place_of_two_can_be_left_out_and_two_builds_may_fill_one_place() {
    let it = evaluated(
        "```parts\nR_a = 1 kΩ, 0.10 EUR @R1 @R2\n\"timer\" 1 EUR @U1\n```\n```builds\nbuild \"a\": without @R2\n\
         build \"b\": without @U1, with @U1 \"other\" 2 EUR\nbuild \"c\": without R_a, with @U1_b \"third\" 3 EUR, with @R1 \"wire\" 0.01 EUR\n\
         compare cost(1), R_a.price\n```\n",
    );
    let costs: Vec<String> = it.builds[0].builds.iter().map(|build| build.values[0].shown()).collect();
    assert_eq!(costs, ["1.10 EUR", "2.20 EUR", "4.01 EUR"]);
}

#[test]
fn what_a_change_leaves_out_stays() {
    for (given, change, low, high) in [
        ("10 kΩ ± 5 %", "20 kΩ", 19e3, 21e3),
        ("10 kΩ ± 5 %", "20 kΩ ± 1 %", 19.8e3, 20.2e3),
        ("10 kΩ ± 100 Ω", "20 kΩ", 19.9e3, 20.1e3),
        ("10k0J", "20 kΩ", 19e3, 21e3),
        ("10 kΩ ± 5 %", "20k0F", 19.8e3, 20.2e3),
    ] {
        let it = evaluated(&format!(
            "```calc\nR = {given}\n```\n```builds\nbuild \"a\"\nbuild \"b\": R = {change}\ncompare R\n```\n"
        ));
        let worst = it.builds[0].builds[1].values[0].worst.as_ref().unwrap();
        assert!((worst.low - low).abs() < 1e-6 && (worst.high - high).abs() < 1e-6, "{given} -> {change}: {worst:?}");
    }
}

/// What no change reaches is taken over from the worksheet, with the same bits as in a worksheet of its own; givens that go
/// together with one that changed are drawn anew.
#[test]
fn what_no_change_reaches_is_as_in_a_worksheet_of_its_own() {
    let sheet = |a: &str| {
        format!(
            "```calc\nA = {a}\nB = 20 Ω ± 10 %\nC = 30 Ω ± 10 % normal(2)\ncorrelation(A, B) = 0.6\nx = A + B\ny = B * 2\n\
             z = C^2 / (1 + C / 1 Ω)\nkeep y below 43 Ω\nkeep z below 32 Ω^2\nkeep x below 29 Ω\n```\n"
        )
    };
    let both = format!(
        "{}```builds\nbuild \"a\"\nbuild \"b\": A = 5 Ω ± 1 %\ncompare x, y, z, C\n```\n",
        sheet("10 Ω ± 10 %")
    );
    let it = evaluated(&both);
    for (build, given) in it.builds[0].builds.iter().zip(["10 Ω ± 10 %", "5 Ω ± 1 %"]) {
        let alone = evaluated(&sheet(given));
        for found in &build.values {
            let wanted = alone.value(&found.name).unwrap();
            let told = |value: &benchleaf_core::results::Value| {
                format!("{:?} {:?} {:?} {:?}", value.nominal, value.worst, value.spread, value.shares)
            };
            assert_eq!(told(found), told(wanted), "{given}: {}", found.name);
        }
        for (found, wanted) in build.keeps.iter().zip(&alone.keeps) {
            let told = |keep: &benchleaf_core::results::Verdict| {
                format!("{:?} {:?} {:?} {:?} {:?}", keep.status, keep.worst, keep.fails, keep.blame, keep.remedies)
            };
            assert_eq!(told(found), told(wanted), "{given}");
        }
    }
}

/// Givens of a random divider with a load: values in whole ohms, tolerances in per cent.
type Givens = [(u32, u32); 4];

fn sheet(givens: &Givens, formulas: &str) -> String {
    let names = ["R_a", "R_b", "R_c", "R_d"];
    let lines = names.iter().zip(givens).map(|(name, (value, percent))| format!("{name} = {value} Ω ± {percent} %\n"));
    format!("```calc\n{}{formulas}```\n", lines.collect::<String>())
}

fn operator() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec!["+", "∥", "* 0.1 *", "/ 1 kΩ *"])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Decisions (a preferred value) are made anew in each build, as in a worksheet of its own.
    #[test]
    fn a_build_is_the_worksheet_written_with_its_values(
        base in prop::array::uniform4((10u32..5000, 1u32..20)),
        other in prop::array::uniform4(prop::option::of((10u32..5000, 0u32..20))),
        operators in prop::array::uniform3(operator()),
        bound in 10u32..5000,
    ) {
        let [p, q, r] = operators;
        let expression = format!("((R_a / 1 Ω) {p} (R_b / 1 Ω)) {q} ((R_c / 1 Ω) {r} (R_d / 1 Ω))")
            .replace("* 0.1 *", "* 0.1 *").replace("/ 1 kΩ *", "/ 1000 *");
        let formulas = format!("x = {expression}\ny [Ω] = preferred_below(E12, R_a + R_b) * R_c / R_d\nkeep y below {bound} Ω\n");
        let names = ["R_a", "R_b", "R_c", "R_d"];
        let changes: Vec<String> = names.iter().zip(&other)
            .filter_map(|(name, change)| change.map(|(value, percent)| format!("{name} = {value} Ω ± {percent} %"))).collect();
        let mut wanted_givens = base;
        for (given, change) in wanted_givens.iter_mut().zip(&other) {
            *given = change.unwrap_or(*given);
        }
        let builds = format!(
            "{}\n```builds\nbuild \"as it is\"\nbuild \"other\": {}\ncompare x, y, R_a, R_c + R_d\n```\n",
            sheet(&base, &formulas), changes.join(", ")
        );
        let it = evaluated(&builds);
        let together = format!("{formulas}z = R_c + R_d\n");
        for (build, givens) in it.builds[0].builds.iter().zip([base, wanted_givens]) {
            let alone = evaluated(&sheet(&givens, &together));
            for (found, name) in build.values.iter().zip(["x", "y", "R_a", "z"]) {
                let wanted = alone.value(name).unwrap();
                prop_assert_eq!(found.nominal.to_bits(), wanted.nominal.to_bits(), "{} {}", name, builds);
                let ends = |value: &benchleaf_core::results::Value| value.worst.as_ref().map(|worst| (worst.low, worst.high));
                prop_assert_eq!(ends(found), ends(wanted), "{} {}", name, builds);
                let std = |value: &benchleaf_core::results::Value| value.spread.and_then(|spread| spread.std);
                prop_assert_eq!(std(found), std(wanted), "{} {}", name, builds);
            }
            prop_assert_eq!(build.keeps.len(), 1);
            prop_assert_eq!(build.keeps[0].status, alone.keeps[0].status, "{}", builds);
            prop_assert_eq!(build.keeps[0].fails.map(|fails| fails.share), alone.keeps[0].fails.map(|fails| fails.share));
        }
    }
}

/// A part of one build: hundredths of a cent for one, for many, from how many on, and whether it is bought once.
type Priced = (u64, u64, u64, bool);

fn hundredths_as_cents(parts: &[Priced], builds: u64) -> u64 {
    let line = |(one, many, from, once): &Priced| {
        let pieces = if *once { 1 } else { builds };
        let sum = pieces * if pieces >= *from { many } else { one };
        sum / 100 + u64::from(sum % 100 >= 50)
    };
    parts.iter().map(line).sum()
}

fn build_of(name: &str, parts: &[Priced]) -> String {
    let euros = |hundredths: &u64| format!("{}.{:04} EUR", hundredths / 10_000, hundredths % 10_000);
    let part = |(i, (one, many, from, once)): (usize, &Priced)| {
        format!("with \"{name} {i}\" {}, {from}+ {}{}", euros(one), euros(many), if *once { " once" } else { "" })
    };
    let parts: Vec<String> = parts.iter().enumerate().map(part).collect();
    format!("build \"{name}\": {}\n", parts.join(", "))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn the_break_even_is_where_counting_finds_it(
        builds in prop::collection::vec(
            prop::collection::vec((0u64..60_000, 0u64..60_000, 2u64..300, any::<bool>()), 1..4), 2..4),
        common in 0u64..100_000,
    ) {
        let names = ["a", "b", "c"];
        let lines: String = builds.iter().zip(names).map(|(parts, name)| build_of(name, parts)).collect();
        let euros = format!("{}.{:04}", common / 10_000, common % 10_000);
        let source = format!("```parts\n\"board\" {euros} EUR @P1\n```\n```builds\n{lines}compare cost(7)\n```\n");
        let json = json_of(&source);
        let (mut wanted, mut cheapest) = (Vec::new(), None::<usize>);
        for n in 1..=10_000 {
            let costs: Vec<u64> = builds.iter().map(|parts| hundredths_as_cents(parts, n)).collect();
            let least = (0..costs.len()).min_by_key(|at| (costs[*at], *at)).unwrap();
            match cheapest {
                Some(before) if costs[before] == costs[least] => {}
                Some(before) => {
                    wanted.push(json!({"builds": [names[before], names[least]], "quantity": n}));
                    cheapest = Some(least);
                }
                None => cheapest = Some(least),
            }
        }
        let found = json.get("break_even").cloned().unwrap_or_else(|| json!([]));
        prop_assert_eq!(found, Json::Array(wanted), "{}", source);
    }
}
