//! Butterworth low-pass without phase shift.
//!
//! Second-order sections by the bilinear transform with the corner prewarped, run forwards and
//! backwards over an odd extension of the ends (as `scipy.signal.sosfiltfilt`, which the tests hold
//! it against).

use std::f64::consts::PI;

/// One second-order section, a0 = 1.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Section {
    b: [f64; 3],
    a: [f64; 2],
}

/// A Butterworth low-pass of even order.
#[derive(Debug, Clone, PartialEq)]
pub struct LowPass {
    sections: Vec<Section>,
}

impl LowPass {
    /// `pairs` second-order sections (order 2 · `pairs`) with a corner at `corner` of the sampling
    /// frequency, inside 0 up to 0.5; `None` outside it or without sections.
    #[must_use]
    pub fn new(pairs: usize, corner: f64) -> Option<Self> {
        if pairs == 0 || !(corner > 0.0 && corner < 0.5) {
            return None;
        }
        let warped = (PI * corner).tan();
        let order = 2.0 * pairs as f64;
        let sections = (0..pairs)
            .map(|pair| {
                let damping = 2.0 * (PI * (2.0 * pair as f64 + 1.0) / (2.0 * order)).sin();
                let scale = 1.0 + damping * warped + warped * warped;
                let gain = warped * warped / scale;
                Section {
                    b: [gain, 2.0 * gain, gain],
                    a: [
                        2.0 * (warped * warped - 1.0) / scale,
                        (1.0 - damping * warped + warped * warped) / scale,
                    ],
                }
            })
            .collect();
        Some(LowPass { sections })
    }

    /// Filters without phase shift; the square of the one-way gain applies. A series too short
    /// for its extension comes back as it is.
    #[must_use]
    pub fn both_ways(&self, series: &[f64]) -> Vec<f64> {
        let pad = 3 * (2 * self.sections.len() + 1);
        let n = series.len();
        if n <= pad {
            return series.to_vec();
        }
        let head = (1..=pad).rev().map(|i| 2.0 * series[0] - series[i]);
        let tail = (1..=pad).map(|i| 2.0 * series[n - 1] - series[n - 1 - i]);
        let mut work: Vec<f64> = head.chain(series.iter().copied()).chain(tail).collect();
        for _ in 0..2 {
            self.forwards(&mut work);
            work.reverse();
        }
        work[pad..pad + n].to_vec()
    }

    fn forwards(&self, series: &mut [f64]) {
        for section in &self.sections {
            let Section { b, a } = section;
            // State as if the first value had stood for ever; the gain at rest is 1.
            let first = series.first().copied().unwrap_or(0.0);
            let second_state = b[2] - a[1];
            let mut state = [(b[1] - a[0] + second_state) * first, second_state * first];
            for value in series.iter_mut() {
                let x = *value;
                let y = b[0] * x + state[0];
                state = [b[1] * x - a[0] * y + state[1], b[2] * x - a[1] * y];
                *value = y;
            }
        }
    }
}
