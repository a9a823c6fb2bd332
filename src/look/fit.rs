//! How well does a pattern explain the marks it was aligned with?
//!
//! Three things cost: a step that is long or short against its neighbours in turn after turn (the
//! mean over turns is held against what uneven teeth and a swinging speed can do, so that more
//! turns of the same error are not more evidence); a tooth that is sometimes there and sometimes
//! not; an edge that is no tooth.

use statrs::function::beta::ln_beta;

use super::align::{Alignment, Marks, Sight, speeds};
use super::ripple::systematic;
use crate::stats::{MEDIAN_COST, log_sum, median, standard_deviation};

/// One place of the pattern, over all periods.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Place {
    /// Mean log of its step over the mean of its neighbours'.
    off: f64,
    /// Standard error of that.
    error: f64,
    /// Length of the step in plain steps.
    length: f64,
    /// From the middle of the step to those of its neighbours, in plain steps.
    reach: f64,
    /// It is a gap, or next to one.
    beside_gap: bool,
}

/// A pattern held against the marks.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fit {
    places: Vec<Place>,
    /// Plain steps in a period.
    period: f64,
    /// Plain steps per second where the steps were judged.
    speed: f64,
    /// Which marks were seen: numbers counted on from period to period.
    numbers: Vec<usize>,
    /// Marks in a period.
    count: usize,
    /// Of each mark, whether it is the first after a gap.
    after_gap: Vec<bool>,
    /// Marks missed and edges extra.
    pub missed: usize,
    /// Edges that are no mark.
    pub extra: usize,
    /// Edges outside the run that was judged.
    outside: usize,
    /// Seconds of a period: mean, and the least and the most of a single one.
    pub seconds: (f64, f64, f64),
    /// Periods covered.
    pub periods: f64,
    /// Scatter of a plain step's log.
    pub scatter: f64,
}

/// Most that one place can cost: a single bent tooth is no other wheel, but a step of three in
/// every turn is a gap.
const MOST_PLACE: f64 = 20.0;
/// Degrees of freedom of a place's error: heavy tails, yet not so heavy that a gap is a bad tooth.
const TAIL: f64 = 8.0;
/// A place that is off by so many standard deviations in turn after turn does not fit: of a heavy tail
/// (eight degrees of freedom) one in a thousand is; the worst of 273 wheels named rightly was 2.8.
const MISFIT: f64 = 5.0;
/// Price of an edge that is no tooth, in nats: one in fifty, as in the search.
const EXTRA: f64 = 4.0;
/// A conditioner loses the tooth after a gap every other turn: an edge too many in every third turn, and
/// three of them at least, may be such a tooth (judgement).
const OFTEN_EXTRA: f64 = 0.3;
const LEAST_EXTRA: f64 = 3.0;
/// Price of an edge outside the run that was judged: what it would be worth inside.
const OUTSIDE: f64 = 0.5;
/// Nearly all teeth are seen all but once in a hundred times; three in a hundred are seen anyhow
/// often (judgement).
const GOOD_TOOTH: (f64, f64, f64) = (0.97, 50.0, 0.5);
/// A step this much longer than plain is a gap.
const GAP: f64 = 1.5;
/// Speeds that differ by this factor over the capture: the faster half is judged, where ripple is
/// least.
const SPEED_RANGE: f64 = 1.5;
/// Steps that tell the mean speed about one, at least.
const LEAST_WINDOW: usize = 12;

