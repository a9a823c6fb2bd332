//! Bad leads and bad cranking: said in words, the evidence withheld, the next best source used.

use camwitness::angle::AngleFrom;
use camwitness::capture::{Clock, Unit};
use camwitness::compression::{
    CompressionInput, CompressionOutcome, NamedBy, SampledLead, Source, Trigger, TriggerLead,
    Withheld, measure,
};
use camwitness::crank::{CrankAngle, Mark};
use camwitness::engine::Engine;
use camwitness::units::{CrankDelta, CrankTurned, Seconds};

use super::bench::{Bench, Random, WORKSHOP, angle, clamp, marks};
use super::engines::{TDC, engine};

struct Captured {
    teeth: CrankAngle,
    values: Vec<f32>,
    clock: Clock,
}

fn captured(bench: &Bench) -> Captured {
    let mut random = Random(5);
    let run = bench.crank();
    let teeth = angle(marks(&run, 36, &[35, 36], WORKSHOP, &mut random));
    let (values, clock) = clamp(&run, WORKSHOP, &mut random);
    Captured { teeth, values, clock }
}

fn with(
    captured: &Captured,
    engine: &Engine,
    unit: Unit,
    datum_offset: Option<f64>,
    triggers: &[TriggerLead],
) -> CompressionOutcome {
    measure(&CompressionInput {
        engine,
        angle: &captured.teeth,
        datum_offset: datum_offset.map(CrankDelta),
        starter: Some(SampledLead {
            values: (&captured.values).into(),
            clock: &captured.clock,
            unit,
            over_range: &[],
        }),
        battery: None,
        angle_from: AngleFrom::Crank,
        triggers,
        pressure: &[],
        cam_shifts: &[],
    })
}

fn reason(captured: &Captured) -> (Withheld, Option<Source>) {
    let outcome = with(captured, &engine(6), Unit::Amperes, Some(360.0), &[]);
    let reason = outcome.withheld.first().expect("the clamp is refused").1;
    println!("{reason}");
    assert!(!reason.to_string().is_empty());
    (reason, outcome.measured.map(|found| found.source))
}

#[test]
fn a_bad_clamp_is_said_and_crank_speed_stands_in() {
    let bench = Bench::even(6, TDC);
    let speed = Some(Source::CrankSpeed);
    let mut bad = captured(&bench);
    bad.values.iter_mut().for_each(|value| *value = value.min(330.0));
    assert_eq!(reason(&bad), (Withheld::Clipped, speed));

    let mut bad = captured(&bench);
    bad.values.iter_mut().for_each(|value| *value = -*value);
    assert_eq!(reason(&bad), (Withheld::Reversed, speed));

    let mut bad = captured(&bench);
    bad.values.iter_mut().for_each(|value| *value *= 100.0);
    assert!(
        matches!(reason(&bad), (Withheld::WrongScale { mean }, s) if mean > 2500.0 && s == speed)
    );

    // Two seconds of standing still before, the clamp reading 80 A.
    let mut bad = captured(&bench);
    let rest = vec![0.0_f32; 40_000];
    bad.values = rest.into_iter().chain(bad.values).map(|value| value + 80.0).collect();
    let later = |mark: &Mark| Mark { at: mark.at + Seconds(2.0), ..*mark };
    bad.teeth = angle(bad.teeth.marks().iter().map(later).collect());
    assert!(
        matches!(reason(&bad), (Withheld::NotZeroed { reading }, s) if (reading - 80.0).abs() < 1.0 && s == speed)
    );
}

#[test]
fn volts_without_a_scale_give_the_same_relative_compression() {
    let mut bench = Bench::even(6, TDC);
    bench.charge[2] = 0.8;
    let mut capture = captured(&bench);
    let amperes = with(&capture, &engine(6), Unit::Amperes, Some(360.0), &[]).measured.unwrap();
    capture.values.iter_mut().for_each(|value| *value /= 1000.0);
    let volts = with(&capture, &engine(6), Unit::Volts, Some(360.0), &[]).measured.unwrap();
    assert_eq!(volts.source, Source::StarterCurrent);
    for (a, b) in amperes.cylinders.iter().zip(&volts.cylinders) {
        assert!((a.relative - b.relative).abs() < 1e-4);
    }
}

