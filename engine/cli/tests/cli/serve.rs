//! `benchleaf serve` as its clients meet it: browsers, and whatever else speaks to a port.
#![cfg(unix)]

use std::{
    io::{BufRead, BufReader, Read, Write},
    net::TcpStream,
    process::{Child, ChildStdout, Stdio},
    sync::{Arc, Mutex},
    thread::{self, JoinHandle},
    time::{Duration, Instant},
};

use nix::{
    sys::signal::{Signal, kill},
    unistd::Pid,
};
use serde_json::Value;

use crate::bench::{Bench, ERROR, HOLDS};

#[test]
fn a_folder_is_shown_and_nothing_is_written() {
    let bench =
        Bench::with(&[("sheets/a.md", HOLDS), ("sheets/deep/b c.md", HOLDS), ("sheets/README.md", "# Lamps\n")]);
    bench.put("sheets/large.png", png(400_000));
    bench.put("sheets/c.md", "# Picture\n\n![A lamp](large.png)\n");
    let before = bench.files();
    let preview = Preview::of(&bench, "sheets");
    let list = preview.get("/");
    for part in ["HTTP/1.1 200 OK\r\n", "<h1>Lamps</h1>", "href=\"a.html\"", "href=\"deep/b%20c.html\"", "1 hold"] {
        assert!(list.contains(part), "no `{part}` in {list}");
    }
    for path in ["/a.html", "/deep/b%20c.html", "/a.html?current", "/%61.html"] {
        let page = preview.get(path);
        assert!(
            page.contains("200 OK") && page.contains("<h1>Sound</h1>") && page.contains("id=\"_preview\""),
            "{page}"
        );
    }
    assert!(preview.get("/deep/b%20c.html").contains("../benchleaf.js"));
    assert!(preview.get("/c.html").contains("src=\"large.png\""));
    let large = preview.get("/large.png");
    assert!(large.contains("Content-Type: image/png\r\n") && large.contains("Content-Length: 400000\r\n"));
    assert!(preview.get("/benchleaf.js").contains("text/javascript"));
    assert!(preview.get("/_preview/worker.js").contains("connect-src 'self'"));
    assert_eq!(bench.files(), before);
}

