//! Swings to one side of zero, and which of them a tooth makes.

use super::super::weighted::weighted_median;

/// A swing begins when the signal leaves zero by this many standard deviations of its noise, and
/// what lies under it counts from there: at rest and beside a lone tooth a small error of the zero
/// must not add up over a long time.
const DEAD_SDS: f64 = 2.0;
/// A swing is a tooth's when what lies under it reaches this share of what lies under the typical
/// swing. Of the public recordings the teeth reach 0.49 and more at 85 rpm and 0.4 V, 0.59 and more
/// at 260 rpm, and noise 0.003.
const TOOTH_SHARE: f64 = 0.2;
/// A signal that the scope's range cuts off loses what lies under a swing as it gets faster. So no
/// more is asked of a swing than this share of what the range allows in the time it took: a sine's
/// mean is 2/π of its peak...
const FULL_SHARE: f64 = 0.6;
/// ...but never less than this share of the typical swing: a tenth is left at ten times the speed
/// at which the range is reached.
const CUT_OFF_MOST: f64 = 0.1;

/// A swing to one side of zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Swing {
    /// Row of its peak.
    pub row: usize,
    /// Height of the peak above (or below) zero; signed.
    pub peak: f64,
    /// First and last row of it.
    rows: (usize, usize),
    /// What lies under it, in volts times rows; positive.
    area: f64,
}

impl Swing {
    /// Takes in a later swing to the same side.
    fn join(&mut self, other: Swing) {
        if other.peak.abs() > self.peak.abs() {
            (self.row, self.peak) = (other.row, other.peak);
        }
        self.rows.1 = other.rows.1;
        self.area += other.area;
    }
}

/// The swings that teeth make, in order; neighbours lie on opposite sides.
pub(super) fn teeth(centred: &[f32], noise: f64) -> Vec<Swing> {
    let all = swings(centred, DEAD_SDS * noise);
    let mut areas: Vec<f64> = all.iter().map(|swing| swing.area).collect();
    let Some(typical) = weighted_median(&mut areas) else { return Vec::new() };
    let limit = all.iter().map(|swing| swing.peak.abs()).fold(0.0, f64::max);
    let mut kept: Vec<Swing> = Vec::new();
    for swing in all {
        let lasted = (swing.rows.1 - swing.rows.0 + 1) as f64;
        let full = (FULL_SHARE * limit * lasted).clamp(CUT_OFF_MOST * typical, typical);
        if swing.area < TOOTH_SHARE * full {
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
        let swing = Swing { row, peak: value, rows: (row, row), area };
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

    /// `rows` of a swing up and one down per period; the amplitude goes with the speed, as
    /// Faraday's law has it.
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
        // From 400 rows a tooth to 40, the two swings beside each gap of 60-2 three and a half
        // times as strong.
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
    fn hum_and_noise_between_the_lone_teeth_of_a_cam_are_none() {
        // Half a second from tooth to tooth at 20,000 samples a second; hum of a tenth of the
        // tooth's peak.
        let mut random = 1_u32;
        let mut noise = || {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (f64::from(random >> 8) / f64::from(1 << 24) - 0.5) * 0.2
        };
        let mut signal: Vec<f32> = (0..80_000)
            .map(|row| {
                (0.1 * (std::f64::consts::TAU * f64::from(row) / 400.0).sin() + noise()) as f32
            })
            .collect();
        for turn in 0..7 {
            let at = 6000 + turn * 10_000;
            for (sample, tooth) in signal[at..].iter_mut().zip(wheel(&[300], |_| 3.0)) {
                *sample += tooth;
            }
        }
        assert_eq!(teeth(&signal, 0.058).len(), 14);
    }

    #[test]
    fn teeth_cut_off_by_the_range_count_at_eight_times_the_speed() {
        let periods: Vec<usize> = (0..400).map(|n| 400 - 350 * n / 400).collect();
        let cut = wheel(&periods, |_| 1.0).into_iter().map(|value| value.clamp(-0.2, 0.2));
        assert_eq!(teeth(&cut.collect::<Vec<f32>>(), 0.005).len(), 800);
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
