//! Compression by cylinder and bank, without taking a plug out.
//!
//! A cam that is really late changes its own bank's compression; a sensor wheel that
//! moved does not. [`measure`] finds relative compression from the starter's current,
//! the battery's voltage or crank speed alone, and holds it against the cams.
//!
//! The walk: marks become a speed curve ([`mod@curve`]); [`mod@steady`] keeps steady cranking; a
//! lead is brought onto crank angle ([`mod@lead`]); [`mod@model`] fits each cylinder's share of the
//! energy balance; [`mod@cylinders`] names them; [`mod@summary`] gives intervals and banks;
//! [`mod@expected`] holds it against the cams. [`mod@tdc`] and [`mod@pressure`] stand beside.
//!
//! What relative compression cannot show: all cylinders down alike.

mod curve;
mod cycles;
mod cylinders;
mod energy;
mod expected;
mod filter;
mod geometry;
mod lead;
mod locate;
mod model;
mod orders;
mod peaks;
mod pressure;
mod solve;
mod speed;
mod stats;
mod steady;
mod summary;
mod tdc;
mod withheld;

pub use cylinders::NamedBy;
pub use expected::{CamShift, ExpectedChange};
pub use filter::LowPass;
pub use geometry::CylinderShape;
pub use orders::{Order, low_pass, orders};
pub use peaks::{Peak, peaks};
pub use pressure::{EVENT_SD, LOSS_ANGLE, PressureResult, ValveEvent, ValveEventKind};
pub use steady::Steady;
pub use summary::{BankDifference, BankResult, Compression, CylinderResult};
pub use tdc::TdcCheck;
pub use withheld::Withheld;

use std::ops::Range;

use crate::capture::{Clock, Unit};
use crate::crank::CrankAngle;
use crate::engine::Engine;
use crate::units::{CrankDelta, Seconds};
use energy::StoredEnergy;
use locate::{Ground, Located};

/// A sampled lead, scaled.
#[derive(Debug, Clone, Copy)]
pub struct Lead<'a> {
    /// One value per row.
    pub values: &'a [f32],
    /// When the rows are.
    pub clock: &'a Clock,
    /// Unit of the values.
    pub unit: Unit,
    /// Row ranges that were over the scope's range.
    pub over_range: &'a [(usize, usize)],
}

impl Lead<'_> {
    /// Rows from one time up to another.
    fn rows(&self, from: Seconds, to: Seconds) -> Range<usize> {
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
    pub starter: Option<Lead<'a>>,
    /// Battery voltage.
    pub battery: Option<Lead<'a>>,
    /// Ignition leads.
    pub ignition: &'a [IgnitionLead],
    /// In-cylinder pressure, with the cylinder.
    pub pressure: &'a [(u32, Lead<'a>)],
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

/// What came of it.
#[derive(Debug, Clone, Default)]
pub struct CompressionOutcome {
    /// Relative compression; absent when every source was withheld.
    pub measured: Option<Compression>,
    /// Sources that were there and could not be used, best first, each with the reason.
    pub withheld: Vec<(Source, Withheld)>,
    /// The stretch of steady cranking.
    pub steady: Option<Steady>,
    /// TDC from the motion.
    pub tdc: Option<TdcCheck>,
    /// Pressure leads.
    pub pressure: Vec<PressureResult>,
    /// What the cams should have made of the bank difference; absent without two banks by name, or
    /// where a bank has no measured intake cam.
    pub expected: Option<ExpectedChange>,
}

/// Fewest whole cycles with a scatter worth an interval.
pub(crate) const LEAST_CYCLES: usize = 3;
/// Measures relative compression from the best lead that can be used, and what hangs on it.
#[must_use]
pub fn measure(input: &CompressionInput) -> CompressionOutcome {
    let mut outcome = CompressionOutcome::default();
    let cylinders = input.engine.firing_order.len();
    let speed = speed::from_marks(input.angle.marks());
    if cylinders < 2 {
        outcome.withheld.push((Source::CrankSpeed, Withheld::OneCylinder));
        return outcome;
    }
    let steady = match steady::find(&speed, cylinders) {
        Ok(steady) => steady,
        Err(reason) => {
            outcome.withheld = sources(input).map(|source| (source, reason)).collect();
            return outcome;
        }
    };
    outcome.steady = Some(steady);
    let shape = CylinderShape::of(input.engine);
    let ground = Ground { input, steady, energy: StoredEnergy::of(&shape), speed: &speed };
    for source in sources(input) {
        let found = ground.curve(source).and_then(|curve| {
            let located = ground.locate(&curve)?;
            summary::summarise(&ground, source, &curve, located)
        });
        match found {
            Ok((compression, check)) => {
                outcome.measured = Some(compression);
                outcome.tdc = Some(check);
                break;
            }
            Err(reason) => outcome.withheld.push((source, reason)),
        }
    }
    // Speed shows TDC without the lead's own lag.
    let by_speed = ground.curve(Source::CrankSpeed).and_then(|curve| ground.locate(&curve));
    if let Ok(located) = by_speed {
        outcome.tdc = Some(located.check(input.engine));
    }
    outcome.pressure = pressure::read(input, &shape, outcome.measured.as_ref());
    outcome.expected = outcome.measured.as_ref().and_then(|measured| {
        let banks: Vec<u32> = measured.banks.iter().map(|bank| bank.bank).collect();
        let bank = measured.bank_difference.as_ref()?.bank?;
        expected::expected(bank, &banks, input.cam_shifts, &shape)
    });
    outcome
}

fn sources(input: &CompressionInput) -> impl Iterator<Item = Source> {
    [
        input.starter.map(|_| Source::StarterCurrent),
        input.battery.map(|_| Source::BatteryVoltage),
        Some(Source::CrankSpeed),
    ]
    .into_iter()
    .flatten()
}