/// Judges an alignment. `beats` is the number of marks after which the signal itself repeats, as
/// far as that was seen: what differs between those must be explained too.
pub(super) fn fit(
    times: &[f64],
    marks: &Marks,
    alignment: &Alignment,
    beats: usize,
) -> Option<Fit> {
    let sights = &alignment.sights;
    let speeds = speeds(times, marks, sights);
    let (first, last) = (sights.first()?, sights.last()?);
    let place = |sight: &Sight| marks.at[sight.mark] + marks.period * sight.pass as f64;
    let turned = place(last) - place(first);
    let took = times[last.edge] - times[first.edge];
    if turned <= 0.0 || took <= 0.0 || speeds.len() < 3 {
        return None;
    }
    let count = marks.at.len();
    let groups = if beats.is_multiple_of(count) { (beats / count).max(1) } else { 1 };
    let fast = fast_steps(&speeds, count);
    let mut offs: Vec<Vec<f64>> = vec![Vec::new(); count * groups];
    let mut logs = Vec::new();
    let middle = |i: usize| place(&sights[i]).midpoint(place(&sights[i + 1]));
    for i in 1..speeds.len() - 1 {
        let advance = |i: usize| sights[i + 1].number(count) - sights[i].number(count);
        if advance(i) != 1 || advance(i - 1) > 2 || advance(i + 1) > 2 || !fast[i] {
            continue;
        }
        let along = (middle(i) - middle(i - 1)) / (middle(i + 1) - middle(i - 1));
        let between = speeds[i - 1].0 + (speeds[i + 1].0 - speeds[i - 1].0) * along;
        let sight = &sights[i];
        offs[(sight.pass % groups) * count + sight.mark].push(speeds[i].0 - between);
        logs.push(speeds[i].0);
    }
    let own = |values: &[f64]| {
        standard_deviation(values).filter(|_| values.len() > 2).unwrap_or(alignment.scatter)
    };
    let places = offs
        .iter()
        .enumerate()
        .filter_map(|(index, values)| {
            let mark = index % count;
            let length = |mark: usize| marks.advance(mark % count, 1);
            Some(Place {
                off: median(values)?,
                error: MEDIAN_COST * own(values) / (values.len() as f64).sqrt(),
                length: length(mark),
                reach: 0.5 * length(mark) + 0.25 * (length(mark + count - 1) + length(mark + 1)),
                beside_gap: [count - 1, 0, 1].iter().any(|by| length(mark + by) > GAP),
            })
        })
        .collect();
    Some(Fit {
        places,
        period: marks.period,
        speed: median(&logs).map_or(turned / took, f64::exp),
        numbers: sights.iter().map(|sight| sight.number(count)).collect(),
        count,
        after_gap: (0..count)
            .map(|mark| marks.advance((mark + count - 1) % count, 1) > GAP)
            .collect(),
        missed: alignment.missed,
        extra: alignment.extra,
        outside: alignment.outside,
        seconds: seconds(times, marks, sights, took / turned * marks.period),
        periods: turned / marks.period,
        scatter: alignment.scatter,
    })
}

impl Fit {
    /// Cost in nats when the period comes so many times a turn.
    pub fn nats(&self, repeats: usize) -> f64 {
        let often = self.rough(repeats);
        // Teeth that are not made at even distances, between gaps, may stand anywhere.
        let spaced = repeats > 1 && self.after_gap.contains(&true);
        let rough =
            if spaced { often.max(self.rough(1).min(often + self.room(repeats))) } else { often };
        rough + self.accidents(repeats) + EXTRA * self.extra as f64 + OUTSIDE * self.outside as f64
    }

    /// How rough the pattern is when it comes so many times a turn, in nats.
    fn rough(&self, repeats: usize) -> f64 {
        let of = |place: &Place| {
            let z = place.off / self.spread(place, repeats);
            (0.5 * (TAIL + 1.0) * (z * z / TAIL).ln_1p()).min(MOST_PLACE)
        };
        self.places.iter().map(of).sum()
    }

    /// Share of the places that are off by more than [`MISFIT`] when the pattern comes so many times a
    /// turn.
    pub fn misfits(&self, repeats: usize) -> f64 {
        let off = |place: &&Place| place.off.abs() > MISFIT * self.spread(place, repeats);
        self.places.iter().filter(off).count() as f64 / self.places.len().max(1) as f64
    }

    /// Whether edges that are no mark come so often that a tooth which is lost in the other turns may be
    /// among them, and the wheel has one more. An edge that jitters makes one too many and one missed.
    pub fn may_hide_a_tooth(&self, repeats: usize) -> bool {
        let turns = self.periods / repeats as f64;
        let more = self.extra.saturating_sub(self.missed) as f64;
        self.count > 1 && more >= LEAST_EXTRA.max(OFTEN_EXTRA * turns)
    }

    /// How much more room that leaves its places than once a turn does, in nats. Of two ways to read
    /// them the one that leaves more room says less: what moves every tooth, as hum does that stays
    /// in step with the turns, is no sign of a finer wheel. Nor is that they stand better than they
    /// have to a sign against one.
    fn room(&self, repeats: usize) -> f64 {
        let of = |place: &Place| (self.spread(place, repeats) / self.spread(place, 1)).ln();
        self.places.iter().map(of).sum()
    }

    /// Standard deviation of a place when the pattern comes so many times a turn.
    fn spread(&self, place: &Place, repeats: usize) -> f64 {
        let per_turn = self.period * repeats as f64;
        let (rpm, degrees) = (60.0 * self.speed / per_turn, 360.0 / per_turn);
        let (length, reach) = (place.length * degrees, place.reach * degrees);
        systematic(length, reach, rpm, place.beside_gap).hypot(place.error)
    }

