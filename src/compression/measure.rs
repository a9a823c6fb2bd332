//! The measurement as a whole: the best source that can be used, and what hangs on it.

use super::energy::StoredEnergy;
use super::expected::{self, CamShift, ExpectedChange};
use super::geometry::CylinderShape;
use super::input::{CompressionInput, Source};
use super::locate::Context;
use super::pressure::{self, PressureResult};
use super::speed;
use super::steady::{self, Steady};
use super::summary::{self, Compression};
use super::tdc::TdcCheck;
use super::withheld::Withheld;
use crate::angle::AngleFrom;
use crate::engine::Engine;

/// What came of it.
#[derive(Debug, Clone, Default)]
pub struct CompressionOutcome {
    /// Relative compression; absent when every source was withheld.
    pub measured: Option<Compression>,
    /// What the angle it was measured over is from.
    pub angle_from: AngleFrom,
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
    let context = Context { input, steady, energy: StoredEnergy::of(&shape), speed: &speed };
    for source in sources(input) {
        let found = context.curve(source).and_then(|curve| {
            let located = context.locate(&curve)?;
            summary::summarise(&context, source, &curve, located)
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
    let by_speed = || context.curve(Source::CrankSpeed).and_then(|curve| context.locate(&curve));
    if input.angle_from != AngleFrom::Crank {
        outcome.tdc = None;
    } else if let Ok(located) = by_speed() {
        outcome.tdc = Some(located.check(input.engine));
    }
    outcome.pressure = pressure::read(input, &shape);
    outcome.angle_from = input.angle_from;
    outcome.expected = outcome
        .measured
        .as_ref()
        .and_then(|measured| expected_change(input.engine, measured, input.cam_shifts));
    outcome
}

/// What the cams, standing where they do, should have made of the difference between the banks.
#[must_use]
pub fn expected_change(
    engine: &Engine,
    measured: &Compression,
    cam_shifts: &[CamShift],
) -> Option<ExpectedChange> {
    let banks: Vec<u32> = measured.banks.iter().map(|bank| bank.bank).collect();
    let bank = measured.bank_difference.as_ref()?.bank?;
    expected::expected(bank, &banks, cam_shifts, &CylinderShape::of(engine))
}

fn sources(input: &CompressionInput) -> impl Iterator<Item = Source> {
    [
        input.starter.map(|_| Source::StarterCurrent),
        input.battery.map(|_| Source::BatteryVoltage),
        // An angle that the lead itself gave has no speed of its own.
        (input.angle_from == AngleFrom::Crank).then_some(Source::CrankSpeed),
    ]
    .into_iter()
    .flatten()
}
