//! What makes a page live: the engine as a packed module, the page's script, the worksheet itself, and the policy that
//! lets these run and nothing else. All of it is text that goes into the template, or into the one file that the pages of
//! a site share.

use std::{collections::BTreeMap, sync::LazyLock};

use base64::{Engine as _, engine::general_purpose::STANDARD as BASE64};
use benchleaf_core::sheet::metadata_of;
use benchleaf_words::{Language, say};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::{
    marks::{INDEX_NAME, SHARED_MARK},
    style::STYLE,
    text::in_script,
};

/// Where a page has its engine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LiveEngine {
    /// Nowhere: the page stays as it was written.
    LeftOut,
    /// In the page.
    Inside,
    /// In a file beside the pages, by its link from the page.
    Beside(String),
}

/// The parts of the template that make a page live.
#[derive(Debug, Serialize)]
pub struct LiveParts {
    policy: String,
    setting: String,
    /// The words of the page's language for its script and its engine, as JSON; English they have.
    words: Option<String>,
    worksheet: String,
    /// Whether the page has the packed module inside.
    module: bool,
    /// At the head, where the engine is beside the page: what fetches it.
    loader: Option<String>,
    /// At the end, where the page has the engine inside.
    script: Option<String>,
    /// Where the engine is and what it weighs, as a sentence.
    weight: Option<String>,
}

impl LiveParts {
    /// The parts of one page.
    pub fn new(source: &str, setting: &PageSetting, engine: &LiveEngine, language: Language) -> Self {
        let (loader, script) = match engine {
            LiveEngine::LeftOut => (None, None),
            LiveEngine::Inside => (None, Some(INSIDE.text.clone())),
            LiveEngine::Beside(link) => (Some(beside(link)), None),
        };
        let run = loader.as_deref().or(script.as_deref());
        Self {
            policy: policy(run, engine),
            setting: in_script(&serde_json::to_string(setting).unwrap_or_default()),
            words: run.and_then(|_| words_of_page(language)),
            worksheet: in_script(&serde_json::to_string(source).unwrap_or_default()),
            module: *engine == LiveEngine::Inside,
            loader,
            script,
            weight: weight(engine, language),
        }
    }
}

fn weight(engine: &LiveEngine, language: Language) -> Option<String> {
    let (words, kilobytes) = (language.words(), (UNPACKER.len() + ENGINE.len()).div_ceil(1000));
    match engine {
        LiveEngine::LeftOut => None,
        LiveEngine::Inside => Some(say!(words, FOOT_WEIGHT_INSIDE, n = kilobytes)),
        LiveEngine::Beside(_) => Some(say!(words, FOOT_WEIGHT_BESIDE, n = kilobytes)),
    }
}

fn words_of_page(language: Language) -> Option<String> {
    #[derive(Serialize)]
    struct PageWords {
        engine: String,
        script: BTreeMap<&'static str, String>,
    }
    let words = PageWords { engine: language.for_engine()?, script: script_words(language, "script") };
    Some(in_script(&serde_json::to_string(&words).unwrap_or_default()))
}

/// A script's words, by their names within its group.
pub(crate) fn script_words(language: Language, group: &'static str) -> BTreeMap<&'static str, String> {
    language.group(group).map(|(key, text)| (key.split_once('.').map_or(key, |(_, name)| name), text)).collect()
}

/// The same as the line that stands before the script.
fn words_line(language: Language, group: &'static str) -> String {
    let words = serde_json::to_string(&script_words(language, group)).unwrap_or_default();
    format!("const WORDS = {};", in_script(&words))
}

/// Puts the body and the packed module into the places that the template keeps for them. They are larger than all the rest
/// of a page, and a template engine would copy them about.
pub fn put_in(shell: &str, body: &str, engine: &LiveEngine) -> String {
    let (before, after) = shell.split_once(BODY_PLACE).unwrap_or((shell, ""));
    if *engine != LiveEngine::Inside {
        return [before, body, after].concat();
    }
    // The worksheet stands before, whatever it says.
    let place = after.rfind(MODULE_PLACE).map_or(after.len(), |at| at + MODULE_PLACE.len());
    [before, body, &after[..place], &MODULE, &after[place..]].concat()
}

/// Where the body goes. What an author wrote into a title or a summary is escaped, so it says this nowhere.
pub const BODY_PLACE: &str = "<!--body-->";

const MODULE_PLACE: &str = "id=\"_engine\">";

/// How a page was made, as far as the worksheet does not say: the page's engine and `verify` take it up again.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PageSetting {
    /// Version of the engine.
    pub engine: String,
    /// Monte Carlo samples, in place of the worksheet's.
    pub samples: Option<u64>,
    /// Seed, in place of the worksheet's.
    pub seed: Option<u64>,
    /// Whether the worksheet's raw HTML was let through, cleaned.
    pub html: bool,
    /// Where the engine finds its parts in the worksheet.
    pub outline: Option<String>,
}

