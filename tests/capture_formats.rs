//! The same capture in every format gives the same times and values.
//!
//! The files were made by NumPy, SciPy and Python's gzip and zipfile:
//! `tests/fixtures/formats/make.py`. The value change dump is written by hand after IEEE 1364.

use std::path::{Path, PathBuf};

use camwitness::capture::{
    Capture, CaptureKind, Limits, ReadOptions, Remark, Unit, Why, read, read_bytes,
};
use proptest::prelude::*;

use super::numpy;

use numpy::{archive, npy};

fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/formats").join(name)
}

fn fixture(name: &str, rate: Option<f64>) -> Capture {
    let options = ReadOptions { rate, ..ReadOptions::default() };
    read(&path(name), &options).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn assert_same(name: &str, got: &Capture, want: &Capture, scale: f32) {
    assert_eq!(got.kind, want.kind, "{name}");
    assert_eq!(got.rows(), want.rows(), "{name}");
    for row in 0..want.rows() {
        let (got, want) = (got.clock.at(row).0, want.clock.at(row).0);
        // Half a unit in the last place of single precision, in which one fixture has its times.
        assert!((got - want).abs() < 1e-9, "{name}: row {row} at {got}, want {want}");
    }
    assert_eq!(got.channels.len(), want.channels.len(), "{name}");
    for (got, want) in got.channels.iter().zip(&want.channels) {
        let scaled: Vec<f32> = want.values.iter().map(|value| value * scale).collect();
        assert_eq!(got.values, scaled, "{name}: {}", want.name);
    }
}

#[test]
fn sampled_captures_agree() {
    let want = fixture("sampled.csv", None);
    assert_eq!((want.rows(), want.kind), (64, CaptureKind::Sampled));
    let rows = [
        ("sampled.csv.gz", None, 1.0),
        ("sampled.npy", None, 1.0),
        ("columns.npy", None, 1.0),
        ("whole.npy", Some(8000.0), 16.0),
        ("named.npz", None, 1.0),
        ("table.npz", None, 1.0),
        ("sampled.wav", None, 1.0),
        ("float.wav", None, 1.0),
        ("double.wav", None, 1.0),
        ("records.npy", None, 1.0),
        ("sampled.zip", None, 1.0),
    ];
    for (name, rate, scale) in rows {
        assert_same(name, &fixture(name, rate), &want, scale);
    }
    assert_eq!(fixture("sampled.csv.gz", None).channels[1].name, "cam");
    assert_eq!(fixture("sampled.npy", None).channels[1].column, 3);
    assert_eq!(fixture("named.npz", None).channels[1].name, "cam");
    assert_eq!(fixture("sampled.wav", None).channels[1].name, "column 2");
}

#[test]
fn event_lists_agree() {
    let (want, got) = (fixture("events.csv", None), fixture("events.vcd", None));
    assert_eq!(want.kind, CaptureKind::Events);
    assert_same("events.vcd", &got, &want, 1.0);
    assert_eq!(got.channels[1].name, "cam");
    assert_eq!(got.channels[1].unit, Unit::Level);
}

#[test]
fn a_dump_may_be_in_any_unicode() {
    let want = fixture("events.vcd", None);
    let text = std::fs::read_to_string(path("events.vcd")).expect("the fixture is there");
    let low_first = |marked: &str| marked.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let high_first = |marked: &str| marked.encode_utf16().flat_map(u16::to_be_bytes).collect();
    let marked = format!("\u{feff}{text}");
    let forms: [Vec<u8>; 5] = [
        marked.clone().into_bytes(),
        low_first(&marked),
        high_first(&marked),
        low_first(&text),
        high_first(&text),
    ];
    for form in &forms {
        let got = read_bytes(form, "dump", &ReadOptions::default()).expect("the same dump");
        assert_same("a dump", &got, &want, 1.0);
        assert_eq!(got.channels[1].name, "cam");
    }
    assert_eq!(forms[1], std::fs::read(path("events-utf16.vcd")).expect("the fixture is there"));
}

/// The end of the line is missing, so more may be: what stands there is left out, as a row cut short
/// is.
#[test]
fn a_dump_cut_short_keeps_what_is_whole() {
    let text = std::fs::read_to_string(path("events.vcd")).expect("the fixture is there");
    let read = |text: &str| read_bytes(text.as_bytes(), "dump", &ReadOptions::default());
    let to = |end: &str| &text[..text.rfind(end).expect("it is there") + end.len()];
    for (end, line, found) in
        [("#1000", 25, "#1000"), ("#10", 25, "#10"), ("1!\n0\"", 24, "0\""), ("#37", 22, "#37")]
    {
        let capture = read(to(end)).unwrap_or_else(|error| panic!("{end}: {error}"));
        let whole =
            read(&text[..text[..to(end).len()].rfind('\n').unwrap() + 1]).expect("whole lines");
        assert_same(end, &capture, &whole, 1.0);
        let Some(Remark::Tail { line: at, found: said, .. }) = capture.notes.remarks.first() else {
            panic!("{end}: {:?}", capture.notes.remarks);
        };
        assert_eq!((*at, &said[..]), (line, &format!("`{}`", found.escape_debug())[..]));
    }
    let message = read(to("$dumpvars\n0")).expect_err("nothing is left").to_string();
    assert!(message.contains("is damaged (unexpected end"), "{message}");
}

/// The sound file with chunks before its format and between format and samples.
fn with_chunks(chunks: &[&[u8]]) -> Vec<u8> {
    let bytes = std::fs::read(path("sampled.wav")).expect("the fixture is there");
    let (head, rest) = bytes.split_at(12);
    // `fmt ` is 16 bytes behind its mark and size.
    let (format, samples) = rest.split_at(24);
    [head, &chunks.concat(), format, &chunks.concat(), samples].concat()
}

#[test]
fn other_chunks_of_a_sound_file_are_passed_over() {
    let want = fixture("sampled.csv", None);
    let list = b"LIST\x05\0\0\0INFO!\0";
    let forgotten = b"LIST\x05\0\0\0INFO!";
    let junk = b"JUNK\x03\0\0\0abc\0";
    let bext = [&b"bext\x5b\x02\0\0"[..], &[7; 603], &[0]].concat();
    let rows: [(&str, Vec<u8>); 4] = [
        ("a list of odd length", with_chunks(&[list])),
        ("its padding forgotten", with_chunks(&[forgotten])),
        ("junk and a broadcast extension", with_chunks(&[junk, &bext])),
        ("a size left open", {
            let mut bytes = with_chunks(&[]);
            bytes[40..44].copy_from_slice(&[0xff; 4]);
            bytes
        }),
    ];
    for (name, bytes) in rows {
        let got = read_bytes(&bytes, "f.wav", &ReadOptions::default());
        assert_same(name, &got.unwrap_or_else(|error| panic!("{name}: {error}")), &want, 1.0);
    }
}

#[test]
fn packed_files_end_in_zeros_or_in_another_member() {
    let want = fixture("sampled.csv", None);
    let packed = std::fs::read(path("sampled.csv.gz")).expect("the fixture is there");
    let padded = [&packed[..], &[0; 70_000]].concat();
    assert_same(
        "zeros",
        &read_bytes(&padded, "f.gz", &ReadOptions::default()).expect("reads"),
        &want,
        1.0,
    );
    let garbage = [&packed[..], &[0; 700], b"garbage"].concat();
    assert!(message(&garbage, &ReadOptions::default()).contains("packed file is damaged"));
}

#[test]
fn fields_of_records_have_their_names_and_words_are_left_out() {
    let capture = fixture("records.npy", None);
    let names: Vec<&str> = capture.channels.iter().map(|channel| channel.name.as_str()).collect();
    assert_eq!(names, ["crank", "cam"]);
    let lost: Vec<(&str, &Why)> =
        capture.notes.lost().map(|one| (one.name.as_str(), &one.why)).collect();
    assert_eq!(lost, [("state", &Why::Words)]);
}

fn message(bytes: &[u8], options: &ReadOptions) -> String {
    read_bytes(bytes, "f.bin", options).expect_err("refused").to_string()
}

#[test]
fn refusals() {
    let bytes = |name: &str| std::fs::read(path(name)).expect("the fixture is there");
    let options = ReadOptions::default;
    let vcd = String::from_utf8(bytes("events.vcd")).expect("text");
    let cut = |name: &str, at: usize| bytes(name)[..at].to_vec();
    let limits = Limits { held_bytes: 100, ..Limits::default() };
    let few = Limits { values: 100, ..Limits::default() };
    let text = || bytes("sampled.csv");
    let rows: [(&str, Vec<u8>, ReadOptions, &str); 24] = [
        (
            "complex numbers",
            npy("<c16", "(2,)", vec![0; 32]),
            options(),
            "numbers are of the kind \"<c16\"",
        ),
        (
            "a packed text over the limit",
            bytes("sampled.zip"),
            ReadOptions { limits, ..options() },
            "more than 100 bytes",
        ),
        (
            "sound over the limit",
            bytes("sampled.wav"),
            ReadOptions { limits: few, ..options() },
            "128 values in it",
        ),
        (
            "an array over the limit",
            bytes("sampled.npy"),
            ReadOptions { limits: few, ..options() },
            "192 values in it",
        ),
        (
            "changes over the limit",
            bytes("events.vcd"),
            ReadOptions { limits: Limits { values: 3, ..few }, ..options() },
            "values in it, more than 3",
        ),
        (
            "two captures in an archive",
            archive(&[("a.csv", text()), ("b.csv", text())]),
            options(),
            "holds 2 files: `a.csv`, `b.csv`",
        ),
        (
            "arrays beside something else",
            archive(&[("a.npy", bytes("sampled.npy")), ("b.csv", text())]),
            options(),
            "`b.csv`, which is no NumPy array",
        ),
        (
            "an archive in an archive",
            archive(&[("a.zip", archive(&[("a.csv", text())]))]),
            options(),
            "packed twice",
        ),
        (
            "records within records",
            {
                let mut records = bytes("records.npy");
                let field = b"('cam', '<f8')]";
                let at = records.windows(field.len()).position(|there| there == field);
                let at = at.expect("the field is in the header");
                records[at..at + field.len()].copy_from_slice(b"('c', ['<f8'])]");
                records
            },
            options(),
            "not plain fields",
        ),
        ("gzip cut short", cut("sampled.csv.gz", 200), options(), "packed file is damaged"),
        (
            "gzip over the limit",
            bytes("sampled.csv.gz"),
            ReadOptions { limits, ..options() },
            "more than 100 bytes",
        ),
        ("WAV cut short", cut("sampled.wav", 99), options(), "WAV file is damaged"),
        ("NumPy cut short", cut("sampled.npy", 300), options(), "fewer numbers"),
        ("NumPy without times", bytes("whole.npy"), options(), "samples per second"),
        ("archive cut short", cut("named.npz", 900), options(), "list of contents is missing"),
        (
            "archive with a changed number",
            {
                let mut changed = bytes("named.npz");
                changed[200] ^= 1;
                changed
            },
            options(),
            "does not unpack",
        ),
        (
            "archive over the limit",
            bytes("table.npz"),
            ReadOptions { limits: few, ..options() },
            "192 values in it, more than 100",
        ),
        ("a spreadsheet", bytes("sheet.xlsx"), options(), "spreadsheet as CSV"),
        ("archive of nothing", [&b"PK\x05\x06"[..], &[0; 18]].concat(), options(), "no array"),
        ("another RIFF", b"RIFF\0\0\0\0AVI LIST".to_vec(), options(), "no sound"),
        ("no time scale", vcd.replace("$timescale 1 us $end", "").into(), options(), "$timescale"),
        ("time backwards", vcd.replace("#375", "#200").into(), options(), "line 22: the time goes"),
        ("unknown level", vcd.replace("1!\n0\"", "x!").into(), options(), "line 23: wire 1"),
        (
            "no wire",
            vcd.replace("$var wire 1", "$var wire 2").replace("0!\n1\"\n", "").into(),
            options(),
            "no wire of one bit",
        ),
    ];
    for (name, bytes, options, word) in rows {
        let message = message(&bytes, &options);
        assert!(message.contains(word), "{name}: {message}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn damaged_files_give_a_result_or_an_error(
        which in 0..13usize, hits in prop::collection::vec((0..400usize, any::<u8>()), 0..4), cut in 20..2000usize,
    ) {
        let names = [
            "sampled.csv.gz", "sampled.npy", "columns.npy", "whole.npy", "sampled.wav", "float.wav",
            "events.vcd", "events-utf16.vcd", "named.npz", "table.npz", "double.wav", "records.npy", "sampled.zip",
        ];
        let mut bytes = std::fs::read(path(names[which])).expect("the fixture is there");
        for (at, byte) in hits {
            if let Some(hit) = bytes.get_mut(at) {
                *hit = byte;
            }
        }
        bytes.truncate(cut);
        let options = ReadOptions { rate: Some(8000.0), ..ReadOptions::default() };
        if let Ok(capture) = read_bytes(&bytes, "f.bin", &options) {
            prop_assert!(capture.rows() >= 2);
            for channel in &capture.channels {
                prop_assert_eq!(channel.values.len(), capture.rows());
                prop_assert!(channel.values.iter().all(|value| value.is_finite()));
            }
            for row in 1..capture.rows() {
                prop_assert!(capture.clock.at(row - 1).0 < capture.clock.at(row).0);
            }
        }
    }
}

/// A WAV file with one more chunk before its samples, or behind them.
fn with_chunk(mark: &[u8; 4], body: &[u8], behind: bool) -> Vec<u8> {
    let mut bytes = std::fs::read(path("sampled.wav")).expect("the fixture is there");
    let mut chunk = mark.to_vec();
    chunk.extend((body.len() as u32).to_le_bytes());
    chunk.extend(body);
    chunk.resize(chunk.len().next_multiple_of(2), 0);
    let at = if behind { bytes.len() } else { 12 };
    bytes.splice(at..at, chunk);
    let length = (bytes.len() - 8) as u32;
    bytes[4..8].copy_from_slice(&length.to_le_bytes());
    bytes
}

/// EBU Tech 3285 (from memory): description 256 letters, originator 32, reference 32, then the date
/// as yyyy-mm-dd and the time as hh:mm:ss, whatever stands between the numbers.
fn broadcast(when: &str) -> Vec<u8> {
    let mut body = vec![0; 602];
    body[..5].copy_from_slice(b"crank");
    body[320..320 + when.len()].copy_from_slice(when.as_bytes());
    body
}

#[test]
fn when_it_was_recorded_is_told_where_the_file_says_it_and_nowhere_else() {
    let recorded = |bytes: &[u8]| {
        let options = ReadOptions { identify: true, rate: Some(8000.0), ..ReadOptions::default() };
        let capture = read_bytes(bytes, "f", &options).expect("a capture");
        capture.notes.file.expect("asked for").recorded
    };
    let list = |parts: &[u8]| [b"INFO", parts].concat();
    let created = list(b"ISFT\x04\0\0\0rec\0ICRD\x0b\0\0\x002026-03-04\0\0");
    let rows = [
        (with_chunk(b"bext", &broadcast("2026-03-0410:11:12"), false), Some("2026-03-04 10:11:12")),
        (with_chunk(b"bext", &broadcast("2026:03:0410-11-12"), true), Some("2026-03-04 10:11:12")),
        (with_chunk(b"bext", &broadcast("2026-03-04"), false), Some("2026-03-04")),
        (with_chunk(b"bext", &broadcast("0000-00-0000:00:00"), false), None),
        (with_chunk(b"bext", &broadcast(""), false), None),
        (with_chunk(b"bext", &broadcast("2026-03-0410:11:12")[..300], false), None),
        (with_chunk(b"LIST", &created, true), Some("2026-03-04")),
        (with_chunk(b"LIST", &list(b"ICRD\xff\xff\xff\xff"), true), None),
        (with_chunk(b"junk", b"2026-03-04 10:11:12", false), None),
    ];
    for (at, (bytes, want)) in rows.iter().enumerate() {
        assert_eq!(recorded(bytes).as_deref(), *want, "WAV, row {at}");
    }
    // NumPy's arrays and archives have no place for it; a packed text still says it.
    for name in ["sampled.npy", "named.npz", "sampled.wav", "sampled.csv", "sampled.csv.gz"] {
        let bytes = std::fs::read(path(name)).expect("the fixture is there");
        assert_eq!(recorded(&bytes), None, "{name}");
    }
    let table = std::fs::read(path("sampled.csv")).expect("the fixture is there");
    let dated = [b"# Date: 2026-03-04 10:11:12\n", &table[..]].concat();
    assert_eq!(recorded(&dated).as_deref(), Some("2026-03-04 10:11:12"));
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    std::io::Write::write_all(&mut packed, &dated).expect("packed");
    let packed = packed.finish().expect("packed");
    assert_eq!(recorded(&packed).as_deref(), Some("2026-03-04 10:11:12"), "gzip");
}
