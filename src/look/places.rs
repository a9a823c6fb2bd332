//! Where do uneven teeth stand, and how sure is that?
//!
//! The time from one tooth to the next is the step's length over the speed, and while an engine
//! cranks its compressions change the speed by more than a step may be misread. The lengths come
//! again with the teeth and the swing comes again with the firings: where those are not equally
//! many a turn, the steps of a whole cycle tell the two apart. How far depends on the wheel and on
//! the engine, so it is worked out: for each way in which an engine's energy may swing
//! ([`Swings`]), the lengths that are likeliest with it and their errors, weighed by how likely that
//! way makes what was measured. Where the swing comes again as the teeth do, the errors say so; and
//! how long each tooth lasts shows the speed at it, if teeth are as wide as each other.

use std::collections::BTreeSet;

use statrs::function::erf::erf;

use super::newton::likeliest;
use crate::crank::{MeanCycle, Swings, TEETH_ALIKE, Teeth, laid_out};
use crate::matrix::{Cholesky, dot};
use crate::units::CYCLE_DEG;

/// Teeth this near to where they are said to be are there, in crank degrees.
pub(super) const SAME_PLACE: f64 = 5.0;
/// Scatter of a step's log beside what differs from cycle to cycle: teeth of one kind are placed to
/// 0.3° (as in `priors`), on steps of some 60°, and the energy is a little more than one curve.
const STEP_SCATTER: f64 = 0.012;
/// Most steps of a cycle that are worked through: with more, a step is short and moves little.
const MOST_STEPS: usize = 48;
/// Rounds in which the lengths and what depends on them are found in turn.
const ROUNDS: usize = 3;
/// Ways less likely than this are left out: there are ten thousand.
const NEGLIGIBLE: f64 = 1e-7;

/// Where the teeth of a pattern stand.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Standing {
    /// Length of each step, as a share of the pattern's period.
    pub shares: Vec<f64>,
    /// Probability that every tooth is within [`SAME_PLACE`] of where these have it, seen from
    /// every other.
    pub known: f64,
}

/// Of a mean cycle that begins at the first of a pattern's `count` teeth. `pulses`: how long the
/// level that begins with each mark lasts, as a share of the mean step.
pub(super) fn standing(mean: &MeanCycle, pulses: Option<&[f64]>, count: usize) -> Option<Standing> {
    let cycle = &mean.steps;
    if count < 2 || cycle.len() > MOST_STEPS || !cycle.len().is_multiple_of(count) {
        return None;
    }
    let groups = cycle.len() / count;
    let of_tooth = |tooth: usize| cycle.iter().skip(tooth).step_by(count).sum::<f64>();
    let mut lengths: Vec<f64> = (0..count).map(|tooth| of_tooth(tooth) / groups as f64).collect();
    let scatter = mean.error.hypot(STEP_SCATTER);
    let teeth = pulses.map(|pulses| Teeth::of(cycle, pulses));
    let mut ways: Vec<Way> = Vec::new();
    for round in 0..ROUNDS {
        let left: BTreeSet<usize> = ways.iter().map(|way| way.course).collect();
        let looked_at = |course: usize| round == 0 || left.contains(&course);
        // Whatever the steps rule out the teeth need not be asked about.
        let teeth = teeth.as_ref().filter(|_| round > 0);
        ways = weighed(&Seen { cycle, scatter, teeth }, &lengths, looked_at);
        ways.retain(|way| way.share > NEGLIGIBLE);
        if ways.is_empty() {
            return None;
        }
        let of_tooth = |tooth: usize| ways.iter().map(|way| way.share * way.lengths[tooth]).sum();
        lengths = (0..count).map(of_tooth).collect();
    }
    let period = CYCLE_DEG / groups as f64;
    let unknown: f64 = ways.iter().map(|way| way.share * way.misplaced(&lengths, period)).sum();
    let shares = lengths.iter().map(|length| length / count as f64).collect();
    Some(Standing { shares, known: (1.0 - unknown).max(0.0) })
}

