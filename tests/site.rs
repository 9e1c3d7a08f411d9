//! Sites of random folders: names, titles, orders and links by number, hostile ones among them. What a site says is held
//! against what the test knows of the folder that it made.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{collections::BTreeMap, fs, path::Path, process::Command, time::SystemTime};

use benchleaf::Outcome;
use benchleaf_tests::{
    Random,
    outside::{node, tests},
};

#[path = "site/folder.rs"]
mod folder;
#[path = "site/promises.rs"]
mod promises;

use folder::{Folder, called, square, whole};
use promises::{
    links_lead_somewhere, lists_are_whole, the_feed_is_of_what_is_dated, the_search_knows_all,
    worksheets_stand_in_order,
};

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
