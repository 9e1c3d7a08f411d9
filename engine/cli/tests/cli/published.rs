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
fn of_a_page_of_another_version_it_says_what_may_have_changed() {
    let bench = Bench::with(&[("a.md", SHEET)]);
    bench.run(&["render", "a.md"]).exits(0);
    let version = format!("\"engine\":\"{}\"", env!("CARGO_PKG_VERSION"));
    let page = bench.read("a.html");
    assert!(page.contains(&version));
    let old = page.replace(&version, "\"engine\":\"0.0.1\"");
    bench.put("b.html", &old);
    bench.run(&["verify", "b.html"]).exits(0).says(&["made by Benchleaf 0.0.1", "still hold"]);
    let at = old.rfind("22.0\u{202f}ms</data>").unwrap();
    bench.put("c.html", format!("{}21.0{}", &old[..at], &old[at + 4..]));
    bench.run(&["verify", "c.html"]).exits(1).says(&["no nominal value differs", "chapter of changes"]);
    let (head, body) = old.split_at(old.find("<main").unwrap());
    bench.put("d.html", head.to_owned() + &body.replacen("value=\"0.022\"", "value=\"0.021\"", 1));
    bench.run(&["verify", "d.html"]).exits(1).says(&["1 difference of a nominal value", "corrected"]);
}

#[test]
fn readings_of_a_file_go_with_the_page() {
    let sheet =
        "```calc\nt = 22 s ± 20 %\n```\n\n```bench t \"stopwatch\"\nfrom \"logs/t.csv\" column \"t / s\"\n```\n";
    let bench = Bench::with(&[
        ("a.md", sheet),
        ("logs/t.csv", "date,t / s\n2026-11-25,23.1\n2026-11-25,\"23\t3\"\n2026-12-02,22.5\n2026-12-02,22.9\n"),
    ]);
    bench.run(&["render", "a.md"]).exits(0).warns(&["W-reading", "line 3 of `logs/t.csv` does not count"]);
    std::fs::remove_file(bench.path("logs/t.csv")).unwrap();
    bench.run(&["verify", "a.html"]).exits(0).says(&["still hold"]);
    bench.run(&["check", "a.md"]).exits(2).warns(&["cannot be read as a table of readings"]);
    bench.run(&["diff", "a.html", "a.html"]).exits(0).says(&["nothing differs"]);
}

