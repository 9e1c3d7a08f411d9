//! Sites of random folders: names, titles, orders and links by number, hostile ones among them. What a site says is held
//! against what the test knows of the folder that it made.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{
    collections::{BTreeMap, BTreeSet},
    fmt::Write,
    fs,
    path::{Path, PathBuf},
    process::Command,
    time::SystemTime,
};

use benchleaf::{Drawing, Outcome, Progress, Terminal};
use benchleaf_publish::{search::LARGEST_INDEX, site::href};
use benchleaf_tests::{
    Random,
    outside::{node, tests},
};
use quick_xml::{Reader, events::Event};
use scraper::{Html, Selector};
use tempfile::TempDir;

const BASE: &str = "https://example.org/site/";

#[test]
fn a_site_says_what_is_in_its_folder_and_every_link_leads_somewhere() {
    for seed in 0..folders() {
        let folder = Folder::made(seed);
        let site = folder.rendered("site", &[]);
        links_lead_somewhere(&site, &folder);
        worksheets_stand_in_order(&site, &folder);
        lists_are_whole(&site, &folder);
        the_search_knows_all(&site, &folder);
        the_feed_is_of_what_is_dated(&site, &folder);
    }
}

/// A page that is left alone is the page that would be made.
#[test]
fn a_site_made_anew_in_part_is_the_site_made_at_once() {
    for seed in 0..folders() {
        let folder = Folder::made(1_000 + seed);
        let mut random = Random(seed + 7);
        let first = folder.rendered("site", &[]);
        let before = times(&first.folder);
        let second = folder.rendered("site", &[]);
        assert_eq!(first.out.lines().last(), second.out.lines().last());
        let sound = folder.sheets.iter().filter(|sheet| sheet.broken.is_empty());
        for sheet in sound {
            let page = sheet.page();
            assert_eq!(before[&page], times(&second.folder)[&page], "seed {seed}: {page} was written again");
        }
        // A title changes what its neighbours say, a heading what a link to it comes to.
        let sheet = &folder.sheets[whole(&mut random, folder.sheets.len())];
        let path = folder.source.path().join("in").join(&sheet.path);
        let text = fs::read_to_string(&path).unwrap();
        let changed = match whole(&mut random, 3) {
            0 => text.replace("title = \"", "title = \"Another: "),
            1 => text.replace("## Part 0", "## Part zero"),
            _ => text.replace("1.00 EUR", "1.50 EUR") + "\nMore.\n",
        };
        fs::write(&path, changed).unwrap();
        let again = folder.rendered("site", &[]);
        let whole = folder.rendered("whole", &[]);
        assert_eq!(files(&again.folder), files(&whole.folder), "seed {seed}");
        assert_eq!(again.err, whole.err, "seed {seed}: what is said differs");
        let fresh = folder.rendered("site", &["--fresh"]);
        assert_eq!(files(&fresh.folder), files(&whole.folder), "seed {seed}");
    }
}

#[test]
fn without_an_address_nothing_speaks_of_one() {
    let folder = Folder::made(5);
    let site = folder.run("plain", &[], false);
    assert!(!site.folder.join("feed.xml").exists());
    for (name, text) in files(&site.folder) {
        let text = String::from_utf8_lossy(&text).into_owned();
        for part in ["canonical", "og:", "atom+xml", "example.org"] {
            assert!(!name.ends_with(".html") || !text.contains(part), "{name} has {part}");
        }
    }
}

