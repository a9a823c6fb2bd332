//! Measurements: started, watched, cancelled, read.

use std::sync::{Arc, Mutex};

use axum::Json;
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};

use super::answer::Refusal;
use super::session::{HeldCapture, HeldEngine, Session, lock};
use crate::analysis::{Analysis, Options, analyse};
use crate::leads::LeadRequest;
use crate::report::job::Job;
use crate::report::pictures::{Drawn, Picture, draw_all};
use crate::report::{html, json, words};
use crate::watch::Watch;

/// The report runs its own scripts and reaches nothing, not even this page.
pub(super) const REPORT_POLICY: &str = "sandbox allow-scripts allow-modals; default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'";

/// One measurement of one capture.
pub(super) struct Run {
    capture: String,
    engine: Arc<HeldEngine>,
    watch: Watch,
    stage: Mutex<Stage>,
}

enum Stage {
    Working(&'static str),
    Done(Box<Outcome>),
    Failed(String),
}

struct Outcome {
    analysis: Analysis,
    finding: Finding,
    report: String,
    json: String,
    pictures: Vec<Drawn>,
}

/// The finding, for the list.
#[derive(Debug, Clone, Serialize)]
struct Finding {
    state: &'static str,
    sentence: String,
    cams: Vec<CamLine>,
}

#[derive(Debug, Clone, Serialize)]
struct CamLine {
    cam: String,
    off: String,
    teeth: String,
}

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

/// How a run stands.
#[derive(Serialize)]
pub(super) struct Shown {
    id: u64,
    capture: String,
    engine: String,
    state: &'static str,
    message: String,
    /// How much of the measurement is done, 0 to 1.
    share: f64,
    finding: Option<Finding>,
    pictures: Vec<&'static str>,
}

impl Run {
    /// The result, once it is there.
    pub fn analysis(&self) -> Option<Analysis> {
        match &*lock(&self.stage) {
            Stage::Done(outcome) => Some(outcome.analysis.clone()),
            _ => None,
        }
    }

    pub fn engine(&self) -> &HeldEngine {
        &self.engine
    }
}

/// Starts a measurement.
pub(super) async fn start(
    State(session): State<Arc<Session>>,
    Json(asked): Json<Start>,
) -> Result<Json<Shown>, Refusal> {
    let capture = session.capture(asked.capture).ok_or_else(|| Refusal::missing("capture"))?;
    let engine = session.engine(asked.engine).ok_or_else(|| Refusal::missing("engine"))?;
    let (id, run) = session.add_run(Run {
        capture: capture.capture.source.clone(),
        engine,
        watch: Watch::new(),
        stage: Mutex::new(Stage::Working("waiting")),
    });
    let working = run.clone();
    tokio::task::spawn_blocking(move || work(&working, &capture, asked));
    Ok(Json(shown(id, &run)))
}

/// Measures and writes, looking between the steps whether it is still wanted.
fn work(run: &Run, capture: &HeldCapture, asked: Start) {
    let stage = |stage: Stage| {
        let wanted = !run.watch.is_stopped();
        if wanted {
            *lock(&run.stage) = stage;
        }
        wanted
    };
    if !stage(Stage::Working("measuring")) {
        return;
    }
    let captures = std::slice::from_ref(&capture.capture);
    let leads = asked.leads.into_iter().map(|lead| LeadRequest {
        name: lead.name,
        column: lead.column.to_string(),
        amperes_per_volt: lead.amperes_per_volt.filter(|scale| scale.is_finite()),
    });
    let options = Options {
        leads: leads.collect(),
        codes: asked.codes,
        known: None,
        watch: run.watch.clone(),
    };
    let analysis = match analyse(captures, &run.engine.engine, &options) {
        Ok(analysis) => analysis,
        Err(error) => {
            stage(Stage::Failed(format!("{error}.")));
            return;
        }
    };
    if !stage(Stage::Working("writing the report")) {
        return;
    }
    let written = html::write(&analysis, captures, &asked.job.into());
    stage(match written {
        Err(error) => Stage::Failed(format!("{error}.")),
        Ok(report) => Stage::Done(Box::new(Outcome {
            finding: finding(&analysis),
            report,
            json: json::write(&analysis),
            pictures: draw_all(&analysis, captures),
            analysis,
        })),
    });
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
        }
    }
}

