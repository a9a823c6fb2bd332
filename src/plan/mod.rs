//! What to connect and how to set the scope before a capture: worked from the wheels and the
//! accuracy wanted.
//!
//! Two rules give the sample rate. *Timing*: an edge that falls between two samples is known to the
//! step over √12 (the standard deviation of a uniform distribution); a cam's place hangs on a cam
//! edge and on the crank teeth beside it, so √2 of that. *Shape*: the shortest level (or swing) of
//! any wheel needs several samples. One rule gives the length: cycles differ, and averaging n of
//! them leaves Student's t times scatter over √n.

mod sets;

pub use sets::{CaptureSet, PlannedLead};

use crate::edges::{SAMPLES_PER_PULSE, USUAL_PULSE};
use crate::engine::{Engine, Sensor};
use crate::remedy::{Mend, Remedy, Setting, mended_errors};
use crate::stats::{NORMAL95, t95};
use crate::units::{CYCLE_DEG, CrankDelta, Rpm, Seconds, TURN_DEG};
use crate::wheel::{EdgeKind, Wheel};

/// Share by which the engine is briefly faster than its mean while cranking (docs/sources.md,
/// "Cranking motion": ±10 to ±25 %).
const FASTER: f64 = 0.25;
/// Samples the shortest level of a square wave needs: two at each end of it.
const SAMPLES_PER_LEVEL: f64 = 4.0;
/// Samples one tooth of a reluctance sensor needs, so that the line through zero has several
/// on each side (common practice, no source).
const SAMPLES_PER_SWING: f64 = 20.0;
/// Scatter of a sound cam from cycle to cycle, in crank degrees (measured on the
/// recordings: 0.05 to 0.3).
const CYCLE_SCATTER: CrankDelta = CrankDelta(0.2);
/// Shortest pulse of a coil's control while cranking, and of its spark (from memory: dwell of 2 to
/// 6 ms, a spark of one to two).
const COIL_PULSE: Seconds = Seconds(1.0e-3);
/// Fewest cycles worth cranking for: relative compression needs three steady ones, and one is lost
/// to run-up on each side.
const LEAST_CYCLES: usize = 5;
/// Most cycles: more would be longer than a starter should be held (common practice, no source).
const MOST_CYCLES: usize = 40;
/// Time for run-up, and for starting the scope before the key.
const LEAD_IN: Seconds = Seconds(1.5);

/// What is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanOptions {
    /// Half width of the 95 % interval wanted for a cam's place.
    pub accuracy: CrankDelta,
    /// Cranking speed.
    pub rpm: Rpm,
    /// Channels of the scope.
    pub channels: usize,
}

impl Default for PlanOptions {
    /// 0.3°, 200 rpm, a four-channel scope.
    fn default() -> Self {
        PlanOptions { accuracy: CrankDelta(0.3), rpm: Rpm(200.0), channels: 4 }
    }
}

/// Why no plan can be made.
#[derive(Debug, Clone, PartialEq)]
pub enum PlanError {
    /// A number out of range.
    OutOfRange {
        /// Which.
        setting: Setting,
        /// What was given.
        value: f64,
        /// Least that makes sense.
        least: f64,
        /// Most that makes sense.
        most: f64,
    },
    /// The scatter of cycles cannot be averaged away in a cranking anyone should do.
    TooFine {
        /// What was wanted.
        wanted: f64,
        /// Scatter assumed.
        scatter: f64,
        /// Most cycles.
        cycles: usize,
        /// What they give.
        best: f64,
    },
}

