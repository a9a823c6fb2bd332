//! How far a hypothesis may move a reading: the prior density of its effect.

use crate::verdict::density::{log_even, log_fading, log_normal};

/// Prior density of an effect, in the unit of the reading it moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum EffectPrior {
    /// Nothing moves.
    Nothing,
    /// Anything between two bounds, alike.
    Even { from: f64, to: f64 },
    /// From a least effect on to a most, e-fold rarer every `mean`; `to` below `from` fades
    /// towards early.
    Fading { from: f64, to: f64, mean: f64 },
    /// Either way, small more often than large.
    Bell { sd: f64 },
}

impl EffectPrior {
    /// Log density of a reading `x` with normal error of standard deviation `s` > 0.
    pub(crate) fn log_density(self, x: f64, s: f64) -> f64 {
        match self {
            EffectPrior::Nothing => log_normal(x, s),
            EffectPrior::Bell { sd } => log_normal(x, s.hypot(sd)),
            EffectPrior::Even { from, to } => log_even(x, s, from, to),
            EffectPrior::Fading { from, to, mean } => log_fading(x, s, from, to, mean),
        }
    }

    /// The effect nearest to none.
    pub(crate) fn nearest_to_nothing(self) -> f64 {
        let (from, to) = self.range();
        0.0_f64.clamp(from.min(to), from.max(to))
    }

    /// An amount as it is usual: the middle of what it may be, and one mean beyond the least where
    /// it fades.
    pub(crate) fn usual(self) -> f64 {
        match self {
            EffectPrior::Nothing | EffectPrior::Bell { .. } => 0.0,
            EffectPrior::Even { from, to } => f64::midpoint(from, to),
            EffectPrior::Fading { from, to, mean } => {
                let by = mean.min((to - from).abs());
                if to < from { from - by } else { from + by }
            }
        }
    }

    /// Mean of the effect, and of its square.
    pub(crate) fn moments(self) -> (f64, f64) {
        match self {
            EffectPrior::Nothing => (0.0, 0.0),
            EffectPrior::Bell { sd } => (0.0, sd * sd),
            EffectPrior::Even { from, to } => {
                (f64::midpoint(from, to), (from * from + from * to + to * to) / 3.0)
            }
            EffectPrior::Fading { from, to, mean } => {
                // An exponential cut off at `most`: ∫e exp(−e/m) and ∫e² exp(−e/m) by parts.
                let most = (to - from).abs();
                let cut = 1.0 / (most / mean).exp_m1();
                let beyond = mean - most * cut;
                let square = 2.0 * mean * mean - (most * most + 2.0 * mean * most) * cut;
                let way = if to < from { -1.0 } else { 1.0 };
                (from + way * beyond, from * from + 2.0 * from * way * beyond + square)
            }
        }
    }

    /// Log prior density at an effect; −∞ outside its bounds.
    pub(crate) fn log_prior(self, a: f64) -> f64 {
        match self {
            EffectPrior::Nothing => f64::NEG_INFINITY,
            EffectPrior::Bell { sd } => log_normal(a, sd),
            EffectPrior::Even { from, to } if (from..=to).contains(&a) => -(to - from).ln(),
            EffectPrior::Fading { from, to, mean } if to < from => {
                EffectPrior::Fading { from: -from, to: -to, mean }.log_prior(-a)
            }
            EffectPrior::Fading { from, to, mean } if (from..=to).contains(&a) => {
                let share = -(-(to - from) / mean).exp_m1();
                -(a - from) / mean - (mean * share).ln()
            }
            EffectPrior::Even { .. } | EffectPrior::Fading { .. } => f64::NEG_INFINITY,
        }
    }

    /// Least and greatest effect worth summing over.
    pub(crate) fn range(self) -> (f64, f64) {
        /// A bell curve leaves 6·10⁻⁵ outside.
        const BELL_REACH: f64 = 4.0;
        match self {
            EffectPrior::Nothing => (0.0, 0.0),
            EffectPrior::Bell { sd } => (-BELL_REACH * sd, BELL_REACH * sd),
            EffectPrior::Even { from, to } | EffectPrior::Fading { from, to, .. } => {
                (from.min(to), from.max(to))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_are_those_of_the_density() {
        // The density summed over its range by the midpoint rule.
        let priors = [
            EffectPrior::Even { from: -50.0, to: -5.0 },
            EffectPrior::Even { from: 4.0, to: 9.0 },
            EffectPrior::Fading { from: 3.0, to: 18.0, mean: 4.0 },
            EffectPrior::Fading { from: -3.0, to: -180.0, mean: 15.0 },
            EffectPrior::Bell { sd: 7.0 },
        ];
        for prior in priors {
            let (from, to) = prior.range();
            const STEPS: usize = 200_000;
            let step = (to - from) / STEPS as f64;
            let (mut mean, mut square) = (0.0, 0.0);
            for index in 0..STEPS {
                let at = from + (index as f64 + 0.5) * step;
                let weight = prior.log_prior(at).exp() * step;
                mean += at * weight;
                square += at * at * weight;
            }
            let (of_mean, of_square) = prior.moments();
            // A bell leaves 6·10⁻⁵ outside the range, the square of what is there more.
            assert!((of_mean - mean).abs() < 1e-3, "{prior:?}: {of_mean}, {mean}");
            let near = (of_square - square).abs() < 2e-3 * of_square;
            assert!(near, "{prior:?}: {of_square}, {square}");
        }
        assert_eq!(EffectPrior::Nothing.moments(), (0.0, 0.0));
    }
}
