//! Files for editors, in `engine/cli/editing`: a grammar for the colours of a worksheet (TextMate's form, which many editors
//! read), and a schema of its metadata (JSON Schema, draft 2020-12). Both are printed from the tables that the engine itself
//! reads; `BENCHLEAF_WRITE=1 cargo test -p benchleaf --lib editing` writes them anew.

use std::{fs, path::Path};

use benchleaf_core::{
    check::{BUILTINS, CONSTANTS},
    handbook,
    lang::{
        ast::BinaryOp,
        words::{Group, WORDS},
    },
    preferred::Series,
    sheet::{BlockWord, LANGUAGE, METADATA, Takes},
    units,
};
use benchleaf_words::Language;
use serde_json::{Value, json};

#[test]
fn the_files_for_editors_are_what_the_engine_knows() {
    for (name, fresh) in [("benchleaf.tmLanguage.json", grammar()), ("metadata.schema.json", schema())] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("editing").join(name);
        let fresh = serde_json::to_string_pretty(&fresh).unwrap() + "\n";
        if std::env::var_os("BENCHLEAF_WRITE").is_some() {
            fs::write(&path, &fresh).unwrap();
        }
        let kept = fs::read_to_string(&path).unwrap_or_default();
        assert!(kept == fresh, "{name} is not what is printed today: BENCHLEAF_WRITE=1 writes it anew");
    }
}

/// The schema of the metadata at the head of a worksheet.
fn schema() -> Value {
    let properties = METADATA.iter().map(|key| {
        let mut takes = match key.takes {
            _ if key.name == "language" => json!({"const": LANGUAGE}),
            Takes::Text => json!({"type": "string"}),
            Takes::Language => json!({"enum": Language::all().map(Language::code).collect::<Vec<_>>()}),
            Takes::Whole(least, most) => json!({"type": "integer", "minimum": least, "maximum": most}),
            Takes::Texts(example) => json!({"type": "array", "items": {"type": "string"}, "examples": [[example]]}),
        };
        takes["description"] = key.summary.into();
        (key.name.to_owned(), takes)
    });
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Metadata of a Benchleaf worksheet",
        "description": "What stands between +++ lines at the head of a worksheet, in TOML. A date without quotes counts as a text.",
        "type": "object",
        "properties": properties.collect::<serde_json::Map<_, _>>(),
        "additionalProperties": false,
    })
}