#[test]
fn a_files_change_makes_the_pages_anew_that_read_it() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    put("a.md", "# A\n\n![a square](square.svg)\n");
    put("b.md", "# B\n\nSee [there](c.md#there) and [a table](table.csv).\n");
    put("c.md", "# C\n\n## There\n");
    put("table.csv", "x\n");
    put("square.svg", &square(10));
    let run = || {
        let (outcome, out, err) = called(&["render", &folder.path().to_string_lossy()]);
        assert_eq!(outcome, Outcome::Fine, "{err}");
        let unchanged = out.lines().filter_map(|line| line.strip_prefix("Unchanged ")?.split(".html").next());
        (unchanged.map(|path| path.rsplit('/').next().unwrap().to_owned()).collect::<Vec<_>>(), err)
    };
    assert_eq!(run().0, Vec::<String>::new());
    assert_eq!(run(), (vec!["a".to_owned(), "b".to_owned(), "c".to_owned()], String::new()));
    put("square.svg", &square(20));
    assert_eq!(run().0, ["b", "c"]);
    put("c.md", "# C\n\n## Elsewhere\n");
    let (unchanged, err) = run();
    assert_eq!(unchanged, ["a"]);
    assert!(err.contains("#there") && err.contains("#elsewhere"), "{err}");
    put("c.md", "# C\n\n## There\n");
    assert_eq!((run().0, run().0.len()), (vec!["a".to_owned()], 3));
    fs::remove_file(folder.path().join("table.csv")).unwrap();
    let (unchanged, err) = run();
    assert_eq!(unchanged, ["a", "c"]);
    assert!(err.contains("the link leads to `table.csv`, but there is no such file"), "{err}");
    // What is written over by hand is made anew.
    put("table.csv", "x\n");
    run();
    let page = fs::read(folder.path().join("a.html")).unwrap();
    fs::write(folder.path().join("a.html"), "").unwrap();
    assert_eq!(run().0, ["b", "c"]);
    assert_eq!(fs::read(folder.path().join("a.html")).unwrap(), page);
}

/// A file beside a worksheet is not copied to another folder, and the author hears of it.
#[test]
fn a_link_to_a_file_that_is_not_where_the_page_stands_is_reported() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("in")).unwrap();
    fs::write(folder.path().join("in/a.md"), "# A\n\nSee [data](data.csv) and [a draft](_b.md).\n").unwrap();
    fs::write(folder.path().join("in/_b.md"), "# B\n").unwrap();
    fs::write(folder.path().join("in/data.csv"), "x\n").unwrap();
    let (source, site) = (folder.path().join("in"), folder.path().join("out"));
    let call = || called(&["render", &source.to_string_lossy(), "-o", &site.to_string_lossy()]).2;
    let err = call();
    assert!(err.contains("`data.csv`, but it is not copied to where the page stands"), "{err}");
    assert!(err.contains("`_b.md`, but this site has no page of it"), "{err}");
    fs::write(site.join("data.csv"), "x\n").unwrap();
    let err = call();
    assert!(!err.contains("data.csv`"), "{err}");
}

/// The search as a reader uses it, by keyboard and without scripts, from a folder of files; with nothing that `axe` finds.
#[test]
#[ignore = "needs a browser: run tests/run"]
fn a_site_is_searched_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    let site = folder.path().join("site");
    let (outcome, _, err) = called(&[
        "render",
        &tests().join("../worksheets").to_string_lossy(),
        "-o",
        &site.to_string_lossy(),
        "--base-url",
        BASE,
    ]);
    assert_eq!(outcome, Outcome::Fine, "{err}");
    succeeds(node(None).arg("search.js").arg(&site));
}

/// Random sites are pages by the HTML standard too, and run nothing of their authors'.
#[test]
#[ignore = "needs html-validate: run tests/run"]
fn pages_of_random_sites_are_valid_html() {
    for seed in 0..6 {
        let folder = Folder::made(seed);
        let site = folder.rendered("site", &[]);
        let mut validator = node(Some("html-validate"));
        succeeds(validator.args(["--config", ".htmlvalidate.json", "--formatter", "text"]).arg(&site.folder));
    }
}

fn succeeds(command: &mut Command) {
    let output = command.output().unwrap();
    let said = [output.stdout, output.stderr].concat();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&said));
}

