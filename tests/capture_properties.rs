//! Properties of the capture reader: no panic on any bytes, write-then-read over dialects, and
//! blocks that leave no seam.

use std::fmt::Write as _;

use camwitness::capture::{Capture, CaptureKind, Limits, ReadOptions, read, read_bytes};
use proptest::prelude::*;

fn default_read(bytes: &[u8]) -> Result<Capture, String> {
    read_bytes(bytes, "p.csv", &ReadOptions::default()).map_err(|error| error.to_string())
}

/// What every capture promises, whatever it was read from.
fn keeps_its_promises(capture: &Capture) {
    let rows = capture.rows();
    assert!(rows >= 2 && !capture.channels.is_empty());
    for channel in &capture.channels {
        assert_eq!(channel.values.len(), rows);
        assert!(channel.values.iter().all(|value| value.is_finite()));
        assert!(channel.over_range.iter().all(|&(first, end)| first < end && end <= rows));
    }
    for row in 1..rows {
        let (before, now) = (capture.clock.at(row - 1).0, capture.clock.at(row).0);
        assert!(before.is_finite() && now.is_finite() && before < now, "row {row}");
    }
}

fn survives(bytes: &[u8]) {
    let kinds = [None, Some(CaptureKind::Events), Some(CaptureKind::Sampled)];
    for force_kind in kinds {
        for rate in [None, Some(1000.0)] {
            let options = ReadOptions { rate, force_kind, ..ReadOptions::default() };
            match read_bytes(bytes, "p.csv", &options) {
                Ok(capture) => keeps_its_promises(&capture),
                Err(error) => {
                    let message = error.to_string();
                    assert!(message.starts_with("p.csv") && message.len() < 1000, "{message}");
                }
            }
        }
    }
}

