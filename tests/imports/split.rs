//! Random worksheets, and the same worksheets in several files: each file holds some of the statements, in their order, and
//! takes from the files before it what it reads, from the one that defines it or from one that passes it on.

use std::collections::{BTreeMap, BTreeSet};

use benchleaf_tests::Random;

/// A piece of a worksheet: `«x»` stands for the name of a value.
pub(crate) struct Piece {
    pub(crate) text: String,
    pub(crate) defines: Vec<String>,
    pub(crate) reads: Vec<String>,
    /// Whether it is a block of its own.
    block: bool,
}

impl Piece {
    fn of(text: String, block: bool, defines: &[&str]) -> Self {
        let defines: Vec<String> = defines.iter().map(|name| (*name).to_owned()).collect();
        let reads: BTreeSet<String> =
            text.split('«').skip(1).filter_map(|rest| Some(rest.split_once('»')?.0.to_owned())).collect();
        let reads = reads.into_iter().filter(|name| !defines.contains(name)).collect();
        Self { text, defines, reads, block }
    }

    fn named(&self, name: impl Fn(&str) -> String) -> String {
        let mut parts = self.text.split('«');
        let mut text = parts.next().unwrap_or("").to_owned();
        for part in parts {
            let (inside, rest) = part.split_once('»').unwrap();
            text.push_str(&name(inside));
            text.push_str(rest);
        }
        text
    }
}

/// Random pieces, each of which reads what stands above it.
pub(crate) fn pieces(random: &mut Random) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    let (mut values, mut givens): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    let count = 6 + random.below(14);
    for i in 0..count {
        let x = format!("x_{i}");
        let pick = |random: &mut Random, of: &[String]| of[random.below(of.len() as u64) as usize].clone();
        let roll = if values.len() < 3 || givens.len() < 2 { 0 } else { random.below(20) };
        let piece = match roll {
            0..=5 => {
                let tolerances = [
                    "± 5 %",
                    "± 3 % normal(2)",
                    "-10 % +20 %",
                    "± 8 % triangular",
                    "",
                    "± 2 % arcsine",
                    "± 4 % normal(2) dof(9)",
                ];
                let number = 1.0 + (random.share() * 900.0).round() / 100.0;
                let tolerance = tolerances[random.below(tolerances.len() as u64) as usize];
                if !tolerance.is_empty() {
                    givens.push(x.clone());
                }
                Piece::of(format!("«{x}» = {number} {tolerance} \"given {i}\""), false, &[&x])
            }
            6 => {
                let (a, b) = (pick(random, &values), pick(random, &values));
                Piece::of(format!("«{x}» = «{a}» * «{b}» / (1 + «{a}») ± 1 %"), false, &[&x])
            }
            7 => {
                let (a, b) = (pick(random, &givens), pick(random, &givens));
                if a == b {
                    continue;
                }
                Piece::of(format!("correlation(«{a}», «{b}») = 0.3"), false, &[])
            }
            8 => {
                let a = pick(random, &values);
                let reg = format!("reg_{i}");
                let model = format!(
                    "«{reg}» = regulator.linear(input = 9 V + «{a}» * 10 mV, output = 5 V, load = 60 mA, ambient = 35 °C, \
                     junction_to_ambient = 65 K/W)\n«{x}» = «{reg}».dissipation / 1 W"
                );
                Piece::of(model, false, &[&reg, &x])
            }
            9 => {
                let a = pick(random, &values);
                Piece::of(
                    format!("«{x}» = interpolate(«{a}» / («{a}» + 3), 0, 1, 0.3, 2.5, 0.6, 2.9, 1, 7)"),
                    false,
                    &[&x],
                )
            }
            10 => {
                let (a, b) = (pick(random, &givens), pick(random, &values));
                // What is sought may not be there at all: then both say so.
                Piece::of(
                    format!("«{x}» = solve «{a}» so that «{a}» * 2 + «{b}» * 0 = 9.5 from 0.1 to 40"),
                    false,
                    &[&x],
                )
            }
            11 => {
                let (f, a) = (format!("f_{i}"), pick(random, &values));
                Piece::of(
                    format!("«{f}»(u, v) = u * v + sqrt(u)\n«{x}» = «{f}»(«{a}», 3) + «{f}»(2, «{a}»)"),
                    false,
                    &[&f, &x],
                )
            }
            12 => {
                let a = pick(random, &values);
                let (state, end, top) = (format!("s_{i}"), format!("k_{i}"), format!("l_{i}"));
                let block = format!(
                    "state {state} = 0 V\nd {state} = (5 V - {state}) / 1 s\n\
                     until {state} > 3 V + «{a}» * 10 mV within 60 s\n«{end}» = end\n«{top}» = last({state})"
                );
                pieces.push(Piece::of(block, true, &[&end, &top]));
                Piece::of(format!("«{x}» = «{end}» / 1 s + «{top}» / 1 V"), false, &[&x])
            }
            13 => {
                let a = pick(random, &values);
                Piece::of(format!("«{x}» = preferred_below(E12, «{a}» + 1)"), false, &[&x])
            }
            14 => {
                let (a, b) = (pick(random, &values), pick(random, &values));
                Piece::of(format!("«{x}» = if «{a}» > «{b}» then «{a}» - «{b}» else 2 * «{b}»"), false, &[&x])
            }
            15 => {
                let (a, b) = (pick(random, &values), pick(random, &values));
                Piece::of(format!("keep «{a}» + «{b}» below {}", 3 + random.below(20)), false, &[])
            }
            _ => {
                let (a, b) = (pick(random, &values), pick(random, &values));
                let forms = [
                    "«a» + «b»",
                    "«a» * «b»",
                    "«a» - «b»",
                    "«a» / «b»",
                    "«a» / («a» + «b»)",
                    "sqrt(abs(«a»)) + «b»",
                    "«a» ∥ («b» * «b» + 1)",
                ];
                let form = forms[random.below(forms.len() as u64) as usize];
                Piece::of(
                    format!("«{x}» = {}", form.replace("«a»", &format!("«{a}»")).replace("«b»", &format!("«{b}»"))),
                    false,
                    &[&x],
                )
            }
        };
        if piece.defines.contains(&x) {
            values.push(x);
        }
        pieces.push(piece);
    }
    pieces
}