/// The files that the pages of a site share: the name and the text of each.
pub fn shared_files() -> [(&'static str, String); 2] {
    SHARED_NAMES.map(|name| (name, shared_file(name)))
}

/// One of these.
pub fn shared_file(name: &str) -> String {
    let text = match name {
        SHARED_NAME => enclosed(&format!(
            "whenShown(() => live({{ unpacker: \"{}\", packed: engineBeside(\"{ENGINE_PLACE}\") }}));",
            BASE64.encode(UNPACKER)
        )),
        _ => format!(
            "self[\"{ENGINE_PLACE}\"] = \"{}\";\ndispatchEvent(new Event(\"{ENGINE_PLACE}\"));\n",
            BASE64.encode(ENGINE)
        ),
    };
    format!("{SHARED_MARK}\n{text}")
}

/// Their names: the page's script with what unpacks the engine, and the engine, which is the larger by far. While that one
/// comes, the script makes all ready.
pub const SHARED_NAMES: [&str; 2] = [SHARED_NAME, "benchleaf-engine.js"];

/// The first of them.
pub const SHARED_NAME: &str = "benchleaf.js";
/// Where the second hands the engine over: a name in the page, and that of the event that says it is there.
const ENGINE_PLACE: &str = "benchleaf-engine";

/// The policy of a page without a script.
pub fn still_policy() -> String {
    policy(None, &LiveEngine::LeftOut)
}

/// The policy that goes with a page's script, if the script is one of ours.
pub fn policy_of_own(script: &str) -> Option<String> {
    if script == INSIDE.text {
        return Some(policy(Some(script), &LiveEngine::Inside));
    }
    let line = script.lines().find_map(|line| line.trim().strip_prefix(LINKS)?.strip_suffix(") {"))?;
    let [link, _]: [String; 2] = serde_json::from_str(line).ok()?;
    let way = link.strip_suffix(SHARED_NAME)?;
    let is_near = way.replace("../", "").is_empty();
    (is_near && script == beside(&link)).then(|| policy(Some(script), &LiveEngine::Beside(link)))
}

/// The script of a site's search page: it loads the index that lies beside it, and nothing else.
pub fn search_script(language: Language) -> String {
    let script = include_str!("../templates/site/search.js");
    let words = words_line(language, "search");
    format!("\"use strict\";\n(() => {{\n{words}\n{script}\nstartSearch(\"{INDEX_NAME}\");\n}})();\n")
}

/// The policy that goes with it.
pub fn search_policy(script: &str) -> String {
    policy_with(Some(format!("; script-src '{}' 'strict-dynamic'", digest(script))))
}

/// Whether a packed module is the one that this program carries.
pub fn is_own_module(text: &str) -> bool {
    text.trim() == *MODULE
}

/// Whether the words that a live page hands to its script and its engine are those of its worksheet's language; an English page
/// has none.
pub fn are_own_words(text: Option<&str>, source: &str) -> bool {
    words_of_page(metadata_of(source).lang).as_deref() == text
}

/// The worksheet of a page, byte for byte, from the text that it has of it.
pub fn worksheet_of(text: &str) -> Option<String> {
    let text = text.trim();
    if text.starts_with('"') {
        return serde_json::from_str(text).ok();
    }
    // Pages of earlier versions.
    String::from_utf8(BASE64.decode(text).ok()?).ok()
}

/// The script of a page with the module inside.
static INSIDE: LazyLock<Digested> =
    LazyLock::new(|| Digested::new(enclosed("whenShown(() => live(modulesInside()));")));

/// A text that is the same on many pages, with its digest.
struct Digested {
    text: String,
    digest: String,
}

impl Digested {
    fn new(text: String) -> Self {
        Self { digest: digest(&text), text }
    }
}

/// Makes ready what every page with the module inside wants, so that it is there when the first worksheet is evaluated.
pub fn make_ready() {
    LazyLock::force(&INSIDE);
    LazyLock::force(&MODULE);
    LazyLock::force(&STYLE_DIGEST);
}

/// Fetches the shared files while the page itself is still on its way; nothing of them starts before the page is shown. They are
/// trusted because this script is, wherever they lie. `link` leads to the first of them.
fn beside(link: &str) -> String {
    let way = link.strip_suffix(SHARED_NAME).unwrap_or(link);
    let links = SHARED_NAMES.map(|name| format!("{way}{name}"));
    let links = in_script(&serde_json::to_string(&links).unwrap_or_default());
    format!(
        "{LINKS}{links}) {{\n  const script = document.createElement(\"script\");\n  script.src = link;\n  \
         document.head.append(script);\n  script.remove();\n}}\n"
    )
}

const LINKS: &str = "for (const link of ";

/// The page's script, whose parts know one another and nobody else. It may come before the page is whole.
fn enclosed(start: &str) -> String {
    let words = words_line(Language::ENGLISH, "script");
    format!(
        "\"use strict\";\n{{\nconst begin = () => {{\n{words}\n{}\n{start}\n}};\n\
         if (document.readyState === \"loading\") addEventListener(\"DOMContentLoaded\", begin, {{ once: true }});\n\
         else begin();\n}}\n",
        SCRIPT.join("\n")
    )
}

/// A page asks the network for nothing, and runs no script but its own.
fn policy(script: Option<&str>, engine: &LiveEngine) -> String {
    let runs = script.map(|script| {
        let trusted = if matches!(engine, LiveEngine::Beside(_)) { " 'strict-dynamic'" } else { "" };
        let digest = if *engine == LiveEngine::Inside { INSIDE.digest.clone() } else { digest(script) };
        format!("; script-src '{digest}' 'wasm-unsafe-eval'{trusted}; worker-src blob:")
    });
    policy_with(runs)
}

fn policy_with(runs: Option<String>) -> String {
    format!(
        "default-src 'none'; style-src '{}'; img-src 'self' data:{}; base-uri 'none'; form-action 'none'",
        *STYLE_DIGEST,
        runs.unwrap_or_default()
    )
}

pub(crate) fn digest(text: &str) -> String {
    format!("sha256-{}", BASE64.encode(Sha256::digest(text)))
}

const SCRIPT: &[&str] = &[
    include_str!("../templates/live/words.js"),
    include_str!("../templates/live/engine.js"),
    include_str!("../templates/live/patch.js"),
    include_str!("../templates/live/rust.js"),
    include_str!("../templates/live/circuit.js"),
    include_str!("../templates/live/fields.js"),
    include_str!("../templates/live/exercise.js"),
    include_str!("../templates/live/steps.js"),
    include_str!("../templates/live/costs.js"),
    include_str!("../templates/live/sections.js"),
    include_str!("../templates/live/moved.js"),
    include_str!("../templates/live/glance.js"),
    include_str!("../templates/live/page.js"),
];

/// The hash of the sources that the engine of live pages was built from (SHA-256, hexadecimal).
pub fn module_sources() -> &'static str {
    include_str!("../module/sources.sha256").trim_ascii()
}

