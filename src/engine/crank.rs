//! The crank's wheel and sensor.

use serde::Deserialize;

use super::{Lines, Sensor};
use crate::units::CrankDelta;
use crate::wheel::{EdgeKind, Wheel};

/// One of the two levels of a square wave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// The higher one.
    High,
    /// The lower one.
    Low,
}

impl Level {
    /// The word in files and texts.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Level::High => "high",
            Level::Low => "low",
        }
    }

    /// The other one.
    #[must_use]
    pub fn opposite(self) -> Level {
        match self {
            Level::High => Level::Low,
            Level::Low => Level::High,
        }
    }
}

/// The crank's wheel and sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct Crank {
    /// Its wheel.
    pub wheel: Wheel,
    /// Its sensor.
    pub sensor: Sensor,
    /// Electrical edge that marks slot positions; found from the spacing when absent.
    /// Always absent for a wheel given as teeth.
    pub edge: Option<EdgeKind>,
    /// Level of a Hall signal over a tooth, where stated; high where not, and always for a wheel
    /// given as teeth.
    pub over_tooth: Option<Level>,
    /// Crank degrees from the datum to TDC of cylinder 1, where known.
    pub tdc: Option<CrankDelta>,
    /// Where the engine file says so.
    pub lines: Lines,
    /// Whether the description has a crank at all. Where it has none, compression by the starter's
    /// current is all that can be asked of it, and nothing here is looked at.
    pub described: bool,
}

impl Crank {
    /// Level over a tooth: as stated, or high, as wheels are drawn.
    #[must_use]
    pub fn level(&self) -> Level {
        self.over_tooth.unwrap_or(Level::High)
    }

    /// Whether the description says which level its signal has over a tooth: in so many words, or
    /// by the width of the teeth.
    #[must_use]
    pub fn level_described(&self) -> bool {
        self.over_tooth.is_some() || self.wheel.has_widths()
    }

    /// Stands for the crank of a description without one.
    pub(crate) fn undescribed() -> Crank {
        Crank {
            wheel: Wheel::even(1),
            sensor: Sensor::Hall,
            edge: None,
            over_tooth: None,
            tdc: None,
            lines: Lines::default(),
            described: false,
        }
    }
}