#[test]
fn the_pages_of_the_site_are_those_that_are_published() {
    let full = "# Lamp\n\n```calc\nR = 220 Ω ± 5 %\nI = 5 V / R\n```\n\n```plot\ntitle \"Current\"\nI [mA] against R from 100 Ω to 500 Ω\n```\n\n```exercise ohm\nask \"What current flows at 5 V?\"\n                answer [mA] = 5 V / R within 2 %\npoints 2\n```\n\n```warning\nIt gets hot.\n```\n\n```parts\n\"resistor\" 0.10 EUR @R1\n```\n";
    let bench =
        Bench::with(&[("sheets/a.md", full), ("sheets/deep/b.md", HOLDS), ("sheets/deep/README.md", "# Deeper\n")]);
    bench.run(&["render", "sheets", "-o", "site"]).exits(0);
    let preview = Preview::of(&bench, "sheets");
    for name in ["index.html", "search.html", "exercises.html", "parts.html", "safety-notes.html", "deep/index.html"] {
        let page = preview.get(&format!("/{name}"));
        let published = bench.read(&format!("site/{name}"));
        assert!(page.starts_with("HTTP/1.1 200 OK\r\n"), "{name}: {page}");
        assert_eq!(main(&page), main(&published), "{name}");
        assert!(page.contains("id=\"_preview\""), "{name}");
    }
    let index = preview.get("/search-index.js");
    assert!(index.ends_with(&bench.read("site/search-index.js")), "{index}");
    assert!(preview.get("/a.html").contains("href=\"search.html\""));
    assert!(preview.get("/deep/b.html").contains("href=\"../search.html\""));
    for (name, neighbour) in [
        ("a.html", "<a rel=\"next\" href=\"deep/b.html\">Sound</a>"),
        ("deep/b.html", "<a rel=\"prev\" href=\"../a.html\">Lamp</a>"),
    ] {
        assert!(bench.read(&format!("site/{name}")).contains(neighbour), "{name}");
        let page = preview.get(&format!("/{name}"));
        assert!(page.contains(neighbour), "{name}: {page}");
        assert_eq!(page.contains("rel=\"prev\""), name != "a.html");
    }
    let picture = preview.get("/a.picture.svg");
    assert!(picture.contains("Content-Type: image/svg+xml\r\n"), "{picture}");
    assert!(picture.ends_with(&bench.read("site/a.picture.svg")), "{picture}");
    assert!(preview.get("/deep/b.picture.svg").starts_with("HTTP/1.1 404 "));
    for none in ["/deep/search.html", "/deeper/index.html", "/feed.xml"] {
        assert!(preview.get(none).starts_with("HTTP/1.1 404 "), "{none}");
    }

    let listed = |name: &str| shown(&preview.get(name));
    let before = listed("/exercises.html");
    let listener = preview.listen();
    bench.put("sheets/a.md", full.replace("What current", "Which current"));
    until("the list is another", || (listener.last("/exercises.html")?["sound"] != before.as_str()).then_some(()));
    assert!(preview.get("/exercises.html").contains("ohm"));
    bench.put("sheets/a.md", HOLDS);
    let state = until("nothing is listed", || {
        let state = listener.last("/exercises.html")?;
        (!state["problems"].as_array().unwrap().is_empty()).then_some(state)
    });
    assert_eq!(state["problems"][0]["message"], "no worksheet has anything that this page would list");
    assert!(
        preview.get("/deep/b.html").contains("<a rel=\"prev\" href=\"../a.html\">Sound</a>"),
        "the link is called anew"
    );
    assert!(
        preview.get("/exercises.html").contains("Which current")
            && preview.get("/exercises.html?current").contains("No page")
    );
}

#[test]
fn a_worksheet_is_shown_alone() {
    let bench = Bench::with(&[("a.md", HOLDS), ("b.md", HOLDS)]);
    let preview = Preview::of(&bench, "a.md");
    assert!(preview.get("/").contains("302 Found\r\n") && preview.get("/").contains("Location: /a.html\r\n"));
    assert!(preview.get("/a.html").contains("id=\"_engine\""));
    assert!(preview.get("/b.html").starts_with("HTTP/1.1 404"));
}

#[test]
fn nothing_outside_is_shown() {
    let bench = Bench::with(&[
        ("secret.md", "# Secret\n"),
        ("secret.png", "not even a picture"),
        ("sheets/a.md", HOLDS),
        ("sheets/.hidden.md", "# Secret\n"),
        ("sheets/_draft.md", "# Secret\n"),
        ("sheets/notes.txt", "Secret"),
        ("sheets/table.csv", "Secret"),
    ]);
    bench.put("secret-picture.png", png(1000));
    for (link, to) in [("out.md", "secret.md"), ("out.png", "secret-picture.png"), ("up", ".")] {
        std::os::unix::fs::symlink(bench.path(to), bench.path("sheets").join(link)).unwrap();
    }
    let preview = Preview::of(&bench, "sheets");
    let mut paths: Vec<String> = [
        "/../secret.html",
        "/../secret.md",
        "/..%2fsecret.html",
        "/%2e%2e/secret.html",
        "/%2e%2e%2fsecret.html",
        "/.%2e/secret.md",
        "/%252e%252e/secret.html",
        "/a/../../secret.html",
        "/..\\secret.html",
        "/%5c..%5csecret.html",
        "/%c0%ae%c0%ae/secret.html",
        "/out.html",
        "/out.md",
        "/out.png",
        "/up/secret.html",
        "/up/secret-picture.png",
        "/.hidden.html",
        "/_draft.html",
        "/notes.txt",
        "/table.csv",
        "/a.md",
        "//secret.html",
        "/./a.html",
        "/a.html/",
        "/a.html%00",
        "/%00",
        "/%",
        "/%zz",
        "/a.html/../a.html",
        "/file:///etc/passwd",
        "/_preview/",
        "/_preview/../a.html",
        "/con.html",
        "/\u{2025}/secret.html",
    ]
    .map(str::to_owned)
    .to_vec();
    paths.push(format!("/{}", bench.path("secret.html").display()));
    paths.push(format!("/{}", "../".repeat(2000)));
    for path in paths {
        let answer = preview.get(&path);
        assert!(answer.starts_with("HTTP/1.1 404 Not Found\r\n") && !answer.contains("Secret"), "{path}: {answer}");
    }
    assert!(!preview.get("/").contains("Secret"));
    for target in ["http://127.0.0.1/a.html", "*", "a.html", ""] {
        let answer = preview.ask(&format!("GET {target} HTTP/1.1\r\nHost: {}\r\n\r\n", preview.host()));
        assert!(answer.starts_with("HTTP/1.1 404") || answer.starts_with("HTTP/1.1 400"), "{target}: {answer}");
    }
}

