//! Pages in other languages than English: whatever is not the author's is in the page's language, but for what the engine says
//! in English alone, which is marked as English.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::{collections::BTreeSet, fs};

use benchleaf::{LiveEngine, RenderSettings, render_worksheet};
use benchleaf_core::Evaluator;
use benchleaf_tests::{SETTING, outside::tests};
use benchleaf_words::Language;
use scraper::{CaseSensitivity, ElementRef, Html, Node};

/// The texts of every block's page in both languages: one that is in both is the author's, or one of the few that are the
/// same in both languages.
#[test]
fn no_english_word_is_left_on_a_page_in_another_language() {
    for name in ["every-block.md", "../worksheets/nebel.md", "../worksheets/driver.md", "../worksheets/relay.md"] {
        let source = fs::read_to_string(tests().join(name)).unwrap();
        let [english, german] = ["en", "de"].map(|lang| texts(&page(&source, lang)));
        assert!(english.len() > 100 && german.len() > 100, "{name}: {} and {}", english.len(), german.len());
        let own = plain(&source);
        let left: Vec<&String> = german
            .intersection(&english)
            // Pins are called as worksheets call them.
            .filter(|text| !text.split(", ").all(|one| one.contains('.') && !one.contains(' ')))
            .filter(|text| !SAME.contains(&text.as_str()))
            .filter(|text| {
                text.split([',', ':', '/', '.', '(']).any(|part| is_worded(part) && !own.contains(&plain(part)))
            })
            .collect();
        assert!(left.is_empty(), "{name}: {left:#?}");
    }
}

/// The messages of all worksheets that are wrong on purpose, in German: none has a word that German does not have, but for
/// what it quotes.
#[test]
fn no_message_is_left_in_english() {
    let german = Language::find("de").unwrap().words();
    let (mut said, mut left) = (0, BTreeSet::new());
    let messages = fs::read_dir(tests().join("messages")).unwrap().map(|file| file.unwrap().path());
    let messages = messages.filter(|path| path.is_file());
    for file in messages.chain(["errors.md", "every-block.md"].map(|name| tests().join(name))) {
        let source = fs::read_to_string(&file).unwrap();
        for problem in Evaluator::default().evaluate(&source).problems {
            for phrase in [Some(&problem.message), problem.help.as_ref()].into_iter().flatten() {
                said += 1;
                let text = phrase.say(german);
                // The source of a handbook model is cited as it is.
                let own = text.split("Quelle des Modells:").next().unwrap();
                let prose: String = own.split('`').step_by(2).collect();
                let prose = QUOTED.iter().fold(prose, |prose, quoted| prose.replace(quoted, ""));
                let words = prose.split(|c: char| !c.is_alphabetic()).collect::<Vec<_>>();
                if words.iter().any(|word| ENGLISH.contains(word)) {
                    left.insert(format!("{}: {text}", file.file_name().unwrap().display()));
                }
            }
        }
    }
    assert!(said > 250, "{said} messages");
    assert!(left.is_empty(), "{left:#?}");
}

/// Frequent words of English that are none of German.
const ENGLISH: &[&str] = &[
    "the", "is", "are", "of", "and", "or", "not", "it", "its", "has", "have", "with", "without", "write", "this",
    "that", "no", "to", "by", "for", "from", "than", "at", "be", "one", "two", "name", "value", "between", "stands",
    "reads", "takes", "found", "did", "you", "mean", "which", "where", "here", "above", "below", "line", "unit",
    "given",
];

/// What messages quote without backticks: the language of worksheets, and words of the handbook and of the TOML reader.
const QUOTED: &[&str] = &[
    "solve T_a so that … = …",
    "choose E24 for R_a, R_b so that …",
    "C_1 across V_rail and ground",
    "keep R_t within rating at I^2*R_t, 50 %",
    "a < b and b < c",
    "d V_a = …",
    "string values must be quoted, expected literal string",
    "Timing resistor, from the supply to the capacitor",
    "the supply is above the forward voltage and the driver's drop",
    "build \"as it is\"",
];

/// What comes in English is marked, for those who listen to a page.
#[test]
fn what_the_engine_says_in_english_alone_is_marked() {
    let source = "# A\n\n```calc\nV = 5 V\nx = V + 2 A\nreg = regulator.linear(input = 9 V, output = V, load = 60 mA, ambient = 35 °C, \
                  junction_to_ambient = 65 K/W)\n```\n";
    let german = page(source, "de");
    assert!(german.contains("<html lang=\"de\">"), "{german}");
    assert!(german.contains("eine Spannung (V)") && german.contains("eine Stromstärke (A)"), "{german}");
    assert!(german.contains("aus dem Handbuchmodell") && german.contains("<cite><span lang=\"en\">"), "{german}");
    assert!(!page(source, "en").contains("lang=\"en\"><") || !page(source, "en").contains("<span lang="));
}

