//! Angle and speed of a crank whose edges jitter, followed along a path.
//!
//! A step between two edges that each came a degree early or late says little of the speed, and the
//! next one is short because this one was long. So the angle and the log of the speed are estimated
//! from all edges up to one (Kalman's filter): the next is expected at a place, and what it is off
//! by owes nothing to how far the last one was.

use super::habits::{Followed, Habits, PITCH_SCATTER, Stride, unlikely};

/// For about so many crank degrees an engine's ripple keeps its direction: a quarter of the 120°
/// from compression to compression of a six-cylinder engine. Its changes over several steps add up
/// as those of a random walk do; one step that is longer may change it all along, as without
/// jitter.
const RIPPLE_LENGTH: f64 = 30.0;
/// An edge far off pulls the estimate less, as of a Student-t of four degrees of freedom: with this
/// over this and the square of how far it is off.
const PULL: (f64, f64) = (5.0, 4.0);

impl Habits {
    /// A step after those before it; `now` is the step by itself.
    pub(super) fn track(self, before: Stride, now: Stride, log_mean: f64) -> Followed {
        let length = now.length;
        // As much as the change from step to step scatters without any jitter: an edge's own six
        // times over.
        let made = PITCH_SCATTER * PITCH_SCATTER * length * length / 6.0;
        let own = self.jitter * self.jitter + made;
        if before.length == 0.0 {
            // The edge that ends it is off by its own, and the speed by that and the one before.
            let spread = [own, own / length, 2.0 * own / (length * length)];
            return Followed { nats: 0.0, log_sd: 0.0, stride: Stride { spread, ..now } };
        }
        // How far the crank turned at the speed it had.
        let turned = length * (before.log_speed - now.log_speed).exp();
        let ripple = self.ripple_at(before.log_speed, log_mean);
        let swing = ripple * ripple * length.max(RIPPLE_LENGTH) * length;
        let [place, both, speed] = before.spread;
        let place = place + 2.0 * turned * both + turned * turned * (speed + swing / 3.0);
        let both = both + turned * (speed + swing / 2.0);
        let speed = speed + swing;
        let beyond = before.beyond + turned - length;
        let scatter = place + own;
        let z = beyond / scatter.sqrt();
        let pull = (PULL.0 / (PULL.1 + z * z)).min(1.0) / scatter;
        let stride = Stride {
            log_speed: before.log_speed - pull * both * beyond,
            length,
            beyond: beyond - pull * place * beyond,
            spread: [
                place - pull * place * place,
                both - pull * place * both,
                speed - pull * both * both,
            ],
        };
        // Of two ways to read an edge the one that leaves more room says less.
        let room = 0.5 * (scatter / own).ln();
        Followed { nats: unlikely(z) + room, log_sd: 0.5 * own.ln() - turned.ln(), stride }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crank::habits::NO_STRIDE;

    /// Steps of six degrees at 1200 degrees per second whose edges are off by 1.2 degrees, by a
    /// rule that passes for chance.
    fn steps() -> Vec<Stride> {
        let place = |i: u32| {
            let fraction = ((f64::from(i) * 12.9898).sin() * 43_758.545).fract().abs();
            6.0 * f64::from(i) + 1.2 * (fraction - 0.5) * 12.0_f64.sqrt()
        };
        let took = |i: u32| (place(i + 1) - place(i)) / 1200.0;
        (0..300).map(|i| Stride::new((6.0 / took(i)).ln(), 6.0)).collect()
    }

    #[test]
    fn speed_and_scatter_are_found_among_edges_that_jitter() {
        let habits = Habits::jittery(1.2);
        let mean = 1200.0_f64.ln();
        let (mut at, mut nats) = (NO_STRIDE, 0.0);
        for now in steps() {
            let followed = habits.follow(at, now, mean);
            (at, nats) = (followed.stride, nats + followed.nats);
        }
        // The steps themselves are off by a quarter and more.
        assert!((at.log_speed - mean).abs() < 0.15, "{}", at.log_speed.exp());
        assert!(nats < 300.0, "{nats}");
        // Twelve degrees where six were turned are four scatters of an edge off; of the change from
        // step to step, which scatters by 2.9°, they would be two.
        let missed = Stride::new(mean + 2.0_f64.ln(), 12.0);
        assert!(habits.follow(at, missed, mean).nats > 3.0);
    }
}
