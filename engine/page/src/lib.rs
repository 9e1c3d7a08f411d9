//! An evaluated worksheet as fragments of a page: prose with its inline results, formulas as MathML, range bars, verdicts,
//! safety notes and plots. Pure text in, pure text out, so that the command line and the published page make the same
//! page from the same evaluation. Everything an author wrote is escaped by construction.

mod aligned;
mod alternatives;
mod bench;
mod block_prose;
mod blocks;
#[cfg(feature = "markdown")]
mod body;
mod builds;
mod calc;
mod circuit;
#[cfg(feature = "markdown")]
mod clean;
mod context;
mod drawn;
pub mod exercises;
#[cfg(feature = "markdown")]
mod footnotes;
mod format;
mod formula;
mod givens;
mod head;
mod icons;
pub mod labels;
mod links;
mod live;
mod mathml;
mod model;
mod notes;
pub mod parts;
#[cfg(feature = "markdown")]
pub mod pictures;
mod plot;
mod problems;
#[cfg(feature = "markdown")]
mod prose;
mod rangebar;
mod record;
#[cfg(feature = "markdown")]
mod register;
mod results;
mod rows;
mod rust;
#[cfg(test)]
mod sample;
#[cfg(feature = "markdown")]
mod sections;
mod sentence;
mod shares;
mod solve;
pub mod steps;
#[cfg(feature = "markdown")]
mod tables;
mod transient;
mod typography;
mod used;
mod variation;
mod verdicts;

use benchleaf_core::summary::Summary;
#[cfg(feature = "markdown")]
use benchleaf_core::{results::Evaluation, span::Span};

pub use crate::alternatives::cheapest;
pub use crate::format::{narrow, percent};
pub use crate::links::page_of;
pub use crate::live::{Update, update};
pub use crate::notes::spoken as signal_word;
#[cfg(feature = "markdown")]
pub use crate::register::{Place, Register, RegisteredExercise, RegisteredNote, register};
#[cfg(feature = "markdown")]
pub use crate::verdicts::{Explanation, explanations};
#[cfg(feature = "markdown")]
use crate::{
    context::PageContext,
    pictures::{NoPictures, Pictures},
};

/// Sets a worksheet.
#[cfg(feature = "markdown")]
pub fn render(evaluation: &Evaluation, source: &str, options: &PageOptions) -> Page {
    render_with(evaluation, source, options, &NoPictures)
}

/// The same; `pictures` gives the worksheet's own pictures.
#[cfg(feature = "markdown")]
pub fn render_with(evaluation: &Evaluation, source: &str, options: &PageOptions, pictures: &dyn Pictures) -> Page {
    let lang = evaluation.sheet.metadata.lang;
    let mut context = PageContext::new(evaluation, source, lang.words());
    context.raw_html = options.raw_html;
    context.pictures = pictures;
    let metadata = &evaluation.sheet.metadata;
    let mut body = body::body(&context);
    let counts = Summary::of(evaluation);
    let head = head::line(&context, &counts).into_string();
    // Problems of the metadata, or of no place, are shown first.
    let elsewhere = problems::inside(&context, Span::new(0, usize::MAX)).into_string();
    if !elsewhere.is_empty() {
        body.html.insert_str(0, &elsewhere);
    }
    let title = metadata.title.as_deref().map(|title| {
        let text = typography::apostrophes(title);
        prose::Heading { html: maud::html! { (text) }.into_string(), written: String::new(), text }
    });
    let title = title.or(body.title).unwrap_or_default();
    Page {
        title: title.text,
        heading: title.html,
        summary: metadata.summary.clone(),
        author: metadata.author.clone(),
        date: metadata.date.clone(),
        lang: lang.code(),
        head,
        sections: sections::list(context.words, &body.sections).into_string(),
        body: body.html,
        counts,
    }
}

/// The general warning sign (after ISO 7010 W001) as inline SVG.
#[cfg(feature = "markdown")]
pub fn alert_sign() -> String {
    icons::alert().into_string()
}

/// What the person running the engine chose.
#[derive(Clone, Debug, Default)]
pub struct PageOptions {
    /// What becomes of raw HTML in the Markdown.
    pub raw_html: RawHtml,
}

/// What becomes of raw HTML in the Markdown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RawHtml {
    /// A reader sees it as it was written, tags and all.
    #[default]
    ShownAsText,
    /// It becomes part of the page, cleaned of scripts, styles, forms and whatever else could do harm.
    Cleaned,
}

/// The parts that the page's shell is filled with. `heading`, `head`, `sections` and `body` are HTML; all else is plain text.
#[derive(Clone, Debug)]
pub struct Page {
    /// The page's title.
    pub title: String,
    /// The same as the page's heading, its inline results marked.
    pub heading: String,
    /// One paragraph for index pages.
    pub summary: Option<String>,
    /// Who wrote it.
    pub author: Option<String>,
    /// When, as written.
    pub date: Option<String>,
    /// The language of the page's own words (BCP 47).
    pub lang: &'static str,
    /// The summing-up, as HTML; empty where there is nothing to sum up.
    pub head: String,
    /// The list of its sections, as HTML; empty where there are few.
    pub sections: String,
    /// Everything below it, as HTML.
    pub body: String,
    /// The same sum in numbers.
    pub counts: Summary,
}
