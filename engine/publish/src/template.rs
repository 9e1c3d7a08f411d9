//! The templates of pages and sites. They are part of the program and are read once, when first wanted. Whatever is put in is
//! escaped.

use std::{collections::BTreeMap, sync::LazyLock};

use benchleaf_words::Language;
use serde::Serialize;
use tera::Tera;

use crate::failure::Failure;

/// A template, read when first wanted.
pub(crate) type Template = LazyLock<Result<Tera, tera::Error>>;

/// A template with its variables put in.
pub(crate) fn fill(template: &'static Template, variables: &impl Serialize) -> Result<String, Failure> {
    let tera = template.as_ref().map_err(|cause| Failure::Template { cause })?;
    let filled = tera::Context::from_serialize(variables).and_then(|context| tera.render(PAGE, &context));
    filled.map_err(|cause| Failure::Filling { cause })
}

pub(crate) static WORKSHEET: Template = LazyLock::new(|| read(include_str!("../templates/worksheet.html")));
pub(crate) static MARKS: Template = LazyLock::new(|| read(include_str!("../templates/marks.html")));
pub(crate) static INDEX: Template = LazyLock::new(|| of_site(include_str!("../templates/index.html")));
pub(crate) static SEARCH: Template = LazyLock::new(|| of_site(include_str!("../templates/site/search.html")));
pub(crate) static EXERCISES: Template = LazyLock::new(|| of_site(include_str!("../templates/site/exercises.html")));
pub(crate) static PARTS: Template = LazyLock::new(|| of_site(include_str!("../templates/site/parts.html")));
pub(crate) static SAFETY: Template = LazyLock::new(|| of_site(include_str!("../templates/site/safety.html")));
pub(crate) static FEED: Template = LazyLock::new(|| read(include_str!("../templates/site/feed.xml")));

/// The words of the templates, by subject and name.
pub(crate) type TemplateWords = BTreeMap<&'static str, BTreeMap<&'static str, String>>;

/// Those of a group in a language.
pub(crate) fn template_words(language: Language, group: &'static str) -> TemplateWords {
    let mut words = TemplateWords::new();
    for (key, text) in language.group(group) {
        if let Some((subject, name)) = key.split_once('.') {
            words.entry(subject).or_default().insert(name, text);
        }
    }
    words
}

fn read(template: &str) -> Result<Tera, tera::Error> {
    with(&[(ADDRESS, include_str!("../templates/address.html")), (PAGE, template)])
}

/// One that goes into the shell of a site's own pages.
fn of_site(template: &str) -> Result<Tera, tera::Error> {
    with(&[
        (ADDRESS, include_str!("../templates/address.html")),
        (SHELL, include_str!("../templates/site/shell.html")),
        (PAGE, template),
    ])
}

fn with(templates: &[(&'static str, &str)]) -> Result<Tera, tera::Error> {
    let mut tera = Tera::default();
    tera.add_raw_templates(templates.iter().copied())?;
    Ok(tera)
}

/// What tera calls them; by this ending it escapes what is put in.
const PAGE: &str = "page.html";
const SHELL: &str = "shell.html";
const ADDRESS: &str = "address.html";
