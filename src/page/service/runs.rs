//! Measurements: started, watched, cancelled, read.

use std::sync::Arc;

use serde::Deserialize;

use super::Work;
use super::answer::{Answer, HTML, JSON, Refusal};
use super::held::HeldCapture;
use super::remedies;
use super::run::{Outcome, Run, Stage};
use super::session::Session;
use crate::analysis::{Checked, Options, check};
use crate::capture::Capture;
use crate::codes::read_codes;
use crate::engine::Engine;
use crate::leads::LeadRequest;
use crate::report::job::Job;
use crate::report::pictures::{Drawn, Picture, PictureError, draw_all, draw_cranking};
use crate::report::{html, json};
use crate::verdict::read_controller;

/// What is to be measured.
#[derive(Debug, Deserialize)]
pub(super) struct Start {
    capture: u64,
    engine: u64,
    #[serde(default)]
    leads: Vec<AskedLead>,
    #[serde(default)]
    codes: Vec<String>,
    #[serde(default)]
    phasers: Vec<String>,
    #[serde(default)]
    learned: Vec<String>,
    #[serde(default)]
    after_repair: bool,
    #[serde(default)]
    job: AskedJob,
}

#[derive(Debug, Deserialize)]
struct AskedLead {
    name: String,
    column: usize,
    amperes_per_volt: Option<f64>,
}

/// Lines of the job, as typed.
#[derive(Debug, Default, Deserialize)]
struct AskedJob {
    #[serde(default)]
    number: String,
    #[serde(default)]
    vehicle: String,
    #[serde(default)]
    mileage: String,
    #[serde(default)]
    technician: String,
    #[serde(default)]
    date: String,
}

/// Starts a measurement: the answer, and the work that is then to be done.
pub(super) fn start(session: &Session, asked: Start) -> Result<(Answer, Work), Refusal> {
    let capture = session.capture(asked.capture).ok_or_else(|| Refusal::missing("capture"))?;
    let engine = session.engine(asked.engine).ok_or_else(|| Refusal::missing("engine"))?;
    let said = said(&asked, &engine.engine)?;
    let (id, run) = session.add_run(Run::new(capture.capture.source.clone(), engine));
    let answer = Answer::json(&run.shown(id));
    Ok((answer, Work(Box::new(move || work(&run, &capture, asked, said)))))
}

/// What was typed beside the capture, by the rules of the command line.
fn said(asked: &Start, engine: &Engine) -> Result<Options, Refusal> {
    let refused = |error: String| Refusal::unusable(format!("{error}."));
    let codes = read_codes(&asked.codes).map_err(|error| refused(error.to_string()))?;
    let controller = read_controller(&asked.phasers, &asked.learned, engine);
    let controller = controller.map_err(|error| refused(error.to_string()))?;
    Ok(Options { codes, controller, after_repair: asked.after_repair, ..Options::default() })
}

/// Measures and writes, looking between the steps whether it is still wanted.
fn work(run: &Run, capture: &HeldCapture, asked: Start, said: Options) {
    if !run.goes_on(Stage::Working("measuring")) {
        return;
    }
    let captures = std::slice::from_ref(&capture.capture);
    let leads = asked.leads.into_iter().map(|lead| LeadRequest {
        name: lead.name,
        column: lead.column.to_string(),
        amperes_per_volt: lead.amperes_per_volt.filter(|scale| scale.is_finite()),
    });
    let options = Options { leads: leads.collect(), watch: run.watch(), ..said };
    let checked = match check(captures, &run.engine().engine, &options) {
        Ok(checked) => checked,
        Err(error) => {
            run.goes_on(Stage::Failed(format!("{}.", remedies::told(&error))));
            return;
        }
    };
    if !run.goes_on(Stage::Working("writing the report")) {
        return;
    }
    let written = written(&checked, captures, &asked.job.into());
    run.goes_on(match written {
        Err(error) => Stage::Failed(format!("{error}.")),
        Ok((report, json, pictures)) => {
            Stage::Done(Box::new(Outcome { report, json, pictures, checked }))
        }
    });
}

/// Report, result and pictures.
fn written(
    checked: &Checked,
    captures: &[Capture],
    job: &Job,
) -> Result<(String, String, Vec<Drawn>), PictureError> {
    Ok(match checked {
        Checked::Timing(analysis) => (
            html::write(analysis, captures, job)?,
            json::write_for(analysis, job),
            draw_all(analysis, captures),
        ),
        Checked::Compression(test) => (
            html::write_cranking(test, captures, job)?,
            json::write_cranking_for(test, job),
            draw_cranking(test, captures),
        ),
    })
}

impl From<AskedJob> for Job {
    fn from(asked: AskedJob) -> Job {
        /// As in a job file.
        const LONGEST: usize = 120;
        let line = |text: String| {
            let text: String = text.trim().chars().take(LONGEST).collect();
            (!text.is_empty()).then_some(text)
        };
        Job {
            number: line(asked.number),
            vehicle: line(asked.vehicle),
            mileage: line(asked.mileage),
            technician: line(asked.technician),
            date: line(asked.date),
            ..Job::default()
        }
    }
}

/// Tells how a run stands.
pub(super) fn show(session: &Session, id: u64) -> Result<Answer, Refusal> {
    Ok(Answer::json(&run(session, id)?.shown(id)))
}

/// Stops a run at its next step; its result is not kept.
pub(super) fn cancel(session: &Session, id: u64) -> Result<Answer, Refusal> {
    let run = run(session, id)?;
    run.cancel();
    Ok(Answer::json(&run.shown(id)))
}

fn run(session: &Session, id: u64) -> Result<Arc<Run>, Refusal> {
    session.run(id).ok_or_else(|| Refusal::missing("measurement"))
}

/// The report, the result or a picture of a run. The name is looked up, never opened.
pub(super) fn file(session: &Session, id: u64, name: &str) -> Result<Answer, Refusal> {
    let run = run(session, id)?;
    let unfinished = || Err(Refusal::missing("result yet"));
    run.read(|outcome| outcome.map_or_else(unfinished, |outcome| answer(outcome, name)))
}

fn answer(outcome: &Outcome, name: &str) -> Result<Answer, Refusal> {
    match name {
        "report" => return Ok(Answer::report(outcome.report.clone())),
        "report.html" => return Ok(Answer::file(HTML, name, outcome.report.clone().into())),
        "result.json" => return Ok(Answer::file(JSON, name, outcome.json.clone().into())),
        _ => {}
    }
    let (stem, end) = name.rsplit_once('.').unwrap_or((name, ""));
    let picture = Picture::ALL.into_iter().find(|picture| picture.name() == stem);
    let drawn = outcome.pictures.iter().find(|drawn| Some(drawn.picture) == picture);
    let drawn = drawn.ok_or_else(|| Refusal::missing("file"))?;
    match end {
        "svg" => {
            let svg = drawn.svg().map_err(Refusal::broken)?;
            Ok(Answer::file("image/svg+xml", name, svg.into()))
        }
        "png" => Ok(Answer::file("image/png", name, drawn.png().map_err(Refusal::broken)?)),
        _ => Err(Refusal::missing("file")),
    }
}
