//! The part of a capture in which the starter turns the engine, and that in which it runs by itself.
//!
//! Each shows what the other hides. Edges that come a fixed time early or late are off by a share of a
//! tooth that grows with the speed: fine wheels are read while the engine cranks. The swing of the
//! compressions is least when it runs: uneven teeth are placed there.

use crate::edges::{Edge, EdgeTrain};

/// Edges are counted over so many seconds: a turn at 240 rpm, so that compressions make no difference.
const BLOCK_S: f64 = 0.25;
/// An engine that runs by itself turns at least this much faster than its starter turns it: from 300 rpm
/// at most to 500 at least (as `crank::lock` has them).
const RUNS: f64 = 1.6;
/// Blocks within this factor of the slowest, or of the fastest, are as slow, or as fast: cranking
/// slows and recovers with the battery.
const ALIKE: f64 = 1.3;
/// Least blocks of a part: some four turns of cranking.
const LEAST_BLOCKS: usize = 4;

/// From when to when, in seconds, the slow part lasts and the fast one; none where the speed hardly
/// changes. By the lead that has most edges.
pub(super) fn parts(trains: &[&EdgeTrain]) -> Vec<(f64, f64)> {
    let Some(busiest) = trains.iter().max_by_key(|train| train.edges.len()) else {
        return Vec::new();
    };
    let Some(first) = busiest.edges.first() else { return Vec::new() };
    let block_of = |edge: &Edge| ((edge.at.0 - first.at.0) / BLOCK_S) as usize;
    let mut counts: Vec<f64> = Vec::new();
    for blocks in busiest.edges.chunk_by(|a, b| block_of(a) == block_of(b)) {
        // A block without an edge is a standstill, and no part goes across it.
        counts.resize(block_of(&blocks[0]), 0.0);
        counts.push(blocks.len() as f64);
    }
    // The last is hardly ever whole.
    counts.pop();
    let mut sorted: Vec<f64> = counts.iter().copied().filter(|&count| count > 0.0).collect();
    sorted.sort_by(f64::total_cmp);
    let (Some(&slow), Some(&fast)) = (sorted.get(sorted.len() / 4), sorted.last()) else {
        return Vec::new();
    };
    if fast < RUNS * slow {
        return Vec::new();
    }
    let as_slow = longest(&counts, |count| count > 0.0 && count <= ALIKE * slow);
    let as_fast = longest(&counts, |count| count * ALIKE >= fast);
    let seconds = |block: usize| first.at.0 + block as f64 * BLOCK_S;
    let found = [as_slow, as_fast].into_iter().filter(|part| part.len() >= LEAST_BLOCKS);
    found.map(|part| (seconds(part.start), seconds(part.end))).collect()
}

/// The longest run of blocks that are so.
fn longest(counts: &[f64], so: impl Fn(f64) -> bool) -> std::ops::Range<usize> {
    let (mut best, mut start) = (0..0, 0);
    for at in 0..=counts.len() {
        if at == counts.len() || !so(counts[at]) {
            if at - start > best.len() {
                best = start..at;
            }
            start = at + 1;
        }
    }
    best
}

/// A lead's edges of that part alone.
pub(super) fn within(train: &EdgeTrain, (from, to): (f64, f64)) -> EdgeTrain {
    let inside = |edge: &&Edge| (from..to).contains(&edge.at.0);
    let edges = train.edges.iter().filter(inside).copied().collect();
    EdgeTrain { edges, ..train.clone() }
}

#[cfg(test)]
mod tests {
    use super::super::votes::{Called, EdgeLead};
    use super::super::wheels::{find, find_in};
    use super::*;
    use crate::units::Seconds;
    use crate::wheel::EdgeKind;

    /// Marks of a wheel with teeth at these degrees of a turn, on an engine of four cylinders that
    /// cranks at 200 rpm, swinging, and from 2.5 s on runs up to 700, every edge up to `jitter`
    /// seconds early or late.
    fn started(starts: &[f64], width: f64, jitter: f64) -> EdgeTrain {
        const STEP: f64 = 2e-5;
        let mut edges = Vec::new();
        let (mut angle, mut next, mut time) = (0.0_f64, 0, 0.0_f64);
        let mut state = 1_u64;
        while time < 5.0 {
            let share = ((time - 2.5) / 0.5).clamp(0.0, 1.0);
            let swing = 0.15 * (1.0 - share) + 0.03 * share;
            let mean = 6.0 * (200.0 + 500.0 * share);
            angle += STEP * mean * (1.0 + swing * (2.0 * f64::to_radians(angle)).sin());
            let (turn, at) = (next / (2 * starts.len()), next % (2 * starts.len()));
            let falls = at % 2 == 1;
            let place = 360.0 * turn as f64 + starts[at / 2] + if falls { width } else { 0.0 };
            if angle >= place {
                // Marsaglia's xorshift (2003).
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                let off = jitter * (2.0 * (state >> 11) as f64 / (1_u64 << 53) as f64 - 1.0);
                let kind = if falls { EdgeKind::Falling } else { EdgeKind::Rising };
                edges.push(Edge { at: Seconds(time + off), kind });
                next += 1;
            }
            time += STEP;
        }
        edges.sort_by(|a, b| a.at.0.total_cmp(&b.at.0));
        EdgeTrain::square(edges, Seconds(1e-5))
    }

    #[test]
    fn cranking_and_running_are_told_apart() {
        let slots: Vec<f64> = (0..58).map(|slot| 6.0 * f64::from(slot)).collect();
        let train = started(&slots, 3.0, 0.0);
        let found = parts(&[&train]);
        assert_eq!(found.len(), 2, "{found:?}");
        let first = train.edges[0].at.0;
        assert!(found[0].0 <= first && (2.2..=2.8).contains(&found[0].1), "{found:?}");
        assert!((2.5..=3.2).contains(&found[1].0) && found[1].1 > 4.5, "{found:?}");
        let cranks = within(&train, found[0]);
        assert!(cranks.edges.iter().all(|edge| edge.at.0 < found[0].1));
        assert!(cranks.edges.len() > 900 && cranks.edges.len() < train.edges.len() / 2);
        // Cranking alone is one part, and no part is looked at.
        assert_eq!(parts(&[&within(&train, (0.0, 2.4))]), []);
        assert_eq!(parts(&[]), []);
    }

    #[test]
    fn a_fine_wheel_whose_edges_jitter_is_read_while_the_engine_cranks() {
        let slots: Vec<f64> = (0..58).map(|slot| 6.0 * f64::from(slot)).collect();
        let train = started(&slots, 3.0, 0.5e-3);
        let leads = [EdgeLead { train: &train, called: Called::Crank, asked: false }];
        assert!(find_in(&leads).wheel.is_err());
        let found = find(&leads);
        assert_eq!(found.wheel.expect("60-2").name, "60-2");
        // What it is read by is all of it, as far as it goes.
        assert!(found.lock.expect("an angle").teeth_seen > 0);
    }
}
