//! What `look` says of the real recordings, with nothing known but their columns: lead, wheel,
//! speed, and what it must not be sure of. The right answers and traps are those of the README
//! beside the recordings, whose values were worked out independently. The folder is read from the
//! environment variable `CAMWITNESS_CAPTURES`; without it these tests say so and check nothing.

use std::path::PathBuf;

use camwitness::capture::{Capture, CaptureKind, Channel, Clock, ReadOptions, Unit, read};
use camwitness::look::{Doubt, Look, WheelGuess, look};
use camwitness::units::Seconds;
use camwitness::wheel::{EdgeKind, Form};

/// The mean speed is over all that is in sync, which holds more of a spin-up than the reference
/// does; half or twice of it is what this must tell.
const SPEED: f64 = 0.1;

/// What is right.
#[derive(Debug, Clone, Copy)]
enum Right {
    /// A wheel of equal slots on a column: slots, teeth, repeats a turn; and the mean speed in rpm.
    Slots { column: usize, slots: u32, teeth: usize, repeats: u32, rpm: f64 },
    /// Teeth whose steps from mark to mark are these, in degrees, within so much.
    Steps { column: usize, steps: &'static [f64], within: f64 },
    /// So many even teeth of a column in each period of another: which shaft they are on is not in
    /// the data.
    Pair { column: usize, teeth: usize, other: usize },
    /// No wheel may be named; the likeliest has so many teeth, if it matters.
    NotSure { likeliest: Option<usize> },
}

/// The recording with its columns renamed, as a recorder without names gives them.
fn unnamed(capture: &Capture) -> Capture {
    let mut capture = capture.clone();
    for (number, channel) in capture.channels.iter_mut().enumerate() {
        channel.name = format!("Channel {number}");
    }
    capture
}

fn recording(file: &str) -> Option<Capture> {
    let Some(folder) = std::env::var_os("CAMWITNESS_CAPTURES").map(PathBuf::from) else {
        println!("CAMWITNESS_CAPTURES is not set: the real recordings are NOT checked");
        return None;
    };
    Some(read(&folder.join(file), &ReadOptions::default()).expect(file))
}

/// Holds what `look` says of a recording against what is right; with its columns renamed it may be
/// less sure, not different.
fn says(file: &str, right: Right) {
    let Some(capture) = recording(file) else { return };
    let seen = look(&capture, &[]);
    assert!(is_right(&seen, right), "{file}: {:?} on {:?}", seen.wheel, seen.crank);
    let seen = look(&unnamed(&capture), &[]);
    let less_sure = seen.wheel.is_err();
    assert!(less_sure || is_right(&seen, right), "{file} unnamed: {:?}", seen.wheel);
    if capture.kind == CaptureKind::Events {
        let seen = look(&as_volts(&capture), &[]);
        assert!(is_right(&seen, right), "{file} as volts: {:?} on {:?}", seen.wheel, seen.crank);
    }
}

/// What a recorder of volts would have stored of the same signals: two levels, 20,000 samples a
/// second.
fn as_volts(capture: &Capture) -> Capture {
    let step = 1.0 / 20_000.0;
    let (start, end) = capture.span();
    // The last level is held for a while.
    let samples = ((end - start).0 / step) as usize + 100;
    let mut rows = Vec::with_capacity(samples);
    let mut row = 0;
    for sample in 0..samples {
        while row + 1 < capture.rows()
            && capture.clock.at(row + 1).0 <= start.0 + sample as f64 * step
        {
            row += 1;
        }
        rows.push(row);
    }
    let channels = capture.channels.iter().map(|channel| Channel {
        unit: Unit::Volts,
        values: rows.iter().map(|&row| 0.1 + 4.8 * channel.values[row]).collect(),
        ..channel.clone()
    });
    let clock = Clock::Uniform { start, step: Seconds(step) };
    Capture::new(capture.source.clone(), CaptureKind::Sampled, clock, channels.collect())
}

fn is_right(seen: &Look, right: Right) -> bool {
    let on = |column: usize| seen.crank.is_some_and(|index| seen.channels[index].column == column);
    match (right, &seen.wheel) {
        (Right::Slots { column, slots, teeth, repeats, rpm }, Ok(guess)) => {
            let all = match guess.wheel.form() {
                Form::Slots { slots, .. } => *slots,
                _ => return false,
            };
            let like = all == slots
                && guess.wheel.tooth_count() == teeth
                && guess.wheel.repeats() == repeats;
            let mean = seen.lock.as_ref().map_or(0.0, |lock| lock.rpm_mean.0);
            on(column) && like && (mean / rpm - 1.0).abs() < SPEED
        }
        (Right::Steps { column, steps, within }, Ok(guess)) => {
            on(column) && same_steps(guess, steps, within)
        }
        (Right::Pair { column, teeth, other }, Err(Doubt::Pair(pair))) => {
            on(column)
                && pair.even
                && pair.teeth == teeth
                && seen.channels[pair.lead].column == other
                && pair.readings.len() == 2
                && pair.readings.iter().all(|reading| reading.odds < 0.99)
        }
        (Right::NotSure { likeliest: None }, Err(_)) => true,
        (Right::NotSure { likeliest: Some(teeth) }, Err(Doubt::NotSure { best, .. })) => {
            best.wheel.tooth_count() == teeth
        }
        _ => false,
    }
}

fn same_steps(guess: &WheelGuess, steps: &[f64], within: f64) -> bool {
    [EdgeKind::Rising, EdgeKind::Falling].into_iter().any(|kind| {
        let mut marks: Vec<f64> = guess
            .wheel
            .square_edges(EdgeKind::Falling)
            .iter()
            .filter(|edge| edge.kind == kind)
            .map(|edge| edge.at.get())
            .collect();
        marks.sort_by(f64::total_cmp);
        let count = marks.len();
        let step = |i: usize| (marks[(i + 1) % count] - marks[i % count]).rem_euclid(360.0);
        count == steps.len()
            && (0..count).any(|by| (0..count).all(|i| (step(i + by) - steps[i]).abs() < within))
    })
}

#[test]
fn v6_cranking_is_three_gaps_on_the_crank_and_two_cams() {
    let file = "v6-cranking-two-bank-cams.csv";
    says(file, Right::Slots { column: 2, slots: 36, teeth: 30, repeats: 3, rpm: 236.0 });
    let Some(capture) = recording(file) else { return };
    let seen = look(&unnamed(&capture), &[]);
    assert_eq!(seen.cams.len(), 2);
    for cam in &seen.cams {
        assert_eq!(cam.teeth.len(), 6, "{cam:?}");
    }
}

#[test]
fn running_36_2_and_a_cam_of_three_nearly_even_teeth() {
    let right = Right::Slots { column: 2, slots: 36, teeth: 34, repeats: 1, rpm: 1564.0 };
    says("running-36-2-three-tooth-cam.csv", right);
}

#[test]
fn a_start_with_60_2_is_not_60_3_and_constant_columns_are_dead() {
    let file = "start-60-2-single-cam.csv";
    says(file, Right::Slots { column: 2, slots: 60, teeth: 58, repeats: 1, rpm: 626.0 });
    let Some(capture) = recording(file) else { return };
    let seen = look(&capture, &[]);
    assert_eq!(seen.cams.len(), 1);
    assert_eq!(seen.cams[0].teeth.len(), 1);
}

#[test]
fn sampled_reluctance_60_2_is_found_fast_and_slow() {
    let slots = |rpm| Right::Slots { column: 2, slots: 60, teeth: 58, repeats: 1, rpm };
    says("sampled-crank.csv", slots(331.0));
    // Half-lost teeth and wide gap steps: 58 teeth a turn rule out 60-3.
    says("sampled-crank-slow.csv", slots(97.0));
}

#[test]
fn four_uneven_teeth_whose_shares_the_ripple_turns_over_are_named_with_their_cam() {
    let steps = &[70.0, 110.0, 70.0, 110.0];
    says("four-uneven-moving-cam.csv", Right::Steps { column: 2, steps, within: 5.0 });
}

#[test]
fn a_three_cylinder_whose_compressions_are_longer_than_gaps_is_36_2_2() {
    let right = Right::Slots { column: 2, slots: 36, teeth: 32, repeats: 1, rpm: 239.0 };
    says("three-cylinder-ripple.csv", right);
}

#[test]
fn twelve_plus_one_is_no_wheel_of_26_uneven_teeth_over_two_turns() {
    let right = |rpm| Right::Slots { column: 2, slots: 36, teeth: 13, repeats: 1, rpm };
    says("twelve-plus-one-all-plugs-out.csv", right(167.0));
    says("twelve-plus-one-one-plug-out.csv", right(182.0));
}

#[test]
fn a_disc_of_24_and_1_is_a_pair_and_its_shaft_is_left_open() {
    let file = "disc-24-plus-1.csv";
    says(file, Right::Pair { column: 2, teeth: 24, other: 3 });
    let Some(capture) = recording(file) else { return };
    let Err(Doubt::Pair(pair)) = look(&capture, &[]).wheel else { panic!("a pair") };
    let place = |kind: EdgeKind, after: EdgeKind| {
        let place = pair.places.iter().find(|place| place.kind == kind && place.after == after);
        place.expect("the place of each edge after each edge").steps
    };
    use EdgeKind::{Falling, Rising};
    let reference = [
        ((Rising, Rising), 0.315),
        ((Rising, Falling), 0.881),
        ((Falling, Rising), 0.701),
        ((Falling, Falling), 0.267),
    ];
    for ((kind, after), steps) in reference {
        assert!((place(kind, after) - steps).abs() < 0.005, "{kind:?} after {after:?}");
    }
}

#[test]
fn jitter_of_a_degree_makes_neither_missing_nor_extra_teeth_of_36_2() {
    let right = Right::Slots { column: 2, slots: 36, teeth: 34, repeats: 1, rpm: 316.6 };
    says("noisy-36-2.csv", right);
}

#[test]
fn an_igniter_beside_discs_leaves_everything_open() {
    says("igniter-beside-discs.csv", Right::NotSure { likeliest: None });
}

#[test]
fn lost_teeth_of_six_and_seven_leave_the_wheel_likely_and_no_more() {
    says("six-and-seven.csv", Right::NotSure { likeliest: Some(6) });
}
