//! Runs the stages in order. The one struct every output reads is [`Analysis`].

mod beside;
mod coarse;
mod compress;
mod cranking;
mod files;
mod join;
mod measured;
mod other_edge;
mod other_wheel;
mod overlay;
mod pulses;
mod reference;
mod refusal;
mod same_sensor;
mod weigh;

use crate::angle::AngleError;
use crate::cam::CamResult;
use crate::capture::{Capture, CaptureFacts};
use crate::compression::CompressionOutcome;
use crate::crank::{CrankError, CrankLock};
use crate::edges::SignalFault;
use crate::engine::Engine;
use crate::known::KnownGood;
use crate::leads::{Lead, LeadError, LeadRequest, Role};
use crate::notice::Notice;
use crate::remedy::{Mend, Remedy, Setting, mended_errors};
use crate::units::{CrankDelta, Seconds};
use crate::verdict::{CompressionFinding, ControllerReading, Verdict};
use crate::watch::{Stopped, Watch};

pub use coarse::CoarseCam;
pub use cranking::{Attempt, CrankingTest};
pub use measured::MeasuredCapture;
pub use other_edge::OtherEdge;
pub use overlay::Overlay;
pub use refusal::SeenInstead;

/// Everything found in one or more captures of one engine.
#[derive(Debug, Clone)]
pub struct Analysis {
    /// The description it was held against.
    pub engine: Engine,
    /// File names of the captures, in the order given.
    pub captures: Vec<String>,
    /// What tells these captures from others, in the same order.
    pub facts: Vec<CaptureFacts>,
    /// What was said beside the captures.
    pub asked: Options,
    /// Which of them the crank is of: index into `captures`.
    pub main_capture: usize,
    /// The leads found, of all captures, the main one's first.
    pub leads: Vec<LeadReport>,
    /// Header of the column that carried the crank.
    pub crank_lead: String,
    /// The crank, of the capture with the most turns; counts and speeds are of all captures.
    pub crank: CrankLock,
    /// The reading by the other kind of crank edge, where that may be the one that marks the teeth.
    pub other_edge: Option<OtherEdge>,
    /// Angles are known modulo this once the cams have settled the datum pass.
    pub known_modulo: CrankDelta,
    /// To be added to the crank stretch's angles to count from the cycle's datum pass.
    pub datum_shift: CrankDelta,
    /// Whole cycles used.
    pub cycles: usize,
    /// Time used.
    pub seconds_used: Seconds,
    /// Time left out: not turning, not identified.
    pub seconds_dropped: Seconds,
    /// Cams that were measured, in the order of the engine's cams.
    pub cams: Vec<CamResult>,
    /// Cams without a lead or whose wheel was not found: index into the engine's cams.
    pub unmeasured: Vec<usize>,
    /// Differences between cams of the same kind on different banks.
    pub bank_differences: Vec<BankDifference>,
    /// Relative compression.
    pub compression: CompressionOutcome,
    /// What that says of the cylinders.
    pub compression_finding: CompressionFinding,
    /// What it all means.
    pub verdict: Verdict,
    /// What the user should hear of the stages that measured; that of the verdict stands in it.
    pub warnings: Vec<Notice>,
}

impl Analysis {
    /// Whether a cam had a lead in any capture.
    #[must_use]
    pub fn has_lead(&self, cam: usize) -> bool {
        self.leads.iter().any(|lead| lead.role == Role::Cam(cam))
    }
}

/// A lead with what its signal looked like.
#[derive(Debug, Clone, PartialEq)]
pub struct LeadReport {
    /// What it is.
    pub role: Role,
    /// Name of the lead.
    pub name: String,
    /// File name of the capture it is in.
    pub capture: String,
    /// Header of the column.
    pub column: String,
    /// Index into that capture's channels.
    pub channel: usize,
    /// What is wrong with the signal, for position sensors.
    pub faults: Vec<SignalFault>,
}

impl LeadReport {
    fn new(lead: &Lead, capture: &Capture, engine: &Engine, faults: Vec<SignalFault>) -> Self {
        LeadReport {
            role: lead.role,
            name: lead.role.name(engine),
            capture: capture.source.clone(),
            column: capture.channels[lead.channel].name.clone(),
            channel: lead.channel,
            faults,
        }
    }
}

/// How much later one cam stands than another of its kind, each against its expected place.
#[derive(Debug, Clone, PartialEq)]
pub struct BankDifference {
    /// The two cams: indices into the engine's cams.
    pub cams: (usize, usize),
    /// Deviation of the first less that of the second.
    pub difference: CrankDelta,
    /// Half width of its 95 % interval.
    pub half_width95: CrankDelta,
}

