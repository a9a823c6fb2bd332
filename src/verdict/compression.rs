//! Relative compression as evidence about the cams: the difference between banks, what each cam's
//! lateness would do to it, and whether the two agree.

use super::density::log_normal;
use super::readings::errors::{BANK_COMPRESSION_SD, COMPRESSION_MODEL_ERROR};
use crate::compression::{CompressionOutcome, CylinderShape, ExpectedChange, Source};
use crate::engine::{CamShaft, Engine};
use crate::units::CrankDelta;

/// Relative compression of one bank against the others as evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct CompressionEvidence {
    /// Measured compression of one bank over the mean of the others, less 1: −0.11 is 11 % down.
    pub difference: f64,
    /// Standard deviation of that measurement, without what sound banks differ by.
    pub sd: f64,
    /// By cam of the engine: change of `difference` for each crank degree that cam
    /// really is late. Zero for cams that do not close intake valves.
    pub per_degree: Vec<f64>,
    /// What the cams, where they were measured, should have made of it; absent when no intake cam
    /// was measured on both sides.
    pub expected: Option<ExpectedChange>,
    /// Whether nothing tells which bank it is: then it is weighed as either, and `per_degree` is as
    /// for the first.
    pub unnamed: bool,
    /// Whether the cams alone say which turn of the cycle is which: were they read a turn off, the
    /// other bank would be the lower one.
    pub turn_by_cams: bool,
    /// Whether the bank is lower beyond doubt and by more than sound banks differ.
    pub stands_out: bool,
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

/// Compression held against the cams.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompressionJudgement {
    /// Whether they agree.
    pub agreement: Agreement,
    /// The difference the cams should have made; absent as in [`CompressionEvidence::expected`].
    pub expected: Option<f64>,
    /// Every measured bank's intake cams stand off alike: *relative* compression stays even
    /// whatever they do.
    pub all_banks_alike: bool,
}

/// Shift at which the change of compression per degree is taken: a tooth of a common drive.
const TYPICAL_SHIFT: CrankDelta = CrankDelta(15.0);
/// An expected difference below this is lost in the natural spread of one and a half times
/// [`BANK_COMPRESSION_SD`]: the evidence is silent.
const LEAST_EXPECTED: f64 = 0.03;
/// Standard deviations from which a difference is seen that no name and no lead but the crank tells:
/// 99 %, two-sided, since either bank may be the lower one. A finding is said from 99 % on, and
/// what would be chance once in twenty must not turn it.
const SEEN_SDS: f64 = 2.575_829;
/// Odds by which one reading must beat the other before the evidence speaks.
const SPEAKS: f64 = 10.0;

impl CompressionEvidence {
    /// The bank difference with what each cam's lateness would do to it; `None` where no two banks
    /// were compared, more than two without their names, or two alike without a name by the crank's
    /// speed.
    #[must_use]
    pub fn of(engine: &Engine, outcome: &CompressionOutcome) -> Option<CompressionEvidence> {
        let measured = outcome.measured.as_ref()?;
        let difference = measured.bank_difference?;
        // The crank's own inertia and the wheel's errors level what its speed shows, and without a
        // name a bank is its peaks by the firing order alone: there a difference that is seen tells
        // something, and one that is not seen tells nothing. No recording with a cam off and its
        // compression by speed is at hand to tell more.
        let by_speed = measured.source == Source::CrankSpeed;
        let seen = difference.stands_out && difference.relative.abs() > SEEN_SDS * difference.sd;
        if by_speed && difference.bank.is_none() && !seen {
            return None;
        }
        let two = engine.banks.len() == 2;
        let bank =
            difference.bank.or_else(|| engine.banks.keys().next().copied().filter(|_| two))?;
        let change = CylinderShape::of(engine).change_for(TYPICAL_SHIFT) / TYPICAL_SHIFT.0;
        let others = engine.banks.len().saturating_sub(1).max(1) as f64;
        let per_degree = engine.cams.iter().map(|cam| match cam.shaft {
            CamShaft::Exhaust => 0.0,
            _ if cam.bank == bank => change,
            _ => -change / others,
        });
        Some(CompressionEvidence {
            difference: difference.relative,
            sd: difference.sd,
            per_degree: per_degree.collect(),
            // What the cams should have made is of a bank with a name.
            expected: outcome.expected.filter(|_| difference.bank.is_some()),
            unnamed: difference.bank.is_none(),
            turn_by_cams: measured.turn_by_cams,
            stands_out: difference.stands_out,
        })
    }

    /// Holds the measured difference against the one the cams should have made.
    #[must_use]
    pub fn judge(&self) -> CompressionJudgement {
        let visible = |change: f64| change.abs() > LEAST_EXPECTED;
        let agreement = match self.expected {
            Some(expected) if visible(expected.difference) => {
                let log_odds = self.log_odds_for(expected);
                // A difference the other way round is further from none than it is from the one
                // expected, and agrees with neither.
                let same_way = expected.difference * self.difference > 0.0;
                let speaks = log_odds > SPEAKS.ln();
                if speaks && same_way {
                    Agreement::Agrees
                } else if speaks || log_odds < -SPEAKS.ln() {
                    Agreement::Contradicts
                } else {
                    Agreement::Silent
                }
            }
            Some(_) if self.stands_out => Agreement::OtherCause,
            _ => Agreement::Silent,
        };
        CompressionJudgement {
            agreement,
            expected: self.expected.map(|expected| expected.difference),
            all_banks_alike: self.expected.is_some_and(|expected| {
                !visible(expected.difference) && visible(expected.least_of_all)
            }),
        }
    }

    /// Logarithm of how much better the measurement fits a change that the cams really made than
    /// none at all.
    fn log_odds_for(&self, change: ExpectedChange) -> f64 {
        let natural = self.sd.hypot(BANK_COMPRESSION_SD);
        let model = COMPRESSION_MODEL_ERROR * change.difference;
        let wide = natural.hypot(model).hypot(change.sd);
        log_normal(self.difference - change.difference, wide) - log_normal(self.difference, natural)
    }
}
