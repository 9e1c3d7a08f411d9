//! What a site promises, held against the folder that it was made of.

use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
};

use benchleaf_publish::search::LARGEST_INDEX;
use quick_xml::{Reader, events::Event};
use scraper::{Html, Selector};

use super::{
    BASE, files,
    folder::{Folder, Sheet, Site},
};

pub(crate) fn links_lead_somewhere(site: &Site, folder: &Folder) {
    let pages: BTreeMap<String, Html> = files(&site.folder)
        .into_iter()
        .filter(|(name, _)| name.ends_with(".html"))
        .map(|(name, text)| (name, Html::parse_document(std::str::from_utf8(&text).unwrap())))
        .collect();
    let (anchors, sources) = (Selector::parse("a[href]").unwrap(), Selector::parse("img[src]").unwrap());
    let mut checked = 0;
    for (name, page) in &pages {
        let sheet = folder.sheets.iter().find(|sheet| sheet.page() == *name);
        let links = page.select(&anchors).map(|link| link.attr("href").unwrap());
        let pictures = page.select(&sources).map(|image| image.attr("src").unwrap());
        for link in links.chain(pictures) {
            if sheet.is_some_and(|sheet| sheet.broken_links.iter().any(|broken| broken == link)) {
                continue;
            }
            let (path, anchor) = link.split_once('#').unwrap_or((link, ""));
            let target = if path.is_empty() { name.clone() } else { followed(name, path) };
            assert!(site.folder.join(&target).is_file(), "{name}: {link} leads to {target}");
            if !anchor.is_empty() {
                let id = percent_decoded(anchor);
                let has = |element: scraper::ElementRef<'_>| element.attr("id") == Some(id.as_str());
                let all = Selector::parse("[id]").unwrap();
                assert!(pages[&target].select(&all).any(has), "{name}: {link} has no place in {target}");
            }
            checked += 1;
        }
    }
    assert!(checked > folder.sheets.len());
    // What leads nowhere is said at its line, and nothing else.
    let wanted: usize = folder.sheets.iter().map(|sheet| sheet.broken.len()).sum();
    assert_eq!(site.err.matches("W-link").count(), wanted, "{}", site.err);
    for (sheet, line) in folder.sheets.iter().flat_map(|sheet| sheet.broken.iter().map(move |line| (sheet, line))) {
        let place = format!("{}:{line}:", sheet.path.file_name().unwrap().to_string_lossy());
        assert!(site.err.contains(&place), "{place} is not in {}", site.err);
    }
}

pub(crate) fn worksheets_stand_in_order(site: &Site, folder: &Folder) {
    let order = folder.in_order();
    let next = Selector::parse("nav.neighbours a[rel=next]").unwrap();
    for (sheet, other) in order.iter().zip(order.iter().skip(1).map(Some).chain([None])) {
        let page = Html::parse_document(&fs::read_to_string(site.folder.join(sheet.page())).unwrap());
        let link = page.select(&next).next();
        let found = link.map(|link| followed(&sheet.page(), link.attr("href").unwrap()));
        assert_eq!(found, other.map(|other| other.page()), "after {}", sheet.page());
        let title = link.map(|link| link.text().collect::<String>());
        assert_eq!(title, other.map(|other| other.title.clone()));
    }
    let list = site.folder.join("index.html");
    if !folder.sheets.iter().any(|sheet| sheet.page() == "index.html") {
        let page = Html::parse_document(&fs::read_to_string(list).unwrap());
        let links = Selector::parse(".contents :is(h2, h3, h4, h5, h6) a").unwrap();
        let found: Vec<String> =
            page.select(&links).map(|link| followed("index.html", link.attr("href").unwrap())).collect();
        assert_eq!(found, order.iter().map(|sheet| sheet.page()).collect::<Vec<_>>());
    }
}

pub(crate) fn lists_are_whole(site: &Site, folder: &Folder) {
    let read = |name: &str| fs::read_to_string(site.folder.join(name)).ok();
    let is_own = |name: &str| !folder.sheets.iter().any(|sheet| sheet.page() == name);
    let count = |name: &str, selector: &str| {
        let page = Html::parse_document(&read(name).unwrap_or_default());
        page.select(&Selector::parse(selector).unwrap()).count()
    };
    if is_own("exercises.html") {
        let wanted: usize = folder.sheets.iter().map(|sheet| sheet.exercises).sum();
        assert_eq!(count("exercises.html", "main ol li"), wanted);
        assert_eq!(read("exercises.html").unwrap_or_default().matches("(1 point)").count(), wanted);
    }
    if is_own("safety-notes.html") {
        let wanted: usize = folder.sheets.iter().map(|sheet| sheet.notes).sum();
        assert_eq!(count("safety-notes.html", "main .note, main li"), wanted);
    }
    if is_own("parts.html") {
        let bought = folder.sheets.iter().flat_map(|sheet| &sheet.parts);
        let cents: u64 = bought.map(|(cents, pieces)| cents * pieces).sum();
        let total = format!("{}.{:02}\u{202f}EUR", cents / 100, cents % 100);
        let page = read("parts.html").unwrap_or_default();
        assert!(
            cents == 0 || page.contains(&format!("<td class=\"right\">{total}</td></tr>\n</tfoot>")),
            "{total}: {page}"
        );
        let pieces: u64 = folder.sheets.iter().flat_map(|sheet| &sheet.parts).map(|(_, pieces)| pieces).sum();
        let document = Html::parse_document(&page);
        let cells = Selector::parse("tbody td.right:nth-of-type(4)").unwrap();
        let listed: u64 =
            document.select(&cells).map(|cell| cell.text().collect::<String>().trim().parse::<u64>().unwrap()).sum();
        assert_eq!(listed, pieces);
    }
}

