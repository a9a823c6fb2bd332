//! Compression by cylinder and bank, without taking a plug out.
//!
//! A cam that is really late changes its own bank's compression; a sensor wheel that
//! moved does not. [`measure`] finds relative compression from the starter's current,
//! the battery's voltage or crank speed alone, and holds it against the cams.
//!
//! The walk: marks become a speed curve ([`mod@curve`]); [`mod@steady`] keeps steady cranking; a lead is brought
//! onto crank angle ([`mod@lead`]); [`mod@model`] fits each cylinder's share of the energy balance;
//! [`mod@cylinders`] names them; [`mod@summary`] gives intervals and banks; [`mod@expected`] holds it
//! against the cams. [`mod@tdc`] and [`mod@pressure`] stand beside.
//!
//! What relative compression cannot show: all cylinders down alike.

mod curve;
mod cylinders;
mod expected;
mod filter;
mod geometry;
mod lead;
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
pub use expected::{Agreement, CamShift, CompressionEvidence};
pub use filter::LowPass;
pub use geometry::CylinderShape;
pub use orders::{Order, low_pass, orders};
pub use peaks::{Peak, peaks};
pub use pressure::{EVENT_SD, LOSS_ANGLE, PressureResult, ValveEvent, ValveEventKind};
pub use speed::{drop_after_tdc, energy_share};
pub use steady::Steady;
pub use summary::{BankDifference, BankResult, Compression, CylinderResult};
pub use tdc::TdcCheck;
pub use withheld::Withheld;

use std::ops::Range;

use crate::capture::{Clock, Unit};
use crate::crank::Mark;
use crate::engine::Engine;
use crate::units::{CYCLE_DEG, CrankDelta, CrankTurned, Seconds};
use curve::{Curve, Window, windows};
use geometry::StoredEnergy;
use model::Fit;

/// Time ↔ crank angle over one unbroken stretch, as the crank stage gives it.
pub trait AngleClock {
    /// Angle at a time; `None` outside the stretch.
    fn angle_at(&self, time: Seconds) -> Option<CrankTurned>;
    /// Time of an angle; `None` outside the stretch.
    fn time_at(&self, angle: CrankTurned) -> Option<Seconds>;
    /// First and last angle.
    fn span(&self) -> (CrankTurned, CrankTurned);
    /// The identified marks, growing in time and angle.
    fn marks(&self) -> &[Mark];
    /// Every angle may be off by one multiple of this, the same for the stretch.
    fn known_modulo(&self) -> CrankDelta;
}

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
    pub clock: &'a dyn AngleClock,
    /// What to add to the clock's angles to count from the start of the 720° cycle; `None` when the
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
    /// What it says about the cams; absent without two banks by name.
    pub evidence: Option<CompressionEvidence>,
}

/// Fewest whole cycles with a scatter worth an interval.
pub(crate) const LEAST_CYCLES: usize = 3;
/// Steps of crank angle a firing interval needs before speed alone shows a compression.
const LEAST_STEPS_PER_INTERVAL: f64 = 4.0;
/// A model that explains less of the variation than this has not found the compressions.
const LEAST_EXPLAINED: f64 = 0.5;
/// How far from the stated TDC the motion is searched on an unevenly firing engine, either way.
const UNEVEN_REACH: f64 = 45.0;
/// Of two layouts of an uneven engine the better is believed when it leaves at most this share of the other's misfit.
const BETTER_LAYOUT: f64 = 0.7;
/// Search reach of the second fit, crank degrees: only the cycle's boundaries have moved.
const SECOND_REACH: f64 = 6.0;

