//! Monotone cubic curves through known points.
//!
//! Two ways to choose the slopes. [`pchip_slopes`] is Fritsch and Butland's harmonic mean (SIAM J.
//! Sci. Stat. Comput. 5, 1984, 300–304; with the end rule of SciPy's `PchipInterpolator`): never
//! overshoots, but is only second-order accurate, which costs a few tenths of a degree inside a
//! missing-tooth gap. [`spline_slopes`] takes the slopes of the twice-differentiable cubic spline
//! and limits them by Hyman's rule (SIAM J. Sci. Stat. Comput. 4, 1983, 645–654), so that the curve
//! stays monotone: fourth-order where the data are smooth. Crank angle uses the second.

/// Slopes of the monotone harmonic-mean interpolant. `x` strictly growing, at least two points.
#[must_use]
pub fn pchip_slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let step: Vec<f64> = x.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let secant: Vec<f64> = (0..n - 1).map(|i| (y[i + 1] - y[i]) / step[i]).collect();
    if n == 2 {
        return vec![secant[0]; 2];
    }
    let mut slopes = vec![0.0; n];
    for i in 1..n - 1 {
        let (before, after) = (secant[i - 1], secant[i]);
        if before * after > 0.0 {
            let (w1, w2) = (2.0 * step[i] + step[i - 1], step[i] + 2.0 * step[i - 1]);
            slopes[i] = (w1 + w2) / (w1 / before + w2 / after);
        }
    }
    slopes[0] = one_sided(step[0], step[1], secant[0], secant[1]);
    slopes[n - 1] = one_sided(step[n - 2], step[n - 3], secant[n - 2], secant[n - 3]);
    slopes
}

/// Three-point slope at an end, kept from overshooting.
fn one_sided(h0: f64, h1: f64, s0: f64, s1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * s0 - h0 * s1) / (h0 + h1);
    if slope * s0 <= 0.0 {
        0.0
    } else if s0 * s1 <= 0.0 && slope.abs() > 3.0 * s0.abs() {
        3.0 * s0
    } else {
        slope
    }
}

/// Slopes of the cubic spline with not-a-knot ends, each limited so that the curve
/// is monotone. `x` strictly growing, `y` not falling, at least two points.
#[must_use]
pub fn spline_slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    if x.len() < 4 {
        return pchip_slopes(x, y);
    }
    spline_slopes_through(x.len(), |i| (x[i], y[i]))
}

/// The same through `n` points, four or more, that need not stand in lists of their own: a long
/// capture has millions.
pub(super) fn spline_slopes_through(n: usize, point: impl Fn(usize) -> (f64, f64)) -> Vec<f64> {
    let step = |i: usize| point(i + 1).0 - point(i).0;
    let secant = |i: usize| (point(i + 1).1 - point(i).1) / step(i);
    let mut slopes = solve_not_a_knot(n, step, secant);
    for (i, slope) in slopes.iter_mut().enumerate() {
        let beside = match i {
            0 => secant(0),
            _ if i == n - 1 => secant(n - 2),
            _ => secant(i - 1).min(secant(i)),
        };
        *slope = slope.clamp(0.0, 3.0 * beside.max(0.0));
    }
    slopes
}

/// The tridiagonal system of the spline's slopes (de Boor, A Practical Guide to Splines, ch. IV),
/// with the third derivative continuous across the second and the last but one point; solved by
/// elimination from the first row down and back.
fn solve_not_a_knot(
    n: usize,
    step: impl Fn(usize) -> f64,
    secant: impl Fn(usize) -> f64,
) -> Vec<f64> {
    // Below, on and above the diagonal, and the right side, of one row.
    let row = |i: usize| -> [f64; 4] {
        if i == 0 {
            let (h, next) = (step(0), step(1));
            let span = h + next;
            let right = ((h + 2.0 * span) * next * secant(0) + h * h * secant(1)) / span;
            [0.0, next, span, right]
        } else if i == n - 1 {
            let (h, before) = (step(n - 2), step(n - 3));
            let span = h + before;
            let right = ((h + 2.0 * span) * before * secant(n - 2) + h * h * secant(n - 3)) / span;
            [span, before, 0.0, right]
        } else {
            let (before, after) = (step(i - 1), step(i));
            let right = 3.0 * (after * secant(i - 1) + before * secant(i));
            [after, 2.0 * (before + after), before, right]
        }
    };
    let (mut above, mut slopes) = (Vec::with_capacity(n), Vec::with_capacity(n));
    for i in 0..n {
        let [lower, diagonal, upper, right] = row(i);
        let (above_before, before): (f64, f64) =
            if i == 0 { (0.0, 0.0) } else { (above[i - 1], slopes[i - 1]) };
        let pivot = diagonal - lower * above_before;
        above.push(upper / pivot);
        slopes.push((right - lower * before) / pivot);
    }
    for i in (0..n - 1).rev() {
        slopes[i] -= above[i] * slopes[i + 1];
    }
    slopes
}

/// Value and slope of the cubic between two points with given slopes, at `at`.
#[must_use]
pub fn hermite(
    (x0, y0, m0): (f64, f64, f64),
    (x1, y1, m1): (f64, f64, f64),
    at: f64,
) -> (f64, f64) {
    let h = x1 - x0;
    let s = (at - x0) / h;
    let (s2, s3) = (s * s, s * s * s);
    let value = y0 * (2.0 * s3 - 3.0 * s2 + 1.0)
        + h * m0 * (s3 - 2.0 * s2 + s)
        + y1 * (3.0 * s2 - 2.0 * s3)
        + h * m1 * (s3 - s2);
    let slope = (y1 - y0) / h * 6.0 * (s - s2)
        + m0 * (3.0 * s2 - 4.0 * s + 1.0)
        + m1 * (3.0 * s2 - 2.0 * s);
    (value, slope)
}
