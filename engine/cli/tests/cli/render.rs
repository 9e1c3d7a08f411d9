//! `benchleaf render`: which pages are written, where, and what is left alone.

use std::fs;

use scraper::{ElementRef, Html, Selector};

use crate::bench::{AT_RISK, BROKEN, Bench, ERROR, HOLDS, Run};

#[test]
fn a_page_stands_beside_its_worksheet() {
    let bench = Bench::with(&[("sheets/lamp.md", HOLDS)]);
    let run = bench.run(&["render", "sheets/lamp.md"]).exits(0);
    assert_eq!(run.err, "");
    run.says(&["Wrote sheets/lamp.html: 1 requirement holds", "Open sheets/lamp.html in a browser."]);
    assert_eq!(bench.files(), ["sheets/lamp.html", "sheets/lamp.md"]);
    let page = bench.read("sheets/lamp.html");
    assert!(page.contains("</html>") && page.contains("Sound"), "{page}");
}

#[test]
fn the_exit_status_speaks_of_errors_and_not_of_requirements() {
    let bench = Bench::with(&[("risk.md", AT_RISK), ("broken.md", BROKEN), ("error.md", ERROR)]);
    bench.run(&["render", "risk.md", "broken.md"]).exits(0);
    bench.run(&["render", "error.md"]).exits(2).warns(&["E-unknown-name", "keep W below 6 V"]).says(&["1 error"]);
    assert!(bench.read("error.html").contains("</html>"));
    bench.run(&["render", "error.md", "missing.md"]).exits(3);
}

#[test]
fn a_folder_becomes_a_site_and_keeps_its_structure() {
    let bench = Bench::with(&[
        ("sheets/b.md", HOLDS),
        ("sheets/a name.md", BROKEN),
        ("sheets/deep/er/c.MD", ERROR),
        ("sheets/README.md", HOLDS),
        ("sheets/_draft.md", HOLDS),
        ("sheets/.git/x.md", HOLDS),
    ]);
    let run = bench.run(&["render", "sheets", "-o", "site/new"]).exits(2);
    run.says(&["Wrote site/new/index.html: a list of 3 pages", "Open site/new/index.html in a browser."]);
    assert_eq!(
        bench.pages(),
        ["site/new/a name.html", "site/new/b.html", "site/new/deep/er/c.html", "site/new/index.html"]
    );
    let index = bench.read("site/new/index.html");
    for part in ["a%20name.html", "b.html", "deep", "Over", "Sound", "Wrong"] {
        assert!(index.contains(part), "no `{part}` in {index}");
    }
}

#[test]
fn pages_of_a_site_follow_one_another_in_the_order_of_their_author() {
    let bench = Bench::new();
    for (name, order) in [("a", ""), ("m", "order = 2\n"), ("in/z", "order = 1\n")] {
        bench.put(&format!("sheets/{name}.md"), format!("+++\ntitle = \"Sheet <{name}>\"\n{order}+++\nText.\n"));
    }
    bench.run(&["render", "--still", "sheets", "-o", "site"]).exits(0);
    let list = bench.read("site/index.html");
    let place = |href: &str| list.find(&format!("href=\"{href}\"")).unwrap();
    assert!(place("m.html") < place("a.html") && place("a.html") < place("in/z.html"));
    let links = |page: &str| -> Vec<(String, String)> {
        let document = Html::parse_document(&bench.read(page));
        let links = Selector::parse("nav.neighbours a").unwrap();
        let link = |link: ElementRef<'_>| (link.attr("href").unwrap().to_owned(), link.text().collect());
        document.select(&links).map(link).collect()
    };
    let link = |href: &str, title: &str| (href.to_owned(), title.to_owned());
    let search = |href: &str| link(href, "Search");
    let after_a = [link("../a.html", "Sheet <a>"), link("../index.html", "sheets"), search("../search.html")];
    assert_eq!(links("site/in/z.html"), after_a);
    let around_a = [
        link("m.html", "Sheet <m>"),
        link("index.html", "sheets"),
        link("in/z.html", "Sheet <in/z>"),
        search("search.html"),
    ];
    assert_eq!(links("site/a.html"), around_a);
    assert_eq!(
        links("site/m.html"),
        [link("index.html", "sheets"), link("a.html", "Sheet <a>"), search("search.html")]
    );
    bench.run(&["verify", "site/in/z.html", "site/m.html"]).exits(0);
    bench.run(&["render", "--still", "sheets/m.md"]).exits(0);
    assert_eq!(links("sheets/m.html"), []);
}

