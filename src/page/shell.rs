//! The page itself.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::header::CONTENT_TYPE;
use axum::response::{Html, IntoResponse};
use maud::{DOCTYPE, Markup, html};
use serde::Serialize;

use super::runs;
use super::session::Session;
use crate::verdict::cautions::CAUTIONS;
use crate::wheel::LIBRARY;

#[derive(Serialize)]
pub(super) struct SessionState {
    max_upload: u64,
    captures: Vec<Named>,
    engines: Vec<Named>,
    runs: Vec<runs::Shown>,
}

#[derive(Serialize)]
struct Named {
    id: u64,
    name: String,
}

/// Everything the session holds, for a tab that opens or comes back.
pub(super) async fn state(State(session): State<Arc<Session>>) -> Json<SessionState> {
    let captures = session.captures().into_iter();
    let engines = session.engines().into_iter();
    Json(SessionState {
        max_upload: session.max_upload(),
        captures: captures
            .map(|(id, held)| Named { id, name: held.capture.source.clone() })
            .collect(),
        engines: engines.map(|(id, held)| Named { id, name: held.engine.name.clone() }).collect(),
        runs: session.runs().iter().map(|(id, run)| runs::shown(*id, run)).collect(),
    })
}

/// The style sheet.
pub(super) async fn style() -> impl IntoResponse {
    ([(CONTENT_TYPE, "text/css; charset=utf-8")], include_str!("page.css"))
}

/// The script.
pub(super) async fn script() -> impl IntoResponse {
    ([(CONTENT_TYPE, "text/javascript; charset=utf-8")], include_str!("page.js"))
}

/// The page.
pub(super) async fn page() -> Html<String> {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Camwitness" }
                link rel="icon" href="data:,";
                link rel="stylesheet" href="/page.css";
                script src="/page.js" defer {}
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
    Html(page.into_string())
}

fn capture_step() -> Markup {
    html! {
        section aria-labelledby="h-capture" {
            h2 id="h-capture" { "1. Capture" }
            label.drop id="drop" for="file" {
                b { "Drop a capture here" } span { "or choose a file (CSV of an oscilloscope or logic analyser)" }
                input type="file" id="file";
            }
            div.progress id="uploading" hidden { progress id="upload-bar" max="1" {} span id="upload-words" {} button type="button" id="upload-cancel" { "Cancel" } }
            p.error id="capture-error" role="alert" {}
            label.row id="rate-row" hidden { "Samples per second (the file has no times)" input id="rate" inputmode="decimal" size="10"; button type="button" id="rate-go" { "Read again" } }
            p id="capture-about" {}
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
                summary { "Job and stored codes" }
                div.fields {
                    @for (id, word) in [("number", "Job number"), ("vehicle", "Vehicle"), ("mileage", "Mileage"), ("technician", "Technician"), ("date", "Date"), ("codes", "Stored codes, for example P0016 P0018")] {
                        label { (word) input id={ "job-" (id) } maxlength="120"; }
                    }
                }
            }
            div.row {
                button.main type="button" id="run" disabled { "Measure" }
                button type="button" id="run-cancel" hidden { "Cancel" }
                span id="run-words" role="status" {}
            }
            p.error id="run-error" role="alert" {}
            details.cautions { summary { "Cautions" } ul { @for caution in CAUTIONS { li { (caution) } } } }
        }
    }
}

fn result() -> Markup {
    html! {
        section aria-labelledby="h-list" {
            h2 id="h-list" { "This session" }
            p.hint id="list-empty" { "Nothing measured yet. Results stay here until the page is stopped; tick two to see them side by side." }
            div.wide { table id="list" hidden {
                thead { tr { th { "Compare" } th { "Capture" } th { "Engine" } th { "Finding" } th { "Camshafts" } th {} } }
                tbody {}
            } }
            div id="compare" hidden { h3 { "Side by side" } div.wide { table id="compare-table" {} } }
        }
        section id="report-part" hidden aria-labelledby="h-report" {
            h2 id="h-report" { "Report" }
            p.finding id="finding" role="status" {}
            div.row id="downloads" {}
            iframe id="report" title="Report" sandbox="allow-scripts allow-modals" {}
        }
    }
}

fn engine_form() -> Markup {
    html! {
        dialog id="form" aria-labelledby="h-form" {
            form method="dialog" id="form-fields" {
                h2 id="h-form" { "Write an engine file" }
                p.hint { "From the service information of the engine. Angles are crank degrees; leave empty what is not known." }
                div.fields {
                    label { "Name" input name="name" required; }
                    label { "Firing order" input name="firing_order" placeholder="1-3-4-2"; }
                    label { "Bank 1 cylinders" input name="bank1" placeholder="1 3 5"; }
                    label { "Bank 2 cylinders" input name="bank2" placeholder="empty for one bank"; }
                    label { "Tolerance" input name="tolerance" placeholder="5"; }
                }
                h3 { "Crank" }
                div.withwheel {
                    div.fields {
                        label { "Wheel" input name="crank_wheel" list="wheels" data-wheel="crank-drawing" placeholder="36-2 or 36 without 35 36"; }
                        label { "Sensor" select name="crank_sensor" { option { "hall" } option { "reluctance" } } }
                        label { "Edge that marks a tooth" select name="crank_edge" { option value="" { "not known" } option { "falling" } option { "rising" } } }
                        label { "TDC 1 after the first tooth" input name="tdc" inputmode="decimal"; }
                    }
                    div.drawing id="crank-drawing" {}
                }
                h3 { "Camshafts" }
                div id="form-cams" {}
                button type="button" id="add-cam" { "Add a camshaft" }
                h3 { "Chain from the crank to every camshaft" }
                div.fields {
                    label { "Kind" select name="chain_kind" { option { "chain" } option { "belt" } option { "gear" } } }
                    label { "Teeth on the crank sprocket" input name="crank_teeth" inputmode="numeric"; }
                    label { "Teeth on a cam sprocket" input name="cam_teeth" inputmode="numeric"; }
                }
                p.error id="form-error" role="alert" {}
                div.row {
                    button.main type="submit" id="form-save" { "Use this engine" }
                    button type="button" id="form-close" { "Close" }
                }
            }
        }
    }
}