/// The pieces as one text.
fn joined<'p>(pieces: impl Iterator<Item = &'p Piece>, head: &str, name: impl Fn(&str) -> String) -> String {
    let mut text = format!("# Pieces\n\n```calc\n{head}\n```\n");
    for piece in pieces {
        let fence = if piece.block { "transient" } else { "calc" };
        text.push_str(&format!("\n```{fence}\n{}\n```\n", piece.named(&name)));
    }
    text
}

/// A worksheet in one file, and in several.
pub(crate) struct Split {
    pub(crate) whole: String,
    /// The worksheet that uses the others.
    pub(crate) last: String,
    pub(crate) others: BTreeMap<String, String>,
    /// Names of the last file, with what they are called in the whole.
    pub(crate) names: BTreeMap<String, String>,
}

/// Splits pieces at random places.
pub(crate) fn split(random: &mut Random, pieces: &[Piece]) -> Split {
    let files = 2 + random.below(2) as usize;
    let mut cuts: Vec<usize> = (1..files).map(|_| 1 + random.below(pieces.len() as u64 - 1) as usize).collect();
    cuts.sort_unstable();
    let of_piece = |piece: usize| cuts.iter().filter(|cut| **cut <= piece).count();
    let is_function = |name: &str| name.starts_with('f');
    let place = |file: usize| if file == 0 { format!("more/part{file}.md") } else { format!("part{file}.md") };
    // Which names each file has, and under which name: its own, and those that it takes.
    let mut known: Vec<BTreeMap<String, String>> = vec![BTreeMap::new(); files];
    let mut texts = Vec::new();
    for file in 0..files {
        let own: Vec<&Piece> =
            pieces.iter().enumerate().filter(|(i, _)| of_piece(*i) == file).map(|(_, piece)| piece).collect();
        let is_last = file + 1 == files;
        let user = if is_last { "last.md".to_owned() } else { place(file) };
        let defined: BTreeSet<&String> = own.iter().flat_map(|piece| &piece.defines).collect();
        let reads: BTreeSet<&String> =
            own.iter().flat_map(|piece| &piece.reads).filter(|name| !defined.contains(name)).collect();
        let mut head = String::new();
        let mut names: BTreeMap<String, String> = BTreeMap::new();
        for name in reads {
            assert!(!is_function(name), "a function is read where it stands");
            let sources: Vec<usize> = (0..file).filter(|earlier| known[*earlier].contains_key(name)).collect();
            let earlier = sources[random.below(sources.len() as u64) as usize];
            let path = place(earlier);
            let there = &known[earlier][name];
            let here = if random.below(4) == 0 { format!("{there}_{file}") } else { there.clone() };
            let renamed = if here == *there { there.clone() } else { format!("{there} as {here}") };
            head.push_str(&format!("use \"{path}\": {renamed}\n"));
            names.insert(name.clone(), here);
        }
        names.extend(defined.iter().map(|name| ((*name).clone(), (*name).clone())));
        texts.push((user, joined(own.into_iter(), &head, |name| names[name].clone())));
        known[file] = names;
    }
    let (_, last) = texts.pop().unwrap();
    let names = known[files - 1].iter().map(|(whole, here)| (here.clone(), whole.clone())).collect();
    Split { whole: joined(pieces.iter(), "", str::to_owned), last, others: texts.into_iter().collect(), names }
}
