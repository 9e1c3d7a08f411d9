//! How a result varies, behind a disclosure under its bar: the interval that most builds fall in, the worst case with the
//! parts that make it, where the variance comes from, and what the simple rule would have said. Closed, and on paper, it is
//! one line; open, it reads as a note in the margin.

use benchleaf_core::{
    results::{Agreement, Certainty, End, FirstOrder, GivenValue, Role, Sensitivity, Shown, Spread, Value, WorstCase},
    units::{DisplayUnit, ValueType, number},
};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    format::{self, RANGE_DIGITS, count, difference},
    mathml::symbol,
    shares::{self, Room},
    typography::held_together,
};

/// The disclosure of a value; nothing where it does not vary.
pub(crate) fn disclosure(context: &PageContext<'_>, value: &Value) -> Markup {
    let Some(worst) = value.worst.as_ref().filter(|worst| worst.low < worst.high) else { return html! {} };
    let condition = value.value_type == ValueType::Condition;
    let unit = value.unit.for_range(worst.low, worst.high);
    let summary = match &value.spread {
        _ if condition => "not the same in every build".to_owned(),
        Some(spread) => {
            let interval = format::range(&value.unit, spread.interval.ends(), value.digits);
            match spread.fails_to_exist() {
                0.0 => format!("95\u{202f}% of builds: {interval}"),
                share => {
                    format!(
                        "95\u{202f}% of builds: {interval}; no finite value in {}",
                        share_of_builds(share, spread.samples)
                    )
                }
            }
        }
        None => "worst case".to_owned(),
    };
    html! {
        details.varies {
            summary { (held_together(&summary)) }
            div.how {
            @if let Some(spread) = &value.spread { (spread_in_words(&unit, spread)) }
            (worst_in_words(context, value, &unit, worst))
            // All of it from one given needs no table.
                @if value.shares.len() > 1 {
                div { (shares::table(context, &value.shares, Room::Margin, &html! { strong { "Where the variance comes from" } })) }
            }
            @if let Some(first_order) = &value.first_order { (simple_rule(context, &unit, first_order)) }
            }
        }
    }
}

fn spread_in_words(unit: &DisplayUnit, spread: &Spread) -> Markup {
    let moments = spread
        .mean
        .zip(spread.std)
        .map(|(mean, std)| (format::to_its_uncertainty(unit, mean, std), difference(unit, std, UNCERTAINTY_DIGITS)));
    let interval = match spread.interval.shown {
        Shown::Symmetric => "The interval is the symmetric one: as many builds fall below it as above.",
        Shown::Shortest => {
            "The interval is the shortest one that holds 95\u{202f}%; most of the others lie to one side."
        }
    };
    // Where the shortest lies, others may be nearly as short.
    let (what, off) = match spread.interval.shown {
        Shown::Symmetric => ("ends are", spread.quantile_error),
        Shown::Shortest => ("length is", 2.0 * spread.quantile_error),
    };
    let counted = match spread.samples {
        0 => "All this is exact, not simulated.".to_owned(),
        n => format!("From {} simulated builds.", count(n)),
    };
    html! {
        p {
            @match &moments {
                Some((mean, std)) => {
                    strong { "Standard uncertainty " (held_together(std)) } ", around a mean of " (held_together(mean)) ". "
                },
                None => {
                    strong { "No standard uncertainty" }
                    @if spread.infinite > 0.0 { ": the value is infinite in some builds. " }
                    @else { ": with two degrees of freedom or fewer, Student’s t has no standard deviation. " }
                },
            }
            (interval) " " (counted)
            @if spread.quantile_error > 0.0 {
                " Its " (what) " good to " (held_together(&difference(unit, off, 1))) "."
            }
            @if spread.undefined > 0.0 {
                " In " (share_of_builds(spread.undefined, spread.samples)) " the formula has no value; they are not in the interval."
            }
            @if spread.infinite > 0.0 {
                " In " (share_of_builds(spread.infinite, spread.samples)) " the value is infinite."
            }
        }
    }
}

/// `2.3 % of builds`; counted where a percentage would say none or all.
fn share_of_builds(share: f64, samples: u64) -> String {
    if (0.0005..0.995).contains(&share) || share == 1.0 {
        return format!("{} of builds", format::percent(share));
    }
    format!("{} of {} builds", count((share * samples as f64).round() as u64), count(samples))
}

