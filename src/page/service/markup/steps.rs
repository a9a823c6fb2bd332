//! The three steps: capture, engine, measure.

use maud::{Markup, html};

use crate::practice::Demonstration;
use crate::report::words;

/// Captures of the demonstration, as their buttons call them.
const DEMONSTRATION: [(Demonstration, &str); 3] = [
    (Demonstration::Sound, "sound"),
    (Demonstration::Bank2Late, "a tooth late"),
    (Demonstration::Repaired, "repaired"),
];

/// A field with a choice: its name, what it is called, and each choice with its word.
type Choice = (&'static str, &'static str, &'static [(&'static str, &'static str)]);

/// What a file can leave open.
const OPEN: [Choice; 4] = [
    (
        "time_unit",
        "Unit of the times",
        &[("s", "seconds"), ("ms", "milliseconds"), ("us", "microseconds"), ("ns", "nanoseconds")],
    ),
    (
        "separator",
        "Mark between cells",
        &[
            ("comma", "comma"),
            ("semicolon", "semicolon"),
            ("tab", "tab"),
            ("pipe", "upright stroke"),
            ("blanks", "blanks"),
        ],
    ),
    ("decimal", "Decimal mark", &[("point", "point"), ("comma", "comma")]),
    ("kind", "The rows are", &[("sampled", "one per tick"), ("events", "one per change of level")]),
];

pub(in super::super) fn capture_step() -> Markup {
    html! {
        section aria-labelledby="h-capture" {
            h2 id="h-capture" { "1. Capture" }
            label.drop id="drop" for="file" {
                b { "Drop captures here" } span { "or choose files: what an oscilloscope or logic analyser exports (CSV, WAV, VCD, NPY, NPZ, any of them packed with gzip). Engine files and known-goods are taken here as well" }
                input type="file" id="file" multiple;
            }
            div.progress id="uploading" hidden { progress id="upload-bar" max="1" aria-label="Reading the capture" {} span id="upload-words" {} button type="button" id="upload-cancel" { "Cancel" } }
            div.row id="demonstration" {
                span.hint { "Or one of the demonstration:" }
                @for (which, word) in DEMONSTRATION { button type="button" data-file=(which.file()) { (word) } }
            }
            p.error id="capture-error" role="alert" {}
            div.fields id="reading" hidden {
                label data-field="rate" hidden { "Samples per second (the file has no times)" input id="rate" inputmode="decimal"; }
                label data-field="time" hidden { "Column of the times (if the file has one)" input id="time" maxlength="60"; }
                @for (field, called, choices) in OPEN {
                    label data-field=(field) hidden { (called) select id=(field) {
                        option value="" { "as the file shows" }
                        @for (value, word) in choices { option value=(value) { (word) } }
                    } }
                }
                button type="button" id="rate-go" { "Read again" }
            }
            p.hint id="left" hidden {}
            div.row id="again-row" hidden { label { "Or one of this session " select id="again" {} } button type="button" id="forget" { "Forget it" } }
            p id="capture-about" {}
            p.hint id="capture-wheel" {}
            div id="alike" {}
            div id="channels" {}
        }
    }
}

pub(in super::super) fn engine_step() -> Markup {
    html! {
        section aria-labelledby="h-engine" {
            h2 id="h-engine" { "2. Engine" }
            div.row {
                select id="engine" aria-label="Engine" { option value="" { "No engine file: compare bank with bank" } }
                button type="button" id="engine-remove" hidden { "Remove" }
            }
            p.hint id="likely" hidden {}
            div.row {
                label.button { "Open an engine file" input type="file" id="engine-file" accept=".toml"; }
                button type="button" id="form-open" { "Write one" }
                button type="button" id="form-edit" hidden { "Edit" }
                button type="button" id="text-edit" hidden { "Edit as text" }
                a.button id="engine-save" download="engine.toml" hidden { "Save this engine file" }
            }
            div.row id="known-row" hidden { span id="known-words" {} button type="button" id="known-forget" { "Do not use it" } }
            div.row.local id="shelve-row" hidden { label { "Name on the shelf " input id="shelve-name" maxlength="60"; } button type="button" id="shelve" { "Put on the shelf" } }
            div id="undescribed" {
                p.hint { "What is known of it. Both may be empty; look them up in the service information." }
                div.fields {
                    label { "Common layout" select id="layout" { option value="" { "choose, or type below" } } }
                    label { "Firing order" input id="firing" placeholder="1-6-5-4-3-2"; }
                    label { "Banks" input id="banks" placeholder="1-2-3/4-5-6"; }
                }
            }
            p.error id="engine-error" role="alert" {}
            div id="text-part" hidden {
                label { "The engine file" textarea id="engine-text" rows="16" spellcheck="false" {} }
                div.row { button.main type="button" id="text-use" { "Use this text" } button type="button" id="text-close" { "Close" } }
            }
        }
    }
}

pub(in super::super) fn run_step() -> Markup {
    html! {
        section aria-labelledby="h-run" {
            h2 id="h-run" { "3. Measure" }
            details id="stretch-part" {
                summary { "Use a part of the capture" }
                p.hint { "Drag over the trace, or type seconds. Empty is the whole." }
                div id="stretch-drawing" {}
                div.fields {
                    label { "From second" input id="from" inputmode="decimal"; }
                    label { "To second" input id="to" inputmode="decimal"; }
                }
                button type="button" id="whole" { "Use the whole" }
            }
            details id="join-part" hidden {
                summary { "Join other captures of this engine" }
                p.hint { "Captures of one sitting: what one misses, another has. Choose each in step 1 once and say what its columns carry; one that never was chosen is read by the names of its columns." }
                div id="join" {}
            }
            details id="job-part" {
                summary { "Job, stored codes, scan tool" }
                div.fields {
                    @for (id, word) in [("number", "Job number"), ("vehicle", "Vehicle"), ("mileage", "Mileage"), ("technician", "Technician"), ("date", "Date"), ("codes", "Stored codes, for example P0018 P0008")] {
                        label { (word) input id={ "job-" (id) } maxlength="120"; }
                    }
                    @for (id, word) in [("phasers", "Phasers by the scan tool, crank degrees from rest, for example B1 intake=0; B2 intake=0"), ("learned", "Offsets learned since new, late above 0, for example B1 intake=-1.5")] {
                        label { (word) input id={ "job-" (id) } maxlength="400"; }
                    }
                    label.tick { input type="checkbox" id="job-repair"; " Just put together after a repair" }
                }
            }
            div.row {
                button.main type="button" id="run" disabled aria-describedby="why" { "Measure" }
                button type="button" id="run-cancel" hidden { "Cancel" }
                span id="run-words" role="status" {}
            }
            p.hint id="why" {}
            progress id="run-bar" max="1" hidden aria-label="Measuring" {}
            p.error id="run-error" role="alert" {}
            details.cautions { summary { "Cautions" } ul { @for caution in words::cautions() { li { (caution) } } } }
        }
    }
}
