//! Cylinders and banks against the truth of an independent simulation, at workshop noise.

use camwitness::angle::AngleFrom;
use camwitness::compression::{CompressionInput, CompressionOutcome, Source, measure};
use camwitness::engine::Engine;
use camwitness::units::CrankDelta;

use super::bench::{Bench, Random, WORKSHOP, amperes, angle, clamp, marks};
use super::engines::{engine, varied};

/// One capture: bench, crank wheel and, if wanted, the clamp.
pub fn capture(bench: &Bench, engine: &Engine, seed: u64, with_clamp: bool) -> CompressionOutcome {
    let mut random = Random(seed);
    let run = bench.crank();
    let teeth = angle(marks(&run, 36, &[35, 36], WORKSHOP, &mut random));
    let (values, clock) = clamp(&run, WORKSHOP, &mut random);
    measure(&CompressionInput {
        engine,
        angle: &teeth,
        datum_offset: Some(CrankDelta(360.0)),
        starter: with_clamp.then(|| amperes(&values, &clock)),
        battery: None,
        angle_from: AngleFrom::Crank,
        triggers: &[],
        pressure: &[],
        cam_shifts: &[],
    })
}

#[derive(Default)]
struct Errors {
    all: Vec<f64>,
    inside: usize,
    tdc: Vec<f64>,
    refused: usize,
}

impl Errors {
    fn quantile(&self, share: f64) -> f64 {
        let mut sorted: Vec<f64> = self.all.iter().map(|error| error.abs()).collect();
        sorted.sort_by(f64::total_cmp);
        sorted[((sorted.len() - 1) as f64 * share) as usize]
    }
}

fn run(with_clamp: bool, want: Source) -> Errors {
    let mut errors = Errors::default();
    for seed in 0..60_u64 {
        let mut random = Random(1000 + seed);
        let cylinders = [4, 6, 8][seed as usize % 3];
        let mut bench = varied(cylinders, &mut random);
        // Weak by 1 % to 40 %, spread evenly on a logarithmic scale.
        let weak = 0.01 * 40_f64.powf(random.uniform());
        let which = (random.uniform() * cylinders as f64) as usize;
        bench.charge[which] = 1.0 - weak;
        let outcome = capture(&bench, &engine(cylinders), seed, with_clamp);
        let Some(found) = outcome.measured.filter(|found| found.source == want) else {
            println!(
                "seed {seed} {cylinders} cylinders: {:?} {:?}",
                outcome.withheld, outcome.steady
            );
            errors.refused += 1;
            continue;
        };
        for (result, truth) in found.cylinders.iter().zip(bench.truth()) {
            errors.all.push(result.relative - truth);
            errors.inside += usize::from(result.ci95.0 <= truth && truth <= result.ci95.1);
        }
        let off = outcome.tdc.and_then(|tdc| tdc.off).map_or(0.0, |off| off.0);
        errors.tdc.push(off);
        let worst = found
            .cylinders
            .iter()
            .zip(bench.truth())
            .map(|(r, t)| r.relative - t)
            .fold(0.0_f64, |a, b| if a.abs() > b.abs() { a } else { b });
        let width =
            found.cylinders.iter().map(|r| r.ci95.1 - r.relative).sum::<f64>() / cylinders as f64;
        println!(
            "seed {seed} n {cylinders} weak {weak:.3} rpm {:.0} cycles {} worst {worst:.4} width {width:.4} r2 {:.3} tdc {off:.1} dips {}",
            outcome.steady.map_or(0.0, |s| s.rpm.0),
            found.cycles_used,
            found.explained,
            found.dips_per_cycle
        );
    }
    println!(
        "{}: 95 % of errors within {:.4}, worst {:.4}; {} of {} truths inside their interval; refused {}; TDC worst {:.1}",
        want.word(),
        errors.quantile(0.95),
        errors.quantile(1.0),
        errors.inside,
        errors.all.len(),
        errors.refused,
        errors.tdc.iter().fold(0.0_f64, |a, b| a.max(b.abs())),
    );
    errors
}

#[test]
fn starter_current_is_within_three_per_cent() {
    let errors = run(true, Source::StarterCurrent);
    assert_eq!(errors.refused, 0);
    assert!(errors.quantile(0.95) < 0.03);
    assert!(errors.inside as f64 > 0.93 * errors.all.len() as f64);
}

#[test]
fn crank_speed_alone_is_within_six_per_cent() {
    let errors = run(false, Source::CrankSpeed);
    assert_eq!(errors.refused, 0);
    assert!(errors.quantile(0.95) < 0.06);
    assert!(errors.inside as f64 > 0.93 * errors.all.len() as f64);
}
