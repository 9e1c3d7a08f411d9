//! `benchleaf verify`: evaluates the worksheet that a page carries once more, sets it as the page was set, and compares
//! word by word in reading order, with the verdicts, links and drawings between them. A page of another version is held
//! against the figures alone. Then what stands around: the hash at the foot, the page's script and its policy.

use std::{collections::HashMap, path::Path, sync::Arc};

use benchleaf_core::{
    Day,
    host::{BlockCode, CompiledBlock, FileFault, Host, Refusal},
    problem::Code,
    results::Status,
    sheet::{
        Carried, Used, Worksheet,
        surroundings::{file_of, stays_inside},
    },
    summary::Summary,
};
use benchleaf_page::{
    RawHtml,
    pictures::{Picture, Pictures, ResolvedPicture},
};
use benchleaf_words::{Words, count, key, say};
use scraper::{ElementRef, Html, Node, Selector};
use similar::{Algorithm, DiffOp, capture_diff_slices};

use benchleaf_publish::{
    failure::{Failure, name},
    hash,
    live::{LiveEngine, are_own_words, is_own_module, policy_of_own, still_policy},
    neighbours::Neighbours,
    page::{Form, RenderSettings, render_again},
    published::{self, Published},
};

use crate::{
    args::{EvaluationOptions, VerifyRequest},
    message::harmless,
    outcome::Outcome,
    rust::Rust,
    said,
    terminal::Terminal,
};

/// Run `benchleaf verify`.
pub(crate) fn verify(request: &VerifyRequest, options: &EvaluationOptions, terminal: &mut Terminal<'_>) -> Outcome {
    let rust = match Rust::of_call(options, terminal.progress()) {
        Ok(rust) => rust,
        Err(failure) => return terminal.fail(&failure),
    };
    request.pages.iter().fold(Outcome::Fine, |outcome, path| outcome.and(one(path, &rust, terminal)))
}

fn one(path: &Path, rust: &Rust, terminal: &mut Terminal<'_>) -> Outcome {
    let finding = match published::read(path).and_then(|page| compare(terminal.words(), &page, &rust.blocks_of(path))) {
        Ok(finding) => finding,
        Err(failure) => return terminal.fail(&failure),
    };
    let words = terminal.words();
    let name = name(path);
    let name = harmless(&name);
    let Comparison { compared, differences, engine, counts, left_out } = finding;
    if engine != env!("CARGO_PKG_VERSION") {
        let ours = env!("CARGO_PKG_VERSION");
        let versions = say!(words, VERIFY_VERSIONS, name = name, theirs = harmless(&engine), ours = ours);
        terminal.say(&(versions + "\n"));
    }
    // With a block left out there is a difference wherever something follows from it: one line says it all.
    let shown = if left_out > 0 { &[] } else { differences.as_slice() };
    for Difference { place, page, now, .. } in shown {
        let (place, page, now) = (harmless(place), harmless(page), harmless(now));
        let difference = say!(words, VERIFY_DIFFERENCE, name = name, place = place, page = page, now = now);
        terminal.say(&(difference + "\n"));
    }
    if left_out > 0 {
        terminal.say(&(count!(words, VERIFY_LEFT_OUT, left_out, name = name, n = left_out) + "\n"));
    }
    let mut outcome = Outcome::Fine;
    if differences.is_empty() {
        terminal.say(&(count!(words, VERIFY_ALL_HOLD, compared, name = name, n = compared) + "\n"));
    } else {
        let differ = differences.len();
        terminal.say(&(count!(words, VERIFY_DIFFERENCES, differ, name = name, n = differ) + "\n"));
        if engine != env!("CARGO_PKG_VERSION") {
            let exact = differences.iter().filter(|difference| difference.is_nominal).count();
            let nominal = match exact {
                0 => say!(words, VERIFY_NONE_EXACT, name = name),
                _ => count!(words, VERIFY_EXACT, exact, name = name, n = exact),
            };
            terminal.say(&(nominal + "\n"));
        }
        outcome = Outcome::RequirementBroken;
    }
    if counts.errors > 0 {
        terminal.say(&said::worksheet_errors(words, &name, counts.errors));
        outcome = outcome.and(Outcome::WorksheetError);
    }
    outcome
}

struct Comparison {
    compared: usize,
    differences: Vec<Difference>,
    engine: String,
    counts: Summary,
    /// Rust blocks that were not run.
    left_out: usize,
}

struct Difference {
    place: String,
    page: String,
    now: String,
    /// Whether the worksheet comes to another nominal value.
    is_nominal: bool,
}

