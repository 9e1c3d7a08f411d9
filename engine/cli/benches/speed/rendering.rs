//! A demonstration worksheet from its text to a whole page, in process, against `pulldown-cmark` alone making HTML of the
//! same text.

use std::{fmt::Write, fs, path::Path};

use benchleaf::{Day, Form, LiveEngine, Neighbours, RawHtml, RenderSettings, render_worksheet};

use benchleaf_core::parallel;

use crate::paired::{measure, ms};

pub(crate) const SETTING: RenderSettings = RenderSettings {
    samples: None,
    seed: None,
    evaluated: Day { year: 2000, month: 1, day: 1 },
    raw_html: RawHtml::ShownAsText,
    engine: LiveEngine::LeftOut,
    form: Form::Full,
    neighbours: Neighbours::NONE,
};

pub(crate) fn table() -> String {
    let mut text = "| worksheet | threads | Markdown alone / ms | page / ms | ratio, least | ratio, median |\n\
                    | --- | ---: | ---: | ---: | ---: | ---: |\n"
        .to_owned();
    for (name, source) in worksheets() {
        for threads in [1, parallel::threads()] {
            let page = || render_worksheet(&source, &name, &SETTING).map(|page| page.html);
            let paired = parallel::with_threads(threads, || measure(100, || markdown(&source), page));
            let (floor, subject) = paired.least();
            let _ = writeln!(text, "| {name} | {threads} | {} | {} | {} |", ms(floor), ms(subject), paired.ratio());
        }
    }
    text
}

/// Name and text of the demonstration worksheets.
pub(crate) fn worksheets() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../worksheets");
    let mut paths: Vec<_> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let named = |path: &Path| {
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        (name, fs::read_to_string(path).unwrap())
    };
    let sheets = paths.iter().map(|path| named(path));
    sheets.filter(|(name, _)| name.ends_with(".md") && name != "README.md").collect()
}

fn markdown(source: &str) -> String {
    let mut html = String::new();
    pulldown_cmark::html::push_html(&mut html, pulldown_cmark::Parser::new_ext(source, pulldown_cmark::Options::all()));
    html
}
