//! What `look` says of wheels, cams and motions that neither practice nor the priors were made for:
//! edges drawn here from an angle that is summed step by step, with ripple of another shape, wheels
//! that are in no library among them. Of such a capture it may be unsure; it must not be sure and
//! wrong.

use camwitness::capture::{Capture, CaptureKind, Channel, Clock, Unit};
use camwitness::look::{WheelGuess, look};
use camwitness::wheel::EdgeKind;

use crate::calibration::harness::chance::Chance;

/// Starts and ends of teeth, shaft degrees.
type Teeth = Vec<(f64, f64)>;

/// Equal slots, some of them empty (counted from 1), the teeth so wide a share of a slot.
fn slots(count: usize, missing: &[usize], width: f64) -> Teeth {
    let step = 360.0 / count as f64;
    let at = |slot: usize| (slot as f64 * step, (slot as f64 + width) * step);
    (0..count).filter(|slot| !missing.contains(&(slot + 1))).map(at).collect()
}

fn with(mut teeth: Teeth, more: (f64, f64)) -> Teeth {
    teeth.push(more);
    teeth.sort_by(|a, b| a.0.total_cmp(&b.0));
    teeth
}

fn crank_wheels() -> Vec<Teeth> {
    vec![
        slots(60, &[59, 60], 0.4),
        slots(60, &[59, 60], 0.7),
        slots(36, &[35, 36], 0.45),
        slots(36, &[36], 0.3),
        slots(30, &[30], 0.5),
        slots(30, &[29, 30], 0.5),
        slots(24, &[23, 24], 0.5),
        slots(40, &[39, 40], 0.5),
        slots(48, &[47, 48], 0.5),
        slots(32, &[31, 32], 0.5),
        slots(36, &[33, 34, 35, 36], 0.5),
        slots(44, &[21, 22, 43, 44], 0.5),
        slots(66, &[21, 22, 43, 44, 65, 66], 0.5),
        slots(12, &[12], 0.5),
        slots(12, &[11, 12], 0.5),
        slots(8, &[8], 0.5),
        slots(6, &[6], 0.5),
        slots(4, &[4], 0.5),
        with(slots(8, &[], 0.3), (330.0, 338.0)),
        with(slots(6, &[], 0.25), (30.0, 40.0)),
        slots(3, &[], 0.3),
        slots(4, &[], 0.4),
        slots(15, &[], 0.5),
        vec![(0.0, 12.0), (60.0, 72.0), (150.0, 162.0), (190.0, 200.0), (290.0, 300.0)],
        vec![(0.0, 20.0), (110.0, 130.0)],
    ]
}

fn cam_wheels() -> Vec<Teeth> {
    vec![
        vec![(0.0, 6.0)],
        vec![(0.0, 40.0)],
        vec![(0.0, 180.0)],
        vec![(0.0, 20.0), (120.0, 140.0), (150.0, 165.0), (240.0, 260.0)],
        slots(4, &[], 0.33),
        slots(3, &[], 0.25),
        vec![(0.0, 20.0), (70.0, 130.0), (180.0, 200.0), (250.0, 310.0)],
        vec![(0.0, 60.0), (150.0, 180.0)],
        vec![(0.0, 10.0), (50.0, 75.0), (140.0, 150.0), (210.0, 245.0), (300.0, 312.0)],
    ]
}

/// Degrees of a step of the motion.
const STEP: f64 = 0.5;