/// The grammar, to be laid over an editor's own grammar of Markdown.
fn grammar() -> Value {
    let plain = |word: &BlockWord| !matches!(word, BlockWord::RustCalc) && !is_note(*word);
    let of = |takes: &dyn Fn(&BlockWord) -> bool| {
        any(BlockWord::TABLE.iter().filter(|(word, _)| takes(word)).map(|(_, text)| (*text).to_owned()))
    };
    let fence = |words: String, inside: Value| {
        json!({
            "begin": format!("^\\s*(`{{3,}}|~{{3,}})\\s*({words})(?=\\s|$)(.*)$"),
            "end": "^\\s*\\1\\s*$",
            "beginCaptures": {
                "2": {"name": "keyword.control.block.benchleaf"},
                "3": {"patterns": [{"include": "#language"}]},
            },
            "patterns": [inside],
        })
    };
    let named = |name: &str, pattern: String| json!({"name": format!("{name}.benchleaf"), "match": pattern});
    let words = |group: Group| {
        any(WORDS.iter().filter(|(of, _)| *of == group).flat_map(|(_, words)| *words).map(|word| (*word).to_owned()))
    };
    let whole = |words: String| format!("(?<![\\w.])(?:{words})(?![\\w.])");
    let unit = any(units::table().symbols().filter(|symbol| is_simple(symbol)).flat_map(with_prefixes));
    let raised = "(?:\\^-?\\d+|[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)?";
    let number = "(?<![\\w.])\\d[\\d_]*(?:\\.\\d+)?(?:[eE][+-]?\\d+)?";
    let operators = any(BinaryOp::TABLE
        .iter()
        .flat_map(|(_, signs, _)| *signs)
        .filter(|sign| !sign.starts_with(char::is_alphabetic))
        .map(|sign| (*sign).to_owned()));
    json!({
        "name": "Benchleaf worksheet",
        "scopeName": "text.html.markdown.benchleaf",
        "injectionSelector": "L:text.html.markdown",
        "patterns": [
            {"begin": "\\A\\+\\+\\+\\s*$", "end": "^\\+\\+\\+\\s*$", "contentName": "source.toml", "patterns": [{"include": "source.toml"}]},
            fence(of(&|word| matches!(word, BlockWord::RustCalc)), json!({"include": "source.rust"})),
            fence(of(&|word| is_note(*word)), json!({"include": "#inline"})),
            fence(of(&plain), json!({"include": "#language"})),
            {"include": "#inline"},
        ],
        "repository": {
            "inline": {
                "name": "meta.inline.benchleaf",
                "match": "(?<![{\\\\])\\{([^\\W\\d][\\w.]*)(?::([^{}\\n]*))?\\}(?!\\})",
                "captures": {"1": {"name": "variable.other.benchleaf"}, "2": {"name": "constant.other.format.benchleaf"}},
            },
            "language": {"patterns": [
                named("comment.line.number-sign", "#.*$".to_owned()),
                {"name": "string.quoted.double.benchleaf", "match": "\"[^\"\\n]*\"?", "captures": {"0": {"patterns": [{"include": "#inline"}]}}},
                {
                    "match": format!("({number})(?:\\s*((?:{unit}){raised}(?:[·/*]\\(?(?:{unit}){raised}\\)?)*)(?![\\w]))?"),
                    "captures": {"1": {"name": "constant.numeric.benchleaf"}, "2": {"name": "keyword.other.unit.benchleaf"}},
                },
                {
                    "match": "^\\s*([^\\W\\d]\\w*)(?:\\s*\\[([^\\]]*)\\])?(?=\\s*=(?!=))",
                    "captures": {"1": {"name": "variable.other.definition.benchleaf"}, "2": {"name": "keyword.other.unit.benchleaf"}},
                },
                named("entity.name.function.handbook", whole(any(handbook::models().iter().map(|model| model.name.to_owned())))),
                named("support.function", format!("{}(?=\\s*\\()", whole(any(BUILTINS.iter().map(|builtin| builtin.name.to_owned()))))),
                named("support.constant.series", whole(any(Series::TABLE.iter().map(|(_, name)| (*name).to_owned())))),
                named("keyword.control.statement", format!("^\\s*(?:{})(?![\\w.])", words(Group::Statement))),
                named("keyword.operator.word", whole(words(Group::Joining))),
                named("storage.modifier.tolerance", whole(words(Group::Tolerance))),
                named("constant.language", whole(any(CONSTANTS.iter().map(|constant| constant.name.to_owned())))),
                named("variable.other.designator", "@[\\w]+(?:\\.\\w+)?".to_owned()),
                named("keyword.operator", format!("{operators}|±|=|…")),
            ]},
        },
    })
}

fn is_note(word: BlockWord) -> bool {
    matches!(word, BlockWord::Danger | BlockWord::Warning | BlockWord::Caution | BlockWord::Notice)
}

/// A symbol, and what prefixes make of it that the table does not list by itself: `mAh`.
fn with_prefixes(symbol: &str) -> Vec<String> {
    let prefixes = units::table().prefixes().iter();
    let prefixed = prefixes.map(|(prefix, _)| format!("{prefix}{symbol}"));
    prefixed.filter(|prefixed| units::table().get(prefixed).is_some()).chain([symbol.to_owned()]).collect()
}

/// Whether a symbol is not made of others.
fn is_simple(symbol: &str) -> bool {
    !symbol.contains(|c: char| "·/()^ ⁻".contains(c) || "⁰¹²³⁴⁵⁶⁷⁸⁹".contains(c))
}

/// One of several texts, the longer ones first, so that none is taken for the beginning of another.
fn any(texts: impl Iterator<Item = String>) -> String {
    let mut texts: Vec<String> = texts.collect();
    texts.sort_by(|a, b| b.chars().count().cmp(&a.chars().count()).then(a.cmp(b)));
    texts.dedup();
    texts.iter().map(|text| escaped(text)).collect::<Vec<_>>().join("|")
}

fn escaped(text: &str) -> String {
    text.chars().fold(String::new(), |mut escaped, c| {
        if "\\.+*?()|[]{}^$".contains(c) {
            escaped.push('\\');
        }
        escaped.push(c);
        escaped
    })
}
