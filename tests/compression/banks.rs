//! Banks: the low one named, none accused in sound engines, and what the cams say to it.

use camwitness::angle::AngleFrom;
use camwitness::compression::{CamShift, CompressionInput, CompressionOutcome, measure};
use camwitness::engine::CamShaft;
use camwitness::units::CrankDelta;
use camwitness::verdict::{Agreement, CompressionEvidence};

use super::accuracy::{SOURCES, both};
use super::bench::{Bench, Random, WORKSHOP, amperes, angle, clamp, marks};
use super::engines::{TDC, engine, varied};

/// Engines of each count.
const ENGINES: u64 = 60;

#[test]
#[ignore = "wide: .ci/run runs it"]
fn sound_engines_are_accused_no_more_often_than_one_in_twenty() {
    let mut accused = [0; 2];
    for seed in 0..ENGINES {
        let mut random = Random(9000 + seed);
        let cylinders = [4, 6, 8][seed as usize % 3];
        let mut bench = varied(cylinders, &mut random);
        // Sound cylinders differ by a per cent or so.
        bench.charge.iter_mut().for_each(|charge| *charge += 0.01 * random.normal());
        let outcomes = both(&bench, &engine(cylinders), seed);
        for ((accused, outcome), source) in accused.iter_mut().zip(outcomes).zip(SOURCES) {
            let found = outcome.measured.unwrap();
            assert_eq!(found.source, source);
            *accused += usize::from(found.bank_difference.unwrap().low_bank.is_some());
        }
    }
    for (accused, source) in accused.into_iter().zip(SOURCES) {
        println!("{}: {accused} of {ENGINES} sound engines accused", source.word());
        assert!(accused as f64 <= 0.05 * ENGINES as f64);
    }
}

#[derive(Default)]
struct Named {
    right: u64,
    wrong: u64,
    agree: usize,
    of: usize,
}

#[test]
#[ignore = "wide: .ci/run runs it"]
fn the_low_bank_is_named_from_four_per_cent() {
    let mut by_source = [Named::default(), Named::default()];
    for seed in 0..ENGINES {
        let mut random = Random(5000 + seed);
        let cylinders = [4, 6, 8][seed as usize % 3];
        let mut bench = varied(cylinders, &mut random);
        let low = (seed / 3 % 2) as usize;
        let down = random.between(0.04, 0.15);
        (low..cylinders).step_by(2).for_each(|i| bench.charge[i] = 1.0 - down);
        let outcomes = both(&bench, &engine(cylinders), seed);
        for ((named, outcome), source) in by_source.iter_mut().zip(outcomes).zip(SOURCES) {
            let found = outcome.measured.unwrap();
            assert_eq!(found.source, source);
            let difference = found.bank_difference.unwrap();
            match difference.low_bank {
                Some(bank) if bank as usize == low + 1 => named.right += 1,
                other => {
                    println!("seed {seed} n {cylinders} down {down:.3}: {other:?} {difference:?}");
                    named.wrong += u64::from(other.is_some());
                }
            }
            named.agree += difference.agree;
            named.of += difference.of;
        }
    }
    for (named, source) in by_source.iter().zip(SOURCES) {
        let Named { right, wrong, agree, of } = named;
        println!(
            "{}: {right} of {ENGINES} named, {wrong} wrong, {agree} of {of} cylinders agree",
            source.word()
        );
        assert_eq!(*wrong, 0);
        assert_eq!(*right, ENGINES, "every bank down by 4 % or more is named");
        assert!(*agree as f64 > 0.9 * *of as f64);
    }
}

/// A V6 whose bank 1 intake sensor reads `reads` late while its valves really close `late` later.
fn shifted(late: [f64; 2], reads: [f64; 2]) -> CompressionOutcome {
    let mut bench = Bench::even(6, TDC);
    bench.late = (0..6).map(|i| late[i % 2]).collect();
    let mut random = Random(77);
    let run = bench.crank();
    let teeth = angle(marks(&run, 36, &[35, 36], WORKSHOP, &mut random));
    let (values, clock) = clamp(&run, WORKSHOP, &mut random);
    let shifts = [1, 2].map(|bank| CamShift {
        bank,
        shaft: CamShaft::Intake,
        deviation: CrankDelta(reads[bank as usize - 1]),
        sd: CrankDelta(0.3),
    });
    measure(&CompressionInput {
        engine: &engine(6),
        angle: &teeth,
        datum_offset: Some(CrankDelta(360.0)),
        starter: Some(amperes(&values, &clock)),
        battery: None,
        angle_from: AngleFrom::Crank,
        triggers: &[],
        pressure: &[],
        cam_shifts: &shifts,
    })
}

#[test]
fn a_cam_really_late_agrees_and_a_moved_wheel_contradicts() {
    // (valves late by bank, sensors read, agreement, alike)
    let rows = [
        ([17.1, 0.0], [17.1, 0.0], Agreement::Agrees, false),
        ([0.0, 0.0], [17.1, 0.0], Agreement::Contradicts, false),
        ([0.0, 0.0], [0.0, 0.0], Agreement::Silent, false),
        ([17.1, 17.1], [17.1, 17.1], Agreement::Silent, true),
        ([17.1, 0.0], [0.0, 0.0], Agreement::OtherCause, false),
    ];
    for (late, reads, agreement, alike) in rows {
        let outcome = shifted(late, reads);
        let evidence = CompressionEvidence::of(&engine(6), &outcome).expect("two banks by name");
        let judgement = evidence.judge();
        println!("{late:?} {reads:?} {evidence:?} {judgement:?}");
        assert_eq!(judgement.agreement, agreement, "{late:?} {reads:?}");
        assert_eq!(judgement.all_banks_alike, alike);
        let difference = outcome.measured.unwrap().bank_difference.unwrap();
        if late[0] > 0.0 && late[1] == 0.0 {
            assert_eq!(difference.low_bank, Some(1));
            assert_eq!((difference.agree, difference.of), (3, 3));
        } else {
            assert_eq!(difference.low_bank, None);
        }
    }
}
