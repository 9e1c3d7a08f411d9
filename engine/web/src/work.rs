//! From a request to an answer: the reader's changes go into the worksheet, it is evaluated, and what depends on numbers
//! is set; or a learner's attempt at an exercise is answered. The order of an answer's texts stands here, and once more in
//! the page's script.

use std::fmt::Write;

use benchleaf_core::{
    Evaluator, OverTime,
    change::{Change, Refusal, change, givens},
    host::PublishedPage,
    lang::ast::{Definition, Quantity},
    results::{Evaluation, Role, Spread, WorstCase},
    units::parse,
};
use benchleaf_page::{exercises, parts, steps, update};
use benchleaf_words::Words;
use sha2::{Digest, Sha256};

use crate::message::{Answer, Request};

/// The answer to a reader's changes: the changed worksheet, its outline, its hash, how many requirements hold, are at
/// risk and are broken, the givens, what was refused, the head, how many blocks there are, these, and the inline results.
/// Nothing at all where the worksheet and its outline do not go together.
pub fn answer(request: &[u8]) -> Vec<u8> {
    answered(request, OverTime::Builds)
}

/// The same with runs over time at the nominal values alone: what a page can show before the rest is there.
pub fn first_answer(request: &[u8]) -> Vec<u8> {
    answered(request, OverTime::Nominal)
}

fn answered(request: &[u8], over_time: OverTime) -> Vec<u8> {
    let mut answer = Answer::new();
    let mut request = Request::read(request);
    request.options.over_time = over_time;
    let lines = std::mem::take(&mut request.words);
    if let Some(worksheet) = request.worksheet.take() {
        let evaluator = Evaluator::with(&request.options).host(&PublishedPage);
        let changed = change(&worksheet, &request.changes());
        let worksheet = changed.worksheet;
        let evaluation = evaluator.evaluate_worksheet(&worksheet, Vec::new());
        let words = Words::with_lines(&lines);
        let update = update(&evaluation, &worksheet.source, words);
        let counts = update.counts;
        answer.say(&worksheet.source);
        answer.say(&worksheet.outline());
        answer.say(&hexadecimal(&Sha256::digest(&worksheet.source)));
        answer.say(&format!("{}\t{}\t{}\t{}", counts.holds, counts.at_risk, counts.broken, counts.errors));
        answer.say(&fields(&evaluation, &worksheet.source));
        answer.say(&refusals(&changed.refused, words));
        answer.say(&update.head);
        answer.say(&update.blocks.len().to_string());
        update.blocks.iter().chain(&update.inlines).for_each(|html| answer.say(html));
    }
    answer.finish()
}

/// The answer to a learner's attempt: what the exercise could not be marked for (empty where it could), the feedback's
/// word, its text, the points and those of a right answer, the solution, and number and text of each inline result.
/// What there is none of is empty.
pub fn reply(request: &[u8]) -> Vec<u8> {
    let mut answer = Answer::new();
    let mut request = Request::read(request);
    let lines = std::mem::take(&mut request.words);
    if let Some(worksheet) = request.worksheet.take() {
        match exercises::attempt(&worksheet, &request.attempt(), Words::with_lines(&lines)) {
            Err(reason) => answer.say(&reason.to_string()),
            Ok(reply) => {
                answer.say("");
                match &reply.feedback {
                    Some(said) => [said.word, &said.message, &said.points.to_string(), &said.of.to_string()]
                        .into_iter()
                        .for_each(|text| answer.say(text)),
                    None => ["", "", "", ""].into_iter().for_each(|text| answer.say(text)),
                }
                answer.say(reply.solution.as_deref().unwrap_or(""));
                for (number, html) in &reply.inlines {
                    answer.say(&number.to_string());
                    answer.say(html);
                }
            }
        }
    }
    answer.finish()
}

/// The answer to readings at test points: for each its word, what is said of it, and the range bar with it, both as HTML.
pub fn judgement(request: &[u8]) -> Vec<u8> {
    let mut answer = Answer::new();
    let mut request = Request::read(request);
    let lines = std::mem::take(&mut request.words);
    if let Some(worksheet) = request.worksheet.take() {
        let evaluator = Evaluator::with(&request.options).host(&PublishedPage);
        let found = evaluator.readings(&worksheet, &request.readings());
        for said in steps::judged(&found, Words::with_lines(&lines)) {
            [said.word, &said.message, &said.bar].into_iter().for_each(|text| answer.say(text));
        }
    }
    answer.finish()
}

/// What the parts cost for a number of builds: all of them, and one of them; or what is wrong with the number, alone.
pub fn price(request: &[u8]) -> Vec<u8> {
    let mut answer = Answer::new();
    let mut request = Request::read(request);
    let lines = std::mem::take(&mut request.words);
    if let Some(worksheet) = request.worksheet.take() {
        let parts = Evaluator::default().host(&PublishedPage).parts(&worksheet);
        match parts::cost(&parts, &request.builds(), Words::with_lines(&lines)) {
            Ok(amounts) => amounts.iter().for_each(|amount| answer.say(amount)),
            Err(why) => answer.say(&why),
        }
    }
    answer.finish()
}