static STYLE_DIGEST: LazyLock<String> = LazyLock::new(|| digest(STYLE));
/// What unpacks the engine, and the packed engine, each in base64, with a point between.
static MODULE: LazyLock<String> = LazyLock::new(|| format!("{}.{}", BASE64.encode(UNPACKER), BASE64.encode(ENGINE)));
const UNPACKER: &[u8] = include_bytes!("../module/unpack.wasm.gz");
const ENGINE: &[u8] = include_bytes!("../module/benchleaf.wasm.lzma");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_setting_and_no_link_ends_its_script() {
        let outline = Some("</script><script>alert(1)</script><!--\u{2028}".to_owned());
        let parts = LiveParts::new(
            "",
            &PageSetting { outline, ..PageSetting::default() },
            &LiveEngine::Beside("</script>".to_owned()),
            Language::ENGLISH,
        );
        assert!(!parts.setting.contains('<') && !parts.loader.unwrap().contains('<'));
        assert!(SCRIPT.iter().all(|part| !part.contains("</script") && !part.contains("<!--")));
    }

    #[test]
    fn the_module_goes_into_its_own_element() {
        let shell = format!("<main>{BODY_PLACE}</main><script {MODULE_PLACE}</script><script>{}</script>", INSIDE.text);
        let body = format!("<p>{MODULE_PLACE}{BODY_PLACE}</p>");
        let still = put_in(&shell, &body, &LiveEngine::LeftOut);
        assert!(still.starts_with(&format!("<main>{body}</main><script {MODULE_PLACE}</script>")));
        let live = format!("<main>{body}</main><script {MODULE_PLACE}{}</script><script>", *MODULE);
        assert!(put_in(&shell, &body, &LiveEngine::Inside).starts_with(&live));
    }

    #[test]
    fn a_worksheet_comes_back_byte_for_byte() {
        for source in ["", "\u{feff}a\r\nb\0c\n", "</script>", "e\u{301} é"] {
            let parts = LiveParts::new(source, &PageSetting::default(), &LiveEngine::LeftOut, Language::ENGLISH);
            assert_eq!(worksheet_of(&parts.worksheet).as_deref(), Some(source));
            assert!(!parts.worksheet.contains('<'));
            assert_eq!(worksheet_of(&BASE64.encode(source)).as_deref(), Some(source), "as earlier versions wrote it");
        }
        assert_eq!(worksheet_of("no base64!"), None);
    }
}
