//! The angle between marks.

use super::beat::Beat;
use super::strikes::Strikes;
use crate::crank::{CrankAngle, Mark};
use crate::units::{CYCLE_DEG, CrankDelta, CrankTurned, Seconds};

/// Marks of the angle laid per cycle; what lies between them is a smooth curve.
const MARKS_PER_CYCLE: f64 = 24.0;
/// Swing of speed within a firing interval, amplitude over the mean, where nothing shows it (±10 to
/// ±25 % is common while cranking; common practice, no source).
const UNSEEN_SWING: f64 = 0.18;

/// Angle of an attempt by its compressions, held to the marks where there are some, and its
/// standard deviation. `swing` is how far the speed swings with the lead, amplitude over the mean.
pub(super) fn lay(
    beat: &Beat,
    strikes: Option<&Strikes>,
    swing: f64,
) -> Option<(CrankAngle, CrankDelta)> {
    let within = beat.within(swing);
    // How much the marks are ahead of the beat, in cycles, at each of them.
    let ahead: Vec<(Seconds, f64)> = strikes
        .map(|strikes| {
            strikes
                .at
                .iter()
                .filter_map(|&(at, cycles)| Some((at, cycles - beat.cycles_at(at)?)))
                .collect()
        })
        .unwrap_or_default();
    let line: Vec<(Seconds, f64)> = beat
        .steps()
        .zip(within)
        .map(|((at, cycles), within)| (at, (cycles + along(&ahead, at) + within) * CYCLE_DEG))
        .collect();
    let angle = through(&line)?;
    let unseen = UNSEEN_SWING * CYCLE_DEG / (std::f64::consts::TAU * beat.per_cycle as f64);
    let scatter = strikes.map_or(0.0, |strikes| strikes.scatter_deg);
    Some((angle, CrankDelta(unseen.hypot(scatter) / std::f64::consts::SQRT_2)))
}

/// A list of times and values at a time: straight lines between, level beyond.
fn along(list: &[(Seconds, f64)], at: Seconds) -> f64 {
    let after = list.partition_point(|(time, _)| *time <= at);
    match (after.checked_sub(1).map(|before| list[before]), list.get(after)) {
        (Some((from, a)), Some(&(to, b))) => a + (b - a) * ((at - from).0 / (to - from).0),
        (Some((_, value)), None) | (None, Some(&(_, value))) => value,
        (None, None) => 0.0,
    }
}

/// Marks at even angles along a line of times and angles.
fn through(line: &[(Seconds, f64)]) -> Option<CrankAngle> {
    let pitch = CYCLE_DEG / MARKS_PER_CYCLE;
    let mut marks: Vec<Mark> = Vec::new();
    for pair in line.windows(2) {
        let ((from, a), (to, b)) = (pair[0], pair[1]);
        if b <= a {
            continue;
        }
        let mut next = (a / pitch).ceil();
        while next * pitch < b {
            let at = from + Seconds((to - from).0 * (next * pitch - a) / (b - a));
            let turned = CrankTurned(next * pitch);
            if marks.last().is_none_or(|last| at > last.at && turned > last.turned) {
                marks.push(Mark { at, turned });
            }
            next += 1.0;
        }
    }
    CrankAngle::through(marks, CrankDelta(CYCLE_DEG), CrankDelta(pitch))
}

/// Angle by marks alone.
pub(super) fn straight(strikes: &Strikes, cylinders: usize) -> Option<(CrankAngle, CrankDelta)> {
    let line: Vec<(Seconds, f64)> =
        strikes.at.iter().map(|&(at, cycles)| (at, cycles * CYCLE_DEG)).collect();
    let unseen = UNSEEN_SWING * CYCLE_DEG / (std::f64::consts::TAU * cylinders as f64);
    Some((through(&line)?, CrankDelta(unseen / std::f64::consts::SQRT_2)))
}