fn worst_in_words(context: &PageContext<'_>, value: &Value, unit: &DisplayUnit, worst: &WorstCase) -> Markup {
    let end = |si: f64, side: &str| match (value.value_type, si) {
        (ValueType::Condition, 0.0) => "No".to_owned(),
        (ValueType::Condition, _) => "Yes".to_owned(),
        (_, si) if si.is_infinite() => format!("Without bound {side}"),
        (_, si) => held_together(&unit.show(si, value.digits.max(RANGE_DIGITS))),
    };
    let found = match worst.certainty {
        Certainty::Proven => "proven",
        Certainty::Searched => "found by search",
    };
    html! {
        p {
            strong { "Worst case" } ", " (found) ". "
            (end(worst.low, "below")) (combination(context, &worst.low_at)) ". "
            (end(worst.high, "above")) (combination(context, &worst.high_at)) "."
        }
    }
}

/// ` with C_t and R_t at their least, V_s at its greatest`.
fn combination(context: &PageContext<'_>, settings: &[GivenValue]) -> Markup {
    let at = |end: End| settings.iter().filter(|setting| setting.end == end).collect::<Vec<_>>();
    let (least, greatest, inside) = (at(End::Low), at(End::High), at(End::Inside));
    let groups = [(least, "least"), (greatest, "greatest")];
    let groups = groups.iter().filter(|(with, _)| !with.is_empty()).enumerate();
    let before = groups.clone().count();
    html! {
        @for (i, (with, word)) in groups {
            @if i == 0 { " with " } @else { ", " }
            (listed(context, with)) @if with.len() == 1 { " at its " } @else { " at their " } (word)
        }
        @for (i, setting) in inside.iter().enumerate() {
            @if before + i == 0 { " with " } @else { ", " }
            (inner(context, setting))
        }
    }
}

fn listed(context: &PageContext<'_>, settings: &[&GivenValue]) -> Markup {
    html! {
        @for (i, setting) in settings.iter().enumerate() {
            @if i > 0 { @if i + 1 == settings.len() { " and " } @else { ", " } }
            // A tolerance on a formula has no name of its own.
            @if given(context, &setting.name).is_none() { "the tolerance of " }
            (symbol(&setting.name))
        }
    }
}

/// A given between its ends: where. Of a tolerance on a formula, only that it is between.
fn inner(context: &PageContext<'_>, setting: &GivenValue) -> Markup {
    match given(context, &setting.name) {
        Some(given) => {
            html! { (symbol(&setting.name)) " = " (held_together(&given.unit.show(setting.value, RANGE_DIGITS))) }
        }
        None => html! { (symbol(&setting.name)) " inside its tolerance" },
    }
}

/// First-order propagation and what it is worth here.
fn simple_rule(context: &PageContext<'_>, unit: &DisplayUnit, rule: &FirstOrder) -> Markup {
    let verdict = match rule.agreement {
        Agreement::StudentT => {
            "The builds spread wider, by Student’s t, because some givens come with few degrees of freedom; the formula does not \
             bend. Trust the simulated interval."
        }
        Agreement::NoDeviation => {
            "It cannot be held against the builds: by Student’s t with two degrees of freedom or fewer they have no standard \
             uncertainty. Trust the simulated interval."
        }
        Agreement::Agrees => "It gives the same as the simulated builds: twice of it covers 95\u{202f}% of them.",
        Agreement::NotNormal => {
            "Right as a standard uncertainty; but the spread is not bell-shaped, so ± twice of it is not the 95\u{202f}% \
             interval. Trust the simulated one."
        }
        Agreement::Bends => {
            "Here the formula bends too much for the simple rule, which takes it for straight: trust the simulated interval."
        }
    };
    let counts = |part: &&Sensitivity| (part.coefficient * part.uncertainty).abs() >= LEAST_PART * rule.std;
    let parts: Vec<&Sensitivity> = rule.sensitivities.iter().filter(counts).collect();
    html! {
        p {
            strong { "Simple rule" } " (JCGM 100): standard uncertainty "
            (held_together(&difference(unit, rule.std, UNCERTAINTY_DIGITS)))
            @if let Some(degrees) = rule.degrees.filter(|degrees| degrees.is_finite()) {
                ", with " (count(degrees as u64)) " effective degrees of freedom"
            }
            ". " (verdict)
        }
        @if !parts.is_empty() {
            table.sensitivities {
                caption { "Sensitivity × standard uncertainty of each given = what it brings" }
                tbody { @for part in parts { (sensitivity(context, unit, part)) } }
            }
        }
    }
}

