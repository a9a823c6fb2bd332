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
