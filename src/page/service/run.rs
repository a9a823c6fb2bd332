//! One measurement, and how it stands.

use std::sync::{Arc, Mutex};

use serde::Serialize;

use super::held::{HeldEngine, lock};
use crate::analysis::{Analysis, Checked, CrankingTest};
use crate::report::pictures::Drawn;
use crate::report::words;
use crate::watch::Watch;

/// One measurement of one capture.
pub(super) struct Run {
    capture: String,
    engine: Arc<HeldEngine>,
    watch: Watch,
    stage: Mutex<Stage>,
}

/// How far it is.
pub(super) enum Stage {
    /// At work, on what.
    Working(&'static str),
    /// All there.
    Done(Box<Outcome>),
    /// It came to nothing: why.
    Failed(String),
}

/// What came of it.
pub(super) struct Outcome {
    pub checked: Checked,
    pub report: String,
    pub json: String,
    pub pictures: Vec<Drawn>,
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
    /// A measurement that is still to be begun.
    pub fn new(capture: String, engine: Arc<HeldEngine>) -> Run {
        let stage = Mutex::new(Stage::Working("waiting"));
        Run { capture, engine, watch: Watch::new(), stage }
    }

    /// The engine it is held against.
    pub fn engine(&self) -> &HeldEngine {
        &self.engine
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
            engine: self.engine.engine.name.clone(),
            state: "working",
            message: String::new(),
            share: self.watch.share(),
            finding: None,
            pictures: Vec::new(),
        };
        if self.watch.is_stopped() {
            shown.state = "cancelled";
            return shown;
        }
        match &*lock(&self.stage) {
            Stage::Working(what) => shown.message = (*what).to_owned(),
            Stage::Failed(why) => (shown.state, shown.message) = ("failed", why.clone()),
            Stage::Done(outcome) => {
                shown.state = "done";
                shown.finding = Some(match &outcome.checked {
                    Checked::Timing(analysis) => finding(analysis),
                    Checked::Compression(test) => cranking_finding(test),
                });
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
    }
}

/// Of a capture without the crank: compression alone.
fn cranking_finding(test: &CrankingTest) -> Finding {
    let measured = test.main().compression.measured.as_ref();
    Finding {
        state: test.finding.state.word(),
        sentence: words::compression_finding(&test.engine, measured, &test.finding),
        cams: Vec::new(),
    }
}
