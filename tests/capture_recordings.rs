//! The reader against the recordings of `CAMWITNESS_CAPTURES`.
//!
//! Row counts, times and levels are those of the recordings' own README and of the files' first and
//! last lines, read by eye.

use std::path::PathBuf;

use camwitness::capture::{self, Capture, CaptureKind, Clock, ReadOptions, Unit};

fn recording(name: &str) -> Option<Capture> {
    let Some(folder) = std::env::var_os("CAMWITNESS_CAPTURES") else {
        eprintln!("not run: CAMWITNESS_CAPTURES does not name the folder of recordings");
        return None;
    };
    let path = PathBuf::from(folder).join(name);
    Some(capture::read(&path, &ReadOptions::default()).expect("the recording reads"))
}

fn names(capture: &Capture) -> Vec<&str> {
    capture.channels.iter().map(|channel| channel.name.as_str()).collect()
}

#[test]
fn v6_cranking_is_an_event_list() {
    let Some(capture) = recording("v6-cranking-two-bank-cams.csv") else { return };
    assert_eq!(capture.kind, CaptureKind::Events);
    assert_eq!(capture.rows(), 812);
    assert_eq!(names(&capture), ["crank", "cam", "Channel 2"]);
    assert_eq!(capture.channels[2].column, 4);
    assert_eq!(capture.channels[0].unit, Unit::Level);
    assert_eq!(capture.clock.at(2).0, 0.695_491_167);
    assert_eq!(capture.span().1.0, 3.872_768);
    let row = |row: usize| capture.channels.iter().map(|c| c.values[row]).collect::<Vec<_>>();
    assert_eq!(row(0), [0.0, 0.0, 1.0]);
    assert_eq!(row(811), [1.0, 1.0, 1.0]);
}

#[test]
fn running_36_2_is_an_event_list() {
    let Some(capture) = recording("running-36-2-three-tooth-cam.csv") else { return };
    assert_eq!(capture.kind, CaptureKind::Events);
    assert_eq!(capture.rows(), 1581);
    assert_eq!(capture.clock.at(1).0, 0.000_141_125);
    assert_eq!(capture.span().1.0, 0.851_968);
}

#[test]
fn start_60_2_has_blanks_after_its_commas() {
    let Some(capture) = recording("start-60-2-single-cam.csv") else { return };
    assert_eq!(capture.kind, CaptureKind::Events);
    assert_eq!(capture.rows(), 5196);
    assert_eq!(capture.channels.len(), 8);
    assert_eq!(capture.channels[7].name, "Channel 7");
    assert_eq!(capture.span().1.0, 7.012_169_999_999_999);
}

#[test]
fn sampled_crank_is_a_uniform_clock_at_10_khz() {
    let Some(capture) = recording("sampled-crank.csv") else { return };
    assert_eq!(capture.kind, CaptureKind::Sampled);
    assert_eq!(capture.rows(), 20_000);
    assert_eq!(names(&capture), ["crank"]);
    assert_eq!(capture.channels[0].unit, Unit::Volts);
    let Clock::Uniform { start, step } = capture.clock else { panic!("uneven clock") };
    assert_eq!(start.0, 1.000_098_5);
    assert!((step.0 - 1e-4).abs() < 1e-12, "step {}", step.0);
    assert_eq!(capture.channels[0].values[19_999], 3.34);
}
