//! A requirement over all builds, in words: in how many it fails and how sure that is, and what would make it hold.

use benchleaf_core::{
    results::{Certainty, Change, Fails, Remedy, Role, Status, Verdict},
    units::number,
};
use benchleaf_words::{Words, say};

use crate::{
    context::PageContext,
    format::{count, down, range_within, up},
    sentence::{NAME, Piece, Sentences},
};

/// In how many builds it fails; empty where that goes without saying.
pub(crate) fn failing(context: &PageContext<'_>, verdict: &Verdict) -> Option<String> {
    let fails = verdict.fails.as_ref()?;
    let words = context.words;
    let reported = how_often(words, fails, context.evaluation.sheet.metadata.samples);
    match verdict.status {
        Status::Holds if fails.share == 0.0 => None,
        Status::Holds if verdict.worst.as_ref().is_some_and(|worst| worst.certainty == Certainty::Proven) => {
            Some(say!(words, FAILS_BEYOND_TOLERANCE, reported = reported))
        }
        Status::Holds => Some(say!(words, FAILS_MISSED_CORNER, reported = reported)),
        Status::AtRisk | Status::Broken => Some(say!(words, FAILS_FAILS, reported = reported)),
    }
}

/// Says what would make it hold.
pub(crate) fn remedies(context: &PageContext<'_>, remedies: &[Remedy], said: &mut Sentences) {
    let tolerance = remedies.iter().find_map(|remedy| match remedy.change {
        Change::Tolerance { part, low, high } => Some((remedy, part, (low, high))),
        _ => None,
    });
    let hopeless = remedies.iter().find(|remedy| remedy.change == Change::NoToleranceWill);
    let preferred = remedies.iter().find_map(|remedy| match &remedy.change {
        Change::Preferred { shown, series, .. } => Some((remedy, shown, *series)),
        _ => None,
    });
    let words = context.words;
    let other = preferred.map(|(remedy, shown, series)| (Piece::symbol(&remedy.given), shown, series));
    if let Some((remedy, part, ends)) = tolerance {
        let given = Piece::symbol(&remedy.given);
        let sentence = match (closer(context, &remedy.given, part, ends), &other) {
            (Closer::Exact, None) => say!(words, REMEDY_EXACT, given = NAME),
            (Closer::Exact, Some((_, value, series))) => {
                say!(words, REMEDY_EXACT_OR, given = NAME, other = NAME, value = value, series = series)
            }
            (Closer::OfFormula(part), None) => say!(words, REMEDY_FORMULA, given = NAME, part = part),
            (Closer::OfFormula(part), Some((_, value, series))) => {
                say!(words, REMEDY_FORMULA_OR, given = NAME, part = part, other = NAME, value = value, series = series)
            }
            (Closer::Within(within, part), None) => {
                say!(words, REMEDY_CLOSER, given = NAME, within = within, part = part)
            }
            (Closer::Within(within, part), Some((_, value, series))) => say!(
                words,
                REMEDY_CLOSER_OR,
                given = NAME,
                within = within,
                part = part,
                other = NAME,
                value = value,
                series = series
            ),
        };
        said.say(&sentence, [given].into_iter().chain(other.map(|(other, ..)| other)));
    } else if let Some(remedy) = hopeless {
        let given = Piece::symbol(&remedy.given);
        match other {
            None => said.say(&say!(words, REMEDY_HOPELESS, given = NAME), [given]),
            Some((other, value, series)) => {
                let sentence =
                    say!(words, REMEDY_HOPELESS_BUT, given = NAME, other = NAME, value = value, series = series);
                said.say(&sentence, [given, other]);
            }
        }
    } else if let Some((other, value, series)) = other {
        said.say(&say!(words, REMEDY_PREFERRED, other = NAME, value = value, series = series), [other]);
    }
}

/// What a given's tolerance would have to be.
enum Closer {
    /// None to speak of.
    Exact,
    /// So much of what a formula's tolerance is.
    OfFormula(String),
    /// Within these ends, so much of what it is: `91.6 to 121 µF`, `0.42`.
    Within(String, String),
}

