//! `benchleaf verify`: evaluates the worksheet that a page carries once more, sets it as the page was set, and compares
//! word by word in reading order, with the verdicts, links and drawings between them. A page of another version is held
//! against the figures alone. Then what stands around: the hash at the foot, the page's script and its policy.

use std::{collections::HashMap, path::Path, sync::Arc};

use benchleaf_core::{
    Day,
    host::{BlockCode, CompiledBlock, FileFault, Host, Refusal},
    problem::Code,
    sheet::{
        Carried, Used, Worksheet,
        surroundings::{file_of, stays_inside},
    },
    summary::{Summary, counted},
};
use benchleaf_page::{
    RawHtml,
    pictures::{Picture, Pictures, ResolvedPicture},
};
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
    let finding = match published::read(path).and_then(|page| compare(&page, &rust.blocks_of(path))) {
        Ok(finding) => finding,
        Err(failure) => return terminal.fail(&failure),
    };
    let name = name(path);
    let name = harmless(&name);
    let Comparison { compared, differences, engine, counts, left_out } = finding;
    if engine != env!("CARGO_PKG_VERSION") {
        let ours = env!("CARGO_PKG_VERSION");
        terminal.say(&format!("{name}: made by Benchleaf {}, verified by {ours}\n", harmless(&engine)));
    }
    // With a block left out there is a difference wherever something follows from it: one line says it all.
    let shown = if left_out > 0 { &[] } else { differences.as_slice() };
    for Difference { place, page, now } in shown {
        terminal.say(&format!(
            "{name}: {}: the page has {}, the worksheet comes to {}\n",
            harmless(place),
            harmless(page),
            harmless(now)
        ));
    }
    if left_out > 0 {
        let blocks = counted(left_out, "Rust block");
        terminal.say(&format!(
            "{name}: {blocks} not run, which --allow-rust permits: what follows from Rust cannot be verified\n"
        ));
    }
    let mut outcome = Outcome::Fine;
    if differences.is_empty() {
        terminal.say(&format!("{name}: all {} still hold\n", counted(compared, "figure")));
    } else {
        terminal.say(&format!("{name}: {}\n", counted(differences.len(), "difference")));
        if engine != env!("CARGO_PKG_VERSION") {
            let exact = differences.iter().filter(|difference| difference.now.starts_with(EXACTLY)).count();
            let nominal = if exact == 0 {
                "no nominal value differs: the newer engine finds a range, simulates builds or words a verdict in another way".to_owned()
            } else {
                format!(
                    "{} of a nominal value: a formula, a model or a unit was corrected",
                    counted(exact, "difference")
                )
            };
            terminal.say(&format!("{name}: {nominal}; the guide's chapter of changes says what each version did\n"));
        }
        outcome = Outcome::RequirementBroken;
    }
    if counts.errors > 0 {
        terminal.say(&format!("{name}: the worksheet holds {}\n", counted(counts.errors, "error")));
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

fn compare(page: &Published, rust: &dyn Host) -> Result<Comparison, Failure> {
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
    let words = if page.setting.engine == env!("CARGO_PKG_VERSION") { Words::All } else { Words::WithFigures };
    let (shown, now) = (figures(&page.document, words), figures(&Html::parse_document(&rendered.html), words));
    let mut differences = differences(&shown, &now);
    if words == Words::All {
        differences.extend(around(page));
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

fn differences(shown: &[Figure], now: &[Figure]) -> Vec<Difference> {
    let texts = |figures: &[Figure]| figures.iter().map(|figure| figure.text.clone()).collect::<Vec<_>>();
    let mut found = Vec::new();
    for op in capture_diff_slices(Algorithm::Myers, &texts(shown), &texts(now)) {
        if matches!(op, DiffOp::Equal { .. }) {
            continue;
        }
        let (old, new) = (shown.get(op.old_range()).unwrap_or(&[]), now.get(op.new_range()).unwrap_or(&[]));
        for i in 0..old.len().max(new.len()) {
            let shown =
                |figure: Option<&Figure>| figure.map_or_else(|| "nothing".to_owned(), |figure| figure.shown.clone());
            let place = new.get(i).or(old.get(i)).map_or("", |figure| figure.place.as_str());
            found.push(Difference { place: place.to_owned(), page: shown(old.get(i)), now: shown(new.get(i)) });
        }
    }
    found
}

/// What differs around the worksheet: its hash, scripts and their policy, and what else was put into the page.
fn around(page: &Published) -> Vec<Difference> {
    let mut found = Vec::new();
    let mut add = |place: &str, page: &str, now: &str| {
        found.push(Difference { place: place.to_owned(), page: page.to_owned(), now: now.to_owned() });
    };
    let document = &page.document;
    let hash = text_of(document, "footer .hash").unwrap_or_default();
    let now = hash::hash(&page.source);
    if hash.is_empty() || !now.starts_with(&hash) {
        add("the foot", &hash, &now[..hash.len().clamp(HASH, now.len())]);
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
    let own = texts.first().map_or(Some(still_policy()), |script| policy_of_own(script));
    let bare = run.iter().all(|script| script.value().attrs().next().is_none());
    if texts.len() > 1 || !bare || own.is_none() {
        add("the page", "another script", "its own");
    }
    let policy = all("meta[http-equiv]").first().and_then(|meta| meta.attr("content")).unwrap_or_default().to_owned();
    if own.is_some_and(|own| own != policy) {
        add("the head", "another policy", "its own");
    }
    if data
        .iter()
        .any(|script| script.attr("id") == Some("_engine") && !is_own_module(&script.text().collect::<String>()))
    {
        add("the page", "another engine", "its own");
    }
    let words = data.iter().find(|script| script.attr("id") == Some("_words"));
    let words = words.map(|script| script.text().collect::<String>());
    if (words.is_some() || !run.is_empty()) && !are_own_words(words.as_deref(), &page.source) {
        add("the page", "other words", "those of its language");
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
            add("the page", "another part", "nothing");
        }
    }
    found
}

/// Which words of a page are compared.
#[derive(Clone, Copy, PartialEq)]
enum Words {
    All,
    WithFigures,
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
}

/// Every figure of a page's head and body, in reading order.
fn figures(document: &Html, words: Words) -> Vec<Figure> {
    let mut walk = Walk { words, figures: Vec::new(), heading: "the head".to_owned() };
    if let Ok(selector) = Selector::parse("header.masthead, nav.sections, main") {
        for part in document.select(&selector) {
            walk.element(part, None);
        }
    }
    walk.figures
}

struct Walk {
    words: Words,
    figures: Vec<Figure>,
    heading: String,
}

impl Walk {
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
        for (attribute, what) in [("value", EXACTLY), ("data-status", "verdict")] {
            if let Some(text) = value.attr(attribute) {
                self.add(inside, format!("{attribute}={text}"), format!("{what} {text}"));
            }
        }
        if self.words == Words::All {
            for (name, text) in value.attrs() {
                if matches!(name, "href" | "src" | "alt" | "style" | "http-equiv") || name.starts_with("on") {
                    self.add(inside, format!("{name}={text}"), format!("the {name} {text}"));
                }
            }
        }
        for child in element.children() {
            match child.value() {
                Node::Text(text) => {
                    let all = self.words == Words::All;
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
        self.add(inside, text, "another drawing".to_owned());
    }

    fn add(&mut self, inside: Option<&str>, text: String, shown: String) {
        let place = match inside {
            Some(inside) => format!("{inside}, under “{}”", self.heading),
            None => format!("under “{}”", self.heading),
        };
        let counts = has_figure(&text);
        self.figures.push(Figure { counts, place, text, shown });
    }
}

/// How the exact value of a figure is reported.
const EXACTLY: &str = "exactly";
/// Characters of the hash that a page shows at least.
const HASH: usize = 16;

fn has_figure(word: &str) -> bool {
    word.contains(|c: char| c.is_numeric() || c == '∞')
}
