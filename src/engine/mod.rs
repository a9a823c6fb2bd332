//! An engine description: banks, firing, wheels, cams, phasers and drives.
//!
//! Everything here is what the engine *should* be. Nothing in it comes from a
//! capture. [`Engine::parse`] is the only way to make one, so a description in
//! hand has been checked: every cam runs at half speed, every relation leads to a
//! cam that exists, every angle is in range.

mod crank;
mod drive;
mod file;
mod lines;
mod notes;
mod read;
mod valves;
mod written;

pub use crank::{Crank, Level};
pub use drive::{Chain, ChainKind, Drive, Ratio, SkipPlace, Sprocket};
pub use lines::Lines;
pub use notes::EngineNote;
pub use read::wheel_files;
pub use written::{Written, WrittenWheel};

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta};
use crate::wheel::{EdgeKind, Wheel, WheelEdge};

/// Tolerance for a cam's deviation when the description gives none, in crank
/// degrees. One public description limits factory reference adaptation to ±5
/// crank degrees (docs/sources.md, "Drives").
pub const DEFAULT_TOLERANCE: CrankDelta = CrankDelta(5.0);

/// Kind of position sensor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sensor {
    /// Hall-effect, magneto-resistive or any other with a square-wave output.
    Hall,
    /// Variable reluctance: a voltage that alternates once per tooth.
    Reluctance,
    /// Direction-sensing: one output pulse of fixed length, tens of microseconds, per tooth, whose
    /// leading edge marks the tooth; a longer one when the wheel turns back (common practice, no
    /// source).
    Pulse,
}

impl Sensor {
    /// The word in an engine file and in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Sensor::Hall => "hall",
            Sensor::Reluctance => "reluctance",
            Sensor::Pulse => "pulse",
        }
    }

    /// The edges that a sensor of this kind shows of a wheel in one turn, sorted by angle. `edge`
    /// is the one that marks slots, or begins a pulse.
    #[must_use]
    pub fn shows(self, wheel: &Wheel, edge: EdgeKind) -> Vec<WheelEdge> {
        match self {
            Sensor::Hall => wheel.square_edges(edge),
            Sensor::Reluctance => wheel.zero_crossings(edge),
            Sensor::Pulse => wheel.pulses(edge),
        }
    }
}

/// Which valves a camshaft drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum CamShaft {
    /// Intake valves (sensor A).
    Intake,
    /// Exhaust valves (sensor B).
    Exhaust,
    /// Both.
    Single,
}

impl CamShaft {
    /// The word in the description and in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            CamShaft::Intake => "intake",
            CamShaft::Exhaust => "exhaust",
            CamShaft::Single => "single",
        }
    }
}

/// End of a phaser's travel at which it is locked with the engine at rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PhaserRest {
    /// Locked late; can only move the cam early.
    Retarded,
    /// Locked early; can only move the cam late.
    Advanced,
    /// Locked between its ends; can move the cam either way.
    Middle,
}

/// A variable-valve-timing actuator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Phaser {
    /// Where it rests.
    pub rest: PhaserRest,
    /// How far it can move the cam away from rest, for one that rests in the middle either way;
    /// always positive.
    pub travel: CrankDelta,
}

impl Phaser {
    /// How far it can make the cam early and late: the first is never positive, the second never
    /// negative.
    #[must_use]
    pub fn range(&self) -> (CrankDelta, CrankDelta) {
        let none = CrankDelta(0.0);
        match self.rest {
            PhaserRest::Retarded => (-self.travel, none),
            PhaserRest::Advanced => (none, self.travel),
            PhaserRest::Middle => (-self.travel, self.travel),
        }
    }

    /// The deviation it makes when fully away from rest: negative (early) for one that rests
    /// retarded. For one that rests in the middle, that of the late end.
    #[must_use]
    pub fn full_travel(&self) -> CrankDelta {
        match self.rest {
            PhaserRest::Retarded => -self.travel,
            PhaserRest::Advanced | PhaserRest::Middle => self.travel,
        }
    }
}

