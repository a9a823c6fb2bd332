//! What was typed in beside the captures: stored codes, and what a scan tool shows.

use maud::{Markup, html};

use crate::analysis::Analysis;
use crate::report::words;

/// Each stored code with what the finding says of it.
pub(super) fn codes(analysis: &Analysis) -> Markup {
    if analysis.verdict.codes.is_empty() {
        return html! {};
    }
    html! {
        h3 { "Stored codes" }
        ul {
            @for answer in &analysis.verdict.codes {
                li {
                    b { (answer.code) } " " (words::code_state(answer)) ". " (words::code(answer))
                }
            }
            @if let Some(accused) = words::accused(&analysis.verdict) { li { (accused) } }
        }
    }
}

/// The controller's figures, and a repair.
pub(super) fn controller(analysis: &Analysis) -> Markup {
    let said = words::controller(&analysis.engine, &analysis.verdict);
    if said.is_empty() {
        return html! {};
    }
    html! {
        h3 { "Typed in beside the captures" }
        ul { @for one in &said { li { (one) } } }
    }
}
