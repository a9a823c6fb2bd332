//! The page itself.

use maud::{DOCTYPE, Markup, html};
use serde::Serialize;

use super::answer::{Answer, HTML, Refusal};
use super::run;
use super::session::Session;
use crate::practice::Demonstration;
use crate::report::words;
use crate::wheel::LIBRARY;

#[derive(Serialize)]
struct SessionState {
    max_upload: u64,
    /// How the user raises it.
    to_raise: &'static str,
    captures: Vec<Named>,
    engines: Vec<Named>,
    runs: Vec<run::Shown>,
}

#[derive(Serialize)]
struct Named {
    id: u64,
    name: String,
}

/// Everything the session holds, for a tab that opens or comes back.
pub(super) fn state(session: &Session) -> Answer {
    let captures = session.captures().into_iter();
    let engines = session.engines().into_iter();
    Answer::json(&SessionState {
        max_upload: session.most().bytes,
        to_raise: session.most().to_raise,
        captures: captures
            .map(|(id, held)| Named { id, name: held.capture.source.clone() })
            .collect(),
        engines: engines.map(|(id, held)| Named { id, name: held.engine.name.clone() }).collect(),
        runs: session.runs().iter().map(|(id, run)| run.shown(*id)).collect(),
    })
}

const SCRIPT: &str = "text/javascript; charset=utf-8";

/// What the page is made of, by name.
const FILES: [(&str, &str, &str); 5] = [
    ("page.css", "text/css; charset=utf-8", include_str!("page.css")),
    ("page.js", SCRIPT, include_str!("page.js")),
    ("form.js", SCRIPT, include_str!("form.js")),
    ("common.js", SCRIPT, include_str!("common.js")),
    ("carrier.js", SCRIPT, include_str!("carrier.js")),
];

/// One of them.
pub(super) fn file(name: &str) -> Result<Answer, Refusal> {
    let found = FILES.into_iter().find(|file| file.0 == name);
    let (_, kind, text) = found.ok_or_else(|| Refusal::missing("file"))?;
    Ok(Answer::text(kind, text))
}

/// The page.
pub(super) fn page() -> Answer {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Camwitness" }
                link rel="icon" href="data:,";
                link rel="stylesheet" href="/page.css";
                script src="/page.js" type="module" {}
            }
            body {
                header { h1 { "Camwitness" } p { "Where each camshaft stands. Everything stays on this computer." } }
                noscript { p.error { "This page needs scripting. The same work is done by `camwitness check` in a terminal." } }
                main {
                    div.left { (capture_step()) (engine_step()) (run_step()) }
                    div.right { (result()) }
                }
                (engine_form())
                datalist id="wheels" { @for wheel in LIBRARY { option value=(wheel.name) {} } }
            }
        }
    };
    Answer::text(HTML, page.into_string())
}

/// Captures of the demonstration, as their buttons call them.
const DEMONSTRATION: [(Demonstration, &str); 3] = [
    (Demonstration::Sound, "sound"),
    (Demonstration::Bank2Late, "a tooth late"),
    (Demonstration::Repaired, "repaired"),
];

fn capture_step() -> Markup {
    html! {
        section aria-labelledby="h-capture" {
            h2 id="h-capture" { "1. Capture" }
            label.drop id="drop" for="file" {
                b { "Drop a capture here" } span { "or choose a file: what an oscilloscope or logic analyser exports (CSV, WAV, VCD, NPY, NPZ, any of them packed with gzip)" }
                input type="file" id="file";
            }
            div.progress id="uploading" hidden { progress id="upload-bar" max="1" {} span id="upload-words" {} button type="button" id="upload-cancel" { "Cancel" } }
            div.row id="demonstration" {
                span.hint { "Or one of the demonstration:" }
                @for (which, word) in DEMONSTRATION { button type="button" data-file=(which.file()) { (word) } }
            }
            p.error id="capture-error" role="alert" {}
            label.row id="rate-row" hidden { "Samples per second (the file has no times)" input id="rate" inputmode="decimal" size="10"; button type="button" id="rate-go" { "Read again" } }
            label.row id="again-row" hidden { "Or one of this session" select id="again" {} button type="button" id="forget" { "Forget it" } }
            p id="capture-about" {}
            p.hint id="capture-wheel" {}
            div id="channels" {}
        }
    }
}

fn engine_step() -> Markup {
    html! {
        section aria-labelledby="h-engine" {
            h2 id="h-engine" { "2. Engine" }
            div.row {
                select id="engine" aria-label="Engine" { option value="" { "Choose an engine" } }
                label.button { "Open an engine file" input type="file" id="engine-file" accept=".toml"; }
                button type="button" id="form-open" { "Write one" }
                a id="engine-save" download="engine.toml" hidden { "Save this engine file" }
            }
            p.error id="engine-error" role="alert" {}
        }
    }
}

