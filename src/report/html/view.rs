//! The interactive view: signals against crank angle or time. Without scripting it stays hidden,
//! and the pictures stand for it.

use maud::{Markup, PreEscaped, html};

use super::{embedded, signals};
use crate::analysis::Analysis;
use crate::capture::Capture;

const LIBRARY: &str = include_str!("../../../assets/uplot/uPlot.iife.min.js");
const LIBRARY_STYLE: &str = include_str!("../../../assets/uplot/uPlot.min.css");
const LIBRARY_LICENCE: &str = include_str!("../../../assets/uplot/LICENSE");
const SCRIPT: &str = include_str!("view.js");

/// Writes the view of the main capture.
pub(super) fn part(analysis: &Analysis, captures: &[Capture]) -> Markup {
    let capture = captures.get(analysis.main_capture);
    let Some(signals) = capture.and_then(|capture| signals::collect(analysis, capture)) else {
        return html! {};
    };
    html! {
        section.view id="view" hidden aria-label="Signals to look into" {
            h2 { "Look into the signals" }
            p.hint {
                "Wheel or + and − to zoom, drag or arrow keys to move, double click or Home for everything. "
                "Click, or 1 and 2, to set the first and the second mark; Shift with an arrow key moves the reading line."
            }
            div.tools {
                fieldset {
                    legend { "Against" }
                    label { input type="radio" name="against" value="angle" checked; " crank angle" }
                    label { input type="radio" name="against" value="time"; " time" }
                }
                button type="button" data-do="in" { "Zoom in" }
                button type="button" data-do="out" { "Zoom out" }
                button type="button" data-do="all" { "Everything" }
                button type="button" data-do="first" { "Set first mark" }
                button type="button" data-do="second" { "Set second mark" }
            }
            div.charts id="charts" tabindex="0" role="application" aria-label="Signals; keys as described above" {}
            div.wide tabindex="0" role="region" aria-label="Readings at the marks, as a table" { table.readout id="readout" aria-live="off" {} }
            p.hint id="thinned" {}
        }
        script type="application/json" id="signals" { (PreEscaped(json(&signals))) }
        style { (PreEscaped(LIBRARY_STYLE)) }
        script { (PreEscaped(with_licence())) }
        script { (PreEscaped(SCRIPT)) }
    }
}

/// The signals as JSON.
fn json(signals: &signals::Signals) -> String {
    // Plain numbers and texts always serialize; an empty object would leave the view hidden.
    embedded(&serde_json::to_string(signals).unwrap_or_else(|_| "{}".into()))
}

fn with_licence() -> String {
    format!("/*\n{}*/\n{LIBRARY}", LIBRARY_LICENCE.replace("*/", ""))
}
