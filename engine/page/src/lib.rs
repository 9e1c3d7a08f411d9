//! Stand-in for the page crate while it is written elsewhere.

use benchleaf_core::results::Evaluation;

/// A worksheet as fragments of a page.
#[derive(Clone, Debug, Default)]
pub struct Page {
    /// Plain text.
    pub title: String,
    /// Plain text.
    pub summary: Option<String>,
    /// BCP 47.
    pub lang: &'static str,
    /// HTML.
    pub head: String,
    /// HTML.
    pub body: String,
}

/// How a page is written.
#[derive(Clone, Debug, Default)]
pub struct PageOptions {
    /// What happens to HTML in the Markdown.
    pub raw_html: RawHtml,
}

/// What happens to HTML in the Markdown.
#[derive(Clone, Copy, Debug, Default)]
pub enum RawHtml {
    /// Shown as text.
    #[default]
    Shown,
    /// Passed through.
    Allowed,
}

/// Render a worksheet.
pub fn render(evaluation: &Evaluation, source: &str, _options: &PageOptions) -> Page {
    Page {
        title: evaluation
            .sheet
            .metadata
            .title
            .clone()
            .or_else(|| source.lines().find_map(|l| l.strip_prefix("# ")).map(str::to_owned))
            .unwrap_or_default(),
        summary: evaluation.sheet.metadata.summary.clone(),
        lang: "en",
        head: String::new(),
        body: format!("<pre>{}</pre>", source.replace('&', "&amp;").replace('<', "&lt;")),
    }
}
