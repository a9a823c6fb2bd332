//! One capture in every format gives the same degrees: written as CSV, packed CSV, WAV, NumPy array
//! and archive, and, for a list of changes, as CSV and value change dump, then read back and
//! judged.
//!
//! What may differ is what a format rounds: volts to half a converter step (CSV) or to 1/65,536 of
//! full scale (16-bit WAV), times of changes to a microsecond, which at 250 rpm is 0.0015 crank
//! degrees.

use std::fmt::Write as _;
use std::io::{Cursor, Write as _};
use std::path::Path;

use camwitness::analysis::{Analysis, Checked, Options, analyse};
use camwitness::capture::{Capture, CaptureKind, Clock, ReadOptions, read_bytes};
use camwitness::engine::Engine;
use camwitness::leads::LeadRequest;
use camwitness::practice::{Dialect, Fault, Practice, Scenario, csv_text, generate};
use camwitness::verdict::State;

use super::numpy;

use numpy::{archive, npy};

fn engine() -> Engine {
    Engine::parse(include_str!("../demo-data/engine.toml"), Path::new("engine.toml"))
        .expect("an engine")
}

/// The demonstration engine a tooth late on bank 1.
fn made(kind: CaptureKind) -> Practice {
    let fault = Fault::Skip { shaft: "B1 intake".into(), chain: "primary".into(), teeth: 1 };
    let leads = if kind == CaptureKind::Events { vec![] } else { Scenario::new(engine()).leads };
    let scenario =
        Scenario { faults: vec![fault], kind, leads, seed: 3, ..Scenario::new(engine()) };
    generate(&scenario).expect("a capture")
}

/// Channels by their place, for formats that carry no names. `first` is the place of the first of
/// them.
fn by_place(capture: &Capture, first: usize) -> Vec<LeadRequest> {
    let names = capture.channels.iter().map(|channel| channel.name.clone());
    let request = |(name, column): (String, usize)| LeadRequest {
        name,
        column: column.to_string(),
        amperes_per_volt: None,
    };
    names.zip(first..).map(request).collect()
}

fn judged(capture: &Capture, leads: Vec<LeadRequest>, what: &str) -> Analysis {
    let options = Options { leads, ..Options::default() };
    let analysis = analyse(std::slice::from_ref(capture), &engine(), &options);
    analysis.unwrap_or_else(|error| panic!("{what}: {error}"))
}

fn assert_same(got: &Analysis, want: &Analysis, allowed: f64, what: &str) {
    assert_eq!((got.cams.len(), want.cams.len()), (2, 2), "{what}");
    for (got, want) in got.cams.iter().zip(&want.cams) {
        let (now, then) = (got.deviation().expect("a place"), want.deviation().expect("a place"));
        let apart = (now - then).0.abs();
        println!("{what}: {:.4}°, {apart:.5}° from the capture itself", now.0);
        assert!(apart <= allowed, "{what}: {apart:.4}° apart");
    }
    assert_eq!(got.verdict.state, State::Jumped, "{what}");
    assert_eq!(got.verdict.teeth, Some(1), "{what}");
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut out = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    out.write_all(bytes).expect("memory");
    out.finish().expect("memory")
}

fn wav(capture: &Capture, rate: u32, format: hound::SampleFormat) -> Vec<u8> {
    let bits_per_sample = if format == hound::SampleFormat::Int { 16 } else { 32 };
    let channels = capture.channels.len() as u16;
    let spec =
        hound::WavSpec { channels, sample_rate: rate, bits_per_sample, sample_format: format };
    let mut bytes = Cursor::new(Vec::new());
    let mut out = hound::WavWriter::new(&mut bytes, spec).expect("memory");
    // Full scale per channel, as a scope's range is.
    let full: Vec<f32> = capture
        .channels
        .iter()
        .map(|channel| channel.values.iter().fold(0.0_f32, |most, value| most.max(value.abs())))
        .collect();
    for row in 0..capture.rows() {
        for (channel, full) in capture.channels.iter().zip(&full) {
            let share = channel.values[row] / full;
            let written = match format {
                hound::SampleFormat::Int => out.write_sample((share * 32767.0).round() as i16),
                hound::SampleFormat::Float => out.write_sample(share),
            };
            written.expect("memory");
        }
    }
    out.finalize().expect("memory");
    bytes.into_inner()
}

fn table(capture: &Capture) -> Vec<u8> {
    let mut data = Vec::new();
    for row in 0..capture.rows() {
        data.extend(capture.clock.at(row).0.to_le_bytes());
        for channel in &capture.channels {
            data.extend(f64::from(channel.values[row]).to_le_bytes());
        }
    }
    npy("<f8", &format!("({}, {})", capture.rows(), capture.channels.len() + 1), data)
}

/// An archive of one stored array per column, named (PKWARE APPNOTE 4.3).
fn npz(capture: &Capture) -> Vec<u8> {
    let shape = format!("({},)", capture.rows());
    let times = (0..capture.rows()).flat_map(|row| capture.clock.at(row).0.to_le_bytes()).collect();
    let mut members = vec![("time.npy".to_owned(), npy("<f8", &shape, times))];
    for channel in &capture.channels {
        let data = channel.values.iter().flat_map(|value| value.to_le_bytes()).collect();
        members.push((format!("{}.npy", channel.name), npy("<f4", &shape, data)));
    }
    archive(&members)
}

