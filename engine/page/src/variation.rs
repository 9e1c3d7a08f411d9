//! How a result varies, behind a disclosure under its bar: the interval that most builds fall in, the worst case with the
//! parts that make it, where the variance comes from, and what the simple rule would have said. Closed, and on paper, it is
//! one line; open, it reads as a note in the margin.

use benchleaf_core::{
    results::{Agreement, Certainty, End, FirstOrder, GivenValue, Role, Sensitivity, Shown, Spread, Value, WorstCase},
    units::{DisplayUnit, ValueType, number},
};
use benchleaf_words::{Word, Words, key, say, set, set_count};
use maud::{Markup, PreEscaped, html};

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
    let words = context.words;
    let condition = value.value_type == ValueType::Condition;
    let unit = value.unit.for_range(worst.low, worst.high);
    let summary = match &value.spread {
        _ if condition => words.text(key::VARIES_CONDITION).to_owned(),
        Some(spread) => {
            let interval = format::range(words, &value.unit, spread.interval.ends(), value.digits);
            match spread.fails_to_exist() {
                0.0 => say!(words, VARIES_LIKELY, interval = interval),
                share => {
                    let share = share_of_builds(words, share, spread.samples);
                    say!(words, VARIES_LIKELY_BUT, interval = interval, share = share)
                }
            }
        }
        None => words.text(key::VARIES_WORST_CASE).to_owned(),
    };
    html! {
        details.varies {
            summary { (held_together(&summary)) }
            div.how {
            @if let Some(spread) = &value.spread { (spread_in_words(words, &unit, spread)) }
            (worst_in_words(context, value, &unit, worst))
            // All of it from one given needs no table.
                @if value.shares.len() > 1 {
                div { (shares::table(context, &value.shares, Room::Margin, &set!(words, VARIES_SHARES))) }
            }
            @if let Some(first_order) = &value.first_order { (simple_rule(context, &unit, first_order)) }
            }
        }
    }
}

fn spread_in_words(words: Words<'_>, unit: &DisplayUnit, spread: &Spread) -> Markup {
    let moments = match spread.mean.zip(spread.std) {
        Some((mean, std)) => {
            let mean = held_together(&format::to_its_uncertainty(unit, mean, std));
            let std = held_together(&difference(unit, std, UNCERTAINTY_DIGITS));
            set!(words, VARIES_MOMENTS, std = std, mean = mean)
        }
        None if spread.infinite > 0.0 => set!(words, VARIES_NO_MOMENTS_INFINITE),
        None => set!(words, VARIES_NO_MOMENTS_STUDENT),
    };
    let interval = words.text(match spread.interval.shown {
        Shown::Symmetric => key::VARIES_SYMMETRIC,
        Shown::Shortest => key::VARIES_SHORTEST,
    });
    let counted = match spread.samples {
        0 => words.text(key::VARIES_EXACT).to_owned(),
        n => say!(words, VARIES_SIMULATED, n = count(n)),
    };
    let good_to = |off: f64| held_together(&difference(unit, off, 1));
    // Where the shortest lies, others may be nearly as short.
    let good = match spread.interval.shown {
        Shown::Symmetric => say!(words, VARIES_ENDS_GOOD_TO, amount = good_to(spread.quantile_error)),
        Shown::Shortest => say!(words, VARIES_LENGTH_GOOD_TO, amount = good_to(2.0 * spread.quantile_error)),
    };
    let share = |share: f64| share_of_builds(words, share, spread.samples);
    html! {
        p {
            (moments) " " (interval) " " (counted)
            @if spread.quantile_error > 0.0 { " " (good) }
            @if spread.undefined > 0.0 { " " (say!(words, VARIES_UNDEFINED, share = share(spread.undefined))) }
            @if spread.infinite > 0.0 { " " (say!(words, VARIES_INFINITE, share = share(spread.infinite))) }
        }
    }
}

/// `2.3 % of builds`; counted where a percentage would say none or all.
fn share_of_builds(words: Words<'_>, share: f64, samples: u64) -> String {
    if (0.0005..0.995).contains(&share) || share == 1.0 {
        return say!(words, VARIES_OF_BUILDS, share = format::percent(share));
    }
    let few = count((share * samples as f64).round() as u64);
    say!(words, VARIES_FEW_OF_BUILDS, few = few, n = count(samples))
}

