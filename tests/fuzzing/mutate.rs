//! Inputs by their number: text that is taken apart at its words and lines and put together wrongly, bytes that are
//! turned, and what the grammar makes. Random numbers come from a counter, so that a number names one input.

use super::{
    grammar,
    seeds::{EXERCISES, SEEDS},
    whole_page,
    words::{CHARACTERS, LANGUAGE, MARKUP, NUMBERS, QUANTITIES, TOLERANCES},
};

/// A worksheet.
pub(super) fn worksheet(number: u64) -> Vec<u8> {
    let chance = &mut Chance::new(number);
    let text = sheet(chance);
    if chance.below(12) == 0 { turned(text.into_bytes(), chance) } else { text.into_bytes() }
}

/// Worksheets between lines of `~~~~`.
pub(super) fn folder(number: u64) -> Vec<u8> {
    let chance = &mut Chance::new(number);
    let sheets: Vec<String> = (0..1 + chance.below(3)).map(|_| sheet(chance)).collect();
    sheets.join("\n~~~~\n").into_bytes()
}

/// A page, most of them with a few places changed.
pub(super) fn page(number: u64) -> Vec<u8> {
    let chance = &mut Chance::new(number);
    let source = if chance.below(3) == 0 { sheet(chance) } else { chance.pick(&SEEDS) };
    let page = whole_page(&source);
    match chance.below(4) {
        0 => page.into_bytes(),
        1 => turned(page.into_bytes(), chance),
        _ => {
            // The style takes up most of a page, and says nothing.
            let at = page.find("</style>").unwrap_or(0);
            let (style, rest) = page.split_at(at);
            (style.to_owned() + &mutated(rest, chance)).into_bytes()
        }
    }
}

/// A table of answers.
pub(super) fn table(number: u64) -> Vec<u8> {
    let chance = &mut Chance::new(number);
    let mut text = "learner,exercise,answer\n".to_owned();
    for _ in 0..chance.below(6) {
        let (learner, exercise, answer) = (
            chance.pick(&["Ada", "Bo", "", "=1+1", "@x", "\"a,b\""]),
            chance.pick(&["pulse", "current", "none", ""]),
            quantity_text(chance),
        );
        text.push_str(&format!("{learner},{exercise},{answer}\n"));
    }
    if chance.below(3) > 0 {
        text = mutated(&text, chance);
    }
    if chance.below(4) == 0 { turned(text.into_bytes(), chance) } else { text.into_bytes() }
}

/// A quantity, right or nearly.
pub(super) fn quantity(number: u64) -> Vec<u8> {
    let chance = &mut Chance::new(number);
    let text = quantity_text(chance);
    if chance.below(2) == 0 { mutated(&text, chance).into_bytes() } else { text.into_bytes() }
}

/// An expression, right or nearly.
pub(super) fn expression(number: u64) -> Vec<u8> {
    let chance = &mut Chance::new(number);
    let text = grammar::expression(chance);
    if chance.below(2) == 0 { mutated(&text, chance).into_bytes() } else { text.into_bytes() }
}

fn quantity_text(chance: &mut Chance) -> String {
    match chance.below(3) {
        0 => chance.pick(QUANTITIES).to_owned(),
        1 => format!("{} {}", chance.pick(NUMBERS), chance.pick(TOLERANCES)),
        _ => {
            let unit = chance.pick(QUANTITIES).split_once(' ').map_or("V", |parts| parts.1).to_owned();
            format!("{} {unit} {}", chance.pick(NUMBERS), chance.pick(TOLERANCES))
        }
    }
}

fn sheet(chance: &mut Chance) -> String {
    match chance.below(8) {
        0..3 => grammar::worksheet(chance),
        3 => {
            let text = grammar::worksheet(chance);
            mutated(&text, chance)
        }
        4 => {
            let text = [chance.pick(&SEEDS), chance.pick(&SEEDS)].concat();
            mutated(&text, chance)
        }
        5 if chance.below(4) == 0 => mutated(EXERCISES, chance),
        _ => {
            let text = chance.pick(&SEEDS);
            mutated(&text, chance)
        }
    }
}

/// A text with one to six changes.
fn mutated(text: &str, chance: &mut Chance) -> String {
    let mut text = text.to_owned();
    for _ in 0..1 + chance.below(6) {
        text = if chance.below(3) == 0 { with_lines_moved(&text, chance) } else { with_words_changed(&text, chance) };
    }
    // What grows in six rounds stays small enough for a thousand a second.
    if text.len() > LONGEST {
        let end = (0..=LONGEST).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0);
        text.truncate(end);
    }
    text
}

