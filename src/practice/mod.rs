//! Practice captures: an engine that writes captures with a known fault.
//!
//! A physical model, from angle to volts, that shares no step with the decoder, which goes from
//! volts to angle:
//!
//! [`Fault`]s and a seed → the engine as it stands (`build`) → its sizes (`mechanics`) → starter,
//! gas and friction turn the crank (`motion`, `gas`, `starter`) → wheels as made (`made`) pass
//! their sensors (`levels`, `flux`) → dirt (`dirt`) → a [`Capture`] and the [`Truth`].
//!
//! Angles inside are plain crank degrees after the place where the crank wheel's datum
//! belongs, not wrapped; a wheel that moved is seen late from there.

mod build;
mod channels;
mod clamp;
mod demonstration;
mod dirt;
mod error;
mod faults;
mod flux;
mod gas;
mod leads;
mod levels;
mod made;
mod mechanics;
mod motion;
mod named;
mod random;
mod shaft;
mod starter;
mod switching;
mod traps;
mod truth;
mod truths;
mod write;

pub use crate::leads::Extra as ExtraLead;
pub use clamp::ClampTrouble;
pub use demonstration::{DEMONSTRATION_ENGINE, Demonstration, DemonstrationError};
pub use dirt::{DirtDone, Preset};
pub use error::PracticeError;
pub use faults::{FAULT_WORDS, Fault, FaultWordsError, Trap};
pub use truth::{
    CamParts, CamTruth, CrankTruth, CylinderTruth, DamageTruth, LeadTruth, MotionTruth, SkipTruth,
    Truth,
};
pub use write::{DecimalMark, Dialect, Separator, csv_text};

use crate::capture::{Capture, CaptureKind};
use crate::engine::Engine;
use crate::remedy::Setting;
use crate::units::TURN_DEG;
use crate::wheel::{Form, Wheel};

use build::Build;
use leads::PracticeLead;
use mechanics::Mechanics;
use motion::{Course, Motion};

/// Most rows a capture may have: a deep memory filled to a gigabyte of text. Ten minutes at 100
/// kS/s would not be cranked.
const MOST_ROWS: f64 = 3.0e7;
/// Longest capture in seconds.
const MOST_SECONDS: f64 = 300.0;
/// The starter engages after this share of the capture, but not later than so many seconds.
const STARTER_AFTER: (f64, f64) = (0.08, 0.25);
/// The capture of a rocking engine lets the starter go this long before its end, or at this share.
const ROCK_BEFORE_END: (f64, f64) = (0.8, 0.7);
/// The engine that starts fires after this share of the capture.
const FIRES_AFTER: f64 = 0.5;
/// The capture of an engine that stops and is cranked again lets the starter go after this share,
/// and engages it again after that.
const STOPS_BETWEEN: (f64, f64) = (0.45, 0.65);
/// Swings of speed within a turn that may be asked for, as a share of the mean: a three-cylinder
/// engine was recorded at 1.6 (127 to 521 rpm).
const RIPPLE_RANGE: (f64, f64) = (0.02, 2.0);
/// Most scatter of an edge that may be asked for, in crank degrees.
const MOST_JITTER_DEG: f64 = 5.0;
/// Speeds an engine may be asked to crank at, rpm.
const RPM_RANGE: (f64, f64) = (60.0, 500.0);
/// Odd multiplier that spreads takes over the seeds (2^64 over the golden ratio, as in SplitMix64).
const TAKE_MIX: u64 = 0x9e37_79b9_7f4a_7c15;
/// Resolutions a scope may have.
const BITS_RANGE: (u32, u32) = (6, 16);

/// How the capture ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
pub enum Ending {
    /// Cranking to the last row.
    Cranking,
    /// The starter is let go and the engine rocks back against its compression.
    RocksBack,
    /// The engine catches and runs to idle.
    Starts,
    /// The starter is let go half-way, the engine stops, and it is cranked again.
    StopsAndRestarts,
}

