//! A cam that moves while it is recorded: under control, or because something slips. One place does
//! not describe it then.

use super::CyclePosition;
use crate::stats::{MAD_TO_SD, median};
use crate::units::{CrankDelta, Seconds};

/// Cycles over which a median takes out what is gone in the next: one odd cycle is scatter, two
/// running are a place.
const SMOOTHED: usize = 3;
/// Least cycles a movement can be told in: two places of their own.
const LEAST_CYCLES: usize = 2 * SMOOTHED;
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
        if cycles.len() < LEAST_CYCLES {
            return None;
        }
        let places: Vec<(Seconds, f64)> = cycles
            .windows(SMOOTHED)
            .filter_map(|near| {
                let offs: Vec<f64> = near.iter().map(|cycle| cycle.off.0).collect();
                Some((near[SMOOTHED / 2].at, median(&offs)?))
            })
            .collect();
        let earliest = places.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let latest = places.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let range = latest.1 - earliest.1;
        // From one cycle to the next a slow movement hardly shows; what does is scatter.
        let steps: Vec<f64> =
            cycles.windows(2).map(|two| (two[1].off.0 - two[0].off.0).abs()).collect();
        let scatter = MAD_TO_SD * median(&steps)? / 2.0_f64.sqrt();
        (range > NOTABLE && range > BEYOND_SCATTER * scatter).then_some(Movement {
            range: CrankDelta(range),
            earliest_at: earliest.0,
            latest_at: latest.0,
        })
    }
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
        // One odd cycle, alternating scatter, and a movement too small to matter.
        let odd = cycles((0..12).map(|n| if n == 5 { 25.0 } else { 0.0 }));
        let rough = cycles((0..12).map(|n| if n % 2 == 0 { 1.5 } else { -1.5 }));
        let small = cycles((0..12).map(|n| 0.1 * f64::from(n)));
        for still in [odd, rough, small, cycles([0.0, 3.0, 6.0])] {
            assert_eq!(Movement::of(&still), None, "{still:?}");
        }
    }
}