pub(crate) fn the_search_knows_all(site: &Site, folder: &Folder) {
    if folder.sheets.iter().any(|sheet| sheet.page() == "search.html") {
        return;
    }
    let text = fs::read_to_string(site.folder.join("search-index.js")).unwrap();
    assert!(text.len() <= LARGEST_INDEX && !text.contains("</"), "{text}");
    let json = text.split_once("self.benchleafIndex = ").unwrap().1.trim_end().strip_suffix(';').unwrap();
    let index: serde_json::Value = serde_json::from_str(json).unwrap();
    let (pages, places) = (index["pages"].as_array().unwrap(), index["places"].as_array().unwrap());
    let titles: BTreeSet<&str> = pages.iter().map(|page| page[1].as_str().unwrap()).collect();
    assert_eq!(titles, folder.sheets.iter().map(|sheet| sheet.title.as_str()).collect());
    let of_kind = |kind: u64| places.iter().filter(|place| place[0] == kind).count();
    let sum = |count: fn(&Sheet) -> usize| folder.sheets.iter().map(count).sum::<usize>();
    assert_eq!(
        [of_kind(0), of_kind(1), of_kind(2), of_kind(4)],
        [
            sum(|sheet| sheet.headings),
            sum(|sheet| sheet.notes),
            sum(|sheet| sheet.exercises),
            sum(|sheet| sheet.values),
        ]
    );
    for place in places {
        let page = pages[usize::try_from(place[1].as_u64().unwrap()).unwrap()][0].as_str().unwrap();
        let html = fs::read_to_string(site.folder.join(percent_decoded(page))).unwrap();
        assert!(html.contains(&format!("id=\"{}\"", place[2].as_str().unwrap())), "{place}");
    }
}

pub(crate) fn the_feed_is_of_what_is_dated(site: &Site, folder: &Folder) {
    let dated = folder.sheets.iter().filter(|sheet| sheet.dated).count();
    let Ok(text) = fs::read_to_string(site.folder.join("feed.xml")) else {
        return assert_eq!(dated, 0);
    };
    let (mut reader, mut open, mut ids, mut updated, mut titles) =
        (Reader::from_str(&text), Vec::new(), Vec::new(), Vec::new(), Vec::new());
    loop {
        match reader.read_event().unwrap() {
            Event::Eof => break,
            Event::Start(start) => {
                open.push(start.name().as_ref().to_owned());
                match open.last().unwrap().as_str() {
                    "id" => ids.push(String::new()),
                    "updated" => updated.push(String::new()),
                    "title" => titles.push(String::new()),
                    _ => {}
                }
            }
            Event::End(_) => drop(open.pop()),
            Event::Text(text) => {
                let text = text.to_string();
                put(&open, &text, &mut ids, &mut updated, &mut titles);
            }
            Event::GeneralRef(reference) => {
                let text = match reference.resolve_char_ref().unwrap() {
                    Some(c) => c.to_string(),
                    None => match &*reference {
                        "amp" => "&",
                        "lt" => "<",
                        "gt" => ">",
                        "quot" => "\"",
                        "apos" => "'",
                        other => panic!("{other} is no entity of XML"),
                    }
                    .to_owned(),
                };
                put(&open, &text, &mut ids, &mut updated, &mut titles);
            }
            _ => {}
        }
    }
    assert!(open.is_empty());
    assert_eq!(ids.len(), dated.min(50) + 1);
    assert_eq!(ids.iter().collect::<BTreeSet<_>>().len(), ids.len(), "every id is its own");
    assert_eq!(ids[0], format!("{BASE}feed.xml"));
    assert!(ids.iter().all(|id| id.starts_with(BASE)));
    assert_eq!(updated[0], updated[1], "the feed is as new as its latest entry");
    assert!(
        updated.windows(2).all(|pair| pair[0] >= pair[1]) && updated.iter().all(|time| time.ends_with("T00:00:00Z"))
    );
    let known: BTreeSet<String> =
        folder.sheets.iter().filter(|sheet| sheet.dated).map(|sheet| sound(&sheet.title)).collect();
    assert_eq!(titles[1..].iter().cloned().collect::<BTreeSet<_>>(), known);
}

pub(crate) fn put(open: &[String], text: &str, ids: &mut [String], updated: &mut [String], titles: &mut [String]) {
    let into = match open.last().map(String::as_str) {
        Some("id") => ids.last_mut(),
        Some("updated") => updated.last_mut(),
        Some("title") => titles.last_mut(),
        _ => None,
    };
    into.into_iter().for_each(|known| known.push_str(text));
}

/// Where a link leads, from a page, both from the front page.
pub(crate) fn followed(page: &str, link: &str) -> String {
    let mut parts: Vec<String> = page.split('/').map(str::to_owned).collect();
    parts.pop();
    for part in link.split('/') {
        match part {
            ".." => drop(parts.pop().expect("a link stays in its site")),
            "." => {}
            part => parts.push(percent_decoded(part)),
        }
    }
    parts.join("/")
}

pub(crate) fn percent_decoded(text: &str) -> String {
    let (bytes, mut plain, mut at) = (text.as_bytes(), Vec::new(), 0);
    while at < bytes.len() {
        if bytes[at] == b'%' {
            plain.push(u8::from_str_radix(&text[at + 1..at + 3], 16).unwrap());
            at += 3;
        } else {
            plain.push(bytes[at]);
            at += 1;
        }
    }
    String::from_utf8(plain).unwrap()
}

/// A title as a feed has it: without what XML does not know.
pub(crate) fn sound(title: &str) -> String {
    title.chars().filter(|c| !c.is_control()).collect()
}