/// One capture to make.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// The engine.
    pub engine: Engine,
    /// What is wrong with it and with the hook-up.
    pub faults: Vec<Fault>,
    /// How dirty the signals are.
    pub preset: Preset,
    /// The specimen is drawn from this: its cams, wheels, sensors, friction, starter.
    pub seed: u64,
    /// Which capture of that specimen: another number gives another start and other noise.
    pub take: u64,
    /// Sampled, or the rows of a logic analyser.
    pub kind: CaptureKind,
    /// Samples per second; not used for a logic capture.
    pub rate: f64,
    /// Length of the capture.
    pub seconds: f64,
    /// The position sensors that are connected, by name; all of them when absent.
    pub sensors: Option<Vec<String>>,
    /// Leads beside crank and cams.
    pub leads: Vec<ExtraLead>,
    /// Cranking speed the starter is sized for; drawn when absent.
    pub rpm: Option<f64>,
    /// Swing of speed within a turn, greatest less least over the mean, that the flywheel is sized
    /// for; drawn when absent.
    pub ripple: Option<f64>,
    /// Scatter of every edge of a square-wave sensor, standard deviation in crank degrees.
    pub jitter: f64,
    /// Resolution of the scope; the preset's when absent.
    pub bits: Option<u32>,
    /// Cams of the sound engine stand exactly where the description says.
    pub exact: bool,
    /// How the capture ends.
    pub ending: Ending,
    /// Seconds the engine stands still before the starter engages; a little, when absent.
    pub standstill: Option<f64>,
}

impl Scenario {
    /// A sound engine, workshop dirt, 3 s at 20 kS/s with the starter's current, seed 1.
    #[must_use]
    pub fn new(engine: Engine) -> Self {
        Self {
            engine,
            faults: Vec::new(),
            preset: Preset::Workshop,
            seed: 1,
            take: 1,
            kind: CaptureKind::Sampled,
            rate: 20_000.0,
            seconds: 3.0,
            sensors: None,
            leads: vec![ExtraLead::Starter],
            rpm: None,
            ripple: None,
            jitter: 0.0,
            bits: None,
            exact: false,
            ending: Ending::Cranking,
            standstill: None,
        }
    }
}

impl Scenario {
    /// Seed of everything that differs from one capture of the same engine to the next.
    fn take_seed(&self) -> u64 {
        self.seed ^ self.take.wrapping_sub(1).wrapping_mul(TAKE_MIX)
    }
}

/// A capture and what is true of it.
#[derive(Debug, Clone)]
pub struct Practice {
    /// The capture, as a reader would have it from the file.
    pub capture: Capture,
    /// What is true.
    pub truth: Truth,
    /// Converter step of each channel, for [`csv_text`].
    pub steps: Vec<f64>,
}

/// Makes a capture. The same scenario gives the same capture.
///
/// # Errors
/// A fault or lead that names what the engine has not got; a number out of range; fewer than two
/// samples per tooth, or fewer than two turns.
pub fn generate(scenario: &Scenario) -> Result<Practice, PracticeError> {
    check_numbers(scenario)?;
    let engine = &scenario.engine;
    let leads = leads::all_leads(engine, scenario.sensors.as_deref(), &scenario.leads)?;
    let build = Build::new(engine, &scenario.faults, &leads, scenario.seed, scenario.exact)?;
    let mechanics = Mechanics::draw(engine, &build, scenario.seed, scenario.rpm, scenario.ripple);
    let course = course(scenario);
    let watched = channels::watched_cylinders(engine, &leads);
    let motion = Motion::run(&mechanics, &course, &watched, scenario.take_seed());
    check_turns(scenario, &motion)?;
    check_rate(scenario, &leads, &motion)?;
    let made = channels::make(scenario, &build, &mechanics, &motion, &leads)?;
    let truth = truths::tell(scenario, &build, &mechanics, &motion, &course, &made);
    let steps = made.dirt.iter().map(|dirt| dirt.map_or(0.0, |dirt| dirt.step)).collect();
    Ok(Practice { capture: made.capture, truth, steps })
}

fn course(scenario: &Scenario) -> Course {
    let seconds = scenario.seconds;
    let soon = (STARTER_AFTER.0 * seconds).min(STARTER_AFTER.1);
    let on = scenario.standstill.unwrap_or(soon);
    let rocks_at = (seconds - ROCK_BEFORE_END.0).max(ROCK_BEFORE_END.1 * seconds);
    let (off, again) = match scenario.ending {
        Ending::RocksBack => (rocks_at, None),
        Ending::StopsAndRestarts => (STOPS_BETWEEN.0 * seconds, Some(STOPS_BETWEEN.1 * seconds)),
        Ending::Cranking | Ending::Starts => (seconds + 1.0, None),
    };
    let fires = (scenario.ending == Ending::Starts).then_some(FIRES_AFTER * seconds);
    Course { starter: (on, off), again, fires, seconds }
}

