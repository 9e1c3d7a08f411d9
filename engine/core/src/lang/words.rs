//! The words that have a meaning of their own in the engine's blocks, for editors: what they complete and colour. The parsers
//! know each of them where it belongs; a test holds this list against them.

/// The words, each in its group.
pub const WORDS: &[(Group, &[&str])] = &[
    (
        Group::Statement,
        &[
            "use",
            "keep",
            "solve",
            "choose",
            "correlation",
            "bound",
            "title",
            "spread",
            "shares",
            "ask",
            "answer",
            "slip",
            "hint",
            "points",
            "vary",
            "instrument",
            "fit",
            "build",
            "compare",
            "step",
            "place",
            "picture",
            "check",
            "pause",
            "time",
            "tools",
            "power",
            "state",
            "d",
            "until",
            "net",
            "ground",
        ],
    ),
    (
        Group::Joining,
        &[
            "as", "if", "then", "else", "and", "or", "not", "below", "above", "between", "against", "over", "from",
            "to", "log", "within", "with", "without", "so", "that", "is", "for", "at", "agree", "rating", "of", "in",
            "once", "across", "rated", "reversed", "column", "date", "when", "end", "first", "last", "series",
        ],
    ),
    (Group::Tolerance, &["min", "typ", "max", "normal", "triangular", "arcsine", "rectangular", "dof"]),
];

/// What a word is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    /// It opens a statement.
    Statement,
    /// It joins what stands around it.
    Joining,
    /// It belongs to a tolerance.
    Tolerance,
}

#[cfg(test)]
mod tests {
    use std::{collections::BTreeSet, fs, path::Path};

    use super::*;

    /// What stands between quotes where a parser asks for a word, and what this list has, are the same.
    #[test]
    fn the_list_has_the_words_that_the_parsers_ask_for() {
        let mut sources = String::new();
        for folder in ["src/lang", "src/lang/token", "src/sheet"] {
            for file in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)).unwrap() {
                let path = file.unwrap().path();
                if path.is_file() && path.file_name().is_some_and(|name| name != "words.rs") {
                    let whole = fs::read_to_string(path).unwrap();
                    sources.push_str(whole.split("#[cfg(test)]").next().unwrap());
                }
            }
        }
        let listed: BTreeSet<&str> = WORDS.iter().flat_map(|(_, words)| words.iter().copied()).collect();
        let mut asked = 0;
        for call in ["take_word(\"", "is_word(\"", "head_is(parser, \"", "opens(parser, \"", "word == \""] {
            for rest in sources.split(call).skip(1) {
                let word = rest.split('"').next().unwrap();
                assert!(listed.contains(word), "`{word}` is not listed");
                asked += 1;
            }
        }
        assert!(asked > 30, "{asked}");
        let ends = |rest: &str| !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_');
        for word in listed {
            let known = sources.split(&format!("\"{word}")).skip(1).any(ends);
            assert!(known, "no parser knows `{word}`");
        }
    }
}
