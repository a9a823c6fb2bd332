//! One measurement, and how it stands.

use std::sync::{Arc, Mutex, Weak};

use serde::Serialize;

use super::captures::Reading;
use super::held::{HeldCapture, HeldEngine, lock};
use crate::analysis::{Analysis, Checked, CrankingTest};
use crate::leads::LeadRequest;
use crate::report::job::Job;
use crate::report::pictures::Drawn;
use crate::report::words;
use crate::watch::Watch;

/// One measurement of one capture, or of several that are joined.
pub(super) struct Run {
    capture: String,
    about: About,
    engine: Mutex<Arc<HeldEngine>>,
    watch: Watch,
    stage: Mutex<Stage>,
    /// Captures as they were; they may have left since.
    captures: Vec<Weak<HeldCapture>>,
    /// Number of the job it was kept as.
    kept: Mutex<Option<u32>>,
}

/// What was said beside the captures.
#[derive(Debug, Clone, Default)]
pub(super) struct About {
    pub job: Job,
    pub reading: Reading,
    pub leads: Vec<LeadRequest>,
    /// First and last second that are used.
    pub stretch: (Option<f64>, Option<f64>),
    /// When it was begun, as the browser's clock has it.
    pub came: String,
    /// By itself, when a watched folder had it.
    pub watched: bool,
}

/// How far it is.
pub(super) enum Stage {
    /// At work, on what.
    Working(&'static str),
    /// All there.
    Done(Box<Outcome>),
    /// It came to nothing: why, and fields of the page that would mend it.
    Failed(String, Vec<&'static str>),
}

/// What came of it.
pub(super) struct Outcome {
    pub checked: Checked,
    pub report: String,
    pub json: String,
    pub pictures: Vec<Drawn>,
    /// What else is said under the finding.
    pub notes: Vec<String>,
}

/// The finding, for the list.
#[derive(Debug, Clone, Serialize)]
struct Finding {
    state: &'static str,
    sentence: String,
    cams: Vec<CamLine>,
    notes: Vec<String>,
}

#[derive(Debug, Clone, Serialize)]
struct CamLine {
    cam: String,
    off: String,
    teeth: String,
}

/// How a run stands.
#[derive(Serialize)]
pub(super) struct Shown {
    id: u64,
    capture: String,
    came: String,
    engine: String,
    state: &'static str,
    message: String,
    /// Fields of the page that would mend it.
    fields: Vec<&'static str>,
    /// How much of the measurement is done, 0 to 1.
    share: f64,
    finding: Option<Finding>,
    pictures: Vec<&'static str>,
    watched: bool,
    job: Option<u32>,
}

impl Run {
    /// A measurement that is still to be begun.
    pub fn new(captures: &[Arc<HeldCapture>], engine: Arc<HeldEngine>, about: About) -> Run {
        let names: Vec<&str> = captures.iter().map(|one| one.capture.source.as_str()).collect();
        Run {
            capture: names.join(" and "),
            about,
            engine: Mutex::new(engine),
            watch: Watch::new(),
            stage: Mutex::new(Stage::Working("waiting")),
            captures: captures.iter().map(Arc::downgrade).collect(),
            kept: Mutex::new(None),
        }
    }

    /// The engine it is held against.
    pub fn engine(&self) -> Arc<HeldEngine> {
        lock(&self.engine).clone()
    }

    /// Names the engine that the capture itself showed.
    pub fn shows_engine(&self, engine: HeldEngine) {
        *lock(&self.engine) = Arc::new(engine);
    }

    pub fn about(&self) -> &About {
        &self.about
    }

    /// Name and packed file of each capture; `None` where one has left, or was never kept.
    pub fn originals(&self) -> Option<Vec<(String, Vec<u8>)>> {
        let held = self.captures.iter().map(|one| {
            let one = one.upgrade()?;
            Some((one.capture.source.clone(), one.original.clone()?))
        });
        held.collect()
    }

    /// Remembers as which job it was kept.
    pub fn kept(&self, job: u32) {
        *lock(&self.kept) = Some(job);
    }

    /// Bytes it takes, about: pictures and figures come to as much again as the texts.
    pub fn bytes(&self) -> u64 {
        let texts = |outcome: &Outcome| (outcome.report.len() + outcome.json.len()) as u64;
        self.read(|outcome| outcome.map_or(0, |outcome| 2 * texts(outcome)))
    }

    /// By which the work is stopped and tells how far it is.
    pub fn watch(&self) -> Watch {
        self.watch.clone()
    }

    /// Says how far it is; whether it is still wanted.
    pub fn goes_on(&self, stage: Stage) -> bool {
        let wanted = !self.watch.is_stopped();
        if wanted {
            *lock(&self.stage) = stage;
        }
        wanted
    }

    /// Stops it at its next step, unless it has ended.
    pub fn cancel(&self) {
        if matches!(&*lock(&self.stage), Stage::Working(_)) {
            self.watch.stop();
        }
    }

    /// Gives what came of it to a reader; `None` while it is not there.
    pub fn read<T>(&self, reader: impl FnOnce(Option<&Outcome>) -> T) -> T {
        match &*lock(&self.stage) {
            Stage::Done(outcome) => reader(Some(outcome)),
            _ => reader(None),
        }
    }

    /// How it stands, for the page.
    pub fn shown(&self, id: u64) -> Shown {
        let mut shown = Shown {
            id,
            capture: self.capture.clone(),
            came: self.about.came.clone(),
            engine: self.engine().engine.name.clone(),
            state: "working",
            message: String::new(),
            fields: Vec::new(),
            share: self.watch.share(),
            finding: None,
            pictures: Vec::new(),
            watched: self.about.watched,
            job: *lock(&self.kept),
        };
        if self.watch.is_stopped() {
            shown.state = "cancelled";
            return shown;
        }
        match &*lock(&self.stage) {
            Stage::Working(what) => shown.message = (*what).to_owned(),
            Stage::Failed(why, fields) => {
                (shown.state, shown.message, shown.fields) =
                    ("failed", why.clone(), fields.clone());
            }
            Stage::Done(outcome) => {
                shown.state = "done";
                let finding = match &outcome.checked {
                    Checked::Timing(analysis) => finding(analysis),
                    Checked::Compression(test) => cranking_finding(test),
                };
                shown.finding = Some(Finding { notes: outcome.notes.clone(), ..finding });
                shown.pictures =
                    outcome.pictures.iter().map(|drawn| drawn.picture.name()).collect();
            }
        }
        shown
    }
}

fn finding(analysis: &Analysis) -> Finding {
    let measured = analysis.cams.iter().map(|cam| CamLine {
        cam: analysis.engine.cams[cam.measured.cam].name.clone(),
        off: cam.deviation().map_or("place not known".into(), |off| off.to_string()),
        teeth: words::teeth(cam),
    });
    let rest = analysis.unmeasured.iter().map(|&cam| CamLine {
        cam: analysis.engine.cams[cam].name.clone(),
        off: "not measured".into(),
        teeth: String::new(),
    });
    Finding {
        state: analysis.verdict.state.word(),
        sentence: words::whole_finding(analysis),
        cams: measured.chain(rest).collect(),
        notes: Vec::new(),
    }
}

/// Of a capture without the crank: compression alone.
fn cranking_finding(test: &CrankingTest) -> Finding {
    let measured = test.main().compression.measured.as_ref();
    Finding {
        state: test.finding.state.word(),
        sentence: words::compression_finding(&test.engine, measured, &test.finding),
        cams: Vec::new(),
        notes: Vec::new(),
    }
}