/// Standard deviation of a `same_as` whose description states none: one wheel design, two castings
/// (common practice, no source).
pub const DEFAULT_RELATION_SD: CrankDelta = CrankDelta(0.7);

/// What is known about where a cam should stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reference {
    /// Crank degrees from the datum to shaft angle 0 of its wheel.
    At {
        /// The place.
        at: CrankDeg,
        /// Standard deviation of that knowledge, where stated.
        sd: Option<CrankDelta>,
    },
    /// Relative to another cam of the engine.
    SameAs {
        /// Index into [`Engine::cams`].
        cam: usize,
        /// How many crank degrees later, 0 up to 720.
        later: CrankDelta,
        /// Standard deviation of that relation, where stated.
        sd: Option<CrankDelta>,
        /// Whether nobody confirmed it: it follows from wheels that look alike. Nothing is found on
        /// it.
        assumed: bool,
    },
    /// Nothing.
    Unknown,
}

/// One camshaft and its wheel.
#[derive(Debug, Clone, PartialEq)]
pub struct Cam {
    /// Name, unique in the engine: "B1 intake".
    pub name: String,
    /// Bank, a key of [`Engine::banks`]; the first of [`Cam::banks`].
    pub bank: u32,
    /// Every bank it serves, more than one only for a cam that serves several.
    pub banks: Vec<u32>,
    /// Where in the engine it is, in the words of the description.
    pub place: Option<String>,
    /// Which valves it drives.
    pub shaft: CamShaft,
    /// Its wheel.
    pub wheel: Wheel,
    /// Its sensor.
    pub sensor: Sensor,
    /// Edge that marks slot positions, for a wheel given as slots; falling unless stated.
    pub edge: EdgeKind,
    /// What is known of its place.
    pub reference: Reference,
    /// Where that figure is from, in the words of the description.
    pub source: Option<String>,
    /// Largest deviation that is still in tolerance.
    pub tolerance: CrankDelta,
    /// Its phaser, where one is described.
    pub phaser: Option<Phaser>,
    /// Whether the description says that it has no phaser; one that says nothing leaves it open.
    pub without_phaser: bool,
    /// Where the engine file says so.
    pub lines: Lines,
}

/// Where the valves open and close, in crank degrees after firing TDC of their cylinder,
/// cams at rest. All optional.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Valves {
    /// Intake opening.
    pub intake_opens: Option<CrankDeg>,
    /// Intake closing (IVC).
    pub intake_closes: Option<CrankDeg>,
    /// Exhaust opening (EVO).
    pub exhaust_opens: Option<CrankDeg>,
    /// Exhaust closing.
    pub exhaust_closes: Option<CrankDeg>,
}

/// Cylinder geometry, where stated.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Geometry {
    /// Compression ratio.
    pub compression_ratio: Option<f64>,
    /// Connecting-rod length over crank radius (Heywood's R).
    pub rod_ratio: Option<f64>,
    /// Displacement of the whole engine in litres.
    pub displacement_litres: Option<f64>,
}

/// A checked engine description.
#[derive(Debug, Clone, PartialEq)]
pub struct Engine {
    /// Its name.
    pub name: String,
    /// Cylinders in the order in which they fire, starting with cylinder 1.
    pub firing_order: Vec<u32>,
    /// Whether the order is not known: only the number of cylinders is, and they are numbered as
    /// they fire.
    pub firing_assumed: bool,
    /// Crank degrees after firing TDC of cylinder 1, one per entry of `firing_order`.
    pub firing_angles: Vec<CrankDelta>,
    /// Cylinders of each bank.
    pub banks: BTreeMap<u32, Vec<u32>>,
    /// Where each bank is, in the words of the description; not every one need be there.
    pub bank_places: BTreeMap<u32, String>,
    /// Whether valves can meet pistons when the timing is off; absent where not said.
    pub interference: Option<bool>,
    /// The crank.
    pub crank: Crank,
    /// The cams, in the order of the file. May be empty.
    pub cams: Vec<Cam>,
    /// Chains, belts and gears from the crank to the cams. May be empty.
    pub drive: Drive,
    /// Valve events.
    pub valves: Valves,
    /// Cylinder geometry.
    pub geometry: Geometry,
    /// What looks odd in the description, or is not used as it may be meant.
    pub notes: Vec<EngineNote>,
    /// The file it was read from.
    pub written: Written,
}

