//! `benchleaf render`: every worksheet becomes a page, every folder a site. Pages are made and written in parallel; what
//! is said of them comes in the order of the worksheets, once all are done.

mod site;

use benchleaf_core::{Evaluator, summary::Summary};
use benchleaf_page::RawHtml;
use benchleaf_words::{Words, count, key, say};
use std::path::{Path, PathBuf};

use benchleaf_publish::{
    date,
    failure::{Failure, name},
    folder::Folder,
    inputs,
    kept::Kept,
    live::{LiveEngine, SHARED_NAME},
    neighbours::Neighbours,
    page::{Form, RenderSettings, RenderedPage, make_ready, render_in_folder},
    pictures::Larger,
    site::{PlannedPage, SitePlan, plan},
    text,
    thumbnail::{ENDING, SmallPicture},
    unchanged::{Remembered, made_from},
    write,
};

use self::site::{Place, Sites};
use crate::{
    args::{EvaluationOptions, RenderRequest},
    batch::{self, Labelled},
    drawing::Look,
    message::{draw_problems, harmless},
    outcome::Outcome,
    rust::Rust,
    said,
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
    if request.base_url.is_some() && lists.len() != 1 {
        return terminal.fail(&Failure::NotOneSite);
    }
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

    let look = terminal.look();
    let sites = Sites::new(&pages, lists, request);
    for (path, head) in sites.metadata() {
        // A front page of its own is a worksheet, and is reported with the others.
        if !pages.iter().any(|page| page.worksheet.path == *path) {
            let evaluation = Evaluator::default().evaluate(head);
            terminal.warn(&draw_problems(&name(path), head, &evaluation, look));
            if Summary::of(&evaluation).errors > 0 {
                outcome = outcome.and(Outcome::WorksheetError);
            }
        }
    }
    let task = Labelled {
        name: key::PROGRESS_RENDERING,
        words: look.words,
        item: |page: &PlannedPage| harmless(&page.worksheet.name()).into_owned(),
    };
    let made = |page: &PlannedPage| make(page, sites.place(page), &setting, look, &rust);
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
        outcome = outcome.and(sites.write_engines(&written, terminal));
    }
    outcome.and(sites.write(written, terminal))
}

/// What is kept of a page once it is written.
struct Made {
    kept: Kept,
    messages: String,
    work: Work,
    /// What is written down so that it need not be made again.
    remembered: Option<Remembered>,
}

/// Whether a page was made.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Work {
    Written,
    Unchanged,
}

impl Made {
    fn outcome(&self) -> Outcome {
        if self.kept.counts.errors > 0 { Outcome::WorksheetError } else { Outcome::Fine }
    }
}

type Written<'a> = [(&'a PlannedPage, Made)];

fn make(
    page: &PlannedPage,
    place: Option<Place<'_>>,
    setting: &RenderSettings,
    look: Look,
    rust: &Rust,
) -> Result<Made, Failure> {
    let source = text::read_whole(&page.worksheet.path)?;
    let stem = page.worksheet.within.file_stem().unwrap_or_default().to_string_lossy();
    let mut setting = setting.clone();
    if let Some(place) = &place {
        setting.neighbours = place.neighbours.clone();
        if setting.engine == LiveEngine::Inside
            && let Some(link) = place.link_back(&page.target, SHARED_NAME)
        {
            setting.engine = LiveEngine::Beside(link);
        }
    }
    let blocks = rust.blocks_of(&page.worksheet.path);
    let host = Folder::of(&page.worksheet.path, &blocks);
    let host = match &place {
        Some(place) => host.in_site(place.site(&page.target)),
        None => host,
    };
    let moved = page.target.parent() != page.worksheet.path.parent();
    let larger = if moved { Larger::Copied } else { Larger::AsItStands };
    let made_from = place.as_ref().map(|_| made_from(&source, &stem, &setting, larger, date::fixed()));
    if let (Some(place), Some(made_from)) = (&place, &made_from)
        && let Some(known) = place.unchanged(made_from, &page.target, &host)
    {
        let (kept, remembered) = (known.kept().clone(), Some(known.clone()));
        return Ok(Made { kept, messages: String::new(), work: Work::Unchanged, remembered });
    }
    let rendered = render_in_folder(&source, &stem, &setting, &host, larger)?;
    for copy in &rendered.copies {
        write::write_picture(&page.target.with_file_name(&copy.name), &copy.bytes)?;
    }
    write::write_page(&page.target, &rendered.html)?;
    let messages = draw_problems(&page.worksheet.name(), &source, &rendered.evaluation, look);
    let mut kept = Kept::of(&rendered, &source);
    let mut beside: Vec<String> = rendered.copies.iter().map(|copy| copy.name.clone()).collect();
    if place.is_some() && setting.form == Form::Full {
        add_picture(&mut kept, &mut beside, &rendered, &page.target)?;
    }
    // What there is to say of a worksheet is said on every call.
    let remembered = made_from
        .filter(|_| rendered.evaluation.problems.is_empty())
        .and_then(|made_from| Remembered::new(made_from, host.asked()?, &page.target, &beside, kept.clone()));
    Ok(Made { kept, messages, work: Work::Written, remembered })
}

/// Write the small picture of a page, where it has one of its own.
fn add_picture(kept: &mut Kept, beside: &mut Vec<String>, page: &RenderedPage, target: &Path) -> Result<(), Failure> {
    let Some(small) = SmallPicture::of(&page.html, target) else { return Ok(()) };
    kept.picture = Some(small.link);
    if let Some(drawing) = small.drawing {
        let file = target.with_extension(ENDING);
        write::write_if_new(&file, &drawing)?;
        beside.push(file.file_name().unwrap_or_default().to_string_lossy().into_owned());
    }
    Ok(())
}

fn report(written: &Written<'_>, terminal: &mut Terminal<'_>) {
    let words = terminal.words();
    if written.len() > LISTED {
        let mut sum = Summary::default();
        for (_, made) in written {
            sum += made.kept.counts.summary();
        }
        let unchanged = written.iter().filter(|(_, made)| made.work == Work::Unchanged).count();
        let (wrote, sum) = (pages(words, written.len() - unchanged), said::summary(words, sum));
        let line = match unchanged {
            0 => say!(words, RENDER_WROTE, pages = wrote, sum = sum),
            _ => say!(words, RENDER_WROTE_SOME, pages = wrote, n = unchanged, sum = sum),
        };
        return terminal.say(&(line + "\n"));
    }
    for (page, made) in written {
        let (path, sum) = (shown(&page.target), said::summary(words, made.kept.counts.summary()));
        terminal.say(&match made.work {
            Work::Written => said::wrote(words, &path, &sum),
            Work::Unchanged => say!(words, RENDER_UNCHANGED, path = path, sum = sum) + "\n",
        });
    }
}

/// `3 pages`.
fn pages(words: Words<'_>, n: usize) -> String {
    count!(words, RENDER_PAGES, n, n = n)
}

fn not_made(folder: &Path) -> Option<Failure> {
    write::make_folder(folder).err()
}

fn shown(path: &Path) -> String {
    harmless(&name(path)).into_owned()
}

/// Say what to open.
fn open(fronts: &[PathBuf], terminal: &mut Terminal<'_>) {
    for front in fronts {
        terminal.say(&(say!(terminal.words(), RENDER_OPEN, path = shown(front)) + "\n"));
    }
}

/// Pages that are named one by one; more are only counted, so that what to open stays in sight.
const LISTED: usize = 20;