/// What the user said beside the captures.
#[derive(Debug, Clone, Default)]
pub struct Options {
    /// Which column carries what.
    pub leads: Vec<LeadRequest>,
    /// Stored trouble codes, as typed.
    pub codes: Vec<String>,
    /// What a scan tool shows of single cams.
    pub controller: Vec<ControllerReading>,
    /// The drive was taken apart and put together since the engine last ran well.
    pub after_repair: bool,
    /// The bank that codes name is left out of the odds.
    pub no_code_evidence: bool,
    /// A learned known-good reference; it stands before the engine description.
    pub known: Option<KnownGood>,
    /// Who waits for the result.
    pub watch: Watch,
}

/// Why a capture could not be analysed.
#[derive(Debug)]
pub enum AnalysisError {
    /// Leads could not be assigned.
    Leads(LeadError),
    /// Stopped by whoever waited for it.
    Stopped(Stopped),
    /// A lead is asked for in a file that is not among the captures, or in one of two called alike.
    NoSuchFile {
        /// The file as it was named.
        file: String,
        /// Names of the captures.
        known: Vec<String>,
    },
    /// Two files show one cam at places that scatter does not explain.
    CamsDisagree {
        /// Name of the cam.
        cam: String,
        /// The capture with more turns.
        first: String,
        /// The other one.
        second: String,
        /// How much later the cam stands in the second.
        apart: CrankDelta,
        /// How much scatter explains.
        allowed: CrankDelta,
    },
    /// The crank sensor gives pulses that fall between the samples.
    PulsesMissed {
        /// The capture.
        capture: String,
        /// The lead.
        lead: String,
        /// Samples per second.
        rate: f64,
        /// Length of a pulse.
        pulse: Seconds,
        /// Least samples per second.
        need: f64,
    },
    /// The engine file describes no crank.
    CrankNotDescribed {
        /// The capture.
        capture: String,
        /// The lead.
        lead: String,
    },
    /// No crank angle without a crank lead.
    NoAngle {
        /// The capture.
        capture: String,
        /// Why.
        error: AngleError,
    },
    /// The crank lead does not carry the wheel of the description, and it can be told what it
    /// carries.
    NotThisWheel {
        /// The capture.
        capture: String,
        /// The lead.
        lead: String,
        /// The described wheel.
        wheel: String,
        /// What was seen instead.
        seen: Box<SeenInstead>,
    },
    /// No crank angle.
    Crank {
        /// The capture.
        capture: String,
        /// Why.
        error: CrankError,
    },
}

impl From<LeadError> for AnalysisError {
    fn from(error: LeadError) -> Self {
        AnalysisError::Leads(error)
    }
}

impl From<Stopped> for AnalysisError {
    fn from(stopped: Stopped) -> Self {
        AnalysisError::Stopped(stopped)
    }
}

impl Mend for AnalysisError {
    fn complaint(&self) -> String {
        match self {
            AnalysisError::Leads(error) => error.complaint(),
            AnalysisError::Stopped(stopped) => stopped.to_string(),
            AnalysisError::NoSuchFile { file, known } => format!(
                "\"{file}\" is not the name of just one of the captures. They are: {}",
                known.join(", ")
            ),
            AnalysisError::CamsDisagree { cam, first, second, apart, allowed } => format!(
                "{first}, {second}: the cam \"{cam}\" stands {:.1}° apart in the two files, where their scatter allows {:.1}°",
                apart.0.abs(),
                allowed.0
            ),
            AnalysisError::PulsesMissed { capture, lead, rate, pulse, .. } => format!(
                "{capture}: the crank lead \"{lead}\" cannot be read at {rate:.0} samples per second: its sensor gives output \
                 pulses of about {:.0} µs, and most of them fall between two samples",
                pulse.0 * 1e6
            ),
            AnalysisError::CrankNotDescribed { capture, lead } => format!(
                "{capture}: the crank lead \"{lead}\" cannot be read: the engine file has no [crank]"
            ),
            AnalysisError::NoAngle { capture, error } => format!("{capture}: {error}"),
            AnalysisError::NotThisWheel { capture, lead, wheel, seen } => format!(
                "{capture}: the crank lead \"{lead}\" never locks to the wheel \"{wheel}\". {seen}"
            ),
            AnalysisError::Crank { capture, error } => format!("{capture}: {error}"),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            AnalysisError::Leads(error) => error.remedies(),
            AnalysisError::CamsDisagree { .. } => vec![
                Remedy::set(Setting::Lead, "FILE:LEAD=COLUMN")
                    .only_if("they carry two different cams"),
                Remedy::to("check one file at a time").only_if("the engine changed between them"),
            ],
            AnalysisError::PulsesMissed { need, .. } => {
                vec![Remedy::to(format!("capture again at {need:.0} samples per second or more"))]
            }
            AnalysisError::CrankNotDescribed { .. } => vec![
                Remedy::to("add [crank] with `wheel` and `sensor`"),
                Remedy::to("record the starter's current, and compression alone is judged"),
            ],
            AnalysisError::NoAngle { .. } => vec![Remedy::to(
                "crank for five seconds or more with the clamp on the starter cable, and record one cylinder's coil with it",
            )],
            AnalysisError::NotThisWheel { lead, seen, .. } => seen.remedies(lead),
            _ => vec![],
        }
    }
}

