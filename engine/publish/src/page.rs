//! From a worksheet's text to a whole HTML page: evaluate, have the fragments written, and set them into the template. No
//! file is touched.

use std::sync::LazyLock;

use benchleaf_core::{
    Day, Evaluator, Options,
    host::{Host, NoHost},
    parallel,
    results::Evaluation,
    sheet::{Metadata, Worksheet, surroundings},
};
use benchleaf_page::{PageOptions, RawHtml, pictures::Pictures};
use benchleaf_words::{Language, set};
use maud::html;
use serde::Serialize;

use crate::{
    address::Address,
    failure::Failure,
    hash::hash,
    live::{self, BODY_PLACE, LiveEngine, LiveParts, PageSetting, put_in},
    neighbours::Neighbours,
    pictures::{Copy, Larger, PagePictures},
    style::STYLE,
    template::{MARKS, TemplateWords, WORKSHEET, fill, template_words},
};

/// What holds for every worksheet of a call.
#[derive(Clone, Debug)]
pub struct RenderSettings {
    /// Monte Carlo samples, in place of the worksheet's own number.
    pub samples: Option<u64>,
    /// Seed of the random numbers, in place of the worksheet's own.
    pub seed: Option<u64>,
    /// The date of evaluation that the page shows.
    pub evaluated: Day,
    /// What becomes of raw HTML in the worksheets.
    pub raw_html: RawHtml,
    /// Where the pages have their engine.
    pub engine: LiveEngine,
    /// What the pages are for.
    pub form: Form,
    /// The pages before and after.
    pub neighbours: Neighbours,
}

/// What a page is for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Form {
    /// To read, on a screen or on paper.
    #[default]
    Full,
    /// To print and hand out: without solutions, without the tables of numbers behind plots, and with room for answers. Such
    /// a page does not carry its worksheet, which has the answers in it.
    Handout,
}

/// What a page shows that is not in its worksheet.
struct Around<'a> {
    host: &'a dyn Host,
    pictures: &'a dyn Pictures,
}

/// A worksheet as a page, and what its evaluation came to.
#[derive(Clone, Debug)]
pub struct RenderedPage {
    /// Its title, as plain text.
    pub title: String,
    /// Its summary, as plain text.
    pub summary: Option<String>,
    /// The whole HTML page.
    pub html: String,
    /// The evaluation that it shows, with what is wrong with its pictures and links.
    pub evaluation: Evaluation,
    /// Pictures to be written beside the page.
    pub copies: Vec<Copy>,
}

/// Evaluate a worksheet and write it as a page. `name` is its title where it has no other.
/// Its Rust blocks are shown as code.
pub fn render_worksheet(source: &str, name: &str, setting: &RenderSettings) -> Result<RenderedPage, Failure> {
    render_worksheet_with(source, name, setting, &NoHost)
}

/// The same; `rust` runs its Rust blocks.
pub fn render_worksheet_with(
    source: &str,
    name: &str,
    setting: &RenderSettings,
    host: &dyn Host,
) -> Result<RenderedPage, Failure> {
    render_in_folder(source, name, setting, host, Larger::AsItStands)
}

/// The same; `host` has the pictures too, and the larger ones stand where `larger` says.
pub fn render_in_folder(
    source: &str,
    name: &str,
    setting: &RenderSettings,
    host: &dyn Host,
    larger: Larger,
) -> Result<RenderedPage, Failure> {
    let pictures = PagePictures::new(host, larger);
    let mut page = render_around(source, name, setting, &Around { host, pictures: &pictures })?;
    page.copies = pictures.copies();
    Ok(page)
}

/// The same with the pictures of a page that was read back.
pub fn render_again(
    source: &str,
    name: &str,
    setting: &RenderSettings,
    host: &dyn Host,
    pictures: &dyn Pictures,
) -> Result<RenderedPage, Failure> {
    render_around(source, name, setting, &Around { host, pictures })
}

fn render_around(
    source: &str,
    name: &str,
    setting: &RenderSettings,
    around: &Around<'_>,
) -> Result<RenderedPage, Failure> {
    let options = Options { samples: setting.samples, seed: setting.seed, ..Options::default() };
    let (worksheet, problems) = Worksheet::new(source);
    let worksheet = worksheet.carrying(around.host);
    // What is wrong with the metadata, the engine in a page would not know.
    let outline = problems.is_empty().then(|| worksheet.outline());
    let made = PageSetting {
        engine: env!("CARGO_PKG_VERSION").to_owned(),
        samples: setting.samples,
        seed: setting.seed,
        html: setting.raw_html == RawHtml::Cleaned,
        outline,
    };
    let engine =
        if made.outline.is_some() && setting.form == Form::Full { &setting.engine } else { &LiveEngine::LeftOut };
    // Nothing of what makes a page live waits for what it says.
    let (mut evaluation, (hash, live)) = parallel::both(
        || Evaluator::with(&options).host(around.host).evaluate_worksheet(&worksheet, problems),
        || (hash(source), LiveParts::new(source, &made, engine, worksheet.metadata.lang)),
    );
    let options = PageOptions { raw_html: setting.raw_html };
    let page = benchleaf_page::render_with(&evaluation, source, &options, around.pictures);
    let title = if page.title.is_empty() { name.to_owned() } else { page.title };
    let metadata = &evaluation.sheet.metadata;
    let language = metadata.lang;
    let shell = fill(
        &WORKSHEET,
        &WorksheetPage {
            lang: page.lang,
            w: template_words(language, "site"),
            title: &title,
            heading: &page.heading,
            summary: page.summary.as_deref(),
            author: metadata.author.as_deref(),
            date: metadata.date.as_deref(),
            style: STYLE,
            head: &page.head,
            sections: &page.sections,
            body: BODY_PLACE,
            live,
            handout: setting.form == Form::Handout,
            neighbours: &setting.neighbours,
            address: setting.neighbours.address.as_ref(),
            og_type: "article",
            foot: Foot { engine: env!("CARGO_PKG_VERSION"), made: made_sentence(metadata, setting, &hash) },
        },
    )?;
    let html = put_in(&shell, &page.body, engine);
    // The author sees it, and not the reader: a page can be verified without the files that were beside its worksheet.
    evaluation.add(surroundings::problems(&worksheet, &evaluation.sheet, around.host));
    Ok(RenderedPage { title, summary: page.summary, html, evaluation, copies: Vec::new() })
}