fn sensitivity(context: &PageContext<'_>, unit: &DisplayUnit, part: &Sensitivity) -> Markup {
    let brings = difference(unit, (part.coefficient * part.uncertainty).abs(), UNCERTAINTY_DIGITS);
    let Some(given) = given(context, &part.name) else {
        return html! { tr { th scope="row" { (symbol(&part.name)) } td { "its own tolerance" } td { "= " (held_together(&brings)) } } };
    };
    let (of, per) = (step(unit), step(&given.unit));
    let coefficient = number(part.coefficient * per.1 / of.1, 3);
    let uncertainty = difference(&given.unit, part.uncertainty, UNCERTAINTY_DIGITS);
    let quotient = quotient(&of.0, &per.0);
    html! {
        tr {
            th scope="row" { (symbol(&part.name)) }
            td { (coefficient) @if !quotient.is_empty() { "\u{202f}" (quotient) } " × " (held_together(&uncertainty)) }
            td { "= " (held_together(&brings)) }
        }
    }
}

/// A unit as a step along its scale: symbol and size; of a temperature scale, kelvin.
fn step(unit: &DisplayUnit) -> (String, f64) {
    if unit.unit.offset == 0.0 { (unit.symbol().to_owned(), unit.unit.factor) } else { ("K".to_owned(), 1.0) }
}

fn quotient(of: &str, per: &str) -> String {
    let bracketed = |symbol: &str| {
        if symbol.contains(['/', '·', ' ']) { format!("({symbol})") } else { symbol.to_owned() }
    };
    match (of, per) {
        (of, per) if of == per => String::new(),
        (of, "") => of.to_owned(),
        ("", per) => format!("1/{}", bracketed(per)),
        (of, per) if of.contains('/') => format!("{}/{}", bracketed(of), bracketed(per)),
        (of, per) => format!("{of}/{}", bracketed(per)),
    }
}

fn given<'a>(context: &PageContext<'a>, name: &str) -> Option<&'a Value> {
    context.value(name).filter(|value| value.role == Role::Given)
}

/// JCGM 100, 7.2.6: no more than two digits of an uncertainty are worth telling.
const UNCERTAINTY_DIGITS: u8 = 2;
/// A given that brings less than this part of the whole is left out.
const LEAST_PART: f64 = 0.02;

#[cfg(test)]
mod tests {
    use benchleaf_core::{Evaluator, Options};

    use super::*;
    use crate::sample::context_of;

    /// The disclosure of a value as text: tags left out, thin spaces plain.
    fn text_of(source: &str, name: &str) -> String {
        text_with(source, name, &Options::default())
    }

    fn text_with(source: &str, name: &str, options: &Options) -> String {
        let source = format!("```calc\n{source}\n```\n");
        let evaluation = Evaluator::with(options).evaluate(&source);
        let html = disclosure(&context_of(&evaluation, &source), evaluation.value(name).unwrap()).into_string();
        assert!(!html.contains("NaN") && !html.contains("style="), "{html}");
        let mut text = String::new();
        for part in html.split('<') {
            text.push_str(part.split_once('>').map_or(part, |(_, after)| after));
        }
        text.replace('\u{202f}', " ")
    }

    #[test]
    fn a_sum_agrees_with_the_simple_rule() {
        let text = text_of("a = 10 V ± 4 % normal(2)\nb = 5 V ± 4 % normal(2)\nc = a + b", "c");
        for said in [
            "95 % of builds: 14.6 to 15.5 V",
            "Standard uncertainty 0.23 V, around a mean of 15.00 V",
            "symmetric",
            "From 10 000 simulated builds",
            "Worst case, proven. 14.4 V with a and b at their least. 15.6 V with a and b at their greatest.",
            "80 %",
            "It gives the same",
            "1.00 × 0.20 V",
        ] {
            assert!(text.contains(said), "{said}: {text}");
        }
    }

