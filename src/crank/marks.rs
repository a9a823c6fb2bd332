//! One way of reading the crank signal: the edges that are marks, with the pattern they are held
//! against.

use super::pattern::Pattern;
use super::picked::Picked;
use super::stretch::Tooth;
use crate::edges::EdgeTrain;
use crate::stats::{MAD_TO_SD, median};
use crate::units::TURN_DEG;

/// The edges of a train that a pattern speaks of.
#[derive(Debug, Clone)]
pub(super) struct Marks<'a> {
    pub edges: Picked<'a>,
    pub pattern: Pattern,
}

/// Marks on each side that a mean speed is taken over at least.
const LEAST_AROUND: usize = 2;

/// Turns of the crank in a cycle.
pub(super) const TURNS_A_CYCLE: usize = 2;
/// Jitter is at most so many times the scatter by which steps differ from those one cycle before:
/// the estimate of few cycles is off by a quarter, and the scatters tried are half as much again
/// apart.
const JITTER_MARGIN: f64 = 2.0;
/// Fewer steps than this have no scatter to speak of.
const LEAST_STEPS: usize = 20;

impl<'a> Marks<'a> {
    /// The marks of a train.
    pub fn of(train: &'a EdgeTrain, pattern: Pattern) -> Marks<'a> {
        let edges = Picked::from(&train.edges, |edge| pattern.kinds.contains(&edge.kind));
        Marks { edges, pattern }
    }

    /// Marks in a turn of the crank.
    pub fn per_turn(&self) -> usize {
        self.pattern.len() * (TURN_DEG / self.pattern.period).round() as usize
    }

    /// Marks in a cycle, after which what an engine does to its speed comes again.
    pub fn per_cycle(&self) -> usize {
        TURNS_A_CYCLE * self.per_turn()
    }

    /// Whether marks follow after a tooth.
    pub fn goes_on_after(&self, tooth: &Tooth) -> bool {
        (tooth.edge as usize) + 1 < self.edges.len()
    }

    /// Logarithm of the mean speed over the turn around an edge, by the number of edges alone.
    pub fn log_mean_speed(&self, edge: usize) -> f64 {
        let around = (self.per_turn() / 2).max(LEAST_AROUND);
        let from = edge.saturating_sub(around);
        let to = (edge + around).min(self.edges.len() - 1);
        let degrees = TURN_DEG * (to - from) as f64 / self.per_turn() as f64;
        let took = (self.edges[to].at - self.edges[from].at).0;
        (degrees / took.max(f64::MIN_POSITIVE)).ln()
    }

    /// The most that single edges may jitter, in crank degrees. Jitter does not come again a cycle
    /// later; a wheel and an engine's own ripple do, however rough they make the steps. No bound
    /// where the edges do not last for two cycles.
    pub fn most_jitter(&self) -> f64 {
        let cycle = self.per_cycle();
        let took = |i: usize| (self.edges[i + 1].at - self.edges[i].at).0.ln();
        let steps = self.edges.len().saturating_sub(1);
        let changed: Vec<f64> = (cycle..steps)
            .map(|i| {
                let faster = self.log_mean_speed(i) - self.log_mean_speed(i - cycle);
                (took(i) - took(i - cycle) + faster).abs()
            })
            .collect();
        if changed.len() < LEAST_STEPS {
            return f64::INFINITY;
        }
        // Two ends of each of two steps scatter.
        let scatter = median(&changed).unwrap_or(f64::INFINITY) * MAD_TO_SD / 2.0;
        JITTER_MARGIN * scatter * self.pattern.common_step()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edges::Edge;
    use crate::units::Seconds;
    use crate::wheel::EdgeKind;

    /// Teeth ten degrees apart on an engine whose speed swings by two thirds every 240 degrees,
    /// each tooth moved by so many degrees times a number of its own.
    fn marks(moved: f64) -> Marks<'static> {
        let mut at = 0.0;
        let edges: Vec<Edge> = (0..360_u32)
            .map(|tooth| {
                let phase = (f64::from(tooth) * 10.0 / 240.0 * std::f64::consts::TAU).sin();
                let speed = 1400.0 * (1.0 + 0.66 * phase);
                at += 10.0 / speed;
                // Digits far down a sine pass for chance; a uniform spread of one.
                let fraction = ((f64::from(tooth) * 12.9898).sin() * 43_758.545).fract().abs();
                let scatter = moved * (fraction - 0.5) * 12.0_f64.sqrt();
                Edge { at: Seconds(at + scatter / speed), kind: EdgeKind::Falling }
            })
            .collect();
        let angles: Vec<f64> = (0..36).map(|tooth| 10.0 * f64::from(tooth)).collect();
        let kinds = vec![EdgeKind::Falling; 36];
        Marks { edges: edges.into(), pattern: Pattern { angles, kinds, period: 360.0 } }
    }

    #[test]
    fn ripple_that_comes_every_cycle_is_no_jitter() {
        assert!(marks(0.0).most_jitter() < 0.1, "{}", marks(0.0).most_jitter());
        let most = marks(1.0).most_jitter();
        assert!((1.0..4.0).contains(&most), "{most}");
    }
}
