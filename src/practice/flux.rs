//! Reluctance sensors: each tooth is a bump of magnetic flux, the voltage its rate of change.
//!
//! By Faraday's law the voltage is the change of flux with shaft angle times the speed of the
//! shaft, so amplitude grows with speed and the zero at the top of a bump does not move.
//! On a wheel of even slots the bumps overlap, which leaves little swing between teeth and
//! about twice as much at a gap, and draws the teeth beside a gap away from it by a few
//! hundredths of a slot: both as on the sampled recording in hand.

use crate::units::TURN_DEG;
use crate::wheel::EdgeKind;

use super::levels::{Change, Levels};
use super::made::MadeWheel;
use super::motion::Motion;
use super::random::Random;
use super::shaft::Shaft;

/// Table entries per shaft degree; a straight line between them errs by under
/// 1e-4 of the swing for the narrowest bump.
const PER_DEGREE: f64 = 40.0;
/// Standard deviation of a bump as a share of the slot: the swing at a gap is then 1.7 to 2.3
/// times the swing of a tooth.
const BUMP_SHARE: (f64, f64) = (0.33, 0.38);
/// Widest bump of a slot wheel in shaft degrees: a sensor's pole does not see further.
const WIDEST_BUMP: f64 = 4.0;
/// Rounding of the ends of a listed tooth as a share of its width, and its least value in
/// shaft degrees.
const ROUNDED_SHARE: f64 = 0.25;
const LEAST_ROUNDED: f64 = 1.0;
/// How many standard deviations a bump reaches.
const REACH: f64 = 6.0;
/// Speed the amplitude is stated at, crank degrees per second: 200 rpm.
const STATED_SPEED: f64 = 1200.0;
/// A conditioner answers only to swings of this share of the amplitude at 200 rpm.
const ARMED_SHARE: f64 = 0.15;
/// Steps between two of the motion, so that a zero crossing is found to 1e-4 of a tooth.
const FINER: usize = 5;

/// Volts per (degree per second) over one turn of the shaft.
#[derive(Debug, Clone)]
pub(super) struct Flux {
    table: Vec<f64>,
    /// Typical peak voltage at 200 rpm.
    amplitude: f64,
}

impl Flux {
    /// `marks` is the slope of the zero at a tooth's middle; `amplitude` the usual
    /// peak at 200 rpm in volts.
    pub(super) fn new(
        wheel: &MadeWheel,
        marks: EdgeKind,
        gearing: f64,
        amplitude: f64,
        random: &mut Random,
    ) -> Self {
        let share = random.between(BUMP_SHARE.0, BUMP_SHARE.1);
        let mut flux = Flux { table: vec![0.0; (TURN_DEG * PER_DEGREE) as usize], amplitude };
        for tooth in &wheel.teeth {
            match wheel.pitch {
                Some(pitch) => {
                    let width = (share * pitch).min(WIDEST_BUMP);
                    // Slope of a Gaussian bump.
                    flux.add(tooth.middle, width, tooth.strength, |x| -x * (-x * x / 2.0).exp());
                }
                None => {
                    let width = (ROUNDED_SHARE * (tooth.end - tooth.start)).max(LEAST_ROUNDED);
                    // Slope of a flat top with rounded ends.
                    flux.add(tooth.start, width, tooth.strength, |x| (-x * x / 2.0).exp());
                    flux.add(tooth.end, width, -tooth.strength, |x| (-x * x / 2.0).exp());
                }
            }
        }
        // Rising flux gives a positive voltage when the zero at the middle is falling.
        let sign = if marks == EdgeKind::Falling { 1.0 } else { -1.0 };
        let scale = sign * amplitude / (flux.usual_peak() * STATED_SPEED / gearing);
        flux.table.iter_mut().for_each(|entry| *entry *= scale);
        flux
    }

    fn add(&mut self, at: f64, width: f64, strength: f64, slope: impl Fn(f64) -> f64) {
        let entries = self.table.len() as i64;
        let first = ((at - REACH * width) * PER_DEGREE).floor() as i64;
        let last = ((at + REACH * width) * PER_DEGREE).ceil() as i64;
        for entry in first..=last {
            let away = (entry as f64 / PER_DEGREE - at) / width;
            self.table[entry.rem_euclid(entries) as usize] += strength * slope(away);
        }
    }

    /// Median of the peaks, either way.
    fn usual_peak(&self) -> f64 {
        let n = self.table.len();
        let mut peaks: Vec<f64> = (0..n)
            .filter(|&i| {
                let (before, here, after) = (
                    self.table[(i + n - 1) % n].abs(),
                    self.table[i].abs(),
                    self.table[(i + 1) % n].abs(),
                );
                here > before && here >= after
            })
            .map(|i| self.table[i].abs())
            .collect();
        peaks.sort_by(f64::total_cmp);
        peaks.get(peaks.len() / 2).copied().filter(|peak| *peak > 0.0).unwrap_or(1.0)
    }

    /// Volts per (shaft degree per second) at a shaft angle.
    fn at(&self, angle: f64) -> f64 {
        let place = angle.rem_euclid(TURN_DEG) * PER_DEGREE;
        let entry = (place as usize).min(self.table.len() - 1);
        let next = if entry + 1 == self.table.len() { 0 } else { entry + 1 };
        self.table[entry] + (self.table[next] - self.table[entry]) * (place - entry as f64)
    }

    /// Voltage at a time.
    pub(super) fn volts(&self, shaft: &Shaft, time: f64) -> f64 {
        self.at(shaft.at(time)) * shaft.speed_at(time)
    }

    /// What a zero-crossing conditioner makes of it: high while the voltage is positive, silent
    /// until the swing is large enough.
    pub(super) fn conditioned(&self, shaft: &Shaft, seconds: f64) -> Levels {
        let armed_at = ARMED_SHARE * self.amplitude;
        let step = Motion::STEP / FINER as f64;
        let mut levels = Levels { first: false, changes: Vec::new() };
        let (mut high, mut swing, mut before) = (false, 0.0_f64, 0.0);
        for index in 1..(seconds / step) as usize {
            let now = self.volts(shaft, index as f64 * step);
            let crossed = (now > 0.0) != (before > 0.0) && now != before;
            if crossed && swing > armed_at && (now > 0.0) != high {
                high = now > 0.0;
                let at = (index as f64 - now / (now - before)) * step;
                levels.changes.push(Change { at, high });
                swing = 0.0;
            }
            swing = swing.max(now.abs());
            before = now;
        }
        levels
    }
}
