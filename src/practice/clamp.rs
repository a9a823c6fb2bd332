//! What goes wrong between the starter's cable and the scope.

use std::f64::consts::TAU;
use std::fmt;
use std::str::FromStr;

/// A trouble of the clamp, with its size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ClampTrouble {
    /// It was not zeroed: it reads so many amperes without a current.
    Offset(f64),
    /// It, or a filter of the scope, is too slow: a first-order low pass of so many hertz.
    Slow(f64),
    /// The scope's input is AC-coupled: a first-order high pass of so many hertz.
    AcCoupled(f64),
    /// The scope's range ends at so many amperes.
    Clipped(f64),
    /// It is recorded in volts, so many amperes to a volt, and nobody wrote down how many.
    Volts(f64),
}

impl ClampTrouble {
    /// Words that begin each, with what the number is and its range.
    pub(super) const FORMS: [(&'static str, &'static str, (f64, f64)); 5] = [
        ("clamp-offset", "amperes", (-1000.0, 1000.0)),
        ("clamp-slow", "hertz", (0.5, 10_000.0)),
        ("clamp-ac", "hertz", (0.01, 100.0)),
        ("clamp-clipped", "amperes", (1.0, 5000.0)),
        ("clamp-volts", "amperes a volt", (0.1, 10_000.0)),
    ];

    /// From the word of a form and its number.
    pub(super) fn of(word: &str, size: f64) -> Option<ClampTrouble> {
        Some(match word {
            "clamp-offset" => ClampTrouble::Offset(size),
            "clamp-slow" => ClampTrouble::Slow(size),
            "clamp-ac" => ClampTrouble::AcCoupled(size),
            "clamp-clipped" => ClampTrouble::Clipped(size),
            "clamp-volts" => ClampTrouble::Volts(size),
            _ => return None,
        })
    }

    /// Its form, and its number.
    pub(super) fn parts(self) -> (usize, f64) {
        match self {
            ClampTrouble::Offset(size) => (0, size),
            ClampTrouble::Slow(size) => (1, size),
            ClampTrouble::AcCoupled(size) => (2, size),
            ClampTrouble::Clipped(size) => (3, size),
            ClampTrouble::Volts(size) => (4, size),
        }
    }

    /// Whether it is the scope's range, which noise does not pass either.
    pub(super) fn is_of_the_range(self) -> bool {
        matches!(self, ClampTrouble::Clipped(_))
    }

    /// What the scope gets of a current.
    pub(super) fn spoil(self, values: &mut [f64], rate: f64) {
        match self {
            ClampTrouble::Offset(amps) => values.iter_mut().for_each(|value| *value += amps),
            ClampTrouble::Slow(hertz) => {
                let share = 1.0 - (-TAU * hertz / rate).exp();
                let mut behind = values.first().copied().unwrap_or(0.0);
                for value in values {
                    behind += (*value - behind) * share;
                    *value = behind;
                }
            }
            ClampTrouble::AcCoupled(hertz) => {
                let share = 1.0 - (-TAU * hertz / rate).exp();
                let mut level = values.first().copied().unwrap_or(0.0);
                for value in values {
                    level += (*value - level) * share;
                    *value -= level;
                }
            }
            ClampTrouble::Clipped(amps) => {
                values.iter_mut().for_each(|value| *value = value.clamp(-amps, amps));
            }
            ClampTrouble::Volts(scale) => values.iter_mut().for_each(|value| *value /= scale),
        }
    }
}

impl fmt::Display for ClampTrouble {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (form, size) = self.parts();
        write!(out, "{}:{size}", Self::FORMS[form].0)
    }
}

impl FromStr for ClampTrouble {
    type Err = ();

    fn from_str(words: &str) -> Result<Self, ()> {
        let (word, size) = words.split_once(':').ok_or(())?;
        let size: f64 = size.trim().parse().map_err(|_| ())?;
        Self::of(word.trim(), size).filter(|_| size.is_finite()).ok_or(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slow_clamp_follows_a_step_by_its_time_constant() {
        // 1 / (2π · 10 Hz) = 15.9 ms: 1 − 1/e of the step by then.
        let mut values = vec![1.0; 1000];
        values[0] = 0.0;
        ClampTrouble::Slow(10.0).spoil(&mut values, 10_000.0);
        assert!((values[159] - 0.632).abs() < 0.005, "{}", values[159]);
        let mut values = vec![1.0; 1000];
        values[0] = 0.0;
        ClampTrouble::AcCoupled(10.0).spoil(&mut values, 10_000.0);
        assert!((values[159] - 0.368).abs() < 0.005, "{}", values[159]);
    }
}