fn finding(analysis: &Analysis) -> Finding {
    let measured = analysis.cams.iter().map(|cam| CamLine {
        cam: analysis.engine.cams[cam.measured.cam].name.clone(),
        off: cam.deviation.map_or("place not known".into(), |off| off.to_string()),
        teeth: words::teeth(cam),
    });
    let rest = analysis.unmeasured.iter().map(|&cam| CamLine {
        cam: analysis.engine.cams[cam].name.clone(),
        off: "not measured".into(),
        teeth: String::new(),
    });
    Finding {
        state: analysis.verdict.state.word(),
        sentence: words::finding(&analysis.engine, &analysis.verdict),
        cams: measured.chain(rest).collect(),
    }
}

pub(super) fn shown(id: u64, run: &Run) -> Shown {
    let mut shown = Shown {
        id,
        capture: run.capture.clone(),
        engine: run.engine.engine.name.clone(),
        state: "working",
        message: String::new(),
        share: run.watch.share(),
        finding: None,
        pictures: Vec::new(),
    };
    if run.watch.is_stopped() {
        shown.state = "cancelled";
        return shown;
    }
    match &*lock(&run.stage) {
        Stage::Working(what) => shown.message = (*what).to_owned(),
        Stage::Failed(why) => (shown.state, shown.message) = ("failed", why.clone()),
        Stage::Done(outcome) => {
            shown.state = "done";
            shown.finding = Some(outcome.finding.clone());
            shown.pictures = outcome.pictures.iter().map(|drawn| drawn.picture.name()).collect();
        }
    }
    shown
}

/// Tells how a run stands.
pub(super) async fn show(
    State(session): State<Arc<Session>>,
    Path(id): Path<u64>,
) -> Result<Json<Shown>, Refusal> {
    let run = session.run(id).ok_or_else(|| Refusal::missing("measurement"))?;
    Ok(Json(shown(id, &run)))
}

/// Stops a run at its next step; its result is not kept.
pub(super) async fn cancel(
    State(session): State<Arc<Session>>,
    Path(id): Path<u64>,
) -> Result<Json<Shown>, Refusal> {
    let run = session.run(id).ok_or_else(|| Refusal::missing("measurement"))?;
    if !matches!(&*lock(&run.stage), Stage::Done(_) | Stage::Failed(_)) {
        run.watch.stop();
    }
    Ok(Json(shown(id, &run)))
}

/// The report, the result or a picture of a run. The name is looked up, never opened.
pub(super) async fn file(
    State(session): State<Arc<Session>>,
    Path((id, name)): Path<(u64, String)>,
) -> Result<Response, Refusal> {
    let run = session.run(id).ok_or_else(|| Refusal::missing("measurement"))?;
    let render = move || {
        let stage = lock(&run.stage);
        let Stage::Done(outcome) = &*stage else { return Err(Refusal::missing("result yet")) };
        answer(outcome, &name)
    };
    tokio::task::spawn_blocking(render).await.map_err(Refusal::broken)?
}

fn answer(outcome: &Outcome, name: &str) -> Result<Response, Refusal> {
    match name {
        "report" => {
            let headers = [
                (CONTENT_TYPE, "text/html; charset=utf-8"),
                (CONTENT_SECURITY_POLICY, REPORT_POLICY),
            ];
            return Ok((headers, outcome.report.clone()).into_response());
        }
        "report.html" => {
            return Ok(download("text/html; charset=utf-8", name, outcome.report.clone().into()));
        }
        "result.json" => {
            return Ok(download("application/json", name, outcome.json.clone().into()));
        }
        _ => {}
    }
    let (stem, end) = name.rsplit_once('.').unwrap_or((name, ""));
    let picture = Picture::ALL.into_iter().find(|picture| picture.name() == stem);
    let drawn = outcome.pictures.iter().find(|drawn| Some(drawn.picture) == picture);
    let drawn = drawn.ok_or_else(|| Refusal::missing("file"))?;
    match end {
        "svg" => Ok(download("image/svg+xml", name, drawn.svg().map_err(Refusal::broken)?.into())),
        "png" => Ok(download("image/png", name, drawn.png().map_err(Refusal::broken)?)),
        _ => Err(Refusal::missing("file")),
    }
}

/// `name` is one of the names above, so it needs no quoting.
pub(super) fn download(kind: &'static str, name: &str, bytes: Vec<u8>) -> Response {
    let disposition = format!("attachment; filename=\"{name}\"");
    ([(CONTENT_TYPE, kind.to_owned()), (CONTENT_DISPOSITION, disposition)], bytes).into_response()
}