/// Every number of a request's worksheet as the bits of its double, one value or requirement a line.
pub fn exact(request: &[u8]) -> Vec<u8> {
    let mut request = Request::read(request);
    let mut text = String::new();
    if let Some(worksheet) = request.worksheet.take() {
        let options = request.options;
        let worksheet = change(&worksheet, &request.changes()).worksheet;
        write_bits(
            &Evaluator::with(&options).host(&PublishedPage).evaluate_worksheet(&worksheet, Vec::new()),
            &mut text,
        );
    }
    let mut answer = Answer::new();
    answer.say(&text);
    answer.finish()
}

/// The numbers of an evaluation as [`exact`] writes them.
pub fn write_bits(evaluation: &Evaluation, text: &mut String) {
    for value in &evaluation.values {
        text.push_str(&value.name);
        bits(text, [value.nominal]);
        bits(text, value.worst.as_ref().map(ends).into_iter().flatten());
        bits(text, value.spread.as_ref().map(spread).into_iter().flatten());
        for share in &value.shares {
            let _ = write!(text, " {}", share.name);
            bits(text, [share.first]);
            bits(text, share.total);
        }
        text.push('\n');
    }
    for keep in &evaluation.keeps {
        text.push_str(keep.status.word());
        bits(text, [keep.nominal]);
        bits(text, keep.worst.as_ref().map(ends).into_iter().flatten());
        bits(text, keep.margin.into_iter().chain(keep.margin_worst));
        bits(text, keep.fails.map(|fails| fails.share));
        text.push('\n');
    }
    for point in evaluation.plots.iter().flat_map(|plot| &plot.curves).flat_map(|curve| &curve.points) {
        bits(text, [point.x, point.y, point.low, point.high]);
        text.push('\n');
    }
}

/// The givens, one a line: name, what stands in its field, number and unit of that, and the ends that its author wrote
/// in the same unit, and its SI value; between tabs, empty where there is none.
fn fields(evaluation: &Evaluation, source: &str) -> String {
    let mut text = String::new();
    let own = givens(&evaluation.sheet, source);
    let own = own.iter().map(|given| (given.name, given.definition, given.definition.written(source)));
    let taken = evaluation.taken.iter().map(|given| (given.name.as_str(), &given.definition, given.written.as_deref()));
    for (name, definition, written) in own.chain(taken) {
        let Some(value) = evaluation.value(name).filter(|value| value.role == Role::Given) else { continue };
        let Some((quantity, negative)) = definition.literal() else { continue };
        let unit = quantity.unit.as_ref().map_or("", |unit| unit.item.as_str());
        let number = if negative { -quantity.number } else { quantity.number };
        let written = written.map_or_else(|| value.shown(), str::to_owned);
        let _ = write!(text, "{name}\t{}\t{number}\t{}", one_line(&written), one_line(unit));
        let (low, high) = bounds(definition).unwrap_or_default();
        for end in [low, high] {
            text.push('\t');
            if let Some(end) = end {
                let _ = write!(text, "{end}");
            }
        }
        let _ = writeln!(text, "\t{}", value.nominal);
    }
    text
}

/// The ends that an author wrote, in the unit of the given's number.
fn bounds(definition: &Definition) -> Option<(Option<f64>, Option<f64>)> {
    let unit_of = |quantity: &Quantity| quantity.unit.as_ref().and_then(|unit| parse(&unit.item));
    let own = unit_of(definition.literal()?.0);
    let (low, high) = definition.ends()?;
    let in_own = |end: Option<&Quantity>| {
        let end = end?;
        Some(match (&own, unit_of(end)) {
            (Some(own), Some(unit)) if *own != unit => own.of_si(unit.to_si(end.number)),
            _ => end.number,
        })
    };
    Some((in_own(low), in_own(high)))
}

/// What was refused, one a line: name, what was typed, why, and a way out.
fn refusals(refused: &[Refusal], words: Words<'_>) -> String {
    let mut text = String::new();
    for Refusal { change: Change { name, text: typed }, problem } in refused {
        let help = problem.help.as_ref().map(|help| help.say(words)).unwrap_or_default();
        let parts = [name, typed, &problem.message.say(words), &help].map(|part| one_line(part));
        let _ = writeln!(text, "{}", parts.join("\t"));
    }
    text
}

fn one_line(text: &str) -> String {
    text.replace(['\t', '\n', '\r'], " ")
}

fn ends(worst: &WorstCase) -> [f64; 2] {
    [worst.low, worst.high]
}

fn spread(spread: &Spread) -> [f64; 4] {
    let (low, high) = spread.interval.ends();
    [spread.mean.unwrap_or(f64::NAN), spread.std.unwrap_or(f64::NAN), low, high]
}

