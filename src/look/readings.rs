//! The ways one lead may be read as a wheel: which kind of edge marks, and what pattern repeats.

use super::align::{LOSSY, Marks, Prices, Sight, WHOLE, align};
use super::base::{Base, bases_of, neighbours_of};
use super::beats::{Beat, beats, periods, times};
use super::broken::parts_of;
use super::fit::{Fit, fit};
use super::fold::Turned;
use super::grid::slot_bases;
use super::lossy::by_clock;
use super::priors;
use super::steps::Turn;
use crate::edges::EdgeTrain;
use crate::stats::median;
use crate::units::Seconds;
use crate::wheel::EdgeKind;

/// A mark that was seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seen {
    /// When, seconds.
    pub at: f64,
    /// Its number, counted on from period to period.
    pub number: usize,
    /// Seconds until the other kind of edge, where one came before the next mark.
    pub pulse: Option<f64>,
}

/// One way to read a lead.
#[derive(Debug, Clone)]
pub(super) struct Reading {
    /// Which edges mark.
    pub kind: EdgeKind,
    /// The pattern.
    pub base: Base,
    /// Its places.
    pub marks: Marks,
    /// How well it fits.
    pub fit: Fit,
    /// The angle it gives, in periods of the pattern.
    pub turned: Turned,
    /// Median share of the step after each mark at which the other edge comes; 0 where none does.
    pub shares: Vec<f64>,
    /// Median step after each mark, in plain steps; as the pattern has it where none was seen
    /// whole.
    pub steps: Vec<f64>,
    /// How long the periods last that those steps are of, in the middle.
    pub steps_over: Seconds,
    /// Each mark that was seen.
    pub seen: Vec<Seen>,
    /// What the widths of its teeth cost, in nats: those that the pattern has alike should be as
    /// wide.
    pub widths: f64,
    /// Found only by leaving teeth out.
    pub lossy: bool,
    /// How well the other kind of edge fits an even wheel, which has both kinds even.
    also: Option<Fit>,
}

impl Reading {
    /// Whether nothing but a wheel makes this: regular, and in a pattern that is not even.
    pub fn is_patterned(&self) -> bool {
        const LEAST_PERIODS: f64 = 4.0;
        const LEAST_SLOTS: usize = 10;
        let uneven = self.base.is_even() || matches!(self.base, Base::Uneven(_));
        let long = self.base.slots() >= LEAST_SLOTS && self.fit.periods >= LEAST_PERIODS;
        !uneven && long && self.is_regular()
    }

    /// Teeth that passed.
    fn passed(&self) -> f64 {
        self.fit.periods * self.marks.at.len() as f64
    }

    /// Whether more edges than this share of its teeth are no teeth.
    pub fn has_extra(&self, share: f64) -> bool {
        self.fit.extra as f64 > share * self.passed()
    }

    /// Cost in nats when the pattern comes so many times a turn.
    pub fn nats(&self, repeats: usize) -> f64 {
        let own = self.fit.nats(repeats);
        own.max(self.also.as_ref().map_or(0.0, |also| also.nats(repeats))) + self.widths
    }

    /// Whether the lead goes like a wheel by this reading: steady, and hardly a tooth missing or
    /// too many.
    pub fn is_regular(&self) -> bool {
        const MOST_WRONG: f64 = 0.05;
        self.is_regular_but_for(MOST_WRONG)
    }

    /// The same with that share of its teeth missing or too many.
    pub fn is_regular_but_for(&self, share: f64) -> bool {
        const STEADY: f64 = 0.15;
        const LEAST_MARKS: f64 = 8.0;
        let marks = self.passed();
        let wrong = (self.fit.missed + self.fit.extra) as f64;
        self.fit.scatter <= STEADY && marks >= LEAST_MARKS && wrong <= share * marks
    }
}

/// Most edges a pattern is tried on: from the middle of the record.
const MOST_MARKS: usize = 1000;
/// Fewest marks that can show a period twice.
const LEAST_MARKS: usize = 5;
/// Patterns tried of each kind of edge, the most usual first.
const TRIED: usize = 12;
/// Readings kept of each kind of edge.
const KEPT: usize = 6;
/// Repeats of a pattern that are looked at when readings are first weighed.
const FIRST_REPEATS: usize = 4;

