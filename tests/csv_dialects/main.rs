//! Ways in which captures are written as CSV: each gives the right values or a clear refusal.
//!
//! The dialects are those oscilloscopes, loggers and spreadsheets export (common practice, no
//! source); every expected value is read off the text by eye.

mod more;
mod options;
mod refused;
mod said;
mod values;
mod walked;

use camwitness::capture::{
    CaptureKind, Clock, Encoding, ReadOptions, TimeUnit, Unit, Why, read_bytes,
    read_bytes_described,
};
use camwitness::units::Seconds;

/// What a fixture must give.
enum Want {
    /// Times in seconds, then name and values of each channel.
    Rows(&'static [f64], &'static [(&'static str, &'static [f32])]),
    /// Words of the message.
    Refused(&'static [&'static str]),
}
use Want::{Refused, Rows};

fn utf16(text: &str, low_first: bool, mark: bool) -> Vec<u8> {
    let mark = if mark { "\u{feff}" } else { "" };
    let units: Vec<u16> = format!("{mark}{text}").encode_utf16().collect();
    let bytes = |unit: &u16| if low_first { unit.to_le_bytes() } else { unit.to_be_bytes() };
    units.iter().flat_map(bytes).collect()
}

fn check(name: &str, bytes: &[u8], options: &ReadOptions, want: &Want) {
    let got = read_bytes(bytes, "fixture.csv", options);
    match (got, want) {
        (Ok(capture), Rows(times, channels)) => {
            assert_eq!(capture.rows(), times.len(), "{name}: rows");
            for (row, want) in times.iter().enumerate() {
                let got = capture.clock.at(row).0;
                // A uniform clock is two numbers: it may differ in the last bits.
                assert!(
                    (got - want).abs() <= 1e-12 * want.abs().max(1.0),
                    "{name}: time {row} is {got}, want {want}"
                );
            }
            let got: Vec<(&str, Vec<f32>)> =
                capture.channels.iter().map(|c| (c.name.as_str(), c.values.to_vec())).collect();
            let got: Vec<(&str, &[f32])> =
                got.iter().map(|(c, values)| (*c, &values[..])).collect();
            assert_eq!(got, *channels, "{name}");
        }
        (Err(error), Refused(words)) => {
            let message = error.to_string();
            assert!(message.starts_with("fixture.csv"), "{name}: {message}");
            for word in *words {
                assert!(message.contains(word), "{name}: no {word:?} in: {message}");
            }
        }
        (Ok(capture), Refused(words)) => panic!("{name}: want {words:?}, got {capture:?}"),
        (Err(error), Rows(..)) => panic!("{name}: {error}"),
    }
}

const T: &[f64] = &[0.0, 0.001, 0.002];
const CRANK: &[f32] = &[1.5, -2.25, 3.0];
const PLAIN: Want = Rows(T, &[("crank", CRANK)]);
const TWO: Want = Rows(T, &[("crank", CRANK), ("cam", &[5.0, 0.0, 5.0])]);
