//! What goes to the car on paper: the hook-up sheet.

use maud::{DOCTYPE, html};
use serde::Deserialize;

use super::answer::{Answer, Refusal};
use super::session::Session;
use super::typed;
use crate::plan::{Plan, PlanOptions};
use crate::report::plan as written;
use crate::units::{CrankDelta, Rpm};

/// Columns of the sheet: what fits on paper upright in a letter of 11 points.
const WIDE: usize = 84;

/// For what the plan is, as typed; empty for the usual.
#[derive(Deserialize)]
pub(super) struct Asked {
    #[serde(default)]
    channels: String,
    #[serde(default)]
    rpm: String,
    #[serde(default)]
    accuracy: String,
}

/// The sheet for an engine, to be printed.
pub(super) fn show(session: &Session, engine: u64, asked: &Asked) -> Result<Answer, Refusal> {
    let held = session.engine(engine).ok_or_else(|| Refusal::missing("engine"))?;
    let usual = PlanOptions::default();
    let number = |text: &str, usual: f64| -> Result<f64, Refusal> {
        let typed = typed::number(text);
        let typed = typed.map_err(|_| Refusal::unusable(format!("“{text}” is no number")))?;
        Ok(typed.unwrap_or(usual))
    };
    let channels = number(&asked.channels, usual.channels as f64)?;
    if !(channels >= 0.0 && channels.fract() == 0.0) {
        return Err(Refusal::unusable("Channels are counted: give a whole number"));
    }
    let options = PlanOptions {
        accuracy: CrankDelta(number(&asked.accuracy, usual.accuracy.0)?),
        rpm: Rpm(number(&asked.rpm, usual.rpm.0)?),
        channels: channels as usize,
    };
    let plan = Plan::for_engine(&held.engine, options).map_err(Refusal::mendable)?;
    let text = written::write_to_width(&held.engine, &plan, WIDE);
    let (title, text) = text.split_once('\n').unwrap_or((&text, ""));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Hook-up sheet: " (held.engine.name) }
                style { "body{margin:1.5em auto;max-width:52em;padding:0 1em;color:#111;background:#fff}h1{font:bold 15pt/1.2 'Liberation Sans',Arial,sans-serif;margin:0}pre{font:11pt/1.35 'DejaVu Sans Mono',Consolas,monospace;white-space:pre-wrap}@page{margin:14mm}@media print{body{margin:0}pre{font-size:9.5pt}}" }
            }
            body { main { h1 { (title) } pre { (text.trim_start()) } } }
        }
    };
    Ok(Answer::report(page.into_string()))
}
