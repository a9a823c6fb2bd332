//! From fits per cycle to relative compression with intervals, by cylinder and by bank.

use std::collections::BTreeMap;

use super::curve::Curve;
use super::cylinders::{self, Name, NamedBy};
use super::input::{LEAST_CYCLES, Source};
use super::locate::{Context, Located};
use super::stats::{NORMAL_95, deviation, half_width95, mean, median};
use super::tdc::TdcCheck;
use super::waveforms::{draw, overlay, raw_heights};
use super::withheld::Withheld;
use crate::units::CrankDelta;

// The constants of the model's error are fitted to simulated engines: the bench of the tests (seeds
// under 10 000) and practice captures (seeds 910 000 to 940 023). They are checked on others, by
// the long run of the tests (tests/compression/counts.rs): bench seeds from 120 000 (sound), 130
// 000 (a low bank) and 140 000 (a weak cylinder), practice seeds from 150 000 (a leak), 160 000
// (sound) and 170 000 (a late cam).

/// The model's own error, as a share of how far a cylinder lies from the mean: losses, starter
/// curve and intake closing other than the model's.
const MODEL_SHARE_SD: f64 = 0.04;
/// The model's error that one uneven cylinder spreads over all, as a share of the largest deviation
/// from the mean: a leak is only told from poor filling in part. Practice engines with a cylinder
/// 40 % down come out 0.5 to 1.5 % off; somewhat more is taken, for a real leak need not be a small
/// hole.
const SPREAD_SHARE_SD: f64 = 0.05;
/// What the crank wheel's own tooth errors add to a cylinder found by crank speed. Cylinders 360°
/// apart share them, so the fit cannot see them all; teeth beside a gap are a tenth of a degree off
/// on many wheels. Fitted to the practice engines at workshop noise.
const WHEEL_SD: f64 = 0.008;
/// The model's error on a cylinder that is like the others.
const MODEL_SD: f64 = 0.004;
/// A cycle whose cylinders lie this many times farther from the medians than is usual is left
/// out: something happened in it.
const ODD_CYCLE: f64 = 4.0;
/// Cycles closer to the medians than this are never odd, however alike the others are.
const NEVER_ODD: f64 = 0.02;
/// More odd cycles than this share, and it is the cranking that is uneven.
const MOST_ODD: f64 = 1.0 / 3.0;
/// Scatter of one cylinder from cycle to cycle beyond which nothing can be said of it.
const MOST_SCATTER: f64 = 0.15;
/// Differences between banks smaller than this accuse neither: sound engines have them (common
/// practice, no source).
const LEAST_BANK_DIFFERENCE: f64 = 0.02;

/// Relative compression of an engine.
#[derive(Debug, Clone)]
pub struct Compression {
    /// What it was measured from.
    pub source: Source,
    /// One per cylinder in firing order.
    pub cylinders: Vec<CylinderResult>,
    /// One per bank that is known by its number.
    pub banks: Vec<BankResult>,
    /// The two groups compared; absent with one bank, or where even the grouping is not known.
    pub bank_difference: Option<CompressionDifference>,
    /// What gave the compressions their cylinders.
    pub named_by: NamedBy,
    /// Whether the cams alone say which turn of the cycle is which: then the names hang on their
    /// leads, and no ignition or pressure lead bears them out.
    pub turn_by_cams: bool,
    /// TDC of the first compression listed, on the scale of the angle it was measured over.
    pub first_peak: CrankDelta,
    /// Firing TDC of cylinder 1 on that scale, where it has one place alone.
    pub first_tdc: Option<CrankDelta>,
    /// Cycles used.
    pub cycles_used: usize,
    /// Steady cycles left out because they were unlike the others.
    pub cycles_odd: usize,
    /// Dips (humps, for current) counted in the mean cycle.
    pub dips_per_cycle: usize,
    /// Share (0..1) of the variation within cycles that the compressions explain.
    pub explained: f64,
    /// What was measured (A, V or rpm) over single cycles of those used, from half a firing
    /// interval before the first cylinder's TDC on; a point per crank degree, at most 24 cycles,
    /// evenly chosen.
    pub overlay: Vec<Vec<f64>>,
    /// Covariance of the cylinders' relative compressions, row after row: scatter of the cycles,
    /// what repeats, and the model's error on cylinders that are alike.
    pub covariance: Vec<f64>,
}