/// The host of a page that is read back: Rust blocks as the user permits them, and no file but those that the page carries.
pub(crate) struct Carrying<'a> {
    files: Vec<Carried>,
    used: Vec<Used>,
    rust: &'a dyn Host,
}

impl<'a> Carrying<'a> {
    pub(crate) fn new(page: &Published, rust: &'a dyn Host) -> Self {
        let outline = page.setting.outline.as_deref().unwrap_or_default();
        let worksheet = Worksheet::from_outline(page.source.clone(), outline);
        let (files, used) = worksheet.map_or_else(Default::default, |worksheet| (worksheet.files, worksheet.used));
        Self { files, used, rust }
    }
}

impl Host for Carrying<'_> {
    fn compile(&self, code: &BlockCode<'_>) -> Result<Arc<dyn CompiledBlock>, Refusal> {
        self.rust.compile(code)
    }

    fn used(&self, path: &str) -> Result<String, FileFault> {
        let used = self.used.iter().find(|used| *used.path == *path);
        used.map(|used| used.worksheet.source.clone()).ok_or(FileFault::Missing)
    }

    fn read(&self, path: &str) -> Result<String, String> {
        let file = self.files.iter().find(|file| *file.path == *path);
        file.map(|file| file.text.to_string()).ok_or_else(|| format!("the page does not carry `{path}`"))
    }
}

fn compare(words: Words<'_>, page: &Published, rust: &dyn Host) -> Result<Comparison, Failure> {
    let setting = RenderSettings {
        samples: page.setting.samples,
        seed: page.setting.seed,
        evaluated: Day::of_unix_seconds(0),
        raw_html: if page.setting.html { RawHtml::Cleaned } else { RawHtml::ShownAsText },
        engine: LiveEngine::LeftOut,
        form: Form::Full,
        neighbours: Neighbours::NONE,
    };
    // A worksheet without a title has its file's name for one, which the page alone knows.
    let name = text_of(&page.document, "header.masthead h1").unwrap_or_default();
    let host = Carrying::new(page, rust);
    let rendered = render_again(&page.source, &name, &setting, &host, &pictures_of(&page.document))?;
    // Another version may set the same results in other words.
    let compared = if page.setting.engine == env!("CARGO_PKG_VERSION") { Compared::Words } else { Compared::Figures };
    let figures = |document: &Html| figures(words, document, compared);
    let (shown, now) = (figures(&page.document), figures(&Html::parse_document(&rendered.html)));
    let mut differences = differences(words, &shown, &now);
    if compared == Compared::Words {
        differences.extend(around(words, page));
    }
    Ok(Comparison {
        compared: now.iter().filter(|figure| figure.counts).count(),
        differences,
        engine: page.setting.engine.clone(),
        counts: Summary::of(&rendered.evaluation),
        left_out: rendered.evaluation.problems.iter().filter(|problem| problem.code == Code::RustOff).count(),
    })
}

/// The pictures that a page shows. That they are those of its author, nobody can say; but they are pictures, in the page or
/// beside it.
fn pictures_of(document: &Html) -> ShownPictures {
    let Ok(selector) = Selector::parse("main img[data-picture]") else { return ShownPictures::default() };
    let picture = |image: ElementRef<'_>| {
        let src = image.attr("src")?;
        let near = file_of(src).is_some_and(|(path, _)| stays_inside(&path));
        let size = |name: &str| image.attr(name)?.parse().ok();
        let shown = Picture { src: src.to_owned(), width: size("width")?, height: size("height")? };
        (near || src.starts_with("data:image/"))
            .then(|| (image.attr("data-picture").unwrap_or_default().to_owned(), shown))
    };
    ShownPictures(document.select(&selector).filter_map(picture).collect())
}

#[derive(Default)]
struct ShownPictures(HashMap<String, Picture>);

impl Pictures for ShownPictures {
    fn picture(&self, url: &str) -> ResolvedPicture {
        self.0.get(url).map_or(ResolvedPicture::Missing, |picture| ResolvedPicture::Picture(picture.clone()))
    }
}

fn text_of(document: &Html, selector: &str) -> Option<String> {
    let selector = Selector::parse(selector).ok()?;
    document.select(&selector).next().map(|element| element.text().collect())
}