#[test]
fn an_engine_that_fires_or_turns_too_little_is_not_measured_by_it() {
    let mut bench = Bench::even(6, TDC);
    bench.fires_at = Some(3.5);
    bench.seconds = 4.5;
    let outcome = with(&captured(&bench), &engine(6), Unit::Amperes, Some(360.0), &[]);
    let steady = outcome.steady.expect("it cranked first");
    println!("{steady:?}");
    assert!(steady.fired > 0);
    let found = outcome.measured.expect("the cycles before it fired");
    let worst = found.cylinders.iter().map(|c| (c.relative - 1.0).abs()).fold(0.0, f64::max);
    assert!(worst < 0.03, "sound, by the cycles before it fired: {worst}");

    bench.fires_at = Some(0.8);
    let outcome = with(&captured(&bench), &engine(6), Unit::Amperes, Some(360.0), &[]);
    println!("{:?} {:?}", outcome.steady, outcome.withheld);
    assert!(outcome.measured.is_none());
    assert!(
        outcome
            .withheld
            .iter()
            .all(|(_, reason)| matches!(reason, Withheld::EngineStarted { cycles } if *cycles < 3))
    );

    let mut short = Bench::even(6, TDC);
    short.seconds = 1.4;
    let outcome = with(&captured(&short), &engine(6), Unit::Amperes, Some(360.0), &[]);
    assert!(outcome.measured.is_none());
    assert!(matches!(outcome.withheld[0].1, Withheld::FewerThanThreeCycles { whole } if whole < 3));
}

#[test]
fn cylinders_are_named_only_as_far_as_something_names_them() {
    let mut bench = Bench::even(6, TDC);
    bench.charge[3] = 0.7;
    let capture = captured(&bench);
    let low = |outcome: CompressionOutcome| {
        let found = outcome.measured.unwrap();
        let lowest = found
            .cylinders
            .iter()
            .min_by(|a, b| a.relative.total_cmp(&b.relative))
            .map(|c| (c.cylinder, c.bank))
            .unwrap();
        (lowest, found.named_by)
    };
    let v6 = engine(6);
    // The cams settled the phase.
    let named = low(with(&capture, &v6, Unit::Amperes, Some(360.0), &[]));
    assert_eq!(named, ((Some(4), Some(2)), NamedBy::Phase));
    // Nothing settles it: cylinder 4 or its companion 1, which is on the other bank.
    let unknown = low(with(&capture, &v6, Unit::Amperes, None, &[]));
    assert_eq!(unknown, ((None, None), NamedBy::Nothing));
    // An ignition lead on cylinder 2, 12° before its TDC, settles it; a waste spark does not.
    let spark = |waste_spark: bool| {
        let every = if waste_spark { 360.0 } else { 720.0 };
        let pulses = (0..40)
            .map(|i| TDC + 120.0 - 12.0 - 360.0 + f64::from(i) * every)
            .filter_map(|angle| capture.teeth.time_at(CrankTurned(angle)))
            .collect();
        [TriggerLead { cylinder: 2, of: Trigger::Coil, waste_spark, pulses }]
    };
    let named = low(with(&capture, &v6, Unit::Amperes, None, &spark(false)));
    assert_eq!(named.0, (Some(4), Some(2)));
    let waste = low(with(&capture, &v6, Unit::Amperes, None, &spark(true)));
    assert_eq!(waste.0, (None, None));
    assert_eq!(waste.1, NamedBy::Ignition { cylinder: 2, waste_spark: true });
}

#[test]
fn a_moved_crank_wheel_shows_in_tdc_from_the_motion() {
    for (true_tdc, moved) in [(TDC, false), (TDC - 20.0, true), (TDC + 15.0, true)] {
        let capture = captured(&Bench::even(6, true_tdc));
        let outcome = with(&capture, &engine(6), Unit::Amperes, Some(360.0), &[]);
        let check = outcome.tdc.unwrap();
        let off = check.off.unwrap();
        println!("true {true_tdc} {check:?}");
        assert!((off.0 - (true_tdc - TDC)).abs() < 3.5, "within a few degrees: {off:?}");
        assert_eq!(check.has_moved(), moved);
    }
}