impl Mend for PlanError {
    fn complaint(&self) -> String {
        match self {
            PlanError::OutOfRange { setting, value, .. } => {
                format!("{value} is too much or too little for {setting}")
            }
            PlanError::TooFine { wanted, scatter, cycles, .. } => format!(
                "an accuracy of {wanted}° is not reached: cycles of a sound engine differ by about {scatter}°, and {cycles} of \
                 them are the most a starter should be held for"
            ),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        let (setting, value) = match self {
            PlanError::OutOfRange { setting, least, most, .. } => {
                (*setting, format!("{least} to {most}"))
            }
            PlanError::TooFine { best, .. } => (Setting::Accuracy, format!("{best:.2} or more")),
        };
        vec![Remedy::set(setting, value)]
    }
}

mended_errors!(PlanError);

/// The shortest feature any wheel of the engine shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Finest {
    /// Lead it is on.
    pub lead: String,
    /// Its kind of sensor.
    pub sensor: Sensor,
    /// Crank degrees it lasts: the shortest level of a square wave, the closest teeth of a
    /// reluctance sensor, the output pulse of a direction-sensing one at the fastest the engine
    /// cranks.
    pub lasts: CrankDelta,
}

/// The rates that position sensors ask for.
#[derive(Debug, Clone, PartialEq)]
pub struct TimingRate {
    /// Least rate by the timing rule, samples per second.
    pub rate_for_timing: f64,
    /// The feature that asks for most samples.
    pub finest: Finest,
    /// Samples it needs.
    pub samples_per_feature: f64,
    /// Least rate by the shape rule, samples per second.
    pub rate_for_shape: f64,
    /// Standard deviation of one edge at the rate of the plan, crank degrees.
    pub edge_sd: CrankDelta,
}

/// The plan, every step of its arithmetic kept for showing.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// What was asked for.
    pub options: PlanOptions,
    /// What the crank and the cams ask for; absent where the engine file has no crank.
    pub timing: Option<TimingRate>,
    /// Least rate that does not lose a coil's pulse between two samples; absent where no coil is
    /// recorded.
    pub rate_for_coil: Option<f64>,
    /// Rate to set: the larger, up to the next 1, 2 or 5.
    pub rate: f64,
    /// Cycles needed.
    pub cycles: usize,
    /// Half width they average to.
    pub averaged: CrankDelta,
    /// Length to record.
    pub seconds: Seconds,
    /// What to connect, capture by capture.
    pub sets: Vec<CaptureSet>,
}

impl Plan {
    /// Works out a plan.
    ///
    /// # Errors
    /// [`PlanError`]: a number out of range, or an accuracy no cranking reaches.
    pub fn for_engine(engine: &Engine, options: PlanOptions) -> Result<Plan, PlanError> {
        check(&options)?;
        let speed = options.rpm.degrees_per_second() * (1.0 + FASTER);
        let sets = sets::share_out(engine, options.channels);
        let rate_for_coil =
            sets.iter().any(CaptureSet::has_coil).then_some(SAMPLES_PER_PULSE / COIL_PULSE.0);
        let rate_for_timing =
            NORMAL95 * 2.0_f64.sqrt() * speed / (options.accuracy.0 * 12.0_f64.sqrt());
        let timing = engine.crank.described.then(|| {
            let (finest, samples) = finest(engine, speed);
            let rate_for_shape = samples * speed / finest.lasts.0;
            TimingRate {
                rate_for_timing,
                finest,
                samples_per_feature: samples,
                rate_for_shape,
                edge_sd: CrankDelta(0.0),
            }
        });
        let least = timing.as_ref().map_or(0.0, |one| one.rate_for_timing.max(one.rate_for_shape));
        let rate = round_up(least.max(rate_for_coil.unwrap_or(0.0)));
        let edge_sd = CrankDelta(speed / rate / 12.0_f64.sqrt());
        let timing = timing.map(|one| TimingRate { edge_sd, ..one });
        let (cycles, averaged) = cycles(options.accuracy)?;
        let turning = cycles as f64 * CYCLE_DEG / options.rpm.degrees_per_second();
        Ok(Plan {
            options,
            timing,
            rate_for_coil,
            rate,
            cycles,
            averaged,
            seconds: Seconds((turning + LEAD_IN.0).ceil()),
            sets,
        })
    }
}

