//! Whether compression agrees with what the cams' deviations should have done to it.

use super::geometry::CylinderShape;
use super::summary::CompressionDifference;
use crate::engine::CamShaft;
use crate::units::CrankDelta;

/// The expected size is rough: exponent, closing angle and breathing at low lift are not known.
/// Share of it taken as its standard deviation.
const EXPECTED_SHARE_SD: f64 = 0.35;
/// Spread of sound engines between banks, as a share of compression (common practice, no source:
/// cylinders of a sound engine differ by several per cent, means of three or four by less).
const NATURAL_SD: f64 = 0.015;
/// An expected difference below this is lost in the natural spread: the evidence is silent.
const LEAST_EXPECTED: f64 = 0.03;
/// Odds by which one reading must beat the other before the evidence speaks.
const SPEAKS: f64 = 10.0;

/// A measured deviation of a cam that moves intake closing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CamShift {
    /// Bank.
    pub bank: u32,
    /// Which valves it drives; only intake and single cams matter here.
    pub shaft: CamShaft,
    /// Measured deviation; positive is late.
    pub deviation: CrankDelta,
    /// Its standard deviation.
    pub sd: CrankDelta,
}

/// What compression says about the cams.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Agreement {
    /// The bank whose cam stands off has the compression such a cam leaves it with.
    Agrees,
    /// Nothing to tell: no difference is expected, or both banks are alike by cams as well.
    Silent,
    /// A difference is expected and is not there: the sensors' wheels may have moved and the cams
    /// not.
    Contradicts,
    /// A bank is down that no measured cam explains.
    OtherCause,
}

/// Compression as evidence for the verdict.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompressionEvidence {
    /// The bank compared.
    pub bank: u32,
    /// Its mean compression over that of the other banks, less 1: −0.1 is a tenth down.
    pub relative: f64,
    /// Standard deviation of the measurement.
    pub sd: f64,
    /// What the measured cam deviations should have made of it; absent when no intake cam was
    /// measured on both sides.
    pub expected: Option<f64>,
    /// Standard deviation of that, its roughness included.
    pub expected_sd: Option<f64>,
    /// Natural spread between sound banks, to be added by whoever weighs the difference.
    pub natural_sd: f64,
    /// Every measured bank's intake cams stand off alike: *relative* compression stays even
    /// whatever they do.
    pub all_banks_alike: bool,
    /// The reading of the above.
    pub agreement: Agreement,
}

impl CompressionEvidence {
    /// Logarithm of how much better the measurement fits a real cam shift that makes `change` of
    /// this bank's relative compression than no change at all.
    #[must_use]
    pub fn log_odds_for(&self, change: f64) -> f64 {
        let noise = self.sd.hypot(self.natural_sd);
        let wide = noise.hypot(EXPECTED_SHARE_SD * change);
        log_density(self.relative - change, wide) - log_density(self.relative, noise)
    }
}

fn log_density(off: f64, sd: f64) -> f64 {
    -0.5 * (off / sd).powi(2) - sd.ln()
}

/// Weighs a measured bank difference against the cams.
pub(super) fn weigh(
    difference: &CompressionDifference,
    banks: &[u32],
    shifts: &[CamShift],
    shape: &CylinderShape,
) -> Option<CompressionEvidence> {
    let bank = difference.bank?;
    let changes: Vec<(u32, Option<(f64, f64)>)> =
        banks.iter().map(|&bank| (bank, change_of(bank, shifts, shape))).collect();
    let own = changes.iter().find(|(b, _)| *b == bank).and_then(|(_, change)| *change);
    let others: Option<Vec<(f64, f64)>> =
        changes.iter().filter(|(b, _)| *b != bank).map(|(_, change)| *change).collect();
    let expected = own.zip(others).map(|((own, own_sd), others)| {
        let n = others.len().max(1) as f64;
        let mean = others.iter().map(|(change, _)| change).sum::<f64>() / n;
        let square = others.iter().map(|(_, sd)| sd * sd).sum::<f64>() / (n * n);
        let value = (1.0 + own) / (1.0 + mean) - 1.0;
        (value, (own_sd * own_sd + square).sqrt().hypot(EXPECTED_SHARE_SD * value))
    });
    let moved = |change: &Option<(f64, f64)>| change.is_some_and(|(c, _)| c.abs() > LEAST_EXPECTED);
    let silent_by_cams = expected.is_some_and(|(value, _)| value.abs() <= LEAST_EXPECTED);
    let mut evidence = CompressionEvidence {
        bank,
        relative: difference.relative,
        sd: difference.sd,
        expected: expected.map(|(value, _)| value),
        expected_sd: expected.map(|(_, sd)| sd),
        natural_sd: NATURAL_SD,
        all_banks_alike: silent_by_cams && changes.iter().all(|(_, change)| moved(change)),
        agreement: Agreement::Silent,
    };
    evidence.agreement = judge(&evidence, difference);
    Some(evidence)
}

fn judge(evidence: &CompressionEvidence, difference: &CompressionDifference) -> Agreement {
    let stands_out = difference.low_bank.is_some();
    match evidence.expected {
        Some(expected) if expected.abs() > LEAST_EXPECTED => {
            let log_odds = evidence.log_odds_for(expected);
            if log_odds > SPEAKS.ln() {
                Agreement::Agrees
            } else if log_odds < -SPEAKS.ln() {
                Agreement::Contradicts
            } else {
                Agreement::Silent
            }
        }
        Some(_) if stands_out => Agreement::OtherCause,
        _ => Agreement::Silent,
    }
}

/// Change of a bank's compression by its intake cam and its standard deviation.
fn change_of(bank: u32, shifts: &[CamShift], shape: &CylinderShape) -> Option<(f64, f64)> {
    let shift = shifts.iter().find(|shift| {
        shift.bank == bank && matches!(shift.shaft, CamShaft::Intake | CamShaft::Single)
    })?;
    let change = shape.change_for(shift.deviation);
    let beside = shape.change_for(shift.deviation + shift.sd);
    Some((change, (beside - change).abs()))
}
