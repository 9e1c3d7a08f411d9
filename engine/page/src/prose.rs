//! The worksheet's Markdown as HTML: headings with stable anchors, inline results in their text, accessible tables,
//! footnotes and task lists, and the engine's blocks in the place of their fences. Markdown events flow in, changed ones
//! flow on to the HTML writer.

use std::ops::Range;

use benchleaf_core::{
    sheet::{
        headings::{Headings, level},
        inline::{Segment, split},
        markdown,
    },
    span::Span,
};
use benchleaf_words::say;
use maud::{Markup, PreEscaped, html};
use pulldown_cmark::{CodeBlockKind, CowStr, Event, HeadingLevel, LinkType, Tag, TagEnd, html::push_html};

use crate::{
    RawHtml, clean, context::PageContext, footnotes::Footnotes, links::to_page, pictures, problems, results,
    sections::Section, tables, typography::apostrophes,
};

/// A heading.
#[derive(Default)]
pub(crate) struct Heading {
    pub(crate) text: String,
    /// The same with its inline results as they are written: what its anchor is made from.
    pub(crate) written: String,
    /// The same with its inline results as they are set.
    pub(crate) html: String,
}

/// A part of the worksheet that is Markdown too: the text of a note. `prefix` keeps its anchors apart where it stands twice.
pub(crate) fn fragment(context: &PageContext<'_>, span: Span, prefix: &str) -> Markup {
    let mut prose = Prose::new(context, format!("{prefix}{}-", span.start));
    prose.read(span);
    PreEscaped(prose.finish(&mut []))
}

/// What becomes the page's title.
enum Title {
    /// Nothing any more.
    None,
    /// Whatever the first heading says, if it is of the first level.
    FirstHeading,
    /// This; a first heading that says the same is not said twice.
    Is(String),
    /// It was a heading.
    Taken(Heading),
}

pub(crate) struct Prose<'m, 's> {
    context: &'m PageContext<'s>,
    /// What is set, as events; [`Event::Html`], which nothing else is, holds the place of a block by its index.
    out: Vec<Event<'s>>,
    title: Title,
    /// None in a part of the page, whose headings are not the page's.
    headings: Option<Headings>,
    /// Where the heading that is being read begins in `out`, and its text so far.
    heading: Option<(usize, HeadingLevel, Heading)>,
    pub(crate) sections: Vec<Section>,
    footnotes: Footnotes<'s>,
    table: tables::Table,
    code: Code,
    /// The raw HTML block that is being read.
    raw_block: Option<String>,
    /// The raw tags that are open in running text.
    raw_tags: clean::Tags,
    /// For each image that is open, whether it is shown or only its description.
    images: Vec<Image>,
}

/// What becomes of an image.
enum Image {
    /// It is shown; its alternative text begins here in `out`.
    Shown { start: usize, url: String, title: String },
    /// Its description stands for it, and begins here.
    Described { start: usize, url: String },
}

/// Whether the events read are those of a code block.
#[derive(PartialEq)]
enum Code {
    Outside,
    Foreign,
    /// A block of the engine, already set.
    Replaced,
}

impl<'m, 's> Prose<'m, 's> {
    fn new(context: &'m PageContext<'s>, prefix: String) -> Self {
        Self {
            context,
            out: Vec::new(),
            title: Title::None,
            headings: None,
            heading: None,
            sections: Vec::new(),
            footnotes: Footnotes::new(prefix),
            table: tables::Table::default(),
            code: Code::Outside,
            raw_block: None,
            raw_tags: clean::Tags::default(),
            images: Vec::new(),
        }
    }

    /// Reads the whole worksheet.
    pub(crate) fn of_worksheet(context: &'m PageContext<'s>) -> Self {
        let sheet = &context.evaluation.sheet;
        let mut prose = Self::new(context, String::new());
        prose.headings = Some(Headings::default());
        prose.title = match &sheet.metadata.title {
            Some(title) => Title::Is(title.clone()),
            None => Title::FirstHeading,
        };
        prose.read(Span::new(sheet.body_start, context.source.len()));
        prose
    }

