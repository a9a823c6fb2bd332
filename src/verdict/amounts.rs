//! How far an explanation may move a cam, and the density of a reading once that
//! amount is integrated over.
//!
//! All closed forms. With measurement error N(0, s²) and an amount `a` of density π(a), a
//! reading `x` has density ∫ π(a) N(x − a; 0, s²) da. For a constant or an exponential π
//! between two bounds the square completes and two normal integrals are left.

use statrs::function::erf::erfc;

/// log √(2π).
pub(super) const LOG_ROOT_TWO_PI: f64 = 0.918_938_533_204_672_8;

/// Prior density of an amount, in the unit of the reading it moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Amount {
    /// Nothing moves.
    Nothing,
    /// Anything between two bounds, alike.
    Even { from: f64, to: f64 },
    /// From a least amount on to a most, e-fold rarer every `mean`; `to` below `from` fades
    /// towards early.
    Fading { from: f64, to: f64, mean: f64 },
    /// Either way, small more often than large.
    Bell { sd: f64 },
}

impl Amount {
    /// Log density of a reading `x` with normal error of standard deviation `s` > 0.
    pub(super) fn log_density(self, x: f64, s: f64) -> f64 {
        match self {
            Amount::Nothing => log_normal(x, s),
            Amount::Bell { sd } => log_normal(x, s.hypot(sd)),
            Amount::Even { from, to } => {
                log_normal_between((from - x) / s, (to - x) / s) - (to - from).ln()
            }
            Amount::Fading { from, to, mean } if to < from => {
                Amount::Fading { from: -from, to: -to, mean }.log_density(-x, s)
            }
            Amount::Fading { from, to, mean } => {
                // Completing the square moves the centre by s²/mean and leaves a factor.
                let centre = x - s * s / mean;
                let share = -(-(to - from) / mean).exp_m1();
                log_normal_between((from - centre) / s, (to - centre) / s) - (x - from) / mean
                    + s * s / (2.0 * mean * mean)
                    - (mean * share).ln()
            }
        }
    }

    /// The amount nearest to none.
    pub(super) fn nearest_to_nothing(self) -> f64 {
        let (from, to) = self.range();
        0.0_f64.clamp(from.min(to), from.max(to))
    }

    /// Log prior density at an amount; −∞ outside its bounds.
    pub(super) fn log_prior(self, a: f64) -> f64 {
        match self {
            Amount::Nothing => f64::NEG_INFINITY,
            Amount::Bell { sd } => log_normal(a, sd),
            Amount::Even { from, to } if (from..=to).contains(&a) => -(to - from).ln(),
            Amount::Fading { from, to, mean } if to < from => {
                Amount::Fading { from: -from, to: -to, mean }.log_prior(-a)
            }
            Amount::Fading { from, to, mean } if (from..=to).contains(&a) => {
                let share = -(-(to - from) / mean).exp_m1();
                -(a - from) / mean - (mean * share).ln()
            }
            Amount::Even { .. } | Amount::Fading { .. } => f64::NEG_INFINITY,
        }
    }

    /// Least and greatest amount worth summing over.
    pub(super) fn range(self) -> (f64, f64) {
        /// A bell curve leaves 6·10⁻⁵ outside.
        const BELL_REACH: f64 = 4.0;
        match self {
            Amount::Nothing => (0.0, 0.0),
            Amount::Bell { sd } => (-BELL_REACH * sd, BELL_REACH * sd),
            Amount::Even { from, to } | Amount::Fading { from, to, .. } => {
                (from.min(to), from.max(to))
            }
        }
    }
}

/// Log of the normal density with mean 0.
pub(super) fn log_normal(x: f64, sd: f64) -> f64 {
    let z = x / sd;
    -0.5 * z * z - sd.ln() - LOG_ROOT_TWO_PI
}

/// Log of the probability of a standard normal between `low` and `high` (low ≤ high), kept
/// exact far out by working in the tail the interval lies in.
pub(super) fn log_normal_between(low: f64, high: f64) -> f64 {
    /// Beyond this `erfc` underflows; the Mills ratio takes over.
    const FAR: f64 = 25.0;
    if low > high {
        return f64::NEG_INFINITY;
    }
    // Mirror so that the interval's nearer end lies on the positive side.
    let (low, high) = if low + high < 0.0 { (-high, -low) } else { (low, high) };
    if low > FAR {
        // Q(z) ≈ φ(z)/z with relative error below 1/z² = 0.2 %.
        let upper = if high > low { 1.0 - (-(high - low) * (high + low) / 2.0).exp() } else { 0.0 };
        return -0.5 * low * low - LOG_ROOT_TWO_PI - low.ln() + upper.max(f64::MIN_POSITIVE).ln();
    }
    let tail = |z: f64| 0.5 * erfc(z / std::f64::consts::SQRT_2);
    (tail(low) - tail(high)).max(f64::MIN_POSITIVE).ln()
}

/// log Σ exp, safe for very small terms; −∞ for none.
pub(super) fn log_sum(terms: impl IntoIterator<Item = f64>) -> f64 {
    let terms: Vec<f64> = terms.into_iter().collect();
    let most = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + terms.iter().map(|term| (term - most).exp()).sum::<f64>().ln()
}
