//! What stands on page one, on page two and in the annex. Pages one and two are two pages on A4 and
//! Letter: what finds no room on them goes into the annex at its own size.

use maud::{Markup, html};

use super::gallery::{self, Shown};
use super::room::{self, FIRST, SECOND};
use super::technician::{self, Remark};
use super::{Figure, owner};
use crate::analysis::Analysis;
use crate::report::job::Job;
use crate::report::words;

/// Between the two columns of the second page, in points.
const COLUMN_GAP: f64 = 18.0;
/// Columns end unevenly, by a paragraph that is not broken.
const UNEVEN: f64 = 24.0;
/// A line that says where the signals are drawn.
const HINT: f64 = 14.0;
/// The foot of the second page with the line above it.
const FOOT: f64 = 17.0;

/// The report's parts in front of the annex, and what the annex takes over.
pub(super) struct Pages {
    /// Below the heading.
    pub first: Markup,
    pub second: Markup,
    /// Pictures and remarks that found no room.
    pub further: Markup,
}

/// Lays a report out.
pub(super) fn laid_out(analysis: &Analysis, job: &Job, figures: &[Figure]) -> Pages {
    let mut waiting = gallery::of(analysis, figures);
    let (first, signals) = first(analysis, job, figures);
    // Behind the smallest of them, which the page before may have room for.
    waiting.splice(1.min(waiting.len())..1.min(waiting.len()), signals);
    let answers = technician::answers(analysis);
    let (kept, moved) = shared_out(technician::remarks(analysis), &answers);
    let second = second(&answers, &kept, !moved.is_empty(), &mut waiting);
    let further = html! {
        (gallery::side_by_side(&waiting))
        @if !moved.is_empty() { (columns(&moved)) }
    };
    Pages { first, second, further }
}

/// The first page, and the picture of the signals where it has no room for it.
fn first(analysis: &Analysis, job: &Job, figures: &[Figure]) -> (Markup, Option<Shown>) {
    let owner = owner::part(analysis, job);
    let text = technician::first_page(analysis);
    let heading = super::job_lines(job).map(|(_, text)| text);
    let mut waiting: Vec<Shown> = gallery::signals(figures).into_iter().collect();
    let left = room::left_of_page(|width| {
        let texts = [&owner, &text].map(|one| room::height(&one.0, width, FIRST));
        room::heading(&heading, width) + texts.iter().sum::<f64>()
    });
    let signals = gallery::take(&mut waiting, left);
    let said = left > HINT;
    let page = html! {
        (owner)
        section.technician aria-label="For the technician" {
            (text)
            @match signals {
                Some(signals) => (signals),
                None if !said => {},
                None => p.hint { "The signals over one engine cycle are drawn further back, where they have room." },
            }
        }
    };
    (page, waiting.pop())
}

fn second(answers: &Markup, kept: &[Remark], some_moved: bool, waiting: &mut Vec<Shown>) -> Markup {
    let pictures = gallery::take(waiting, left_below(answers, kept));
    html! {
        section.technician.second aria-label="For the technician, second page" {
            (answers)
            @if let Some(pictures) = pictures { (pictures) }
            (columns(kept))
            footer {
                "Camwitness " (words::VERSION) ". Degrees are crank degrees; late is retarded, early is advanced."
                @if some_moved || !waiting.is_empty() { " More is in the annex." }
            }
        }
    }
}

/// What stays on the second page below the answers, and what goes into the annex: the least urgent
/// first, until the rest has room.
fn shared_out(mut kept: Vec<Remark>, answers: &Markup) -> (Vec<Remark>, Vec<Remark>) {
    let mut moved = Vec::new();
    while left_below(answers, &kept) < 0.0 {
        let last = (0..kept.len()).max_by_key(|&at| kept[at].less_urgent);
        let Some(at) = last.filter(|&at| kept[at].less_urgent > 0) else { break };
        moved.push(kept.remove(at));
    }
    moved.sort_by_key(|remark| remark.less_urgent);
    (kept, moved)
}

/// What is left of the second page below the answers and the remarks.
fn left_below(answers: &Markup, remarks: &[Remark]) -> f64 {
    room::left_of_page(|width| {
        let column = (width - COLUMN_GAP) / 2.0;
        let all: f64 = remarks.iter().map(|one| room::height(&one.markup.0, column, SECOND)).sum();
        room::height(&answers.0, width, SECOND) + all / 2.0 + UNEVEN + FOOT
    })
}

fn columns(remarks: &[Remark]) -> Markup {
    html! { div.columns { @for one in remarks { (one.markup) } } }
}
