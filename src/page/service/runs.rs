//! Measurements: started, watched, cancelled, read.

use std::panic::AssertUnwindSafe;
use std::sync::Arc;

use serde::Deserialize;

use super::answer::{Answer, HTML, JSON, Refusal};
use super::held::{HeldCapture, HeldEngine, bytes_of, lock};
use super::joined::JoinedLeads;
use super::run::{About, Outcome, Run, Stage};
use super::session::Session;
use super::{Work, joined, remedies, typed, undescribed};
use crate::analysis::{Checked, Options, check};
use crate::capture::{Capture, CaptureError, stretch};
use crate::codes::read_codes;
use crate::engine::{Engine, Reference};
use crate::leads::LeadRequest;
use crate::look::Facts;
use crate::remedy::Mend;
use crate::report::Papers;
use crate::report::job::Job;
use crate::report::pictures::Picture;
use crate::units::Seconds;
use crate::verdict::read_controller;

/// What is to be measured.
#[derive(Debug, Clone, Default, Deserialize)]
pub(super) struct Start {
    capture: u64,
    /// Further captures of the same engine at the same sitting.
    #[serde(default)]
    join: Vec<u64>,
    /// What the columns of these are, where it was said.
    #[serde(default)]
    join_leads: Vec<JoinedLeads>,
    /// None: the engine as the capture shows it.
    engine: Option<u64>,
    /// Firing order and banks of an engine without a description, as typed.
    #[serde(default)]
    firing: String,
    #[serde(default)]
    banks: String,
    /// First and last second to use, as typed.
    #[serde(default)]
    from: String,
    #[serde(default)]
    to: String,
    /// When it was begun, by the browser's clock.
    #[serde(default)]
    came: String,
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

#[derive(Debug, Clone, Deserialize)]
pub(super) struct AskedLead {
    pub name: String,
    pub column: usize,
    pub amperes_per_volt: Option<f64>,
}

/// Lines of the job, as typed.
#[derive(Debug, Clone, Default, Deserialize)]
pub(super) struct AskedJob {
    #[serde(default)]
    number: String,
    #[serde(default)]
    vehicle: String,
    #[serde(default)]
    mileage: String,
    /// Work done, for the sheet after a repair.
    #[serde(default)]
    work: String,
    #[serde(default)]
    technician: String,
    #[serde(default)]
    date: String,
}

/// Starts a measurement: the answer, and the work that is then to be done.
pub(super) fn start(session: &Arc<Session>, asked: Start) -> Result<(Answer, Work), Refusal> {
    let (id, run, work) = begin(session, asked, false)?;
    Ok((Answer::json(&run.shown(id)), work))
}

/// Begins a measurement: its number, itself, and its work.
pub(super) fn begin(
    session: &Arc<Session>,
    asked: Start,
    watched: bool,
) -> Result<(u64, Arc<Run>, Work), Refusal> {
    let held = |id: u64| session.capture(id).ok_or_else(|| Refusal::missing("capture"));
    let captures = std::iter::once(asked.capture).chain(asked.join.iter().copied()).map(held);
    let captures = captures.collect::<Result<Vec<Arc<HeldCapture>>, Refusal>>()?;
    let engine = match asked.engine {
        Some(id) => session.engine(id).ok_or_else(|| Refusal::missing("engine"))?,
        None => Arc::new(undescribed::placeholder(&captures)?),
    };
    let bytes: u64 = captures.iter().map(|one| bytes_of(&one.capture)).sum();
    if !session.may_measure(bytes) {
        return Err(Refusal::unusable(format!(
            "Measuring {:.0} MB of samples takes more memory than this page may use. Use a part of the capture, from one second to another, or export a shorter one",
            bytes as f64 / 1e6
        ))
        .at("stretch"));
    }
    let mut said = said(&asked, &engine.engine)?;
    let facts = undescribed::facts(&asked.firing, &asked.banks)?;
    let stretch = seconds(&asked)?;
    let of_joined = |id: &u64| {
        let said = asked.join_leads.iter().find(|one| one.capture == *id);
        said.map(|one| one.leads.as_slice())
    };
    let of_joined: Vec<Option<&[AskedLead]>> = asked.join.iter().map(of_joined).collect();
    said.leads = joined::leads(&captures, &engine.engine, &asked.leads, &of_joined);
    said.known = lock(&engine.known).clone();
    let reading = captures[0].reading.clone();
    let came = asked.came.chars().filter(|c| !c.is_control()).take(20).collect();
    let leads = said.leads.clone();
    let about = About { job: asked.job.into(), reading, leads, stretch, came, watched };
    let not_judged: Vec<String> = engine
        .taken
        .iter()
        .filter(|(id, _)| *id == asked.capture || asked.join.contains(id))
        .map(|(_, cam)| cam.clone())
        .collect();
    let (id, run) = session.add_run(Run::new(&captures, engine, about));
    let (mine, session) = (run.clone(), session.clone());
    let facts = asked.engine.is_none().then_some(facts);
    let work = Work(Box::new(move || {
        // One after the other: each takes several times the memory of its capture.
        let _alone = lock(&session.at_work);
        let done = AssertUnwindSafe(|| work(&mine, &captures, said, facts.as_ref(), &not_judged));
        if std::panic::catch_unwind(done).is_err() {
            let why = "The program failed at this capture, by a fault of its own. Nothing else is lost. Try a part of it, from one second to another.";
            mine.goes_on(Stage::Failed(why.into(), vec!["stretch"]));
        }
        drop(captures);
        session.make_room(0);
    }));
    Ok((id, run, work))
}

impl From<&AskedLead> for LeadRequest {
    fn from(lead: &AskedLead) -> LeadRequest {
        LeadRequest {
            name: lead.name.clone(),
            column: lead.column.to_string(),
            amperes_per_volt: lead.amperes_per_volt.filter(|scale| scale.is_finite()),
        }
    }
}

impl Start {
    /// A measurement of one capture against one engine.
    pub fn of(capture: u64, engine: u64, leads: Vec<AskedLead>, came: &str) -> Start {
        Start { capture, engine: Some(engine), leads, came: came.into(), ..Start::default() }
    }
}

/// First and last second to use.
fn seconds(asked: &Start) -> Result<(Option<f64>, Option<f64>), Refusal> {
    let one = |text: &str| {
        let no_number = |_| format!("“{text}” is no number of seconds");
        typed::number(text).map_err(|why| Refusal::unusable(no_number(why)).at("stretch"))
    };
    let (from, to) = (one(&asked.from)?, one(&asked.to)?);
    if let (Some(from), Some(to)) = (from, to)
        && from >= to
    {
        let why = format!("The stretch ends at {to} s and begins at {from} s. Turn the two round");
        return Err(Refusal::unusable(why).at("stretch"));
    }
    Ok((from, to))
}

/// What was typed beside the capture, by the rules of the command line.
fn said(asked: &Start, engine: &Engine) -> Result<Options, Refusal> {
    let refused = |error: String, field| Refusal::unusable(format!("{error}.")).at(field);
    let codes = read_codes(&asked.codes).map_err(|error| refused(error.to_string(), "codes"))?;
    let controller = read_controller(&asked.phasers, &asked.learned, engine);
    let controller = controller.map_err(|error| refused(error.to_string(), "phasers"))?;
    Ok(Options { codes, controller, after_repair: asked.after_repair, ..Options::default() })
}

/// Measures and writes, looking between the steps whether it is still wanted.
fn work(
    run: &Run,
    held: &[Arc<HeldCapture>],
    said: Options,
    facts: Option<&Facts>,
    not_judged: &[String],
) {
    if !run.goes_on(Stage::Working("measuring")) {
        return;
    }
    let failed = |error: &dyn Mend| {
        let told = remedies::told(error);
        run.goes_on(Stage::Failed(format!("{told}."), remedies::fields(error)));
    };
    let cut = match cut(run, held) {
        Ok(cut) => cut,
        Err(error) => return failed(&error),
    };
    // One that is used whole is not copied.
    let captures = cut.as_deref().unwrap_or_else(|| std::slice::from_ref(&held[0].capture));
    let mut options = Options { watch: run.watch(), ..said };
    let mut notes: Vec<String> = not_judged.iter().map(|cam| taken_over(cam)).collect();
    let mut engine = run.engine().engine.clone();
    if let Some(facts) = facts {
        match undescribed::describe(&captures[0], &options.leads, facts) {
            Ok(described) => {
                options.leads = described.leads;
                notes.extend(
                    described.guessed.iter().map(|one| format!("{one}. Follow that lead.")),
                );
                engine = described.engine.clone();
                run.shows_engine(HeldEngine::new(described.engine, described.text));
            }
            Err((why, fields)) => {
                run.goes_on(Stage::Failed(why, fields));
                return;
            }
        }
    }
    for cam in engine.cams.iter_mut().filter(|cam| not_judged.contains(&cam.name)) {
        cam.reference = Reference::Unknown;
    }
    let checked = match check(captures, &engine, &options) {
        Ok(checked) => checked,
        Err(error) => return failed(&error),
    };
    if facts.is_some()
        && let Checked::Timing(analysis) = &checked
    {
        notes.extend(undescribed::said(analysis));
    }
    if !run.goes_on(Stage::Working("writing the report")) {
        return;
    }
    run.goes_on(match Papers::of(&checked, captures, &run.about().job).into_parts() {
        Err(error) => Stage::Failed(format!("{error}."), Vec::new()),
        Ok((report, json, pictures)) => {
            Stage::Done(Box::new(Outcome { report, json, pictures, checked, notes }))
        }
    });
}

/// That a place was taken over.
fn taken_over(cam: &str) -> String {
    format!(
        "{cam} is not judged: its place in the engine file was taken over from this capture, and a fault would be in it."
    )
}

/// The captures as they are measured, where one alone is not used whole: the stretch of each, and
/// no two under one name.
fn cut(run: &Run, held: &[Arc<HeldCapture>]) -> Result<Option<Vec<Capture>>, CaptureError> {
    let (from, to) = run.about().stretch;
    if held.len() == 1 && from.is_none() && to.is_none() {
        return Ok(None);
    }
    let parts = held.iter().zip(joined::names(held)).map(|(one, source)| {
        Ok(Capture { source, ..stretch(&one.capture, from.map(Seconds), to.map(Seconds))? })
    });
    parts.collect::<Result<Vec<Capture>, CaptureError>>().map(Some)
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
            work: line(asked.work),
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

/// Takes a run out of the session; one at work is stopped.
pub(super) fn remove(session: &Session, id: u64) -> Result<Answer, Refusal> {
    let run = session.runs.remove(id).ok_or_else(|| Refusal::missing("measurement"))?;
    run.cancel();
    Ok(Answer::json(&()))
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