impl Compression {
    /// Whether every cylinder is known by its number.
    #[must_use]
    pub fn is_named(&self) -> bool {
        self.cylinders.iter().all(|one| one.cylinder.is_some())
    }
}

/// One cylinder, or one numbered compression.
#[derive(Debug, Clone)]
pub struct CylinderResult {
    /// Place in the firing order, from 1; where no cylinder is known, the number of the peak.
    pub peak: usize,
    /// The cylinder, where known.
    pub cylinder: Option<u32>,
    /// Its bank, where known.
    pub bank: Option<u32>,
    /// Which compressions share a bank: equal numbers do, though the bank may not be known by it.
    /// Absent where not even that is known.
    pub group: Option<u32>,
    /// Its TDC, crank degrees from half a firing interval before the first one's.
    pub tdc: CrankDelta,
    /// Compression over the mean of all cylinders.
    pub relative: f64,
    /// Height of its peak of what was measured over the mean of all: compression, and what
    /// friction, inertia and the starter make of it. It overstates a loss.
    pub raw: f64,
    /// 95 % interval: scatter of the cycles, what repeats in every cycle, and the model's error.
    pub ci95: (f64, f64),
    /// Mean over cycles of what was measured (A, V or rpm), by angle from the cylinder's TDC.
    pub waveform: Vec<(CrankDelta, f64)>,
}

/// One bank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BankResult {
    /// The bank.
    pub bank: u32,
    /// Mean over its cylinders.
    pub relative: f64,
    /// 95 % interval.
    pub ci95: (f64, f64),
}

/// The lower bank (or group of compressions) against the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompressionDifference {
    /// The lower one, where it is known by number.
    pub bank: Option<u32>,
    /// Its mean over the mean of the others, less 1: never positive.
    pub relative: f64,
    /// 95 % interval.
    pub ci95: (f64, f64),
    /// Standard deviation.
    pub sd: f64,
    /// Whether it is lower beyond doubt and by more than sound banks differ.
    pub stands_out: bool,
    /// The lower bank where it stands out and is known by number: the one to name.
    pub low_bank: Option<u32>,
    /// How many of its cylinders are lower than the mean of the others.
    pub agree: usize,
    /// How many of them are so beyond noise.
    pub beyond_noise: usize,
    /// How many cylinders it has.
    pub of: usize,
}

pub(super) fn summarise(
    context: &Context,
    source: Source,
    curve: &Curve,
    mut located: Located,
) -> Result<(Compression, TdcCheck), Withheld> {
    let engine = context.input.engine;
    let all = &located.fit.cycles;
    let used = without_odd(context, all)?;
    let cycles_odd = all.len() - used.len();
    let cycles: Vec<Vec<f64>> = used.iter().map(|&at| all[at].clone()).collect();
    // What is drawn, and its raw peaks, are of the same cycles as the figures.
    located.windows = used.iter().map(|&at| located.windows[at].clone()).collect();
    let spread = spread(&cycles);
    let wheel_sd = if source == Source::CrankSpeed { WHEEL_SD } else { 0.0 };
    let values = Values { cycles, floor: &located.fit.floor, spread, wheel_sd };
    let names = cylinders::names(engine, located.base, &located.places);
    let (waveforms, dips_per_cycle) = draw(context, source, curve, &located);
    let raw = raw_heights(source, &waveforms);
    let first = engine.firing_angles[0].0;
    let count = names.len();
    let cylinders = waveforms
        .into_iter()
        .enumerate()
        .map(|(position, waveform)| {
            let mut pick = vec![0.0; count];
            pick[position] = 1.0;
            let (relative, sd) = values.combination(&pick, 1.0);
            CylinderResult {
                peak: position + 1,
                cylinder: names[position].cylinder,
                bank: names[position].bank,
                group: names[position].group,
                tdc: CrankDelta(
                    engine.firing_angles[position].0 - first + context.interval() / 2.0,
                ),
                relative,
                raw: raw[position],
                ci95: around(relative, sd),
                waveform,
            }
        })
        .collect();
    let compression = Compression {
        source,
        cylinders,
        banks: banks(&values, &names),
        bank_difference: bank_difference(&values, &names),
        named_by: located.named_by,
        turn_by_cams: located.turn_by_cams,
        first_peak: CrankDelta(located.base + first),
        first_tdc: match located.places[..] {
            [place] => Some(CrankDelta(place)),
            _ => None,
        },
        cycles_used: values.cycles.len(),
        cycles_odd,
        dips_per_cycle,
        explained: located.fit.explained,
        overlay: overlay(context, curve, &located),
        covariance: values.covariance(),
    };
    Ok((compression, located.check(engine)))
}

