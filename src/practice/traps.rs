//! What a square-wave lead has beside its wheel: bounce, crosstalk, an output that flips. Each is a
//! habit seen on a real recording, made here so that a decoder can be shown to stand it.

use super::levels::{Change, Levels};
use super::random::Random;

/// Share of the edges that bounce, and how long each of the two short levels lasts, seconds (as
/// seen on a recording of a cranking engine: half a microsecond and one).
const BOUNCE_SHARE: f64 = 0.1;
const BOUNCE_S: (f64, f64) = (0.5e-6, 4.0e-6);
/// Pulses of one burst of crosstalk, how long each lasts, and how far they lie apart, seconds (as
/// seen beside an ignition output: up to 0.3 ms at 24 ms from tooth to tooth, which is 60 µs at 5).
const BURST_PULSES: (f64, f64) = (1.0, 6.0);
const BURST_S: (f64, f64) = (1.0e-6, 60.0e-6);
const BURST_APART_S: (f64, f64) = (2.0e-6, 250.0e-6);
/// Of the time from rise to rise, when an output that flips falls, and how often it changes from
/// the one to the other (as seen on a conditioner of four uneven teeth).
const FLIP_SHARES: [f64; 2] = [0.05, 0.95];
const FLIPS: f64 = 0.08;

impl Levels {
    /// Puts a short pulse to the other level in.
    pub(super) fn disturb(&mut self, at: f64, length: f64) {
        let index = self.changes.partition_point(|change| change.at <= at);
        let high = index.checked_sub(1).map_or(self.first, |i| self.changes[i].high);
        let end = at + length;
        // Over an edge it would be no pulse of its own.
        if self.changes.get(index).is_some_and(|next| next.at <= end) {
            return;
        }
        let pulse = [Change { at, high: !high }, Change { at: end, high }];
        self.changes.splice(index..index, pulse);
    }

    /// Some edges come, go and come again.
    pub(super) fn bounced(mut self, random: &mut Random) -> Self {
        let edges: Vec<f64> = self.changes.iter().map(|change| change.at).collect();
        for at in edges {
            if random.uniform() < BOUNCE_SHARE {
                let (away, length) = (
                    random.between(BOUNCE_S.0, BOUNCE_S.1),
                    random.between(BOUNCE_S.0, BOUNCE_S.1),
                );
                self.disturb(at + away, length);
            }
        }
        self
    }

    /// A burst of short pulses at each of these times.
    pub(super) fn with_crosstalk(mut self, times: &[f64], random: &mut Random) -> Self {
        for &time in times {
            let mut at = time;
            for _ in 0..random.between(BURST_PULSES.0, BURST_PULSES.1) as usize {
                let length = random.between(BURST_S.0, BURST_S.1);
                self.disturb(at, length);
                at += length + random.between(BURST_APART_S.0, BURST_APART_S.1);
            }
        }
        self
    }

    /// Rises stay; each fall comes a twentieth after its rise or a twentieth before the next, now
    /// the one, now the other.
    pub(super) fn flipping(mut self, random: &mut Random) -> Self {
        let rises: Vec<f64> =
            self.changes.iter().filter(|change| change.high).map(|change| change.at).collect();
        let mut share = 0;
        self.first = false;
        self.changes = rises
            .windows(2)
            .flat_map(|pair| {
                if random.uniform() < FLIPS {
                    share = 1 - share;
                }
                let fall = pair[0] + FLIP_SHARES[share] * (pair[1] - pair[0]);
                [Change { at: pair[0], high: true }, Change { at: fall, high: false }]
            })
            .collect();
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn even() -> Levels {
        let changes = (0..400).map(|n| Change { at: f64::from(n) * 0.005, high: n % 2 == 0 });
        Levels { first: false, changes: changes.collect() }
    }

    #[test]
    fn every_trap_leaves_levels_in_turn_and_in_order() {
        let mut random = Random::new(3, "traps");
        let sparks: Vec<f64> = (0..20).map(|n| 0.0013 + 0.09 * f64::from(n)).collect();
        for (name, levels, more) in [
            ("bounce", even().bounced(&mut random), true),
            ("crosstalk", even().with_crosstalk(&sparks, &mut random), true),
            ("flipping", even().flipping(&mut random), false),
        ] {
            let in_turn = levels.changes.windows(2).all(|pair| pair[0].high != pair[1].high);
            let in_order = levels.changes.windows(2).all(|pair| pair[0].at < pair[1].at);
            assert!(in_turn && in_order, "{name}");
            assert_eq!(levels.changes.len() > 400, more, "{name}: {}", levels.changes.len());
        }
    }
}