/// Measures relative compression from the best lead that can be used, and what hangs on it.
#[must_use]
pub fn measure(input: &CompressionInput) -> CompressionOutcome {
    let mut outcome = CompressionOutcome::default();
    let cylinders = input.engine.firing_order.len();
    let speed = speed::from_marks(input.clock.marks());
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
    let ground = Ground { input, steady, energy: StoredEnergy::of(&shape) };
    for source in sources(input) {
        let found = ground.curve(source, &speed).and_then(|curve| {
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
    let by_speed = ground.curve(Source::CrankSpeed, &speed).and_then(|curve| ground.locate(&curve));
    if let Ok(located) = by_speed {
        outcome.tdc = Some(located.check(input.engine));
    }
    outcome.pressure = pressure::read(input, &shape, outcome.measured.as_ref());
    outcome.evidence = outcome.measured.as_ref().and_then(|measured| {
        let banks: Vec<u32> = measured.banks.iter().map(|bank| bank.bank).collect();
        expected::weigh(measured.bank_difference.as_ref()?, &banks, input.cam_shifts, &shape)
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

/// What every source is measured on.
struct Ground<'a> {
    input: &'a CompressionInput<'a>,
    steady: Steady,
    energy: StoredEnergy,
}

/// Compressions found in a curve.
struct Located {
    /// Place of cylinder 1's firing TDC the layout was drawn from.
    base: f64,
    /// Every place it may have.
    places: Vec<f64>,
    /// What struck places out.
    named_by: NamedBy,
    fit: Fit,
    windows: Vec<Window>,
}

impl Ground<'_> {
    fn curve(&self, source: Source, speed: &Curve) -> Result<Curve, Withheld> {
        let span = (self.steady.from, self.steady.to);
        match source {
            Source::CrankSpeed => {
                let steps = speed.steps_in(span.0.0, span.1.0).len() as f64;
                let intervals = (span.1.0 - span.0.0) / self.interval();
                if steps < LEAST_STEPS_PER_INTERVAL * intervals {
                    return Err(Withheld::WheelTooCoarse);
                }
                Ok(speed.clone())
            }
            Source::StarterCurrent | Source::BatteryVoltage => {
                let lead = if source == Source::StarterCurrent {
                    self.input.starter
                } else {
                    self.input.battery
                };
                lead::curve(
                    &lead.ok_or(Withheld::LeadTooShort)?,
                    source,
                    self.input.clock,
                    speed,
                    span,
                )
            }
        }
    }

    fn interval(&self) -> f64 {
        CYCLE_DEG / self.input.engine.firing_order.len() as f64
    }

    /// Finds where the compressions are.
    fn locate(&self, curve: &Curve) -> Result<Located, Withheld> {
        let engine = self.input.engine;
        let symmetries = cylinders::symmetries(engine);
        let step =
            if symmetries.len() > 1 { CYCLE_DEG / symmetries.len() as f64 } else { CYCLE_DEG };
        let stated = self.stated_places();
        let reach =
            if stated.is_empty() || symmetries.len() > 1 { step / 2.0 } else { UNEVEN_REACH };
        let mut layouts: Vec<f64> = Vec::new();
        for &place in if stated.is_empty() { &[0.0][..] } else { &stated } {
            let known = layouts.iter().any(|layout| self.same_layout(place - layout));
            if !known {
                layouts.push(place);
            }
        }
        let mut fits: Vec<(f64, Fit, Vec<Window>)> = layouts
            .into_iter()
            .filter_map(|base| {
                self.fit(curve, base, reach).map(|(fit, windows)| (base, fit, windows))
            })
            .collect();
        fits.sort_by(|a, b| b.1.explained.total_cmp(&a.1.explained));
        if fits.len() > 1 && 1.0 - fits[0].1.explained > BETTER_LAYOUT * (1.0 - fits[1].1.explained)
        {
            return Err(Withheld::PhaseUnknown);
        }
        let whole = ((self.steady.to.0 - self.steady.from.0) / CYCLE_DEG) as usize;
        let Some((base, fit, windows)) = fits.into_iter().next() else {
            return Err(if whole < LEAST_CYCLES {
                self.too_few(whole)
            } else {
                Withheld::CompressionsNotSeen
            });
        };
        if windows.len() < LEAST_CYCLES {
            return Err(self.too_few(windows.len()));
        }
        if fit.explained < LEAST_EXPLAINED || fit.gain <= 0.0 {
            return Err(Withheld::CompressionsNotSeen);
        }
        let (base, places) = if stated.is_empty() {
            // Nothing says where TDC is: the motion does, up to the symmetry of the firing.
            let found = base + fit.shift;
            (found, symmetries.iter().map(|by| found + by).collect())
        } else {
            let same = stated.iter().copied().filter(|place| self.same_layout(place - base));
            (base, same.collect::<Vec<f64>>())
        };
        let fit = if stated.is_empty() { Fit { shift: 0.0, ..fit } } else { fit };
        let (places, named_by) = self.strike_out(places);
        Ok(Located { base, places, named_by, fit, windows })
    }

    /// Too few cycles, and whether it was the engine's starting that cut them short.
    fn too_few(&self, whole: usize) -> Withheld {
        if self.steady.fired > 0 {
            Withheld::EngineStarted { cycles: whole }
        } else {
            Withheld::FewerThanThreeCycles { whole }
        }
    }

    fn same_layout(&self, by: f64) -> bool {
        let angles: Vec<f64> = self.input.engine.firing_angles.iter().map(|a| a.0).collect();
        cylinders::same_pattern(&angles, by)
    }

    /// Places of cylinder 1's firing TDC by the engine file, on the clock's scale.
    fn stated_places(&self) -> Vec<f64> {
        let Some(tdc) = self.input.engine.crank.tdc else { return Vec::new() };
        if let Some(offset) = self.input.datum_offset {
            return vec![tdc.0 - offset.0];
        }
        let modulo = self.input.clock.known_modulo().0.clamp(1.0, CYCLE_DEG / 2.0);
        (0..(CYCLE_DEG / modulo).round() as usize).map(|i| tdc.0 + i as f64 * modulo).collect()
    }

    fn fit(&self, curve: &Curve, base: f64, reach: f64) -> Option<(Fit, Vec<Window>)> {
        let angles = &self.input.engine.firing_angles;
        let tdcs: Vec<f64> = angles.iter().map(|angle| base + angle.0).collect();
        let (from, to) = (self.steady.from.0, self.steady.to.0);
        let rough = model::search(curve, &windows(curve, from, to), &tdcs, &self.energy, reach)?;
        // A cycle cut between compressions keeps each compression in one piece.
        let aligned: Vec<f64> = tdcs.iter().map(|tdc| tdc + rough.shift).collect();
        let windows = windows(curve, first_cut(&aligned, from), to);
        let fit = model::search(curve, &windows, &aligned, &self.energy, SECOND_REACH)?;
        Some((Fit { shift: fit.shift + rough.shift, ..fit }, windows))
    }

    /// Lets pressure and ignition leads strike out places of cylinder 1.
    fn strike_out(&self, places: Vec<f64>) -> (Vec<f64>, NamedBy) {
        if places.len() == 1 {
            return (places, NamedBy::Phase);
        }
        let (engine, clock) = (self.input.engine, self.input.clock);
        for (cylinder, lead) in self.input.pressure {
            let peaks = pressure::peak_angles(lead, clock);
            let as_spark =
                IgnitionLead { cylinder: *cylinder, waste_spark: false, sparks: Vec::new() };
            let (kept, by) =
                cylinders::allowed_by_ignition(engine, &places, Some((&as_spark, &peaks)));
            if by.is_some() {
                return (kept, NamedBy::Pressure { cylinder: *cylinder });
            }
        }
        for lead in self.input.ignition {
            let angles: Vec<f64> =
                lead.sparks.iter().filter_map(|&at| clock.angle_at(at)).map(|at| at.0).collect();
            let (kept, by) = cylinders::allowed_by_ignition(engine, &places, Some((lead, &angles)));
            if let Some(by) = by {
                return (kept, by);
            }
        }
        (places, NamedBy::Nothing)
    }
}

impl Located {
    fn check(&self, engine: &Engine) -> TdcCheck {
        let symmetries = cylinders::symmetries(engine).len() as f64;
        let modulo = CYCLE_DEG / symmetries;
        tdc::check(engine.crank.tdc, self.base, self.fit.shift, modulo, self.fit.explained)
    }
}

/// First angle from `from` on that lies midway between two neighbouring compressions.
fn first_cut(tdcs: &[f64], from: f64) -> f64 {
    let mut within: Vec<f64> = tdcs.iter().map(|tdc| (tdc - from).rem_euclid(CYCLE_DEG)).collect();
    within.sort_by(f64::total_cmp);
    let last = within.last().copied().unwrap_or(0.0) - CYCLE_DEG;
    let before = std::iter::once(last).chain(within.iter().copied());
    let cuts = before.zip(&within).map(|(a, b)| 0.5 * (a + b));
    from + cuts.map(|cut| cut.rem_euclid(CYCLE_DEG)).fold(CYCLE_DEG, f64::min)
}
