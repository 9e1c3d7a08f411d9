//! The small picture of a worksheet on its site's front page: the first picture, drawing or plot of its page. A drawing of the
//! engine's, or a picture that is in the page itself, becomes a file beside the page, so that a front page stays light; a
//! picture that stands beside the page already is linked to.

use std::{path::Path, sync::LazyLock};

use quick_xml::{Reader, events::Event};

use crate::{marks::DRAWING_MARK, site::href, style::STYLE};

/// The small picture of a page as a site has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmallPicture {
    /// Its link from the page.
    pub link: String,
    /// What is in its file, where it is a drawing: that stands beside the page under the page's name with the ending
    /// [`ENDING`].
    pub drawing: Option<String>,
}

impl SmallPicture {
    /// Of a page, as HTML; `target` is the file of the page.
    pub fn of(page: &str, target: &Path) -> Option<Self> {
        Some(match thumbnail(page)? {
            Thumbnail::Beside(link) => Self { link, drawing: None },
            Thumbnail::Drawing(text) => {
                let file = target.with_extension(ENDING);
                Self { link: href(Path::new(file.file_name()?)), drawing: Some(text) }
            }
        })
    }
}

/// What the file of a small picture ends in.
pub const ENDING: &str = "picture.svg";

/// A small picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Thumbnail {
    /// A picture that is there, by its link from the page.
    Beside(String),
    /// A drawing in SVG, to be written beside the page.
    Drawing(String),
}

/// The first picture of a page; nothing where it has none that is light enough.
pub fn thumbnail(page: &str) -> Option<Thumbnail> {
    let body = page.split_once("<main")?.1;
    let body = body.rsplit_once("</main>")?.0;
    let (at, kind) = OPENINGS.iter().filter_map(|(opening, kind)| Some((body.find(opening)?, *kind))).min()?;
    let from = body.get(at..)?;
    match kind {
        First::Picture => picture(from.get(..from.find('>')?)?),
        First::Drawing => drawing(element(from)?),
    }
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum First {
    Picture,
    Drawing,
}

const OPENINGS: [(&str, First); 4] = [
    ("<img src=\"", First::Picture),
    ("<svg class=\"drawing\"", First::Drawing),
    ("<svg class=\"drawing histogram\"", First::Drawing),
    ("<svg class=\"circuit\"", First::Drawing),
];

fn picture(tag: &str) -> Option<Thumbnail> {
    let src = attribute(tag, "src")?;
    if !src.starts_with("data:") {
        return Some(Thumbnail::Beside(src.replace("&amp;", "&")));
    }
    let (width, height) = (attribute(tag, "width")?, attribute(tag, "height")?);
    let image = format!("<image href=\"{src}\" width=\"{width}\" height=\"{height}\"/>");
    enclosed(&image, &format!("0 0 {width} {height}"), "")
}

fn drawing(svg: &str) -> Option<Thumbnail> {
    let tag = svg.get(..svg.find('>')?)?;
    let view = attribute(tag, "viewBox")?;
    let mut ends = view.split(' ').skip(2);
    let view = format!("0 0 {} {}", ends.next()?, ends.next()?);
    // A drawing is read by itself; what a page hangs on to it is not wanted here.
    let inner = without_fine_lines(svg).replace(" tabindex=\"0\"", "").replace(" role=\"button\"", "");
    enclosed(&inner, &view, &STYLE_OF_DRAWINGS)
}

/// Without the hatching, which is there for print, and the grid.
fn without_fine_lines(svg: &str) -> String {
    let mut pieces = svg.split(POLYLINE);
    let mut kept = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        match piece.split_once("/>") {
            Some((tag, behind)) if FINE.iter().any(|colour| tag.contains(colour)) => kept.push_str(behind),
            _ => kept.extend([POLYLINE, piece]),
        }
    }
    kept
}

fn enclosed(inner: &str, view: &str, style: &str) -> Option<Thumbnail> {
    let style = if style.is_empty() { String::new() } else { format!("<style>{style}</style>") };
    let text = format!(
        "{DRAWING_MARK}\n<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"plot\" viewBox=\"{view}\">{style}{inner}</svg>\n"
    );
    (text.len() <= LARGEST && is_well_formed(&text)).then_some(Thumbnail::Drawing(text))
}