impl Cam {
    /// Whether the description leaves open that it has a phaser.
    #[must_use]
    pub fn phaser_unsaid(&self) -> bool {
        self.phaser.is_none() && !self.without_phaser
    }
}

impl Engine {
    /// Where the figures are from that place a cam, as the description says it: its own, and that
    /// of the cam it is counted from. `None` where it says nothing.
    #[must_use]
    pub fn source_of(&self, index: usize) -> Option<String> {
        let own = self.cams[index].source.clone();
        let Reference::SameAs { cam, .. } = self.cams[index].reference else { return own };
        match (own, self.source_of(cam)) {
            (Some(own), Some(root)) if own != root => Some(format!("{own}; {root}")),
            (own, root) => own.or(root),
        }
    }

    /// Index of a cam by its name, without regard to case.
    #[must_use]
    pub fn cam_index(&self, name: &str) -> Option<usize> {
        self.cams.iter().position(|cam| cam.name.eq_ignore_ascii_case(name.trim()))
    }

    /// The bank a cylinder belongs to.
    #[must_use]
    pub fn bank_of(&self, cylinder: u32) -> Option<u32> {
        self.banks.iter().find(|(_, members)| members.contains(&cylinder)).map(|(&bank, _)| bank)
    }

    /// Crank degrees from the datum to firing TDC of a cylinder; `None` when the
    /// TDC of cylinder 1 or the cylinder is not known.
    #[must_use]
    pub fn firing_tdc(&self, cylinder: u32) -> Option<CrankDeg> {
        let position = self.firing_order.iter().position(|&fires| fires == cylinder)?;
        Some(CrankDeg::new(self.crank.tdc?.0 + self.firing_angles[position].0))
    }

    /// Where cam `index` should stand and how well that is known, following
    /// `same_as` relations; `None` when no cam of the chain of relations has an `at`.
    #[must_use]
    pub fn expected(&self, index: usize) -> Option<(CrankDeg, Option<CrankDelta>)> {
        match self.cams[index].reference {
            Reference::At { at, sd } => Some((at, sd)),
            Reference::SameAs { cam, later, sd, .. } => {
                let (at, base_sd) = self.expected(cam)?;
                Some((at + later, join_sd(base_sd, sd)))
            }
            Reference::Unknown => None,
        }
    }

    /// Whether a relation that nobody confirmed stands between cam `index` and the cam it is
    /// described by.
    #[must_use]
    pub fn rests_on_assumption(&self, index: usize) -> bool {
        match self.cams[index].reference {
            Reference::SameAs { cam, assumed, .. } => assumed || self.rests_on_assumption(cam),
            Reference::At { .. } | Reference::Unknown => false,
        }
    }

    /// Crank degrees from one firing to the next, where all are alike: the mean otherwise.
    #[must_use]
    pub fn firing_interval(&self) -> CrankDelta {
        CrankDelta(CYCLE_DEG / self.firing_order.len().max(1) as f64)
    }

    /// The cam that `index` is described by and how much later it stands, following
    /// relations to the end: itself and zero for a cam without one.
    #[must_use]
    pub fn relation_root(&self, index: usize) -> (usize, CrankDelta) {
        match self.cams[index].reference {
            Reference::SameAs { cam, later, .. } => {
                let (root, more) = self.relation_root(cam);
                (root, CrankDelta((later.0 + more.0).rem_euclid(CYCLE_DEG)))
            }
            Reference::At { .. } | Reference::Unknown => (index, CrankDelta(0.0)),
        }
    }
}

/// Independent uncertainties add in squares.
fn join_sd(a: Option<CrankDelta>, b: Option<CrankDelta>) -> Option<CrankDelta> {
    match (a, b) {
        (Some(a), Some(b)) => Some(CrankDelta(a.0.hypot(b.0))),
        (one, other) => one.or(other),
    }
}

#[cfg(test)]
mod tests;
