//! Any bytes as a capture, through the whole `check` and `look`, against an engine chosen by the
//! first byte.
//!
//! A random file is refused by the reader nearly always, so two of three modes build a readable
//! capture of the bytes: samples of one byte each, or changes with the time since the last one.
#![no_main]

use std::fmt::Write as _;
use std::path::Path;
use std::sync::LazyLock;

use camwitness::analysis::{Analysis, Options, analyse};
use camwitness::capture::{Capture, Limits, ReadOptions, read_bytes};
use camwitness::engine::Engine;
use camwitness::leads::LeadRequest;
use camwitness::look::look;
use camwitness::report;
use libfuzzer_sys::fuzz_target;

/// More bytes make one execution slow and find little more.
const MOST_BYTES: usize = 40_000;

static ENGINES: LazyLock<Vec<Engine>> = LazyLock::new(|| {
    let texts = [
        include_str!("../../demo-data/engine.toml"),
        include_str!("../../tests/report/one-cam.toml"),
        include_str!("../../tests/report/three-cams.toml"),
        include_str!("../../tests/report/four-cams.toml"),
        include_str!("../../tests/recordings/v6.toml"),
        include_str!("../../tests/recordings/sampled.toml"),
    ];
    texts.map(|text| Engine::parse(text, Path::new("engine.toml")).expect("an engine")).into()
});

fuzz_target!(|input: &[u8]| {
    let [engine, said, mode, file @ ..] = input else { return };
    let engine = &ENGINES[usize::from(*engine) % ENGINES.len()];
    let file = &file[..file.len().min(MOST_BYTES)];
    let bytes = match mode % 3 {
        0 => file.to_vec(),
        1 => samples(file, *said),
        _ => changes(file, *said),
    };
    let limits = Limits { held_bytes: 1 << 20, values: 1 << 18, ..Limits::default() };
    let options = ReadOptions { limits, ..ReadOptions::default() };
    let Ok(capture) = read_bytes(&bytes, "input", &options) else { return };
    let _ = report::look::write(&look(&capture, &[]), None);
    let leads = if mode % 3 == 1 { leads(engine, &capture) } else { Vec::new() };
    let asked = Options { leads, codes: vec!["P0016".into()], ..Options::default() };
    if let Ok(analysis) = analyse(std::slice::from_ref(&capture), engine, &asked) {
        hold(&analysis, &capture, *said);
    }
});

/// A WAV file of one byte per sample, two to four channels.
fn samples(file: &[u8], said: u8) -> Vec<u8> {
    let channels = 2 + u16::from(said & 0x03) % 3;
    let rate = 500_u32 << (said >> 4 & 0x03);
    let whole = file.len() - file.len() % usize::from(channels);
    let length = whole as u32;
    let mut bytes = Vec::with_capacity(whole + 44);
    bytes.extend_from_slice(b"RIFF");
    bytes.extend_from_slice(&(length + 36).to_le_bytes());
    bytes.extend_from_slice(b"WAVEfmt \x10\0\0\0\x01\0");
    bytes.extend_from_slice(&channels.to_le_bytes());
    bytes.extend_from_slice(&rate.to_le_bytes());
    bytes.extend_from_slice(&(rate * u32::from(channels)).to_le_bytes());
    bytes.extend_from_slice(&channels.to_le_bytes());
    bytes.extend_from_slice(b"\x08\0data");
    bytes.extend_from_slice(&length.to_le_bytes());
    bytes.extend_from_slice(&file[..whole]);
    bytes
}

/// A list of changes: two bits say which line toggles, six bits how long after the last change.
fn changes(file: &[u8], said: u8) -> Vec<u8> {
    let tick = 20_u64 << (said >> 4 & 0x07);
    let mut text = String::from("time (us),crank,B1 intake,B2 intake,starter\n");
    let (mut time, mut levels) = (0_u64, [0_u8; 4]);
    for byte in file {
        time += u64::from(byte & 0x3f) * tick + 1;
        levels[usize::from(byte >> 6)] ^= 1;
        let [crank, first, second, starter] = levels;
        let _ = writeln!(text, "{time},{crank},{first},{second},{starter}");
    }
    text.into_bytes()
}

fn leads(engine: &Engine, capture: &Capture) -> Vec<LeadRequest> {
    let names = std::iter::once("crank").chain(engine.cams.iter().map(|cam| cam.name.as_str()));
    let named = names.zip(&capture.channels).map(|(name, channel)| LeadRequest {
        name: name.to_owned(),
        column: channel.column.to_string(),
        amperes_per_volt: None,
    });
    named.collect()
}

fn hold(analysis: &Analysis, capture: &Capture, said: u8) {
    let sum: f64 = analysis.verdict.explanations.iter().map(|said| said.probability).sum();
    assert!((sum - 1.0).abs() < 1e-6, "probabilities sum to {sum}");
    for cam in &analysis.cams {
        let shown = format!("{cam:?}");
        assert!(!shown.contains("NaN"), "{shown}");
    }
    let text = report::text::write(analysis);
    assert!(finite(&text), "{text}");
    let _ = report::json::write(analysis);
    if said & 0x80 != 0 {
        let captures = std::slice::from_ref(capture);
        let job = report::job::Job::default();
        let _ = report::html::write(analysis, captures, &job);
    }
}

/// Whether no number of a text is NaN or infinite.
fn finite(text: &str) -> bool {
    !text.split(|letter: char| !letter.is_alphabetic()).any(|word| ["NaN", "inf"].contains(&word))
}