fn differences(words: Words<'_>, shown: &[Figure], now: &[Figure]) -> Vec<Difference> {
    let texts = |figures: &[Figure]| figures.iter().map(|figure| figure.text.clone()).collect::<Vec<_>>();
    let mut found = Vec::new();
    for op in capture_diff_slices(Algorithm::Myers, &texts(shown), &texts(now)) {
        if matches!(op, DiffOp::Equal { .. }) {
            continue;
        }
        let (old, new) = (shown.get(op.old_range()).unwrap_or(&[]), now.get(op.new_range()).unwrap_or(&[]));
        for i in 0..old.len().max(new.len()) {
            let nothing = words.text(key::VERIFY_NOTHING);
            let shown = |figure: Option<&Figure>| figure.map_or(nothing, |figure| &figure.shown).to_owned();
            let place = new.get(i).or(old.get(i)).map_or("", |figure| figure.place.as_str());
            let is_nominal = new.get(i).is_some_and(|figure| figure.is_nominal);
            let (page, now) = (shown(old.get(i)), shown(new.get(i)));
            found.push(Difference { place: place.to_owned(), page, now, is_nominal });
        }
    }
    found
}

/// What differs around the worksheet: its hash, scripts and their policy, and what else was put into the page.
fn around(words: Words<'_>, page: &Published) -> Vec<Difference> {
    let mut found = Vec::new();
    let mut add = |place: &str, page: &str, now: &str| {
        let (place, page, now) = (place.to_owned(), page.to_owned(), now.to_owned());
        found.push(Difference { place, page, now, is_nominal: false });
    };
    let [the_page, own] = [key::VERIFY_PAGE, key::VERIFY_OWN].map(|word| words.text(word));
    let document = &page.document;
    let hash = text_of(document, "footer .hash").unwrap_or_default();
    let now = hash::hash(&page.source);
    if hash.is_empty() || !now.starts_with(&hash) {
        add(words.text(key::VERIFY_FOOT), &hash, &now[..hash.len().clamp(HASH, now.len())]);
    }
    let all =
        |selector: &str| Selector::parse(selector).map_or_else(|_| Vec::new(), |it| document.select(&it).collect());
    let scripts: Vec<ElementRef<'_>> = all("script");
    let is_data = |script: &&ElementRef<'_>| {
        matches!(script.attr("id"), Some("_setting" | "_worksheet" | "_engine" | "_words"))
            && matches!(script.attr("type"), Some("application/json" | "text/plain"))
    };
    let (data, run): (Vec<ElementRef<'_>>, Vec<ElementRef<'_>>) = scripts.iter().partition(|script| is_data(script));
    let texts: Vec<String> = run.iter().map(|script| script.text().collect()).collect();
    let own_policy = texts.first().map_or(Some(still_policy()), |script| policy_of_own(script));
    let bare = run.iter().all(|script| script.value().attrs().next().is_none());
    if texts.len() > 1 || !bare || own_policy.is_none() {
        add(the_page, words.text(key::VERIFY_SCRIPT), own);
    }
    let policy = all("meta[http-equiv]").first().and_then(|meta| meta.attr("content")).unwrap_or_default().to_owned();
    if own_policy.is_some_and(|own| own != policy) {
        add(words.text(key::VERIFY_HEAD), words.text(key::VERIFY_POLICY), own);
    }
    if data
        .iter()
        .any(|script| script.attr("id") == Some("_engine") && !is_own_module(&script.text().collect::<String>()))
    {
        add(the_page, words.text(key::VERIFY_ENGINE), own);
    }
    let handed = data.iter().find(|script| script.attr("id") == Some("_words"));
    let handed = handed.map(|script| script.text().collect::<String>());
    if (handed.is_some() || !run.is_empty()) && !are_own_words(handed.as_deref(), &page.source) {
        add(the_page, words.text(key::VERIFY_WORDS), words.text(key::VERIFY_OWN_WORDS));
    }
    for part in all("body > *") {
        let is_own = match part.value().name() {
            "script" | "main" | "footer" => true,
            "header" => part.attr("class") == Some("masthead"),
            "nav" => part.attr("class") == Some("sections"),
            "a" => part.attr("class") == Some("skip"),
            _ => part.attr("data-live").is_some(),
        };
        if !is_own {
            add(the_page, words.text(key::VERIFY_PART), words.text(key::VERIFY_NOTHING));
        }
    }
    found
}

/// What of a page is compared.
#[derive(Clone, Copy, PartialEq)]
enum Compared {
    /// Every word.
    Words,
    /// The words with a figure in them.
    Figures,
}

/// Something on a page that is compared.
struct Figure {
    /// Whether it has a figure in it.
    counts: bool,
    /// The part of the page, as a reader would name it.
    place: String,
    /// What is compared.
    text: String,
    /// What a reader sees.
    shown: String,
    /// Whether it is the exact nominal value.
    is_nominal: bool,
}

