//! The owner's half page: plain words, nothing that needs a training.

use maud::{Markup, html};

use super::{sign, title};
use crate::analysis::Analysis;
use crate::report::words::owner;

/// Writes the half page.
pub(super) fn part(analysis: &Analysis) -> Markup {
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
                dt { "What was measured" }
                dd { (owner::measured(analysis)) }
                @if let Some(compression) = owner::compression(analysis) {
                    dt { "Compression" }
                    dd { (compression) }
                }
                dt { "What it means" }
                dd { (owner::meaning(analysis)) }
                dt { "Proposed next" }
                dd { (owner::next(analysis)) }
                @if let Some(stages) = owner::stages(analysis) {
                    dt { "To be agreed" }
                    dd { (stages) }
                }
                dt { "Please note" }
                dd { (owner::note(verdict.state)) }
            }
        }
    }
}