fn bits(text: &mut String, numbers: impl IntoIterator<Item = f64>) {
    for number in numbers {
        // Which of the many not-a-numbers it is says nothing.
        let number = if number.is_nan() { f64::NAN } else { number };
        let _ = write!(text, " {:016x}", number.to_bits());
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use benchleaf_core::sheet::Worksheet;
    use benchleaf_words::Language;

    use super::*;

    fn texts(bytes: &[u8]) -> Vec<String> {
        let mut rest = &bytes[4..];
        let mut texts = Vec::new();
        while let Some((length, behind)) = rest.split_first_chunk::<4>() {
            let (text, behind) = behind.split_at(u32::from_le_bytes(*length) as usize);
            texts.push(String::from_utf8(text.to_vec()).unwrap());
            rest = behind;
        }
        texts
    }

    fn ask(source: &str, texts: &[&str]) -> Vec<u8> {
        let mut request = Answer::new();
        request.say(source);
        request.say(&Worksheet::new(source).0.outline());
        texts.iter().for_each(|text| request.say(text));
        request.finish()[4..].to_vec()
    }

    const SHEET: &str = "# {a:2} is a\n\n```calc\na = 2 V ± 5 %\nb = min 1 mA typ 2 mA max 0.003 A\nc = -5\nkeep a below 5 V\n```\n\n\
        Text {a}.\n\n```warning when a > 3 V\nIt is {a}.\n```\n\n```exercise x\nask \"What is {a} twice?\"\n\
        answer = 2 * a within 1 %\nhint \"Add {a}.\"\n```\n";

    #[test]
    fn an_answer_says_what_the_page_shows() {
        let request = ask(SHEET, &["100", "", "a", "3", "a", "4 V"]);
        let said = texts(&answer(&request));
        assert_eq!(said[0], SHEET.replace("a = 2 V", "a = 4 V"));
        assert_eq!(said[1], Worksheet::new(&said[0]).0.outline());
        assert_eq!(said[3], "1\t0\t0\t0");
        assert_eq!(said[4], "a\t4 V\t4\tV\t\t\t4\nb\t2 mA\t2\tmA\t1\t3\t0.002\nc\t-5\t-5\t\t\t\t-5\n");
        assert!(said[5].starts_with("a\t3\tthe unit is missing") && said[5].matches('\n').count() == 1, "{}", said[5]);
        assert_eq!(said[7], "3");
        let (blocks, inlines) = said[8..].split_at(3);
        assert!(blocks[1].contains("data-shown=\"true\""), "{}", blocks[1]);
        assert_eq!(inlines.len(), 5);
        assert!(inlines[1].contains("4\u{202f}V"), "{inlines:?}");
        let before = texts(&answer(&ask(SHEET, &["100", ""])));
        assert!(before[9].contains("data-shown=\"false\""), "{}", before[9]);
        assert_ne!(exact(&request), exact(&ask(SHEET, &["100", ""])));
    }

    #[test]
    fn a_reply_says_a_learner_how_it_stands() {
        let right = texts(&reply(&ask(SHEET, &["", "", "x", "", "=4 V", ""])));
        assert_eq!((right[0].as_str(), right[1].as_str(), right[3].as_str()), ("", "right", "1"));
        assert!(right[5].contains("<math"), "{right:?}");
        assert_eq!((right[6].as_str(), right[8].as_str()), ("3", "4"), "{right:?}");
        let asked = texts(&reply(&ask(SHEET, &["", "", "x"])));
        assert_eq!(asked[1..6], ["", "", "", "", ""]);
        assert_eq!(texts(&reply(&ask(SHEET, &["", "", "y"]))), ["there is no exercise `y`"]);
    }

    #[test]
    fn an_answer_is_in_the_language_that_the_page_hands_over() {
        let words = Language::find("de").unwrap().for_engine().unwrap();
        let in_german = |texts: &[&str]| {
            let mut request = Answer::new();
            request.say(&words);
            let mut bytes = request.finish()[4..].to_vec();
            bytes.extend(ask(SHEET, texts));
            bytes
        };
        let changed = texts(&answer(&in_german(&["100", "", "a", "4.9 V"])));
        assert!(changed[6].contains("1 Anforderung ist gefährdet"), "{}", changed[6]);
        assert_eq!(texts(&answer(&ask(SHEET, &["100", "", "a", "4.9 V"])))[4], changed[4]);
        let right = texts(&reply(&in_german(&["", "", "x", "", "=4 V", ""])));
        assert_eq!((right[1].as_str(), right[2].as_str()), ("right", "Richtig."));
        // Words of another version are as good as none.
        let other = words.replacen("words ", "words x", 1);
        let mut request = Answer::new();
        request.say(&other);
        let mut bytes = request.finish()[4..].to_vec();
        bytes.extend(ask(SHEET, &["100", ""]));
        assert!(texts(&answer(&bytes))[6].contains("1 requirement holds"));
    }

    #[test]
    fn no_request_is_too_odd_to_answer() {
        for request in [&[][..], &[255; 9], &ask("```calc\nx = 1\n", &["x", "-1", "9e9", "x"])] {
            for call in [answer, reply, exact] {
                assert!(call(request).len() >= 4);
            }
        }
    }
}