/// The page of a class's marks as HTML.
pub fn render_marks(lang: Language, statistics: &impl Serialize) -> Result<String, Failure> {
    #[derive(Serialize)]
    struct MarksPage<'a, S> {
        lang: &'static str,
        w: TemplateWords,
        engine: &'static str,
        style: &'static str,
        #[serde(flatten)]
        statistics: &'a S,
    }
    let (lang, w) = (lang.code(), template_words(lang, "command"));
    fill(&MARKS, &MarksPage { lang, w, engine: env!("CARGO_PKG_VERSION"), style: STYLE, statistics })
}

#[derive(Serialize)]
struct WorksheetPage<'a> {
    lang: &'static str,
    w: TemplateWords,
    title: &'a str,
    heading: &'a str,
    summary: Option<&'a str>,
    author: Option<&'a str>,
    date: Option<&'a str>,
    style: &'static str,
    head: &'a str,
    sections: &'a str,
    body: &'static str,
    live: LiveParts,
    handout: bool,
    neighbours: &'a Neighbours,
    address: Option<&'a Address>,
    og_type: &'static str,
    foot: Foot,
}

#[derive(Serialize)]
struct Foot {
    engine: &'static str,
    /// What the page was made from, as HTML.
    made: String,
}

fn made_sentence(metadata: &Metadata, setting: &RenderSettings, hash: &str) -> String {
    let said = set!(
        metadata.lang.words(),
        FOOT_MADE,
        date = html! { time { (setting.evaluated) } },
        engine = env!("CARGO_PKG_VERSION"),
        language = metadata.language,
        samples = setting.samples.unwrap_or(metadata.samples),
        seed = setting.seed.unwrap_or(metadata.seed),
        hash = html! { span.hash title=(hash) { (&hash[..HASH_SHOWN]) } }
    );
    said.into_string()
}

/// Makes ready what every page wants.
pub fn make_ready() {
    LazyLock::force(&WORKSHEET);
    live::make_ready();
}

/// Characters of the hash that a reader sees; enough to distinguish any two worksheets.
const HASH_SHOWN: usize = 16;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marks::{HEAD, is_ours};

    const SETTING: RenderSettings = RenderSettings {
        samples: Some(7),
        seed: Some(42),
        evaluated: Day { year: 2000, month: 2, day: 29 },
        raw_html: RawHtml::ShownAsText,
        engine: LiveEngine::LeftOut,
        form: Form::Full,
        neighbours: Neighbours::NONE,
    };

    #[test]
    fn a_page_says_what_it_was_made_from() {
        let page = render_worksheet("# Hello\n", "hello", &SETTING).unwrap();
        for part in [&hash("# Hello\n")[..16], "2000-02-29", env!("CARGO_PKG_VERSION"), "42"] {
            assert!(page.html.contains(part), "{part} is missing");
        }
        let hash = hash("# Hello\n");
        let shown = format!(">{}<", &hash[..HASH_SHOWN]);
        assert!(page.html.contains(&shown), "the short hash is not what a reader sees: {}", page.html);
        assert!(page.html.contains(&hash), "the whole hash is missing");
    }

    #[test]
    fn a_page_carries_the_mark_by_which_it_may_be_replaced() {
        let html = render_worksheet("# Hello\n", "hello", &SETTING).unwrap().html;
        assert!(is_ours(&html.as_bytes()[..html.len().min(HEAD as usize)]), "{html}");
        assert!(!is_ours(b"<!doctype html><title>Mine</title>"));
    }

    #[test]
    fn a_handout_has_room_for_answers_and_nothing_that_gives_them_away() {
        let source =
            "# T\n\n```calc\nR = 5 Ω\n```\n\n```exercise e\nask \"?\"\nanswer [Ω] = 4321 * R within 1 %\n```\n";
        let setting = RenderSettings { form: Form::Handout, engine: LiveEngine::Inside, ..SETTING };
        let handout = render_worksheet(source, "t", &setting).unwrap().html;
        assert!(handout.contains("class=\"handout\"") && handout.contains(">Name<"), "{handout}");
        for left_out in ["<script", "4321", "21.6"] {
            assert!(!handout.contains(left_out), "{left_out}: {handout}");
        }
        assert!(render_worksheet(source, "t", &SETTING).unwrap().html.contains("id=\"_worksheet\""));
    }

    #[test]
    fn titles_are_text_on_pages() {
        let page = render_worksheet("plain\n", "a <b> & \"c\"", &SETTING).unwrap();
        assert!(!page.html.contains("a <b>"), "{}", page.html);
    }
}
