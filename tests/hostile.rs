//! What authors, learners and tables of answers bring along stays text: payloads through every door of an exercise, into
//! the page, the replies that a page's script shows, and a class's marks.
#![allow(clippy::unwrap_used)]

use std::{fs, path::Path};

use benchleaf::{Drawing, Progress, RawHtml, RenderSettings, Terminal, render_worksheet};
use benchleaf_core::sheet::Worksheet;
use benchleaf_page::exercises::{Attempt, GivesUp, attempt};
use benchleaf_tests::SETTING;
use benchleaf_words::Words;

/// One build, since none of this is about numbers.
fn setting() -> RenderSettings {
    RenderSettings { samples: Some(1), seed: Some(1), ..SETTING }
}

#[test]
fn an_author_cannot_write_markup_into_an_exercise() {
    for payload in payloads() {
        for source in [
            worksheet(payload, "s", "h"),
            worksheet("q", payload, "h"),
            worksheet("q", "s", payload),
            worksheet("q", "s", "h").replace("exercise ex", &format!("exercise {payload}")),
            worksheet("q", "s", "h").replace("points 2", payload),
        ] {
            let page = render_worksheet(&source, "x", &setting()).unwrap();
            is_harmless(&page.html, payload);
            for (answer, gives_up) in [(Some("13.88 s"), GivesUp::No), (None, GivesUp::Yes)] {
                let asked = Attempt {
                    exercise: "ex".to_owned(),
                    answer: answer.map(str::to_owned),
                    gives_up,
                    ..Attempt::default()
                };
                let Ok(reply) = attempt(&Worksheet::new(&source).0, &asked, Words::ENGLISH) else { continue };
                reply.inlines.iter().for_each(|inline| is_harmless(&inline.1, payload));
                is_harmless(&reply.feedback.map(|said| said.message).unwrap_or_default(), payload);
                is_harmless(&reply.solution.unwrap_or_default(), payload);
            }
        }
    }
}

#[test]
fn a_learner_cannot_write_markup_into_a_reply() {
    let source = worksheet("q", "s", "h");
    let reply = |learner: &str, answer: &str| {
        let (learner, answer) = (Some(learner.to_owned()), Some(answer.to_owned()));
        let asked = Attempt { exercise: "ex".to_owned(), learner, answer, gives_up: GivesUp::Yes };
        attempt(&Worksheet::new(&source).0, &asked, Words::ENGLISH).unwrap()
    };
    for payload in payloads() {
        for reply in [reply(payload, "22 s"), reply("Ada", payload), reply("Ada", &format!("22 {payload}"))] {
            let said = reply.feedback.unwrap().message;
            let parts = tags(&said).into_iter().map(|tag| tag.trim_start_matches('/').to_owned());
            assert!(parts.clone().all(|tag| tag == "code"), "{payload}: {said}");
            reply.inlines.iter().for_each(|inline| is_harmless(&inline.1, payload));
            is_harmless(&reply.solution.unwrap(), payload);
        }
    }
}

#[test]
fn an_author_cannot_write_markup_into_a_page() {
    for payload in payloads() {
        let label = payload.replace(['\\', '"'], "");
        let text = payload.replace('\'', "");
        let metadata = format!("+++\ntitle = '{text}'\nsummary = '{text}'\nauthor = '{text}'\ndate = '{text}'\n+++\n");
        let calc = format!(
            "```calc\nx = 1 V ± 5 % \"{label}\"\ny = 2 * x \"{label}\"\nkeep y below 3 V \"{label}\"\nz = {payload}\n\
             {payload} = 3\nw [{payload}] = x\n```\n\n"
        );
        let plot = format!(
            "```plot\ntitle \"{label}\"\ny against x from 0 V to 2 V\nbound 1 V \"{label}\"\n```\n\n\
             ```warning when y > 1 V\n{payload} {{y}}\n```\n\n```danger {payload}\n```\n\n"
        );
        let prose = format!(
            "# {payload}\n\n{payload} {{x:{payload}}} {{{payload}}}\n\n| {payload} | b |\n|---|---|\n\
             | [a]({payload}) | ![{payload}]({payload}) |\n\n```{payload}\n{payload}\n```\n\n[^a]: {payload}\n\n[^a]\n"
        );
        for source in [format!("{metadata}{calc}{plot}{prose}"), format!("{prose}{calc}"), payload.to_owned()] {
            for raw_html in [RawHtml::ShownAsText, RawHtml::Cleaned] {
                let page = render_worksheet(&source, payload, &RenderSettings { raw_html, ..setting() }).unwrap();
                is_harmless(&page.html, payload);
                let update = benchleaf_page::update(&page.evaluation, &source, Words::ENGLISH);
                for html in update.blocks.iter().chain(&update.inlines).chain([&update.head]) {
                    is_harmless(html, payload);
                }
            }
        }
    }
}

#[test]
fn a_table_cannot_write_markup_or_formulas_into_the_marks() {
    let folder = tempfile::tempdir().unwrap();
    let quoted = |text: &str| format!("\"{}\"", text.replace('"', "\"\""));
    for (number, payload) in payloads().into_iter().enumerate() {
        let sheet = folder.path().join("sheet.md");
        fs::write(&sheet, worksheet("q", &payload.replace('"', ""), "h")).unwrap();
        let mut table = format!("learner,exercise,answer,{}\n", quoted(payload));
        for [learner, exercise, answer] in
            [[payload, "ex", "22 s"], ["Ada", payload, "22 s"], ["Ada", "ex", payload], ["Bo", "ex", "13.88 s"]]
        {
            table.push_str(&format!(
                "{},{},{},{}\n",
                quoted(learner),
                quoted(exercise),
                quoted(answer),
                quoted(payload)
            ));
        }
        let answers = folder.path().join(format!("a{number}.csv"));
        fs::write(&answers, table).unwrap();
        mark(&sheet, &answers, folder.path());
        let page = fs::read_to_string(answers.with_extension("marks.html")).unwrap();
        is_harmless(&page, payload);
        let rows = fs::read_to_string(answers.with_extension("marked.csv")).unwrap();
        for line in rows.lines() {
            // A cell begins a line or follows a comma, with a quotation mark before it or without.
            for cell in line.split(',').map(|cell| cell.trim_start_matches('"').trim_start()) {
                let whole_cell = !payload.contains(',') || !payload.contains(cell.trim_end_matches('"'));
                assert!(!whole_cell || !cell.starts_with(['=', '+', '-', '@']), "{payload}: {line}");
            }
        }
    }
}

