//! Files and folders that are not as one expects them: old pages stay whole, nothing is written elsewhere, each is reported.
#![cfg(unix)]

use std::{
    fs,
    os::unix::fs::{FileTypeExt, symlink},
    process::{Command, Stdio},
    thread,
    time::Duration,
};

use crate::bench::{Bench, HOLDS, Run};

/// A bench with so many worksheets in the folder `s`.
fn many(count: usize) -> Bench {
    let bench = Bench::new();
    for number in 0..count {
        bench.put(&format!("s/{number}.md"), HOLDS.replace("# Sound", &format!("# Sheet {number}")));
    }
    bench
}

/// Whether every page is whole.
fn are_whole(bench: &Bench) {
    for page in bench.pages() {
        let html = bench.read(&page);
        assert!(html.starts_with("<!DOCTYPE") && html.ends_with("</html>\n"), "{page}: {} bytes", html.len());
    }
}

#[test]
fn several_renders_into_one_folder_at_once() {
    let bench = many(12);
    let runs: Vec<_> = (0..4)
        .map(|_| {
            bench.command(&["render", "s", "-o", "out"]).stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap()
        })
        .collect();
    for run in runs {
        let output = run.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    }
    are_whole(&bench);
    assert_eq!(bench.pages().len(), 13);
    assert!(bench.files().iter().all(|name| !name.ends_with(".part")), "{:?}", bench.files());
}

#[test]
fn a_render_that_is_killed_leaves_whole_pages_and_the_next_one_ends_it() {
    let bench = many(40);
    bench.run(&["render", "s", "-o", "out"]).exits(0);
    for wait in [5, 20, 60] {
        let mut run =
            bench.command(&["render", "s", "-o", "out"]).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        thread::sleep(Duration::from_millis(wait));
        run.kill().unwrap();
        run.wait().unwrap();
        are_whole(&bench);
        assert_eq!(bench.pages().len(), 41);
    }
    bench.run(&["render", "s", "-o", "out"]).exits(0);
    assert_eq!(bench.pages().len(), 41);
}

/// As a full disk: no file may grow beyond some kilobytes.
#[test]
fn where_there_is_no_room_the_old_page_stays_whole_and_it_is_told() {
    let bench = many(2);
    bench.run(&["render", "s", "--still"]).exits(0);
    let old = bench.read("s/0.html");
    bench.put("s/0.md", HOLDS.replace("Sound", "Sounder"));
    let mut command = bench.any_command("sh");
    let program = env!("CARGO_BIN_EXE_benchleaf");
    command.args(["-c", "trap '' XFSZ; ulimit -f 4; exec \"$0\" render s --still", program]);
    Run::of(&mut command).exits(3).warns(&["`s/0.html` cannot be written", "`s/1.html` cannot be written"]);
    assert_eq!(bench.read("s/0.html"), old);
    assert!(bench.files().iter().all(|name| !name.ends_with(".part")), "{:?}", bench.files());
}

#[test]
fn a_link_in_the_place_of_a_page_is_replaced_and_not_followed() {
    let bench = Bench::with(&[("s/x.md", HOLDS), ("y.md", HOLDS), ("mine.html", "<p>mine</p>")]);
    bench.run(&["render", "y.md"]).exits(0);
    let page = bench.read("y.html");
    symlink("../y.html", bench.path("s/x.html")).unwrap();
    bench.put("s/x.md", HOLDS.replace("Sound", "Another"));
    bench.run(&["render", "s/x.md"]).exits(0);
    assert_eq!(bench.read("y.html"), page, "the page that the link led to");
    assert!(bench.read("s/x.html").contains("Another") && !bench.path("s/x.html").is_symlink());
    // A link to what is no page is left alone, and one that leads nowhere makes way.
    fs::remove_file(bench.path("s/x.html")).unwrap();
    symlink("../mine.html", bench.path("s/x.html")).unwrap();
    bench.run(&["render", "s/x.md"]).exits(3).warns(&["`s/x.html` stands in the way"]);
    assert_eq!(bench.read("mine.html"), "<p>mine</p>");
    fs::remove_file(bench.path("s/x.html")).unwrap();
    symlink("../gone.html", bench.path("s/x.html")).unwrap();
    bench.run(&["render", "s/x.md"]).exits(0);
    assert!(!bench.path("gone.html").exists() && bench.read("s/x.html").contains("Another"));
}