/// Folders that are made: more with `BENCHLEAF_FOLDERS=200`.
fn folders() -> u64 {
    std::env::var("BENCHLEAF_FOLDERS").ok().and_then(|text| text.parse().ok()).unwrap_or(12)
}

/// A worksheet as the test made it.
struct Sheet {
    path: PathBuf,
    title: String,
    order: Option<u32>,
    dated: bool,
    headings: usize,
    values: usize,
    exercises: usize,
    notes: usize,
    /// Prices of its parts, cents a piece, and how many pieces.
    parts: Vec<(u64, u64)>,
    /// Lines with a link that leads nowhere.
    broken: Vec<usize>,
    /// The addresses of these.
    broken_links: Vec<String>,
}

impl Sheet {
    fn page(&self) -> String {
        self.path.with_extension("html").to_string_lossy().into_owned()
    }
}

struct Folder {
    /// The worksheets stand in its folder `in`, sites beside that.
    source: TempDir,
    sheets: Vec<Sheet>,
    /// The order of folders that have one, by their paths.
    orders: BTreeMap<PathBuf, u32>,
}

struct Site {
    folder: PathBuf,
    out: String,
    err: String,
}

impl Folder {
    fn made(seed: u64) -> Self {
        let mut random = Random(seed * 7919 + 1);
        let source = tempfile::tempdir().unwrap();
        let mut orders = BTreeMap::new();
        let mut folders = vec![PathBuf::new()];
        for i in 0..whole(&mut random, 5) {
            let parent = folders[whole(&mut random, folders.len())].clone();
            let name = FOLDERS[whole(&mut random, FOLDERS.len())];
            folders.push(parent.join(format!("{name}{i}")));
        }
        for folder in &folders {
            fs::create_dir_all(source.path().join("in").join(folder)).unwrap();
            if whole(&mut random, 2) == 0 {
                let order = whole(&mut random, 3) as u32;
                let head = format!("+++\ntitle = {}\norder = {order}\n+++\n", quoted(title(&mut random)));
                fs::write(source.path().join("in").join(folder).join("README.md"), head + "\nWords.\n").unwrap();
                orders.insert(folder.clone(), order);
            }
        }
        let mut paths = BTreeSet::new();
        for i in 0..2 + whole(&mut random, 9) {
            let folder = &folders[whole(&mut random, folders.len())];
            let name = NAMES[whole(&mut random, NAMES.len())];
            let name = if whole(&mut random, 3) == 0 { name.to_owned() } else { format!("{name}{i}") };
            paths.insert(folder.join(name + ".md"));
        }
        let paths: Vec<PathBuf> = paths.into_iter().collect();
        let sheets = paths.iter().map(|path| {
            let (sheet, text) = made(path, &paths, &mut random);
            fs::write(source.path().join("in").join(path), text).unwrap();
            sheet
        });
        let sheets = sheets.collect();
        Self { source, sheets, orders }
    }

    fn rendered(&self, name: &str, options: &[&str]) -> Site {
        self.run(name, options, true)
    }

    fn run(&self, name: &str, options: &[&str], with_address: bool) -> Site {
        let (source, folder) = (self.source.path().join("in"), self.source.path().join(name));
        let (from, to) = (source.to_string_lossy().into_owned(), folder.to_string_lossy().into_owned());
        let mut arguments = vec!["render", &from, "-o", &to, "--samples", "100"];
        if with_address {
            arguments.extend(["--base-url", BASE]);
        }
        arguments.extend(options);
        let (outcome, out, err) = called(&arguments);
        assert_eq!(outcome, Outcome::Fine, "{err}");
        Site { folder, out, err }
    }

