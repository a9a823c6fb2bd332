//! The owner's half page: plain words, nothing that needs a training.

use maud::{Markup, html};

use super::{sign, title};
use crate::analysis::Analysis;
use crate::report::job::Job;
use crate::report::words::owner;

/// Writes the half page.
pub(super) fn part(analysis: &Analysis, job: &Job) -> Markup {
    let verdict = &analysis.verdict;
    let word = verdict.state.word();
    html! {
        section.owner aria-label="For the owner" {
            div.finding.(word) id="finding" data-state=(word) {
                span.sign aria-hidden="true" { (sign(verdict.state)) }
                div {
                    h2 { (title(verdict)) }
                    p { (owner::finding(analysis)) }
                }
            }
            dl.plain {
                dt { "How sure" }
                dd { (owner::how_sure(analysis)) }
                @if let Some(words) = owner::whereabouts(analysis) {
                    dt { "In plain words" }
                    dd { (words) }
                }
                dt { "What was measured" }
                dd { (owner::measured(analysis)) " " (owner::not_measured(analysis)) }
                @if let Some(compression) = owner::compression(analysis) {
                    dt { "Compression" }
                    dd { (compression) }
                }
                dt { "What it means" }
                dd { (owner::meaning(analysis)) }
                dt { "May it be driven?" }
                dd { (owner::driving(analysis)) }
                @if let Some(why) = owner::sensor(analysis) {
                    dt { "A new sensor?" }
                    dd { (why) }
                }
                dt { "Proposed next" }
                dd { (owner::next(analysis)) }
                @if let Some(stages) = owner::stages(analysis, job) {
                    dt { "To be agreed" }
                    dd { @for stage in stages { p { (stage) } } }
                }
                dt { "Please note" }
                dd { (owner::note(verdict.state)) }
            }
        }
    }
}
