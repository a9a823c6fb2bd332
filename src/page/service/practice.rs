//! Practice for the instructor: a capture with a known fault, and what is true of it apart.

use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::captures::{self, Upload};
use super::session::Session;
use crate::engine::Engine;
use crate::practice::{Dialect, ExtraLead, Fault, Preset, Scenario, csv_text, generate};
use crate::watch::Watch;

/// What is to be made, as typed.
#[derive(Deserialize)]
pub(super) struct Asked {
    engine: u64,
    /// Faults as they are written, one a line or between semicolons; none for a sound engine.
    #[serde(default)]
    faults: String,
    #[serde(default)]
    preset: String,
    #[serde(default)]
    seed: String,
    /// Further leads: the starter always comes along.
    #[serde(default)]
    leads: String,
    /// When, by the browser's clock.
    #[serde(default)]
    came: String,
}

/// What was made.
#[derive(Serialize)]
struct Made {
    /// Of the capture in the session.
    id: u64,
    name: String,
    csv: String,
    truth: String,
    truth_name: String,
}

/// A fault to choose from.
#[derive(Serialize)]
struct Choice {
    fault: String,
    words: String,
}

/// Makes a capture; gives both files, to be saved.
pub(super) fn make(session: &Session, asked: &Asked) -> Result<Answer, Refusal> {
    let held = session.engine(asked.engine).ok_or_else(|| Refusal::missing("engine"))?;
    let faults = asked.faults.split([';', '\n']).map(str::trim).filter(|one| !one.is_empty());
    let faults = faults.map(|one| one.parse::<Fault>().map_err(Refusal::unusable));
    let preset = match asked.preset.as_str() {
        "clean" => Preset::Clean,
        "nasty" => Preset::Nasty,
        _ => Preset::Workshop,
    };
    let seed = match asked.seed.trim() {
        "" => 1,
        text => text.parse().map_err(|_| {
            Refusal::unusable("The number of the specimen is a whole number, such as 12")
        })?,
    };
    let further = asked.leads.split([';', ',']).map(str::trim).filter(|one| !one.is_empty());
    let further = further.map(|one| one.parse::<ExtraLead>().map_err(Refusal::unusable));
    let mut leads = vec![ExtraLead::Starter];
    leads.extend(further.collect::<Result<Vec<ExtraLead>, Refusal>>()?);
    let scenario = Scenario {
        faults: faults.collect::<Result<Vec<Fault>, Refusal>>()?,
        preset,
        seed,
        leads,
        ..Scenario::new(held.engine.clone())
    };
    let made = generate(&scenario).map_err(Refusal::mendable)?;
    let csv = csv_text(&made.capture, &made.steps, Dialect::default())
        .ok_or_else(|| Refusal::broken("no dialect"))?;
    let truth = serde_json::to_string_pretty(&made.truth).map_err(Refusal::broken)?;
    let name = format!("practice-{seed}.csv");
    let truth_name = format!("practice-{seed}-truth.json");
    // Taken into the session under a name that gives nothing away.
    let about = Upload { name: name.clone(), came: asked.came.clone(), ..Upload::default() };
    let read = captures::read(session, csv.as_bytes(), about, Watch::default())?;
    let (id, _) = session.add_capture(read);
    Ok(Answer::json(&Made { id, name, csv, truth: truth + "\n", truth_name }))
}

/// Faults this engine can have, in words.
pub(super) fn choices(session: &Session, engine: u64) -> Result<Answer, Refusal> {
    let held = session.engine(engine).ok_or_else(|| Refusal::missing("engine"))?;
    Ok(Answer::json(&of_engine(&held.engine)))
}

fn of_engine(engine: &Engine) -> Vec<Choice> {
    let choice = |fault: String, words: String| Choice { fault, words };
    let mut choices = Vec::new();
    for chain in &engine.drive.chains {
        for shaft in chain.driven.iter().map(|sprocket| &sprocket.on) {
            for (sign, word) in [("+", "late"), ("-", "early")] {
                choices.push(choice(
                    format!("skip:{}@{}:{sign}1", shaft, chain.name),
                    format!("{}: the {} skipped one tooth, {word}", shaft, chain.name),
                ));
            }
        }
        choices.push(choice(
            format!("wear:{}:4", chain.name),
            format!("{}: worn, 4° late", chain.name),
        ));
    }
    for cam in &engine.cams {
        choices.push(choice(
            format!("cam-wheel:{}:8", cam.name),
            format!("{}: its sensor wheel slipped 8°, valves in place", cam.name),
        ));
        if cam.phaser.is_some() {
            choices.push(choice(
                format!("phaser:{}:12", cam.name),
                format!("{}: phaser 12° off its rest", cam.name),
            ));
        }
    }
    choices.push(choice("crank-wheel:6".into(), "the crank's sensor wheel slipped 6°".into()));
    for cylinder in &engine.firing_order {
        choices.push(choice(
            format!("weak-cylinder:{cylinder}:0.6"),
            format!("cylinder {cylinder}: leaks, 60 % of its compression left"),
        ));
    }
    choices
}