    /// Samples that were counted in bins: what is known of the interval that is shown.
    #[test]
    fn many_samples_say_how_good_the_interval_is() {
        let many = Options { samples: Some(1_000_001), ..Options::default() };
        let text = text_with("a = 1 V ± 1 V\nb = a * 2", "b", &many);
        assert!(text.contains("symmetric") && text.contains("Its ends are good to 0.001 V"), "{text}");
        let text = text_with("a = 2 V ± 1 V\nb = a^4", "b", &many);
        assert!(text.contains("shortest") && text.contains("Its length is good to"), "{text}");
        assert!(!text_of("a = 1 V ± 1 V\nb = a * 2", "b").contains("good to"));
    }

    #[test]
    fn a_temperature_varies_in_kelvin() {
        let text = text_of("T = min 10 °C typ 25 °C max 40 °C\nP = 1 W ± 10 %\nT_j = T + P * 20 K/W", "T_j");
        assert!(text.contains("Standard uncertainty 8.8 K") && text.contains("1.00 × 8.7 K"), "{text}");
    }

    #[test]
    fn an_extreme_inside_is_reported_with_its_place() {
        let text = text_of("x = 0.1 V ± 1 V\ny = 1 V^2 - x^2", "y");
        assert!(text.contains("proven") && text.contains("x = 0 V"), "{text}");
        assert!(text.contains("bends too much"), "{text}");
    }

    #[test]
    fn a_condition_is_reported_as_yes_or_no() {
        let text = text_of("a = 10 V ± 20 %\nok = a > 9 V", "ok");
        assert!(text.contains("not the same in every build") && text.contains("No with a at its least"), "{text}");
        assert!(!text.contains("Standard uncertainty"), "{text}");
    }

    #[test]
    fn a_tolerance_on_a_formula_is_reported_as_one_and_a_mean_near_zero_as_zero() {
        let text = text_of("a = 10 V ± 4 %\nd = a - 10 V ± 10 mV", "d");
        assert!(text.contains("a and the tolerance of d at their least"), "{text}");
        assert!(text.contains("its own tolerance= 5.8 mV") && text.contains("uncertainty 230 mV"), "{text}");
        assert!(text.contains("around a mean of 0 mV"), "{text}");
    }

    #[test]
    fn what_does_not_vary_has_nothing_to_disclose() {
        assert_eq!(text_of("a = 10 V\nb = 2 * a", "b"), "");
    }

    #[test]
    fn builds_without_a_value_are_counted_where_they_are_few() {
        for (share, samples, wanted) in [
            (0.0001, 10_000, "1 of 10 000 builds"),
            (0.000_002, 1_000_000, "2 of 1 000 000 builds"),
            (0.166, 10_000, "17 % of builds"),
            (0.9999, 10_000, "9999 of 10 000 builds"),
        ] {
            assert_eq!(share_of_builds(share, samples).replace(['\u{202f}', '\u{a0}'], " "), wanted);
        }
        let text = text_of("x = min -0.001 V max 1 V\ny = sqrt(x / 1 V)", "y");
        assert!(text.contains("builds the formula has no value"), "{text}");
    }

    #[test]
    fn few_degrees_of_freedom_are_no_bend() {
        let sum = |degrees: f64| {
            text_of(&format!("a = 10 V ± 1 V normal(2) dof({degrees})\nb = 5 V ± 0.2 V normal(2)\nc = a + b"), "c")
        };
        for degrees in [2.5, 3.0, 5.0, 9.0] {
            let text = sum(degrees);
            assert!(text.contains("the formula does not bend") && !text.contains("bends too much"), "{text}");
        }
        let text = sum(1.5);
        assert!(
            text.contains("cannot be held against the builds") && text.contains("No standard uncertainty"),
            "{text}"
        );
    }

    #[test]
    fn quotients_of_units_are_unambiguous() {
        for (of, per, wanted) in [("s", "µF", "s/µF"), ("V", "V", ""), ("", "V", "1/V"), ("m/s", "K/W", "(m/s)/(K/W)")]
        {
            assert_eq!(quotient(of, per), wanted);
        }
    }
}
