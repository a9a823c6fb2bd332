//! The page as it is sent: its files, and what it asks to know what is there.

use maud::{DOCTYPE, html};
use serde::Serialize;

use super::answer::{Answer, HTML, Refusal};
use super::session::Session;
use super::{markup, run, undescribed, watched};
use crate::wheel::LIBRARY;

#[derive(Serialize)]
struct SessionState {
    max_upload: u64,
    /// How the user raises it.
    to_raise: &'static str,
    captures: Vec<Named>,
    engines: Vec<Named>,
    runs: Vec<run::Shown>,
    /// Captures that had to leave to make room.
    left: Vec<String>,
    /// Whether this computer's shelf can be reached.
    shelf: bool,
    watched: Option<watched::Shown>,
    /// Firing orders to choose from: number of cylinders, order, banks.
    layouts: Vec<(usize, &'static str, &'static str)>,
}

#[derive(Serialize)]
struct Named {
    id: u64,
    name: String,
    /// When a capture came; the shelf's name of an engine.
    more: String,
}

/// Everything the session holds, for a tab that opens or comes back.
pub(super) fn state(session: &Session) -> Answer {
    let captures = session.captures.all().into_iter();
    let engines = session.engines.all().into_iter();
    Answer::json(&SessionState {
        max_upload: session.most().bytes,
        to_raise: session.most().to_raise,
        captures: captures
            .map(|(id, held)| Named {
                id,
                name: held.capture.source.clone(),
                more: held.came.clone(),
            })
            .collect(),
        engines: engines
            .map(|(id, held)| Named {
                id,
                name: held.engine.name.clone(),
                more: held.shelf.clone().unwrap_or_default(),
            })
            .collect(),
        runs: session.runs.all().iter().map(|(id, run)| run.shown(*id)).collect(),
        left: session.left(),
        shelf: session.shop().is_some(),
        watched: watched::shown(session),
        layouts: undescribed::layouts(),
    })
}

const SCRIPT: &str = "text/javascript; charset=utf-8";

/// Scripts of the page, each after those it takes from. What carries the page has `carrier.js` of
/// its own.
const SCRIPTS: [(&str, &str); 8] = [
    ("common.js", include_str!("common.js")),
    ("form.js", include_str!("form.js")),
    ("capture.js", include_str!("capture.js")),
    ("roles.js", include_str!("roles.js")),
    ("measure.js", include_str!("measure.js")),
    ("session.js", include_str!("session.js")),
    ("tools.js", include_str!("tools.js")),
    ("page.js", include_str!("page.js")),
];

/// Names of the scripts, in order, for whoever puts the page together.
pub(super) fn scripts() -> Answer {
    Answer::json(&SCRIPTS.map(|(name, _)| name))
}

/// A file of the page, by name.
pub(super) fn file(name: &str) -> Result<Answer, Refusal> {
    let others = [
        ("page.css", "text/css; charset=utf-8", include_str!("page.css")),
        ("carrier.js", SCRIPT, include_str!("carrier.js")),
    ];
    let scripts = SCRIPTS.into_iter().map(|(name, text)| (name, SCRIPT, text));
    let found = others.into_iter().chain(scripts).find(|file| file.0 == name);
    let (_, kind, text) = found.ok_or_else(|| Refusal::missing("file"))?;
    Ok(Answer::text(kind, text))
}

/// The page.
pub(super) fn page(session: &Session) -> Answer {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "Camwitness" }
                link rel="icon" href="data:,";
                link rel="stylesheet" href="/page.css";
                script src="/page.js" type="module" {}
            }
            body {
                header { h1 { "Camwitness" } p { "Where each camshaft stands. Everything stays on this computer." } }
                noscript { p.error { "This page needs scripting. The same work is done by `camwitness check` in a terminal." } }
                main {
                    div.left { (markup::capture_step()) (markup::engine_step()) (markup::run_step()) }
                    div.right { (markup::report()) (markup::list(session.watching())) (markup::tools()) }
                }
                (markup::engine_form())
                datalist id="wheels" { @for wheel in LIBRARY { option value=(wheel.name) {} } }
            }
        }
    };
    Answer::text(HTML, page.into_string())
}
