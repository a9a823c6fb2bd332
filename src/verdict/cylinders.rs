//! What the compressions say of the cylinders: all alike, one low, two neighbours low, a bank low.
//!
//! Each is a hypothesis about every cylinder at once, with how far the low ones may be down
//! integrated over, weighed by how well it predicts all the compressions together. Equality
//! *within* a bank is what makes a bank: a single weak cylinder draws its bank's mean down as well,
//! and is still one cylinder.
//!
//! What cannot be seen: all cylinders down alike.

use super::banks::banks;
use crate::compression::{Compression, CompressionOutcome, CylinderShape, Source, Withheld};
use crate::engine::{CamShaft, Engine};
use crate::matrix::Cholesky;
use crate::stats::log_sum;
use crate::units::CrankDelta;

/// Standard deviation of sound cylinders of one engine about their mean (common practice, no
/// source: a few per cent; two banks of three or four then differ by 1.5 %).
const NATURAL_SD: f64 = 0.02;
/// The compression stage's own error on a low cylinder, as a share of how low it is.
const DEPTH_SD: f64 = 0.06;
/// How far a low cylinder is down: from where it shows to a dead one and a little beyond, which is
/// noise; small losses are commoner than large ones, alike on a scale of ratios (judgement).
const CYLINDER_DEPTHS: (f64, f64) = (0.05, 1.1);
/// How far a bank is down that closes its intake valves late: from a third of a tooth to two teeth
/// and more.
const BANK_DEPTHS: (f64, f64) = (0.035, 0.45);
/// Steps of the sums over depth, on a scale of ratios: a fifth from one to the next, finer than
/// what is measured.
const DEPTH_STEPS: usize = 18;
/// Standard deviations that cylinders without a pattern may have.
const UNEVEN_SDS: [f64; 4] = [0.06, 0.1, 0.18, 0.35];
/// How often each is found on an engine whose compression is measured (judgement of the trade, no
/// source).
const EVEN_PRIOR: f64 = 0.60;
const CYLINDER_PRIOR: f64 = 0.20;
const NEIGHBOURS_PRIOR: f64 = 0.04;
const BANK_PRIOR: f64 = 0.10;
const UNEVEN_PRIOR: f64 = 0.06;
/// From this probability on it is a finding; below, it is said to be open.
const SURE: f64 = 0.9;
/// A common offset of all cylinders is no information: its variance, of relative compressions, is
/// wide of any.
const COMMON_VARIANCE: f64 = 1.0;
/// Farthest shift of a cam that is searched for one that explains a low bank, in crank degrees:
/// beyond it the valves meet the pistons of most engines.
const MOST_LATE_DEG: f64 = 60.0;

/// What is found of the cylinders.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CompressionState {
    /// None stands out.
    Even,
    /// One is low.
    CylinderLow,
    /// Two that stand side by side are low.
    NeighboursLow,
    /// All of a bank are low, alike.
    BankLow,
    /// They differ without a pattern.
    Uneven,
    /// Nothing is said.
    Withheld,
}

impl CompressionState {
    /// All of them.
    pub const ALL: [CompressionState; 6] = [
        CompressionState::Even,
        CompressionState::CylinderLow,
        CompressionState::NeighboursLow,
        CompressionState::BankLow,
        CompressionState::Uneven,
        CompressionState::Withheld,
    ];

    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            CompressionState::Even => "even",
            CompressionState::CylinderLow => "cylinder_low",
            CompressionState::NeighboursLow => "neighbours_low",
            CompressionState::BankLow => "bank_low",
            CompressionState::Uneven => "uneven",
            CompressionState::Withheld => "withheld",
        }
    }
}

/// Why nothing is said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WhyWithheld {
    /// No source of compression could be used; the best one, and why not.
    NotMeasured(Source, Withheld),
    /// No lead shows compressions.
    NoLead,
    /// Two readings fit about as well.
    Open {
        /// The likelier.
        first: CompressionState,
        /// The next.
        second: CompressionState,
    },
}

/// The finding about compression.
#[derive(Debug, Clone, PartialEq)]
pub struct CompressionFinding {
    /// What.
    pub state: CompressionState,
    /// Why not, where nothing is said.
    pub withheld: Option<WhyWithheld>,
    /// The low compressions, counted in the firing order from the one the table begins with, from
    /// 1.
    pub peaks: Vec<usize>,
    /// Their cylinders, where they are known.
    pub cylinders: Vec<u32>,
    /// The low bank, where it is known.
    pub bank: Option<u32>,
    /// How far the low ones are below the others, as a share of these: mean and 95 % interval.
    pub below: Option<(f64, (f64, f64))>,
    /// Of the low bank's cylinders, how many are below the other bank beyond noise, and of how
    /// many.
    pub agree: Option<(usize, usize)>,
    /// Probability of the finding; of the likelier reading where it is open.
    pub probability: f64,
    /// How late an intake cam of the low bank would leave it so, crank degrees; absent where none
    /// would.
    pub as_if_late: Option<CrankDelta>,
    /// The probability of each kind of finding, likeliest first.
    pub odds: Vec<(CompressionState, f64)>,
}