fn attribute<'t>(tag: &'t str, name: &str) -> Option<&'t str> {
    let (_, behind) = tag.split_once(&format!(" {name}=\""))?;
    Some(behind.split_once('"')?.0)
}

/// The element that opens at the beginning of this text, with the elements of its name inside it.
fn element(from: &str) -> Option<&str> {
    let (mut depth, mut at) = (0usize, 0);
    loop {
        let rest = from.get(at..)?;
        let close = rest.find("</svg>")?;
        match rest.find("<svg").filter(|open| *open < close) {
            Some(open) => {
                depth += 1;
                at += open + "<svg".len();
            }
            None => {
                depth = depth.checked_sub(1)?;
                at += close + "</svg>".len();
                if depth == 0 {
                    return from.get(..at);
                }
            }
        }
    }
}

fn is_well_formed(text: &str) -> bool {
    let mut reader = Reader::from_str(text);
    loop {
        match reader.read_event() {
            Ok(Event::Eof) => return true,
            Ok(Event::Start(start)) if start.attributes().any(|attribute| attribute.is_err()) => return false,
            Ok(_) => {}
            Err(_) => return false,
        }
    }
}

/// Of the page's stylesheet: its colours, and what concerns drawings.
static STYLE_OF_DRAWINGS: LazyLock<String> = LazyLock::new(|| {
    let (mut kept, mut start, mut depth) = (String::new(), 0, 0usize);
    for (at, c) in STYLE.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => {
                depth = depth.saturating_sub(1);
                if depth == 0 {
                    let rule = STYLE.get(start..=at).unwrap_or_default();
                    let rule = rule.rsplit_once("*/").map_or(rule, |(_, rule)| rule).trim();
                    let selector = rule.split('{').next().unwrap_or_default().trim();
                    let is_colours = selector == ":root" || selector == "@media (prefers-color-scheme: dark)";
                    let is_drawing =
                        [".drawing", ".plot", ".histogram", "svg.circuit"].iter().any(|part| selector.contains(part));
                    if is_colours || (is_drawing && !selector.starts_with('@')) {
                        kept.push_str(rule);
                    }
                    start = at + 1;
                }
            }
            _ => {}
        }
    }
    kept.push_str(SMALL);
    kept
});

/// At this size words cannot be read and thin lines cannot be seen.
const SMALL: &str = "svg.plot{margin:0;max-width:none}text{display:none}.drawing polyline{stroke-width:40}svg.circuit{stroke-width:2.5}";

const POLYLINE: &str = "<polyline";
/// The colours of lines that a small picture can do without: grid and hatching.
const FINE: [&str; 3] = ["stroke=\"#E4DFD7\"", "stroke=\"#9A4A20\"", "stroke=\"#1F1D20\""];
/// The most bytes of a small picture.
const LARGEST: usize = 450_000;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_picture_of_a_page_is_taken_whole() {
        let page = |inner: &str| {
            format!("<header><svg class=\"drawing\"></svg></header><main id=\"main\"><p>x</p>{inner}</main>")
        };
        let plot = "<svg class=\"drawing\" viewBox=\"0 0 640 400\"><svg><g></g></svg><text>a &lt; b</text></svg>";
        let Some(Thumbnail::Drawing(text)) = thumbnail(&page(&format!("{plot}<svg class=\"circuit\"></svg>"))) else {
            panic!("no drawing")
        };
        assert!(text.starts_with(DRAWING_MARK) && text.contains(plot) && text.contains("--copper"), "{text}");
        assert!(!text.contains("svg class=\"circuit\"") && text.contains("viewBox=\"0 0 640 400\""), "{text}");
        let image = "<img src=\"a%20b.png?x&amp;y\" alt=\"\" width=\"5\" height=\"4\">";
        assert_eq!(thumbnail(&page(&format!("{image}{plot}"))), Some(Thumbnail::Beside("a%20b.png?x&y".to_owned())));
        let inside = "<img src=\"data:image/png;base64,AAAA\" alt=\"\" width=\"5\" height=\"4\">";
        assert!(
            matches!(thumbnail(&page(inside)), Some(Thumbnail::Drawing(text)) if text.contains("<image href=\"data:image/png"))
        );
        for none in ["", "<svg class=\"drawing\" viewBox=\"0 0 1 1\"><g></svg>", "<svg class=\"range-bar\"></svg>"] {
            assert_eq!(thumbnail(&page(none)), None, "{none}");
        }
    }
}