/// What is seen of a mean cycle.
struct Seen<'a> {
    /// Steps, shares of the mean one.
    cycle: &'a [f64],
    /// Scatter of a step's log.
    scatter: f64,
    /// Its teeth, if they are looked at.
    teeth: Option<&'a Teeth>,
}

/// The lengths as they are likeliest if the energy swings in one way.
struct Way {
    /// Probability of that way.
    share: f64,
    /// Number of its course.
    course: usize,
    /// Lengths of the steps, of the mean one.
    lengths: Vec<f64>,
    /// The inverse of the covariance of their squares, before these were scaled to a mean of one.
    precision: Cholesky,
    squares: Vec<f64>,
}

/// Every way with the lengths that go with it; `lengths` are those supposed so far, and only some
/// courses of the energy are looked at.
fn weighed(seen: &Seen, lengths: &[f64], looked_at: impl Fn(usize) -> bool) -> Vec<Way> {
    let (cycle, count) = (seen.cycle, lengths.len());
    let steps = cycle.len();
    let degrees: Vec<f64> =
        (0..steps).map(|i| lengths[i % count] * CYCLE_DEG / steps as f64).collect();
    let lasting = seen.teeth.map_or(&[][..], |teeth| &teeth.lasting);
    let width = lasting.iter().sum::<f64>() / steps as f64;
    let mut parts = laid_out(&degrees);
    parts.extend(seen.teeth.iter().flat_map(|teeth| teeth.parts(&degrees)));
    let rows = parts.len();
    // Each row's time, and the energy that the lengths supposed so far make of it: what its log
    // scatters by, the energy scatters by twice as much of itself.
    let took: Vec<f64> = cycle.iter().chain(lasting).copied().collect();
    let twice: Vec<f64> = (0..rows)
        .map(|i| 2.0 * (if i < steps { lengths[i % count] } else { width } / took[i]).powi(2))
        .collect();
    // Rows of one tooth, or of the steps behind one.
    let same_tooth = |i: usize, j: usize| (i - j).is_multiple_of(count) && j >= steps;
    // A step's energy is the square of its length over its time: linear in the squares, which
    // stand for as many rows as show them. A length may have any size, so that its log is spread
    // evenly. The teeth's common width is the last.
    let mut powers = vec![(steps / count) as f64 - 1.0; count];
    let unknowns = if rows > steps { count + 1 } else { count };
    powers.resize(unknowns, steps as f64 - 1.0);
    let unknown_of = |i: usize| if i < steps { i % count } else { count };
    let kinds = if rows > steps { &TEETH_ALIKE[..] } else { &[(0.0, 1.0)] };
    let swings = Swings::at(&parts);
    let mut ways: Vec<(f64, Way)> = swings
        .courses()
        .enumerate()
        .filter(|(number, _)| looked_at(*number))
        .flat_map(|(number, course)| kinds.iter().map(move |&kind| (number, course.clone(), kind)))
        .filter_map(|(number, course, (unlike, common))| {
            let factor = Cholesky::new(rows, 0.0, |i, j| {
                let own = if i == j { seen.scatter } else { 0.0 };
                let tooth = if same_tooth(i, j) { unlike } else { 0.0 };
                course.covariance(i, j) + twice[i] * twice[j] * (own * own + tooth * tooth)
            })?;
            let column = |unknown: usize| {
                let of = |i: usize| if unknown_of(i) == unknown { took[i].powi(-2) } else { 0.0 };
                factor.solve_lower((0..rows).map(of).collect())
            };
            let columns: Vec<Vec<f64>> = (0..unknowns).map(column).collect();
            let mean = factor.solve_lower(course.energy.clone());
            let start = lengths.iter().chain([&width]).take(unknowns).map(|length| length * length);
            let (squares, precision, likely) =
                likeliest(&columns, &mean, start.collect(), &powers)?;
            let likely = likely + (course.weight * common).ln()
                - factor.log_root_determinant()
                - precision.log_root_determinant();
            let roots: Vec<f64> = squares[..count].iter().map(|square| square.sqrt()).collect();
            let mean = roots.iter().sum::<f64>() / count as f64;
            let lengths = roots.iter().map(|root| root / mean).collect();
            Some((likely, Way { course: number, share: 0.0, lengths, precision, squares }))
        })
        .collect();
    let most = ways.iter().map(|way| way.0).fold(f64::NEG_INFINITY, f64::max);
    let all: f64 = ways.iter().map(|way| (way.0 - most).exp()).sum();
    for (likely, way) in &mut ways {
        way.share = (*likely - most).exp() / all;
    }
    ways.into_iter().map(|(_, way)| way).collect()
}

