//! Which lead a column may carry, by the library's one rule.

use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::held::HeldCapture;
use super::session::Session;
use crate::engine::{CamShaft, Engine};
use crate::leads::{LeadRequest, RoleGuess, Seen, Suggestion, Words, suggest};

/// A capture of the session, and an engine where one is chosen.
#[derive(Deserialize)]
pub(super) struct Asked {
    capture: u64,
    engine: Option<u64>,
}

/// What one column may carry.
#[derive(Serialize)]
struct Shown {
    /// The lead; empty where none fits or several do.
    role: String,
    /// Whether its header is the lead's own name; else somebody has to confirm it.
    sure: bool,
    /// Leads among which it is open.
    open: Vec<String>,
}

/// What the columns may carry, and what there is to choose from.
#[derive(Serialize)]
struct Suggested {
    roles: Vec<String>,
    columns: Vec<Shown>,
}

/// Suggests a lead for every channel of a capture, in their order.
pub(super) fn show(session: &Session, asked: &Asked) -> Result<Answer, Refusal> {
    let capture = session.capture(asked.capture).ok_or_else(|| Refusal::missing("capture"))?;
    let Some(id) = asked.engine else { return Ok(Answer::json(&without_engine(&capture))) };
    let engine = session.engine(id).ok_or_else(|| Refusal::missing("engine"))?;
    let engine = &engine.engine;
    let shown = suggested(&capture, engine).into_iter().map(|one| Shown {
        role: one.role.map_or_else(String::new, |role| role.name(engine)),
        sure: one.sure,
        open: one.open.iter().map(|role| role.name(engine)).collect(),
    });
    let roles = crate::leads::Role::all(engine).into_iter().map(|role| role.name(engine));
    Ok(Answer::json(&Suggested { roles: roles.collect(), columns: shown.collect() }))
}

fn suggested(capture: &HeldCapture, engine: &Engine) -> Vec<Suggestion> {
    let channels = capture.capture.channels.iter().zip(capture.about.guesses());
    let seen: Vec<Seen> =
        channels.map(|(channel, kind)| Seen { header: &channel.name, kind }).collect();
    suggest(&seen, engine)
}

/// Leads whose column's header is their own name, with the column's position.
pub(super) fn sure(capture: &HeldCapture, engine: &Engine) -> Vec<(String, usize)> {
    let columns = suggested(capture, engine).into_iter().zip(&capture.capture.channels);
    let sure = columns.filter(|(one, _)| one.sure);
    sure.filter_map(|(one, channel)| Some((one.role?.name(engine), channel.column))).collect()
}

/// Most cylinders whose coil is offered without an engine.
const CYLINDERS: u32 = 12;

/// Without an engine: cams by bank and shaft, and whatever else is told by its signal. A header
/// that says bank and shaft is sure; a signal alone has to be confirmed.
fn without_engine(capture: &HeldCapture) -> Suggested {
    let shafts = [CamShaft::Intake, CamShaft::Exhaust];
    let cams: Vec<String> = [1, 2]
        .iter()
        .flat_map(|bank| shafts.map(|shaft| format!("B{bank} {}", shaft.word())))
        .collect();
    let mut roles = vec!["crank".to_owned()];
    roles.extend(cams.iter().cloned());
    roles.extend(["cam".into(), "starter".into(), "battery".into()]);
    roles.extend((1..=CYLINDERS).map(|cylinder| format!("ignition {cylinder}")));
    let kinds: Vec<RoleGuess> = capture.about.guesses().collect();
    let alone = |kind: RoleGuess| kinds.iter().filter(|other| **other == kind).count() == 1;
    let columns = capture.capture.channels.iter().zip(&kinds).map(|(channel, &kind)| {
        let words = Words::of(&channel.name);
        let named = roles.iter().find(|role| role.eq_ignore_ascii_case(channel.name.trim()));
        let by_words =
            words.bank.zip(words.shaft).map(|(bank, shaft)| format!("B{bank} {}", shaft.word()));
        let by_signal = match kind {
            RoleGuess::Crank | RoleGuess::Starter | RoleGuess::Battery if alone(kind) => {
                Some(kind.word().to_owned())
            }
            RoleGuess::Cam if alone(kind) => Some("cam".to_owned()),
            _ => None,
        };
        let role = named.cloned().or(by_words.filter(|role| roles.contains(role))).or(by_signal);
        let open = match (kind, &role) {
            (RoleGuess::Cam, None) => cams.clone(),
            _ => Vec::new(),
        };
        Shown { sure: named.is_some(), role: role.unwrap_or_default(), open }
    });
    let columns = columns.collect();
    Suggested { roles, columns }
}

/// The leads of every column that one lead alone fits, for a comparison that finds nothing.
pub(super) fn likely(capture: &HeldCapture, engine: &Engine) -> Vec<LeadRequest> {
    let columns = suggested(capture, engine).into_iter().zip(&capture.capture.channels);
    let likely = columns.filter_map(|(one, channel)| {
        Some(LeadRequest {
            name: one.role?.name(engine),
            column: channel.column.to_string(),
            amperes_per_volt: None,
        })
    });
    likely.collect()
}
