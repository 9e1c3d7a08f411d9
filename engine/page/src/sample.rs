//! A whole sample worksheet: the page that it makes is checked as a whole, and written out for looking at where
//! `BENCHLEAF_SAMPLE` names a file.

use std::collections::BTreeMap;

use benchleaf_core::{
    Evaluator,
    lang::ast::{Definition, StatementBody},
    results::Evaluation,
    sheet::BlockBody,
};

use benchleaf_words::Language;

use crate::{Page, PageOptions, context::PageContext, render};

const SOURCE: &str = include_str!("sample.md");

/// A context with nothing but an evaluation behind it.
pub(crate) fn context_of<'a>(evaluation: &'a Evaluation, source: &'a str) -> PageContext<'a> {
    PageContext::new(evaluation, source, benchleaf_words::Words::ENGLISH)
}

/// A definition of the first block, by its place.
pub(crate) fn definition(evaluation: &Evaluation, place: usize) -> &Definition {
    match &evaluation.sheet.blocks[0].body {
        BlockBody::Calc(statements) => match &statements[place].body {
            StatementBody::Definition(definition) => definition,
            other => panic!("{other:?} is no definition"),
        },
        other => panic!("{other:?} is no calculation"),
    }
}

fn page() -> Page {
    let evaluation = Evaluator::default().evaluate(SOURCE);
    render(&evaluation, SOURCE, &PageOptions::default())
}

#[test]
fn a_whole_page_is_sound() {
    let page = page();
    assert_eq!(page.title, "A mister that can’t flood");
    assert_eq!((page.counts.holds, page.counts.at_risk, page.counts.broken), (2, 1, 1));
    assert_eq!((page.counts.errors, page.counts.warnings), (2, 1));
    let all = format!("{}{}", page.head, page.body);
    for banned in [" style=", "onclick", "<script", "NaN", ">inf<"] {
        assert!(!all.contains(banned), "{banned}");
    }
    // Every problem is reported once, and the links inside the page lead somewhere.
    for part in all.split("href=\"#").skip(1) {
        let id = part.split('"').next().unwrap();
        assert_eq!(all.matches(&format!("id=\"{id}\"")).count(), 1, "{id}");
    }
    if let Some(path) = std::env::var_os("BENCHLEAF_SAMPLE") {
        std::fs::write(path, filled(&page)).unwrap();
    }
}

#[test]
fn what_an_author_wrote_is_never_markup() {
    for payload in [
        "<img src=x onerror=alert(1)>",
        "</title><script>alert(1)</script>",
        "</svg><script>alert(1)</script>",
        "x' onmouseover='alert(1)",
        "<math><mtext></mtext><script>alert(1)</script></math>",
        "&lt;script&gt;",
    ] {
        let source = format!(
            "+++\ntitle = \"{payload}\"\nsummary = \"{payload}\"\n+++\n\n# {payload}\n\n{{x:{payload}}} [{payload}]({payload})\n\n\
             ```calc\nR = 1 kΩ ± 5 % \"{payload}\"\ni [mA] = 5 V / R \"{payload}\"\nkeep i below 5 mA \"{payload}\"\n{payload}\n```\n\n\
             ```warning when i > 5 mA\n{payload}\n```\n\n```plot\ntitle \"{payload}\"\n\
             i against R from 1 kΩ to 2 kΩ \"{payload}\"\nbound 4 mA \"{payload}\"\n```\n\n```{payload}\n```\n"
        );
        let evaluation = Evaluator::default().evaluate(&source);
        let page = render(&evaluation, &source, &PageOptions::default());
        let shell = filled(&page);
        // Behind it is what the page's script reads.
        let (shown, _) = shell.split_once("<script type=\"application/json\"").unwrap();
        for tag in tags(shown) {
            let name = tag.split(' ').next().unwrap();
            assert!(!["script", "img"].contains(&name), "{payload}: <{tag}>");
            assert!(!tag.contains("onerror") && !tag.contains("onmouseover"), "{payload}: <{tag}>");
        }
    }
}

/// The tags of a page, what stands between quotes left out.
fn tags(page: &str) -> Vec<String> {
    let mut tags = Vec::new();
    let mut tag: Option<String> = None;
    let mut quoted = false;
    for c in page.chars() {
        match (&mut tag, c) {
            (None, '<') => tag = Some(String::new()),
            (None, _) => {}
            (Some(_), '"') => quoted = !quoted,
            (Some(_), '>') if !quoted => tags.extend(tag.take()),
            (Some(text), c) if !quoted => text.push(c),
            (Some(_), _) => {}
        }
    }
    tags
}