    /// The heading that became the page's title, if one did.
    pub(crate) fn take_title(&mut self) -> Option<Heading> {
        match std::mem::replace(&mut self.title, Title::None) {
            Title::Taken(title) => Some(title),
            _ => None,
        }
    }

    fn read(&mut self, span: Span) {
        for (event, range) in markdown(self.context.source, span) {
            self.take(event, range);
        }
    }

    /// As HTML, each block in its place.
    pub(crate) fn finish(self, blocks: &mut [Option<Markup>]) -> String {
        let mut placed = |events: Vec<Event<'s>>| -> Vec<Event<'s>> {
            let placed = |event| match event {
                Event::Html(index) => {
                    let block = index.parse().ok().and_then(|index: usize| blocks.get_mut(index)?.take());
                    Event::InlineHtml(CowStr::from(block.unwrap_or_default().into_string()))
                }
                other => other,
            };
            events.into_iter().map(placed).collect()
        };
        let words = self.context.words;
        let out = placed(self.out);
        let length = |event: &Event<'_>| match event {
            Event::Text(text) | Event::Code(text) | Event::InlineHtml(text) => text.len(),
            _ => 0,
        };
        // With some room for the tags and what is escaped, so that a long page is not moved while it grows.
        let length = out.iter().map(length).sum::<usize>() + 16 * out.len();
        let mut html = String::with_capacity(length);
        push_html(&mut html, out.into_iter());
        html.push_str(&self.footnotes.finish(words, placed));
        html
    }

    fn take(&mut self, event: Event<'s>, range: Range<usize>) {
        if self.code == Code::Replaced {
            if matches!(event, Event::End(TagEnd::CodeBlock)) {
                self.raw_tags.end();
                self.code = Code::Outside;
            }
            return;
        }
        match event {
            Event::Start(tag) => {
                self.raw_tags.begin();
                self.start(tag, &range);
            }
            Event::End(tag) => self.end(tag, &range),
            Event::Text(text) if self.code == Code::Outside => self.text(&text, &range),
            Event::Code(text) => {
                if let Some((_, _, heading)) = &mut self.heading {
                    heading.add(&text);
                }
                self.out.push(Event::Code(text));
            }
            Event::Html(html) => match &mut self.raw_block {
                Some(block) => block.push_str(&html),
                None => self.raw_html(&html, clean::block),
            },
            Event::InlineHtml(html) => {
                let mut tags = std::mem::take(&mut self.raw_tags);
                self.raw_html(&html, |tag| tags.clean(tag));
                self.raw_tags = tags;
            }
            Event::FootnoteReference(name) => {
                let reference = self.footnotes.reference(&name);
                self.html(reference);
            }
            Event::TaskListMarker(done) => self.html(tables::task(self.context.words, done)),
            other => self.out.push(other),
        }
    }

    fn start(&mut self, tag: Tag<'s>, range: &Range<usize>) {
        match tag {
            Tag::Heading { .. } if self.headings.is_none() => {
                self.out.extend([Event::Start(Tag::Paragraph), Event::Start(Tag::Strong)]);
            }
            Tag::Heading { level, .. } => {
                self.heading = Some((self.out.len(), level, Heading::default()));
                self.out.push(Event::Start(Tag::Heading { level, id: None, classes: Vec::new(), attrs: Vec::new() }));
            }
            Tag::CodeBlock(kind) => match self.context.evaluation.sheet.block_at(range.start) {
                Some((index, _)) => {
                    self.code = Code::Replaced;
                    // Between marks, for the page's script to find it again.
                    self.html(PreEscaped(format!("<!--{index}-->")));
                    self.out.push(Event::Html(CowStr::from(index.to_string())));
                    self.html(PreEscaped("<!--/-->".to_owned()));
                }
                None => {
                    self.code = Code::Foreign;
                    self.out.push(Event::Start(Tag::CodeBlock(first_word(kind))));
                }
            },
            Tag::HtmlBlock => self.raw_block = Some(String::new()),
            Tag::Table(alignments) => {
                let set = self.table.start(alignments);
                self.html(PreEscaped(set));
            }
            Tag::TableHead | Tag::TableRow | Tag::TableCell => {
                let set = self.table.open(&tag);
                self.html(PreEscaped(set));
            }
            Tag::FootnoteDefinition(name) => self.footnotes.begin(name, &mut self.out),
            Tag::Link { link_type, dest_url, title, id } => {
                let dest_url = match link_type {
                    LinkType::Email => dest_url,
                    _ if safe(&dest_url) => to_page(&dest_url).into_owned().into(),
                    _ => CowStr::Borrowed("#"),
                };
                self.out.push(Event::Start(Tag::Link { link_type, dest_url, title, id }));
            }
            Tag::Image { dest_url, title, .. } => {
                // A page asks the network for nothing: what lies elsewhere is described.
                let start = self.out.len();
                let url = dest_url.into_string();
                self.images.push(if pictures::may_be_shown(&url) {
                    Image::Shown { start, url, title: title.into_string() }
                } else {
                    Image::Described { start, url }
                });
            }
            other => self.out.push(Event::Start(other)),
        }
    }

    fn end(&mut self, tag: TagEnd, range: &Range<usize>) {
        let closing = self.raw_tags.end();
        self.html(PreEscaped(closing));
        match tag {
            TagEnd::Heading(_) if self.headings.is_none() => {
                self.out.extend([Event::End(TagEnd::Strong), Event::End(TagEnd::Paragraph)]);
            }
            TagEnd::Heading(_) => self.end_heading(),
            TagEnd::HtmlBlock => {
                if let Some(block) = self.raw_block.take() {
                    self.raw_html(&block, clean::block);
                }
            }
            TagEnd::Table | TagEnd::TableHead | TagEnd::TableRow | TagEnd::TableCell => {
                let set = self.table.close(tag);
                self.html(PreEscaped(set.to_owned()));
            }
            TagEnd::FootnoteDefinition => self.footnotes.end(&mut self.out),
            TagEnd::Image => self.end_image(),
            TagEnd::CodeBlock | TagEnd::Paragraph => {
                self.code = Code::Outside;
                self.out.push(Event::End(tag));
                let found = problems::inside(self.context, Span::new(range.start, range.end));
                self.html(found);
            }
            other => self.out.push(Event::End(other)),
        }
    }

    fn end_image(&mut self) {
        let Some(image) = self.images.pop() else { return };
        let (Image::Shown { start, .. } | Image::Described { start, .. }) = image;
        let words: String = self.out.drain(start.min(self.out.len())..).map(|event| words_of(&event)).collect();
        // An image in the description of another is words of that.
        if !self.images.is_empty() {
            return self.out.push(Event::Text(words.into()));
        }
        let set = match image {
            Image::Shown { url, title, .. } => {
                pictures::image(self.context.words, self.context.pictures, &url, &title, words.trim())
            }
            Image::Described { url, .. } => pictures::described(self.context.words, &url, words.trim()),
        };
        self.html(set);
    }

    fn end_heading(&mut self) {
        let (Some((start, written, heading)), Some(headings)) = (self.heading.take(), &mut self.headings) else {
            return;
        };
        let is_title = match &self.title {
            Title::FirstHeading => headings.is_title(written, &heading.text, None),
            Title::Is(title) => headings.is_title(written, &heading.text, Some(title)),
            Title::None | Title::Taken(_) => false,
        };
        if is_title {
            self.out.truncate(start);
            headings.title();
            self.title = Title::Taken(heading);
            return;
        }
        if !matches!(self.title, Title::Taken(_)) {
            self.title = Title::None;
        }
        let text = heading.text;
        let (depth, id) = headings.next(written, &heading.written);
        self.sections.push(Section { depth, id: id.clone(), text: text.trim().to_owned() });
        let level = level(depth);
        let anchor = html! { a.here href={ "#" (id) } aria-label=(say!(self.context.words, SECTIONS_LINK, title = text.trim())) { "#" } };
        if let Some(opening) = self.out.get_mut(start) {
            let id = Some(CowStr::from(id));
            *opening = Event::Start(Tag::Heading { level, id, classes: Vec::new(), attrs: Vec::new() });
        }
        self.html(anchor);
        self.out.push(Event::End(TagEnd::Heading(level)));
    }

    /// Text with its inline results.
    fn text(&mut self, text: &str, range: &Range<usize>) {
        let text = self.table.cell_text(text);
        let mut nth = 0;
        for segment in split(&text) {
            match segment {
                Segment::Text(plain) => {
                    let plain = apostrophes(&plain);
                    if let Some((_, _, heading)) = &mut self.heading {
                        heading.add(&plain);
                    }
                    self.out.push(Event::Text(CowStr::from(plain)));
                }
                Segment::Result { source, start, request } => {
                    let number = self.context.inline_number(range.start, nth);
                    nth += 1;
                    let place = range.start + start..range.end;
                    let set = results::inline(self.context, number, source, request, place);
                    if let Some((_, _, heading)) = &mut self.heading {
                        heading.text.push_str(&set.text);
                        heading.written.push_str(source);
                        heading.html.push_str(&set.markup.0);
                    }
                    if !self.images.is_empty() {
                        self.out.push(Event::Text(CowStr::from(set.text)));
                    } else {
                        self.html(set.markup);
                    }
                }
            }
        }
    }

    /// Raw HTML: as text, unless the author's command line lets it through. A comment says nothing to readers.
    fn raw_html(&mut self, written: &str, clean: impl FnOnce(&str) -> String) {
        let trimmed = written.trim();
        if trimmed.starts_with("<!--") && trimmed.ends_with("-->") {
            return;
        }
        let set = match self.context.raw_html {
            RawHtml::Cleaned => PreEscaped(clean(written)),
            RawHtml::ShownAsText => html! { code.raw-html { (trimmed) } },
        };
        self.html(set);
    }

    fn html(&mut self, PreEscaped(html): Markup) {
        if !html.is_empty() {
            self.out.push(Event::InlineHtml(CowStr::from(html)));
        }
    }
}

