//! What parts cost, by property: random lists, written as a worksheet, against sums in whole numbers that know nothing of
//! how the engine holds money. The reference counts hundredths of a cent by schoolbook rules: the last break reached, pieces times
//! price, halves of a cent up, line by line.

use benchleaf_core::Evaluator;
use proptest::prelude::*;

/// A part: designators, whether it is bought once, and prices in hundredths of a cent by pieces.
type Listed = (u64, bool, Vec<(u64, u64)>);

fn part() -> impl Strategy<Value = Listed> {
    let breaks = prop::collection::vec((1u64..400, 0u64..50_000), 0..4);
    (0u64..5, any::<bool>(), 0u64..500_000, breaks).prop_map(|(places, once, first, breaks)| {
        let mut from = 1;
        let mut prices = vec![(1, first)];
        for (step, price) in breaks {
            from += step;
            prices.push((from, price));
        }
        (places, once, prices)
    })
}

fn written(parts: &[Listed]) -> String {
    let mut text = "```parts\n".to_owned();
    for (number, (places, once, prices)) in parts.iter().enumerate() {
        text.push_str(&format!("\"part {number}\""));
        for (i, (from, price)) in prices.iter().enumerate() {
            let (whole, rest) = (price / 10_000, price % 10_000);
            let at = if i == 0 { String::new() } else { format!("{from}+ ") };
            text.push_str(&format!(", {at}{whole}.{rest:04} EUR"));
        }
        (0..*places).for_each(|place| text.push_str(&format!(" @P{number}_{place}")));
        text.push_str(if *once { " once\n" } else { "\n" });
    }
    text.push_str("```\n");
    text
}

fn cents(parts: &[Listed], builds: u64) -> u64 {
    let line = |(places, once, prices): &Listed| {
        let pieces = (*places).max(1) * if *once { 1 } else { builds };
        let mut price = 0;
        for (from, at) in prices {
            if pieces >= *from {
                price = *at;
            }
        }
        let hundredths = pieces * price;
        hundredths / 100 + u64::from(hundredths % 100 >= 50)
    };
    parts.iter().map(line).sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn a_cost_is_exact_to_the_cent(parts in prop::collection::vec(part(), 1..12), builds in 1u64..5000) {
        let source = format!("{}\n```calc\nc = cost({builds})\n```\n", written(&parts));
        let evaluation = Evaluator::default().evaluate(&source);
        prop_assert!(evaluation.problems.is_empty(), "{:?}\n{source}", evaluation.problems);
        let wanted = cents(&parts, builds);
        let listed = benchleaf_core::bill::total(&evaluation.parts, builds);
        prop_assert_eq!(listed[0].coins as u64, wanted, "{}", source);
        let found = evaluation.value("c").map(|value| value.nominal);
        prop_assert_eq!(found, format!("{}.{:02}", wanted / 100, wanted % 100).parse().ok());
    }
}
