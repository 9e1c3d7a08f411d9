//! The command line in another language than English: the locale decides or an option, and no English word is left.

use std::collections::BTreeSet;

use crate::bench::{Bench, ERROR, HOLDS, Run};

/// A worksheet with each kind of block, whose own words are none of the program's.
const EVERY: &str = include_str!("../../../../tests/every-block.md");
const MARKED: &str = "# Puls\n\n```calc\nR_t = 910 kΩ\nt_on [s] = R_t * 22 µF * ln(3)\n```\n\n```exercise pulse\nask \"x\"\n\
    answer [s] = t_on within 2 %\nslip \"ln 2\" = R_t * 22 µF * ln(2)\n```\n\n```exercise own\nask \"y {R_t}\"\nanswer [s] = t_on\n\
    vary R_t in 100 kΩ … 1 MΩ E24\n```\n";
const ANSWERS: &str = "learner,exercise,answer\nAda,pulse,22 s\nBo,pulse,22 ms\nCy,pulse,-22 s\nDi,pulse,22.6 s\nEd,pulse,5 s\n\
    Flo,pulse,22\nGus,pulse,\"22,0 s\"\nHal,pulse,3 V\nIda,pulse,1\n,own,3 s\nJo,,3 s\nKay,pulse\nLu,pulse,1,2\nMo,xyz,1\n";

fn bench() -> Bench {
    let every = ["holds", "at risk", "broken"]
        .iter()
        .fold(EVERY.to_owned(), |text, label| text.replace(&format!("\"{label}\""), "\"eins\""));
    let other = every.replace("V_s = 9 V ± 5 %", "V_s = 12 V ± 5 %").replace("470 Ω ± 5 %", "330 Ω ± 5 %");
    let other = other.replace("0.45 EUR @U1", "0.50 EUR @U1").replace("t_on below 12 s", "t_on below 10 s");
    let bench = Bench::with(&[("a.md", &every), ("b.md", &other), ("m.md", MARKED), ("m.csv", ANSWERS)]);
    bench.put("site/h.md", HOLDS.replace("supply", "eins"));
    bench.put("site/k.md", "# Zwei\n\n```calc\nV = 5 V\n```\n");
    bench.put("wrong.md", ERROR);
    bench.put("de.md", format!("+++\nlang = \"de\"\n+++\n{MARKED}"));
    bench
}

fn run(bench: &Bench, locale: &str, arguments: &[&str]) -> Run {
    Run::of(bench.command(arguments).env("LC_ALL", locale))
}

/// Asserts that what is said in German has no word in common with what is said in English but those that stand in the
/// worksheets, in the call or below.
#[track_caller]
fn differ(bench: &Bench, arguments: &[&str], english: &str, german: &str) {
    let sources =
        ["a.md", "b.md", "m.md", "m.csv", "site/h.md", "site/k.md", "wrong.md"].map(|name| bench.read(name)).concat();
    let (english, german) = (words(english), words(german));
    let own: BTreeSet<String> = words(&sources).into_iter().chain(words(&arguments.join(" "))).collect();
    let left: Vec<&String> =
        german.intersection(&english).filter(|word| !own.contains(*word) && !SAME.contains(&word.as_str())).collect();
    assert!(!german.is_empty() && left.is_empty(), "{arguments:?}: {left:?} are left in {german:?}");
}

fn words(text: &str) -> BTreeSet<String> {
    let parts = text.split(|c: char| !(c.is_alphanumeric() || "_./-'".contains(c))).map(|part| part.trim_matches('.'));
    // Names of files, of values and of options are the same in every language.
    let words = parts.filter(|part| part.chars().count() > 2 && part.chars().all(char::is_alphabetic));
    words.map(str::to_lowercase).collect()
}

/// Words that are the same in both languages, and what programs are told: files, commands and options.
const SAME: &[&str] = &[
    "benchleaf",
    "browser",
    "byte",
    "check",
    "code",
    "dir",
    "driver",
    "index",
    "lamp",
    "markdown",
    "median",
    "name",
    "new",
    "port",
    "pump",
    "render",
    "was",
    "windows",
];

#[test]
fn no_english_word_is_left_in_another_language() {
    for (arguments, wanted) in [
        (
            &["check", "a.md", "b.md"][..],
            &["eingehalten", "Warnung", "verlangt höchstens", "Kosten für", "2 Arbeitsblätter"][..],
        ),
        (
            &["check", "site"],
            &["1 Anforderung eingehalten, 0 gefährdet, 0 verletzt", "Reserve", "größter Einfluss auf die Reserve"],
        ),
        (&["diff", "a.md", "b.md"], &["verschieden", "schlechter", "Urteil", "Bauteil", "Kosten für"]),
        (&["check", "wrong.md"], &["keine Anforderung; 1 Fehler"]),
        (&["diff", "a.md", "wrong.md"], &["Das Arbeitsblatt enthält 1 Fehler"]),
        (&["diff", "a.md", "a.md"], &["kein Unterschied"]),
        (&["render", "a.md"], &["a.html geschrieben: ", "in einem Browser öffnen"]),
        (&["render", "site", "-o", "out"], &["eine Liste mit 2 Seiten", "keine Anforderung"]),
        (&["render", "site", "-o", "out"], &["unverändert"]),
        (&["verify", "a.html"], &["Zahlen stimmen noch"]),
        (
            &["mark", "m.md", "m.csv", "-o", "out"],
            &["9 Antworten bewertet, 1 richtig; 5 Zeilen nicht bewertet", "Quartile"],
        ),
        (&["new", "neu"], &["neu.md geschrieben"]),
        (&["parts", "site/k.md", "-o", "out/parts.csv"], &["geschrieben"]),
    ] {
        let (first, second) = (bench(), bench());
        for bench in [&first, &second] {
            bench.run(&["render", "a.md"]);
            bench.run(&["render", "site", "-o", "out"]);
            if !wanted.contains(&"unverändert") {
                let _ = std::fs::remove_dir_all(bench.path("out"));
            }
            std::fs::create_dir_all(bench.path("out")).unwrap();
        }
        let (english, german) = (run(&first, "C", arguments), run(&second, "de_DE.UTF-8", arguments));
        let said = german.out.clone() + &german.err;
        assert!(wanted.iter().all(|part| said.contains(part)), "{wanted:?} in {said}");
        assert_eq!(english.status, german.status);
        differ(&first, arguments, &(english.out + &english.err), &(german.out + &german.err));
    }
}