#[test]
fn there_are_payloads_enough_and_unescaped_most_of_them_would_be_found() {
    assert!(payloads().len() >= 40);
    let found = |payload: &&str| std::panic::catch_unwind(|| is_harmless(payload, payload)).is_err();
    let markup = payloads().into_iter().filter(|payload| payload.contains("script>") || payload.contains(" on"));
    let (all, missed): (usize, Vec<&str>) = markup.fold((0, Vec::new()), |(all, mut missed), payload| {
        missed.extend((!found(&payload)).then_some(payload));
        (all + 1, missed)
    });
    // What is encoded already, or breaks out of an attribute alone, is not markup by itself.
    assert!(all > 25 && missed.len() <= 5, "{missed:#?}");
}

fn payloads() -> Vec<&'static str> {
    include_str!("payloads.txt").lines().collect()
}

/// The slip comes out at 13.88 s.
fn worksheet(ask: &str, slip: &str, hint: &str) -> String {
    format!(
        "# Sheet\n\n```calc\nR_t = 910 kΩ\nt_on [s] = R_t * 22 µF * ln(3)\n```\n\n```exercise ex\nask \"{ask}\"\n\
         answer [s] = t_on within 2 %\nslip \"{slip}\" = R_t * 22 µF * ln(2)\nhint \"{hint}\"\npoints 2\n```\n"
    )
}

fn mark(sheet: &Path, answers: &Path, folder: &Path) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let arguments = [
        "benchleaf".as_ref(),
        "mark".as_ref(),
        sheet.as_os_str(),
        answers.as_os_str(),
        "-o".as_ref(),
        folder.as_os_str(),
    ];
    let arguments = arguments.map(ToOwned::to_owned);
    let outcome = benchleaf::run(arguments, &mut Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None));
    let reported = String::from_utf8(err).unwrap();
    assert!(outcome.status() <= 2, "{reported}");
    assert!(!reported.contains('\u{1b}'));
}

/// Nothing runs, nothing is fetched, nothing is styled: by the tags that a browser would make of it.
#[track_caller]
fn is_harmless(html: &str, payload: &str) {
    const REFUSED: &[&str] = &[
        "script", "iframe", "object", "embed", "base", "video", "audio", "source", "template", "noscript", "link",
        "mglyph", "textarea", "applet", "frame",
    ];
    // A list and a class's marks carry no data.
    let page = html.starts_with("<!DOCTYPE");
    let html = if html.contains("id=\"_setting\"") { without_data(html, payload) } else { html.to_owned() };
    for tag in tags(&html) {
        let name = tag.split([' ', '\n', '/']).find(|part| !part.is_empty()).unwrap_or("").to_ascii_lowercase();
        assert!(!REFUSED.contains(&name.as_str()), "{payload}: <{tag}>");
        assert!(page || !["style", "meta", "body", "html", "head"].contains(&name.as_str()), "{payload}: <{tag}>");
        for attribute in tag.split([' ', '\n']).skip(1) {
            let attribute = attribute.split('=').next().unwrap().to_ascii_lowercase();
            assert!(
                !attribute.starts_with("on") && attribute != "style" && attribute != "srcdoc",
                "{payload}: <{tag}>"
            );
        }
    }
    for tag in whole_tags(&html) {
        let lower = tag.to_ascii_lowercase();
        for scheme in ["javascript:", "vbscript:", "data:text", "//x.invalid"] {
            for attribute in ["href", "src", "action"] {
                assert!(!lower.contains(&format!("{attribute}=\"{scheme}")), "{payload}: {attribute} to {scheme}");
            }
        }
    }
    let lower = html.to_ascii_lowercase();
    assert_eq!(lower.matches("</style>").count(), usize::from(page), "{payload}");
}

/// The tags of a page, what stands between quotes left out.
fn tags(page: &str) -> Vec<String> {
    let outside = |tag: String| tag.split('"').step_by(2).collect();
    whole_tags(page).into_iter().map(outside).collect()
}

fn whole_tags(page: &str) -> Vec<String> {
    let mut tags = Vec::new();
    let mut tag: Option<String> = None;
    let mut quoted = false;
    for c in page.chars() {
        match (&mut tag, c) {
            (None, '<') => tag = Some(String::new()),
            (None, _) => {}
            (Some(_), '>') if !quoted => tags.extend(tag.take()),
            (Some(text), c) => {
                quoted ^= c == '"';
                text.push(c);
            }
        }
    }
    assert!(tag.is_none() && !quoted, "a tag never closes");
    tags
}

/// A page without the data that its script reads, and the mark of its end: nothing in these ends its element.
fn without_data(html: &str, payload: &str) -> String {
    let (shown, data) = html.split_once("<script type=\"application/json\" id=\"_setting\">").unwrap();
    let wanted = ["/script", "script type= id=", "/script", "/body", "/html"];
    assert_eq!(tags(data), wanted, "{payload}");
    shown.to_owned()
}
