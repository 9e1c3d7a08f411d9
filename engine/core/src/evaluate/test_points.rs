//! Readings at test points: whether a sound build can show them.

use benchleaf_words::{Phrase, phrase};

use crate::{
    answer::{Feedback, quantity},
    problem::{Code, Problem},
    results::{JudgedReading, Shows, StepSet, Suspects, Value},
    units::{DisplayUnit, ValueType},
};

/// The problems of test points whose values do not vary: no reading of them can be judged.
pub(super) fn fixed(set: &StepSet, values: &[Value]) -> Vec<Problem> {
    let mut problems = Vec::new();
    for point in set.steps.iter().flat_map(|step| &step.checks) {
        let Some(value) = values.get(point.value) else { continue };
        if value.nominal.is_finite() && value.worst.is_none() {
            let message = phrase!(EVALUATE_TEST_POINTS_DOES_NOT_VARY_SO, name = value.name);
            let help = phrase!(EVALUATE_TEST_POINTS_GIVE_THE_VALUES);
            problems.push(Problem::new(Code::Step, point.span, message).help(help));
        }
    }
    problems
}

/// A reading as typed, held against a value's range; `explained` finds what could explain it, by the value's index.
pub(super) fn judged(
    values: &[Value],
    name: &str,
    text: &str,
    explained: impl Fn(usize, f64) -> Option<Suspects>,
) -> Result<JudgedReading, Phrase> {
    let place = values.iter().position(|value| value.name == name);
    let Some((index, value)) = place.and_then(|at| Some((at, values.get(at)?))) else {
        return Err(phrase!(EVALUATE_TEST_POINTS_HAS_NO_VALUE, name = name));
    };
    let ValueType::Quantity(wanted) = value.value_type else {
        return Err(phrase!(EVALUATE_TEST_POINTS_IS_A_CONDITION, name = name));
    };
    let unit = DisplayUnit::declared(value.unit.unit.clone());
    let si = quantity(text, wanted, unit.symbol()).map_err(|feedback| misread(name, &feedback))?;
    let Some(worst) = &value.worst else {
        return Err(phrase!(EVALUATE_TEST_POINTS_DOES_NOT_VARY_SO_THAT_NO, name = name));
    };
    let within = |(low, high): (f64, f64)| si >= low && si <= high;
    let shows = match value.spread {
        _ if !within((worst.low, worst.high)) => Shows::Unsound,
        Some(spread) if !within(spread.interval.ends()) => Shows::Rare,
        _ => Shows::Usual,
    };
    let suspects = (shows == Shows::Unsound).then(|| explained(index, si)).flatten();
    Ok(JudgedReading { value: index, si, shows, suspects })
}

fn misread(name: &str, feedback: &Feedback) -> Phrase {
    match feedback {
        Feedback::NoUnit { wanted, unit } => {
            phrase!(EVALUATE_TEST_POINTS_THE_UNIT_IS_MISSING, name = name, wanted = wanted, unit = unit)
        }
        Feedback::Dimension { found, wanted } => {
            phrase!(EVALUATE_TEST_POINTS_THAT_IS_IS, found = found, name = name, wanted = wanted)
        }
        Feedback::Kind { found, wanted, help } => {
            phrase!(EVALUATE_TEST_POINTS_THAT_IS_IS_2, found = found, name = name, wanted = wanted, help = help)
        }
        other => other.phrase(),
    }
}

#[cfg(test)]
mod tests {
    use crate::{Evaluator, results::Shows, sheet::Worksheet};

    const SOURCE: &str = "```calc\nV_s = 12 V ± 5 %\nR_1 = 10 kΩ ± 1 %\nR_2 = 20 kΩ ± 1 %\nV_m [V] = V_s * R_2 / (R_1 + R_2)\nT = 25 °C ± 3 K\nfixed = 3 V\n```\n";

    fn judged(name: &str, text: &str) -> Result<(Shows, Vec<String>), String> {
        let worksheet = Worksheet::new(SOURCE).0;
        let found = Evaluator::default().readings(&worksheet, &[(name.to_owned(), text.to_owned())]);
        found.readings.into_iter().next().unwrap().map_err(|why| why.english()).map(|reading| {
            let ranked = reading.suspects.map_or(Vec::new(), |suspects| suspects.ranked);
            (reading.shows, ranked.into_iter().map(|suspect| suspect.given).collect())
        })
    }

    #[test]
    fn a_reading_is_held_against_the_ranges_that_the_page_shows() {
        let evaluation = Evaluator::default().evaluate(SOURCE);
        let whole = evaluation.value("V_m").unwrap();
        let worksheet = Worksheet::new(SOURCE).0;
        let found = Evaluator::default().readings(&worksheet, &[("V_m".to_owned(), "8 V".to_owned())]);
        let read = &found.values[found.readings[0].as_ref().unwrap().value];
        assert_eq!((read.worst.as_ref(), read.spread), (whole.worst.as_ref(), whole.spread));
        assert_eq!(judged("V_m", "8 V"), Ok((Shows::Usual, vec![])));
        let (low, _) = whole.spread.unwrap().interval.ends();
        let least = whole.worst.as_ref().unwrap().low;
        assert_eq!(judged("V_m", &format!("{} V", 0.5 * (low + least))), Ok((Shows::Rare, vec![])));
        assert_eq!(judged("V_m", &format!("{} mV", 1e3 * least + 1e-6)), Ok((Shows::Rare, vec![])));
        let (shows, suspects) = judged("V_m", "0.00001 V").unwrap();
        assert_eq!((shows, suspects[0].as_str()), (Shows::Unsound, "V_s"));
        assert_eq!(judged("V_m", "10 V").unwrap().0, Shows::Unsound);
    }

    #[test]
    fn what_cannot_be_judged_is_reported_in_words() {
        for (name, text, said) in [
            ("V_m", "8", "The unit is missing: `V_m` is a voltage (V). Write `V` behind the number"),
            ("V_m", "8 A", "That is a current (A); `V_m` is a voltage (V)."),
            ("V_m", "8,1 V", "A decimal is written with a point here, not with a comma: `8.1 V`."),
            ("V_m", "about 8", "This cannot be read"),
            ("V_m", "8 V ± 1 %", "This cannot be read: it has a tolerance; leave that out."),
            ("T", "3 K", "That is"),
            ("fixed", "3 V", "`fixed` does not vary"),
            ("none", "3 V", "`none` has no value"),
        ] {
            let found = judged(name, text).unwrap_err();
            assert!(found.starts_with(said), "{name} {text}: {found}");
        }
    }
}
