//! `benchleaf render`: every worksheet becomes a page, every folder a site. Pages are made and written in parallel; what
//! is said of them comes in the order of the worksheets, once all are done.

use std::{
    collections::HashMap,
    path::{Path, PathBuf},
};

use benchleaf_core::{
    Evaluator, parallel,
    sheet::metadata_of,
    summary::{Summary, counted},
};
use benchleaf_page::RawHtml;

use benchleaf_publish::{
    date,
    failure::{Failure, name},
    folder::Folder,
    inputs,
    live::{LiveEngine, SHARED_NAME, shared_script},
    neighbours::{Link, Neighbours, key},
    page::{Form, IndexEntry, RenderSettings, make_ready, render_in_folder, render_index},
    pictures::Larger,
    site::{Front, INDEX, PlannedList, PlannedPage, SitePlan, heading, plan},
    text, write,
};

use crate::{
    args::{EvaluationOptions, RenderRequest},
    batch::{self, Labelled},
    drawing::Drawing,
    message::{draw_problems, harmless},
    outcome::Outcome,
    rust::Rust,
    terminal::Terminal,
};

/// Run `benchleaf render`.
pub(crate) fn render(request: &RenderRequest, options: EvaluationOptions, terminal: &mut Terminal<'_>) -> Outcome {
    let evaluated = match date::of_evaluation() {
        Ok(date) => date,
        Err(failure) => return terminal.fail(&failure),
    };
    let rust = match Rust::of_call(&options, terminal.progress()) {
        Ok(rust) => rust,
        Err(failure) => return terminal.fail(&failure),
    };
    let SitePlan { pages, lists, failures } = plan(inputs::gather(&request.paths), request.output.as_deref());
    let still = request.still || request.handout;
    let setting = RenderSettings {
        samples: options.samples,
        seed: options.seed,
        evaluated,
        raw_html: if request.html { RawHtml::Cleaned } else { RawHtml::ShownAsText },
        engine: if still { LiveEngine::LeftOut } else { LiveEngine::Inside },
        form: if request.handout { Form::Handout } else { Form::Full },
        neighbours: Neighbours::NONE,
    };
    if !still && !pages.is_empty() {
        // While the first worksheet is evaluated.
        let _ = std::thread::Builder::new().spawn(make_ready);
    }
    let mut outcome = Outcome::Fine;
    for failure in &failures {
        outcome = outcome.and(terminal.fail(failure));
    }
    // Made first, so that a folder that cannot be is reported once and not for every page.
    if let Some(failure) = request.output.as_deref().filter(|_| !pages.is_empty()).and_then(not_made) {
        return terminal.fail(&failure);
    }

    let drawing = terminal.drawing();
    for (path, head) in lists.iter().filter_map(|list| list.front.metadata.as_ref()) {
        // A front page of its own is a worksheet, and is reported with the others.
        if !pages.iter().any(|page| page.worksheet.path == *path) {
            let evaluation = Evaluator::default().evaluate(head);
            terminal.warn(&draw_problems(&name(path), head, &evaluation, drawing));
            if Summary::of(&evaluation).errors > 0 {
                outcome = outcome.and(Outcome::WorksheetError);
            }
        }
    }
    let task = Labelled { name: "Rendering", item: |page: &PlannedPage| harmless(&page.worksheet.name()).into_owned() };
    let neighbours = neighbours_of(&pages, &lists);
    let made = |page: &PlannedPage| {
        let neighbours = neighbours.get(&page.target).cloned().unwrap_or_default();
        make(page, &lists, &RenderSettings { neighbours, ..setting.clone() }, drawing, &rust)
    };
    let results = batch::each_worksheet(&pages, &task, |page| &page.worksheet.path, terminal.progress(), made);
    let mut written = Vec::with_capacity(pages.len());
    for (page, result) in pages.iter().zip(results) {
        outcome = outcome.and(match result {
            Ok(made) => {
                terminal.warn(&made.messages);
                let found = made.outcome();
                written.push((page, made));
                found
            }
            Err(failure) => terminal.fail(&failure),
        });
    }
    report(&written, terminal);
    if !still {
        outcome = outcome.and(write_engines(&lists, &written, terminal));
    }
    outcome.and(write_lists(&lists, &written, terminal))
}

/// The pages before and after each page of a site. A page that is on several lists keeps to the first.
fn neighbours_of(pages: &[PlannedPage], lists: &[PlannedList]) -> HashMap<PathBuf, Neighbours> {
    let mut found = HashMap::new();
    for list in lists {
        let listed: Vec<(&PlannedPage, String)> = pages
            .iter()
            .filter(|page| !found.contains_key(&page.target))
            .filter_map(|page| Some((page, list.link(&page.target)?)))
            .collect();
        let mut listed = parallel::each(listed, |(page, link)| {
            // What does not read is reported when its page is made.
            let source = text::read_whole(&page.worksheet.path).unwrap_or_default();
            let metadata = metadata_of(&source);
            let stem = || page.worksheet.within.file_stem().unwrap_or_default().to_string_lossy().into_owned();
            let title = metadata.title.or_else(|| heading(&source)).unwrap_or_else(stem);
            (page, link, metadata.order, title)
        });
        listed.sort_by(|one, other| key(&one.1, one.2).cmp(&key(&other.1, other.2)));
        for (i, (page, link, ..)) in listed.iter().enumerate() {
            let to = |link: &str, title: &str| {
                Some(Link { href: list.link_back(&page.target, link)?, title: title.to_owned() })
            };
            let neighbour =
                |at: Option<usize>| at.and_then(|at| listed.get(at)).and_then(|other| to(&other.1, &other.3));
            let contents = if link == INDEX { None } else { to(INDEX, &list.front.title) };
            let neighbours =
                Neighbours { previous: neighbour(i.checked_sub(1)), contents, next: neighbour(Some(i + 1)) };
            found.insert(page.target.clone(), neighbours);
        }
    }
    found
}