#[test]
fn an_unknown_language_is_an_error_that_names_those_known() {
    for (written, fails) in [("\"de\"", false), ("\"en\"", false), ("\"fr\"", true), ("\"DE\"", true), ("1", true)] {
        let source = format!("+++\nlang = {written}\n+++\n");
        let problems = Evaluator::default().evaluate(&source).problems;
        let said: Vec<String> = problems.iter().map(|problem| problem.message.english()).collect();
        let wanted: &[&str] = if fails { &["`lang` takes one of \"en\" (English), \"de\" (Deutsch)"] } else { &[] };
        assert_eq!(said, wanted, "{written}");
    }
}

/// A page carries words for its engine and its script only where they are not English.
#[test]
fn a_live_page_carries_the_words_of_its_language() {
    let setting = RenderSettings { engine: LiveEngine::Inside, ..SETTING };
    let live =
        |lang: &str| render_worksheet(&headed("# A\n\n```calc\nR = 1 Ω\n```\n", lang), "a", &setting).unwrap().html;
    let german = live("de");
    let words = german.split_once("id=\"_words\">").unwrap().1.split_once("</script>").unwrap().0;
    let words: serde_json::Value = serde_json::from_str(words).unwrap();
    assert_eq!(words["engine"].as_str(), Language::find("de").unwrap().for_engine().as_deref());
    assert_eq!(words["script"]["put_back"], "zurücksetzen");
    assert!(!live("en").contains("id=\"_words\""));
}

/// Every word of the files is used somewhere.
#[test]
fn no_word_is_kept_that_nothing_says() {
    let mut sources = String::new();
    for folder in ["../engine", "../templates"] {
        for file in walkdir::WalkDir::new(tests().join(folder)) {
            let file = file.unwrap();
            let name = file.file_name().to_string_lossy().into_owned();
            let is_source = [".rs", ".js", ".html"].iter().any(|ending| name.ends_with(ending));
            if file.file_type().is_file() && is_source {
                sources.push_str(&fs::read_to_string(file.path()).unwrap());
            }
        }
    }
    let named: BTreeSet<&str> = sources.split(|c: char| !(c.is_alphanumeric() || c == '_')).collect();
    for group in ["engine", "page", "script", "site", "search", "preview", "command"] {
        for (key, _) in Language::ENGLISH.group(group) {
            let base = key.trim_end_matches(".one").trim_end_matches(".other");
            let (_, name) = base.split_once('.').unwrap();
            let constant = base.replace('.', "_").to_uppercase();
            let in_template = sources.contains(&format!("w.{base}"));
            let is_said = match group {
                "engine" | "page" => named.contains(constant.as_str()),
                "command" => named.contains(constant.as_str()) || in_template,
                _ => named.contains(name),
            };
            assert!(is_said, "`{key}` of the group {group}");
        }
    }
}

fn page(source: &str, lang: &str) -> String {
    render_worksheet(&headed(source, lang), "page", &SETTING).unwrap().html
}

/// The worksheet with this language in its metadata.
fn headed(source: &str, lang: &str) -> String {
    let bare = source.replace("lang = \"de\"\n", "");
    match bare.strip_prefix("+++\n") {
        Some(rest) => format!("+++\nlang = \"{lang}\"\n{rest}"),
        None => format!("+++\nlang = \"{lang}\"\n+++\n{bare}"),
    }
}

/// The texts of a page that a reader sees or hears: text nodes and labels, but for code, formulas and what is marked as another language.
fn texts(page: &str) -> BTreeSet<String> {
    let page = Html::parse_document(page);
    let mut texts = BTreeSet::new();
    gather(page.root_element(), &mut texts);
    texts
}

fn gather(element: ElementRef<'_>, texts: &mut BTreeSet<String>) {
    let spoken = element.value();
    let is_code = spoken.name() == "code" || spoken.has_class("code", CaseSensitivity::CaseSensitive);
    if is_code
        || ["script", "style", "math", "meta"].contains(&spoken.name())
        || (spoken.name() != "html" && spoken.attr("lang").is_some())
    {
        return;
    }
    let labels = ["aria-label", "title", "alt"].into_iter().filter_map(|name| spoken.attr(name));
    texts.extend(labels.map(|label| label.trim().to_owned()));
    for child in element.children() {
        match child.value() {
            Node::Text(text) => {
                texts.insert(text.trim().to_owned());
            }
            Node::Element(_) => {
                if let Some(inside) = ElementRef::wrap(child) {
                    gather(inside, texts);
                }
            }
            _ => {}
        }
    }
}

/// Whether there is a word in it, and not only figures, units and symbols.
fn is_worded(text: &str) -> bool {
    text.split(|c: char| !c.is_alphabetic()).any(|word| word.chars().count() > 3)
}

fn plain(text: &str) -> String {
    let text = text.replace('’', "'").replace(['\u{202f}', '\u{a0}'], " ").to_lowercase();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Texts that are the same in English and German.
const SAME: &[&str] = &["Symbol"];
