//! How long each tooth lasts: the speed at it, if teeth are as wide as each other.

use crate::units::CYCLE_DEG;

/// By how much the widths of a wheel's teeth differ, in logs, and how common that is: alike to 0.3°
/// of some 6°, or made to differ (judgement).
pub(crate) const TEETH_ALIKE: [(f64, f64); 2] = [(0.05, 0.8), (0.4, 0.2)];
/// Shortest tooth, as a share of the mean step: a shorter one is no time at all.
const LEAST_TOOTH: f64 = 1e-3;

/// How long each tooth of a cycle lasts.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Teeth {
    /// Time of each, as a share of the mean step.
    pub lasting: Vec<f64>,
    /// A tooth begins at its mark, or ends there.
    begins: bool,
}

impl Teeth {
    /// Of the two levels the shorter one is the tooth's. `cycle`: the steps of a cycle, `pulses`:
    /// how long the level lasts that begins with each mark, both as shares of the mean step.
    pub fn of(cycle: &[f64], pulses: &[f64]) -> Teeth {
        let steps = cycle.len();
        let begins = pulses.iter().sum::<f64>() < 0.5 * steps as f64;
        let before = |i: usize| (i + steps - 1) % steps;
        let rest = |i: usize| (cycle[before(i)] - pulses[before(i)]).max(LEAST_TOOTH);
        let lasting = (0..steps).map(|i| if begins { pulses[i] } else { rest(i) }).collect();
        Teeth { lasting, begins }
    }

    /// Middles and lengths in crank degrees, about the marks that steps of so many degrees lead to.
    pub fn parts(&self, degrees: &[f64]) -> Vec<(f64, f64)> {
        let mean = self.lasting.iter().sum::<f64>() / self.lasting.len() as f64;
        let length = mean * CYCLE_DEG / degrees.len() as f64;
        let half = if self.begins { length / 2.0 } else { -length / 2.0 };
        let marks = degrees.iter().scan(0.0, |at, degrees| {
            let here = *at;
            *at += degrees;
            Some(here)
        });
        marks.map(|mark| (mark + half, length)).collect()
    }
}