/// Every figure of a page's head and body, in reading order.
fn figures(words: Words<'_>, document: &Html, compared: Compared) -> Vec<Figure> {
    let mut walk = Walk { words, compared, figures: Vec::new(), heading: words.text(key::VERIFY_HEAD).to_owned() };
    if let Ok(selector) = Selector::parse("header.masthead, nav.sections, main") {
        for part in document.select(&selector) {
            walk.element(part, None);
        }
    }
    walk.figures
}

struct Walk<'w> {
    words: Words<'w>,
    compared: Compared,
    figures: Vec<Figure>,
    heading: String,
}

impl Walk<'_> {
    fn element(&mut self, element: ElementRef<'_>, inside: Option<&str>) {
        let value = element.value();
        if value.attr("data-live").is_some() {
            return;
        }
        let own = value.attr("data-name").or_else(|| value.attr("id"));
        let inside = own.or(inside);
        if matches!(value.name(), "h2" | "h3" | "h4" | "h5" | "h6") {
            self.heading = element.text().collect::<String>().trim_end_matches('#').trim().to_owned();
        }
        if value.name() == "svg" {
            return self.drawing(element, inside);
        }
        if let Some(text) = value.attr(EXACT) {
            let shown = say!(self.words, VERIFY_EXACTLY, value = text);
            self.add(inside, format!("{EXACT}={text}"), shown);
        }
        if let Some(text) = value.attr("data-status") {
            self.add(inside, format!("data-status={text}"), verdict(self.words, text));
        }
        if self.compared == Compared::Words {
            for (name, text) in value.attrs() {
                if matches!(name, "href" | "src" | "alt" | "style" | "http-equiv") || name.starts_with("on") {
                    self.add(
                        inside,
                        format!("{name}={text}"),
                        say!(self.words, VERIFY_ATTRIBUTE, name = name, value = text),
                    );
                }
            }
        }
        for child in element.children() {
            match child.value() {
                Node::Text(text) => {
                    let all = self.compared == Compared::Words;
                    for word in text.split_whitespace().filter(|word| all || has_figure(word)) {
                        self.add(inside, word.to_owned(), word.to_owned());
                    }
                }
                Node::Element(_) => {
                    if let Some(child) = ElementRef::wrap(child) {
                        self.element(child, inside);
                    }
                }
                _ => {}
            }
        }
    }

    /// A drawing is one figure, with all that it draws and writes.
    fn drawing(&mut self, svg: ElementRef<'_>, inside: Option<&str>) {
        let mut text = String::new();
        for node in svg.descendants() {
            match node.value() {
                Node::Element(element) => {
                    let mut attributes: Vec<(&str, &str)> = element.attrs().collect();
                    attributes.sort_unstable();
                    text.push_str(element.name());
                    for (name, value) in attributes {
                        text.extend([" ", name, "=", value]);
                    }
                }
                Node::Text(words) => text.push_str(words),
                _ => {}
            }
            text.push('\n');
        }
        self.add(inside, text, self.words.text(key::VERIFY_DRAWING).to_owned());
    }

    fn add(&mut self, inside: Option<&str>, text: String, shown: String) {
        let place = match inside {
            Some(inside) => say!(self.words, VERIFY_UNDER_NAME, name = inside, heading = self.heading),
            None => say!(self.words, VERIFY_UNDER, heading = self.heading),
        };
        let counts = has_figure(&text);
        let is_nominal = text.strip_prefix(EXACT).is_some_and(|rest| rest.starts_with('='));
        self.figures.push(Figure { counts, place, text, shown, is_nominal });
    }
}

/// A verdict by the word that a page has for programs.
fn verdict(words: Words<'_>, word: &str) -> String {
    let known = [Status::Holds, Status::AtRisk, Status::Broken].into_iter().find(|status| status.word() == word);
    match known {
        Some(Status::Holds) => words.text(key::VERIFY_HOLDS).to_owned(),
        Some(Status::AtRisk) => words.text(key::VERIFY_AT_RISK).to_owned(),
        Some(Status::Broken) => words.text(key::VERIFY_BROKEN).to_owned(),
        None => say!(words, VERIFY_VERDICT, word = word),
    }
}

/// The attribute that has the exact value of a figure.
const EXACT: &str = "value";
/// Characters of the hash that a page shows at least.
const HASH: usize = 16;

fn has_figure(word: &str) -> bool {
    word.contains(|c: char| c.is_numeric() || c == '∞')
}