/// Which cycles are left once those unlike the others are taken out.
fn without_odd(context: &Context, cycles: &[Vec<f64>]) -> Result<Vec<usize>, Withheld> {
    let count = cycles.first().map_or(0, Vec::len);
    let middle: Vec<f64> = (0..count)
        .map(|i| median(&cycles.iter().map(|cycle| cycle[i]).collect::<Vec<f64>>()).unwrap_or(1.0))
        .collect();
    let far: Vec<f64> = cycles
        .iter()
        .map(|cycle| {
            let square = cycle.iter().zip(&middle).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
            (square / count as f64).sqrt()
        })
        .collect();
    let limit = (ODD_CYCLE * median(&far).unwrap_or(0.0)).max(NEVER_ODD);
    let kept: Vec<usize> = (0..cycles.len()).filter(|&at| far[at] <= limit).collect();
    let odd = cycles.len() - kept.len();
    let scatter: Vec<f64> = (0..count)
        .filter_map(|i| deviation(&kept.iter().map(|&at| cycles[at][i]).collect::<Vec<f64>>()))
        .collect();
    let uneven = odd as f64 > MOST_ODD * cycles.len() as f64
        || median(&scatter).is_some_and(|scatter| scatter > MOST_SCATTER);
    if uneven {
        return Err(Withheld::UnevenCranking);
    }
    if kept.len() < LEAST_CYCLES {
        return Err(context.too_few(kept.len()));
    }
    Ok(kept)
}

/// Relative compressions by cycle, with what does not average out.
struct Values<'a> {
    cycles: Vec<Vec<f64>>,
    floor: &'a [f64],
    /// Largest deviation of a cylinder's mean from that of all.
    spread: f64,
    /// [`WHEEL_SD`] where it applies.
    wheel_sd: f64,
}

fn spread(cycles: &[Vec<f64>]) -> f64 {
    let count = cycles.first().map_or(0, Vec::len);
    (0..count)
        .map(|i| mean(&cycles.iter().map(|cycle| cycle[i]).collect::<Vec<f64>>()) - 1.0)
        .fold(0.0, |most, off| most.max(off.abs()))
}

impl Values<'_> {
    /// Of the cylinders' means over the cycles, with all that [`Values::combination`] counts but
    /// the share of a low cylinder's own depth.
    fn covariance(&self) -> Vec<f64> {
        let (cycles, count) = (self.cycles.len() as f64, self.floor.len().isqrt());
        let means: Vec<f64> = (0..count)
            .map(|i| mean(&self.cycles.iter().map(|cycle| cycle[i]).collect::<Vec<f64>>()))
            .collect();
        // As wide as Student's t makes the interval of so few cycles.
        let wide = (crate::stats::t95((cycles - 1.0).max(1.0)) / NORMAL_95).powi(2);
        let each = MODEL_SD.hypot(SPREAD_SHARE_SD * self.spread).hypot(self.wheel_sd);
        (0..count * count)
            .map(|cell| {
                let (i, j) = (cell / count, cell % count);
                let product = |cycle: &Vec<f64>| (cycle[i] - means[i]) * (cycle[j] - means[j]);
                let sum: f64 = self.cycles.iter().map(product).sum();
                let scatter = wide * sum / (cycles - 1.0).max(1.0) / cycles;
                scatter + self.floor[cell] + if i == j { each * each } else { 0.0 }
            })
            .collect()
    }

    /// Mean of Σ weightᵢ · relativeᵢ and its standard deviation: scatter of the cycles (by
    /// Student's t, brought to the scale of a standard deviation), what repeats in every cycle, and
    /// the model's error for a value that lies off `sound`.
    fn combination(&self, weights: &[f64], sound: f64) -> (f64, f64) {
        let count = weights.len();
        let each: Vec<f64> = self
            .cycles
            .iter()
            .map(|cycle| cycle.iter().zip(weights).map(|(value, weight)| value * weight).sum())
            .collect();
        let value = mean(&each);
        let scatter = half_width95(&each).unwrap_or(f64::INFINITY) / NORMAL_95;
        let repeating: f64 = (0..count * count)
            .map(|cell| weights[cell / count] * weights[cell % count] * self.floor[cell])
            .sum();
        let square: f64 = weights.iter().map(|weight| weight * weight).sum();
        let each_sd = MODEL_SD.hypot(SPREAD_SHARE_SD * self.spread).hypot(self.wheel_sd);
        let model = (each_sd * square.sqrt()).hypot(MODEL_SHARE_SD * (value - sound));
        (value, (scatter * scatter + repeating.max(0.0) + model * model).sqrt())
    }
}

