//! `benchleaf source` and `benchleaf verify`: a page gives its worksheet back, byte for byte, and is held against it.

use crate::bench::{AT_RISK, Bench, ERROR, HOLDS};

const SHEET: &str = "# A pulse\n\n```calc\nR = 1 kΩ ± 5 %\nC = 22 µF\nt [ms] = R * C\nkeep t below 30 ms\n```\n\nIt lasts {t}, {t:range}.\n\n\
    ```plot\nt against R from 1 kΩ to 2 kΩ\nspread of t\n```\n";

#[test]
fn a_page_gives_its_worksheet_back_byte_for_byte() {
    for source in [
        SHEET,
        HOLDS,
        ERROR,
        "\u{feff}# a\r\n\r\n```calc\r\nx = 1 V\r\n```\r\n",
        "</script><!-- \u{2028} é e\u{301}\n",
        "x",
    ] {
        let bench = Bench::with(&[("a.md", source)]);
        for arguments in [&["render", "a.md"][..], &["render", "--still", "a.md"]] {
            bench.run(arguments);
            assert_eq!(bench.run(&["source", "a.html"]).exits(0).out, source);
        }
    }
}

#[test]
fn a_page_as_it_was_written_verifies() {
    let bench = Bench::with(&[("a.md", SHEET), ("risk.md", AT_RISK), ("wrong.md", ERROR)]);
    bench.run(&["render", "--samples", "500", "--seed", "7", "a.md"]).exits(0);
    bench.run(&["render", "risk.md"]).exits(0);
    bench.run(&["verify", "a.html", "risk.html"]).exits(0).says(&[
        "a.html: all",
        "figures still hold",
        "risk.html: all",
    ]);
    bench.run(&["render", "wrong.md"]).exits(2);
    bench.run(&["verify", "wrong.html"]).exits(2).says(&["holds 1 error"]);
}

#[test]
fn a_figure_that_was_changed_is_told_with_its_place() {
    let bench = Bench::with(&[("a.md", SHEET)]);
    bench.run(&["render", "a.md"]).exits(0);
    let page = bench.read("a.html");
    let (head, body) = page.split_at(page.find("<main").unwrap());
    let prose = page.rfind("22.0\u{202f}ms</data>").unwrap();
    for (what, changed) in [
        ("prose", format!("{}21.0{}", &page[..prose], &page[prose + 4..])),
        ("verdict", head.to_owned() + &body.replacen("data-status=\"holds\"", "data-status=\"broken\"", 1)),
        ("drawing", head.to_owned() + &body.replacen("<svg", "<svg data-x=\"1\"", 1)),
    ] {
        assert_ne!(changed, page);
        bench.put("b.html", changed);
        let run = bench.run(&["verify", "b.html"]).exits(1).says(&["difference"]);
        if what == "prose" {
            run.says(&["the page has 21.0", "the worksheet comes to 22.0"]);
        }
    }
}

#[test]
fn what_is_no_page_of_ours_is_refused() {
    let bench = Bench::with(&[("a.md", SHEET), ("other.html", "<!doctype html><title>x</title>"), ("latin.html", "")]);
    bench.put("latin.html", b"\xff\xfe<");
    for command in ["source", "verify"] {
        bench.run(&[command, "other.html"]).exits(3).warns(&["is no page of Benchleaf"]);
        bench.run(&[command, "latin.html"]).exits(3).warns(&["is not UTF-8 text"]);
        bench.run(&[command, "none.html"]).exits(3);
        bench.run(&[command]).exits(3);
    }
    bench.run(&["render", "a.md"]).exits(0);
    let page = bench.read("a.html");
    let worksheet = page.find("id=\"_worksheet\">").unwrap() + "id=\"_worksheet\">".len();
    bench.put("a.html", format!("{}!{}", &page[..worksheet], &page[worksheet..]));
    bench.run(&["source", "a.html"]).exits(3).warns(&["its worksheet does not read"]);
}

#[test]
fn raw_html_is_text_unless_it_is_let_through_and_then_it_is_clean() {
    let source = "Press <kbd>Ctrl</kbd>.\n\n<div onclick=\"x()\"><script>y()</script><p>Block</p></div>\n";
    let bench = Bench::with(&[("a.md", source)]);
    bench.run(&["render", "--still", "a.md"]).exits(0);
    assert!(bench.read("a.html").contains("&lt;kbd&gt;"));
    bench.run(&["render", "--still", "--html", "a.md"]).exits(0);
    let page = bench.read("a.html");
    assert!(page.contains("<kbd>Ctrl</kbd>") && page.contains("<p>Block</p>"), "{page}");
    let body = &page[page.find("<main").unwrap()..page.find("</main>").unwrap()];
    assert!(!body.contains("onclick") && !body.contains("<script"), "{body}");
    bench.run(&["verify", "a.html"]).exits(0);
}