#[test]
fn other_hosts_and_other_methods_are_refused() {
    let bench = Bench::with(&[("a.md", HOLDS)]);
    let preview = Preview::of(&bench, ".");
    let own = preview.host();
    let port = preview.port;
    assert!(preview.get("/a.html").contains("Sound"));
    assert!(preview.ask(&format!("GET /a.html HTTP/1.1\r\nhost: LOCALHOST:{port}\r\n\r\n")).contains("Sound"));
    for hosts in [
        String::new(),
        "Host: \r\n".to_owned(),
        "Host: evil.example\r\n".to_owned(),
        format!("Host: evil.example:{port}\r\n"),
        format!("Host: 127.0.0.1.evil.example:{port}\r\n"),
        format!("Host: localhost.evil.example:{port}\r\n"),
        format!("Host: evil.example\r\nHost: {own}\r\n"),
        format!("Host: {own}\r\nHost: {own}\r\n"),
        format!("Host: {own}, evil.example\r\n"),
        format!("Host: 0.0.0.0:{port}\r\n"),
        format!("Host: 127.0.0.1:{}\r\n", port ^ 1),
        "Host: 127.0.0.1\r\n".to_owned(),
        format!("X-Forwarded-Host: {own}\r\n"),
    ] {
        for path in ["/", "/a.html", "/benchleaf.js", "/_preview/events"] {
            let answer = preview.ask(&format!("GET {path} HTTP/1.1\r\n{hosts}\r\n"));
            assert!(answer.starts_with("HTTP/1.1 421 ") && !answer.contains("Sound"), "{hosts}: {answer}");
        }
    }
    for method in ["POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "CONNECT", "get", "GETS"] {
        let body = "x".repeat(100_000);
        let request = format!("{method} /a.html HTTP/1.1\r\nHost: {own}\r\nContent-Length: 100000\r\n\r\n{body}");
        let answer = preview.ask(&request);
        assert!(
            answer.starts_with("HTTP/1.1 405 ") && answer.contains("\r\nAllow: GET, HEAD\r\n"),
            "{method}: {answer}"
        );
    }
    let whole = preview.get("/a.html");
    let head = preview.ask(&format!("HEAD /a.html HTTP/1.1\r\nHost: {own}\r\n\r\n"));
    assert_eq!(head, whole[..whole.find("\r\n\r\n").unwrap() + 4]);
    for header in
        ["X-Content-Type-Options: nosniff", "Cross-Origin-Resource-Policy: same-origin", "Cache-Control: no-store"]
    {
        assert!(head.contains(header), "{head}");
    }
}

