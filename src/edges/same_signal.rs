//! One signal on two channels: a sensor recorded twice, or a lead that shows another's crosstalk.

use super::EdgeTrain;

/// Share of the edges of either lead that have a partner in the other for both to be one signal.
const SHARED: f64 = 0.95;
/// Two edges are one when they lie within so many standard deviations of their timing, both leads
/// together: what sampling and noise make of a single edge. Two sensors differ by their wheels'
/// build, half a degree, which at cranking speed is ten times as much.
const TIMING_SDS: f64 = 4.0;
/// Two channels of a recorder are sampled up to so long apart (seconds): the least there is, for
/// stamps that are exact.
const LEAST_APART: f64 = 5e-6;
/// Fewer edges prove nothing.
const LEAST_EDGES: usize = 8;

/// Whether two leads carry one signal, whichever way up: nearly all edges of either come at the
/// moments of the other's.
#[must_use]
pub fn is_one_signal(one: &EdgeTrain, other: &EdgeTrain) -> bool {
    let (most, least) =
        (one.edges.len().max(other.edges.len()), one.edges.len().min(other.edges.len()));
    if least < LEAST_EDGES || (least as f64) < SHARED * most as f64 {
        return false;
    }
    let apart = TIMING_SDS * one.timing_sd.0.hypot(other.timing_sd.0);
    let apart = apart.max(LEAST_APART);
    let mut after = 0;
    let mut shared = 0;
    for edge in &one.edges {
        while after < other.edges.len() && other.edges[after].at.0 < edge.at.0 - apart {
            after += 1;
        }
        let near = other.edges.get(after).is_some_and(|partner| partner.at.0 <= edge.at.0 + apart);
        shared += usize::from(near);
    }
    shared as f64 >= SHARED * most as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edges::Edge;
    use crate::units::Seconds;
    use crate::wheel::EdgeKind;

    /// Edges at these moments, good to 14 µs: a sample of 50 µs over √12.
    fn train(times: impl Iterator<Item = f64>) -> EdgeTrain {
        let edge = |(index, at): (usize, f64)| Edge {
            at: Seconds(at),
            kind: if index % 2 == 0 { EdgeKind::Rising } else { EdgeKind::Falling },
        };
        EdgeTrain::square(times.enumerate().map(edge).collect(), Seconds(14e-6))
    }

    #[test]
    fn one_signal_on_two_channels_is_seen_and_two_sensors_are_not() {
        let base = || (0..60).map(|edge| f64::from(edge) * 0.031);
        let one = train(base());
        // The same, sampled a few microseconds later.
        let copy = train(base().map(|at| at + 20e-6));
        // Another sensor on a wheel of the same kind, half a degree away at 200 rpm (1° is 0.83
        // ms).
        let other = train(base().map(|at| at + 420e-6));
        assert!(is_one_signal(&one, &copy));
        assert!(!is_one_signal(&one, &other));
        // Half of the edges are not enough.
        assert!(!is_one_signal(&one, &train(base().step_by(2))));
    }
}
