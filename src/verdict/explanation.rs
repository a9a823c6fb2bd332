//! One explanation with its odds, as facts. Its sentences are the report's.

use super::deviations::{CamDeviation, furthest};
use super::evidence::Evidence;
use super::hypotheses::{Cause, SecondFault};
use super::{Kind, Mistake};
use crate::engine::Cam;
use crate::units::CrankDelta;

/// One explanation and its odds.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// What kind.
    pub kind: Kind,
    /// The shaft (skip) or cam concerned.
    pub on: Option<String>,
    /// Name of the chain concerned.
    pub chain: Option<String>,
    /// Teeth skipped, positive late.
    pub teeth: Option<i32>,
    /// Links by which the chain that skipped stands off, signed like `teeth`; absent for belts and
    /// gears.
    pub links: Option<i32>,
    /// Names of the cams displaced.
    pub moves: Vec<String>,
    /// Of two leads exchanged, the cam of the second; `on` is that of the first.
    pub crossed_with: Option<String>,
    /// Its probability; all explanations together make 1.
    pub probability: f64,
    /// The number that speaks for or against it.
    pub reason: Reason,
    /// What most likely comes along with it.
    pub second_fault: SecondFault,
}

/// The number that speaks for or against an explanation. What stands where is told with leads put
/// right where the explanation says that they are exchanged; a cam that was not measured is left
/// out.
#[derive(Debug, Clone, PartialEq)]
pub enum Reason {
    /// In time.
    InTime {
        /// The cam furthest from its place; absent where none could be held against a known one.
        furthest: Option<CamDeviation>,
    },
    /// A skip.
    Skip {
        /// Where the cams stand that it moves.
        stand: Vec<CamDeviation>,
        /// What it makes of them; absent where no sprockets are described.
        shift: Option<SkipShift>,
        /// Other shafts whose sprocket would give the same.
        same_as: Vec<String>,
    },
    /// Wear.
    Wear {
        /// Where the cams stand that it makes late.
        stand: Vec<CamDeviation>,
        /// Scatter of single cycles of the least steady of them; absent when not measured.
        scatter: Option<CrankDelta>,
    },
    /// Phasers off rest.
    PhaserOffRest {
        /// Where their cams stand.
        stand: Vec<CamDeviation>,
        /// How far the longest of their travels reaches.
        travel: Option<CrankDelta>,
        /// What the description says of it, where it is one.
        said: PhaserSaid,
    },
    /// The crank's reference moved.
    CrankReferenceMoved {
        /// Where all cams stand.
        stand: Vec<CamDeviation>,
    },
    /// A cam's wheel moved.
    CamWheelMoved {
        /// Where its cam stands.
        stand: Vec<CamDeviation>,
    },
    /// A damaged tooth.
    DamagedTooth {
        /// How far the worst edge of the wheel lies off the others; absent when not measured.
        worst_edge: Option<CrankDelta>,
    },
    /// Leads exchanged.
    LeadsCrossed,
    /// The description or the leads are not this engine's.
    DoesNotFit {
        /// What is wrong with them.
        mistake: Mistake,
        /// Where the cams stand that it misplaces.
        stand: Vec<CamDeviation>,
    },
}

/// What the description says of a phaser that is found away from rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhaserSaid {
    /// Where it stands is within its travel.
    Described,
    /// Nothing: there may be one.
    Nothing,
    /// That there is none.
    Absent {
        /// The line of the engine file that says so.
        line: Option<usize>,
    },
    /// A travel that does not reach there.
    Otherwise {
        /// The line of the engine file that says so.
        line: Option<usize>,
    },
}

impl PhaserSaid {
    /// What the description of a cam says of a phaser that would put it where it stands.
    fn of(cam: &Cam, stands: Option<&CamDeviation>) -> PhaserSaid {
        let line = cam.lines.phaser;
        match cam.phaser {
            None if cam.without_phaser => PhaserSaid::Absent { line },
            None => PhaserSaid::Nothing,
            Some(phaser) => {
                let (early, late) = phaser.range();
                let allowed = early.0 - cam.tolerance.0..=late.0 + cam.tolerance.0;
                match stands {
                    Some(one) if !allowed.contains(&one.deviation.0) => {
                        PhaserSaid::Otherwise { line }
                    }
                    _ => PhaserSaid::Described,
                }
            }
        }
    }
}

/// What a skip makes of the cams it moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkipShift {
    /// By so much they stand late.
    pub by: CrankDelta,
    /// One tooth of the chain that skipped.
    pub tooth: CrankDelta,
}

impl Weighed {
    /// A cause with its odds; `deviations` are those the cams have if it is true.
    pub(super) fn new(
        evidence: &Evidence,
        deviations: &[CamDeviation],
        cause: &Cause,
        probability: f64,
        second: &SecondFault,
    ) -> Weighed {
        let engine = evidence.engine;
        let name = |cam: usize| engine.cams[cam].name.clone();
        Weighed {
            kind: cause.kind,
            on: cause.on.clone(),
            chain: cause.chain.map(|chain| engine.drive.chains[chain].name.clone()),
            teeth: cause.teeth,
            links: engine.drive.links(cause.chain, cause.teeth),
            moves: cause.moves.iter().map(|&cam| name(cam)).collect(),
            crossed_with: cause.crossed_with.map(name),
            probability,
            reason: reason(evidence, deviations, cause),
            second_fault: second.clone(),
        }
    }
}

fn reason(evidence: &Evidence, all: &[CamDeviation], cause: &Cause) -> Reason {
    let engine = evidence.engine;
    let moved = || cause.moves.iter();
    let stand: Vec<CamDeviation> =
        moved().filter_map(|&cam| all.iter().find(|one| one.cam == cam).copied()).collect();
    let larger = |a: &CrankDelta, b: &CrankDelta| a.0.abs().total_cmp(&b.0.abs());
    match cause.kind {
        Kind::InTime => Reason::InTime { furthest: furthest(all).copied() },
        Kind::Skip => {
            let shift = cause.chain.zip(cause.teeth).map(|(chain, teeth)| {
                let tooth = engine.drive.chains[chain].step();
                SkipShift { by: tooth * f64::from(teeth), tooth }
            });
            Reason::Skip { stand, shift, same_as: cause.same_as.clone() }
        }
        Kind::Wear => {
            let scatters = moved().filter_map(|&cam| evidence.cam(cam)?.measured.cycle_sd);
            Reason::Wear { stand, scatter: scatters.max_by(larger) }
        }
        Kind::PhaserOffRest => {
            let phasers = moved().filter_map(|&cam| engine.cams[cam].phaser);
            let travel = phasers.map(|phaser| phaser.full_travel()).max_by(larger);
            let said = match cause.moves.as_slice() {
                [cam] => PhaserSaid::of(&engine.cams[*cam], stand.first()),
                _ => PhaserSaid::Described,
            };
            Reason::PhaserOffRest { stand, travel, said }
        }
        Kind::CrankReferenceMoved => Reason::CrankReferenceMoved { stand },
        Kind::CamWheelMoved => Reason::CamWheelMoved { stand },
        Kind::DamagedTooth => {
            let measured = moved().next().and_then(|&cam| evidence.cam(cam));
            let worst_edge = measured.and_then(|result| {
                result.measured.edges.iter().map(|edge| edge.off).max_by(larger)
            });
            Reason::DamagedTooth { worst_edge }
        }
        Kind::LeadsCrossed => Reason::LeadsCrossed,
        Kind::DoesNotFit => Reason::DoesNotFit {
            mistake: cause.mistake.clone().unwrap_or(Mistake::OtherEngine),
            stand,
        },
    }
}