mended_errors!(AnalysisError);

/// Measures captures of one engine against its description and weighs what they show. At least one
/// capture.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
/// # use std::path::Path;
/// use camwitness::{Engine, Options, ReadOptions, State, analyse, read};
///
/// let engine = Engine::read(Path::new("demo-data/engine.toml"))?;
/// let capture = read(Path::new("demo-data/sound.csv"), &ReadOptions::default())?;
/// let analysis = analyse(&[capture], &engine, &Options::default())?;
/// assert_eq!(analysis.verdict.state, State::InTime);
/// # Ok(())
/// # }
/// ```
///
/// # Errors
/// Leads that cannot be assigned, a crank signal without an angle in it, or captures that disagree
/// about a cam.
pub fn analyse(
    captures: &[Capture],
    engine: &Engine,
    options: &Options,
) -> Result<Analysis, AnalysisError> {
    let requests = files::requests_of_each(captures, engine, &options.leads)?;
    let (with_crank, without) = beside::part(captures, engine, &requests)?;
    let own = |index: &usize| Options { leads: requests[*index].clone(), ..options.clone() };
    let chosen: Vec<&Capture> = with_crank.iter().map(|&index| &captures[index]).collect();
    let asked: Vec<Options> = with_crank.iter().map(own).collect();
    let mut measured = chosen
        .iter()
        .zip(&asked)
        .map(|(capture, asked)| MeasuredCapture::measure(capture, engine, asked))
        .collect::<Result<Vec<MeasuredCapture>, AnalysisError>>()?;
    if measured.len() > 1 {
        beside::name_by_others(&chosen, engine, &asked, &mut measured)?;
    }
    let mut joined = join::join(engine, measured)?;
    joined.main_capture = with_crank[joined.main_capture];
    joined.names = captures.iter().map(|capture| capture.source.clone()).collect();
    if !without.is_empty() {
        let clamps: Vec<&Capture> = without.iter().map(|&index| &captures[index]).collect();
        let asked: Vec<Vec<LeadRequest>> =
            without.iter().map(|&index| requests[index].clone()).collect();
        beside::add(&mut joined, &clamps, &asked, engine, options)?;
    }
    joined.facts = captures.iter().map(CaptureFacts::of).collect();
    let mut analysis = weigh::weigh(joined, engine, options);
    analysis.asked.leads = files::by_header(&options.leads, &captures.iter().collect::<Vec<_>>());
    Ok(analysis)
}

/// What captures turned out to be.
#[derive(Debug, Clone)]
pub enum Checked {
    /// Cam timing, and what comes with it.
    Timing(Box<Analysis>),
    /// Compression alone: the crank was not recorded.
    Compression(Box<CrankingTest>),
}

impl Checked {
    /// The timing, where the crank was recorded.
    #[must_use]
    pub fn timing(&self) -> Option<&Analysis> {
        match self {
            Checked::Timing(analysis) => Some(analysis),
            Checked::Compression(_) => None,
        }
    }
}

/// Measures captures of one engine: timing where the crank was recorded, else compression by the
/// starter's current or the battery's voltage.
///
/// # Errors
/// As [`analyse`]; and that no lead shows compressions either.
pub fn check(
    captures: &[Capture],
    engine: &Engine,
    options: &Options,
) -> Result<Checked, AnalysisError> {
    if cranking::is_one(captures, engine, options)? {
        let requests = files::requests_of_each(captures, engine, &options.leads)?;
        let all: Vec<&Capture> = captures.iter().collect();
        let test = cranking::measure(&all, &requests, engine, options)?;
        return Ok(Checked::Compression(Box::new(test)));
    }
    Ok(Checked::Timing(Box::new(analyse(captures, engine, options)?)))
}
