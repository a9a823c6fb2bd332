//! What the measurement draws on.

use std::ops::Range;

use super::expected::CamShift;
use crate::angle::AngleFrom;
use crate::capture::{Clock, Samples, Unit};
use crate::crank::CrankAngle;
use crate::engine::Engine;
use crate::units::{CrankDelta, Seconds};

/// Fewest whole cycles with a scatter worth an interval.
pub const LEAST_CYCLES: usize = 3;

/// A sampled lead, scaled.
#[derive(Debug, Clone, Copy)]
pub struct SampledLead<'a> {
    /// One value per row.
    pub values: Samples<'a>,
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

/// What a trigger lead is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trigger {
    /// An ignition coil.
    Coil,
    /// An injector, taken to open near its cylinder's firing TDC, as on diesels.
    Injector,
}

/// Pulses of a named cylinder.
#[derive(Debug, Clone, PartialEq)]
pub struct TriggerLead {
    /// The cylinder.
    pub cylinder: u32,
    /// What it is on.
    pub of: Trigger,
    /// Whether it is known to pulse every turn. Found from the spacing as well.
    pub waste_spark: bool,
    /// When each pulse began.
    pub pulses: Vec<Seconds>,
}

/// Everything the measurement draws on.
pub struct CompressionInput<'a> {
    /// The engine description.
    pub engine: &'a Engine,
    /// Crank angle.
    pub angle: &'a CrankAngle,
    /// What that is from. The engine file's `tdc` counts from the crank's wheel and from nothing
    /// else.
    pub angle_from: AngleFrom,
    /// What to add to its angles to count from the start of the 720° cycle; `None` when the
    /// cams did not settle it.
    pub datum_offset: Option<CrankDelta>,
    /// Starter current.
    pub starter: Option<SampledLead<'a>>,
    /// Battery voltage.
    pub battery: Option<SampledLead<'a>>,
    /// Leads on coils and injectors.
    pub triggers: &'a [TriggerLead],
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
    /// 1 where a compression raises what is measured, −1 where it lowers it.
    pub(crate) fn rises(self) -> f64 {
        if self == Source::StarterCurrent { 1.0 } else { -1.0 }
    }

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