/// A pattern of so few marks is coarse: the speed's ripple may hide that a longer one repeats.
const COARSE: usize = 4;
/// What a place costs by chance, in nats.
const BY_CHANCE: f64 = 0.2;

/// Every reading of a lead that is worth weighing.
pub(super) fn readings(train: &EdgeTrain) -> Vec<Reading> {
    let mut all = Vec::new();
    let mut even: Vec<(EdgeKind, Fit)> = Vec::new();
    for kind in [EdgeKind::Falling, EdgeKind::Rising] {
        let marked = Marked::of(train, kind);
        let Some(periods) = periods(&marked.beats) else { continue };
        let plain = Base::slots_of_one(vec![1]);
        let mut bases: Vec<Base> = vec![plain.clone()];
        for &period in &periods {
            if let Some(turn) = Turn::of(&marked.beats, period) {
                bases.extend(bases_of(&turn));
            }
        }
        bases.extend(slot_bases(&marked.times));
        let parts: Vec<Base> = bases.iter().flat_map(parts_of).collect();
        bases.extend(parts);
        let rivals: Vec<Base> = bases.iter().flat_map(neighbours_of).collect();
        bases.extend(rivals);
        even.extend(marked.alone(plain, &periods).map(|reading| (kind, reading.fit)));
        all.extend(marked.read(bases, &periods, &WHOLE));
    }
    for reading in all.iter_mut().filter(|reading: &&mut Reading| reading.base.is_even()) {
        let other = even.iter().find(|(kind, _)| *kind != reading.kind);
        reading.also = other.map(|(_, fit)| fit.clone());
    }
    all
}

/// Readings of a lead that loses teeth, by the clocks of other leads.
pub(super) fn lossy_readings(train: &EdgeTrain, clocks: &[&Turned]) -> Vec<Reading> {
    let mut all = Vec::new();
    for kind in [EdgeKind::Falling, EdgeKind::Rising] {
        let marked = Marked::of(train, kind);
        let bases: Vec<Base> =
            clocks.iter().flat_map(|clock| by_clock(&marked.times, clock)).collect();
        let periods = periods(&marked.beats).unwrap_or_else(|| vec![1]);
        all.extend(marked.read(bases, &periods, &LOSSY));
    }
    all
}

/// The middle of a lead's longest stretch.
struct Marked {
    kind: EdgeKind,
    beats: Vec<Beat>,
    times: Vec<f64>,
}

impl Marked {
    fn of(train: &EdgeTrain, kind: EdgeKind) -> Marked {
        let beats = beats(train, kind);
        let times = times(&beats);
        Marked { kind, beats, times }
    }

    /// Edges in the middle, as many as patterns are tried on.
    fn middle(&self) -> std::ops::Range<usize> {
        let spare = self.times.len().saturating_sub(MOST_MARKS) / 2;
        spare..self.times.len() - spare
    }

    /// One pattern alone.
    fn alone(&self, base: Base, periods: &[usize]) -> Option<Reading> {
        if self.times.len() < LEAST_MARKS {
            return None;
        }
        self.one(base, periods, self.middle(), &WHOLE)
    }

    fn read(&self, bases: Vec<Base>, periods: &[usize], prices: &Prices) -> Vec<Reading> {
        if self.times.len() < LEAST_MARKS {
            return Vec::new();
        }
        let mut distinct: Vec<Base> = Vec::new();
        for base in bases {
            if !distinct.iter().any(|other| other.same_as(&base)) {
                distinct.push(base);
            }
        }
        // The rarest are left out: a pattern that the noise made is one of millions.
        let prior = |base: &Base| {
            let of = |repeats| priors::crank_wheel(base, repeats);
            // One of many widths is rare because there are so many, and was seen tooth by tooth.
            let seen =
                if let Base::Coded(wide) = base { wide.len() as f64 * 2_f64.ln() } else { 0.0 };
            (1..=FIRST_REPEATS).map(of).fold(f64::NEG_INFINITY, f64::max) + seen
        };
        distinct.sort_by(|a, b| prior(b).total_cmp(&prior(a)));
        distinct.truncate(TRIED);
        let middle = self.middle();
        let mut readings: Vec<(f64, Reading)> = distinct
            .into_iter()
            .filter_map(|base| {
                let reading = self.one(base, periods, middle.clone(), prices)?;
                Some((first_cost(&reading), reading))
            })
            .collect();
        readings.sort_by(|a, b| a.0.total_cmp(&b.0));
        readings.truncate(KEPT);
        readings.into_iter().map(|(_, reading)| reading).collect()
    }