/// The first word of an info string: a class that a stylesheet can name.
fn first_word(kind: CodeBlockKind<'_>) -> CodeBlockKind<'_> {
    match kind {
        CodeBlockKind::Fenced(info) => {
            let word =
                info.split(|c: char| !c.is_alphanumeric() && !"-+#_".contains(c)).next().unwrap_or("").to_owned();
            CodeBlockKind::Fenced(CowStr::from(word))
        }
        CodeBlockKind::Indented => CodeBlockKind::Indented,
    }
}

impl Heading {
    fn add(&mut self, text: &str) {
        self.text.push_str(text);
        self.written.push_str(text);
        self.html.push_str(&html! { (text) }.0);
    }
}

/// What of an event stands in an image's alternative text.
fn words_of(event: &Event<'_>) -> String {
    match event {
        Event::Text(text) | Event::Code(text) => text.to_string(),
        Event::SoftBreak | Event::HardBreak => " ".to_owned(),
        _ => String::new(),
    }
}

/// Whether a link leads to a place rather than to a program.
fn safe(url: &str) -> bool {
    let cleaned: String = url.chars().filter(|c| !c.is_control() && !c.is_whitespace()).collect();
    let scheme_end = cleaned.find([':', '/', '?', '#']);
    match scheme_end.map(|at| (&cleaned[..at], cleaned[at..].starts_with(':'))) {
        Some((scheme, true)) => ["http", "https", "mailto", "tel"].contains(&scheme.to_ascii_lowercase().as_str()),
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use super::*;
    use crate::body::body;

    #[test]
    fn links_to_worksheets_lead_to_their_pages() {
        for (url, wanted) in [
            ("timing.md", "timing.html"),
            ("../a/b.md#top", "../a/b.html#top"),
            ("README.md", "index.html"),
            ("b.MD?x#y", "b.html?x#y"),
            ("x/README.md", "x/index.html"),
            ("https://example.org/x.md", "https://example.org/x.md"),
            ("#part", "#part"),
        ] {
            assert_eq!(&*to_page(url), wanted);
        }
    }

    fn set(source: &str) -> String {
        let evaluation = Evaluator::default().evaluate(source);
        body(&PageContext::new(&evaluation, source, benchleaf_words::Words::ENGLISH)).html
    }

    #[test]
    fn raw_html_is_shown_as_text() {
        let page = set("a <script>alert(1)</script> b\n\n<div onclick=\"x\">\n\n<!-- quiet -->\n");
        assert!(!page.contains("<script") && !page.contains("<div"), "{page}");
        assert!(page.contains("&lt;script&gt;") && page.contains("&lt;div onclick"), "{page}");
        assert!(!page.contains("quiet"), "{page}");
    }

    #[test]
    fn links_to_programs_lead_nowhere() {
        for url in ["javascript:alert(1)", "JavaScript:x", "java\tscript:x", "data:text/html,x", "vbscript:x"] {
            assert!(!safe(url), "{url}");
        }
        for url in ["https://example.org/a:b", "mailto:a@b.c", "#t_on", "other.html", "a/b:c"] {
            assert!(safe(url), "{url}");
        }
        assert!(!set("[x](javascript:alert(1))").contains("javascript"));
        let page = set("![x](https://example.org/x.png)");
        assert!(!page.contains("<img"), "{page}");
        let described = r#"<span class="no-picture"><em>x</em> (not shown: https://example.org/x.png)</span>"#;
        assert!(page.contains(described), "{page}");
    }

    #[test]
    fn tables_have_no_inline_style() {
        let page = set("| a | b |\n|---|--:|\n| x | -1 |\n");
        assert!(page.contains(r#"<th scope="col" class="right">b</th>"#), "{page}");
        assert!(page.contains(r#"<td class="right">−1</td>"#), "{page}");
        assert!(!page.contains("style"), "{page}");
    }

    #[test]
    fn footnotes_lead_there_and_back() {
        let page = set("One[^a], two[^b], one again[^a].\n\n[^b]: Second.\n\n[^a]: First.\n");
        assert_eq!(page.matches("doc-noteref").count(), 3, "{page}");
        assert!(page.find("First.").unwrap() < page.find("Second.").unwrap(), "{page}");
        assert!(page.contains(r##"href="#ref-1""##) && page.contains(r#"id="ref-1""#), "{page}");
    }

    #[test]
    fn blocks_stand_in_their_places_in_a_footnote_and_a_list_too() {
        let page = set(
            "a[^n]\n\n[^n]: note\n\n    ```calc\n    x = 1 V\n    ```\n\n- b\n\n  ```calc\n  y = 2 V\n  ```\n\n<!--0-->\n",
        );
        let at = |text: &str| page.find(text).unwrap();
        assert!(at("<!--1-->") < at("value-y") && at("value-y") < at("</li>"), "{page}");
        assert!(at("note-1") < at("<!--0-->") && at("<!--0-->") < at("value-x"), "{page}");
        assert_eq!(page.matches("data-block").count(), 2, "{page}");
    }

    #[test]
    fn headings_go_down_by_one_and_have_anchors_of_their_own() {
        let page = set("# Title\n\n### Deep\n\n## Deep\n\n# keep 1\n");
        assert!(!page.contains("Title"), "{page}");
        assert!(page.contains(r#"<h2 id="deep">"#) && page.contains(r#"<h2 id="deep-2">"#), "{page}");
        assert!(page.contains(r#"<h2 id="section-keep-1">"#), "{page}");
    }

    #[test]
    fn an_inline_result_without_a_value_says_so_where_it_stands() {
        let page = set("It takes {t_off} to dry; {{braces}} stay.");
        assert!(
            page.contains("{t_off}") && page.contains("no value is named t_off") || page.contains("problem"),
            "{page}"
        );
        assert!(page.contains("{braces}"), "{page}");
    }
}
