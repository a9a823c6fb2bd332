//! Several files of one engine: which lead is which in each, and one cam in two of them.

use std::path::Path;

use camwitness::analysis::{Analysis, Options, analyse};
use camwitness::capture::{Capture, ReadOptions, read_bytes};
use camwitness::engine::Engine;

fn engine() -> Engine {
    Engine::parse(include_str!("../demo-data/engine.toml"), Path::new("engine.toml"))
        .expect("an engine")
}

/// Columns of the demonstration's capture, counted from 0, under other headers; rows from a share
/// to a share.
fn part(name: &str, columns: &[usize], header: &str, rows: (f64, f64)) -> Capture {
    let lines: Vec<&str> = include_str!("../demo-data/bank2-late.csv").lines().skip(1).collect();
    let at = |share: f64| (lines.len() as f64 * share) as usize;
    let mut text = format!("{header}\n");
    for line in &lines[at(rows.0)..at(rows.1)] {
        let cells: Vec<&str> = line.split(',').collect();
        let kept: Vec<&str> = columns.iter().map(|&column| cells[column]).collect();
        text += &(kept.join(",") + "\n");
    }
    read_bytes(text.as_bytes(), name, &ReadOptions::default()).expect("reads")
}

const HEADER: &str = "Time (s),Channel 1,Channel 2";

/// Crank and one cam in each of two files, all columns called alike.
fn two_files() -> [Capture; 2] {
    let file = |name, cam| part(name, &[0, 1, cam], HEADER, (0.0, 1.0));
    [file("one.csv", 2), file("two.csv", 3)]
}

fn checked(captures: &[Capture], leads: &[&str]) -> Result<Analysis, String> {
    let leads = leads.iter().map(|lead| lead.parse().expect("a lead")).collect();
    let options = Options { leads, ..Options::default() };
    analyse(captures, &engine(), &options).map_err(|error| error.to_string())
}

/// Cam and deviation of each cam measured.
fn deviations(analysis: &Analysis) -> Vec<(usize, f64)> {
    let off = |cam: &camwitness::cam::CamResult| {
        (cam.measured.cam, cam.deviation().expect("a known expected position").0)
    };
    analysis.cams.iter().map(off).collect()
}

#[test]
fn leads_by_file_and_in_the_files_order_give_what_one_file_gives() {
    let header = "Time (s),crank,B1 intake,B2 intake";
    let whole = part("whole.csv", &[0, 1, 2, 3], header, (0.0, 1.0));
    let want = deviations(&checked(&[whole], &[]).expect("a finding"));
    assert_eq!(want.len(), 2);
    let rows: [&[&str]; 3] = [
        &[
            "one.csv:crank=Channel 1",
            "one.csv:B1 intake=Channel 2",
            "two.csv:crank=Channel 1",
            "two.csv:B2 intake=Channel 2",
        ],
        &["crank=Channel 1", "one.csv:B1 intake=3", "some/folder/two.csv:B2 intake=3"],
        &["crank=2", "B1 intake=3", "crank=2", "B2 intake=3"],
    ];
    for leads in rows {
        let got = deviations(&checked(&two_files(), leads).expect("a finding"));
        assert_eq!(got.len(), 2, "{leads:?}");
        for ((cam, got), (same, want)) in got.iter().zip(&want) {
            // The same edges over the same crank: what is left is the last digit.
            assert!(cam == same && (got - want).abs() < 1e-6, "{leads:?}: {got}, want {want}");
        }
    }
}

#[test]
fn two_cams_under_one_name_are_refused() {
    let message =
        checked(&two_files(), &["crank=Channel 1", "B1 intake=Channel 2"]).expect_err("refused");
    for part in ["one.csv", "two.csv", "\"B1 intake\"", "apart", "FILE:LEAD=COLUMN"] {
        assert!(message.contains(part), "{part}: {message}");
    }
}

#[test]
fn one_cam_in_two_files_that_agree_is_combined() {
    let header = "Time (s),crank,B1 intake,B2 intake";
    let half = |name, rows| part(name, &[0, 1, 2, 3], header, rows);
    let halves = [half("one.csv", (0.0, 0.55)), half("two.csv", (0.45, 1.0))];
    let both = checked(&halves, &[]).expect("a finding");
    for one in &halves {
        let alone = checked(std::slice::from_ref(one), &[]).expect("a finding");
        for (both, alone) in both.cams.iter().zip(&alone.cams) {
            assert!(both.measured.half_width95.0 < alone.measured.half_width95.0);
            assert!(both.measured.cycles.len() > alone.measured.cycles.len());
        }
    }
}

#[test]
fn a_file_that_is_not_there_is_named() {
    let message = checked(&two_files(), &["three.csv:crank=Channel 1"]).expect_err("refused");
    assert!(message.contains("\"three.csv\"") && message.contains("one.csv, two.csv"), "{message}");
    // A colon before what is no lead belongs to the name asked for.
    let message = checked(&two_files(), &["one.csv:piston=2"]).expect_err("refused");
    assert!(message.contains("no lead \"one.csv:piston\""), "{message}");
}