    /// The pattern held against whichever longer period of the signal it explains worst: what
    /// differs within that must be explained as well. Every place more costs a little by chance,
    /// and that is no reason to choose it.
    fn least_explained(
        &self,
        times: &[f64],
        marks: &Marks,
        alignment: &super::align::Alignment,
        periods: &[usize],
    ) -> Option<Fit> {
        let count = marks.at.len();
        let first = periods.first().copied().unwrap_or(1);
        let longer =
            periods.iter().skip(1).copied().filter(|&period| {
                count <= COARSE && period > count && period.is_multiple_of(count)
            });
        std::iter::once(first)
            .chain(longer)
            .filter_map(|period| {
                // As if that period were a turn.
                let fit = fit(times, marks, alignment, period)?;
                let excess = fit.nats((period / count).max(1)) - BY_CHANCE * period as f64;
                Some((excess, fit))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, fit)| fit)
    }

    fn one(
        &self,
        base: Base,
        periods: &[usize],
        middle: std::ops::Range<usize>,
        prices: &Prices,
    ) -> Option<Reading> {
        let marks = base.places();
        let times = &self.times[middle.clone()];
        let alignment = align(times, &marks, prices)?.sound_run(marks.at.len());
        let fit = self.least_explained(times, &marks, &alignment, periods)?;
        let turned = Turned::through(times, &marks, &alignment.sights);
        let count = marks.at.len();
        let mut shares: Vec<Vec<(usize, f64)>> = vec![Vec::new(); count];
        for pair in alignment.sights.windows(2) {
            if pair[1].number(count) - pair[0].number(count) == 1
                && pair[1].edge - pair[0].edge == 1
            {
                let share = self.beats[middle.start + pair[0].edge].share;
                shares[pair[0].mark].push((pair[0].pass, share));
            }
        }
        let (steps, steps_over) = mean_steps(times, &marks, &alignment.sights);
        let longer =
            periods.iter().filter(|&&period| period > count && period.is_multiple_of(count));
        let widths =
            longer.map(|period| unlike_widths(&shares, period / count)).fold(0.0, f64::max);
        let widths = widths + misread_widths(&base, &shares);
        let shares = shares
            .iter()
            .map(|all| median(&all.iter().map(|(_, share)| *share).collect::<Vec<f64>>()))
            .map(|share| share.unwrap_or(0.0))
            .collect();
        let seen = alignment.sights.iter().map(|sight| {
            let beat = self.beats.get(middle.start + sight.edge);
            let pulse = beat.filter(|beat| beat.share > 0.0).map(|beat| beat.share * beat.step);
            Seen { at: times[sight.edge], number: sight.number(count), pulse }
        });
        let seen = seen.collect();
        let lossy = *prices == LOSSY;
        Some(Reading {
            kind: self.kind,
            base,
            marks,
            turned,
            shares,
            steps,
            steps_over: steps_over.unwrap_or(Seconds(fit.seconds.0)),
            fit,
            seen,
            widths,
            lossy,
            also: None,
        })
    }
}

/// Teeth that stand at one place of a pattern are as wide as each other to this share of a step:
/// threshold, wear, ripple (judgement).
const SAME_WIDTH: f64 = 0.04;
/// Degrees of freedom of a width's error, and the most that one tooth's can cost.
const WIDTH_TAIL: f64 = 4.0;
const MOST_WIDTH: f64 = 8.0;
/// Passes of a longer period that show how wide its teeth are.
const LEAST_PASSES: usize = 3;

