//! Practice captures at workshop noise, without the decoder: teeth and sparks by a plain search of
//! the volts, the cylinders named by an ignition lead.

use camwitness::angle::AngleFrom;
use camwitness::capture::{Capture, Channel};
use camwitness::compression::{
    CompressionInput, CompressionOutcome, NamedBy, SampledLead, Source, Trigger, TriggerLead,
    measure,
};
use camwitness::crank::{CrankAngle, Mark};
use camwitness::engine::Engine;
use camwitness::practice::{ExtraLead, Fault, Practice, Scenario, generate};
use camwitness::units::{CrankTurned, Seconds};

use super::bench::{Random, angle};
use super::practice::engine;

fn channel<'a>(capture: &'a Capture, name: &str) -> &'a Channel {
    capture.channels.iter().find(|channel| channel.name == name).unwrap()
}

fn lead<'a>(capture: &'a Capture, name: &str) -> SampledLead<'a> {
    let channel = channel(capture, name);
    SampledLead {
        values: &channel.values,
        clock: &capture.clock,
        unit: channel.unit,
        over_range: &channel.over_range,
    }
}

/// Times at which a square wave falls through the middle of its range, single odd samples ignored.
fn falls(capture: &Capture, name: &str) -> Vec<f64> {
    let values = &channel(capture, name).values;
    // Both are logic outputs of 0 and 5 V.
    let middle = 2.5_f32;
    (2..values.len() - 2)
        .filter(|&i| {
            values[i - 2] > middle
                && values[i - 1] > middle
                && values[i] <= middle
                && values[i + 1] <= middle
        })
        .map(|i| {
            let (a, b) = (f64::from(values[i - 1]), f64::from(values[i]));
            let (t, u) = (capture.clock.at(i - 1).0, capture.clock.at(i).0);
            t + (a - f64::from(middle)) / (a - b) * (u - t)
        })
        .collect()
}

/// Longest stretch of whole turns of a 36-2 wheel: a gap is twice as long as both its neighbours.
fn teeth(falls: &[f64]) -> CrankAngle {
    let gaps: Vec<usize> = (2..falls.len() - 1)
        .filter(|&i| {
            let step = |k: usize| falls[k] - falls[k - 1];
            step(i) > 1.8 * step(i - 1) && step(i) > 1.8 * step(i + 1)
        })
        .collect();
    let (mut best, mut run) = ((0, 0), 0);
    for i in 1..gaps.len() {
        if gaps[i] - gaps[i - 1] != 34 {
            run = i;
        }
        if i - run > best.1 - best.0 {
            best = (run, i);
        }
    }
    let marks = (gaps[best.0]..=gaps[best.1])
        .enumerate()
        .map(|(k, i)| Mark {
            at: Seconds(falls[i]),
            turned: CrankTurned((k / 34 * 36 + k % 34) as f64 * 10.0),
        })
        .collect();
    angle(marks)
}

fn made(
    engine: &Engine,
    faults: Vec<Fault>,
    seed: u64,
    leads: Vec<ExtraLead>,
    seconds: f64,
) -> Practice {
    let mut scenario = Scenario::new(engine.clone());
    (scenario.faults, scenario.seed, scenario.leads) = (faults, seed, leads);
    scenario.seconds = seconds;
    generate(&scenario).unwrap()
}

fn measured(engine: &Engine, practice: &Practice, clamp: bool) -> CompressionOutcome {
    let capture = &practice.capture;
    let teeth = teeth(&falls(capture, "crank"));
    let ignition = [TriggerLead {
        cylinder: 1,
        of: Trigger::Coil,
        waste_spark: false,
        pulses: falls(capture, "ignition 1").into_iter().map(Seconds).collect(),
    }];
    measure(&CompressionInput {
        engine,
        angle: &teeth,
        datum_offset: None,
        starter: clamp.then(|| lead(capture, "starter")),
        battery: None,
        angle_from: AngleFrom::Crank,
        triggers: &ignition,
        pressure: &[],
        cam_shifts: &[],
    })
}

fn accuracy(clamp: bool, source: Source) -> (f64, f64) {
    let (mut errors, mut inside) = (Vec::new(), 0);
    for seed in 0..24_u64 {
        let mut random = Random(seed);
        let cylinders = [4, 6, 8][seed as usize % 3];
        let engine = engine(cylinders);
        let weak = 0.01 * 40_f64.powf(random.uniform());
        let which = 1 + (random.uniform() * cylinders as f64) as u32;
        let fault: Fault = format!("weak-cylinder:{which}:{}", 1.0 - weak).parse().unwrap();
        let practice =
            made(&engine, vec![fault], seed, vec![ExtraLead::Starter, ExtraLead::Ignition(1)], 6.5);
        let outcome = measured(&engine, &practice, clamp);
        let Some(found) = outcome.measured.filter(|found| found.source == source) else {
            panic!("seed {seed}: {:?} {:?}", outcome.withheld, outcome.steady);
        };
        assert!(matches!(found.named_by, NamedBy::Ignition { cylinder: 1, waste_spark: false }));
        let mut worst = 0.0_f64;
        for result in &found.cylinders {
            let truth = practice
                .truth
                .cylinders
                .iter()
                .find(|c| Some(c.cylinder) == result.cylinder)
                .unwrap()
                .relative;
            let error = result.relative - truth;
            if error.abs() > worst.abs() {
                worst = error;
            }
            errors.push(error.abs());
            inside += usize::from(result.ci95.0 <= truth && truth <= result.ci95.1);
        }
        println!(
            "practice seed {seed} n {cylinders} weak {weak:.3} of {which}: cycles {} r2 {:.3} worst {worst:.4} tdc {:?} rpm {:.0} width {:.4} dips {}",
            found.cycles_used,
            found.explained,
            outcome.tdc.unwrap().off,
            outcome.steady.unwrap().rpm.0,
            found.cylinders[0].ci95.1 - found.cylinders[0].relative,
            found.dips_per_cycle
        );
    }
    errors.sort_by(f64::total_cmp);
    let share = inside as f64 / errors.len() as f64;
    let at95 = errors[(errors.len() - 1) * 95 / 100];
    println!(
        "practice {}: 95 % within {at95:.4}, worst {:.4}, inside {share:.3}",
        source.word(),
        errors[errors.len() - 1]
    );
    (at95, share)
}

#[test]
fn practice_by_starter_current() {
    let (at95, share) = accuracy(true, Source::StarterCurrent);
    assert!(at95 < 0.03 && share > 0.93);
}

#[test]
fn practice_by_crank_speed() {
    let (at95, share) = accuracy(false, Source::CrankSpeed);
    assert!(at95 < 0.06 && share > 0.93);
}
