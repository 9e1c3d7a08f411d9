//! Folders of worksheets made at random, with hostile names and titles, and the sites that are made of them.

use std::{
    collections::{BTreeMap, BTreeSet},
    fmt::Write,
    fs,
    path::{Path, PathBuf},
};

use benchleaf::{Drawing, Outcome, Progress, Terminal};
use benchleaf_publish::site::href;
use benchleaf_tests::Random;
use tempfile::TempDir;

use super::BASE;

/// A worksheet as the test made it.
pub(crate) struct Sheet {
    pub(crate) path: PathBuf,
    pub(crate) title: String,
    pub(crate) order: Option<u32>,
    pub(crate) dated: bool,
    pub(crate) headings: usize,
    pub(crate) values: usize,
    pub(crate) exercises: usize,
    pub(crate) notes: usize,
    /// Prices of its parts, cents a piece, and how many pieces.
    pub(crate) parts: Vec<(u64, u64)>,
    /// Lines with a link that leads nowhere.
    pub(crate) broken: Vec<usize>,
    /// The addresses of these.
    pub(crate) broken_links: Vec<String>,
}

impl Sheet {
    pub(crate) fn page(&self) -> String {
        self.path.with_extension("html").to_string_lossy().into_owned()
    }
}

pub(crate) struct Folder {
    /// The worksheets stand in its folder `in`, sites beside that.
    pub(crate) source: TempDir,
    pub(crate) sheets: Vec<Sheet>,
    /// The order of folders that have one, by their paths.
    pub(crate) orders: BTreeMap<PathBuf, u32>,
}

pub(crate) struct Site {
    pub(crate) folder: PathBuf,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Folder {
    pub(crate) fn made(seed: u64) -> Self {
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

    pub(crate) fn rendered(&self, name: &str, options: &[&str]) -> Site {
        self.run(name, options, true)
    }

    pub(crate) fn run(&self, name: &str, options: &[&str], with_address: bool) -> Site {
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
    pub(crate) fn in_order(&self) -> Vec<&Sheet> {
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

pub(crate) fn made(path: &Path, all: &[PathBuf], random: &mut Random) -> (Sheet, String) {
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
pub(crate) fn between(from: &Path, to: &Path) -> String {
    let up = "../".repeat(from.components().count() - 1);
    up + &href(to)
}

pub(crate) fn called(arguments: &[&str]) -> (Outcome, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let arguments = std::iter::once("benchleaf".into()).chain(arguments.iter().map(Into::into));
    let outcome = benchleaf::run(arguments, &mut Terminal::new(&mut out, &mut err, Drawing::Plain, Progress::None));
    let err = String::from_utf8(err).unwrap();
    // Whatever the line breaks.
    let err = err.split_whitespace().filter(|word| *word != "│").collect::<Vec<_>>().join(" ");
    (outcome, String::from_utf8(out).unwrap(), err)
}

pub(crate) fn whole(random: &mut Random, below: usize) -> usize {
    ((random.share() * below as f64) as usize).min(below - 1)
}

pub(crate) fn title(random: &mut Random) -> &'static str {
    TITLES[whole(random, TITLES.len())]
}

/// As a text of TOML.
pub(crate) fn quoted(text: &str) -> String {
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

pub(crate) fn square(side: u32) -> String {
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
