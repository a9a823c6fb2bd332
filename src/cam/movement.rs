//! A cam that moves while it is recorded: under control, or because something slips. One place does
//! not describe it then.

use super::CyclePosition;
use crate::stats::{MAD_TO_SD, median};
use crate::units::{CrankDelta, Seconds};

/// Cycles over which a median takes out what is gone in the next: one odd cycle is scatter, two
/// running are a place.
const SMOOTHED: usize = 3;
/// Least cycles a movement of any kind can be told in: two places of their own.
const LEAST_CYCLES: usize = 2 * SMOOTHED;
/// Least cycles in which one that goes on steadily can be told: three steps.
const LEAST_STEADY: usize = 4;
/// A movement is steady when every step goes the same way and none is so many times the middle one:
/// a single odd cycle at an end makes one large step.
const UNSTEADY: f64 = 3.0;
/// Movement below this, in crank degrees, is scatter: cams that stand still were recorded with up
/// to 0.3 from cycle to cycle, and chains with slack swing by about a degree (public recordings;
/// common practice, no source).
const NOTABLE: f64 = 2.0;
/// Medians of three of white scatter seldom range over more than three and a half standard
/// deviations in twenty cycles (their own is 0.67 of it, and a range of twenty is 3.7 of that).
const BEYOND_SCATTER: f64 = 5.0;

/// How far a cam moved within one capture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Movement {
    /// How much later it stood at its latest than at its earliest, crank degrees.
    pub range: CrankDelta,
    /// How late it stood at its earliest and at its latest, against its place over all cycles.
    pub offs: (CrankDelta, CrankDelta),
    /// When it stood earliest.
    pub earliest_at: Seconds,
    /// When it stood latest.
    pub latest_at: Seconds,
}

impl Movement {
    /// Of the positions of cycles in order of time; `None` where it stands still or too few were
    /// seen.
    #[must_use]
    pub fn of(cycles: &[CyclePosition]) -> Option<Movement> {
        let smoothed = match cycles.len() {
            0..LEAST_STEADY => return None,
            LEAST_STEADY..LEAST_CYCLES if is_steady(cycles) => 1,
            LEAST_STEADY..LEAST_CYCLES => return None,
            _ => SMOOTHED,
        };
        let places: Vec<(Seconds, f64)> = cycles
            .windows(smoothed)
            .filter_map(|near| {
                let offs: Vec<f64> = near.iter().map(|cycle| cycle.off.0).collect();
                Some((near[smoothed / 2].at, median(&offs)?))
            })
            .collect();
        let earliest = places.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let latest = places.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let range = latest.1 - earliest.1;
        // What is scatter shows in how the middle of three cycles stands off the line between the
        // others: a steady movement does not, however few cycles it takes.
        let bends: Vec<f64> = cycles
            .windows(3)
            .map(|three| (three[2].off.0 - 2.0 * three[1].off.0 + three[0].off.0).abs())
            .collect();
        let scatter = MAD_TO_SD * median(&bends)? / 6.0_f64.sqrt();
        (range > NOTABLE && range > BEYOND_SCATTER * scatter).then_some(Movement {
            range: CrankDelta(range),
            offs: (CrankDelta(earliest.1), CrankDelta(latest.1)),
            earliest_at: earliest.0,
            latest_at: latest.0,
        })
    }
}

/// Whether the cam goes on from cycle to cycle the same way, about as far each time.
fn is_steady(cycles: &[CyclePosition]) -> bool {
    let steps: Vec<f64> = cycles.windows(2).map(|two| two[1].off.0 - two[0].off.0).collect();
    let middle = median(&steps).unwrap_or(0.0);
    steps.iter().all(|step| step * middle > 0.0 && step.abs() < UNSTEADY * middle.abs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Rpm;

    fn cycles(offs: impl IntoIterator<Item = f64>) -> Vec<CyclePosition> {
        let at = |(number, off): (usize, f64)| CyclePosition {
            at: Seconds(0.5 * number as f64),
            rpm: Rpm(240.0),
            off: CrankDelta(off),
            edges: 6,
            faster: None,
            faster_after: None,
        };
        offs.into_iter().enumerate().map(at).collect()
    }

    #[test]
    fn a_start_over_which_a_cam_moves_is_a_movement_and_scatter_is_none() {
        let drifting = cycles((0..12).map(|n| 0.6 * f64::from(n) - 3.3));
        let found = Movement::of(&drifting)
            .expect("it moves by 6.6, less what the medians of its ends leave out");
        assert!((found.range.0 - 5.4).abs() < 1e-9, "{found:?}");
        assert_eq!((found.earliest_at, found.latest_at), (Seconds(0.5), Seconds(5.0)));
        assert!((found.offs.1.0 - found.offs.0.0 - 5.4).abs() < 1e-9, "{found:?}");
        // Over as few cycles as a short capture has.
        let short =
            cycles((0..6).map(|n| 1.1 * f64::from(n) + if n % 2 == 0 { 0.1 } else { -0.1 }));
        assert!(Movement::of(&short).is_some_and(|found| found.range.0 > 3.0));
        let shortest = cycles([-2.4, -0.7, 0.9, 2.6]);
        assert!(Movement::of(&shortest).is_some_and(|found| (found.range.0 - 5.0).abs() < 1e-9));
        // One odd cycle, alternating scatter, and a movement too small to matter.
        let odd = cycles((0..12).map(|n| if n == 5 { 25.0 } else { 0.0 }));
        let rough = cycles((0..12).map(|n| if n % 2 == 0 { 1.5 } else { -1.5 }));
        let small = cycles((0..12).map(|n| 0.1 * f64::from(n)));
        let end = cycles([25.0, 0.2, 0.1, 0.0]);
        for still in [odd, rough, small, end, cycles([0.0, 3.0, 6.0])] {
            assert_eq!(Movement::of(&still), None, "{still:?}");
        }
    }
}
