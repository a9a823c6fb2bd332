//! Every source on many engines at once: how often a bank is accused, a low one named, an interval
//! right.
//!
//! One simulated cranking gives all three sources, and none of their constants was fitted on these
//! seeds.

use camwitness::angle::AngleFrom;
use camwitness::capture::{Clock, Unit};
use camwitness::compression::{
    Compression, CompressionInput, CompressionOutcome, SampledLead, Source, measure,
};
use camwitness::engine::Engine;
use camwitness::units::CrankDelta;
use rayon::prelude::*;

use super::bench::{Bench, Dirt, Random, Run, WORKSHOP, amperes, angle, clamp, marks};
use super::counts::{SOURCES, seeds, share, wilson};
use super::engines::{engine, varied};

/// Crank degrees in the 5.5 s of a run. Less is under 131 rpm on the mean, slower than real
/// starters turn engines (140 rpm and up in the recordings): a stalled run, or one with too few
/// cycles, which is withheld and says nothing of accuracy.
const LEAST_TURNED: f64 = 6.0 * 720.0;

/// Battery voltage at 20 kS/s on an 8-bit scope's 20 V range: 12.6 V behind 7 mΩ.
fn battery(run: &Run, dirt: Dirt, random: &mut Random) -> (Vec<f32>, Clock) {
    let (amps, clock) = clamp(run, dirt, random);
    let volts = amps.iter().map(|&amps| {
        let volts = 12.6 - 0.007 * f64::from(amps) + 0.04 * random.normal();
        ((volts / 0.078).round() * 0.078) as f32
    });
    (volts.collect(), clock)
}

/// One cranking by each source; `None` when this starter hardly turns this engine.
fn by_source(bench: &Bench, engine: &Engine, seed: u64) -> Option<[CompressionOutcome; 3]> {
    let mut random = Random(seed);
    let run = bench.crank();
    if run.angle.last().is_none_or(|&turned| turned < LEAST_TURNED) {
        println!("seed {seed}: the starter does not turn it fast enough, not counted");
        return None;
    }
    let teeth = angle(marks(&run, 36, &[35, 36], WORKSHOP, &mut random));
    let (amps, clock) = clamp(&run, WORKSHOP, &mut random);
    let (volts, _) = battery(&run, WORKSHOP, &mut random);
    let volts =
        SampledLead { values: (&volts).into(), clock: &clock, unit: Unit::Volts, over_range: &[] };
    Some(SOURCES.map(|source| {
        measure(&CompressionInput {
            engine,
            angle: &teeth,
            datum_offset: Some(CrankDelta(360.0)),
            starter: (source == Source::StarterCurrent).then(|| amperes(&amps, &clock)),
            battery: (source == Source::BatteryVoltage).then_some(volts),
            angle_from: AngleFrom::Crank,
            triggers: &[],
            pressure: &[],
            cam_shifts: &[],
        })
    }))
}

/// The measurement by the source asked for; anything else is a failure.
fn of(outcome: &CompressionOutcome, source: Source, seed: u64) -> &Compression {
    let found = outcome.measured.as_ref().filter(|found| found.source == source);
    found.unwrap_or_else(|| panic!("seed {seed} {source:?}: {:?}", outcome.withheld))
}

/// Cylinders of a run: 4, 6 and 8 in turn.
fn cylinders(seed: u64) -> usize {
    [4, 6, 8][(seed % 3) as usize]
}

/// For each source, the results of all seeds.
fn census<T: Send>(
    seeds: std::ops::Range<u64>,
    one: impl Fn(u64, Source, &CompressionOutcome, &Bench) -> T + Sync,
    bench: impl Fn(u64) -> Bench + Sync,
) -> Vec<(Source, Vec<T>)> {
    let rows: Vec<Vec<T>> = seeds
        .into_par_iter()
        .filter_map(|seed| {
            let bench = bench(seed);
            let outcomes = by_source(&bench, &engine(bench.tdcs.len()), seed)?;
            let cells = SOURCES.iter().zip(&outcomes);
            Some(cells.map(|(&source, outcome)| one(seed, source, outcome, &bench)).collect())
        })
        .collect();
    let mut columns: Vec<(Source, Vec<T>)> = SOURCES.iter().map(|&s| (s, Vec::new())).collect();
    for row in rows {
        columns.iter_mut().zip(row).for_each(|(column, cell)| column.1.push(cell));
    }
    columns
}

/// A bench whose cylinders differ by a per cent (standard deviation), as sound ones do.
fn sound(seed: u64) -> Bench {
    let mut random = Random(seed);
    let mut bench = varied(cylinders(seed), &mut random);
    bench.charge.iter_mut().for_each(|charge| *charge += 0.01 * random.normal());
    bench
}