/// When the crank stood at each multiple of `STEP`.
fn motion(chance: &mut Chance) -> Vec<f64> {
    let running = chance.yes(0.2);
    let starts = !running && chance.yes(0.3);
    let (least, most) = if running { (700.0, 2800.0) } else { (110.0, 280.0) };
    let rpm = chance.between(least, most);
    let swing = if running { 0.03 } else { 0.05 + 0.3 * chance.unit() };
    let cylinders = chance.one(&[3.0, 4.0, 4.0, 6.0, 6.0, 8.0]);
    let strengths: Vec<f64> =
        (0..8).map(|_| if chance.yes(0.03) { 0.1 } else { 0.9 + 0.2 * chance.unit() }).collect();
    let phase = 720.0 * chance.unit();
    let seconds = chance.between(2.5, 6.0);
    let mut at = vec![0.3];
    for step in 0.. {
        let turned = f64::from(step) * STEP;
        let along = ((turned + phase) % 720.0) / (720.0 / cylinders);
        // A slow, narrow compression and a long way between.
        let wave = (std::f64::consts::TAU * along.fract()).cos();
        let wave = strengths[along as usize % 8] * (wave + 0.25 * (2.0 * wave * wave - 1.0));
        let run_up = 1.0 - 0.9 * (-(turned + 60.0) / 200.0).exp();
        let fires = if starts { 1.0 + ((turned - 2000.0) / 1500.0).clamp(0.0, 3.0) } else { 1.0 };
        let speed = 6.0 * rpm * (1.0 - swing * wave) * run_up * fires;
        let time = at[at.len() - 1] + STEP / speed.max(20.0);
        if time > seconds || at.len() > 400_000 {
            return at;
        }
        at.push(time);
    }
    at
}

