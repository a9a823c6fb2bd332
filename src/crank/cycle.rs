//! Which way round does a coarse wheel stand, by what comes again every cycle?
//!
//! The steps of a wheel of a few uneven teeth span whole compressions, and an engine with a light
//! flywheel changes its speed on them by more than the teeth differ: no single step tells one tooth
//! from the next. But that swing comes again every cycle, and by a rule. The energy of the crank,
//! the square of its speed, is the sum of what each cylinder takes and gives back, the same for all
//! of them at even distances, or for all but one. Read the wrong way round, the wheel puts a swing
//! on top that no such engine has.
//!
//! So the mean cycle is taken as drawn from what engines do ([`Swings`]), and the ways round are
//! weighed by how likely they make it. Where both edges of each tooth are seen, how long it lasts
//! shows the speed at it, if teeth are as wide as each other.

use super::marks::{Marks, TURNS_A_CYCLE};
use super::mean_cycle::MeanCycle;
use super::stretch::{Stretch, Tooth};
use super::swings::{STEP_SCATTER, Swings, laid_out};
use super::teeth::{TEETH_ALIKE, Teeth};
use crate::matrix::{Cholesky, dot};
use crate::units::CYCLE_DEG;

/// Wheels whose common step is longer than this, in crank degrees, are coarse: twelve teeth and
/// fewer, on which a compression stroke is a few steps.
pub(super) const COARSE: f64 = 25.0;
/// Odds that the wheel is an even one with as many teeth, and that it is any other: its steps have
/// any length, the same every turn.
const EVEN_WHEEL: f64 = 0.05;
const ANY_WHEEL: f64 = 0.01;
/// Spread of the log of such a step, and of what the engine's swing adds to it (±15 %, common
/// practice).
const ANY_LENGTH: f64 = 0.4;
const ANY_SWING: f64 = 0.15;

/// Spread of the log of the teeth's common width about that by which the mean energy at the teeth
/// is the mean of the cycle: they stand where they stand.
const COMMON_WIDTH: f64 = 0.3;
/// Spreads of the log of the speed at a tooth of a wheel that nobody described, each as common:
/// from an engine that is spun without plugs to one that springs from its compressions. One spread
/// alone would speak against such a wheel on every engine that turns more evenly.
const ANY_SPEEDS: [f64; 4] = [0.02, 0.06, 0.15, 0.4];

/// Reads a coarse wheel by its cycles: the longest stretch of regular cranking, from each edge one
/// tooth on, and the probability that it stands as it is said to. `None` where the wheel is fine or
/// even, or the crank does not turn regularly for long enough. `lasting` is asked on such a wheel
/// only: for each mark how long the level lasts in seconds that begins with it, where that is a
/// tooth's or the space's beside it; none at all where the sensor does not show it.
pub(super) fn by_cycles(
    marks: &Marks,
    lasting: impl FnOnce() -> Vec<Option<f64>>,
) -> Option<(Stretch, f64)> {
    let pattern = &marks.pattern;
    let count = pattern.len();
    if count < 2 || pattern.common_step() < COARSE {
        return None;
    }
    let cycle = marks.per_cycle();
    let times: Vec<f64> = marks.edges.iter().map(|edge| edge.at.0).collect();
    let mean = MeanCycle::of(&times, cycle)?;
    let lasting = lasting();
    let pulses = if lasting.is_empty() { None } else { mean.also(&times, &lasting) };
    let teeth = pulses.map(|pulses| Teeth::of(&mean.steps, &pulses));
    let MeanCycle { from, to, steps: mean, .. } = mean;
    let seen = Seen { steps: &mean, teeth: teeth.as_ref() };
    // Kinds have to be those of the marks; they alternate, so that one edge shows it.
    let ways = (0..count).filter(|&way| pattern.kinds[way] == marks.edges[from].kind);
    let lengths = |way: usize| -> Vec<f64> {
        (0..cycle).map(|step| pattern.advance((way + step) % count, 1)).collect()
    };
    let likely: Vec<(usize, f64)> = ways.map(|way| (way, seen.likelihood(&lengths(way)))).collect();
    let even = vec![CYCLE_DEG / cycle as f64; cycle];
    let share = (1.0 - EVEN_WHEEL - ANY_WHEEL) / likely.len() as f64;
    let all: f64 = likely.iter().map(|(_, likely)| share * likely).sum::<f64>()
        + EVEN_WHEEL * seen.likelihood(&even)
        + ANY_WHEEL * seen.of_any_wheel();
    let &(way, best) = likely.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let teeth = (from..=to)
        .map(|edge| {
            let mark = way + edge - from;
            Tooth {
                edge: edge as u32,
                periods: (mark / count) as u32,
                rough: 0.0,
                slot: (mark % count) as u16,
                missed: 0,
                extra: 0,
            }
        })
        .collect();
    Some((Stretch { teeth }, share * best / all))
}