#[test]
fn clients_that_send_too_much_or_too_slowly_harm_nobody() {
    let bench = Bench::with(&[("a.md", HOLDS)]);
    let preview = Preview::of(&bench, ".");
    let own = preview.host();
    let long = "x".repeat(20_000);
    for head in [
        format!("GET /{long} HTTP/1.1\r\nHost: {own}\r\n\r\n"),
        format!("GET / HTTP/1.1\r\nHost: {own}\r\nX: {long}\r\n\r\n"),
        format!("GET / HTTP/1.1\r\nHost: {own}\r\n{}\r\n", "X: y\r\n".repeat(101)),
        format!("GET / HTTP/1.1\r\nX: {}", "x".repeat(2_000_000)),
    ] {
        let answer = preview.ask(&head);
        assert!(answer.starts_with("HTTP/1.1 431 "), "{answer}");
    }
    for head in [
        "\u{16}\u{3}\u{1}\u{2}\r\n\r\n",
        "GET\r\n\r\n",
        "GET / HTTP/9\r\n\r\n",
        "GET / HTTP/1.1\r\nno colon\r\n\r\n",
        "\0\0\0\0",
    ] {
        let answer = preview.ask(head);
        assert!(answer.starts_with("HTTP/1.1 400 "), "{head:?}: {answer}");
    }
    // Some never finish, some leave at once, some read nothing of what they asked for; and there are more than may be open at once.
    let slow: Vec<TcpStream> = (0..300).map(|_| preview.connect()).collect();
    for (i, mut stream) in slow.iter().enumerate() {
        stream.write_all(&format!("GET / HTTP/1.1\r\nHost: {own}\r\n").as_bytes()[..i % 30]).unwrap();
    }
    for _ in 0..30 {
        let mut stream = preview.connect();
        stream.write_all(format!("GET /benchleaf.js HTTP/1.1\r\nHost: {own}\r\n\r\n").as_bytes()).unwrap();
    }
    assert!(preview.get("/a.html").contains("Sound"));
    let mut first = &slow[29];
    let mut answer = String::new();
    first.read_to_string(&mut answer).unwrap();
    assert_eq!(answer, "", "a head that does not come ends the connection");
    assert!(preview.get("/a.html").contains("Sound"));
}

#[test]
fn every_listener_hears_the_last_of_many_saves() {
    let bench = Bench::with(&[("a.md", HOLDS), ("b.md", HOLDS)]);
    let preview = Preview::of(&bench, ".");
    let sheet = |n: usize| format!("# Sound\n\nSave {n}.\n\n```calc\nV = {n} V ± 1 %\n```\n");
    preview.get("/a.html");
    preview.get("/b.html");
    let listeners: Vec<Listener> = (0..20).map(|_| preview.listen()).collect();
    for n in 0..200 {
        // In place, or by another file that takes its place, as editors do.
        if n % 2 == 0 {
            bench.put("a.md", sheet(n));
        } else {
            bench.put("a.md~", sheet(n));
            std::fs::rename(bench.path("a.md~"), bench.path("a.md")).unwrap();
        }
        thread::sleep(Duration::from_millis(n as u64 % 5));
    }
    let last = until("the page shows the last save", || {
        let page = preview.get("/a.html");
        page.contains("Save 199.").then(|| shown(&page))
    });
    let late = preview.listen();
    for listener in listeners.iter().chain([&late]) {
        until("a listener hears of it", || (listener.last("/a.html")?["sound"] == last.as_str()).then_some(()));
        assert_eq!(listener.last("/a.html").unwrap()["problems"], Value::Array(Vec::new()));
    }
    assert_eq!(late.heard("/a.html"), 1, "one who comes late hears how it stands, and not how it came to that");
    assert_eq!(listeners[0].heard("/b.html"), 1, "a page that is as it was is no news");
}

