//! What the measurement draws on.

use std::ops::Range;

use super::expected::CamShift;
use crate::capture::{Clock, Unit};
use crate::crank::CrankAngle;
use crate::engine::Engine;
use crate::units::{CrankDelta, Seconds};

/// Fewest whole cycles with a scatter worth an interval.
pub const LEAST_CYCLES: usize = 3;

/// A sampled lead, scaled.
#[derive(Debug, Clone, Copy)]
pub struct SampledLead<'a> {
    /// One value per row.
    pub values: &'a [f32],
    /// When the rows are.
    pub clock: &'a Clock,
    /// Unit of the values.
    pub unit: Unit,
    /// Row ranges that were over the scope's range.
    pub over_range: &'a [(usize, usize)],
}

impl SampledLead<'_> {
    /// Rows from one time up to another.
    pub(super) fn rows(&self, from: Seconds, to: Seconds) -> Range<usize> {
        let count = self.values.len();
        let first = self.clock.row_at_or_after(from, count);
        first..self.clock.row_at_or_after(to, count).max(first)
    }
}

/// Sparks of a named cylinder.
#[derive(Debug, Clone, PartialEq)]
pub struct IgnitionLead {
    /// The cylinder.
    pub cylinder: u32,
    /// Whether it is known to spark every turn. Found from the spacing as well.
    pub waste_spark: bool,
    /// When it sparked.
    pub sparks: Vec<Seconds>,
}

/// Everything the measurement draws on.
pub struct CompressionInput<'a> {
    /// The engine description.
    pub engine: &'a Engine,
    /// Crank angle.
    pub angle: &'a CrankAngle,
    /// What to add to its angles to count from the start of the 720° cycle; `None` when the
    /// cams did not settle it.
    pub datum_offset: Option<CrankDelta>,
    /// Starter current.
    pub starter: Option<SampledLead<'a>>,
    /// Battery voltage.
    pub battery: Option<SampledLead<'a>>,
    /// Ignition leads.
    pub ignition: &'a [IgnitionLead],
    /// In-cylinder pressure, with the cylinder.
    pub pressure: &'a [(u32, SampledLead<'a>)],
    /// Deviations of the cams that were measured.
    pub cam_shifts: &'a [CamShift],
}

/// What compression was measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Starter current.
    StarterCurrent,
    /// Battery voltage.
    BatteryVoltage,
    /// Crank speed alone.
    CrankSpeed,
}

impl Source {
    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Source::StarterCurrent => "starter-current",
            Source::BatteryVoltage => "battery-voltage",
            Source::CrankSpeed => "crank-speed",
        }
    }
}