#[test]
fn every_element_that_opens_closes() {
    let page = page();
    let all = format!("{}{}", page.head, page.body);
    let mut open: Vec<&str> = Vec::new();
    for tag in all.split('<').skip(1).map(|rest| rest.split('>').next().unwrap()) {
        let name = tag.trim_start_matches('/').split([' ', '/']).next().unwrap();
        if tag.starts_with("!--") {
            continue;
        }
        if tag.starts_with('/') {
            assert_eq!(open.pop(), Some(name), "</{name}> closes something else");
        } else if !tag.ends_with('/') && !["br", "hr", "img", "input"].contains(&name) {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{open:?} are never closed");
}

#[test]
fn the_index_counts_what_each_worksheet_came_to() {
    let mut tera = tera::Tera::default();
    tera.add_raw_templates([
        ("address.html", include_str!("../../../templates/address.html")),
        ("shell.html", include_str!("../../../templates/site/shell.html")),
        ("index.html", include_str!("../../../templates/index.html")),
    ])
    .unwrap();
    let entry = |title: &'static str, counts: [Option<&'static str>; 4]| {
        let mut entry = tera::Map::new();
        for (name, text) in [("href", "mister.html"), ("title", title), ("summary", "A mister keeps a terrarium damp.")]
        {
            entry.insert(name.into(), text.into());
        }
        for (name, count) in ["holds", "at_risk", "broken", "problems"].into_iter().zip(counts) {
            entry.extend(count.map(|count| (name.into(), count.into())));
        }
        tera::Value::from(entry)
    };
    let mut context = tera::Context::new();
    context.insert("w", &template_words());
    context.insert("lang", "en");
    context.insert("title", "Worksheets");
    context.insert("style", include_str!("../../../templates/style.css"));
    context.insert("policy", "default-src 'none'");
    let mut section = tera::Map::new();
    section.insert("level".into(), 1.into());
    let entries = vec![
        entry("The <timer>", [Some("3 hold"), Some("1 at risk"), None, None]),
        entry("The driver", [Some("1 holds"), None, Some("2 broken"), Some("1 problem")]),
    ];
    section.insert("entries".into(), entries.into());
    context.insert("sections", &[tera::Value::from(section)]);
    let index = tera.render("index.html", &context).unwrap();
    assert!(
        index.contains("The &lt;timer&gt;") && index.contains("2 broken") && index.contains("1 problem<"),
        "{index}"
    );
    if let Some(path) = std::env::var_os("BENCHLEAF_SAMPLE") {
        std::fs::write(std::path::PathBuf::from(path).with_file_name("index.html"), index).unwrap();
    }
}

fn template_words() -> BTreeMap<&'static str, BTreeMap<&'static str, String>> {
    let mut words: BTreeMap<&str, BTreeMap<&str, String>> = BTreeMap::new();
    for (key, text) in Language::ENGLISH.group("site") {
        let (subject, name) = key.split_once('.').unwrap();
        words.entry(subject).or_default().insert(name, text);
    }
    words
}

fn filled(page: &Page) -> String {
    let mut tera = tera::Tera::default();
    tera.add_raw_templates([
        ("address.html", include_str!("../../../templates/address.html")),
        ("worksheet.html", include_str!("../../../templates/worksheet.html")),
    ])
    .unwrap();
    let mut context = tera::Context::new();
    context.insert("w", &template_words());
    context.insert("lang", page.lang);
    context.insert("title", &page.title);
    context.insert("summary", &page.summary);
    context.insert("author", &page.author);
    context.insert("date", &page.date);
    context.insert("style", include_str!("../../../templates/style.css"));
    context.insert("heading", &page.heading);
    let live: BTreeMap<&str, &str> =
        [("policy", "default-src 'none'"), ("setting", "{}"), ("worksheet", ""), ("module", ""), ("script", "")].into();
    context.insert("live", &live);
    context.insert("head", &page.head);
    context.insert("body", &page.body);
    let foot: BTreeMap<&str, &str> = [("engine", "0.1.0"), ("made", "Evaluated on <time>2026-11-25</time>.")].into();
    context.insert("foot", &foot);
    context.insert("neighbours", &BTreeMap::<&str, &str>::new());
    tera.render("worksheet.html", &context).unwrap()
}
