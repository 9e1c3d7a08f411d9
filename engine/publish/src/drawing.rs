//! A drawing in SVG as it goes into a page: shapes, text, gradients and their like, with nothing that runs, moves or asks for
//! anything outside the drawing. What is not known to be harmless is left out.

use quick_xml::{
    Reader, Writer,
    events::{BytesStart, Event, attributes::Attribute},
};

/// A cleaned drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Cleaned {
    /// The drawing.
    pub(crate) text: String,
    /// Width, px.
    pub(crate) width: u32,
    /// Height, px.
    pub(crate) height: u32,
}

/// Cleans a drawing; nothing where the text is none.
pub(crate) fn clean(text: &str) -> Option<Cleaned> {
    let mut reader = Reader::from_str(text.trim_start_matches('\u{feff}'));
    let mut writer = Writer::new(Vec::with_capacity(text.len()));
    let mut size = None;
    let mut depth = 0usize;
    loop {
        match reader.read_event().ok()? {
            Event::Start(start) => {
                if size.is_none() {
                    size = Some(size_of(&start)?);
                }
                match kept(&start) {
                    Some(kept) => {
                        depth += 1;
                        writer.write_event(Event::Start(kept)).ok()?;
                    }
                    None => {
                        reader.read_to_end(start.name()).ok()?;
                    }
                }
            }
            Event::Empty(empty) => {
                if size.is_none() {
                    size = Some(size_of(&empty)?);
                }
                if let Some(kept) = kept(&empty) {
                    writer.write_event(Event::Empty(kept)).ok()?;
                }
            }
            Event::End(end) => {
                depth = depth.checked_sub(1)?;
                writer.write_event(Event::End(end)).ok()?;
            }
            Event::Text(words) if depth > 0 => writer.write_event(Event::Text(words)).ok()?,
            Event::CData(words) if depth > 0 => {
                writer.write_event(Event::Text(words.escape().ok()?)).ok()?;
            }
            // The five that need no declaration, and characters by number.
            Event::GeneralRef(name) if depth > 0 => {
                let known = matches!(&*name, "lt" | "gt" | "amp" | "quot" | "apos") || name.starts_with('#');
                if known {
                    writer.write_event(Event::GeneralRef(name)).ok()?;
                }
            }
            Event::Eof => break,
            _ => {}
        }
    }
    let (width, height) = size.filter(|_| depth == 0)?;
    Some(Cleaned { text: String::from_utf8(writer.into_inner()).ok()?, width, height })
}