impl Way {
    /// Probability that some tooth stands elsewhere than `lengths` have it, seen from some other:
    /// not more than the sum over all pairs.
    fn misplaced(&self, lengths: &[f64], period: f64) -> f64 {
        let count = lengths.len();
        let pairs = (0..count).flat_map(|from| (from + 1..count).map(move |to| (from, to)));
        let all: f64 = pairs
            .map(|(from, to)| {
                let apart =
                    |lengths: &[f64]| lengths[from..to].iter().sum::<f64>() / count as f64 * period;
                let off = apart(&self.lengths) - apart(lengths);
                let sd = self.error(from, to, period);
                let below = |off: f64| erf((SAME_PLACE + off) / (sd * std::f64::consts::SQRT_2));
                1.0 - 0.5 * (below(off) + below(-off))
            })
            .sum();
        all.min(1.0)
    }

    /// Standard error of the distance between two teeth, in crank degrees.
    fn error(&self, from: usize, to: usize, period: f64) -> f64 {
        let count = self.lengths.len();
        let roots: Vec<f64> = self.squares.iter().map(|square| square.sqrt()).collect();
        let all: f64 = roots[..count].iter().sum();
        let share = roots[from..to].iter().sum::<f64>() / all;
        let slope = |tooth: usize| {
            if tooth >= count {
                return 0.0;
            }
            let within = if (from..to).contains(&tooth) { 1.0 } else { 0.0 };
            period * (within - share) / (2.0 * roots[tooth] * all)
        };
        let white = self.precision.solve_lower((0..roots.len()).map(slope).collect());
        dot(&white, &white).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Steps of a cycle in time, shares of the mean, of teeth that stand so in each of `groups` a
    /// cycle, on an engine whose energy dips to `least` of its mean before every compression: half
    /// a sine as long as a stroke, no bell.
    ///
    /// With how long each tooth of 6° lasts that begins at its mark.
    fn cycle(teeth: &[f64], groups: usize, fires: &[f64], least: f64) -> (MeanCycle, Vec<f64>) {
        const FINE: f64 = 0.25;
        let speed = |angle: f64| {
            let off = |fire: &f64| (angle - fire + 360.0).rem_euclid(CYCLE_DEG) - 360.0;
            let single = |fire: &f64| off(fire).clamp(-90.0, 90.0).to_radians().cos();
            let dip: f64 = fires.iter().map(single).sum();
            let mean = fires.len() as f64 * 2.0 / std::f64::consts::PI * 180.0 / CYCLE_DEG;
            (1.0 + (1.0 - least) * (mean - dip)).max(0.02).sqrt()
        };
        let period = CYCLE_DEG / groups as f64;
        let starts = (0..groups)
            .flat_map(|group| teeth.iter().map(move |tooth| group as f64 * period + tooth));
        let mut marks: Vec<f64> = starts.collect();
        marks.push(marks[0] + CYCLE_DEG);
        let took = |from: f64, to: f64| -> f64 {
            let parts = ((to - from) / FINE).round();
            let part = (to - from) / parts;
            (0..parts as usize).map(|i| part / speed(from + (i as f64 + 0.5) * part)).sum()
        };
        let steps: Vec<f64> = marks.windows(2).map(|pair| took(pair[0], pair[1])).collect();
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        let lasts = marks[..steps.len()].iter().map(|mark| took(*mark, mark + 6.0) / mean);
        (of_steps(steps.iter().map(|step| step / mean).collect()), lasts.collect())
    }

    fn of_steps(steps: Vec<f64>) -> MeanCycle {
        MeanCycle { from: 0, to: 10 * steps.len(), steps, error: 0.005 }
    }

    /// Greatest error of the distance between two teeth, crank degrees, and what was said of it.
    fn read(teeth: &[f64], groups: usize, fires: &[f64], least: f64) -> (f64, f64) {
        error(teeth, groups, standing(&cycle(teeth, groups, fires, least).0, None, teeth.len()))
    }

    fn error(teeth: &[f64], groups: usize, found: Option<Standing>) -> (f64, f64) {
        let found = found.expect("read");
        let period = CYCLE_DEG / groups as f64;
        let mut at = 0.0;
        let (mut early, mut late) = (0.0_f64, 0.0_f64);
        for (tooth, share) in teeth.iter().zip(&found.shares) {
            (early, late) = (early.min(at - tooth), late.max(at - tooth));
            at += share * period;
        }
        (late - early, found.known)
    }

    const FOUR: [f64; 2] = [0.0, 70.0];
    const SIX: [f64; 3] = [0.0, 60.0, 150.0];

    #[test]
    fn a_swing_that_comes_as_often_as_no_tooth_leaves_the_places_known() {
        // Energy that swings by a quarter and by half: less than practice engines' does, and as much.
        for least in [0.75, 0.5] {
            for first in [10.0, 95.0] {
                let three = [first, first + 240.0, first + 480.0];
                for (teeth, name) in [(&FOUR[..], "four"), (&SIX[..], "six")] {
                    let (off, known) = read(teeth, 4, &three, least);
                    let what = format!("{name} {least} {first}: {off:.1} {known:.4}");
                    println!("{what}");
                    assert!(off < SAME_PLACE && known > 0.99, "{what}");
                }
            }
        }
    }

    #[test]
    fn one_of_six_that_does_not_compress_leaves_them_known() {
        let fires = [10.0, 130.0, 250.0, 370.0, 490.0];
        for teeth in [&FOUR[..], &SIX[..]] {
            let (off, known) = read(teeth, 4, &fires, 0.6);
            println!("{off:.1} {known:.4}");
            assert!(off < SAME_PLACE && known > 0.99, "{off} {known}");
        }
    }

    #[test]
    fn a_swing_that_comes_again_as_the_teeth_do_hides_where_they_stand() {
        for least in [0.8, 0.5] {
            for first in [10.0, 100.0] {
                let fires = [0.0, 180.0, 360.0, 540.0].map(|at| first + at);
                let (off, known) = read(&FOUR, 4, &fires, least);
                println!("{least} {first}: {off:.1} {known:.4}");
                assert!(known < 0.99, "{off} {known}");
            }
        }
    }

    #[test]
    fn teeth_as_wide_as_each_other_show_a_swing_that_comes_again_as_they_do() {
        for first in [10.0, 55.0, 145.0] {
            let fires = [0.0, 180.0, 360.0, 540.0].map(|at| first + at);
            let (seen, lasts) = cycle(&FOUR, 4, &fires, 0.7);
            let (off, known) = error(&FOUR, 4, standing(&seen, Some(&lasts), 2));
            let (_, without) = read(&FOUR, 4, &fires, 0.7);
            println!("{first}: {off:.1} {known:.4} {without:.4}");
            assert!(off < SAME_PLACE && known > without, "{first} {off} {known} {without}");
        }
    }

    #[test]
    fn what_is_no_cycle_of_such_a_wheel_is_not_read() {
        for (steps, count) in [(8, 1), (8, 3), (96, 2)] {
            assert_eq!(standing(&of_steps(vec![1.0; steps]), None, count), None, "{steps} {count}");
        }
    }
}