#[test]
fn an_error_leaves_the_page_as_it_was() {
    let bench = Bench::with(&[("a.md", HOLDS)]);
    let preview = Preview::of(&bench, ".");
    let sound = shown(&preview.get("/a.html"));
    let listener = preview.listen();
    let said = |wanted: &str| {
        until(wanted, || {
            let state = listener.last("/a.html")?;
            let is_it = match wanted {
                "no error" => state["problems"].as_array().unwrap().is_empty(),
                _ => state["problems"][0]["message"].as_str().is_some_and(|message| message.contains(wanted)),
            };
            is_it.then_some(state)
        })
    };
    bench.put("a.md", ERROR);
    let state = said("is not defined");
    let problem = &state["problems"][0];
    assert_eq!((&problem["line"], &problem["column"]), (&5.into(), &6.into()));
    assert_eq!((&problem["code"], &problem["marked"]), (&"E-unknown-name".into(), &"W".into()));
    assert_eq!((&problem["before"], &problem["after"]), (&"keep ".into(), &" below 6 V".into()));
    assert_eq!(state["sound"], sound.as_str());
    assert!(preview.get("/a.html").contains("<h1>Sound</h1>"));
    assert!(preview.get("/a.html?current").contains("<h1>Wrong</h1>"));

    bench.put("a.md", "");
    said("is empty");
    bench.put("a.md", [b'#', b' ', 0xff]);
    said("is not UTF-8 text");
    std::fs::remove_file(bench.path("a.md")).unwrap();
    said("cannot be read");
    assert_eq!(listener.last("/a.html").unwrap()["sound"], sound.as_str());
    bench.put("a.md", HOLDS);
    assert_eq!(said("no error")["sound"], sound.as_str());
}

#[test]
fn what_a_page_depends_on_is_followed_too() {
    let sheet =
        "# T\n\n```calc\nt = 2 s ± 5 %\n```\n\n```bench t \"stopwatch\"\nfrom \"log.csv\" column \"t / s\"\n```\n";
    let bench = Bench::with(&[("a.md", sheet), ("log.csv", "date,t / s\n2026-01-01,2.01\n2026-01-01,2.03\n")]);
    let preview = Preview::of(&bench, ".");
    let before = shown(&preview.get("/a.html"));
    let list = shown(&preview.get("/"));
    let listener = preview.listen();
    bench.put("log.csv", "date,t / s\n2026-01-01,2.05\n2026-01-01,2.09\n");
    until("the table counts", || (listener.last("/a.html")?["sound"] != before.as_str()).then_some(()));
    bench.put("new/b.md", HOLDS);
    until("the list has the new worksheet", || (listener.last("/")?["sound"] != list.as_str()).then_some(()));
    assert!(preview.get("/").contains("new/b.html"));
    let list = shown(&preview.get("/"));
    bench.put("new/b.md", HOLDS.replace("Sound", "Renamed"));
    until("a new folder is watched", || (listener.last("/")?["sound"] != list.as_str()).then_some(()));
}

#[test]
fn wrong_use_is_told() {
    let bench = Bench::with(&[("a.md", HOLDS), ("x.txt", "x")]);
    std::fs::create_dir(bench.path("empty")).unwrap();
    bench.run(&["serve"]).exits(3);
    bench.run(&["serve", "none"]).exits(3).warns(&["`none` does not exist"]);
    bench.run(&["serve", "empty"]).exits(3).warns(&["holds no worksheet"]);
    bench.run(&["serve", "x.txt"]).exits(3).warns(&["is not named as a worksheet"]);
    bench.run(&["serve", "a.md", "--port", "70000"]).exits(3);
    bench.run(&["serve", "a.md", "a.md"]).exits(3);
    let preview = Preview::of(&bench, "a.md");
    let port = preview.port.to_string();
    let run = bench.run(&["serve", "a.md", "--port", &port]).exits(3);
    run.warns(&[&format!("port {port} is in use already"), "--port 0"]);
    assert!(preview.get("/a.html").contains("Sound"));
}

#[test]
fn it_ends_when_it_is_asked_to() {
    for signal in [Signal::SIGINT, Signal::SIGTERM] {
        let bench = Bench::with(&[("a.md", HOLDS)]);
        let mut preview = Preview::of(&bench, "a.md");
        preview.get("/a.html");
        let listener = preview.listen();
        let idle = preview.connect();
        kill(Pid::from_raw(preview.process.id().try_into().unwrap()), signal).unwrap();
        assert_eq!(preview.process.wait().unwrap().code(), Some(0));
        let mut said = String::new();
        preview.out.read_to_string(&mut said).unwrap();
        assert!(said.ends_with("The preview has ended.\n"), "{said}");
        listener.thread.join().unwrap();
        drop(idle);
        assert_eq!(bench.files(), ["a.md"]);
    }
}