impl CompressionFinding {
    fn withheld(why: WhyWithheld) -> Self {
        CompressionFinding {
            state: CompressionState::Withheld,
            withheld: Some(why),
            peaks: Vec::new(),
            cylinders: Vec::new(),
            bank: None,
            below: None,
            agree: None,
            probability: 0.0,
            as_if_late: None,
            odds: Vec::new(),
        }
    }
}

/// One reading of all cylinders at once: which are low.
#[derive(Debug, Clone, PartialEq)]
struct Reading {
    state: CompressionState,
    low: Vec<usize>,
    prior: f64,
}

/// Judges the compressions of an outcome.
#[must_use]
pub fn judge_cylinders(engine: &Engine, outcome: &CompressionOutcome) -> CompressionFinding {
    let Some(measured) = &outcome.measured else {
        return CompressionFinding::withheld(match outcome.withheld.first() {
            Some(&(source, why)) => WhyWithheld::NotMeasured(source, why),
            None => WhyWithheld::NoLead,
        });
    };
    let readings = readings(engine, measured);
    let data = Data::of(measured);
    let logs: Vec<f64> =
        readings.iter().map(|reading| reading.prior.ln() + data.log_likelihood(reading)).collect();
    let all = log_sum(logs.iter().copied());
    let weights: Vec<f64> = logs.iter().map(|log| (log - all).exp()).collect();
    let best = (0..readings.len()).max_by(|&a, &b| weights[a].total_cmp(&weights[b])).unwrap_or(0);
    let mut odds: Vec<(CompressionState, f64)> = Vec::new();
    for (reading, weight) in readings.iter().zip(&weights) {
        match odds.iter_mut().find(|(state, _)| *state == reading.state) {
            Some((_, sum)) => *sum += weight,
            None => odds.push((reading.state, *weight)),
        }
    }
    odds.sort_by(|a, b| b.1.total_cmp(&a.1));
    let sure = holds(&readings, &weights, best);
    if sure < SURE {
        let second = odds.get(1).map_or(odds[0].0, |(state, _)| *state);
        let why = WhyWithheld::Open { first: odds[0].0, second };
        let probability = odds[0].1;
        return CompressionFinding { probability, odds, ..CompressionFinding::withheld(why) };
    }
    found(engine, measured, &readings[best], sure, odds)
}

/// Probability that what a reading says is true. That a cylinder is low is true as well where its
/// neighbour is a little low beside it; and of a bank of two, both are low whether that is the bank
/// or the gasket between them.
fn holds(readings: &[Reading], weights: &[f64], best: usize) -> f64 {
    let said = &readings[best];
    let both = |reading: &Reading| {
        reading.low.len() == 2 && said.low.iter().all(|low| reading.low.contains(low))
    };
    let also = |reading: &Reading| match said.state {
        CompressionState::CylinderLow => {
            reading.state == CompressionState::NeighboursLow && reading.low.contains(&said.low[0])
        }
        CompressionState::NeighboursLow => {
            reading.state == CompressionState::BankLow && both(reading)
        }
        CompressionState::BankLow => {
            reading.state == CompressionState::NeighboursLow && said.low.len() == 2 && both(reading)
        }
        _ => false,
    };
    let beside = readings.iter().zip(weights).filter(|(reading, _)| also(reading));
    weights[best] + beside.map(|(_, weight)| weight).sum::<f64>()
}

fn found(
    engine: &Engine,
    measured: &Compression,
    reading: &Reading,
    probability: f64,
    odds: Vec<(CompressionState, f64)>,
) -> CompressionFinding {
    let low = &reading.low;
    let cylinders: Vec<u32> =
        low.iter().filter_map(|&at| measured.cylinders[at].cylinder).collect();
    let below = (!low.is_empty()).then(|| measured.below_others(low));
    let bank_low = reading.state == CompressionState::BankLow;
    let as_if_late = below.filter(|_| bank_low).and_then(|(share, _)| late_cam(engine, share));
    CompressionFinding {
        state: reading.state,
        withheld: None,
        peaks: low.iter().map(|at| at + 1).collect(),
        cylinders: if cylinders.len() == low.len() { cylinders } else { Vec::new() },
        bank: low.first().and_then(|&at| measured.cylinders[at].bank).filter(|_| bank_low),
        below,
        agree: bank_low.then(|| (measured.below_beyond_noise(low), low.len())),
        probability,
        as_if_late,
        odds,
    }
}

/// How late an intake cam must stand to take this share of a bank's compression: the curve of the
/// closing angle turned round, not a slope.
fn late_cam(engine: &Engine, share: f64) -> Option<CrankDelta> {
    let has_intake =
        engine.cams.is_empty() || engine.cams.iter().any(|cam| cam.shaft != CamShaft::Exhaust);
    let shape = CylinderShape::of(engine);
    let steps = (MOST_LATE_DEG * 2.0) as u32;
    (1..=steps)
        .map(|step| CrankDelta(f64::from(step) * 0.5))
        .find(|&late| -shape.change_for(late) >= share)
        .filter(|_| has_intake)
}

