//! Several captures of one engine become one measurement.

use super::beside::worth;
use super::{AnalysisError, MeasuredCapture};
use crate::cam::deviation::late;
use crate::cam::{CamResult, CyclePosition};
use crate::capture::CaptureFacts;
use crate::crank::{Condition, CrankLock};
use crate::engine::Engine;
use crate::notice::Notice;
use crate::units::{CYCLE_DEG, CrankDelta, Rpm, Seconds};

/// Two positions of one cam farther apart than this share of their joint 95 % width are refused: z
/// 3.29 instead of 1.96, which one sound pair in a thousand passes. Nearer ones are combined;
/// beyond the width itself that is said.
const REFUSED: f64 = 1.68;

/// Joins captures: each cam's position is the mean of its positions, weighted by their intervals.
/// At least one.
///
/// # Errors
/// [`AnalysisError::CamsDisagree`].
pub(super) fn join(
    engine: &Engine,
    captures: Vec<MeasuredCapture>,
) -> Result<Joined, AnalysisError> {
    let count = captures.len();
    let names = captures.iter().map(|one| one.capture.clone()).collect();
    let turns = |one: &MeasuredCapture| {
        let (from, to) = one.crank.angle.turned_span();
        to.since(from).0
    };
    let cycles = captures.iter().map(|one| (turns(one) / CYCLE_DEG) as usize).sum();
    let seconds_used = captures.iter().fold(Seconds(0.0), |sum, one| sum + one.crank.seconds_used);
    let seconds = captures.iter().fold(Seconds(0.0), |sum, one| sum + one.seconds);
    let mut captures: Vec<(usize, MeasuredCapture)> = captures.into_iter().enumerate().collect();
    captures.sort_by(|(_, a), (_, b)| turns(b).total_cmp(&turns(a)));
    let mut captures = captures.into_iter();
    let (main_capture, mut main) = captures.next().expect("at least one capture");
    for (_, other) in captures {
        fold(engine, &mut main, other)?;
    }
    main.cams.sort_by_key(|cam| cam.measured.cam);
    if count > 1 {
        main.expect_compression(engine);
    }
    Ok(Joined {
        names,
        facts: Vec::new(),
        main_capture,
        cycles,
        seconds_used,
        seconds_dropped: Seconds((seconds - seconds_used).0.max(0.0)),
        main,
    })
}

/// All captures as one, with what was added up.
pub(super) struct Joined {
    pub names: Vec<String>,
    /// What tells them from others, in the same order.
    pub facts: Vec<CaptureFacts>,
    pub main_capture: usize,
    pub cycles: usize,
    pub seconds_used: Seconds,
    pub seconds_dropped: Seconds,
    pub main: MeasuredCapture,
}

/// Adds a capture to the one with the most turns.
fn fold(
    engine: &Engine,
    main: &mut MeasuredCapture,
    other: MeasuredCapture,
) -> Result<(), AnalysisError> {
    fold_crank(&mut main.crank, &other.crank);
    if other.datum.known_modulo.0 > main.datum.known_modulo.0 {
        // The better settled datum is only known for its own capture; positions keep theirs.
        main.notices.push(Notice {
            about: other.capture.clone(),
            text: "The captures do not all settle which pass of the crank mark is which.".into(),
        });
    }
    for cam in other.cams {
        match main.cams.iter_mut().find(|mine| mine.measured.cam == cam.measured.cam) {
            Some(mine) => {
                let (apart, width) = difference(mine, &cam);
                let name = engine.cams[mine.measured.cam].name.clone();
                let allowed = width * REFUSED;
                if apart.0.abs() > allowed.0 {
                    let (first, second) = (main.capture.clone(), other.capture);
                    return Err(AnalysisError::CamsDisagree {
                        cam: name,
                        first,
                        second,
                        apart,
                        allowed,
                    });
                }
                if !pool(mine, cam) {
                    main.notices.push(Notice {
                        about: name,
                        text: "The captures disagree about this cam by more than their intervals allow. \
                               Check that all of them are of this engine in one condition."
                            .into(),
                    });
                }
            }
            None => main.cams.push(cam),
        }
    }
    main.leads.extend(other.leads);
    main.swapped.extend(other.swapped);
    main.reordered.extend(other.reordered);
    main.same_sensor.extend(other.same_sensor);
    main.other_wheels.extend(other.other_wheels);
    main.notices.extend(other.notices);
    if worth(&other.compression) > worth(&main.compression) {
        let own = std::mem::replace(&mut main.compression, other.compression);
        main.compression.tdc = own.tdc.or(main.compression.tdc);
        main.compression.pressure.extend(own.pressure);
    } else {
        main.compression.pressure.extend(other.compression.pressure);
    }
    Ok(())
}

/// How much later a cam stands in another capture, and the joint half width of both 95 % intervals.
fn difference(mine: &CamResult, other: &CamResult) -> (CrankDelta, CrankDelta) {
    // What one of them knows only modulo less is compared modulo that.
    let modulo = if other.known_modulo.0 < mine.known_modulo.0 { other } else { mine }.known_modulo;
    let apart = late(other.measured.position, mine.measured.position, modulo);
    let (a, b) = (mine.measured.half_width95.0, other.measured.half_width95.0);
    (apart, CrankDelta(a.hypot(b)))
}

fn fold_crank(main: &mut CrankLock, other: &CrankLock) {
    main.confidence = main.confidence.min(other.confidence);
    main.teeth_seen += other.teeth_seen;
    main.missed += other.missed;
    main.extra += other.extra;
    main.rpm_min = Rpm(main.rpm_min.0.min(other.rpm_min.0));
    main.rpm_max = Rpm(main.rpm_max.0.max(other.rpm_max.0));
    if main.condition != other.condition {
        main.condition = Condition::Mixed;
    }
}

/// Pools two measurements of a cam; `false` when they disagree.
fn pool(mine: &mut CamResult, other: CamResult) -> bool {
    let (apart, width) = difference(mine, &other);
    let (a, b) = (mine.measured.half_width95.0, other.measured.half_width95.0);
    let share = (a * a) / (a * a + b * b);
    let move_by = apart * share;
    let agree = apart.0.abs() <= width.0;
    let narrower = a * b / a.hypot(b);
    // Disagreement is knowledge too: the interval then spans both.
    let half_width = if agree { narrower } else { narrower.max(apart.0.abs() / 2.0 + a.max(b)) };
    let rest = apart - move_by;
    let shifted = |cycles: &[CyclePosition], by: CrankDelta| -> Vec<CyclePosition> {
        cycles.iter().map(|cycle| CyclePosition { off: cycle.off + by, ..*cycle }).collect()
    };
    let mut cycles = shifted(&mine.measured.cycles, -move_by);
    cycles.extend(shifted(&other.measured.cycles, rest));
    let offs: Vec<f64> = cycles.iter().map(|cycle| cycle.off.0).collect();
    mine.measured.cycle_sd = crate::stats::standard_deviation(&offs).map(CrankDelta);
    mine.measured.cycles = cycles;
    mine.measured.position = mine.measured.position + move_by;
    mine.measured.half_width95 = CrankDelta(half_width);
    mine.measured.missed += other.measured.missed;
    mine.measured.extra += other.measured.extra;
    agree
}