fn with_lines_moved(text: &str, chance: &mut Chance) -> String {
    let mut lines: Vec<String> = text.split_inclusive('\n').map(str::to_owned).collect();
    if lines.is_empty() {
        return chance.pick(MARKUP).to_owned();
    }
    let (at, other) = (chance.below(lines.len() as u64) as usize, chance.below(lines.len() as u64) as usize);
    match chance.below(7) {
        0 => lines.insert(at, lines[at].clone()),
        1 => {
            lines.remove(at);
        }
        2 => lines.swap(at, other),
        3 => {
            let seed = chance.pick(&SEEDS);
            let foreign: Vec<&str> = seed.split_inclusive('\n').collect();
            lines.insert(at, chance.pick(&foreign).to_owned());
        }
        4 => lines.truncate(at),
        5 => return text.replace('\n', "\r\n"),
        _ => {
            let line = lines[at].clone();
            lines.extend(std::iter::repeat_n(line, 1 + chance.below(40) as usize));
        }
    }
    lines.concat()
}

fn with_words_changed(text: &str, chance: &mut Chance) -> String {
    let words = words(text);
    if words.is_empty() {
        return chance.pick(NUMBERS).to_owned();
    }
    let at = chance.below(words.len() as u64) as usize;
    // Numbers are where most goes wrong: half of all changes are made at one.
    let number = (0..words.len())
        .map(|step| (at + step) % words.len())
        .find(|at| words[*at].starts_with(|c: char| c.is_ascii_digit()));
    let (before, word, after) = match (chance.below(2), number) {
        (0, Some(at)) => (words[..at].concat(), words[at], words[at + 1..].concat()),
        _ => (words[..at].concat(), words[at], words[at + 1..].concat()),
    };
    let new = match chance.below(12) {
        0..3 => chance.pick(NUMBERS).to_owned(),
        3 => chance.pick(QUANTITIES).to_owned(),
        4 => format!("{word} {}", chance.pick(TOLERANCES)),
        5 => format!("{word}{}", chance.pick(CHARACTERS)),
        6 => chance.pick(LANGUAGE).to_owned(),
        7 => format!("{word}{}", chance.pick(MARKUP)),
        8 => String::new(),
        9 => {
            let times = 1 + chance.below(300) as usize;
            let (open, close) = chance.pick(&[
                ("(", ")"),
                ("-", ""),
                ("[", "]"),
                ("not ", ""),
                ("if x > 0 then ", " else 0"),
                ("abs(", ")"),
                ("*", "*"),
                ("> ", ""),
                ("2^", ""),
                ("{", "}"),
            ]);
            format!("{}{word}{}", open.repeat(times), close.repeat(times))
        }
        10 => chance.pick(&words).to_owned(),
        _ => word.repeat(1 + chance.below(60) as usize),
    };
    [before, new, after].concat()
}

/// Bytes with some of them turned, taken out or put in.
fn turned(mut bytes: Vec<u8>, chance: &mut Chance) -> Vec<u8> {
    for _ in 0..1 + chance.below(8) {
        if bytes.is_empty() {
            break;
        }
        let at = chance.below(bytes.len() as u64) as usize;
        match chance.below(4) {
            0 => bytes[at] ^= 1 << chance.below(8),
            1 => bytes[at] = chance.pick(&[0, 0xff, 0xfe, 0x80, b'\r', b'"', b'<', 0xed, 0xef, 0x1b]),
            2 => {
                bytes.remove(at);
            }
            _ => bytes.insert(at, chance.below(256) as u8),
        }
    }
    bytes
}

/// A text's words, numbers, signs and blanks.
fn words(text: &str) -> Vec<&str> {
    let sort = |c: char| match c {
        c if c.is_ascii_digit() || c == '.' => 0,
        c if c.is_alphabetic() || c == '_' => 1,
        ' ' => 2,
        _ => 3,
    };
    let mut words = Vec::new();
    let mut start = 0;
    let mut last: Option<u8> = None;
    for (at, c) in text.char_indices() {
        let sort = sort(c);
        if last.is_some_and(|last| last != sort || sort == 3) {
            words.push(&text[start..at]);
            start = at;
        }
        last = Some(sort);
    }
    if start < text.len() {
        words.push(&text[start..]);
    }
    words
}

/// Random numbers from a counter (splitmix64: Steele, Lea, Flood, 2014).
pub(super) struct Chance(u64);

impl Chance {
    fn new(number: u64) -> Self {
        let mut chance = Self(number.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        chance.next();
        chance
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below another.
    pub(super) fn below(&mut self, end: u64) -> u64 {
        self.next() % end.max(1)
    }

    /// One of several.
    pub(super) fn pick<T: Clone>(&mut self, all: &[T]) -> T {
        all[self.below(all.len() as u64) as usize].clone()
    }
}

const LONGEST: usize = 20_000;
