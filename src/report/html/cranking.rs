//! The report of captures without a crank: half a page for the owner, the rest for the technician.

use maud::{Markup, html};

use super::{Figure, gallery};
use crate::analysis::CrankingTest;
use crate::report::compression::{Said, said_of};
use crate::report::cranking::basis;
use crate::report::pictures::Picture;
use crate::report::words;
use crate::verdict::CompressionState;

/// The owner's half page.
pub(super) fn owner(test: &CrankingTest) -> Markup {
    let finding = &test.finding;
    let word = finding.state.word();
    html! {
        section.owner aria-label="For the owner" {
            div.finding.(word) id="finding" data-state=(word) {
                span.sign aria-hidden="true" { (sign(finding.state)) }
                div {
                    h2 { (words::compression_owner_title(finding)) }
                    p { (words::compression_owner(finding)) }
                }
            }
            dl.plain {
                dt { "How sure" }
                dd { (words::compression_how_sure(finding)) }
                dt { "What was measured" }
                dd {
                    "How hard the starter works for each cylinder, over " (test.main().cycles)
                    " turns of the camshaft. The crank and the camshafts were not measured."
                }
                dt { "Please note" }
                dd { (words::compression_note()) }
            }
        }
    }
}

/// The technician's part.
pub(super) fn technician(test: &CrankingTest, figures: &[Figure]) -> Markup {
    let main = test.main();
    let measured = main.compression.measured.as_ref();
    html! {
        section.technician aria-label="For the technician" {
            h2 { "Finding" }
            p.sentence { (words::compression_finding(&test.engine, measured, &test.finding)) }
            @if let Some(next) = words::compression_next(&test.engine, measured, &test.finding) {
                p { b { "Measure next: " } (next) "." }
            }
            @if let Some((title, said)) = said_of(&test.engine, &main.compression, None) {
                h2 { (title) }
                @for one in said {
                    @match one {
                        Said::Row(start, list) => p { (start) (list.join(" ")) },
                        Said::Paragraph(text) => p { (text) },
                    }
                }
            }
            (pictures(figures))
            h2 { "What this rests on" }
            ul { @for line in basis(test) { li { (line) } } }
            @if !test.warnings.is_empty() {
                h2 { "Take note" }
                ul { @for warning in &test.warnings { li { (warning.about) ": " (warning.text) } } }
            }
            h2 { "Cautions" }
            ul { @for caution in words::cautions() { li { (caution) } } }
        }
    }
}

fn pictures(figures: &[Figure]) -> Markup {
    let words = [
        (Picture::Current, "The mean line of one bank is there to hold the other's peaks against"),
        (Picture::Compression, "A bar per cylinder with its 95 % interval"),
    ];
    let shown =
        words.into_iter().filter_map(|(picture, words)| gallery::one(figures, picture, words));
    gallery::side_by_side(&shown.collect::<Vec<_>>())
}

/// A sign that stands beside the title, so that colour is not needed.
fn sign(state: CompressionState) -> &'static str {
    match state {
        CompressionState::Even => "✓",
        CompressionState::Withheld => "?",
        _ => "!",
    }
}
