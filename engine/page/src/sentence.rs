//! Sentences with names in them, said once for the page (symbols and links) and for a terminal (plain text).

use maud::{Markup, html};

use crate::{context::PageContext, labels, mathml, typography::held_together};

/// A run of sentences.
#[derive(Default)]
pub(crate) struct Sentences(Vec<Piece>);

pub(crate) enum Piece {
    /// Plain words.
    Text(String),
    /// A name.
    Symbol(String),
    /// A name that the page links to its place, with its label where it has one.
    Given { name: String, label: Option<String>, link: String },
}

/// The place of a name in a sentence.
pub(crate) const NAME: char = '\u{e000}';

impl Piece {
    /// A name.
    pub(crate) fn symbol(name: &str) -> Self {
        Piece::Symbol(name.to_owned())
    }

    /// A value's label and name. A label may be a singular or a plural, with an article or without one: the words before it
    /// end in a colon, and no verb follows.
    pub(crate) fn given(context: &PageContext<'_>, name: &str) -> Self {
        Piece::Given { name: name.to_owned(), label: context.label(name).map(labels::inside), link: context.link(name) }
    }
}

impl Sentences {
    /// Adds a sentence, after a space; each [`NAME`] in it is one of `names`, in their order.
    pub(crate) fn say(&mut self, sentence: &str, names: impl IntoIterator<Item = Piece>) {
        let mut names = names.into_iter();
        if !self.0.is_empty() {
            self.0.push(Piece::Text(" ".to_owned()));
        }
        for (i, text) in sentence.split(NAME).enumerate() {
            if i > 0 {
                self.0.extend(names.next());
            }
            self.0.push(Piece::Text(text.to_owned()));
        }
    }

    /// As the page sets them.
    pub(crate) fn markup(&self) -> Markup {
        html! {
            @for piece in &self.0 {
                @match piece {
                    Piece::Text(text) => (held_together(text)),
                    Piece::Symbol(name) => (mathml::symbol(name)),
                    Piece::Given { name, label: Some(label), link } => {
                        a href=(link) { (label) } ", " (mathml::symbol(name))
                    },
                    Piece::Given { name, label: None, link } => a href=(link) { (mathml::symbol(name)) },
                }
            }
        }
    }

    /// As a terminal shows them: names in backticks, plain spaces.
    #[cfg(feature = "markdown")]
    pub(crate) fn plain(&self) -> String {
        let mut out = String::new();
        for piece in &self.0 {
            match piece {
                Piece::Text(text) => out.push_str(text),
                Piece::Symbol(name) | Piece::Given { name, label: None, .. } => out.extend(["`", name, "`"]),
                Piece::Given { name, label: Some(label), .. } => out.extend([label, ", `", name, "`"]),
            }
        }
        out.replace(['\u{202f}', '\u{a0}'], " ")
    }
}

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use crate::explanations;

    const BEFORE: [&str; 6] = ["", "the ", "The ", "a ", "its ", "four "];
    const BODIES: [&str; 9] = [
        "cells",
        "supply",
        "100 µF capacitor",
        "coil's resistance",
        "led",
        "ratio 1:2",
        "parts (X7R, 10 V)",
        "Öse",
        "LED",
    ];
    const AFTER: [&str; 9] = ["", ".", "!", "?", ":", ", datasheet", "; measured", " (typical)", "…"];
    const NAMES: [&str; 8] = ["one", "led", "is", "R_t", "the", "x", "C_on_max", "its"];
    /// What is kept of two givens around 10 and 5 with the third's help.
    const KEEPS: [&str; 9] = [
        "keep A * B below LIMIT",
        "keep A - B above LIMIT",
        "keep A / (B - 4) below LIMIT",
        "keep A / (B - 4) above LIMIT",
        "keep A / B between LIMIT and 60",
        "keep A > 9.9",
        "keep A + B > 1",
        "keep ln(B - 4.2) above -LIMIT",
        "keep A^2 - B * C below LIMIT",
    ];

    struct Draw(u64);

    impl Draw {
        fn of<'t>(&mut self, table: &[&'t str]) -> &'t str {
            table[self.below(table.len())]
        }

        fn below(&mut self, n: usize) -> usize {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 33) as usize % n
        }

        fn label(&mut self) -> String {
            format!("{}{}{}", self.of(&BEFORE), self.of(&BODIES), self.of(&AFTER))
        }
    }

    /// What holds for the sentences of any requirement, whatever its givens are called.
    fn check(text: &str, labels: &[String], names: &[&str], source: &str) {
        let wrong = |why: &str| panic!("{why}: {text}\n{source}");
        for bad in
            ["  ", "..", ",,", " ,", " .", "!.", "?.", "!,", "?,", ".,", ":.", ":,", "…,", "∞", "NaN", "inf", "−−"]
        {
            if text.contains(bad) {
                wrong(bad);
            }
        }
        // A name stands in backticks, and so nowhere as a word of the sentence.
        let outside: Vec<&str> = text.split('`').step_by(2).collect();
        if text.matches('`').count() % 2 == 1 {
            wrong("an odd number of backticks");
        }
        for name in names.iter().filter(|name| name.contains('_')) {
            if outside.iter().any(|part| part.contains(*name)) {
                wrong("a name that is no symbol");
            }
        }
        // Nothing stands before a label or behind it that would have to agree with it.
        for opening in ["Most to blame: ", "Costs most of the room: "] {
            let Some((_, given)) = text.split_once(opening) else { continue };
            let labelled = labels
                .iter()
                .zip(names)
                .any(|(label, name)| given.starts_with(&format!("{}, `{name}`.", crate::labels::inside(label))));
            if !labelled {
                wrong("a given that is not its label and its name alone");
            }
        }
        if !text.ends_with('.') || !text.starts_with(char::is_uppercase) {
            wrong("no whole sentence");
        }
    }

    #[test]
    fn sentences_are_right_for_any_label_and_name() {
        let mut draw = Draw(11);
        let (mut reported, mut labelled) = (0, 0);
        for _ in 0..300 {
            let mut names: Vec<&str> = Vec::new();
            while names.len() < 3 {
                let name = draw.of(&NAMES);
                if !names.contains(&name) {
                    names.push(name);
                }
            }
            let labels: Vec<String> = (0..4).map(|_| draw.label()).collect();
            let limit = draw.of(&["10", "1.9", "50", "0", "100", "2.05"]);
            let keep = draw.of(&KEEPS).replace('A', names[0]).replace('B', names[1]).replace('C', names[2]);
            let source = format!(
                "```calc\n{} = 10 ± {} % \"{}\"\n{} = 5 ± {} % normal(2) \"{}\"\n{} = 2 ± 1 \"{}\"\n{} \"{}\"\n```\n",
                names[0],
                draw.of(&["1", "10", "60"]),
                labels[0],
                names[1],
                draw.of(&["2", "10", "30"]),
                labels[1],
                names[2],
                labels[2],
                keep.replace("LIMIT", limit),
                labels[3],
            );
            let evaluation = Evaluator::default().evaluate(&source);
            for explanation in explanations(benchleaf_words::Words::ENGLISH, &evaluation, &source) {
                check(&explanation.sentences, &labels, &names, &source);
                reported += 1;
                labelled += usize::from(explanation.sentences.contains(": "));
            }
        }
        assert!(reported > 200 && labelled > 100, "{reported} {labelled}");
    }
}
