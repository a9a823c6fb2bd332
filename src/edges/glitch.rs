//! Pulses shorter than a tooth could be.

use super::Edge;
use crate::stats::upper_median;

/// A pulse is no tooth when it is shorter than this share of the pulses of its kind around
/// it. The narrowest real tooth beside wide ones in the wheel library is 3° beside 12°.
const SHORTEST_SHARE: f64 = 0.08;
/// Pulses of the same kind looked at on each side.
const NEIGHBOURS: usize = 6;

/// Removes both edges of every glitch and returns how many pulses went.
///
/// Shortest first, because removing a glitch joins the two pulses it had split.
pub(super) fn drop_glitches(edges: &mut Vec<Edge>) -> usize {
    let mut dropped = 0;
    loop {
        let Some(keep) = without_glitches(edges) else { return dropped };
        dropped += (edges.len() - keep.len()) / 2;
        *edges = keep;
    }
}

/// One sweep; `None` when there is nothing to remove.
fn without_glitches(edges: &[Edge]) -> Option<Vec<Edge>> {
    let widths: Vec<f64> = edges.windows(2).map(|pair| (pair[1].at - pair[0].at).0).collect();
    let is_glitch = |i: usize| {
        // Pulses of the same kind are every other one.
        let from = i.saturating_sub(2 * NEIGHBOURS) | (i & 1);
        let from = if (from ^ i) & 1 == 1 { from + 1 } else { from };
        let mut around: Vec<f64> = (from..(i + 2 * NEIGHBOURS + 1).min(widths.len()))
            .step_by(2)
            .filter(|&other| other != i)
            .map(|other| widths[other])
            .collect();
        upper_median(&mut around).is_some_and(|typical| widths[i] < SHORTEST_SHARE * typical)
    };
    let mut keep = Vec::with_capacity(edges.len());
    let (mut i, mut removed) = (0, false);
    while i < edges.len() {
        let shorter_than_next =
            i + 1 >= widths.len() || i >= widths.len() || widths[i] <= widths[i + 1];
        if i < widths.len() && shorter_than_next && is_glitch(i) {
            removed = true;
            i += 2;
        } else {
            keep.push(edges[i]);
            i += 1;
        }
    }
    removed.then_some(keep)
}