/// Times and new levels of a wheel's edges, `gear` crank turns a turn of its shaft, its start
/// anywhere; each place a little off its drawing, each edge by `jitter` degrees more.
fn edges(
    teeth: &Teeth,
    gear: f64,
    at: &[f64],
    jitter: f64,
    chance: &mut Chance,
) -> Vec<(f64, bool)> {
    let off = 360.0 * gear * chance.unit();
    let placed: Vec<f64> = teeth.iter().map(|_| 0.3 * (chance.unit() - 0.5)).collect();
    let end = (at.len() - 2) as f64 * STEP;
    let mut all = Vec::new();
    for turn in -1..=(end / (360.0 * gear)) as i32 {
        for (tooth, placed) in teeth.iter().zip(&placed) {
            for (place, level) in [(tooth.0, true), (tooth.1, false)] {
                let place = (place + placed + 360.0 * f64::from(turn)) * gear + off;
                let place = place + jitter * 1.7 * (chance.unit() + chance.unit() - 1.0);
                if place > 0.0 && place < end {
                    let step = (place / STEP) as usize;
                    let share = place / STEP - step as f64;
                    all.push((at[step] + share * (at[step + 1] - at[step]), level));
                }
            }
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}

struct Case {
    capture: Capture,
    /// Index of the crank's channel.
    crank: usize,
    wheel: Teeth,
}

fn draw(seed: u64) -> Case {
    let mut chance = Chance::new(seed);
    let cranks = crank_wheels();
    let wheel = cranks[chance.weighted(&vec![1.0; cranks.len()])].clone();
    let at = motion(&mut chance);
    let jitter = chance.one(&[0.0, 0.02, 0.05, 0.2]);
    let mut channels = vec![("crank", edges(&wheel, 1.0, &at, jitter, &mut chance))];
    if chance.yes(0.3) {
        for _ in 0..=chance.weighted(&[1.0, 1.0, 1.0]) {
            // A tooth that the sensor loses: its two edges.
            let crank = &mut channels[0].1;
            let tooth = (chance.unit() * (crank.len() - 4) as f64) as usize + 1;
            if crank[tooth].1 {
                crank.drain(tooth..tooth + 2);
            }
        }
    }
    for _ in 0..chance.weighted(&[1.0, 3.0, 2.0]) {
        let cams = cam_wheels();
        let cam = &cams[chance.weighted(&vec![1.0; cams.len()])];
        channels.push(("cam", edges(cam, 2.0, &at, jitter, &mut chance)));
    }
    let named = chance.yes(0.5);
    let last_first = chance.yes(0.5);
    let crank = if last_first { channels.len() - 1 } else { 0 };
    if last_first {
        channels.reverse();
    }
    Case { capture: capture(&channels, named, chance.yes(0.5)), crank, wheel }
}

/// A logic analyser's list of changes, microseconds apart.
fn capture(channels: &[(&str, Vec<(f64, bool)>)], named: bool, inverted: bool) -> Capture {
    let mut changes: Vec<(f64, usize, bool)> = Vec::new();
    for (index, (_, edges)) in channels.iter().enumerate() {
        changes.extend(edges.iter().map(|&(at, level)| (at, index, level)));
    }
    changes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let first = |index: usize| {
        changes.iter().find(|change| change.1 == index).is_some_and(|change| !change.2)
    };
    let mut levels: Vec<bool> = (0..channels.len()).map(first).collect();
    let mut times = vec![0.0];
    let volts = |level: bool| f32::from(u8::from(level != inverted));
    let mut values: Vec<Vec<f32>> = levels.iter().map(|&level| vec![volts(level)]).collect();
    for (at, index, level) in changes {
        levels[index] = level;
        let at = (at * 1e6).round() / 1e6;
        if at > times[times.len() - 1] {
            times.push(at);
            values.iter_mut().zip(&levels).for_each(|(all, &level)| all.push(volts(level)));
        } else {
            for (all, &level) in values.iter_mut().zip(&levels) {
                all.pop();
                all.push(volts(level));
            }
        }
    }
    let channels = channels.iter().zip(values).enumerate().map(|(index, ((name, _), values))| {
        let name = if named { format!("{name} {index}") } else { format!("Channel {index}") };
        let (column, unit, values) = (index + 2, Unit::Volts, values.into());
        Channel { name, column, unit, values, over_range: Vec::new() }
    });
    Capture::new("x.csv".into(), CaptureKind::Events, Clock::Stamped(times), channels.collect())
}

/// Whether the wheel that is named has the steps of the one that was drawn.
fn is_right(guess: &WheelGuess, wheel: &Teeth) -> bool {
    let steps = |marks: &[f64]| -> Vec<f64> {
        let count = marks.len();
        (0..count)
            .map(|at| match (marks[(at + 1) % count] - marks[at]).rem_euclid(360.0) {
                0.0 => 360.0,
                step => step,
            })
            .collect()
    };
    // Ripple moves the teeth of a coarse wheel by that much; a finer one must be nearer.
    let near = 5.0_f64.min(100.0 / wheel.len() as f64);
    let alike = |a: &[f64], b: &[f64]| {
        let (a, b) = (steps(a), steps(b));
        let count = a.len();
        count == b.len()
            && (0..count).any(|by| (0..count).all(|at| (a[at] - b[(at + by) % count]).abs() < near))
    };
    let starts: Vec<f64> = wheel.iter().map(|tooth| tooth.0).collect();
    let ends: Vec<f64> = wheel.iter().map(|tooth| tooth.1).collect();
    let edges = guess.wheel.square_edges(EdgeKind::Falling);
    [EdgeKind::Rising, EdgeKind::Falling].iter().any(|kind| {
        let mut marks: Vec<f64> =
            edges.iter().filter(|edge| edge.kind == *kind).map(|edge| edge.at.get()).collect();
        marks.sort_by(f64::total_cmp);
        alike(&marks, &starts) || alike(&marks, &ends)
    })
}

/// Right and sure, sure, of all.
fn count(seeds: std::ops::Range<u64>) -> (usize, usize, usize) {
    let (mut right, mut sure) = (0, 0);
    for seed in seeds.clone() {
        let case = draw(seed);
        let seen = look(&case.capture, &[]);
        let Ok(guess) = &seen.wheel else { continue };
        sure += 1;
        if seen.crank == Some(case.crank) && is_right(guess, &case.wheel) {
            right += 1;
        } else {
            println!("seed {seed}: {} at {:.4}, {:?}", guess.name, guess.confidence, case.wheel);
        }
    }
    println!("of {seeds:?}: {right} right and sure of {sure} that are sure");
    (right, sure, seeds.count())
}

/// Wheels are drawn alike here, the commonest as often as one that nobody has met, and `look` weighs
/// them by how common they are: sure at 0.99, it may be wrong of more than one in a hundred.
/// Measured on these seeds: 36 right of 36 that are sure.
#[test]
#[ignore = "wide: .ci/run runs it"]
fn what_it_is_sure_of_is_right_on_wheels_it_was_not_made_for() {
    let (right, sure, all) = count(1000..1080);
    assert!(sure - right <= all / 40, "{right} of {sure} right, of {all}");
    assert!(5 * right >= 2 * all, "{right} of {all} named");
}