/// What is seen of a mean cycle.
struct Seen<'a> {
    /// Steps, shares of the mean one.
    steps: &'a [f64],
    teeth: Option<&'a Teeth>,
}

impl Seen<'_> {
    /// Probability density of the steps, in logs, and of how long the teeth last, on a wheel with
    /// steps of so many degrees.
    fn likelihood(&self, lengths: &[f64]) -> f64 {
        let even = CYCLE_DEG / lengths.len() as f64;
        // The square of the speed over that of the mean speed.
        let of_step = |(took, length): (&f64, &f64)| (length / even / took).powi(2);
        let mut energy: Vec<f64> = self.steps.iter().zip(lengths).map(of_step).collect();
        let steps = energy.len();
        let mut parts = laid_out(lengths);
        if let Some(teeth) = self.teeth {
            let all: f64 = teeth.lasting.iter().map(|took| took.powi(-2)).sum();
            let width = steps as f64 / all;
            energy.extend(teeth.lasting.iter().map(|took| width / took.powi(2)));
            parts.extend(teeth.parts(lengths));
        }
        let off: Vec<f64> = energy.iter().map(|energy| energy - 1.0).collect();
        // From the density of the energy to that of the log of the step.
        let per_log: f64 = energy.iter().map(|energy| 2.0 * energy).product();
        let kinds = if self.teeth.is_some() { &TEETH_ALIKE[..] } else { &[(0.0, 1.0)] };
        let swings = Swings::at(&parts);
        let sum: f64 = swings
            .each()
            .flat_map(|swing| kinds.iter().map(move |kind| (swing, kind)))
            .map(|(swing, (unlike, common))| {
                let entry = |i: usize, j: usize| {
                    let scale = 4.0 * energy[i] * energy[j];
                    let own = if i == j { STEP_SCATTER * STEP_SCATTER } else { 0.0 };
                    let tooth = if j >= steps { self.tooth(i - j, *unlike) } else { 0.0 };
                    swing.covariance(i, j) + scale * (own + tooth)
                };
                swing.weight * common * normal(off.clone(), entry)
            })
            .sum();
        sum * per_log
    }

    /// The same on a wheel that nobody described.
    fn of_any_wheel(&self) -> f64 {
        let steps = self.steps.len();
        let turn = steps / TURNS_A_CYCLE;
        let length = |i: usize, j: usize| if i % turn == j % turn { ANY_LENGTH } else { 0.0 };
        let swing = |i: usize, j: usize| if i == j { ANY_SWING } else { 0.0 };
        let entry = |i: usize, j: usize| length(i, j).powi(2) + swing(i, j).powi(2);
        let by_steps = normal(self.steps.iter().map(|took| took.ln()).collect(), entry);
        let Some(teeth) = self.teeth else { return by_steps };
        let logs: Vec<f64> = teeth.lasting.iter().map(|took| took.ln()).collect();
        let mean = logs.iter().sum::<f64>() / steps as f64;
        let logs: Vec<f64> = logs.iter().map(|log| log - mean).collect();
        let by_teeth = |speed: f64| -> f64 {
            let of_kind = |(unlike, common): &(f64, f64)| {
                let own = |i: usize, j: usize| if i == j { speed * speed } else { 0.0 };
                let entry = |i: usize, j: usize| self.tooth(i - j, *unlike) + own(i, j);
                common * normal(logs.clone(), entry)
            };
            TEETH_ALIKE.iter().map(of_kind).sum()
        };
        by_steps * ANY_SPEEDS.into_iter().map(by_teeth).sum::<f64>() / ANY_SPEEDS.len() as f64
    }

    /// Covariance of the logs of what two teeth last, so many marks apart, for their widths.
    fn tooth(&self, apart: usize, unlike: f64) -> f64 {
        let same = apart.is_multiple_of(self.steps.len() / TURNS_A_CYCLE);
        COMMON_WIDTH * COMMON_WIDTH + if same { unlike * unlike } else { 0.0 }
    }
}