/// What is kept of a page once it is written.
struct Made {
    order: Option<u32>,
    title: String,
    summary: Option<String>,
    counts: Summary,
    messages: String,
}

impl Made {
    fn outcome(&self) -> Outcome {
        if self.counts.errors > 0 { Outcome::WorksheetError } else { Outcome::Fine }
    }
}

type Written<'a> = [(&'a PlannedPage, Made)];

fn make(
    page: &PlannedPage,
    lists: &[PlannedList],
    setting: &RenderSettings,
    drawing: Drawing,
    rust: &Rust,
) -> Result<Made, Failure> {
    let source = text::read_whole(&page.worksheet.path)?;
    let stem = page.worksheet.within.file_stem().unwrap_or_default().to_string_lossy();
    let mut setting = setting.clone();
    if setting.engine == LiveEngine::Inside
        && let Some(link) = lists.iter().find_map(|list| list.link_back(&page.target, SHARED_NAME))
    {
        setting.engine = LiveEngine::Beside(link);
    }
    let blocks = rust.blocks_of(&page.worksheet.path);
    let host = Folder::of(&page.worksheet.path, &blocks);
    let moved = page.target.parent() != page.worksheet.path.parent();
    let larger = if moved { Larger::Copied } else { Larger::AsItStands };
    let rendered = render_in_folder(&source, &stem, &setting, &host, larger)?;
    for copy in &rendered.copies {
        write::write_picture(&page.target.with_file_name(&copy.name), &copy.bytes)?;
    }
    write::write_page(&page.target, &rendered.html)?;
    Ok(Made {
        order: rendered.evaluation.sheet.metadata.order,
        counts: Summary::of(&rendered.evaluation),
        messages: draw_problems(&page.worksheet.name(), &source, &rendered.evaluation, drawing),
        title: rendered.title,
        summary: rendered.summary,
    })
}

fn report(written: &Written<'_>, terminal: &mut Terminal<'_>) {
    if written.len() > LISTED {
        let mut sum = Summary::default();
        for (_, made) in written {
            sum += made.counts;
        }
        return terminal.say(&format!("Wrote {}: {sum}\n", counted(written.len(), "page")));
    }
    for (page, made) in written {
        terminal.say(&format!("Wrote {}: {}\n", shown(&page.target), made.counts));
    }
}

/// Write the list of each site, and say what to open: the sites, or a page that stands alone.
fn write_lists(lists: &[PlannedList], written: &Written<'_>, terminal: &mut Terminal<'_>) -> Outcome {
    let mut outcome = Outcome::Fine;
    let mut open: Vec<PathBuf> = Vec::new();
    for list in lists {
        let mut entries: Vec<(String, &Made)> =
            written.iter().filter_map(|(page, made)| Some((list.link(&page.target)?, made))).collect();
        entries.sort_by(|one, other| key(&one.0, one.1.order).cmp(&key(&other.0, other.1.order)));
        let target = list.target();
        if entries.is_empty() {
            continue;
        }
        // A site whose author wrote an index.md has that as its front page.
        if !entries.iter().any(|(link, _)| link == INDEX) {
            if let Err(failure) = write_list(&target, &list.front, &entries) {
                outcome = outcome.and(terminal.fail(&failure));
                continue;
            }
            let count = counted(entries.len(), "page");
            terminal.say(&format!("Wrote {}: a list of {count}\n", shown(&target)));
        }
        open.push(target);
    }
    if let ([], [(page, _)]) = (lists, written) {
        open.push(page.target.clone());
    }
    for front in open {
        terminal.say(&format!("Open {} in a browser.\n", shown(&front)));
    }
    outcome
}

/// Write the engine that the pages of each site share.
fn write_engines(lists: &[PlannedList], written: &Written<'_>, terminal: &mut Terminal<'_>) -> Outcome {
    let mut outcome = Outcome::Fine;
    for list in lists {
        let shared = |(page, _): &(&PlannedPage, Made)| {
            lists.iter().find(|list| list.link(&page.target).is_some()).is_some_and(|first| first.folder == list.folder)
        };
        if written.iter().any(shared)
            && let Err(failure) = write::write_page(&list.folder.join(SHARED_NAME), &shared_script())
        {
            outcome = outcome.and(terminal.fail(&failure));
        }
    }
    outcome
}

fn write_list(target: &Path, front: &Front, entries: &[(String, &Made)]) -> Result<(), Failure> {
    let entries = entries.iter().map(|(href, made)| IndexEntry {
        href: href.clone(),
        title: &made.title,
        summary: made.summary.as_deref(),
        holds: made.counts.holds,
        at_risk: made.counts.at_risk,
        broken: made.counts.broken,
        problems: made.counts.errors,
    });
    write::write_page(target, &render_index(front, entries.collect())?)
}

fn not_made(folder: &Path) -> Option<Failure> {
    write::make_folder(folder).err()
}

fn shown(path: &Path) -> String {
    harmless(&name(path)).into_owned()
}

/// Pages that are named one by one; more are only counted, so that what to open stays in sight.
const LISTED: usize = 20;
