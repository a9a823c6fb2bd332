//! The report as one self-contained HTML file: half a page for the owner, then the technician's.
//!
//! Nothing in it is fetched from anywhere. Text from the capture, the engine file and the job file
//! is escaped by the template engine or by the drawing library; only our own markup goes in as it
//! is.

mod annex;
mod base64;
#[cfg(feature = "cli")]
mod class;
mod cranking;
mod gallery;
mod owner;
mod pages;
mod room;
mod seal;
mod sheet;
mod signals;
mod technician;
mod typed;
mod view;

pub use seal::{Sealed, sealed};

use maud::{DOCTYPE, Markup, PreEscaped, html};

#[cfg(feature = "cli")]
pub use class::{write_key, write_worksheet};
pub use sheet::write_sheet;

use super::job::Job;
use super::pictures::{Drawn, Picture, PictureError, draw_all};
use crate::analysis::{Analysis, Checked, CrankingTest, Overlay};
use crate::capture::Capture;
use crate::verdict::{State, Verdict};

const STYLE: &str = include_str!("report.css");
/// What the file may load: its own styles and scripts, nothing from elsewhere.
const POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:";

/// Without an answer it shares a page with the wheels, and its text is 7.1 pt.
const BLANK_DRIVE_SCALE: f64 = 0.57;

/// A picture as it stands in the report.
struct Figure {
    picture: Picture,
    /// Width and height of its sheet, in its own points.
    size: (f64, f64),
    svg: String,
}

/// Writes the report. `captures` are those the analysis was made of, in the same order.
///
/// # Errors
/// When the drawing library refuses a picture.
pub fn write(analysis: &Analysis, captures: &[Capture], job: &Job) -> Result<String, PictureError> {
    timing(analysis, &draw_all(analysis, captures), captures, job, None)
}

/// Writes the report of a check, whatever it turned out to be, with pictures that are drawn.
/// `captures` are those that were checked, in the same order; `over` was laid over their signals.
pub(super) fn write_drawn(
    checked: &Checked,
    drawn: &[Drawn],
    captures: &[Capture],
    job: &Job,
    over: Option<&Overlay>,
) -> Result<String, PictureError> {
    match checked {
        Checked::Timing(analysis) => timing(analysis, drawn, captures, job, over),
        Checked::Compression(test) => cranking(test, drawn, job),
    }
}

fn timing(
    analysis: &Analysis,
    drawn: &[Drawn],
    captures: &[Capture],
    job: &Job,
    over: Option<&Overlay>,
) -> Result<String, PictureError> {
    let figures = figures(drawn)?;
    let pages = pages::laid_out(analysis, job, &figures);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (sealed_head(&format!("Camshaft timing: {}", analysis.engine.name)))
            body { main {
                div.sheet {
                    header { (heading("Camshaft timing report", &analysis.engine.name, job)) }
                    (pages.first)
                }
                (view::part(analysis, captures))
                div.sheet.second { (pages.second) }
                (annex::part(analysis, job, &figures, &pages.further, over))
            } }
        }
    };
    Ok(seal::close(&page.into_string()))
}

/// The report of captures without a crank.
fn cranking(test: &CrankingTest, drawn: &[Drawn], job: &Job) -> Result<String, PictureError> {
    let figures = figures(drawn)?;
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (sealed_head(&format!("Cranking test: {}", test.engine.name)))
            body { main {
                div.sheet.cranking {
                    header { (heading("Cranking test report", &test.engine.name, job)) }
                    (cranking::owner(test))
                    (cranking::technician(test, &figures))
                }
                (annex::cranking(test, job))
            } }
        }
    };
    Ok(seal::close(&page.into_string()))
}

/// What stands before the body of a report: with the place of its checksum.
fn sealed_head(title: &str) -> Markup {
    head_with(title, &seal::place())
}

/// The same of what carries no evidence.
fn head(title: &str) -> Markup {
    head_with(title, "")
}

fn head_with(title: &str, seal: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            (PreEscaped(seal))
            meta http-equiv="Content-Security-Policy" content=(POLICY);
            meta name="viewport" content="width=device-width, initial-scale=1";
            title { (title) }
            style { (PreEscaped(STYLE)) }
        }
    }
}

/// JSON that cannot end the element it stands in.
fn embedded(json: &str) -> String {
    json.replace('<', "\\u003c").replace('>', "\\u003e").replace('&', "\\u0026")
}

/// Pictures as they stand in a report.
fn figures(drawn: &[Drawn]) -> Result<Vec<Figure>, PictureError> {
    drawn
        .iter()
        .map(|drawn| {
            let svg = held_in_corner(&drawn.svg()?);
            Ok(Figure { picture: drawn.picture, size: (drawn.width(), drawn.height()), svg })
        })
        .collect()
}

/// Held at its corner, a picture stays below its heading whatever room the paper has.
fn held_in_corner(svg: &str) -> String {
    svg.replacen("<svg ", "<svg preserveAspectRatio=\"xMinYMin meet\" ", 1)
}

/// Title and the lines of the job; a line to write on where nothing is given.
fn heading(title: &str, engine: &str, job: &Job) -> Markup {
    lined_heading(title, engine, &job_lines(job))
}

/// What the heading says of the job, word by word.
fn job_lines(job: &Job) -> [(&'static str, Option<&str>); 5] {
    [
        ("Job", job.number.as_deref()),
        ("Vehicle", job.vehicle.as_deref()),
        ("Mileage", job.mileage.as_deref()),
        ("Technician", job.technician.as_deref()),
        ("Date", job.date.as_deref()),
    ]
}

/// Title, engine, and lines that are filled in or left to write on.
fn lined_heading(title: &str, engine: &str, lines: &[(&str, Option<&str>)]) -> Markup {
    html! {
        h1 { (title) }
        p.engine { (engine) }
        dl.job {
            @for (word, value) in lines {
                div {
                    dt { (word) }
                    dd { @if let Some(value) = value { (value) } @else { span.blank {} } }
                }
            }
        }
    }
}

/// The finding in two or three words.
fn title(verdict: &Verdict) -> &'static str {
    match verdict.state {
        State::InTime if verdict.covers_every_cam => "In time",
        State::InTime => "In time, for what was recorded",
        State::Jumped => "Timing has jumped",
        State::DriveDue => "Timing drive is due",
        State::OffNotJumped => "Off, but not a jumped chain",
        State::DoesNotFit => "The description does not fit",
        State::CannotTell => "Cannot tell",
    }
}

/// A sign that stands beside the title, so that colour is not needed.
fn sign(state: State) -> &'static str {
    match state {
        State::InTime => "✓",
        State::Jumped | State::DriveDue => "✕",
        State::OffNotJumped => "!",
        State::DoesNotFit | State::CannotTell => "?",
    }
}

/// What a picture shows, for whoever does not see it.
fn shows(title: &str, words: &str) -> String {
    if words.is_empty() { title.to_owned() } else { format!("{title}. {words}") }
}

/// One picture with its heading, where it was drawn.
fn figure(figures: &[Figure], picture: Picture, words: &str) -> Markup {
    let Some(found) = figures.iter().find(|figure| figure.picture == picture) else {
        return html! {};
    };
    html! {
        figure class=(picture.name()) {
            figcaption { b { (picture.title()) } @if !words.is_empty() { ". " (words) } }
            div role="img" aria-label=(shows(picture.title(), words)) { (PreEscaped(&found.svg)) }
        }
    }
}