fn closer(context: &PageContext<'_>, name: &str, part: f64, (low, high): (f64, f64)) -> Closer {
    if part < LEAST_PART {
        return Closer::Exact;
    }
    let part = number(down(part, 2), 2);
    let Some(given) = context.value(name).filter(|value| value.role == Role::Given) else {
        return Closer::OfFormula(part);
    };
    let half = 0.5 * (high - low);
    let middle = 0.5 * (low + high);
    let symmetric = (middle - given.nominal).abs() <= 1e-9 * given.nominal.abs();
    let within = if symmetric && given.unit.unit.offset == 0.0 && middle != 0.0 {
        format!("±\u{202f}{}\u{202f}%", number(down(100.0 * half / middle.abs(), 2), 2))
    } else {
        range_within(context.words, &given.unit, (low, high), 3)
    };
    Closer::Within(within, part)
}

/// `in 8.6 % ± 0.5 % of builds`; where few were seen to fail, how many, and a bound.
fn how_often(words: Words<'_>, fails: &Fails, samples: u64) -> String {
    let n = samples.max(1) as f64;
    let seen = (fails.share * n).round();
    if seen >= n {
        return say!(words, FAILS_IN_EVERY, n = count(samples));
    }
    if fails.uncertainty > 0.5 * fails.share {
        // The upper end of Wilson's interval, of which the uncertainty is half the width.
        const Z2: f64 = 1.96 * 1.96;
        let centre = (fails.share + Z2 / (2.0 * n)) / (1.0 + Z2 / n);
        let most = number(100.0 * up(centre + fails.uncertainty, 1), 1);
        return match seen {
            0.0 => say!(words, FAILS_IN_NONE, n = count(samples), most = most),
            seen => say!(words, FAILS_IN_FEW, seen = count(seen as u64), n = count(samples), most = most),
        };
    }
    let (share, uncertainty) = (100.0 * fails.share, 100.0 * fails.uncertainty);
    let places = (-libm::log10(uncertainty).floor()).clamp(0.0, 9.0) as usize;
    let figure = |number: f64| format!("{number:.places$}");
    say!(words, FAILS_IN_SHARE, share = figure(share), uncertainty = figure(uncertainty))
}

/// A tolerance of less than this part of the present one cannot be bought.
const LEAST_PART: f64 = 0.01;

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use super::*;
    use crate::sample::context_of;

    #[test]
    fn a_share_is_reported_to_what_its_uncertainty_allows() {
        for (share, uncertainty, wanted) in [
            (0.0859, 0.00549, "in 8.6 % ± 0.5 % of builds"),
            (0.0138, 0.00229, "in 1.4 % ± 0.2 % of builds"),
            (0.5021, 0.0098, "in 50.2 % ± 1.0 % of builds"),
            (0.0, 0.000192, "in none of 10 000 simulated builds; 95 % sure: in fewer than 0.04 % of all"),
            (0.0001, 0.000274, "in 1 of 10 000 simulated builds; 95 % sure: in fewer than 0.06 % of all"),
            (1.0, 0.000192, "in every one of 10 000 simulated builds"),
        ] {
            assert_eq!(
                how_often(Words::ENGLISH, &Fails { share, uncertainty }, 10_000).replace(['\u{202f}', '\u{a0}'], " "),
                wanted
            );
        }
    }

    fn text_of(given: &str, change: Change) -> String {
        let source = "```calc\nC = 100 µF -20 % +50 %\nR = 10 kΩ ± 5 %\n```\n";
        let evaluation = Evaluator::default().evaluate(source);
        let remedy = Remedy { given: given.to_owned(), change };
        let mut said = Sentences::default();
        remedies(&context_of(&evaluation, source), &[remedy], &mut said);
        said.plain().trim().replace('`', "")
    }

    #[test]
    fn remedies_promise_no_more_than_was_found() {
        let tolerance = |part, low, high| Change::Tolerance { part, low, high };
        assert_eq!(
            text_of("C", tolerance(0.4219, 91.5625e-6, 121.09e-6)),
            "It would hold if C stayed within 91.6 to 121 µF (0.42 of its tolerance)."
        );
        assert_eq!(
            text_of("R", tolerance(0.399, 9800.5, 10199.5)),
            "It would hold if R stayed within ± 1.9 % (0.39 of its tolerance)."
        );
        assert_eq!(text_of("R", tolerance(0.001, 9999.5, 10000.5)), "It would hold if R were all but exact.");
        assert_eq!(text_of("R", Change::NoToleranceWill), "No tolerance of R alone would do.");
        let preferred = Change::Preferred { value: 8200.0, shown: "8.2 kΩ".to_owned(), series: "E24" };
        assert_eq!(text_of("R", preferred), "It would hold with R = 8.2 kΩ, the nearest E24 value that does.");
    }
}