/// An element with those of its attributes that are harmless; nothing where the element itself is not known to be.
fn kept(element: &BytesStart<'_>) -> Option<BytesStart<'static>> {
    let name = element.name();
    let name: &str = name.as_ref();
    if !ELEMENTS.contains(&name) {
        return None;
    }
    let mut kept = BytesStart::new(name.to_owned());
    for attribute in element.attributes().filter_map(Result::ok).filter(is_harmless) {
        kept.push_attribute(attribute);
    }
    Some(kept)
}

fn is_harmless(attribute: &Attribute<'_>) -> bool {
    let name: &str = attribute.key.as_ref();
    let Ok(value) = attribute.normalized_value(quick_xml::XmlVersion::Explicit1_0) else { return false };
    let value: String = value.chars().filter(|c| !c.is_whitespace() && !c.is_control()).collect();
    let value = value.to_ascii_lowercase();
    match name {
        "xmlns" | "xmlns:xlink" => true,
        "href" | "xlink:href" => {
            value.starts_with('#')
                || ["png", "jpeg", "webp"].iter().any(|kind| value.starts_with(&format!("data:image/{kind};base64,")))
        }
        _ if name.contains(':') || name.starts_with("on") => false,
        // A colour or a clip may be one of the drawing's own, by its mark; nothing may be fetched or escaped.
        _ => {
            let foreign = value
                .match_indices("url(")
                .any(|(at, _)| !value[at + 4..].trim_start_matches(['\'', '"']).starts_with('#'));
            !foreign && !value.contains("@import") && !value.contains('\\') && !value.contains("javascript:")
        }
    }
}

/// Width and height, px: as the drawing says, or by its view box, or as browsers take them where it says nothing.
fn size_of(root: &BytesStart<'_>) -> Option<(u32, u32)> {
    if root.name().as_ref() != "svg" {
        return None;
    }
    let attribute = |name: &str| {
        let found = root.attributes().filter_map(Result::ok).find(|found| found.key.as_ref() == name)?;
        Some(found.value.into_owned())
    };
    let length = |name: &str| {
        let text = attribute(name)?;
        let end = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
        let number: f64 = text[..end].parse().ok()?;
        let px = UNITS.iter().find(|(unit, _)| *unit == text[end..].trim())?.1;
        Some(number * px).filter(|px| *px > 0.0)
    };
    let view = attribute("viewBox").and_then(|text| {
        let numbers = text.split([' ', ',']).filter(|part| !part.is_empty()).map(str::parse::<f64>);
        match numbers.collect::<Result<Vec<f64>, _>>().ok()?.as_slice() {
            [_, _, width, height] if *width > 0.0 && *height > 0.0 => Some((*width, *height)),
            _ => None,
        }
    });
    let (width, height) = match (length("width"), length("height"), view) {
        (Some(width), Some(height), _) => (width, height),
        (Some(width), None, Some((w, h))) => (width, width * h / w),
        (None, Some(height), Some((w, h))) => (height * w / h, height),
        (_, _, Some(view)) => view,
        (width, height, None) => (width.unwrap_or(300.0), height.unwrap_or(150.0)),
    };
    let whole = |px: f64| px.round().clamp(1.0, 100_000.0) as u32;
    Some((whole(width), whole(height)))
}

/// Units of length in px (CSS Values and Units Level 3, 5.2).
const UNITS: &[(&str, f64)] = &[
    ("", 1.0),
    ("px", 1.0),
    ("in", 96.0),
    ("cm", 96.0 / 2.54),
    ("mm", 96.0 / 25.4),
    ("pt", 96.0 / 72.0),
    ("pc", 16.0),
];

/// Elements that draw and do nothing else (SVG 2). Styles are left out: they can fetch; so are animations.
const ELEMENTS: &[&str] = &[
    "svg",
    "g",
    "defs",
    "symbol",
    "use",
    "title",
    "desc",
    "path",
    "rect",
    "circle",
    "ellipse",
    "line",
    "polyline",
    "polygon",
    "text",
    "tspan",
    "textPath",
    "image",
    "marker",
    "pattern",
    "clipPath",
    "mask",
    "linearGradient",
    "radialGradient",
    "stop",
    "switch",
    "filter",
    "feGaussianBlur",
    "feOffset",
    "feMerge",
    "feMergeNode",
    "feFlood",
    "feComposite",
    "feBlend",
    "feColorMatrix",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_runs_or_fetches_is_left_out_and_the_rest_stays() {
        let written = r##"<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY x "<script/>">]>
            <svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20" onload="alert(1)">
            <script>alert(2)</script><style>@import url(http://example.org/x)</style>
            <foreignObject><p onclick="x">y</p></foreignObject><s:script xmlns:s="http://www.w3.org/2000/svg">z</s:script>
            <a href="javascript:alert(3)"><text>gone</text></a>
            <image href="http://example.org/a.png"/><use href="#own"/><image href="data:image/svg+xml;base64,x"/>
            <rect id="own" width="4" fill="url(#g)" style="fill:url(http://example.org)" stroke="u&#114;l(//x)"/>
            <animate attributeName="href" to="x"/><text>R &lt; 4 &#937; &x;</text></svg>"##;
        let cleaned = clean(written).unwrap();
        assert_eq!((cleaned.width, cleaned.height), (40, 20));
        for gone in [
            "script", "alert", "example", "foreign", "gone", "animate", "onload", "ENTITY", "style", "//x", "svg+xml",
            "&x;",
        ] {
            assert!(!cleaned.text.contains(gone), "{gone}: {}", cleaned.text);
        }
        for stays in [r##"<use href="#own"/>"##, r#"fill="url(#g)""#, "R &lt; 4 &#937; ", r#"viewBox="0 0 40 20""#] {
            assert!(cleaned.text.contains(stays), "{stays}: {}", cleaned.text);
        }
        assert_eq!(clean(&cleaned.text).unwrap(), cleaned);
    }

    #[test]
    fn what_is_no_drawing_is_refused_and_sizes_are_in_px() {
        for wrong in ["", "text", "<html></html>", "<svg>", "<svg></g>", "<g><svg/></g>", "<svg/><svg>"] {
            assert_eq!(clean(wrong), None, "{wrong}");
        }
        for (attributes, wanted) in [
            ("width='10' height='20'", (10, 20)),
            ("width='1in' height='25.4mm'", (96, 96)),
            ("width='100%' viewBox='0,0,30,40'", (30, 40)),
            ("width='60' viewBox='0 0 30 40'", (60, 80)),
            ("", (300, 150)),
        ] {
            let cleaned = clean(&format!("<svg {attributes}/>")).unwrap();
            assert_eq!((cleaned.width, cleaned.height), wanted, "{attributes}");
        }
    }
}
