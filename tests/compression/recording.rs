//! The real V6 recording, cranked by its starter: crank speed alone.
//!
//! The marks are built by the reference facts that came with the recording: 36-2-2-2 with three groups
//! of ten teeth, falling edges, in sync from 0.8576 to 3.5032 s.

use std::path::{Path, PathBuf};

use camwitness::compression::{CompressionInput, Source, measure};
use camwitness::crank::Mark;
use camwitness::engine::Engine;
use camwitness::units::{CrankTurned, Seconds};

use crate::bench::Teeth;

/// The folder of recordings, or `None`, saying so.
fn captures() -> Option<PathBuf> {
    let folder = std::env::var_os("CAMWITNESS_CAPTURES").map(PathBuf::from);
    if folder.is_none() {
        println!("CAMWITNESS_CAPTURES is not set: the recordings were NOT tested");
    }
    folder
}

fn marks_of(text: &str) -> Vec<Mark> {
    let mut last = 1.0;
    let mut falls = Vec::new();
    for line in text.lines().skip(1) {
        let mut cells = line.split(',').map(|cell| cell.trim().parse::<f64>().unwrap());
        let (time, level) = (cells.next().unwrap(), cells.next().unwrap());
        if last == 1.0 && level == 0.0 && (0.857..3.5035).contains(&time) {
            falls.push(time);
        }
        last = level;
    }
    // The first is the datum tooth; after every tenth tooth two are missing.
    falls
        .iter()
        .enumerate()
        .map(|(i, &time)| Mark {
            at: Seconds(time),
            turned: CrankTurned((i / 10 * 12 + i % 10) as f64 * 10.0),
        })
        .collect()
}

#[test]
fn the_real_v6_shows_six_compressions_with_intervals() {
    let Some(folder) = captures() else { return };
    let text = std::fs::read_to_string(folder.join("v6-cranking-two-bank-cams.csv")).unwrap();
    let teeth = Teeth { marks: marks_of(&text), modulo: 120.0 };
    let engine = Engine::parse(
        "name = \"V6\"\nfiring_order = [1, 2, 3, 4, 5, 6]\n[banks]\n1 = [1, 3, 5]\n2 = [2, 4, 6]\n\
         [crank]\nwheel = \"36-2\"\nsensor = \"hall\"\n",
        Path::new("v6.toml"),
    )
    .unwrap();
    let outcome = measure(&CompressionInput {
        engine: &engine,
        clock: &teeth,
        datum_offset: None,
        starter: None,
        battery: None,
        ignition: &[],
        pressure: &[],
        cam_shifts: &[],
    });
    println!("{:?} {:?} {:?}", outcome.steady, outcome.withheld, outcome.tdc);
    let found = outcome.measured.expect("a statement");
    for cylinder in &found.cylinders {
        println!("peak {} {:.4} {:?}", cylinder.peak, cylinder.relative, cylinder.ci95);
    }
    println!(
        "{:?} explained {:.3} odd {}",
        found.bank_difference, found.explained, found.cycles_odd
    );
    assert_eq!(found.source, Source::CrankSpeed);
    assert_eq!(found.dips_per_cycle, 6);
    // The reference gives eight turns of 239.2 to 241.8 rpm after two (194 and 232) of running up; the
    // stretch may hold a part of those two.
    let steady = outcome.steady.expect("it cranks steadily");
    assert!((238.0..241.8).contains(&steady.rpm.0), "{:?}", steady.rpm);
    for cylinder in &found.cylinders {
        let (low, high) = cylinder.ci95;
        // Four or five cycles, and a motion the model explains to 0.82: about ±11 % is what this record
        // gives a cylinder, measured, not asked for. Wider than ±15 % would be no statement.
        assert!(low < cylinder.relative && cylinder.relative < high && high - low < 0.3);
        // Nothing names a cylinder: no tdc, and the crank wheel repeats.
        assert_eq!((cylinder.cylinder, cylinder.bank), (None, None));
    }
    assert_eq!(found.bank_difference.map(|difference| difference.low_bank), Some(None));
}