#[test]
fn without_an_output_folder_a_site_stands_among_its_worksheets() {
    let bench = Bench::with(&[("sheets/b.md", HOLDS), ("sheets/deep/c.md", HOLDS), ("other/d.md", HOLDS)]);
    bench.run(&["render", "sheets", "other/d.md"]).exits(0).says(&["Open sheets/index.html"]);
    assert_eq!(bench.pages(), ["other/d.html", "sheets/b.html", "sheets/deep/c.html", "sheets/index.html"]);
    assert!(!bench.read("sheets/index.html").contains("d.html"));

    let here = Bench::with(&[("b.md", HOLDS), ("deep/c.md", HOLDS)]);
    here.run(&["render", ".", "deep"]).exits(0).says(&["Wrote b.html", "Open index.html", "Open deep/index.html"]);
    assert_eq!(here.pages(), ["b.html", "deep/c.html", "deep/index.html", "index.html"]);
}

#[test]
fn an_index_of_ones_own_is_the_front_page() {
    let bench = Bench::with(&[("sheets/index.md", HOLDS), ("sheets/b.md", AT_RISK)]);
    bench.run(&["render", "sheets"]).exits(0).says(&["Open sheets/index.html"]);
    assert!(bench.read("sheets/index.html").contains("supply"), "the worksheet, not a list");
}

#[test]
fn two_worksheets_for_one_page_get_neither() {
    let bench = Bench::with(&[("a/x.md", HOLDS), ("b/x.md", BROKEN), ("b/y.md", HOLDS)]);
    let run = bench.run(&["render", "a", "b", "-o", "out"]).exits(3);
    run.warns(&["`a/x.md` and `b/x.md` would both be written to `out/x.html`", "Neither was written"]);
    assert_eq!(bench.pages(), ["out/index.html", "out/y.html"]);
}

#[test]
fn a_worksheet_that_is_asked_for_twice_is_written_once() {
    let bench = Bench::with(&[("a/x.md", HOLDS)]);
    for arguments in
        [&["render", "a/x.md", "a/x.md", "./a/x.md", "a/../a/x.md"][..], &["render", "a", "a/x.md", "a/", "-o", "out"]]
    {
        let run = bench.run(arguments).exits(0);
        assert_eq!(run.out.matches("x.html: 1 requirement").count(), 1, "{}", run.out);
    }
}

#[test]
fn an_older_page_is_replaced_and_nothing_else() {
    let bench = Bench::with(&[("x.md", HOLDS), ("y.md", HOLDS), ("y.html", "<p>written by hand</p>")]);
    bench.run(&["render", "x.md"]).exits(0);
    bench.put("x.md", HOLDS.replace("Sound", "Sounder"));
    bench.run(&["render", "x.md", "y.md"]).exits(3).warns(&["`y.html` stands in the way", "Move it away"]);
    assert!(bench.read("x.html").contains("Sounder"));
    assert_eq!(bench.read("y.html"), "<p>written by hand</p>");
    assert_eq!(bench.files(), ["x.html", "x.md", "y.html", "y.md"]);

    // A list of pages goes by the same rule.
    let site = Bench::with(&[("s/x.md", HOLDS), ("s/index.html", "<p>mine</p>")]);
    let run = site.run(&["render", "s"]).exits(3).warns(&["`s/index.html` stands in the way"]);
    assert!(!run.out.contains("Open"), "{}", run.out);
    assert_eq!(site.read("s/index.html"), "<p>mine</p>");
}

#[test]
fn a_failing_worksheet_leaves_its_old_page_and_no_part_of_a_new_one() {
    let bench = Bench::with(&[("x.md", HOLDS)]);
    bench.run(&["render", "x.md"]).exits(0);
    let page = bench.read("x.html");
    bench.put("x.md", b"\xff");
    bench.run(&["render", "x.md"]).exits(3);
    assert_eq!(bench.read("x.html"), page);
    fs::remove_file(bench.path("x.html")).unwrap();
    fs::create_dir(bench.path("x.html")).unwrap();
    bench.put("x.md", HOLDS);
    bench.run(&["render", "x.md"]).exits(3).warns(&["`x.html` stands in the way"]);
    assert_eq!(bench.files(), ["x.md"]);
}