fn check(options: &PlanOptions) -> Result<(), PlanError> {
    let rows = [
        (Setting::Accuracy, options.accuracy.0, 0.05, 10.0),
        (Setting::CrankingSpeed, options.rpm.0, 60.0, 500.0),
        (Setting::ScopeChannels, options.channels as f64, 2.0, 16.0),
    ];
    for (setting, value, least, most) in rows {
        if !(least..=most).contains(&value) {
            return Err(PlanError::OutOfRange { setting, value, least, most });
        }
    }
    Ok(())
}

/// The feature that asks for the highest rate at a speed of the crank (degrees per second), and the
/// samples it needs.
fn finest(engine: &Engine, speed: f64) -> (Finest, f64) {
    // A cam turns at half speed: a degree of it lasts two of the crank.
    let lasts = |wheel: &Wheel, sensor: Sensor, gearing: f64| match sensor {
        // The same time at any speed.
        Sensor::Pulse => USUAL_PULSE.0 * speed,
        Sensor::Hall | Sensor::Reluctance => gearing * shortest(wheel, sensor),
    };
    let crank = &engine.crank;
    let by_crank = ("crank", crank.sensor, lasts(&crank.wheel, crank.sensor, 1.0));
    let cams = engine
        .cams
        .iter()
        .map(|cam| (cam.name.as_str(), cam.sensor, lasts(&cam.wheel, cam.sensor, 2.0)));
    let needs = |sensor: Sensor| match sensor {
        Sensor::Hall => SAMPLES_PER_LEVEL,
        Sensor::Reluctance => SAMPLES_PER_SWING,
        Sensor::Pulse => SAMPLES_PER_PULSE,
    };
    let rate = |lead: &(&str, Sensor, f64)| needs(lead.1) / lead.2;
    let worst = cams.fold(by_crank, |most, cam| if rate(&cam) > rate(&most) { cam } else { most });
    let (lead, sensor, lasts) = worst;
    (Finest { lead: lead.to_owned(), sensor, lasts: CrankDelta(lasts) }, needs(sensor))
}

/// Degrees of its shaft that the shortest level of a wheel lasts (square wave), or from tooth to
/// tooth (reluctance).
fn shortest(wheel: &Wheel, sensor: Sensor) -> f64 {
    let edges: Vec<f64> = match sensor {
        Sensor::Reluctance | Sensor::Pulse => {
            wheel.zero_crossings(EdgeKind::Falling).iter().map(|edge| edge.at.get()).collect()
        }
        Sensor::Hall => {
            let teeth = wheel.teeth(EdgeKind::Falling);
            let mut edges: Vec<f64> =
                teeth.iter().flat_map(|tooth| [tooth.start.get(), tooth.end().get()]).collect();
            edges.sort_by(f64::total_cmp);
            edges
        }
    };
    let around = edges.iter().skip(1).copied().chain([edges[0] + TURN_DEG]);
    edges.iter().zip(around).map(|(from, to)| to - from).fold(TURN_DEG, f64::min)
}

/// Fewest cycles whose mean is good enough, and how good it is.
fn cycles(accuracy: CrankDelta) -> Result<(usize, CrankDelta), PlanError> {
    let half_width = |count: usize| {
        let count = count as f64;
        t95(count - 1.0) * CYCLE_SCATTER.0 / count.sqrt()
    };
    let enough = (LEAST_CYCLES..=MOST_CYCLES).find(|&count| half_width(count) <= accuracy.0);
    match enough {
        Some(count) => Ok((count, CrankDelta(half_width(count)))),
        None => Err(PlanError::TooFine {
            wanted: accuracy.0,
            scatter: CYCLE_SCATTER.0,
            cycles: MOST_CYCLES,
            best: (half_width(MOST_CYCLES) * 100.0).ceil() / 100.0,
        }),
    }
}

/// The next of 1, 2, 5, 10, 20, … that is not smaller: the steps scopes offer.
fn round_up(value: f64) -> f64 {
    let decade = 10.0_f64.powf(value.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|step| step * decade)
        .find(|step| *step >= value * (1.0 - 1e-9))
        .unwrap_or(10.0 * decade)
}

#[cfg(test)]
mod tests;
