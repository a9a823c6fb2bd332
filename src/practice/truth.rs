//! What was really done, for whoever marks the class, or the decoder.

use serde::Serialize;

use super::dirt::{DirtDone, Preset};

/// Everything about a practice capture that a decoder should find. Angles in crank degrees,
/// positive late, unless a name says otherwise.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// `camwitness-practice-truth/1`.
    pub format: &'static str,
    /// The engine's name.
    pub engine: String,
    /// Seed the specimen was drawn from.
    pub seed: u64,
    /// Which capture of that specimen.
    pub take: u64,
    /// How dirty.
    pub preset: Preset,
    /// Whether the cams of the sound engine stand exactly where the description says.
    pub exact: bool,
    /// The faults, in the words that make them.
    pub faults: Vec<String>,
    /// The crank.
    pub crank: CrankTruth,
    /// The cams, in the order of the engine.
    pub cams: Vec<CamTruth>,
    /// Skips made.
    pub skips: Vec<SkipTruth>,
    /// What each column carries.
    pub leads: Vec<LeadTruth>,
    /// The cylinders, in firing order.
    pub cylinders: Vec<CylinderTruth>,
    /// How the crank turned.
    pub motion: MotionTruth,
    /// Samples per second; absent for a logic capture.
    pub rate: Option<f64>,
    /// Rows of the capture.
    pub rows: usize,
}

/// The crank's wheel.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrankTruth {
    /// Its name.
    pub wheel: String,
    /// Electrical edge that marks its teeth (normal polarity); `rising` for a wheel given as teeth.
    pub edge: &'static str,
    /// How late the wheel sits on the shaft.
    pub moved_deg: f64,
    /// Firing TDC of cylinder 1 after the datum as the signal shows it, 0..720.
    pub tdc_deg: f64,
    /// Teeth broken off, counted from 1 along those the pattern has.
    pub missing_teeth: Vec<usize>,
    /// Seconds of the capture at which the wheel's datum passed the sensor forwards.
    #[serde(skip)]
    pub datum_passes_s: Vec<f64>,
}

/// Where a cam stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CamTruth {
    /// Its name.
    pub cam: String,
    /// Its bank.
    pub bank: u32,
    /// Crank degrees from the datum (as the signal shows it) to shaft angle 0 of the wheel,
    /// 0..720, mean over the steady part.
    pub position_deg: f64,
    /// Where the description puts it, if it does.
    pub expected_deg: Option<f64>,
    /// Position less expected, in (−360, 360].
    pub deviation_deg: Option<f64>,
    /// The parts the deviation is made of.
    pub parts: CamParts,
    /// How late the valves are, which is not the same as what the sensor shows.
    pub valves_deg: f64,
    /// Damaged teeth.
    pub damaged: Vec<DamageTruth>,
}

/// What a deviation is made of.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CamParts {
    /// Error of this specimen against the description.
    pub reference_error: f64,
    /// Skipped teeth.
    pub skip: f64,
    /// Worn chains.
    pub wear: f64,
    /// Phaser off rest.
    pub phaser: f64,
    /// Mean of movement during the capture.
    pub movement: f64,
    /// Sensor wheel slipped on the cam.
    pub cam_wheel: f64,
    /// The crank wheel's shift, which every cam shows with the opposite sign.
    pub crank_wheel: f64,
}

/// A damaged cam tooth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DamageTruth {
    /// Counted from 1.
    pub tooth: usize,
    /// How early its trailing edge is.
    pub trailing_edge_early_deg: f64,
}

/// A skip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SkipTruth {
    /// Shaft whose sprocket lost its place.
    pub on: String,
    /// The chain.
    pub chain: String,
    /// Teeth, positive late.
    pub teeth: i32,
    /// Crank degrees per tooth.
    pub step_deg: f64,
    /// Cams displaced.
    pub moves: Vec<String>,
}

/// A column.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeadTruth {
    /// Its header, without unit.
    pub lead: String,
    /// The lead whose signal it carries: another one where leads were crossed.
    pub carries: String,
    /// `normal` or `inverted`.
    pub polarity: &'static str,
    /// Dirt; absent for a logic capture.
    pub dirt: Option<DirtDone>,
}

/// A cylinder.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CylinderTruth {
    /// Its number.
    pub cylinder: u32,
    /// Its bank.
    pub bank: u32,
    /// Mean peak pressure over the atmosphere in the steady part, in atmospheres.
    pub peak: f64,
    /// That peak relative to the mean of all cylinders.
    pub relative: f64,
    /// That peak relative to the same cylinder without any fault, at steady cranking speed.
    pub of_sound: f64,
}

/// The motion, over the steady part.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MotionTruth {
    /// `cranking`, or `mixed` when the engine starts within the capture.
    pub state: &'static str,
    /// Steady part in seconds of the capture.
    pub from_s: f64,
    /// Its end.
    pub to_s: f64,
    /// Mean speed.
    pub rpm_mean: f64,
    /// Lowest speed.
    pub rpm_min: f64,
    /// Highest speed.
    pub rpm_max: f64,
    /// Highest less lowest over mean within a turn, mean of the turns.
    pub ripple: f64,
    /// Four-stroke cycles in the steady part.
    pub cycles: f64,
    /// Crank turns in the whole capture.
    pub turns: f64,
    /// Whether the crank turned backwards at the end.
    pub rocked_back_deg: f64,
}
