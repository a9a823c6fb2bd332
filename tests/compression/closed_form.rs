//! Sizes against a closed form: slider-crank and polytrope, with and without friction.

use camwitness::compression::{Compression, Source};

use super::accuracy::{SOURCES, both};
use super::bench::Bench;
use super::engines::{TDC, engine};

/// What an intake that closes 17° late leaves. By hand: volume over clearance (Heywood, eq. 2.6) at
/// r_c = 10.5, R = 3.4 is 9.114138 at 128° and 8.072996 at 111° before TDC; over the atmosphere,
/// 8.072996^1.32 − 1 = 14.750193 against 9.114138^1.32 − 1 = 17.485220.
const LATE_17: f64 = 14.750_193 / 17.485_220;

/// Errors allowed on a cylinder, as a share of the mean: the clamp's noise over some eight cycles,
/// and a polytropic exponent (1.32) that is not the decoder's.
const CLOSE: f64 = 0.015;
/// By the crank's speed the wheel's own errors (0.05° a tooth) add 0.8 % to a cylinder; the worst
/// of six lies three of these off.
const CLOSE_BY_SPEED: f64 = 0.024;

/// Gas that loses nothing, on a battery that does not droop.
fn tight(cylinders: usize) -> Bench {
    Bench { blow_by: 0.0, droop: 0.0, ..Bench::even(cylinders, TDC) }
}

/// Largest error of a cylinder, those of `late` closing their intakes 17° late.
fn largest_error(found: &Compression, late: &[usize]) -> f64 {
    let count = found.cylinders.len() as f64;
    let mean = 1.0 + late.len() as f64 / count * (LATE_17 - 1.0);
    let errors = found.cylinders.iter().enumerate().map(|(at, one)| {
        let share = if late.contains(&at) { LATE_17 } else { 1.0 };
        one.relative - share / mean
    });
    errors.fold(0.0, |most, off| most.max(off.abs()))
}

fn with_late(mut bench: Bench, late: &[usize]) -> Bench {
    late.iter().for_each(|&at| bench.late[at] = 17.0);
    bench
}

#[test]
fn without_friction_sizes_are_those_of_the_closed_form() {
    // Nothing loads the motor: it runs free between two compressions and draws nothing there, so
    // that its current is cut at zero and the crank's speed is what is left to measure.
    let bench = with_late(Bench { friction: 0.0, free_speed: 24.0, ..tight(4) }, &[2]);
    let [_, by_speed] = both(&bench, &engine(4), 5);
    let found = by_speed.measured.expect("measured");
    let error = largest_error(&found, &[2]);
    println!("without friction: {error:.4}");
    assert!(error < CLOSE_BY_SPEED, "{error}");
}

#[test]
fn on_a_friction_alike_at_every_angle_as_well_and_the_peaks_overstate_it() {
    for (cylinders, late) in [(4, &[2][..]), (6, &[1, 3, 5])] {
        let bench = with_late(tight(cylinders), late);
        for (outcome, source) in both(&bench, &engine(cylinders), 5).into_iter().zip(SOURCES) {
            let found = outcome.measured.expect("measured");
            assert_eq!(found.source, source, "{:?}", outcome.withheld);
            let error = largest_error(&found, late);
            let low = &found.cylinders[late[0]];
            println!(
                "{} {cylinders}: {error:.4}, {:.3} raw {:.3}",
                source.word(),
                low.relative,
                low.raw
            );
            let bound = if source == Source::CrankSpeed { CLOSE_BY_SPEED } else { CLOSE };
            assert!(error < bound, "{} {cylinders}: {error}", source.word());
            // The height of a peak above its valleys is more than its share of compression.
            assert!(low.raw < low.relative, "{low:?}");
        }
    }
}
