//! The real cranking V6 with one cam's edges moved by whole teeth, and by less: a skip on a
//! recording, made by moving what its sensor saw along the recording's own crank angle. Nothing of
//! it is simulated but the shift.

use camwitness::Options;
use camwitness::analysis::{Analysis, analyse};
use camwitness::capture::{Capture, CaptureKind, Clock};
use camwitness::engine::Engine;
use camwitness::leads::LeadRequest;
use camwitness::units::{CrankTurned, Seconds};
use camwitness::verdict::{State, Weighed};

use crate::recordings::{capture, folder};

const FILE: &str = "v6-cranking-two-bank-cams.csv";
/// A drive of our own, within what single-stage drives have (17 to 26 teeth on the crank): the
/// recording came without one.
const CRANK_TEETH: u32 = 21;
const TOOTH_DEG: f64 = 360.0 / CRANK_TEETH as f64;

fn described() -> Engine {
    let text = format!(
        "{}\n[[chain]]\nname = \"primary\"\nkind = \"chain\"\ndriver = {{ on = \"crank\", teeth = {CRANK_TEETH} }}\n\
         driven = [ {{ on = \"cam A\", teeth = {cam} }}, {{ on = \"cam B\", teeth = {cam} }} ]\n",
        // Nor is it known whether its cams have phasers: that they have none is assumed as well.
        include_str!("recordings/v6.toml")
            .replace("shaft = \"intake\"", "shaft = \"intake\"\nphaser = \"none\""),
        cam = 2 * CRANK_TEETH
    );
    Engine::parse(&text, std::path::Path::new("v6.toml")).expect("a sound description")
}

fn leads() -> Vec<LeadRequest> {
    ["cam A=cam", "cam B=Channel 2"].map(|lead| lead.parse().expect("a lead")).to_vec()
}

fn checked(capture: &Capture, engine: &Engine) -> Analysis {
    let options = Options { leads: leads(), ..Options::default() };
    analyse(std::slice::from_ref(capture), engine, &options).expect("the recording locks")
}

/// Changes of one column: when, and the level from then on.
fn changes(capture: &Capture, channel: usize) -> Vec<(f64, f32)> {
    let Clock::Stamped(stamps) = &capture.clock else { panic!("changes have times") };
    let values = &capture.channels[channel].values;
    let first = (stamps[0], values[0]);
    let rest = (1..stamps.len()).filter(|&row| values[row] != values[row - 1]);
    [first].into_iter().chain(rest.map(|row| (stamps[row], values[row]))).collect()
}

/// The recording with one column's edges later by so many crank degrees.
fn moved(whole: &Capture, column: &str, degrees: f64, sound: &Analysis) -> Capture {
    let angle = &sound.crank.angle;
    retimed(whole, column, |at| {
        let turned = angle.angle_at(Seconds(at))?;
        Some(angle.time_at(CrankTurned(turned.0 + degrees))?.0)
    })
}

/// A capture of changes with those of one column at other times, in the same order; those without
/// one are left out.
pub fn retimed(whole: &Capture, column: &str, later: impl Fn(f64) -> Option<f64>) -> Capture {
    let columns: Vec<Vec<(f64, f32)>> = (0..whole.channels.len())
        .map(|channel| {
            let all = changes(whole, channel);
            if whole.channels[channel].name != column {
                return all;
            }
            // Edges outside the steady turning have no angle to be moved by.
            let kept: Vec<(f64, f32)> =
                all[1..].iter().filter_map(|&(at, level)| Some((later(at)?, level))).collect();
            let before = kept.first().map_or(all[0].1, |first| 1.0 - first.1);
            [(all[0].0, before)].into_iter().chain(kept).collect()
        })
        .collect();
    let mut stamps: Vec<f64> = columns.iter().flatten().map(|change| change.0).collect();
    stamps.sort_by(f64::total_cmp);
    stamps.dedup();
    let mut made = whole.clone();
    for (channel, changes) in made.channels.iter_mut().zip(&columns) {
        let level = |at: f64| changes[changes.partition_point(|change| change.0 <= at) - 1].1;
        channel.values = stamps.iter().map(|&at| level(at)).collect();
        channel.over_range.clear();
    }
    Capture::new(made.source, CaptureKind::Events, Clock::Stamped(stamps), made.channels)
}

#[test]
fn a_cam_of_the_recording_moved_by_whole_teeth_has_jumped_and_by_less_has_not() {
    let Some(folder) = folder() else { return };
    let engine = described();
    // The part in which crank and cams of this recording are in step.
    let whole = capture(&folder, FILE, Some(0.8576), Some(3.5032));
    let sound = checked(&whole, &engine);
    assert_ne!(sound.verdict.state, State::Jumped);
    let difference = |found: &Analysis| found.bank_differences[0].difference.0;
    let mut right = Vec::new();
    for (column, cam, other, sign) in
        [("cam", "cam A", "cam B", 1.0), ("Channel 2", "cam B", "cam A", -1.0)]
    {
        for teeth in [-4, -3, -2, -1, 1, 2, 3, 4] {
            let by = f64::from(teeth) * TOOTH_DEG;
            let made = moved(&whole, column, by, &sound);
            let found = checked(&made, &engine);
            let verdict = &found.verdict;
            let off = difference(&found) - difference(&sound) - sign * by;
            println!(
                "{cam} {teeth:+}: {} {:.4}, {:?} {:?}; moved as asked to {off:+.2} degrees",
                verdict.state.word(),
                verdict.questions.skipped,
                verdict.places.first().map(|place| (&place.on, place.teeth, place.probability)),
                verdict.places.get(1).map(|place| (&place.on, place.teeth, place.probability)),
            );
            // The README gives B - A of single edges to 0.4.
            assert!(off.abs() < 0.4, "{cam} {teeth:+}: {off}");
            let is = |on: &str, teeth: i32| {
                verdict
                    .places
                    .iter()
                    .any(|place| place.on.as_deref() == Some(on) && place.teeth == Some(teeth))
            };
            let named = verdict.on.as_deref() == Some(cam) && verdict.teeth == Some(teeth);
            let both = is(cam, teeth) && is(other, -teeth);
            right.push(verdict.state == State::Jumped && (named || both));
            // The two places come first whether or not it is said that a chain has skipped.
            let first = &verdict.explanations[..2];
            for (on, teeth) in [(cam, teeth), (other, -teeth)] {
                let named =
                    |one: &Weighed| one.on.as_deref() == Some(on) && one.teeth == Some(teeth);
                assert!(first.iter().any(named), "{on} {teeth:+}: {first:?}");
            }
            assert!(verdict.questions.skipped >= 0.99, "{}", verdict.questions.skipped);
        }
        for degrees in [-12.0, -10.0, -7.0, -5.0, -3.0, 3.0, 5.0, 7.0, 10.0, 12.0] {
            let found = checked(&moved(&whole, column, degrees, &sound), &engine);
            let verdict = &found.verdict;
            println!(
                "{cam} {degrees:+} degrees: {} {:.4}",
                verdict.state.word(),
                verdict.questions.skipped
            );
            assert_ne!(verdict.state, State::Jumped, "{cam} {degrees:+}");
        }
    }
    let count = right.iter().filter(|right| **right).count();
    assert_eq!((count, right.len()), (16, 16), "{right:?}");
}