/// A capture in one of the dialects.
#[derive(Debug, Clone)]
struct Dialect {
    separator: char,
    comma: bool,
    line_end: &'static str,
    titles: usize,
    quoted: bool,
    trailing: bool,
    blank: bool,
    units: (&'static str, i32),
    wide: bool,
}

fn dialects() -> impl Strategy<Value = Dialect> {
    let separators = prop_oneof![Just(','), Just(';'), Just('\t')];
    let line_ends = prop_oneof![Just("\n"), Just("\r\n"), Just("\r")];
    let units = prop_oneof![Just(("(s)", 0)), Just(("(ms)", 3)), Just(("[µs]", 6))];
    let flags = (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>());
    (separators, line_ends, 0..4usize, units, flags).prop_map(
        |(separator, line_end, titles, units, (comma, quoted, trailing, blank, wide))| Dialect {
            separator,
            // Decimal commas between bare commas are refused, by a test of their own.
            comma: comma && separator != ',',
            line_end,
            titles,
            quoted,
            trailing,
            blank,
            units,
            wide,
        },
    )
}

impl Dialect {
    fn write(&self, times: &[i64], channels: &[Vec<i32>]) -> Vec<u8> {
        let (unit, prefix) = self.units;
        let mut text = String::new();
        for title in 0..self.titles {
            text += &format!("Title {title}{}", self.line_end);
        }
        let quote = |cell: String| if self.quoted { format!("\"{cell}\"") } else { cell };
        let number = |value: i64, places: usize| {
            let sign = if value < 0 { "-" } else { "" };
            let scale = 10i64.pow(places as u32);
            let size = value.abs();
            let cell = format!("{sign}{}.{:0places$}", size / scale, size % scale);
            quote(if self.comma { cell.replace('.', ",") } else { cell })
        };
        let mut line = |cells: Vec<String>| {
            let gap =
                if self.blank { format!("{} ", self.separator) } else { self.separator.into() };
            let end = if self.trailing { self.separator.to_string() } else { String::new() };
            text += &format!("{}{end}{}", cells.join(&gap), self.line_end);
        };
        let names = (0..channels.len()).map(|index| quote(format!("channel {index}")));
        line([quote(format!("Time {unit}"))].into_iter().chain(names).collect());
        for (row, &time) in times.iter().enumerate() {
            // `time` counts microseconds, printed with seven places less the prefix's.
            let places = (7 - prefix) as usize;
            let values = channels.iter().map(|channel| number(i64::from(channel[row]), 4));
            line([number(time * 10, places)].into_iter().chain(values).collect());
        }
        if !self.wide {
            return text.into_bytes();
        }
        let units: Vec<u16> = format!("\u{feff}{text}").encode_utf16().collect();
        units.iter().flat_map(|unit| unit.to_le_bytes()).collect()
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes_give_a_result_or_an_error(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        survives(&bytes);
    }

    #[test]
    fn any_nearly_csv_gives_a_result_or_an_error(
        text in r#"(Time|a|\(ms\)|\[V\]|-?[0-9]{1,4}[.,]?[0-9]{0,3}|[eE+\-.,;"'∞#:]|,|;|\t|\n|\r\n| |NaN|inf){0,60}"#,
    ) {
        survives(text.as_bytes());
    }

    #[test]
    fn a_damaged_capture_gives_a_result_or_an_error(
        at in 0..200usize, byte in any::<u8>(), cut in 0..200usize,
    ) {
        let mut bytes = b"Note;x\nTime (s);crank;cam (mV)\n0,000;1,5;2\n0,001;2,5;-3,25\n0,002;1;2\n".to_vec();
        if let Some(hit) = bytes.get_mut(at) {
            *hit = byte;
        }
        bytes.truncate(cut);
        survives(&bytes);
    }

    #[test]
    fn what_was_written_is_read(
        dialect in dialects(),
        steps in prop::collection::vec(1..5000i64, 3..40),
        seed in prop::collection::vec(-99_999..99_999i32, 120),
        start in -1000..1000i64,
    ) {
        let mut time = start;
        let times: Vec<i64> = steps.iter().map(|step| { time += step; time }).collect();
        let rows = times.len();
        let channels: Vec<Vec<i32>> = (0..3).map(|c| (0..rows).map(|r| seed[c * 40 + r]).collect()).collect();
        let bytes = dialect.write(&times, &channels);
        let options = ReadOptions {
            // A hole is refused by a test of its own; here the steps are wild on purpose.
            force_kind: Some(CaptureKind::Events),
            // Four places never look like thousands; three of a µs time may.
            decimal: Some(if dialect.comma { ',' } else { '.' }),
            ..ReadOptions::default()
        };
        let capture = read_bytes(&bytes, "w.csv", &options)
            .unwrap_or_else(|error| panic!("{error}\n{}", String::from_utf8_lossy(&bytes)));
        prop_assert_eq!(capture.rows(), rows);
        for (row, &want) in times.iter().enumerate() {
            prop_assert!((capture.clock.at(row).0 - want as f64 * 1e-6).abs() < 1e-13);
        }
        for (channel, want) in capture.channels.iter().zip(&channels) {
            let want: Vec<f32> = want.iter().map(|&value| (f64::from(value) / 1e4) as f32).collect();
            prop_assert_eq!(&channel.values, &want);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// A channel sampled at a whole fraction of the table's rate, blank or NaN between its values.
    #[test]
    fn several_rates_are_read(
        every in 2..9usize,
        first in 0..8usize,
        (quoted, nan) in any::<(bool, bool)>(),
        slow in prop::collection::vec(-9999..9999i32, 12..30),
    ) {
        let first = first % every;
        let rows = first + (slow.len() - 1) * every + 1;
        let quote = |cell: String| if quoted { format!("\"{cell}\"") } else { cell };
        let value = |at: usize| f64::from(slow[at]) / 1e4;
        let mut text = String::from("Time (s),fast,slow\n");
        for row in 0..rows {
            let blank = if nan { "NaN" } else { "" };
            let there = row >= first && (row - first).is_multiple_of(every);
            let cell = if there { format!("{:.4}", value((row - first) / every)) } else { blank.into() };
            let (time, fast) = (format!("{:.4}", row as f64 * 1e-3), format!("{}.5", row % 7));
            writeln!(text, "{},{},{}", quote(time), quote(fast), quote(cell)).expect("a String takes all");
        }
        let capture = default_read(text.as_bytes()).unwrap_or_else(|error| panic!("{error}\n{text}"));
        prop_assert_eq!(capture.channels.len(), 2, "{}", text);
        for row in 0..rows {
            let (before, step) = ((row.max(first) - first) / every, (row.max(first) - first) % every);
            let next = (before + 1).min(slow.len() - 1);
            let want = value(before) + (value(next) - value(before)) * step as f64 / every as f64;
            let got = f64::from(capture.channels[1].values[row]);
            prop_assert!((got - want).abs() < 1e-6, "row {}: {} for {}\n{}", row, got, want, text);
        }
    }

    /// Levels in words, in quotation marks or not.
    #[test]
    fn levels_in_words_are_read(
        levels in prop::collection::vec(any::<(bool, bool)>(), 4..60), words in 0..5usize, quoted in any::<bool>(),
    ) {
        let (high, low) =
            [("True", "False"), ("HIGH", "low"), ("H", "L"), ("On", "Off"), ("1", "0")][words];
        let cell = |level: bool| {
            let word = if level { high } else { low };
            if quoted { format!("\"{word}\"") } else { word.to_owned() }
        };
        let mut text = String::from("Time (s),a,b\n");
        for (row, &(a, b)) in levels.iter().enumerate() {
            writeln!(text, "{:.3},{},{}", row as f64 * 1e-3, cell(a), cell(b)).expect("a String takes all");
        }
        let options =
            ReadOptions { force_kind: Some(CaptureKind::Sampled), ..ReadOptions::default() };
        let capture = read_bytes(text.as_bytes(), "w.csv", &options)
            .unwrap_or_else(|error| panic!("{error}\n{text}"));
        for (row, &(a, b)) in levels.iter().enumerate() {
            let got = [0, 1].map(|channel: usize| capture.channels[channel].values[row]);
            prop_assert_eq!(got, [f32::from(u8::from(a)), f32::from(u8::from(b))], "row {}\n{}", row, text);
        }
    }
}

/// A capture of several rounds of blocks, its lines of many lengths.
fn deep(rows: usize, extra: impl Fn(usize) -> Option<String>) -> String {
    let mut text = String::from("Time (s),a,b\n");
    for row in 0..rows {
        if let Some(extra) = extra(row) {
            text += &extra;
        }
        let wide = " ".repeat(row % 23);
        writeln!(text, "{:.6},{wide}{},{:.3}", row as f64 * 1e-5, row % 1009, row as f64 * 0.5)
            .expect("a String takes all");
    }
    text
}

const DEEP: usize = 300_000;

#[test]
fn blocks_leave_no_seam() {
    let text = deep(DEEP, |row| (row % 1700 == 0).then(|| "\n".into()));
    let capture = default_read(text.as_bytes()).expect("reads");
    assert_eq!(capture.rows(), DEEP);
    for row in 0..DEEP {
        assert_eq!(capture.channels[0].values[row], (row % 1009) as f32, "row {row}");
        assert_eq!(capture.channels[1].values[row], (row as f64 * 0.5) as f32, "row {row}");
    }
    assert!((capture.clock.at(DEEP - 1).0 - (DEEP - 1) as f64 * 1e-5).abs() < 1e-9);
    let one_thread = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a pool");
    assert_eq!(one_thread.install(|| default_read(text.as_bytes())), Ok(capture.clone()));
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("p.csv");
    std::fs::write(&path, &text).expect("written");
    assert_eq!(read(&path, &ReadOptions::default()).expect("reads"), capture);
}

/// Cells whose text was met before are known again: of few levels, of more than are kept, of more
/// than two bytes count, and with cells between that are no plain numbers.
#[test]
fn what_cells_said_before_is_known_again() {
    const ROWS: usize = 150_000;
    let level = |row: usize| (row * 7919 % 211) as f64 * 0.04 - 3.2;
    let many = |row: usize| (row * 31 % 45_007) as f64 * 0.001;
    let all = |row: usize| row as f64 * 0.25 - 17.0;
    let odd = |row: usize| if row % 997 == 5 { 0.125 } else { level(row + 1) };
    for (line_end, time_digits) in [("\n", 9), ("\r\n", 6), ("\r\n", 9), ("\n", 3)] {
        let step = if time_digits == 3 { 0.001 } else { 0.000_128 };
        let mut text = format!("Time (s),a,b,c,d{line_end}");
        for row in 0..ROWS {
            let time = row as f64 * step;
            write!(text, "{time:.time_digits$},{:.2},{:.3},", level(row), many(row)).expect("text");
            let odd = if row % 997 == 5 { "1.25e-1".into() } else { format!("{:.2}", odd(row)) };
            write!(text, "{:.2},{odd}{line_end}", all(row)).expect("text");
        }
        assert!(text.len() > 5_000_000, "{}", text.len());
        let one_thread = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a pool");
        let capture = one_thread.install(|| default_read(text.as_bytes())).expect("reads");
        assert_eq!(capture.rows(), ROWS);
        let want: [&dyn Fn(usize) -> f64; 4] = [&level, &many, &all, &odd];
        for (channel, want) in capture.channels.iter().zip(want) {
            for (row, &value) in channel.values.iter().enumerate() {
                // As printed: the sums above are a few roundings off.
                assert!(
                    (f64::from(value) - want(row)).abs() < 1e-4 * want(row).abs().max(0.01),
                    "row {row}: {value}"
                );
            }
        }
        assert_eq!(default_read(text.as_bytes()), Ok(capture), "more threads make no difference");
    }
}

#[test]
fn lines_that_end_at_a_block_end_are_read_once() {
    // Rows of 16 bytes, so that every block of a power of two begins with a line, or, with a first
    // row a byte longer or shorter, one byte beside it.
    for first in ["0.0000001,12345", "0.0000001,123456", "0.0000001,1234567"] {
        let mut text = format!("Time (s),a\n{first}\n");
        for row in 2..100_000 {
            let gap = " ".repeat(5 - row.to_string().len());
            writeln!(text, "0.{row:07},{gap}{row}").expect("a String takes all");
        }
        let capture = default_read(text.as_bytes()).expect("reads");
        assert_eq!(capture.rows(), 99_999);
        let counted = |(row, &value): (usize, &f32)| value == (row + 1) as f32;
        assert!(capture.channels[0].values.iter().enumerate().skip(1).all(counted), "{first}");
    }
}

#[test]
fn a_fault_deep_in_a_file_has_its_line() {
    // Blank lines every 1700 rows; row r stands on line r + 2 + the blank lines up to it.
    let line = |row: usize| row + 2 + row / 1700 + 1;
    for row in [5, 1700, 123_456, DEEP - 1] {
        let extra = |at: usize| {
            let blank = if at.is_multiple_of(1700) { "\n" } else { "" };
            let bad = if at == row { "x,0.5,1\n" } else { "" };
            (at.is_multiple_of(1700) || at == row).then(|| format!("{blank}{bad}"))
        };
        let message = default_read(deep(DEEP, extra).as_bytes()).expect_err("refused");
        let want = format!("p.csv, line {}, column 1: expected a number, found `x`", line(row));
        assert!(message.starts_with(&want), "{message}, want {want}");
        let again = |at: usize| {
            let blank = if at.is_multiple_of(1700) { "\n" } else { "" };
            let bad = if at == row { "0.000000,1,1\n" } else { "" };
            (at.is_multiple_of(1700) || at == row).then(|| format!("{blank}{bad}"))
        };
        let message = default_read(deep(DEEP, again).as_bytes()).expect_err("refused");
        let want = format!("p.csv, line {}: the time starts again", line(row));
        assert!(message.starts_with(&want), "{message}, want {want}");
    }
}

#[test]
fn uneven_times_late_in_a_file_are_kept() {
    let mut text = deep(DEEP, |_| None);
    text += "3.000004,1,2\n3.000017,3,4\n";
    let capture = default_read(text.as_bytes()).expect("reads");
    assert_eq!(capture.rows(), DEEP + 2);
    assert_eq!(capture.clock.at(DEEP).0, 3.000_004);
    assert_eq!(capture.clock.at(DEEP - 1).0, 2.999_99);
}

#[test]
fn limits_are_kept() {
    let limited = |limits: Limits, text: &str| {
        let options = ReadOptions { limits, ..ReadOptions::default() };
        read_bytes(text.as_bytes(), "p.csv", &options).expect_err("refused").to_string()
    };
    let text = deep(10, |_| None);
    let few = limited(Limits { bytes: 20, ..Limits::default() }, &text);
    assert!(few.contains("more than 20"), "{few}");
    let narrow = limited(Limits { columns: 2, ..Limits::default() }, &text);
    assert!(narrow.contains("3 columns, more than 2"), "{narrow}");
    let long = deep(100_000, |row| (row == 90_000).then(|| "7".repeat(1_000_000)));
    let message = limited(Limits::default(), &long);
    assert!(message.starts_with("p.csv, line 90002: the line has"), "{message}");
}

#[test]
fn what_is_no_file_is_said_plainly() {
    let folder = tempfile::tempdir().expect("a folder");
    let message = |path: &std::path::Path| {
        read(path, &ReadOptions::default()).expect_err("refused").to_string()
    };
    let missing = message(&folder.path().join("none.csv"));
    assert!(missing.contains("none.csv: cannot read"), "{missing}");
    let is_folder = message(folder.path());
    assert!(is_folder.contains("folder"), "{is_folder}");
}