/// Every reading with its prior.
fn readings(engine: &Engine, measured: &Compression) -> Vec<Reading> {
    let count = measured.cylinders.len();
    let mut readings =
        vec![Reading { state: CompressionState::Even, low: Vec::new(), prior: EVEN_PRIOR }];
    let mut add = |state, lows: Vec<Vec<usize>>, prior: f64| {
        let each = prior / lows.len().max(1) as f64;
        readings.extend(lows.into_iter().map(|low| Reading { state, low, prior: each }));
    };
    let cylinders = (0..count).map(|at| vec![at]).collect();
    add(CompressionState::CylinderLow, cylinders, CYLINDER_PRIOR);
    if count > 2 {
        add(CompressionState::NeighboursLow, neighbours(engine, measured), NEIGHBOURS_PRIOR);
    }
    add(CompressionState::BankLow, banks(engine, measured), BANK_PRIOR);
    if count > 2 {
        add(CompressionState::Uneven, vec![(0..count).collect()], UNEVEN_PRIOR);
    }
    readings
}

/// Pairs that stand side by side in a bank. Without names nobody knows which do.
fn neighbours(engine: &Engine, measured: &Compression) -> Vec<Vec<usize>> {
    let place =
        |cylinder: &u32| measured.cylinders.iter().position(|one| one.cylinder == Some(*cylinder));
    engine
        .banks
        .values()
        .flat_map(|members| members.windows(2))
        .filter_map(|pair| Some(vec![place(&pair[0])?, place(&pair[1])?]))
        .collect()
}

/// The relative compressions and how they err.
struct Data<'a> {
    relative: Vec<f64>,
    covariance: &'a [f64],
}

impl<'a> Data<'a> {
    fn of(measured: &'a Compression) -> Self {
        Data {
            relative: measured.cylinders.iter().map(|one| one.relative).collect(),
            covariance: &measured.covariance,
        }
    }

    fn log_likelihood(&self, reading: &Reading) -> f64 {
        let count = self.relative.len();
        match reading.state {
            CompressionState::Uneven => log_sum(UNEVEN_SDS.iter().map(|sd| {
                self.log_density(&vec![1.0; count], sd * sd) - (UNEVEN_SDS.len() as f64).ln()
            })),
            CompressionState::BankLow => self.over_depths(reading, BANK_DEPTHS),
            CompressionState::NeighboursLow => {
                let depths: Vec<f64> = depths(CYLINDER_DEPTHS).collect();
                let each = 2.0 * (depths.len() as f64).ln();
                log_sum(depths.iter().flat_map(|&first| {
                    depths.iter().map(move |&second| {
                        let mut shape = vec![1.0; count];
                        shape[reading.low[0]] -= first;
                        shape[reading.low[1]] -= second;
                        self.log_density(&shape, 0.0) - each
                    })
                }))
            }
            _ if reading.low.is_empty() => self.log_density(&vec![1.0; count], 0.0),
            _ => self.over_depths(reading, CYLINDER_DEPTHS),
        }
    }

    /// All that are low are down by one amount.
    fn over_depths(&self, reading: &Reading, range: (f64, f64)) -> f64 {
        log_sum(depths(range).map(|depth| {
            let mut shape = vec![1.0; self.relative.len()];
            reading.low.iter().for_each(|&at| shape[at] -= depth);
            self.log_density(&shape, 0.0) - (DEPTH_STEPS as f64).ln()
        }))
    }

    /// Of the compressions where cylinders truly stand as `shape`, each with `more` variance of its
    /// own.
    fn log_density(&self, shape: &[f64], more: f64) -> f64 {
        let count = shape.len();
        let mean = shape.iter().sum::<f64>() / count as f64;
        if mean <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let off: Vec<f64> = self
            .relative
            .iter()
            .zip(shape)
            .map(|(found, true_one)| found - true_one / mean)
            .collect();
        let own = |at: usize| {
            let depth = DEPTH_SD * (shape[at] / mean - 1.0);
            NATURAL_SD * NATURAL_SD + more + depth * depth
        };
        let entry = |i: usize, j: usize| {
            let shared = self.covariance[i * count + j] + COMMON_VARIANCE;
            if i == j { shared + own(i) } else { shared }
        };
        Cholesky::new(count, 0.0, entry).map_or(f64::NEG_INFINITY, |factor| {
            let white = factor.solve_lower(off);
            -0.5 * white.iter().map(|value| value * value).sum::<f64>()
                - factor.log_root_determinant()
        })
    }
}

/// Depths on a scale of ratios.
fn depths((from, to): (f64, f64)) -> impl Iterator<Item = f64> {
    let step = (to / from).powf(1.0 / (DEPTH_STEPS - 1) as f64);
    (0..DEPTH_STEPS).map(move |index| from * step.powi(index as i32))
}