    /// Cost of the very order in which teeth were there and not there. Each may be a tooth that the
    /// sensor loses; or the lead loses those behind gaps, all alike.
    fn accidents(&self, repeats: usize) -> f64 {
        let seen = self.seen(repeats);
        let behind_gap = |number: usize| self.after_gap[number % self.count];
        let of = |which: bool| -> Vec<(usize, usize)> {
            (0..seen.len()).filter(|&at| behind_gap(at) == which).map(|at| seen[at]).collect()
        };
        let behind = of(true);
        let alike = behind.iter().fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
        accidents(&of(false)) + either(accidents(&behind), accidents(&[alike]))
    }

    /// How often each tooth of a turn was seen, of how many passes between the first and the last
    /// edge, when the period comes so many times a turn: each tooth of the turn is a tooth of its
    /// own, and may be one that the sensor loses.
    pub fn seen(&self, repeats: usize) -> Vec<(usize, usize)> {
        let teeth = self.count * repeats;
        let (Some(&first), Some(&last)) = (self.numbers.first(), self.numbers.last()) else {
            return vec![(0, 0); teeth];
        };
        let mut seen = vec![(0, 0); teeth];
        for number in first..=last {
            seen[number % teeth].1 += 1;
        }
        for number in &self.numbers {
            seen[number % teeth].0 += 1;
        }
        seen
    }
}

/// Steps made while the engine turned faster than it mostly did, where its speed ranges widely;
/// else all.
fn fast_steps(speeds: &[(f64, f64)], count: usize) -> Vec<bool> {
    let reach = count.max(LEAST_WINDOW) / 2;
    let about: Vec<f64> = (0..speeds.len())
        .map(|i| {
            let near = &speeds[i.saturating_sub(reach)..(i + reach + 1).min(speeds.len())];
            let (turned, took) = near.iter().fold((0.0, 0.0), |sum, (log, length)| {
                (sum.0 + length, sum.1 + length / log.exp())
            });
            (turned / took).ln()
        })
        .collect();
    let most = about.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = about.iter().copied().fold(f64::INFINITY, f64::min);
    let usual = median(&about).unwrap_or(0.0);
    let all = most - least <= SPEED_RANGE.ln();
    about.iter().map(|&speed| all || speed >= usual).collect()
}

/// Cost where one of two explanations holds, each as likely as the other.
fn either(a: f64, b: f64) -> f64 {
    std::f64::consts::LN_2 - log_sum([-a, -b])
}

/// Cost of the very order in which single teeth were there and not there.
fn accidents(seen: &[(usize, usize)]) -> f64 {
    let (share, a, b) = GOOD_TOOTH;
    let order = |(hits, passes): (usize, usize), a: f64, b: f64| {
        let (hits, missed) = (hits as f64, (passes - hits) as f64);
        (ln_beta(a + hits, b + missed) - ln_beta(a, b)).exp()
    };
    seen.iter()
        .map(|&one| {
            let any = share * order(one, a, b) + (1.0 - share) * order(one, 1.0, 1.0);
            -any.max(f64::MIN_POSITIVE).ln()
        })
        .sum()
}

/// Mean, least and most seconds of a period.
fn seconds(times: &[f64], marks: &Marks, sights: &[Sight], mean: f64) -> (f64, f64, f64) {
    let place = |sight: &Sight| marks.at[sight.mark] + marks.period * sight.pass as f64;
    let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
    let mut from = 0;
    for to in 1..sights.len() {
        while place(&sights[to]) - place(&sights[from + 1]) >= marks.period {
            from += 1;
        }
        let turned = place(&sights[to]) - place(&sights[from]);
        if turned >= marks.period {
            let took = (times[sights[to].edge] - times[sights[from].edge]) * marks.period / turned;
            (least, most) = (least.min(took), most.max(took));
        }
    }
    if most == 0.0 { (mean, mean, mean) } else { (mean, least, most) }
}

#[cfg(test)]
mod tests {
    use super::super::align::{WHOLE, align};
    use super::*;

    #[test]
    fn a_tooth_seen_half_the_time_costs_its_order_and_a_whole_wheel_nothing() {
        // Beta(1, 1): hits h of n in one order has the probability 1 / ((n + 1) C(n, h)); 0.03 of
        // that.
        let half = -(0.03 / (11.0 * 252.0_f64)).ln();
        assert!((accidents(&[(5, 10)]) - half).abs() < 0.1, "{}", accidents(&[(5, 10)]));
        assert!(accidents(&[(10, 10); 30]) < 6.0, "{}", accidents(&[(10, 10); 30]));
    }