fn check_numbers(scenario: &Scenario) -> Result<(), PracticeError> {
    let sampled = scenario.kind == CaptureKind::Sampled;
    let bits = f64::from(BITS_RANGE.0)..=f64::from(BITS_RANGE.1);
    let rows = [
        (Setting::Length, scenario.seconds, f64::MIN_POSITIVE..=MOST_SECONDS),
        (Setting::SampleRate, if sampled { scenario.rate } else { 1.0 }, f64::MIN_POSITIVE..=1.0e7),
        (Setting::CrankingSpeed, scenario.rpm.unwrap_or(RPM_RANGE.0), RPM_RANGE.0..=RPM_RANGE.1),
        (
            Setting::Ripple,
            scenario.ripple.unwrap_or(RIPPLE_RANGE.0),
            RIPPLE_RANGE.0..=RIPPLE_RANGE.1,
        ),
        (Setting::Jitter, scenario.jitter, 0.0..=MOST_JITTER_DEG),
        (Setting::Standstill, scenario.standstill.unwrap_or(0.0), 0.0..=scenario.seconds),
        (Setting::Bits, f64::from(scenario.bits.unwrap_or(BITS_RANGE.0)), bits),
    ];
    for (setting, value, range) in rows {
        if !range.contains(&value) {
            let (least, most) = range.into_inner();
            return Err(PracticeError::OutOfRange { setting, value, least, most });
        }
    }
    if sampled && scenario.rate * scenario.seconds > MOST_ROWS {
        let (rate, seconds) = (scenario.rate, scenario.seconds);
        return Err(PracticeError::TooManyRows { rate, seconds, most: MOST_ROWS });
    }
    Ok(())
}

/// Two turns at least.
fn check_turns(scenario: &Scenario, motion: &Motion) -> Result<(), PracticeError> {
    let first = motion.angle[0];
    let turned = motion.angle.iter().fold(first, |most, &angle| most.max(angle)) - first;
    if turned >= 2.0 * TURN_DEG {
        return Ok(());
    }
    // A second or two more at the speed reached, with some spin-up to spare.
    let fastest = motion.speed.iter().fold(TURN_DEG, |most, &speed| most.max(speed));
    let more = (2.0 * TURN_DEG - turned) / (0.6 * fastest);
    let enough = ((scenario.seconds + more + STARTER_AFTER.1) * 1.5 * 10.0).ceil() / 10.0;
    Err(PracticeError::TooShort { seconds: scenario.seconds, turns: turned / TURN_DEG, enough })
}

/// Two samples per tooth of the finest wheel that is recorded, at the highest speed.
fn check_rate(
    scenario: &Scenario,
    leads: &[PracticeLead],
    motion: &Motion,
) -> Result<(), PracticeError> {
    if scenario.kind == CaptureKind::Events {
        return Ok(());
    }
    let fastest = motion.speed.iter().fold(0.0_f64, |most, &speed| most.max(speed));
    let engine = &scenario.engine;
    let pitches = leads.iter().filter_map(|lead| match lead {
        PracticeLead::Crank => Some(finest_pitch(&engine.crank.wheel)),
        PracticeLead::Cam(cam) => Some(2.0 * finest_pitch(&engine.cams[*cam].wheel)),
        PracticeLead::Extra(_) => None,
    });
    let Some(pitch) = pitches.min_by(f64::total_cmp) else { return Ok(()) };
    let per_tooth = scenario.rate * pitch / fastest;
    if per_tooth >= 2.0 {
        return Ok(());
    }
    let enough = (2.0 * fastest / pitch).ceil() as u64;
    Err(PracticeError::RateTooLow { rate: scenario.rate, rpm: fastest / 6.0, per_tooth, enough })
}

/// Shaft degrees between the two nearest teeth.
fn finest_pitch(wheel: &Wheel) -> f64 {
    match wheel.form() {
        Form::Slots { slots, .. } => TURN_DEG / f64::from(*slots),
        Form::Teeth(teeth) => {
            let starts = teeth.iter().map(|tooth| tooth.start.get());
            let pairs = starts.clone().zip(starts.skip(1).chain([teeth[0].start.get() + TURN_DEG]));
            pairs.map(|(from, to)| to - from).fold(TURN_DEG, f64::min)
        }
    }
}

#[cfg(test)]
mod tests;