#[test]
fn an_output_folder_that_cannot_be() {
    let bench = Bench::with(&[("a.md", HOLDS), ("b.md", HOLDS), ("file", "x")]);
    for output in ["file", "file/deeper"] {
        let run = bench.run(&["render", "a.md", "b.md", "-o", output]).exits(3);
        assert_eq!(run.err.matches("there is a file where").count(), 1, "reported once: {}", run.err);
        run.warns(&[&format!("nothing can be written to the folder `{output}`"), "with -o DIR"]);
    }
    #[cfg(target_os = "linux")]
    {
        // The superuser may write to any folder; nobody can write here.
        let run = bench.run(&["render", "a.md", "b.md", "-o", "/proc/benchleaf"]).exits(3);
        assert_eq!(run.err.matches("cannot be made").count(), 1, "reported once: {}", run.err);
        bench.run(&["render", "a.md", "-o", "/proc"]).exits(3).warns(&["`/proc/a.html` cannot be written"]);
    }
    assert_eq!(bench.files(), ["a.md", "b.md", "file"]);
}

#[test]
fn the_same_worksheet_gives_the_same_bytes_on_any_day() {
    let bench = Bench::with(&[("x.md", HOLDS), ("s/y.md", AT_RISK)]);
    let render = |output: &str, epoch: &str| {
        let mut command = bench.command(&["render", "x.md", "s", "-o", output]);
        Run::of(command.env("SOURCE_DATE_EPOCH", epoch))
    };
    render("one", "951782400").exits(0);
    render("two", "951782400").exits(0);
    for name in ["x.html", "y.html", "index.html"] {
        assert_eq!(bench.read(&format!("one/{name}")), bench.read(&format!("two/{name}")), "{name}");
    }
    assert!(bench.read("one/x.html").contains("2000-02-29"));
    render("three", "soon").exits(3).warns(&["SOURCE_DATE_EPOCH is `soon`", "seconds since 1970-01-01"]);
    assert!(!bench.path("three").exists());
}

#[test]
fn a_page_says_the_seed_and_the_samples_that_were_asked_for() {
    let bench = Bench::with(&[("x.md", HOLDS)]);
    bench.run(&["render", "x.md", "--seed", "771177", "--samples", "12345"]).exits(0);
    let page = bench.read("x.html");
    assert!(page.contains("771177"), "{page}");
}

#[test]
fn a_byte_order_mark_changes_nothing() {
    let bench = Bench::with(&[("x.md", HOLDS)]);
    bench.put("marked/x.md", format!("\u{feff}{HOLDS}"));
    let run = |path| Run::of(bench.command(&["render", path]).env("SOURCE_DATE_EPOCH", "0")).exits(0);
    run("x.md");
    run("marked/x.md");
    // The worksheet that the page carries has its mark, and a hash of its own.
    let shown = |name| bench.read(name).split_once("<footer").unwrap().0.to_owned();
    assert_eq!(shown("x.html"), shown("marked/x.html"));
}

#[cfg(unix)]
#[test]
fn a_page_is_for_all_to_read_as_any_new_file() {
    use std::os::unix::fs::PermissionsExt;

    let bench = Bench::with(&[("x.md", HOLDS)]);
    bench.run(&["render", "x.md"]).exits(0);
    let mode = |name: &str| fs::metadata(bench.path(name)).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode("x.html"), mode("x.md"));
}

#[test]
fn many_pages_are_counted_and_not_listed() {
    let bench = Bench::new();
    for number in 0..30 {
        bench.put(&format!("sheets/{number}.md"), HOLDS);
    }
    let run = bench.run(&["render", "sheets"]).exits(0);
    assert_eq!(run.out.lines().count(), 3, "{}", run.out);
    run.says(&["Wrote 30 pages: 30 requirements hold", "Wrote sheets/index.html: a list of 30 pages"]);
    assert_eq!(bench.pages().len(), 31);
}