fn run_step() -> Markup {
    html! {
        section aria-labelledby="h-run" {
            h2 id="h-run" { "3. Measure" }
            details {
                summary { "Job, stored codes, scan tool" }
                div.fields {
                    @for (id, word) in [("number", "Job number"), ("vehicle", "Vehicle"), ("mileage", "Mileage"), ("technician", "Technician"), ("date", "Date"), ("codes", "Stored codes, for example P0018 P0008")] {
                        label { (word) input id={ "job-" (id) } maxlength="120"; }
                    }
                    @for (id, word) in [("phasers", "Phasers by the scan tool, crank degrees from rest, for example B1 intake=0; B2 intake=0"), ("learned", "Offsets learned since new, late above 0, for example B1 intake=-1.5")] {
                        label { (word) input id={ "job-" (id) } maxlength="400"; }
                    }
                    label { input type="checkbox" id="job-repair"; " Just put together after a repair" }
                }
            }
            div.row {
                button.main type="button" id="run" disabled { "Measure" }
                button type="button" id="run-cancel" hidden { "Cancel" }
                span id="run-words" role="status" {}
            }
            progress id="run-bar" max="1" hidden aria-label="Measuring" {}
            p.error id="run-error" role="alert" {}
            details.cautions { summary { "Cautions" } ul { @for caution in words::cautions() { li { (caution) } } } }
        }
    }
}

fn result() -> Markup {
    html! {
        section aria-labelledby="h-list" {
            h2 id="h-list" { "This session" }
            p.hint id="list-empty" { "Nothing measured yet. Results stay here until the page is stopped; save what is to be kept. With two of them, before and after a repair can be compared." }
            div.wide { table id="list" hidden {
                thead { tr { th { "Capture" } th { "Engine" } th { "Finding" } th { "Camshafts" } th {} } }
                tbody {}
            } }
            div id="compare" hidden {
                h3 { "Before and after a repair" }
                div.row {
                    label { "Before " select id="before" {} }
                    label { "After " select id="after" {} }
                    button type="button" id="compare-go" { "Compare" }
                }
                p.error id="compare-error" role="alert" {}
                button type="button" id="compare-anyway" hidden { "They are in order: compare them" }
                div id="compared" role="status" {}
            }
        }
        section id="report-part" hidden aria-labelledby="h-report" {
            h2 id="h-report" { "Report" }
            div role="status" { p.finding id="finding" {} p id="finding-words" {} }
            div.row id="downloads" {}
            iframe id="report" title="Report" sandbox="allow-scripts allow-modals" {}
        }
    }
}

fn engine_form() -> Markup {
    html! {
        dialog id="form" aria-labelledby="h-form" {
            form method="dialog" id="form-fields" novalidate {
                h2 id="h-form" { "Write an engine file" }
                p.hint { "From the service information of the engine. Angles are crank degrees; leave empty what is not known." }
                p.hint id="form-from" {}
                div.fields {
                    label { "Name" input name="name"; }
                    label { "Firing order" input name="firing_order" placeholder="1-3-4-2"; }
                    label { "Bank 1 cylinders" input name="bank1" placeholder="1 3 5"; }
                    label { "Bank 2 cylinders" input name="bank2" placeholder="empty for one bank"; }
                    label { "Tolerance, ± degrees" input name="tolerance" placeholder="5" inputmode="decimal"; }
                }
                h3 { "Crank" }
                div.withwheel {
                    div.fields {
                        label { "Wheel" input name="crank_wheel" list="wheels" data-wheel="crank-drawing" placeholder="36-2 or 36 without 35 36"; }
                        label { "Sensor" select name="crank_sensor" { option { "hall" } option { "reluctance" } option { "pulse" } } }
                        label { "Edge that marks a tooth" select name="crank_edge" { option value="" { "not known" } option { "falling" } option { "rising" } } }
                        label { "TDC 1 after the first tooth" input name="tdc" inputmode="decimal"; }
                    }
                    div.drawing id="crank-drawing" aria-live="polite" {}
                }
                h3 { "Camshafts" }
                div id="form-cams" {}
                button type="button" id="add-cam" { "Add a camshaft" }
                h3 { "Chains, belts, gears" }
                p.hint { "Needed to tell whole teeth from anything else. Count the teeth of every sprocket; a shaft in between is named by you, for example idler." }
                div.row {
                    button type="button" data-drive="one" { "One chain to every camshaft" }
                    button type="button" data-drive="banks" { "One chain per bank" }
                    button type="button" data-drive="second" { "One to each bank, a second one in the bank" }
                    button type="button" data-drive="idler" { "Through an idler per bank" }
                    button type="button" id="add-chain" { "Add a chain" }
                }
                div id="form-chains" {}
                p.error id="form-error" role="alert" {}
                div.row {
                    button.main type="submit" id="form-save" { "Use this engine" }
                    button type="button" id="form-file" { "Use it and save it as a file" }
                    button type="button" id="form-close" { "Close" }
                }
                datalist id="shafts" {}
            }
        }
    }
}