#[test]
fn a_sampled_capture() {
    let practice = made(CaptureKind::Sampled);
    let capture = &practice.capture;
    let want = judged(capture, vec![], "in memory");
    let csv =
        csv_text(capture, &practice.steps, Dialect::default()).expect("a dialect").into_bytes();
    let (int, float) = (hound::SampleFormat::Int, hound::SampleFormat::Float);
    let Clock::Uniform { step, .. } = capture.clock else { panic!("an even clock") };
    let rate = (1.0 / step.0).round() as u32;
    let times = by_place(capture, 2);
    // (format, file, leads, crank degrees it may be off)
    let rows = [
        ("CSV", csv.clone(), vec![], 0.005),
        ("packed CSV", packed(&csv), vec![], 0.005),
        ("16-bit WAV", wav(capture, rate, int), by_place(capture, 1), 0.005),
        ("float WAV", wav(capture, rate, float), by_place(capture, 1), 0.001),
        ("packed WAV", packed(&wav(capture, rate, int)), by_place(capture, 1), 0.005),
        ("NumPy array", table(capture), times, 1e-6),
        ("NumPy archive", npz(capture), vec![], 1e-6),
    ];
    for (what, bytes, leads, allowed) in rows {
        let read = read_bytes(&bytes, "c", &ReadOptions::default());
        let read = read.unwrap_or_else(|error| panic!("{what}: {error}"));
        assert_eq!((read.rows(), read.kind), (capture.rows(), CaptureKind::Sampled), "{what}");
        assert_same(&judged(&read, leads, what), &want, allowed, what);
    }
}

#[test]
fn a_list_of_changes() {
    let practice = made(CaptureKind::Events);
    let capture = &practice.capture;
    let want = judged(capture, vec![], "in memory");
    let csv =
        csv_text(capture, &practice.steps, Dialect::default()).expect("a dialect").into_bytes();
    let rows = [
        ("CSV", csv.clone(), vec![]),
        ("packed CSV", packed(&csv), vec![]),
        ("value change dump", dump(capture), by_place(capture, 2)),
    ];
    for (what, bytes, leads) in rows {
        let read = read_bytes(&bytes, "c", &ReadOptions::default());
        let read = read.unwrap_or_else(|error| panic!("{what}: {error}"));
        assert_eq!(read.kind, CaptureKind::Events, "{what}");
        assert_same(&judged(&read, leads, what), &want, 0.002, what);
    }
}

/// The changes as IEEE 1364 writes them, in microseconds.
fn dump(capture: &Capture) -> Vec<u8> {
    let mut text = String::from("$timescale 1 us $end\n$scope module bench $end\n");
    let codes = ["!", "\"", "#", "$", "%"];
    for (channel, code) in capture.channels.iter().zip(codes) {
        // A name ends at a blank here; the reader takes what stands there.
        let _ = writeln!(text, "$var wire 1 {code} {} $end", channel.name.replace(' ', "_"));
    }
    text += "$upscope $end\n$enddefinitions $end\n";
    let start = capture.clock.at(0).0;
    for row in 0..capture.rows() {
        let _ = writeln!(text, "#{}", ((capture.clock.at(row).0 - start) * 1e6).round() as u64);
        for (channel, code) in capture.channels.iter().zip(codes) {
            if row == 0 || channel.values[row] != channel.values[row - 1] {
                let _ = writeln!(text, "{}{code}", channel.values[row]);
            }
        }
    }
    text.into_bytes()
}

#[test]
fn a_folder_of_every_format() {
    let practice = made(CaptureKind::Sampled);
    let csv = csv_text(&practice.capture, &practice.steps, Dialect::default()).expect("a dialect");
    let folder = tempfile::tempdir().expect("a folder");
    let write =
        |name: &str, bytes: &[u8]| std::fs::write(folder.path().join(name), bytes).expect(name);
    write("a.csv", csv.as_bytes());
    write("b.csv.gz", &packed(csv.as_bytes()));
    write("c.npz", &npz(&practice.capture));
    write("notes.toml", b"no capture");
    let captures = camwitness::batch::captures_in(folder.path()).expect("three captures");
    let (reading, asked) = (ReadOptions::default(), Options::default());
    let teeth = |checked: &Checked| checked.timing().expect("a crank").verdict.teeth;
    let rows = camwitness::batch::check_all(
        &captures,
        &engine(),
        &reading,
        &asked,
        teeth,
        |error| error.plain(),
        || (),
    );
    let found: Vec<(&str, Option<i32>)> = rows
        .iter()
        .map(|row| (row.capture.as_str(), *row.outcome.as_ref().expect("a finding")))
        .collect();
    assert_eq!(found, [("a.csv", Some(1)), ("b.csv.gz", Some(1)), ("c.npz", Some(1))]);
}