#[test]
#[ignore = "wide: .ci/run runs it"]
fn sound_engines_are_accused_no_more_often_than_one_in_twenty() {
    let columns = census(
        seeds(20_000),
        |seed, source, outcome, bench| {
            let found = of(outcome, source, seed).bank_difference.unwrap();
            (found.low_bank.is_some(), bench_difference(bench), found.relative)
        },
        sound,
    );
    for (source, results) in columns {
        let accused = results.iter().filter(|result| result.0).count();
        println!("{}: sound engines accused: {}", source.word(), share(accused, results.len()));
        for (_, truth, found) in results.iter().filter(|result| result.0) {
            println!("   true {truth:+.4} found {found:+.4}");
        }
        // The lower end of the interval: the count alone would fail now and then at a true rate of
        // exactly 5 %.
        assert!(wilson(accused, results.len()).0 <= 0.05);
    }
}

/// True difference of the lower bank from the other, not positive.
fn bench_difference(bench: &Bench) -> f64 {
    let truth = bench.truth();
    let mean = |from: usize| {
        let own: Vec<f64> = truth.iter().skip(from).step_by(2).copied().collect();
        own.iter().sum::<f64>() / own.len() as f64
    };
    let (a, b) = (mean(0), mean(1));
    a.min(b) / a.max(b) - 1.0
}

#[test]
#[ignore = "wide: .ci/run runs it"]
fn a_low_bank_is_named_from_four_per_cent() {
    let columns = census(
        seeds(30_000),
        |seed, source, outcome, bench| {
            let low = (seed / 3 % 2) as u32 + 1;
            let found = of(outcome, source, seed).bank_difference.unwrap();
            let truth = bench_difference(bench);
            let inside = found.ci95.0 <= truth && truth <= found.ci95.1;
            if found.low_bank != Some(low) {
                println!(
                    "   {source:?} seed {seed} n {} true {truth:+.4} {found:?}",
                    bench.tdcs.len()
                );
            }
            (found.low_bank == Some(low), found.low_bank.is_some_and(|b| b != low), inside)
        },
        |seed| {
            let mut random = Random(seed);
            let mut bench = varied(cylinders(seed), &mut random);
            let down = random.between(0.04, 0.15);
            (((seed / 3) % 2) as usize..bench.charge.len())
                .step_by(2)
                .for_each(|i| bench.charge[i] = 1.0 - down);
            bench
        },
    );
    for (source, results) in columns {
        let n = results.len();
        let named = results.iter().filter(|result| result.0).count();
        let inside = results.iter().filter(|result| result.2).count();
        println!("{}: named {}, inside {}", source.word(), share(named, n), share(inside, n));
        assert_eq!(results.iter().filter(|result| result.1).count(), 0, "the wrong bank");
        assert_eq!(named, n, "{}", source.word());
        assert!(wilson(inside, n).1 >= 0.95);
    }
}

#[test]
#[ignore = "wide: .ci/run runs it"]
fn cylinders_are_as_near_as_promised_and_intervals_hold() {
    let columns = census(
        seeds(40_000),
        |seed, source, outcome, bench| {
            let found = of(outcome, source, seed);
            let pairs = found.cylinders.iter().zip(bench.truth());
            pairs
                .map(|(r, t)| {
                    (bench.tdcs.len(), (r.relative - t).abs(), r.ci95.0 <= t && t <= r.ci95.1)
                })
                .collect::<Vec<(usize, f64, bool)>>()
        },
        |seed| {
            let mut random = Random(seed);
            let mut bench = varied(cylinders(seed), &mut random);
            // Weak by 1 % to 40 %, evenly on a logarithmic scale; the others differ as sound ones
            // do.
            bench.charge.iter_mut().for_each(|charge| *charge += 0.01 * random.normal());
            let weak = 0.01 * 40_f64.powf(random.uniform());
            let which = (random.uniform() * bench.charge.len() as f64) as usize;
            bench.charge[which] *= 1.0 - weak;
            bench
        },
    );
    for (source, results) in columns {
        let promised = if source == Source::CrankSpeed { 0.06 } else { 0.03 };
        for count in [4, 6, 8] {
            let own: Vec<(f64, bool)> = results
                .iter()
                .flatten()
                .filter(|result| result.0 == count)
                .map(|result| (result.1, result.2))
                .collect();
            let near = own.iter().filter(|one| one.0 <= promised).count();
            let inside = own.iter().filter(|one| one.1).count();
            println!(
                "{}, {count} cylinders: within {promised}: {}, inside the interval {}",
                source.word(),
                share(near, own.len()),
                share(inside, own.len())
            );
            assert!(near as f64 >= 0.95 * own.len() as f64);
            assert!(wilson(inside, own.len()).1 >= 0.95);
        }
    }
}