#[test]
fn a_figure_that_was_changed_is_reported_with_its_place() {
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

/// Kinds of edit that somebody may make to a page, and each is reported.
#[test]
fn fifteen_kinds_of_edit_are_each_told() {
    const RICH: &str = "+++\nsummary = \"A short one\"\nauthor = \"Ada\"\n+++\n# A pulse\n\nPlease read [this](https://example.org/a).\n\n\
        | part | note |\n|---|---|\n| lamp | old |\n\n```calc\n# a comment\nR = 1 kΩ ± 5 % \"resistor\"\nC = 22 µF\nt [ms] = R * C \"pulse\"\n\
        keep t below 30 ms \"soon over\"\n```\n\n```danger\nHot parts.\n```\n\n```plot\nt against R from 1 kΩ to 2 kΩ\n```\n\n\
        ```exercise ex\nask \"How long is it?\"\nanswer = t\n```\n";
    let bench = Bench::with(&[("a.md", RICH)]);
    bench.run(&["render", "a.md"]).exits(0);
    bench.run(&["verify", "a.html"]).exits(0);
    let page = bench.read("a.html");
    let (head, body) = page.split_at(page.find("<header").unwrap());
    let worksheet = bench.run(&["source", "a.html"]).exits(0).out;
    let edits = [
        ("a word of prose", "Please read", "Do not read"),
        ("a link", "https://example.org/a", "https://example.com/a"),
        ("a cell of a table", "<td>old", "<td>new"),
        ("a label", ">Pulse<", ">Impulse<"),
        ("a name in a formula", "<mi class=\"letter\">R</mi>", "<mi class=\"letter\">S</mi>"),
        ("a sign in a formula", "<mo>·</mo>", "<mo>+</mo>"),
        ("a value", "22.0", "21.0"),
        ("a unit", "kΩ", "MΩ"),
        ("the word of a verdict", ">holds<", ">broken<"),
        ("the status of a verdict", "data-status=\"holds\"", "data-status=\"broken\""),
        ("the signal word of a note", "DANGER", "NOTICE"),
        ("the text of a note", "Hot parts", "Cold parts"),
        ("a stroke of a drawing", "class=\"worst\" d=\"M", "class=\"worst\" d=\"M0 0M"),
        ("the question of an exercise", "How long", "How short"),
        ("the title", "A pulse", "Two pulses"),
        ("the author", "Ada", "Bob"),
        ("the hash", "class=\"hash\" title=", "class=\"hash\">0000000000000000</span><span title="),
        ("a handler", "<p>Please", "<p onclick=\"x()\">Please"),
        ("a style", "<p>Please", "<p style=\"display:none\">Please"),
        ("another script", "</footer>", "</footer><script>x()</script>"),
        ("the script", "\"use strict\";", "\"use strict\"; x();"),
        ("another part", "</footer>", "</footer><div>Buy this</div>"),
    ];
    for (what, old, new) in edits {
        assert!(body.contains(old), "{what}: no `{old}` in {}", &body[..body.find("<footer").unwrap()]);
        bench.put("b.html", head.to_owned() + &body.replacen(old, new, 1));
        let run = bench.run(&["verify", "b.html"]);
        assert_eq!(run.status, 1, "{what}: {}{}", run.out, run.err);
    }
    // What a page in another language says after a change comes from the words in it.
    bench.put("d.md", worksheet.replacen("+++\n", "+++\nlang = \"de\"\n", 1));
    bench.run(&["render", "d.md"]).exits(0);
    bench.run(&["verify", "d.html"]).exits(0);
    let german = bench.read("d.html");
    let words = german.split("id=\"_words\">").nth(1).unwrap().split("</script>").next().unwrap();
    assert!(words.contains("eingehalten"));
    for other in [words.replace("eingehalten", "verletzt"), "{}".to_owned()] {
        bench.put("b.html", german.replacen(words, &other, 1));
        bench.run(&["verify", "b.html"]).exits(1).says(&["other words"]);
    }
    let looser = page.replacen("script-src &#39;", "script-src &#39;unsafe-inline&#39; &#39;", 1);
    assert_ne!(looser, page);
    bench.put("b.html", looser);
    bench.run(&["verify", "b.html"]).exits(1).says(&["policy"]);
    // Another worksheet inside, one that comes to the same figures among them.
    bench.put("c.md", worksheet.replace("a comment", "another comment"));
    bench.run(&["render", "c.md"]).exits(0);
    let other = bench.read("c.html");
    let inside = |page: &str| {
        let from = page.find("id=\"_worksheet\">").unwrap() + "id=\"_worksheet\">".len();
        page[from..from + page[from..].find('<').unwrap()].to_owned()
    };
    bench.put("b.html", page.replace(&inside(&page), &inside(&other)));
    bench.run(&["verify", "b.html"]).exits(1).says(&["the foot"]);
}

#[test]
fn a_page_that_asks_for_too_much_work_is_refused() {
    let bench = Bench::with(&[("a.md", SHEET)]);
    bench.run(&["render", "--still", "--samples", "100", "a.md"]).exits(0);
    let page = bench.read("a.html");
    let many = page.replace("\"samples\":100,", "\"samples\":18446744073709551615,");
    assert_ne!(page, many);
    bench.put("a.html", many);
    bench.run(&["verify", "a.html"]).exits(3).warns(&["number of simulated builds"]);
}

#[test]
fn a_page_without_a_title_is_called_by_its_file_and_verifies() {
    let bench = Bench::with(&[("555.md", "```calc\nx = 1 V\n```\n")]);
    bench.run(&["render", "555.md"]).exits(0);
    bench.run(&["verify", "555.html"]).exits(0);
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