/// A preview that runs.
struct Preview {
    process: Child,
    out: BufReader<ChildStdout>,
    port: u16,
}

impl Preview {
    fn of(bench: &Bench, path: &str) -> Self {
        let mut command = bench.command(&["serve", path, "--port", "0"]);
        let mut process = command.stdout(Stdio::piped()).spawn().unwrap();
        let mut out = BufReader::new(process.stdout.take().unwrap());
        let mut line = String::new();
        out.read_line(&mut line).unwrap();
        assert!(line.starts_with("Preview of "), "{line}");
        let port = line.split("127.0.0.1:").nth(1).and_then(|rest| rest.split('/').next()).unwrap().parse().unwrap();
        Self { process, out, port }
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(self.host()).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        stream
    }

    /// What comes back, until the preview closes the connection.
    fn ask(&self, request: &str) -> String {
        let mut stream = self.connect();
        // An answer may come before all is sent.
        let _ = stream.write_all(request.as_bytes());
        let mut answer = Vec::new();
        let read = stream.read_to_end(&mut answer);
        assert!(read.is_ok(), "{read:?} after {request:.100}");
        String::from_utf8_lossy(&answer).into_owned()
    }

    fn get(&self, path: &str) -> String {
        self.ask(&format!("GET {path} HTTP/1.1\r\nHost: {}\r\n\r\n", self.host()))
    }

    fn listen(&self) -> Listener {
        let mut stream = self.connect();
        stream.write_all(format!("GET /_preview/events HTTP/1.1\r\nHost: {}\r\n\r\n", self.host()).as_bytes()).unwrap();
        let events = Arc::new(Mutex::new(Vec::new()));
        let into = Arc::clone(&events);
        let thread = thread::spawn(move || {
            for line in BufReader::new(stream).lines().map_while(Result::ok) {
                if let Some(state) = line.strip_prefix("data: ") {
                    into.lock().unwrap().push(serde_json::from_str(state).unwrap());
                }
            }
        });
        Listener { events, thread }
    }
}

impl Drop for Preview {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A client that hears of changes.
struct Listener {
    events: Arc<Mutex<Vec<Value>>>,
    thread: JoinHandle<()>,
}

impl Listener {
    fn last(&self, page: &str) -> Option<Value> {
        self.events.lock().unwrap().iter().rfind(|state| state["page"] == page).cloned()
    }

    fn heard(&self, page: &str) -> usize {
        self.events.lock().unwrap().iter().filter(|state| state["page"] == page).count()
    }
}

/// What stands in the body of a page, without what the preview adds.
fn main(page: &str) -> &str {
    let body = page.split("<main").nth(1).unwrap_or_else(|| panic!("{page}"));
    body.split("</main>").next().unwrap()
}

/// Which version of a page this is.
fn shown(page: &str) -> String {
    page.split("\"shown\":\"")
        .nth(1)
        .and_then(|rest| rest.split('"').next())
        .unwrap_or_else(|| panic!("{page}"))
        .to_owned()
}

/// Asks again and again until there is an answer.
#[track_caller]
fn until<T>(what: &str, ask: impl Fn() -> Option<T>) -> T {
    let latest = Instant::now() + PATIENCE;
    loop {
        if let Some(answer) = ask() {
            return answer;
        }
        assert!(Instant::now() < latest, "it never came to this: {what}");
        thread::sleep(Duration::from_millis(5));
    }
}

/// A picture of one point, and a chunk of as many bytes that nobody reads.
fn png(bytes: usize) -> Vec<u8> {
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\0\x01\0\0\0\x01\x08\x06\0\0\0".to_vec();
    png.resize(bytes, 0);
    png
}

const PATIENCE: Duration = Duration::from_secs(30);