/// Density of a normal distribution about zero with this covariance; none where it is singular.
fn normal(values: Vec<f64>, covariance: impl Fn(usize, usize) -> f64) -> f64 {
    let size = values.len();
    let Some(factor) = Cholesky::new(size, 0.0, covariance) else { return 0.0 };
    let white = factor.solve_lower(values);
    (-0.5 * dot(&white, &white)).exp() / std::f64::consts::TAU.powf(size as f64 / 2.0)
        * (-factor.log_root_determinant()).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crank::pattern::Pattern;
    use crate::edges::Edge;
    use crate::units::Seconds;
    use crate::wheel::EdgeKind;

    const UNEVEN: [f64; 2] = [0.0, 70.0];
    const EVEN: [f64; 2] = [0.0, 90.0];

    /// Edges of a wheel with two teeth each half turn, on an engine whose energy dips to `least`
    /// of its mean before every compression: half a sine as long as a stroke, no bell.
    fn edges(teeth: &[f64; 2], fires: &[f64], least: f64) -> Vec<Edge> {
        let speed = |angle: f64| {
            let at = angle.rem_euclid(CYCLE_DEG);
            let off = |fire: &f64| (at - fire + 360.0).rem_euclid(CYCLE_DEG) - 360.0;
            let single = |fire: &f64| off(fire).clamp(-90.0, 90.0).to_radians().cos();
            let dip: f64 = fires.iter().map(single).sum();
            let mean = fires.len() as f64 * 2.0 / std::f64::consts::PI * 180.0 / CYCLE_DEG;
            1400.0 * (1.0 + (1.0 - least) * (mean - dip)).max(0.02).sqrt()
        };
        let (mut at, mut angle, mut next) = (0.0, 0.0, 0);
        let mut edges = Vec::new();
        while next < 80 {
            let tooth = 180.0 * f64::from(next / 2) + teeth[next as usize % 2] + 33.0;
            if angle >= tooth {
                edges.push(Edge { at: Seconds(at), kind: EdgeKind::Falling });
                next += 1;
            }
            at += 0.25 / speed(angle);
            angle += 0.25;
        }
        // Begun one tooth on, so that the right way round is not the first.
        edges.split_off(1)
    }

    fn read(edges: &[Edge]) -> Option<(u16, f64)> {
        let kinds = vec![EdgeKind::Falling; 2];
        let pattern = Pattern { angles: UNEVEN.to_vec(), kinds, period: 180.0 };
        let marks = Marks { edges: edges.to_vec().into(), pattern };
        by_cycles(&marks, Vec::new).map(|(stretch, odds)| (stretch.teeth[0].slot, odds))
    }

    #[test]
    fn three_cylinders_tell_the_teeth_apart_however_hard_they_spring() {
        for least in [0.9, 0.6, 0.3] {
            let (slot, odds) = read(&edges(&UNEVEN, &[10.0, 250.0, 490.0], least)).expect("read");
            assert!(slot == 1 && odds > 0.99, "{least}: {slot} {odds}");
        }
    }

    #[test]
    fn one_of_six_that_does_not_compress_leaves_it_decided() {
        let fires = [10.0, 130.0, 250.0, 370.0, 490.0];
        let (slot, odds) = read(&edges(&UNEVEN, &fires, 0.5)).expect("read");
        assert!(slot == 1 && odds > 0.99, "{slot} {odds}");
    }

    #[test]
    fn how_long_teeth_last_tells_what_the_steps_leave_open() {
        // Four cylinders, one of them out: its swing comes again once a cycle, the others' as the
        // teeth do.
        let fires = [10.0, 190.0, 370.0];
        let seen = edges(&UNEVEN, &fires, 0.7);
        // A tooth of six degrees takes as long as the speed at it allows.
        let at: Vec<f64> = seen.iter().map(|edge| edge.at.0).collect();
        let ends = edges(&[6.0, 76.0], &fires, 0.7);
        let lasting: Vec<Option<f64>> =
            at.iter().zip(&ends).map(|(at, end)| Some(end.at.0 - at)).collect();
        assert!(lasting.iter().all(|lasts| lasts.is_some_and(|lasts| lasts > 0.0)));
        let kinds = vec![EdgeKind::Falling; 2];
        let pattern = Pattern { angles: UNEVEN.to_vec(), kinds, period: 180.0 };
        let marks = Marks { edges: seen.into(), pattern };
        let read = |lasting: &[Option<f64>]| {
            let (stretch, odds) = by_cycles(&marks, || lasting.to_vec()).expect("read");
            if stretch.teeth[0].slot == 1 { odds } else { 0.0 }
        };
        let (without, with) = (read(&[]), read(&lasting));
        println!("{without} {with}");
        assert!(with > 0.97 && 1.0 - with < 0.5 * (1.0 - without), "{without} {with}");
    }

    #[test]
    fn what_is_no_such_wheel_is_not_sure() {
        // Four cylinders whose swing comes again as the teeth do, on a wheel that is even.
        let fires = [10.0, 190.0, 370.0, 550.0];
        let sure = |least: f64| read(&edges(&EVEN, &fires, least)).map_or(0.0, |(_, odds)| odds);
        for least in [1.0, 0.9, 0.7, 0.4] {
            assert!(sure(least) < 0.99, "{least}: {}", sure(least));
        }
        let three = read(&edges(&EVEN, &[10.0, 250.0, 490.0], 0.5)).map_or(0.0, |(_, odds)| odds);
        assert!(three < 0.99, "{three}");
        // Too few cycles, and none that comes again.
        assert!(read(&edges(&UNEVEN, &fires, 0.5)[..20]).is_none());
        let mut grows = 0.0;
        let random: Vec<Edge> = (0..79)
            .map(|i| {
                grows += 0.02 + 0.1 * ((f64::from(i) * 12.9898).sin() * 43_758.545).fract().abs();
                Edge { at: Seconds(grows), kind: EdgeKind::Falling }
            })
            .collect();
        assert!(read(&random).is_none());
    }
}