    /// The worksheets in the order of a reader: of every folder its own first, then the folders in it; both by their order,
    /// then by their names as links have them.
    fn in_order(&self) -> Vec<&Sheet> {
        let mut sheets: Vec<&Sheet> = self.sheets.iter().collect();
        let key = |sheet: &Sheet| {
            let parts: Vec<PathBuf> = sheet.path.iter().map(PathBuf::from).collect();
            let mut key: Vec<(u8, u8, u32, String)> = Vec::new();
            let mut folder = PathBuf::new();
            for part in &parts[..parts.len() - 1] {
                folder.push(part);
                let order = self.orders.get(&folder).copied().unwrap_or(u32::MAX);
                // A front page in a folder that has no README says its order.
                let index = self.sheets.iter().find(|sheet| sheet.path == folder.join("index.md"));
                let order = index.map_or(order, |index| index.order.unwrap_or(u32::MAX));
                key.push((1, 0, order, href(part)));
            }
            let page = parts.last().unwrap().with_extension("html");
            let is_index = page == Path::new("index.html");
            key.push((0, u8::from(!is_index), sheet.order.unwrap_or(u32::MAX), href(&page)));
            key
        };
        sheets.sort_by_key(|sheet| key(sheet));
        sheets
    }
}

fn made(path: &Path, all: &[PathBuf], random: &mut Random) -> (Sheet, String) {
    let title = title(random);
    let order = (whole(random, 2) == 0).then(|| whole(random, 4) as u32);
    let dated = whole(random, 2) == 0;
    let mut text = format!("+++\ntitle = {}\n", quoted(title));
    if let Some(order) = order {
        let _ = writeln!(text, "order = {order}");
    }
    if dated {
        let _ = writeln!(text, "date = 2026-{:02}-{:02}", 1 + whole(random, 12), 1 + whole(random, 28));
    }
    let _ = writeln!(text, "summary = {}\nauthor = {}\n+++\n", quoted(title), quoted(title));
    let headings = 1 + whole(random, 3);
    for i in 0..headings {
        let _ = writeln!(text, "## Part {i}\n\nWords.\n");
    }
    let values = whole(random, 4);
    text.push_str("```calc\n");
    for i in 0..values {
        let _ = writeln!(text, "x_{i} = {} V ± 5 % \"value {}\"", 1 + whole(random, 9), title.replace(['"', '\\'], ""));
    }
    text.push_str("```\n\n");
    let exercises = whole(random, 3);
    for i in 0..exercises {
        let _ = writeln!(text, "```exercise e_{i}\nask \"How much is {i} + 1?\"\nanswer = {i} + 1\n```\n");
    }
    let notes = whole(random, 3);
    for i in 0..notes {
        let _ = writeln!(
            text,
            "```{}\nMind {i} & <b>.\n```\n",
            ["warning", "caution", "danger when 1 > 2"][whole(random, 3)]
        );
    }
    let mut parts = Vec::new();
    for i in 0..whole(random, 4) {
        let (cents, places) = (1 + whole(random, 500) as u64, 1 + whole(random, 3));
        parts.push((cents, places as u64));
        let at: String = (0..places).map(|place| format!(" @R{i}{place}")).collect();
        let _ = writeln!(
            text,
            "```parts\n\"resistor {}\" {}.{:02} EUR{at}\n```\n",
            whole(random, 3),
            cents / 100,
            cents % 100
        );
    }
    let (mut broken, mut broken_links) = (Vec::new(), Vec::new());
    for i in 0..whole(random, 5) {
        let other = &all[whole(random, all.len())];
        let way = between(path, other);
        let (link, breaks) = match whole(random, 6) {
            0 => (format!("{way}#part-0"), false),
            1 => (format!("{way}#no-such-part"), true),
            2 => (way.replace(".md", "-away.md"), true),
            3 => (format!("away-{i}.csv"), true),
            4 => ("#part-0".to_owned(), false),
            _ => (way, false),
        };
        if breaks {
            broken.push(text.lines().count() + 1);
            broken_links.push(link.replace(".md", ".html"));
        }
        let _ = writeln!(text, "[link {i}](<{link}>)\n");
    }
    let title = title.to_owned();
    let path = path.to_owned();
    (Sheet { path, title, order, dated, headings, values, exercises, notes, parts, broken, broken_links }, text)
}