#[test]
fn an_output_folder_may_be_a_link() {
    let bench = Bench::with(&[("s/x.md", HOLDS)]);
    fs::create_dir(bench.path("real")).unwrap();
    symlink("real", bench.path("out")).unwrap();
    bench.run(&["render", "s", "-o", "out"]).exits(0);
    assert!(bench.path("real/x.html").is_file() && bench.path("out").is_symlink());
}

#[test]
fn names_that_differ_in_little_have_their_own_pages() {
    let bench = Bench::with(&[
        ("s/a.md", HOLDS),
        ("s/A.md", HOLDS),
        ("s/b/a.md", HOLDS),
        ("s/a.b.md", HOLDS),
        ("s/a .md", HOLDS),
    ]);
    if bench.files().len() == 5 {
        bench.run(&["render", "s", "-o", "out"]).exits(0);
        let wanted = ["out/A.html", "out/a .html", "out/a.b.html", "out/a.html", "out/b/a.html", "out/index.html"];
        assert_eq!(bench.pages(), wanted);
        let ending = Bench::with(&[("s/a.md", HOLDS), ("s/a.MD", HOLDS)]);
        ending.run(&["render", "s"]).exits(3).warns(&["would both be written to `s/a.html`"]);
    }
}

#[test]
fn a_pipe_is_no_worksheet_and_no_place_for_a_page() {
    let bench = Bench::with(&[("s/x.md", HOLDS), ("s/y.md", HOLDS)]);
    for pipe in ["s/pipe.md", "s/y.html"] {
        assert!(Command::new("mkfifo").arg(bench.path(pipe)).status().unwrap().success());
    }
    let run = bench.run(&["render", "s"]).exits(3);
    run.warns(&["`s/pipe.md` is neither a file nor a folder", "`s/y.html` stands in the way"]);
    assert!(bench.read("s/x.html").contains("Sound"));
    assert!(fs::metadata(bench.path("s/y.html")).unwrap().file_type().is_fifo());
    bench.run(&["check", "s/pipe.md"]).exits(3).warns(&["neither a file nor a folder"]);
}

#[test]
fn a_folder_named_as_a_worksheet_is_reported_and_the_rest_is_written() {
    let bench = Bench::with(&[("s/x.md/y.md", HOLDS), ("s/z.md", HOLDS)]);
    bench.run(&["render", "s"]).exits(3).warns(&["`s/x.md` is a folder"]);
    assert_eq!(bench.pages(), ["s/index.html", "s/z.html"]);
}

#[test]
fn without_any_output_stream_the_work_is_done() {
    let bench = Bench::with(&[("x.md", HOLDS)]);
    let mut command = bench.any_command("sh");
    command.args(["-c", "exec \"$0\" render x.md >&- 2>&-", env!("CARGO_BIN_EXE_benchleaf")]);
    Run::of(&mut command).exits(0);
    are_whole(&bench);
    assert_eq!(bench.pages(), ["x.html"]);
}

#[test]
fn limits_of_a_call_and_of_a_choice_are_named() {
    let bench = Bench::with(&[(
        "x.md",
        "```calc\na = 1 kΩ\nb = 2 kΩ\nc = 3 kΩ\nr = a / (a + b + c)\nbest = choose E192 for a, b, c so that r is 0.3\n```\n",
    )]);
    let run = bench.run(&["check", "x.md"]).exits(2);
    run.warns(&["56918400 combinations of preferred values are more than the 400000 that are tried", "coarser series"]);
    for samples in ["0", "99", "100000001"] {
        bench.run(&["check", "x.md", "--samples", samples]).exits(3).warns(&["100..=100000000"]);
    }
}
