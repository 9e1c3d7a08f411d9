//! Pictures and links of worksheets, from their files to a page that verifies.

use std::fs;

use crate::bench::Bench;

const SHEET: &str = "# Board\n\n![small](small.png) ![large](in/large%20one.png) ![drawn](d.svg)\n\n\
    ![gone](none.png) ![out](../x.png) ![](small.png) ![text](a.md) [x](b.md) [y](#nope) [z](#two) [v](#value-R)\n\n\
    ```calc\nR = 1 kΩ\n```\n\n## Two\n";

#[test]
fn pictures_go_into_the_page_or_beside_it_and_the_page_verifies() {
    let bench = bench();
    bench.run(&["render", "--still", "a.md", "-o", "out"]).exits(0);
    let page = bench.read("out/a.html");
    for shown in [
        r#"alt="small" width="7" height="5" loading="lazy" data-picture="small.png""#,
        r#"alt="large" width="700" height="500" loading="lazy""#,
        r#"src="data:image/png;base64,"#,
        r#"src="data:image/svg+xml;base64,"#,
        "(not shown: none.png)",
        "(not shown: ../x.png)",
        "(not shown: a.md)",
    ] {
        assert!(page.contains(shown), "{shown}");
    }
    // The large one beside the page, under a name that nothing else has.
    let copies: Vec<_> = fs::read_dir(bench.path("out"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".png"))
        .collect();
    let [copy] = copies.as_slice() else { panic!("{copies:?}") };
    assert!(page.contains(&copy.replace(' ', "%20")), "{copy}");
    assert_eq!(fs::read(bench.path("out").join(copy)).unwrap(), png(700, 500, 400_000));
    bench.run(&["verify", "out/a.html"]).exits(0);
    assert_eq!(bench.run(&["source", "out/a.html"]).exits(0).out, SHEET);

    // What stands under a picture's name and is another file is left alone.
    bench.put(&format!("out/{copy}"), "mine");
    bench.run(&["render", "--still", "a.md", "-o", "out"]).exits(3);
    assert_eq!(bench.read(&format!("out/{copy}")), "mine");

    // A page beside its worksheet has the large one where it is.
    bench.run(&["render", "--still", "a.md"]).exits(0);
    assert!(bench.read("a.html").contains(r#"src="in/large%20one.png""#));
    bench.run(&["verify", "a.html"]).exits(0);
    let page = bench.read("a.html").replace("(not shown: none.png)", "(not shown)");
    bench.put("changed.html", page);
    bench.run(&["verify", "changed.html"]).exits(1);
}

#[test]
fn check_says_what_is_missing_and_nothing_of_what_is_there() {
    let run = bench().run(&["check", "a.md"]).exits(0);
    for said in [
        "the picture `none.png` is not shown: there is no such file",
        "the picture `../x.png` is not shown: it is outside the worksheet's folder",
        "the picture `small.png` has no alternative text",
        "the picture `a.md` is not shown: it is no PNG, JPEG, WebP or SVG picture",
        "the link leads to `b.md`, but there is no such file",
        "the link leads to the heading `#nope`, which this worksheet does not have",
    ] {
        assert!(run.err.contains(said), "{said}\n{}", run.err);
    }
    assert_eq!(run.err.matches("W-picture").count() + run.err.matches("W-link").count(), 6, "{}", run.err);
}

#[cfg(unix)]
#[test]
fn a_link_does_not_lead_out_of_the_folder() {
    let bench = Bench::with(&[("sheets/a.md", "![a](x.png)\n\n```calc\nR = 1 V\n```\n")]);
    bench.put("secret.png", png(7, 5, 0));
    std::os::unix::fs::symlink(bench.path("secret.png"), bench.path("sheets/x.png")).unwrap();
    let run = bench.run(&["check", "sheets/a.md"]).exits(0);
    assert!(run.err.contains("outside the worksheet's folder"), "{}", run.err);
}

fn bench() -> Bench {
    let bench = Bench::with(&[
        ("a.md", SHEET),
        ("d.svg", "<svg xmlns='http://www.w3.org/2000/svg' width='40' height='20'><script>x</script></svg>"),
    ]);
    bench.put("small.png", png(7, 5, 0));
    bench.put("in/large one.png", png(700, 500, 400_000));
    bench
}

/// The head of a picture (PNG, ISO/IEC 15948, 5.6), and as many bytes behind it.
fn png(width: u32, height: u32, more: usize) -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
    bytes.extend([width.to_be_bytes(), height.to_be_bytes()].concat());
    bytes.extend([8, 2, 0, 0, 0, 0, 0, 0, 0]);
    bytes.extend(vec![0; more]);
    bytes
}
