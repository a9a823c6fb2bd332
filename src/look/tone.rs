//! The strongest frequency of a signal, by Fourier transform.

use rustfft::FftPlanner;
use rustfft::num_complex::Complex;

use crate::capture::{Capture, CaptureKind, Channel};

/// Most points transformed.
const MOST_POINTS: usize = 1 << 17;
/// Least frequency looked for, per second: slower is drift.
const LEAST_RATE: f64 = 1.0;

/// The strongest frequency, per second; `None` for a constant signal or under 64 rows.
pub(super) fn strongest(capture: &Capture, channel: &Channel) -> Option<f64> {
    let (first, last) = capture.span();
    let seconds = (last - first).0;
    if seconds <= 0.0 || channel.values.len() < 64 {
        return None;
    }
    let points = match capture.kind {
        CaptureKind::Sampled => channel.values.len().min(MOST_POINTS),
        CaptureKind::Events => MOST_POINTS,
    };
    let step = seconds / points as f64;
    let mut row = 0;
    let values: Vec<f64> = (0..points)
        .map(|point| {
            let time = first.0 + point as f64 * step;
            while row + 1 < channel.values.len() && capture.clock.at(row + 1).0 <= time {
                row += 1;
            }
            f64::from(channel.values[row])
        })
        .collect();
    let mean = values.iter().sum::<f64>() / points as f64;
    // Hann's window keeps a strong slow part from leaking over everything.
    let mut spectrum: Vec<Complex<f64>> = values
        .iter()
        .enumerate()
        .map(|(i, value)| {
            let window = (std::f64::consts::PI * i as f64 / points as f64).sin().powi(2);
            Complex::new((value - mean) * window, 0.0)
        })
        .collect();
    FftPlanner::new().plan_fft_forward(points).process(&mut spectrum);
    let least = (LEAST_RATE * seconds).ceil().max(2.0) as usize;
    let power = |bin: usize| spectrum[bin].norm_sqr();
    let best = (least..points / 2).max_by(|&a, &b| power(a).total_cmp(&power(b)))?;
    (power(best) > 0.0).then(|| best as f64 / seconds)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::{Clock, Unit};
    use crate::units::Seconds;

    #[test]
    fn a_sine_is_found_at_its_frequency() {
        // Closed form: sin(2π · 37.5 t) on a slow drift, 2 s: bins are 0.5 apart.
        let value =
            |i: usize| (std::f64::consts::TAU * 37.5 * i as f64 / 5000.0).sin() + i as f64 * 1e-4;
        let channel = Channel {
            name: "x".into(),
            column: 1,
            unit: Unit::Volts,
            values: (0..10_000).map(|i| value(i) as f32).collect(),
            over_range: Vec::new(),
        };
        let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(2e-4) };
        let capture = Capture::new("x".into(), CaptureKind::Sampled, clock, vec![channel]);
        let found = strongest(&capture, &capture.channels[0]).expect("a sine");
        assert!((found - 37.5).abs() < 0.26, "{found}");
    }
}