fn around(value: f64, sd: f64) -> (f64, f64) {
    (value - NORMAL_95 * sd, value + NORMAL_95 * sd)
}

/// Weights that take the mean over some positions.
fn mean_of(positions: &[usize], count: usize) -> Vec<f64> {
    let mut weights = vec![0.0; count];
    for &position in positions {
        weights[position] = 1.0 / positions.len() as f64;
    }
    weights
}

fn grouped(names: &[Name], by: impl Fn(&Name) -> Option<u32>) -> BTreeMap<u32, Vec<usize>> {
    let mut groups: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (position, name) in names.iter().enumerate() {
        if let Some(group) = by(name) {
            groups.entry(group).or_default().push(position);
        }
    }
    groups
}

fn banks(values: &Values, names: &[Name]) -> Vec<BankResult> {
    if names.iter().any(|name| name.bank.is_none()) {
        return Vec::new();
    }
    grouped(names, |name| name.bank)
        .into_iter()
        .map(|(bank, members)| {
            let (relative, sd) = values.combination(&mean_of(&members, names.len()), 1.0);
            BankResult { bank, relative, ci95: around(relative, sd) }
        })
        .collect()
}

fn bank_difference(values: &Values, names: &[Name]) -> Option<CompressionDifference> {
    let known = names.iter().all(|name| name.bank.is_some());
    let groups = grouped(names, |name| if known { name.bank } else { name.group });
    if groups.len() < 2 || groups.values().map(Vec::len).sum::<usize>() < names.len() {
        return None;
    }
    let level = |members: &[usize]| values.combination(&mean_of(members, names.len()), 1.0).0;
    let (&low, members) = groups.iter().min_by(|a, b| level(a.1).total_cmp(&level(b.1)))?;
    let others: Vec<usize> = (0..names.len()).filter(|i| !members.contains(i)).collect();
    let other = level(&others);
    let weights: Vec<f64> = mean_of(members, names.len())
        .iter()
        .zip(mean_of(&others, names.len()))
        .map(|(own, theirs)| (own - theirs) / other)
        .collect();
    let (relative, sd) = values.combination(&weights, 0.0);
    let ci95 = around(relative, sd);
    let stands_out = ci95.1 < 0.0 && relative < -LEAST_BANK_DIFFERENCE;
    let own = |position: &usize| values.combination(&mean_of(&[*position], names.len()), 1.0).0;
    let lower = |position: &usize| {
        let own = mean_of(&[*position], names.len());
        let weights: Vec<f64> = own
            .iter()
            .zip(mean_of(&others, names.len()))
            .map(|(own, theirs)| own - theirs)
            .collect();
        {
            let (value, sd) = values.combination(&weights, 0.0);
            around(value, sd).1 < 0.0
        }
    };
    Some(CompressionDifference {
        bank: known.then_some(low),
        relative,
        ci95,
        sd,
        stands_out,
        low_bank: (known && stands_out).then_some(low),
        agree: members.iter().filter(|position| own(position) < other).count(),
        beyond_noise: members.iter().filter(|position| lower(position)).count(),
        of: members.len(),
    })
}
