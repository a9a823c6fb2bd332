//! Densities in closed form, as logarithms: a normal error alone, and a normal error about an
//! amount that is integrated over.
//!
//! With measurement error N(0, s²) and an amount `a` of density π(a), a reading `x` has density
//! ∫ π(a) N(x − a; 0, s²) da. For a constant or an exponential π between two bounds the square
//! completes and two normal integrals are left.

use statrs::function::erf::erfc;

/// log √(2π).
pub(super) const LOG_ROOT_TWO_PI: f64 = 0.918_938_533_204_672_8;

/// Log of the normal density with mean 0.
pub(super) fn log_normal(x: f64, sd: f64) -> f64 {
    let z = x / sd;
    -0.5 * z * z - sd.ln() - LOG_ROOT_TWO_PI
}

/// Log density of a reading `x` with normal error `s` > 0 about an amount that lies anywhere
/// between two bounds alike.
pub(super) fn log_even(x: f64, s: f64, from: f64, to: f64) -> f64 {
    log_normal_between((from - x) / s, (to - x) / s) - (to - from).ln()
}

/// The same about an amount from a least one on to a most, e-fold rarer every `mean`; `to` below
/// `from` fades towards early.
pub(super) fn log_fading(x: f64, s: f64, from: f64, to: f64, mean: f64) -> f64 {
    if to < from {
        return log_fading(-x, s, -from, -to, mean);
    }
    // Completing the square moves the centre by s²/mean and leaves a factor.
    let centre = x - s * s / mean;
    let share = -(-(to - from) / mean).exp_m1();
    log_normal_between((from - centre) / s, (to - centre) / s) - (x - from) / mean
        + s * s / (2.0 * mean * mean)
        - (mean * share).ln()
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
