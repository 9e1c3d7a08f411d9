//! What a preview adds to a page that was rendered: its script, its style, and a policy that lets these two run beside what
//! the page has. The page itself stays as it is published.

use std::{collections::BTreeMap, sync::LazyLock};

use benchleaf_words::Language;
use serde::Serialize;

use crate::{
    live::{digest, script_words},
    text::in_script,
};

/// Which of a worksheet's pages a browser shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Shown {
    /// The last one that was made without an error.
    Sound,
    /// The last one.
    Current,
}

/// A page with what the preview adds. `path` is its path on the server; `hash` says which version of the page it is.
pub fn previewed(html: &str, path: &str, shown: Shown, hash: &str) -> String {
    #[derive(Serialize)]
    struct Setting<'a> {
        page: &'a str,
        #[serde(rename = "as")]
        shown_as: Shown,
        shown: &'a str,
        policy: &'a str,
        words: BTreeMap<&'static str, String>,
    }
    let code = html.split_once(LANG).and_then(|(_, rest)| rest.split('"').next());
    let language = code.and_then(Language::find).unwrap_or_default();
    let (before, rest) = html.split_once(POLICY).unwrap_or(("", html));
    let (policy, rest) = rest.split_once('"').unwrap_or(("", rest));
    let policy = policy.replace("&#39;", "'");
    let (head, rest) = rest.split_once("</head>").unwrap_or(("", rest));
    let (body, end) = rest.rsplit_once("</body>").unwrap_or((rest, ""));
    let setting =
        Setting { page: path, shown_as: shown, shown: hash, policy: &policy, words: script_words(language, "preview") };
    let setting = in_script(&serde_json::to_string(&setting).unwrap_or_default());
    let own = own_policy(&policy);
    format!(
        "{before}{POLICY}{own}\"{head}<style data-live=\"preview\">{STYLE}</style>\n</head>{body}\
         <script type=\"application/json\" id=\"_preview\" data-live=\"preview\">{setting}</script>\n\
         <script data-live=\"preview\">{SCRIPT}</script>\n</body>{end}"
    )
}

/// A page's policy, widened by the preview's script, its style and its worker.
fn own_policy(policy: &str) -> String {
    let mut widened: Vec<String> = Vec::new();
    let mut wanted =
        vec![("style-src", STYLE_DIGEST.as_str()), ("script-src", &SCRIPT_DIGEST), ("worker-src", "'self'")];
    for directive in policy.split("; ") {
        let name = directive.split(' ').next().unwrap_or_default();
        match wanted.iter().position(|(wanted, _)| *wanted == name) {
            Some(at) => widened.push(format!("{directive} {}", wanted.remove(at).1)),
            None => widened.push(directive.to_owned()),
        }
    }
    widened.extend(wanted.iter().map(|(name, source)| format!("{name} {source}")));
    widened.join("; ")
}

/// The script of the worker that all pages of a preview share.
pub const WORKER: &str = include_str!("../templates/preview/worker.js");
const SCRIPT: &str = include_str!("../templates/preview/preview.js");
const STYLE: &str = include_str!("../templates/preview/style.css");
const LANG: &str = "<html lang=\"";
const POLICY: &str = "<meta http-equiv=\"Content-Security-Policy\" content=\"";

static SCRIPT_DIGEST: LazyLock<String> = LazyLock::new(|| format!("'{}'", digest(SCRIPT)));
static STYLE_DIGEST: LazyLock<String> = LazyLock::new(|| format!("'{}'", digest(STYLE)));
