//! Swings to one side of zero, and which of them a tooth makes.

use super::super::weighted::weighted_median;

/// A swing begins when the signal leaves zero by this many standard deviations of its noise, and what lies under it counts from
/// there: at rest and beside a lone tooth a small error of the zero must not add up over a long time.
const DEAD_SDS: f64 = 2.0;
/// A swing is a tooth's when what lies under it reaches this share of the typical swing around it. Of the public recordings
/// the teeth reach 0.49 and more at 85 rpm and 0.4 V, 0.59 and more at 260 rpm, and noise 0.003.
const TOOTH_SHARE: f64 = 0.2;
/// Swings on each side that are typical of the neighbourhood: a turn of most crank wheels.
const NEIGHBOURS: usize = 40;
/// A neighbourhood of which all swings are smaller than this share of the whole signal's typical one is at rest. A signal that is
/// cut off by the scope's range loses what lies under a swing as it gets faster: a tenth is left at ten times the speed.
const REST_SHARE: f64 = 0.1;

/// A swing to one side of zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Swing {
    /// Row of its peak.
    pub row: usize,
    /// Height of the peak above (or below) zero; signed.
    pub peak: f64,
    /// What lies under it, in volts times rows; positive.
    pub area: f64,
}

impl Swing {
    /// Takes in another swing to the same side.
    fn join(&mut self, other: Swing) {
        if other.peak.abs() > self.peak.abs() {
            (self.row, self.peak) = (other.row, other.peak);
        }
        self.area += other.area;
    }
}

/// The swings that teeth make, in order; neighbours lie on opposite sides.
pub(super) fn teeth(centred: &[f32], noise: f64) -> Vec<Swing> {
    let all = swings(centred, DEAD_SDS * noise);
    let mut areas: Vec<f64> = all.iter().map(|swing| swing.area).collect();
    let Some(typical) = weighted_median(&mut areas) else { return Vec::new() };
    let least = TOOTH_SHARE * REST_SHARE * typical;
    let candidates: Vec<Swing> = all.into_iter().filter(|swing| swing.area >= least).collect();
    let mut kept: Vec<Swing> = Vec::with_capacity(candidates.len());
    for (i, &swing) in candidates.iter().enumerate() {
        let (from, to) = (i.saturating_sub(NEIGHBOURS), (i + NEIGHBOURS + 1).min(candidates.len()));
        let mut around: Vec<f64> = candidates[from..to].iter().map(|swing| swing.area).collect();
        let around = weighted_median(&mut around).unwrap_or(typical).max(REST_SHARE * typical);
        if swing.area < TOOTH_SHARE * around {
            continue;
        }
        match kept.last_mut() {
            Some(last) if last.peak * swing.peak > 0.0 => last.join(swing),
            _ => kept.push(swing),
        }
    }
    kept
}

/// Every swing past the dead band, one per passage from side to side.
fn swings(centred: &[f32], dead: f64) -> Vec<Swing> {
    let mut found: Vec<Swing> = Vec::new();
    for (row, &value) in centred.iter().enumerate() {
        let value = f64::from(value);
        let area = value.abs() - dead;
        if area <= 0.0 {
            continue;
        }
        let swing = Swing { row, peak: value, area };
        match found.last_mut() {
            Some(last) if last.peak * value > 0.0 => last.join(swing),
            _ => found.push(swing),
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `rows` of a swing up and one down per period; the amplitude goes with the speed, as Faraday's law has it.
    fn wheel(periods: &[usize], strength: impl Fn(usize) -> f64) -> Vec<f32> {
        let one = |(n, &rows): (usize, &usize)| {
            let peak = strength(n) * 100.0 / rows as f64;
            (0..rows).map(move |row| {
                (peak * (std::f64::consts::TAU * (row as f64 + 0.5) / rows as f64).sin()) as f32
            })
        };
        periods.iter().enumerate().flat_map(one).collect()
    }

    #[test]
    fn every_tooth_counts_whatever_the_speed_and_however_strong_the_gap() {
        // From 400 rows a tooth to 40, the two swings beside each gap of 60-2 three and a half times as strong.
        let periods: Vec<usize> = (0..580).map(|n| 400 - 360 * n / 580).collect();
        let signal = wheel(&periods, |n| if n % 58 == 0 { 3.5 } else { 1.0 });
        assert_eq!(teeth(&signal, 0.005).len(), 2 * 580);
    }

    #[test]
    fn noise_at_rest_is_no_tooth_however_much_of_it_there_is() {
        // Twenty times as many passages of noise as of teeth, a fifth as high.
        let quiet = (0..60_000).map(|row| if row % 3 == 0 { 0.2_f32 } else { -0.1 });
        let moving = wheel(&[100; 500], |_| 1.0);
        let signal: Vec<f32> = quiet.chain(moving).collect();
        assert_eq!(teeth(&signal, 0.02).len(), 1000);
    }

    #[test]
    fn a_lone_tooth_of_a_cam_is_found_beside_a_zero_that_is_a_little_off() {
        let mut signal = vec![0.015_f32; 30_000];
        for turn in 0..5 {
            let at = 3000 + turn * 6000;
            signal[at..at + 100].copy_from_slice(&wheel(&[100], |_| 1.0));
        }
        assert_eq!(teeth(&signal, 0.01).len(), 10);
    }
}
