//! Where the edges of a second wheel stand between those of a first.

use super::fold::Turned;
use super::guess::PairPlace;
use crate::edges::EdgeTrain;
use crate::stats::{median, standard_deviation};
use crate::wheel::EdgeKind;

/// Only a wheel of so few edges of a kind in a period has places that can be told in a line.
const FEW: f64 = 2.5;

/// Places of the second wheel's edges, in steps after the edge of the first before them, for each
/// pair of kinds; empty for a wheel of many teeth. `periods`: steps of the first in one period of
/// the second.
pub(super) fn places(
    first: &EdgeTrain,
    second: &EdgeTrain,
    turned: &Turned,
    periods: usize,
) -> Vec<PairPlace> {
    let both = [EdgeKind::Rising, EdgeKind::Falling];
    let mut places = Vec::new();
    for kind in both {
        let inside: Vec<f64> =
            second.of_kind(kind).map(|at| at.0).filter(|&at| turned.at(at).is_some()).collect();
        if inside.is_empty() || inside.len() as f64 > FEW * (turned.span() / periods as f64 + 1.0) {
            continue;
        }
        for after in both {
            let marks: Vec<f64> = first.of_kind(after).map(|at| at.0).collect();
            let steps: Vec<f64> =
                inside.iter().filter_map(|&at| share_of_step(&marks, at)).collect();
            let (Some(middle), Some(sd)) = (median(&steps), standard_deviation(&steps)) else {
                continue;
            };
            places.push(PairPlace { kind, after, steps: middle, sd, n: steps.len() });
        }
    }
    places
}

/// How far between two marks a time is.
fn share_of_step(marks: &[f64], at: f64) -> Option<f64> {
    let after = marks.partition_point(|&mark| mark <= at);
    let (from, to) = (marks.get(after.checked_sub(1)?)?, marks.get(after)?);
    Some((at - from) / (to - from))
}
