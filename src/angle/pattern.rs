//! What frequencies the compressions of an engine beat at, by its firing angles.

use std::f64::consts::TAU;

use rustfft::num_complex::Complex64;

use crate::engine::Engine;
use crate::units::CYCLE_DEG;

/// Standard deviation of a compression as the starter's current shows it, in crank degrees (by its
/// stored energy: half as high 35 to 40° from TDC).
const COMPRESSION_SD_DEG: f64 = 33.0;
/// Fewest beats in a cycle that are followed: what is averaged over a cycle must hold some.
const FEWEST: usize = 3;

/// How strongly the compressions of a cycle beat at each multiple of its frequency.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pattern {
    /// From once a cycle on.
    sizes: Vec<f64>,
    cylinders: usize,
}

impl Pattern {
    pub fn of(engine: &Engine) -> Self {
        let cylinders = engine.firing_angles.len();
        let sizes = (1..=4 * cylinders)
            .map(|order| {
                let turns = order as f64 / CYCLE_DEG;
                let sum: Complex64 = engine
                    .firing_angles
                    .iter()
                    .map(|angle| Complex64::from_polar(1.0, TAU * turns * angle.0))
                    .sum();
                sum.norm() * (-0.5 * (TAU * turns * COMPRESSION_SD_DEG).powi(2)).exp()
            })
            .collect();
        Pattern { sizes, cylinders }
    }

    /// How strongly it beats so many times a cycle.
    pub fn size(&self, order: usize) -> f64 {
        order.checked_sub(1).and_then(|at| self.sizes.get(at)).copied().unwrap_or(0.0)
    }

    /// How many compressions a cycle has.
    pub fn cylinders(&self) -> usize {
        self.cylinders
    }

    /// Whether they come at even distances: then it beats at each of them and not more slowly.
    pub fn is_even(&self) -> bool {
        (1..self.cylinders).all(|order| self.size(order) < 0.01 * self.size(self.cylinders))
    }

    /// The beat to follow, in a cycle.
    pub fn strongest(&self) -> usize {
        if self.is_even() {
            return self.cylinders;
        }
        let fewest = FEWEST.min(self.cylinders);
        (fewest..=2 * self.cylinders)
            .max_by(|&a, &b| self.size(a).total_cmp(&self.size(b)))
            .unwrap_or(self.cylinders)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn pattern(text: &str) -> Pattern {
        Pattern::of(&Engine::parse(text, Path::new("engine.toml")).expect("an engine"))
    }

    #[test]
    fn even_firing_beats_once_a_compression_and_paired_firing_once_a_pair_as_well() {
        let even = pattern("name = \"four\"\nfiring_order = [1, 3, 4, 2]\n");
        assert!(even.is_even() && even.strongest() == 4);
        // 90 and 150° in turn: pairs 240° apart, three a cycle.
        let paired = pattern(
            "name = \"V6\"\nfiring_order = [1, 6, 5, 4, 3, 2]\nfiring_angles = [0, 90, 240, 330, 480, 570]\n",
        );
        assert!(!paired.is_even());
        for order in [1, 2, 4, 5] {
            assert!(paired.size(order) < 1e-9, "{order}");
        }
        assert_eq!(paired.strongest(), 3);
    }
}