/// The link from one worksheet to another.
fn between(from: &Path, to: &Path) -> String {
    let up = "../".repeat(from.components().count() - 1);
    up + &href(to)
}

fn links_lead_somewhere(site: &Site, folder: &Folder) {
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

fn worksheets_stand_in_order(site: &Site, folder: &Folder) {
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

fn lists_are_whole(site: &Site, folder: &Folder) {
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

fn the_search_knows_all(site: &Site, folder: &Folder) {
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

fn the_feed_is_of_what_is_dated(site: &Site, folder: &Folder) {
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

fn put(open: &[String], text: &str, ids: &mut [String], updated: &mut [String], titles: &mut [String]) {
    let into = match open.last().map(String::as_str) {
        Some("id") => ids.last_mut(),
        Some("updated") => updated.last_mut(),
        Some("title") => titles.last_mut(),
        _ => None,
    };
    into.into_iter().for_each(|known| known.push_str(text));
}

/// Where a link leads, from a page, both from the front page.
fn followed(page: &str, link: &str) -> String {
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

fn percent_decoded(text: &str) -> String {
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

/// Every file of a site but the one that says what it was made from, by its path with slashes.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(next).unwrap().map(|entry| entry.unwrap().path()) {
            if entry.is_dir() {
                open.push(entry);
            } else {
                let name = entry.strip_prefix(folder).unwrap().to_string_lossy().into_owned();
                if name != ".benchleaf.json" {
                    found.insert(name, fs::read(&entry).unwrap());
                }
            }
        }
    }
    found
}

fn times(folder: &Path) -> BTreeMap<String, SystemTime> {
    let time = |name: &String| fs::metadata(folder.join(name)).unwrap().modified().unwrap();
    files(folder).into_keys().map(|name| (name.clone(), time(&name))).collect()
}

fn called(arguments: &[&str]) -> (Outcome, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let arguments = std::iter::once("benchleaf".into()).chain(arguments.iter().map(Into::into));
    let outcome = benchleaf::run(arguments, &mut Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None));
    let err = String::from_utf8(err).unwrap();
    // Whatever the line breaks.
    let err = err.split_whitespace().filter(|word| *word != "│").collect::<Vec<_>>().join(" ");
    (outcome, String::from_utf8(out).unwrap(), err)
}

fn whole(random: &mut Random, below: usize) -> usize {
    ((random.share() * below as f64) as usize).min(below - 1)
}

fn title(random: &mut Random) -> &'static str {
    TITLES[whole(random, TITLES.len())]
}

/// As a text of TOML.
fn quoted(text: &str) -> String {
    let escaped = text.chars().fold(String::new(), |mut out, c| {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", c as u32);
            }
            c => out.push(c),
        }
        out
    });
    format!("\"{escaped}\"")
}

/// A title as a feed has it: without what XML does not know.
fn sound(title: &str) -> String {
    title.chars().filter(|c| !c.is_control()).collect()
}

fn square(side: u32) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{side}\" height=\"{side}\"><rect width=\"{side}\" height=\"{side}\"/></svg>"
    )
}

const FOLDERS: &[&str] = &["timers", "a b", "100%", "ümlaut", "c#d", "e&f", "'quoted'", "search", "x=1"];
const NAMES: &[&str] =
    &["index", "search", "exercises", "one-shot", "a name", "µ", "50%", "c#", "q&a", "it's", "plus+", "x.y"];
const TITLES: &[&str] = &[
    "A plain title",
    "</script><script>alert(1)</script>",
    "<!-- & \"quotes\" 'and' ]]>",
    "\u{2028}line\u{2029} and \u{7}bell",
    "{{ title }} {% raw %}",
    "<img src=x onerror=alert(1)>",
    "Ünïcode — µ Ω",
    "\\backslash\\",
];
