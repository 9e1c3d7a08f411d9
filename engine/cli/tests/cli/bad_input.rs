//! Paths that cannot be used: each has a sentence that says so and a help, exits 3, and stops no other worksheet.

use std::fs::{self, File};

use crate::bench::{Bench, HOLDS};

/// The same bad path for `check` and `render`, beside a good worksheet that must come through.
#[track_caller]
fn refuses(bench: &Bench, path: &str, parts: &[&str]) {
    bench.put("good.md", HOLDS);
    bench.run(&["check", path, "good.md"]).exits(3).warns(parts).says(&["good.md: 1 requirement holds"]);
    bench.run(&["render", path, "good.md", "-o", "out"]).exits(3).warns(parts).says(&["Wrote"]);
    assert!(bench.read("out/good.html").contains("Sound"));
    assert!(bench.files().iter().all(|name| !name.ends_with(".part")), "{:?}", bench.files());
}

#[test]
fn a_missing_path() {
    let bench = Bench::with(&[("lamp.md", HOLDS)]);
    refuses(&bench, "lmap.md", &["`lmap.md` does not exist", "help: Check the spelling"]);
    refuses(&bench, "lamp", &["`lamp` does not exist", "Did you mean `lamp.md`?"]);
    refuses(&bench, "lamp.md/deeper.md", &["`lamp.md/deeper.md` cannot be read"]);
}

#[test]
fn text_that_is_not_utf8() {
    let bench = Bench::new();
    bench.put("latin.md", b"# R\n\n220 \xb5F\n");
    refuses(&bench, "latin.md", &["`latin.md` is not UTF-8 text: byte 9, in line 3,", "encoding UTF-8"]);
    bench.put("cut.md", b"# R\n\xc2");
    refuses(&bench, "cut.md", &["byte 4, in line 2"]);
    bench.put("wide.md", b"\xff\xfe#\0 \0R\0");
    refuses(&bench, "wide.md", &["`wide.md` is UTF-16 text", "encoding UTF-8"]);
}

#[test]
fn an_empty_file() {
    let bench = Bench::with(&[("empty.md", ""), ("blank.md", " \n\n\t\n"), ("mark.md", "\u{feff}\n")]);
    for name in ["empty.md", "blank.md", "mark.md"] {
        refuses(&bench, name, &[&format!("`{name}` is empty"), "benchleaf new NAME"]);
    }
}

#[test]
fn a_huge_file_and_one_just_small_enough() {
    let bench = Bench::new();
    let limit = 8 * 1024 * 1024;
    File::create(bench.path("huge.md")).unwrap().set_len(limit + 1).unwrap();
    refuses(&bench, "huge.md", &["`huge.md` is too large to be read: more than 8 MiB", "Split it"]);
    bench.put("large.md", vec![b'\n'; limit as usize]);
    bench.run(&["check", "large.md"]).exits(3).warns(&["`large.md` is empty"]);
}

#[test]
fn a_folder_without_worksheets() {
    let bench = Bench::with(&[
        ("none/README.md", HOLDS),
        ("none/notes.txt", HOLDS),
        ("none/_draft.md", HOLDS),
        ("none/.hidden/a.md", HOLDS),
        ("none/_parts/a.md", HOLDS),
        ("none/deep/er.html", ""),
    ]);
    refuses(&bench, "none", &["the folder `none` holds no worksheet", "README.md and names that begin with a dot"]);
}

#[test]
fn a_file_that_is_not_named_as_a_worksheet() {
    let bench = Bench::with(&[("page.html", "<p>")]);
    refuses(&bench, "page.html", &["`page.html` is not named as a worksheet", "rename it"]);
}

#[test]
fn a_folder_named_as_a_worksheet() {
    let bench = Bench::with(&[("odd.md/inner.md", HOLDS)]);
    refuses(&bench, "odd.md", &["`odd.md` is a folder, though it is named as a worksheet", "Rename the folder"]);
    let bench = Bench::with(&[("all/odd.md/inner.md", HOLDS), ("all/fine.md", HOLDS)]);
    refuses(&bench, "all", &["odd.md` is a folder, though it is named as a worksheet"]);
    assert!(bench.path("out/fine.html").is_file());
    assert!(!bench.path("out/odd.md").exists());
}

#[cfg(unix)]
#[test]
fn links_in_a_circle_and_to_nowhere() {
    use std::os::unix::fs::symlink;

    let bench = Bench::with(&[("all/fine.md", HOLDS)]);
    symlink("self.md", bench.path("self.md")).unwrap();
    refuses(&bench, "self.md", &["`self.md` is a link that leads nowhere, or back to itself"]);
    symlink("..", bench.path("all/round")).unwrap();
    symlink("gone.md", bench.path("all/dangling.md")).unwrap();
    symlink("gone.txt", bench.path("all/other")).unwrap();
    symlink("gone.md", bench.path("all/.#lock.md")).unwrap();
    let parts = ["the link `all/round/all` leads back to `all`", "`all/dangling.md` is a link that leads nowhere"];
    bench.put("good.md", HOLDS);
    let run = bench.run(&["check", "all"]).exits(3).says(&["all/fine.md: 1"]);
    assert!(!run.err.contains("other") && !run.err.contains("lock"), "{}", run.err);
    run.warns(&parts[1..]).warns(&["leads back to"]);
}

#[cfg(unix)]
#[test]
fn a_link_to_a_worksheet_is_followed() {
    let bench = Bench::with(&[("real.md", HOLDS)]);
    fs::create_dir(bench.path("all")).unwrap();
    std::os::unix::fs::symlink("../real.md", bench.path("all/linked.md")).unwrap();
    bench.run(&["check", "all"]).exits(0).says(&["all/linked.md: 1 requirement holds"]);
}

#[cfg(unix)]
#[test]
fn neither_a_file_nor_a_folder() {
    let bench = Bench::new();
    let _socket = std::os::unix::net::UnixListener::bind(bench.path("socket.md")).unwrap();
    refuses(&bench, "socket.md", &["`socket.md` is neither a file nor a folder"]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_file_that_cannot_be_read() {
    // The superuser may read any file; the start of a process's memory cannot be read by anyone.
    let bench = Bench::new();
    std::os::unix::fs::symlink("/proc/self/mem", bench.path("memory.md")).unwrap();
    refuses(&bench, "memory.md", &["`memory.md` cannot be read: ", "See that it is there and that you may read it"]);
}