/// What it costs that teeth which the pattern has alike are not: their other edge comes at
/// different shares of the step, in the same order every `groups` periods. `shares` are those of
/// each mark, with the period's number.
fn unlike_widths(shares: &[Vec<(usize, f64)>], groups: usize) -> f64 {
    let of_mark = |shares: &Vec<(usize, f64)>| -> f64 {
        let all: Vec<f64> = shares.iter().map(|(_, share)| *share).collect();
        let Some(usual) = median(&all).filter(|&usual| usual > 0.0) else { return 0.0 };
        (0..groups)
            .map(|group| {
                let of_group = shares.iter().filter(|(pass, _)| pass % groups == group);
                let own: Vec<f64> = of_group.map(|(_, share)| *share).collect();
                let (Some(middle), true) = (median(&own), own.len() >= LEAST_PASSES) else {
                    return 0.0;
                };
                let off: Vec<f64> = own.iter().map(|share| (share - middle).abs()).collect();
                let scatter = crate::stats::MAD_TO_SD * median(&off).unwrap_or(0.0);
                let error = SAME_WIDTH.hypot(scatter / (own.len() as f64).sqrt());
                let z = (middle - usual) / error;
                (0.5 * (WIDTH_TAIL + 1.0) * (z * z / WIDTH_TAIL).ln_1p()).min(MOST_WIDTH)
            })
            .sum()
    };
    shares.iter().map(of_mark).sum()
}

/// Cost of a tooth that is wide where the pattern has it narrow, or the other way round: one in
/// fifty, as of an edge too many.
const MISREAD_WIDTH: f64 = 4.0;

/// What it costs that single teeth are not as wide as the pattern of widths has them.
fn misread_widths(base: &Base, shares: &[Vec<(usize, f64)>]) -> f64 {
    let Base::Coded(wide) = base else { return 0.0 };
    let middles: Vec<f64> = shares
        .iter()
        .filter_map(|all| median(&all.iter().map(|(_, share)| *share).collect::<Vec<f64>>()))
        .collect();
    let most = middles.iter().copied().fold(0.0, f64::max);
    let least = middles.iter().copied().fold(1.0, f64::min);
    let middle = most.midpoint(least);
    let count = wide.len();
    let misread = |mark: usize, by: usize| {
        let wide = wide[(mark + by) % count];
        shares[mark].iter().filter(|(_, share)| (*share > middle) != wide).count()
    };
    // Even steps do not tell at which tooth the pattern begins.
    let of_rotation = |by: usize| (0..count).map(|mark| misread(mark, by)).sum::<usize>();
    MISREAD_WIDTH * (0..count).map(of_rotation).min().unwrap_or(0) as f64
}

/// Median step after each mark, in plain steps, over the faster half of the periods that are there
/// whole: ripple is least in them; and how long those last. As the pattern has it where there are none.
fn mean_steps(times: &[f64], marks: &Marks, sights: &[Sight]) -> (Vec<f64>, Option<Seconds>) {
    let count = marks.at.len();
    let mut whole: Vec<(f64, Vec<f64>)> = sights
        .windows(count + 1)
        .filter(|window| {
            window[0].mark == 0 && window[count].number(count) - window[0].number(count) == count
        })
        .map(|window| {
            let took = times[window[count].edge] - times[window[0].edge];
            let step = |i: usize| (times[window[i + 1].edge] - times[window[i].edge]) / took;
            (took, (0..count).map(|i| step(i) * marks.period).collect())
        })
        .collect();
    whole.sort_by(|a, b| a.0.total_cmp(&b.0));
    whole.truncate(whole.len().div_ceil(2));
    let lasting = whole.get(whole.len() / 2).map(|(took, _)| Seconds(*took));
    let steps = (0..count)
        .map(|mark| {
            let steps: Vec<f64> = whole.iter().map(|(_, steps)| steps[mark]).collect();
            median(&steps).unwrap_or_else(|| marks.advance(mark, 1))
        })
        .collect();
    (steps, lasting)
}

/// Cost of a reading with the number of repeats that suits it best, before anything else is known.
fn first_cost(reading: &Reading) -> f64 {
    (1..=FIRST_REPEATS)
        .map(|repeats| reading.nats(repeats) - priors::crank_wheel(&reading.base, repeats))
        .fold(f64::INFINITY, f64::min)
}
