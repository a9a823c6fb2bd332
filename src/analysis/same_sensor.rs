//! One sensor recorded on two channels.

use crate::edges::{EdgeTrain, is_one_signal};

/// Pairs of cams, by index into the engine's cams, whose leads show the same edges at the same
/// moments.
pub(super) fn same_sensor<'a>(
    leads: impl Iterator<Item = (usize, &'a str, &'a EdgeTrain)>,
) -> Vec<(usize, usize)> {
    let leads: Vec<(usize, &EdgeTrain)> = leads.map(|(cam, _, train)| (cam, train)).collect();
    let mut pairs = Vec::new();
    for (index, &(first, one)) in leads.iter().enumerate() {
        let same = leads[index + 1..].iter().filter(|(_, other)| is_one_signal(one, other));
        pairs.extend(same.map(|&(second, _)| (first, second)));
    }
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edges::Edge;
    use crate::units::Seconds;
    use crate::wheel::EdgeKind;

    #[test]
    fn cams_that_show_one_signal_are_paired_by_their_index() {
        // Sampled a few microseconds later, and another sensor half a degree away at 200 rpm.
        let train = |later: f64| {
            let edge = |index: i32| Edge {
                at: Seconds(f64::from(index) * 0.031 + later),
                kind: if index % 2 == 0 { EdgeKind::Rising } else { EdgeKind::Falling },
            };
            EdgeTrain::square((0..60).map(edge).collect(), Seconds(14e-6))
        };
        let (one, other, copy) = (train(0.0), train(420e-6), train(20e-6));
        let leads = [(0, "a", &one), (2, "b", &other), (3, "c", &copy)];
        assert_eq!(same_sensor(leads.into_iter()), [(0, 3)]);
    }
}