fn worst_in_words(context: &PageContext<'_>, value: &Value, unit: &DisplayUnit, worst: &WorstCase) -> Markup {
    let words = context.words;
    let end = |si: f64, endless: Word<0>| match (value.value_type, si) {
        (ValueType::Condition, 0.0) => words.text(key::VARIES_NO).to_owned(),
        (ValueType::Condition, _) => words.text(key::VARIES_YES).to_owned(),
        (_, si) if si.is_infinite() => words.text(endless).to_owned(),
        (_, si) => held_together(&unit.show(si, value.digits.max(RANGE_DIGITS))),
    };
    let low = combination(context, end(worst.low, key::VARIES_NO_BOUND_BELOW), &worst.low_at);
    let high = combination(context, end(worst.high, key::VARIES_NO_BOUND_ABOVE), &worst.high_at);
    let said = match worst.certainty {
        Certainty::Proven => set!(words, VARIES_WORST_PROVEN, low = low, high = high),
        Certainty::Searched => set!(words, VARIES_WORST_SEARCHED, low = low, high = high),
    };
    html! { p { (said) } }
}

/// `15.9 s with C_t and R_t at their least, V_s at its greatest`.
fn combination(context: &PageContext<'_>, end: String, settings: &[GivenValue]) -> Markup {
    let words = context.words;
    let at = |end: End| settings.iter().filter(|setting| setting.end == end).collect::<Vec<_>>();
    let (least, greatest) = (at(End::Low), at(End::High));
    let mut parts: Vec<String> = Vec::new();
    if !least.is_empty() {
        let givens = listed(context, &least);
        parts.push(set_count!(words, VARIES_AT_LEAST, least.len(), givens = givens).into_string());
    }
    if !greatest.is_empty() {
        let givens = listed(context, &greatest);
        parts.push(set_count!(words, VARIES_AT_GREATEST, greatest.len(), givens = givens).into_string());
    }
    parts.extend(at(End::Inside).into_iter().map(|setting| inner(context, setting).into_string()));
    if parts.is_empty() {
        return html! { (end) };
    }
    set!(words, VARIES_WITH, end = end, settings = PreEscaped(parts.join(", ")))
}

fn listed(context: &PageContext<'_>, settings: &[&GivenValue]) -> Markup {
    let names: Vec<String> = settings
        .iter()
        .map(|setting| {
            let name = symbol(&setting.name);
            // A tolerance on a formula has no name of its own.
            let named = match given(context, &setting.name) {
                Some(_) => name,
                None => set!(context.words, VARIES_TOLERANCE_OF, name = name),
            };
            named.into_string()
        })
        .collect();
    PreEscaped(format::listed(context.words, &names))
}

/// A given between its ends: where. Of a tolerance on a formula, only that it is between.
fn inner(context: &PageContext<'_>, setting: &GivenValue) -> Markup {
    match given(context, &setting.name) {
        Some(given) => {
            html! { (symbol(&setting.name)) " = " (held_together(&given.unit.show(setting.value, RANGE_DIGITS))) }
        }
        None => set!(context.words, VARIES_INSIDE_TOLERANCE, name = symbol(&setting.name)),
    }
}

/// First-order propagation and what it is worth here.
fn simple_rule(context: &PageContext<'_>, unit: &DisplayUnit, rule: &FirstOrder) -> Markup {
    let words = context.words;
    let verdict = words.text(match rule.agreement {
        Agreement::StudentT => key::VARIES_RULE_STUDENT,
        Agreement::NoDeviation => key::VARIES_RULE_NO_DEVIATION,
        Agreement::Agrees => key::VARIES_RULE_AGREES,
        Agreement::NotNormal => key::VARIES_RULE_NOT_NORMAL,
        Agreement::Bends => key::VARIES_RULE_BENDS,
    });
    let std = held_together(&difference(unit, rule.std, UNCERTAINTY_DIGITS));
    let stated = match rule.degrees.filter(|degrees| degrees.is_finite()) {
        Some(degrees) => set!(words, VARIES_SIMPLE_RULE_DEGREES, std = std, n = count(degrees as u64)),
        None => set!(words, VARIES_SIMPLE_RULE, std = std),
    };
    let counts = |part: &&Sensitivity| (part.coefficient * part.uncertainty).abs() >= LEAST_PART * rule.std;
    let parts: Vec<&Sensitivity> = rule.sensitivities.iter().filter(counts).collect();
    html! {
        p { (stated) " " (verdict) }
        @if !parts.is_empty() {
            table.sensitivities {
                caption { (words.text(key::VARIES_SENSITIVITY)) }
                tbody { @for part in parts { (sensitivity(context, unit, part)) } }
            }
        }
    }
}

fn sensitivity(context: &PageContext<'_>, unit: &DisplayUnit, part: &Sensitivity) -> Markup {
    let brings = difference(unit, (part.coefficient * part.uncertainty).abs(), UNCERTAINTY_DIGITS);
    let Some(given) = given(context, &part.name) else {
        return html! { tr { th scope="row" { (symbol(&part.name)) } td { (context.words.text(key::VARIES_OWN_TOLERANCE)) } td { "= " (held_together(&brings)) } } };
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
            assert_eq!(share_of_builds(Words::ENGLISH, share, samples).replace(['\u{202f}', '\u{a0}'], " "), wanted);
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