#[test]
fn failures_are_said_in_the_language_too() {
    let bench = bench();
    bench.put("empty.md", "");
    bench.put("page.html", "<p>mine</p>");
    bench.put("folder/page.html", "");
    bench.put("mine.csv", "a,b\n");
    for (arguments, wanted) in [
        (
            &["check", "none.md"][..],
            &["`none.md` gibt es nicht", "Hilfe: Schreibweise und aktuellen Ordner prüfen."][..],
        ),
        (&["check", "empty.md"], &["`empty.md` ist leer"]),
        (&["check", "folder"], &["enthält kein Arbeitsblatt"]),
        (&["source", "page.html"], &["ist keine Seite von Benchleaf", "es fehlt die Angabe"]),
        (&["new", "a"], &["`a.md` gibt es schon"]),
        (&["new", "con"], &["ist kein Name für ein Arbeitsblatt", "Windows hält ihn für ein Gerät frei"]),
        (&["new", "b", "--title", ""], &["der Titel ist leer"]),
        (&["mark", "m.md", "mine.csv"], &["hat keine Spalte `learner`"]),
        (&["mark", "site/h.md", "m.csv"], &["enthält keine Aufgabe"]),
        (&["constants", "m.md", "--lang", "c"], &["verlangt keine Konstanten"]),
        (&["render", "a.md", "-o", "m.csv"], &["steht eine Datei"]),
        (&[], &["Benchleaf berechnet Arbeitsblätter"]),
    ] {
        let (english, german) =
            (run(&bench, "C", arguments), run(&bench, "de_DE.UTF-8", arguments).exits(3).warns(wanted));
        assert_eq!((english.status, german.out), (3, english.out));
        differ(&bench, arguments, &english.err, &german.err);
    }
}

#[test]
fn an_option_overrules_the_locale_and_an_unknown_locale_is_english() {
    let bench = bench();
    let english = run(&bench, "C", &["check", "a.md"]).out;
    for locale in ["xx_XX.UTF-8", "POSIX", "en_GB.UTF-8"] {
        assert_eq!(run(&bench, locale, &["check", "a.md"]).out, english, "{locale}");
    }
    let german = run(&bench, "de_AT.UTF-8", &["check", "a.md"]).out;
    assert_ne!(german, english);
    assert_eq!(run(&bench, "xx", &["check", "a.md", "--locale", "de"]).out, german);
    assert_eq!(run(&bench, "de_DE", &["--locale", "en", "check", "a.md"]).out, english);
    let wrong = run(&bench, "C", &["check", "a.md", "--locale", "xx"]).exits(3);
    wrong.warns(&["'--locale <CODE>'", "en (English), de (Deutsch)"]);
}

#[test]
fn what_programs_read_is_the_same_in_every_language() {
    let bench = bench();
    for arguments in [
        &["check", "--json", "a.md"][..],
        &["diff", "--json", "a.md", "b.md"],
        &["parts", "a.md"],
        &["mark", "m.md", "m.csv"],
        &["--help"],
    ] {
        let [english, german] = ["C", "de_DE.UTF-8"].map(|locale| run(&bench, locale, arguments).out);
        assert_eq!(english, german, "{arguments:?}");
    }
}

/// What is written for a class is in the worksheet's language, whoever marks it.
#[test]
fn marks_are_in_the_language_of_the_worksheet() {
    let bench = bench();
    bench.run(&["mark", "de.md", "m.csv", "-o", "out"]).says(&["9 answers marked, 1 right; 5 rows not marked"]);
    let (table, page) = (bench.read("out/m.marked.csv"), bench.read("out/m.marks.html"));
    assert!(
        table.starts_with("learner,exercise,answer,finding,feedback,points\nAda,pulse,22 s,right,Richtig.,1\n"),
        "{table}"
    );
    let refused = "Diese Zeile wurde nicht bewertet: sie hat 2 Zellen, die erste Zeile hat 3.";
    assert!(table.contains(&format!("not-marked,\"{refused}\"")), "{table}");
    let english =
        run(&bench, "de_DE.UTF-8", &["mark", "m.md", "m.csv", "-o", "english"]).says(&["9 Antworten bewertet"]);
    assert_eq!(english.status, 0);
    let marks = bench.read("english/m.marks.html");
    assert!(page.contains("<html lang=\"de\">") && marks.contains("<html lang=\"en\">"));
    // Between the style and the end there are words alone.
    let text = |page: &str| {
        let page = scraper::Html::parse_document(page);
        let body = scraper::Selector::parse("title, body").unwrap();
        page.select(&body).flat_map(|element| element.text()).collect::<Vec<_>>().join(" ")
    };
    differ(&bench, &[], &text(&marks), &text(&page));
}