    #[test]
    fn one_of_two_explanations_costs_half_its_chance_more() {
        // 0.5 e^-3 + 0.5 e^-3 is e^-3; of 3 and 1000, 0.5 e^-3.
        assert!((either(3.0, 3.0) - 3.0).abs() < 1e-12);
        assert!((either(1000.0, 3.0) - 3.0 - 2_f64.ln()).abs() < 1e-12);
    }

    #[test]
    fn teeth_lost_behind_every_gap_are_no_more_of_an_accident_in_three_groups_than_in_one() {
        // Twelve slots without the last two; behind the gap every other is lost, by chance: digits
        // far down a sine pass for it.
        let marks = Marks { at: (0..10).map(f64::from).collect(), period: 12.0 };
        let lost = |slot: u32| {
            slot.is_multiple_of(12) && (f64::from(slot).sin() * 43_758.545).rem_euclid(1.0) < 0.5
        };
        let times: Vec<f64> = (0..48 * 12)
            .filter(|&slot| slot % 12 < 10 && !lost(slot))
            .map(|slot| 0.01 * f64::from(slot))
            .collect();
        let found = align(&times, &marks, &WHOLE).expect("aligned");
        let fit = fit(&times, &marks, &found, 10).expect("judged");
        let (once, thrice) = (fit.accidents(1), fit.accidents(3));
        let each_by_itself = accidents(&fit.seen(3));
        assert!(once > 30.0 && thrice < once + 4.0, "{once} {thrice}");
        assert!(each_by_itself > thrice + 4.0, "{thrice} {each_by_itself}");
    }

    #[test]
    fn a_tooth_that_is_lost_every_other_turn_may_hide_among_edges_too_many() {
        // Sixty slots without two; the tooth behind the gap is there every other turn. Without it the
        // 57 others pass for 59 slots without two.
        let of = |period: f64, teeth: u32| {
            let there = |slot: &u32| slot % 60 < 58 && !slot.is_multiple_of(120);
            let times: Vec<f64> =
                (0..16_u32 * 60).filter(there).map(|slot| 0.005 * f64::from(slot)).collect();
            let marks = Marks { at: (0..teeth).map(f64::from).collect(), period };
            let found = align(&times, &marks, &WHOLE).expect("aligned");
            let fit = fit(&times, &marks, &found, teeth as usize).expect("judged");
            (fit.extra, fit.may_hide_a_tooth(1))
        };
        let (extra, hides) = of(59.0, 57);
        assert!(hides && extra >= 5, "{extra}");
        assert_eq!(of(60.0, 58), (0, false));
    }

    #[test]
    fn a_pattern_that_is_not_the_wheels_does_not_fit_at_its_extra_tooth() {
        // Twelve even teeth and one more, as the way back between the teeth of a reluctance wheel has
        // them: 22.5, 15 and 22.5 degrees where three share two steps.
        let wheel: Vec<f64> =
            (0..=10).map(f64::from).chain([10.75, 11.25]).map(|slot| 30.0 * slot).collect();
        let times: Vec<f64> = (0..12)
            .flat_map(|turn| wheel.iter().map(move |at| (360.0 * f64::from(turn) + at) / 1000.0))
            .collect();
        let misfits = |at: &[f64]| {
            let marks = Marks { at: at.to_vec(), period: 12.0 };
            let found = align(&times, &marks, &WHOLE).expect("aligned");
            fit(&times, &marks, &found, at.len()).expect("judged").misfits(1)
        };
        let whole = |extra: &[f64]| -> Vec<f64> {
            (0..=10).map(f64::from).chain(extra.iter().copied()).collect()
        };
        assert!(misfits(&whole(&[10.75, 11.25])) < 1e-9);
        assert!(misfits(&whole(&[11.0, 11.0 + 1.0 / 3.0])) > 0.05);
    }

    #[test]
    fn the_right_gap_costs_least() {
        let mut times = Vec::new();
        for slot in 0..360 {
            if slot % 36 < 34 {
                let slot = f64::from(slot);
                times.push(0.008 * slot + 0.001 * (slot * 0.5).sin());
            }
        }
        let cost = |slots: f64| {
            let marks = Marks { at: (0..34).map(f64::from).collect(), period: slots };
            let found = align(&times, &marks, &WHOLE).expect("aligned");
            fit(&times, &marks, &found, 34).expect("judged").nats(1)
        };
        // The teeth beside a gap may stand a part of a step off, so that the fit says a little and
        // what wheels are made the rest.
        assert!(cost(36.0) + 1.0 < cost(37.0), "{} {}", cost(36.0), cost(37.0));
        assert!(cost(36.0) + 1.0 < cost(35.0), "{} {}", cost(36.0), cost(35.0));
    }
}
