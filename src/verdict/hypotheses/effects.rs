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
