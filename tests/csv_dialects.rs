//! Ways in which captures are written as CSV: each gives the right values or a clear refusal.
//!
//! The dialects are those oscilloscopes, loggers and spreadsheets export (common practice, no
//! source); every expected value is read off the text by eye.

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
            let got: Vec<(&str, &[f32])> =
                capture.channels.iter().map(|c| (c.name.as_str(), c.values.as_slice())).collect();
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

/// The beginning shows no decimal mark at all.
static WHOLE_THEN_COMMA: std::sync::LazyLock<String> = std::sync::LazyLock::new(|| {
    let rows: String = (0..20_000).map(|row| format!("{row};1\n")).collect();
    format!("Time (ms);a\n{rows}20000;0,5\n20001;0,5\n")
});

#[test]
fn values_are_right() {
    let rows: &[(&str, &str, Want)] = &[
        ("comma and point", "Time (s),crank (V)\n0.000,1.5\n0.001,-2.25\n0.002,3\n", PLAIN),
        ("no line end at the end", "Time (s),crank\n0.000,1.5\n0.001,-2.25\n0.002,3", PLAIN),
        ("CRLF", "Time (s),crank\r\n0.000,1.5\r\n0.001,-2.25\r\n0.002,3\r\n", PLAIN),
        ("CR only", "Time (s),crank\r0.000,1.5\r0.001,-2.25\r0.002,3\r", PLAIN),
        ("tab", "Time (s)\tcrank\n0.000\t1.5\n0.001\t-2.25\n0.002\t3\n", PLAIN),
        ("semicolon and point", "Time (s);crank\n0.000;1.5\n0.001;-2.25\n0.002;3\n", PLAIN),
        ("semicolon and comma", "Zeit (s);crank\n0,000;1,5\n0,001;-2,25\n0,002;3\n", PLAIN),
        ("tab and comma", "Temps [s]\tcrank\n0,000\t1,5\n0,001\t-2,25\n0,002\t3\n", PLAIN),
        ("blanks beside cells", "Time [s], crank\n 0.000 , 1.5\n0.001,  -2.25 \n0.002, 3\n", PLAIN),
        ("exponents", "Time (s),crank\n0.0E+00,1.5e0\n1.0E-03,-2.25E+0\n2.0e-3,0.3e1\n", PLAIN),
        ("plus signs", "Time (s),crank\n+0.000,+1.5\n+0.001,-2.25\n+0.002,+3.0\n", PLAIN),
        ("bare points", "Time (s),crank\n.000,1.5\n.001,-2.25\n.002,3.\n", PLAIN),
        ("minus sign U+2212", "Time (s),crank\n0.000,1.5\n0.001,\u{2212}2.25\n0.002,3\n", PLAIN),
        (
            "quoted cells",
            "\"Time (s)\",\"crank\"\n\"0.000\",\"1.5\"\n\"0.001\",\"-2.25\"\n\"0.002\",\"3\"\n",
            PLAIN,
        ),
        (
            "quoted decimal commas",
            "\"Time (s)\",\"crank\"\n\"0,000\",\"1,5\"\n\"0,001\",\"-2,25\"\n\"0,002\",\"3\"\n",
            PLAIN,
        ),
        ("milliseconds", "Time (ms),crank (V)\n0,1.5\n1,-2.25\n2,3\n", PLAIN),
        ("microseconds, micro sign", "Time (µs),crank (V)\n0,1.5\n1000,-2.25\n2000,3\n", PLAIN),
        ("microseconds, Greek mu", "Time (μs),crank (V)\n0,1.5\n1000,-2.25\n2000,3\n", PLAIN),
        ("micro sign through Latin-1", "Time (Âµs),crank\n0,1.5\n1000,-2.25\n2000,3\n", PLAIN),
        ("millivolts", "Time (s),crank (mV)\n0.000,1500\n0.001,-2250\n0.002,3000\n", PLAIN),
        ("unit row", "Time,crank\n(ms),(mV)\n0,1500\n1,-2250\n2,3000\n", PLAIN),
        ("bare unit row, blank line", "Time;crank\nms;V\n\n0;1,5\n1;-2,25\n2;3\n", PLAIN),
        (
            "titles, blanks and settings",
            "Workshop capture\nDate,2026-01-02\nNote,\"12 mm, probe x10\"\n\nTime (s),crank\n\
             0.000,1.5\n0.001,-2.25\n0.002,3\n",
            PLAIN,
        ),
        (
            "comment signs",
            "# bench\n# two\nTime (s),crank\n0.000,1.5\n0.001,-2.25\n0.002,3\n",
            PLAIN,
        ),
        ("trailing separators", "Time (s),crank,\n0.000,1.5,\n0.001,-2.25,\n0.002,3,\n", PLAIN),
        ("trailing in rows only", "Time (s);crank\n0,000;1,5;\n0,001;-2,25;\n0,002;3;\n", PLAIN),
        ("trailing in header only", "Time (s),crank,\n0.000,1.5\n0.001,-2.25\n0.002,3\n", PLAIN),
        (
            "blank lines between",
            "Time (s),crank\n\n0.000,1.5\n\n0.001,-2.25\n , \n0.002,3\n\n",
            PLAIN,
        ),
        (
            "header again, time going on",
            "Time (s),crank\n0.000,1.5\n0.001,-2.25\n\nTime (s),crank\n0.002,3\n",
            PLAIN,
        ),
        (
            "column switched off",
            "Time (s),crank,spare\n0.000,1.5,\n0.001,-2.25,\n0.002,3,\n",
            PLAIN,
        ),
        ("row counter", "#,Time (s),crank\n1,0.000,1.5\n2,0.001,-2.25\n3,0.002,3\n", PLAIN),
        (
            "end-of-file sign of old systems",
            "Time (s),crank\n0.000,1.5\n0.001,-2.25\n0.002,3\n\u{1a}",
            PLAIN,
        ),
        (
            "a line that names the separator",
            "sep=;\nTime (s);crank\n0,000;1,5\n0,001;-2,25\n0,002;3\n",
            PLAIN,
        ),
        (
            "a channel called x and one in milliseconds",
            "Time (s),x,width (ms)\n0.000,1.5,0\n0.001,-2.25,1000\n0.002,3,2000\n",
            Rows(T, &[("x", CRANK), ("width", &[0.0, 1.0, 2.0])]),
        ),
        (
            "a blank line after every row, without times",
            "Sample interval (ms),1\ncrank\n1.5\n\n-2.25\n\n3\n",
            PLAIN,
        ),
        (
            "as many samples as stated",
            "Sample interval (ms),1\nNumber of samples,3\nDecimation,1\ncrank\n1.5\n-2.25\n3\n",
            PLAIN,
        ),
        ("two channels", "Time (s),crank,cam\n0.000,1.5,5\n0.001,-2.25,0\n0.002,3,5\n", TWO),
        (
            "thousands with a comma",
            "Time (us)\tcrank (mV)\n0\t1,500.0\n1,000\t-2,250.0\n2,000\t3,000.0\n",
            PLAIN,
        ),
        (
            "thousands with a point",
            "Time (us);crank (mV)\n0;1.500,0\n1.000;-2.250,0\n2.000;3.000,0\n",
            PLAIN,
        ),
        (
            "thousands with a narrow space and an apostrophe",
            "Time (us);crank (mV)\n0;1'500.0\n1\u{202f}000;-2'250.0\n2\u{202f}000;3'000.0\n",
            PLAIN,
        ),
        ("no header", "0.000,1.5\n0.001,-2.25\n0.002,3\n", Rows(T, &[("column 2", CRANK)])),
        (
            "channel names that are numbers",
            "Time (s),1,2\n0.000,1.5,5\n0.001,-2.25,0\n0.002,3,5\n",
            Rows(T, &[("1", CRANK), ("2", &[5.0, 0.0, 5.0])]),
        ),
        (
            "a bracket that is no unit",
            "Time (s),crank (pin 2)\n0.000,1.5\n0.001,-2.25\n0.002,3\n",
            Rows(T, &[("crank (pin 2)", CRANK)]),
        ),
        (
            "interval above the data",
            "Start (ms),0\nSample interval (ms),1\ncrank\n1.5\n-2.25\n3\n",
            PLAIN,
        ),
        (
            "rate above the data",
            "Sample rate: 1 kS/s\ncrank (V),cam (V)\n1.5,5\n-2.25,0\n3,5\n",
            TWO,
        ),
        (
            "start and increment in columns",
            "X,crank,Start,Increment\nSequence,Volt,0.5,1.0e-3\n0,1.5,,\n1,-2.25,,\n2,3,,\n",
            Rows(&[0.5, 0.501, 0.502], &[("crank", CRANK)]),
        ),
        (
            "stamps rounded to the printed digits are an even clock",
            "Time (ms),crank\n0.00,1\n0.33,2\n0.67,3\n1.00,4\n",
            Rows(&[0.0, 1e-3 / 3.0, 2e-3 / 3.0, 1e-3], &[("crank", &[1.0, 2.0, 3.0, 4.0])]),
        ),
        (
            "uneven stamps stay",
            "Time (s),crank\n0.000,1.5\n0.001,2.5\n0.004,1\n0.005,2\n",
            Rows(&[0.0, 0.001, 0.004, 0.005], &[("crank", &[1.5, 2.5, 1.0, 2.0])]),
        ),
        (
            "infinity signs are clipped values",
            "Time (s),crank\n0.000,1.5\n0.001,∞\n0.002,-∞\n0.003,-4\n",
            Rows(&[0.0, 0.001, 0.002, 0.003], &[("crank", &[1.5, 1.5, -4.0, -4.0])]),
        ),
        (
            "blank, dashes and inf are clipped values",
            "Time (s),crank\n0.000,5\n0.001,\n0.002,-4\n0.003,---\n0.004,Inf\n0.005,1\n",
            Rows(
                &[0.0, 0.001, 0.002, 0.003, 0.004, 0.005],
                &[("crank", &[5.0, 5.0, -4.0, -4.0, 5.0, 1.0])],
            ),
        ),
        (
            "the instrument number for infinity, IEEE 488.2 / SCPI-1999, from memory",
            "Time (s),crank\n0.000,1.5\n0.001,9.9E+37\n0.002,-4\n",
            Rows(T, &[("crank", &[1.5, 1.5, -4.0])]),
        ),
        (
            "a last row that says the row before it again",
            "Time (s),crank\n0.1,0\n0.25,1\n0.3,0\n0.3,0\n",
            Rows(&[0.1, 0.25, 0.3], &[("crank", &[0.0, 1.0, 0.0])]),
        ),
        (
            "negative times before the trigger",
            "Time (s),crank\n-0.001,1.5\n0.000,-2.25\n0.001,3\n",
            Rows(&[-0.001, 0.0, 0.001], &[("crank", CRANK)]),
        ),
    ];
    for (name, text, want) in rows {
        check(name, text.as_bytes(), &ReadOptions::default(), want);
    }
}

#[test]
fn encodings() {
    let text = "Time (µs),crank\n0,1.5\n1000,-2.25\n2000,3\n";
    let latin1: Vec<u8> =
        text.chars().map(|c| u8::try_from(u32::from(c)).expect("Latin-1 text")).collect();
    let rows: [(&str, Vec<u8>, Want); 7] = [
        ("UTF-8 with mark", format!("\u{feff}{text}").into_bytes(), PLAIN),
        ("Latin-1 micro sign", latin1, PLAIN),
        ("UTF-16 low byte first", utf16(text, true, true), PLAIN),
        ("UTF-16 high byte first", utf16(text, false, true), PLAIN),
        ("UTF-16 without mark", utf16(text, true, false), PLAIN),
        ("UTF-16 cut in a character", utf16(text, true, true)[..31].to_vec(), Refused(&["UTF-16"])),
        (
            "lone surrogate",
            [&b"\xff\xfe"[..], b"a\0\n\0\x00\xd8b\0"].concat(),
            Refused(&["line 2"]),
        ),
    ];
    for (name, bytes, want) in &rows {
        check(name, bytes, &ReadOptions::default(), want);
    }
}

#[test]
fn refused_with_place_and_remedy() {
    let rows: &[(&str, &str, &[&str])] = &[
        ("empty", "", &["empty"]),
        ("blank lines only", "\n\n  \n", &["blank lines"]),
        ("words only", "hello\nworld\n", &["no row of numbers"]),
        ("header only", "Time (s),crank\n", &["no row of numbers"]),
        ("one row", "Time (s),crank\n0,1\n", &["only one row"]),
        ("one column", "crank\n1.5\n2.5\n3.5\n", &["only one column", "--rate"]),
        ("only times", "Time (s)\n0.1\n0.2\n0.3\n", &["only one column"]),
        ("no time", "crank,cam\n1.5,2\n2.5,3\n1.5,4\n", &["no time column", "--rate"]),
        (
            "time goes backwards",
            "Time (s),a\n0.1,1\n0.2,2\n0.15,3\n0.3,4\n",
            &["line 4", "backwards", "0.15 s after 0.2 s"],
        ),
        (
            "time stands still",
            "Time (s),a\n0.1,1\n0.2,2\n0.2,3\n0.3,4\n",
            &["line 4", "stands still", "0.2"],
        ),
        (
            "buffers one after another",
            "Time (s),a\n0.0,1\n0.1,2\n\nTime (s),a\n0.0,3\n0.1,4\n",
            &["line 6", "starts again", "one of them"],
        ),
        (
            "a hole between buffers",
            "Time (s),a\n0.000,1.5\n0.001,2\n0.002,1\n0.003,3\n1.000,3\n1.001,4\n",
            &["line 6", "jumps", "--from"],
        ),
        ("a word in a cell", "Time (s),a\n0.0,1\n0.1,two\n0.2,3\n", &["line 3, column 2", "`two`"]),
        ("NaN", "Time (s),a\n0.0,1\n0.1,NaN\n0.2,3\n", &["line 3, column 2", "NaN"]),
        ("no time in a row", "Time (s),a\n0.0,1\n,2\n0.2,3\n", &["line 3, column 1", "time"]),
        ("short row", "Time (s),a,b\n0.0,1,2\n0.1,3\n0.2,1,2\n", &["line 3", "expected 3 cells"]),
        ("long row", "Time (s),a\n0.0,1\n0.1,3,4\n0.2,1\n", &["line 3", "found 3 cells"]),
        (
            "two short rows at the end",
            "Time (s),a,b\n0.0,1,2\n0.1,3,4\n0.2,1\n0.3,1\n",
            &["line 4", "cut short"],
        ),
        ("open quotation mark", "Time (s),a\n0.0,1\n0.1,\"3\n0.2,1\n", &["line 3", "quotation"]),
        ("names that do not fit", "Time (s),a\n0.5,1,2\n0.6,3,4\n0.7,1,2\n", &["2 column names"]),
        (
            "commas as decimal marks and separators",
            "Time (s),a\n0,000,1,234\n0,001,1,567\n0,002,1,890\n",
            &["line 2", "decimal marks", "--separator comma"],
        ),
        ("1,234 without a header", "1,234\n2,345\n3,456\n", &["decimal marks", "--separator"]),
        (
            "1,234 between semicolons",
            "Time (s);a\n1,234;2,345\n2,345;3,456\n",
            &["`1,234`", "--decimal comma"],
        ),
        (
            "both decimal marks",
            "Time (s);a\n0,1;2.34\n0,2;3.45\n",
            &["`2.34`", "`0,1`", "one number format"],
        ),
        (
            "decimal comma beside a doubtful point",
            "Time (s);a\n0,1;2.345\n0,2;3.456\n",
            &["`2.345`", "--decimal"],
        ),
        (
            "whole numbers as times without a unit",
            "Time,a\n0,1.5\n1,2.5\n2,3.5\n",
            &["no unit", "--time-unit"],
        ),
        (
            "coarse times without a unit",
            "Time,a\n0.0,1.5\n0.1,2.5\n0.2,3.5\n",
            &["no unit", "--time-unit"],
        ),
        ("times in minutes", "Time (min),a\n0.0,1.5\n0.1,2.5\n0.2,3.5\n", &["`Time`", "not s, ms"]),
        (
            "a time column of its own for each channel",
            "Time A (s),A,Time B (s),B\n0,1,0.5,1\n1,2,1.5,2\n",
            &["columns 1 and 3", "both times"],
        ),
        (
            "two times that part further down",
            "t1 (s),a,t2 (s),b\n0.000,1,0.000,1\n0.001,2,0.001,2\n0.002,2,0.0025,2\n0.003,2,0.003,2\n",
            &["columns 1 and 3", "both times"],
        ),
        (
            "two intervals above the data",
            "Sample interval,0.001\nSample rate,2000\ncrank\n1\n2\n3\n",
            &["two sample intervals", "--rate"],
        ),
        (
            "pieces joined over a blank line, without times",
            "Sample interval (ms),1\ncrank\n1.5\n-2.25\n3\n\n1.5\n-2.25\n3\n",
            &["line 7", "2 pieces"],
        ),
        (
            "pieces joined over a header, without times",
            "Sample interval (ms),1\ncrank\n1.5\n-2.25\n3\ncrank\n1.5\n-2.25\n3\n",
            &["line 7", "2 pieces"],
        ),
        (
            "rows counted down, without times",
            "Sample interval (ms),1\nsample,crank\n3,1.5\n2,-2.25\n1,3\n",
            &["line 3", "goes down"],
        ),
        (
            "every tenth sample, without times",
            "Sample interval (ms),1\nsample,crank\n0,1.5\n10,-2.25\n20,3\n",
            &["goes up by 10", "--rate"],
        ),
        (
            "a stated decimation, without times",
            "Sample interval (ms),1\nDecimation,10\ncrank\n1.5\n-2.25\n3\n",
            &["one of 10 samples", "--rate"],
        ),
        (
            "the memory's rate, without times",
            "Sample rate: 1 MS/s\nRecord length: 1000000 pts\ncrank\n1.5\n-2.25\n3\n",
            &["1000000 samples", "3 rows", "--rate"],
        ),
        (
            "a blank level in a list of changes",
            "Time (s),a,b\n0.0,0,1\n0.12,1,1\n0.15,,0\n0.3,0,0\n0.31,1,0\n",
            &["line 4, column 2", "list of changes"],
        ),
        (
            "samples or changes",
            "Time (s),a\n0.0,0\n0.1,1\n0.15,1\n0.3,0\n0.37,1\n0.5,1\n0.61,0\n0.8,1\n",
            &["samples or changes", "--kind"],
        ),
        (
            "decimal commas after whole numbers only",
            &WHOLE_THEN_COMMA,
            &["line 20002, column 2", "`0,5`", "--decimal comma"],
        ),
        ("a number too large", "Time (s),a\n0.0,1\n0.1,1e200\n0.2,3\n", &["line 3, column 2"]),
        ("zip archive", "PK\u{3}\u{4}...", &["spreadsheet"]),
        ("binary", "\u{1}\u{2}\u{3}abc,1,2\n", &["not a text file"]),
    ];
    for (name, text, words) in rows {
        check(name, text.as_bytes(), &ReadOptions::default(), &Refused(words));
    }
}

#[test]
fn options_settle_what_the_file_leaves_open() {
    let base = ReadOptions::default;
    let rows: &[(&str, &str, ReadOptions, Want)] = &[
        (
            "rate for one channel",
            "crank\n1.5\n-2.25\n3\n",
            ReadOptions { rate: Some(1000.0), ..base() },
            PLAIN,
        ),
        (
            "rate without names",
            "1.5,5\n-2.25,0\n3,5\n",
            ReadOptions { rate: Some(1000.0), ..base() },
            Rows(T, &[("column 1", CRANK), ("column 2", &[5.0, 0.0, 5.0])]),
        ),
        (
            "with a rate rows are ticks, even if each changes",
            "crank\n0\n1\n0\n1\n",
            ReadOptions { rate: Some(2000.0), ..base() },
            Rows(&[0.0, 0.0005, 0.001, 0.0015], &[("crank", &[0.0, 1.0, 0.0, 1.0])]),
        ),
        (
            "impossible rate",
            "crank\n1.5\n-2.25\n3\n",
            ReadOptions { rate: Some(0.0), ..base() },
            Refused(&["--rate", "positive"]),
        ),
        (
            "rate against times",
            "Time (s),crank\n0.000,1.5\n0.001,-2.25\n0.002,3\n",
            ReadOptions { rate: Some(500.0), ..base() },
            Refused(&["--rate", "500"]),
        ),
        (
            "rate with times that agree",
            "Time (s),crank\n0.000,1.5\n0.001,-2.25\n0.002,3\n",
            ReadOptions { rate: Some(1000.0), ..base() },
            PLAIN,
        ),
        (
            "commas separate",
            "1,234\n2,345\n3,456\n",
            ReadOptions { separator: Some(','), time_unit: Some(TimeUnit::Milliseconds), ..base() },
            Rows(&[0.001, 0.002, 0.003], &[("column 2", &[234.0, 345.0, 456.0])]),
        ),
        (
            "decimal comma",
            "Time (s);a\n1,234;2,345\n1,235;3,456\n",
            ReadOptions { decimal: Some(','), ..base() },
            Rows(&[1.234, 1.235], &[("a", &[2.345, 3.456])]),
        ),
        (
            "decimal point, so commas are thousands",
            "Time (us);a\n1,234;2,345\n1,235;3,456\n",
            ReadOptions { decimal: Some('.'), ..base() },
            Rows(&[0.001_234, 0.001_235], &[("a", &[2345.0, 3456.0])]),
        ),
        (
            "time unit",
            "Time,crank\n0,1.5\n1,-2.25\n2,3\n",
            ReadOptions { time_unit: Some(TimeUnit::Milliseconds), ..base() },
            PLAIN,
        ),
        (
            "from and to, both included",
            "Time (s),a\n0.000,1\n0.001,2\n0.002,∞\n0.003,4\n0.004,5\n",
            ReadOptions { from: Some(Seconds(0.0015)), to: Some(Seconds(0.003)), ..base() },
            Rows(&[0.002, 0.003], &[("a", &[5.0, 4.0])]),
        ),
        (
            "from and to leave one of two buffers",
            "Time (s),a\n0.000,1.5\n0.001,2\n0.002,1\n0.003,3\n1.000,3\n1.001,4\n",
            ReadOptions { from: Some(Seconds(0.5)), ..base() },
            Rows(&[1.0, 1.001], &[("a", &[3.0, 4.0])]),
        ),
        (
            "from after the end",
            "Time (s),a\n0.000,1\n0.001,2\n0.002,3\n",
            ReadOptions { from: Some(Seconds(5.0)), ..base() },
            Refused(&["--from", "0.002 s"]),
        ),
    ];
    for (name, text, options, want) in rows {
        check(name, text.as_bytes(), options, want);
    }
}

#[test]
fn sampled_and_events_are_told_apart_by_the_data() {
    let kind = |text: &str, force_kind| {
        let options = ReadOptions { force_kind, ..ReadOptions::default() };
        read_bytes(text.as_bytes(), "fixture.csv", &options).expect("reads").kind
    };
    let events = "Time (s),a,b\n0.0,0,1\n0.12,1,1\n0.15,1,0\n0.3,0,0\n0.31,0,0\n";
    let square = "Time (s),a\n0.000,0\n0.001,0\n0.002,5\n0.003,5\n0.004,0\n0.005,0\n";
    let jitter = "Time (s),a\n0.000,0.1\n0.0011,0.2\n0.0019,5\n0.0031,5.1\n";
    let rows = [
        ("levels, each row a change", events, None, CaptureKind::Events),
        ("levels at every tick", square, None, CaptureKind::Sampled),
        ("many levels, uneven", jitter, None, CaptureKind::Sampled),
        ("forced", square, Some(CaptureKind::Events), CaptureKind::Events),
    ];
    for (name, text, force, want) in rows {
        assert_eq!(kind(text, force), want, "{name}");
    }
    let ticks = ReadOptions { rate: Some(2000.0), ..ReadOptions::default() };
    let capture = read_bytes(b"crank\n0\n1\n0\n1\n", "ticks.csv", &ticks).expect("reads");
    assert_eq!(capture.kind, CaptureKind::Sampled, "with a rate rows are ticks");
}

#[test]
fn the_stamps_of_events_stay_as_printed() {
    let text = "Time (s),a\n0.0000,0\n0.0033,1\n0.0067,0\n0.0100,1\n";
    let capture = read_bytes(text.as_bytes(), "e.csv", &ReadOptions::default()).expect("reads");
    assert_eq!(capture.clock, Clock::Stamped(vec![0.0, 0.0033, 0.0067, 0.01]));
}

#[test]
fn units_and_over_range_rows_are_kept() {
    let text = "Time (s),crank (mV),starter (A),logic\n0.000,1,∞,0\n0.001,2,∞,1\n0.002,3,-7,1\n";
    let (capture, dialect) =
        read_bytes_described(text.as_bytes(), "u.csv", &ReadOptions::default()).expect("reads");
    let dialect = dialect.expect("a text has a dialect");
    let units: Vec<Unit> = capture.channels.iter().map(|channel| channel.unit).collect();
    assert_eq!(units, [Unit::Volts, Unit::Amperes, Unit::Level]);
    assert_eq!(capture.channels[1].over_range, [(0, 2)]);
    assert_eq!(capture.channels[0].values, [0.001, 0.002, 0.003]);
    assert_eq!((dialect.separator, dialect.decimal, dialect.data_line), (',', '.', 2));
    assert_eq!((dialect.encoding, dialect.thousands), (Encoding::Bytes, None));
    let time = capture.notes.time().expect("a time column");
    assert_eq!((time.column, time.why.clone()), (1, Why::Time { unit: Some(TimeUnit::Seconds) }));
}

#[test]
fn columns_that_are_no_channel_are_told() {
    let text = "#,Time,crank,spare\n1,0.000,1.5,\n2,0.001,-2.25,\n3,0.002,3,\n";
    let capture = read_bytes(text.as_bytes(), "l.csv", &ReadOptions::default()).expect("reads");
    let told: Vec<(usize, &str, &Why)> = capture
        .notes
        .left_out
        .iter()
        .map(|one| (one.column, one.name.as_str(), &one.why))
        .collect();
    let want = [
        (1, "#", &Why::Counter),
        (2, "Time", &Why::Time { unit: None }),
        (4, "spare", &Why::Blank),
    ];
    assert_eq!(told, want);
    let lost: Vec<usize> = capture.notes.lost().map(|one| one.column).collect();
    assert_eq!(lost, [4]);
}

/// What is said of rows and cells, beside the values.
#[test]
fn what_is_left_out_or_filled_is_said() {
    let rows: &[(&str, &str, Want, &[&str])] = &[
        (
            "a last row at time 0",
            "Time (s),crank\n0.000,1.5\n0.001,-2.25\n0.002,3\n0,0\n",
            PLAIN,
            &["last row was left out: its time, 0 s, is not after 0.002 s"],
        ),
        (
            "a last row at the same time with another level",
            "Time (s),a\n0.1,0\n0.25,1\n0.3,0\n0.3,1\n",
            Rows(&[0.1, 0.25, 0.3], &[("a", &[0.0, 1.0, 0.0])]),
            &["last row was left out: its time, 0.3 s"],
        ),
        (
            "a last row cut short in its width",
            "Time (s),crank,cam\n0.000,1.5,5\n0.001,-2.25,0\n0.002,3,5\n0.003,1",
            TWO,
            &["Line 5, the last, is no row", "`0.003,1`", "cut short"],
        ),
        (
            "a last row cut short in a number",
            "Time (s),crank,cam\n0.000,1.5,5\n0.001,-2.25,0\n0.002,3,5\n0.003,1,-",
            TWO,
            &["Line 5, the last", "`-`"],
        ),
        (
            "a footer",
            "Time (s),crank,cam\n0.000,1.5,5\n0.001,-2.25,0\n0.002,3,5\n\nMean,0.75,3.3\nEnd of capture\n",
            TWO,
            &["2 lines at the end, from line 6 on", "`Mean,0.75,3.3`"],
        ),
        (
            "a channel sampled at half the rate",
            "Time (s),crank,cam\n0.000,1.5,0\n0.001,-2.25,\n0.002,3,4\n0.003,1,\n0.004,1,2\n",
            Rows(
                &[0.0, 0.001, 0.002, 0.003, 0.004],
                &[("crank", &[1.5, -2.25, 3.0, 1.0, 1.0]), ("cam", &[0.0, 2.0, 4.0, 3.0, 2.0])],
            ),
            &["Column 3 \"cam\" is blank at regular steps", "2 blank cells"],
        ),
        (
            "NaN in place of blanks",
            "Time (s),crank,cam\n0.000,1.5,0\n0.001,-2.25,NaN\n0.002,3,4\n0.003,1,nan\n0.004,1,2\n",
            Rows(
                &[0.0, 0.001, 0.002, 0.003, 0.004],
                &[("crank", &[1.5, -2.25, 3.0, 1.0, 1.0]), ("cam", &[0.0, 2.0, 4.0, 3.0, 2.0])],
            ),
            &["Column 3 \"cam\" is blank at regular steps"],
        ),
        (
            "blanks without a rule",
            "Time (s),crank\n0.000,5\n0.001,\n0.002,-4\n0.003,-4\n0.004,5\n0.005,1\n",
            Rows(
                &[0.0, 0.001, 0.002, 0.003, 0.004, 0.005],
                &[("crank", &[5.0, 5.0, -4.0, -4.0, 5.0, 1.0])],
            ),
            &["One cell of column 2 \"crank\" is blank: it was taken for over-range"],
        ),
    ];
    for (name, text, want, words) in rows {
        check(name, text.as_bytes(), &ReadOptions::default(), want);
        let capture = read_bytes(text.as_bytes(), "r.csv", &ReadOptions::default()).expect("reads");
        let said: String = capture.notes.remarks.iter().map(|one| format!("{one}\n")).collect();
        for word in *words {
            assert!(said.contains(word), "{name}: no {word:?} in: {said}");
        }
        assert_eq!(capture.notes.remarks.len(), 1, "{name}: {said}");
    }
}

#[test]
fn a_column_of_text_or_nan_leaves_the_others() {
    let rows: [(&str, &str, &str); 3] = [
        (
            "a word",
            "Time (s),crank,b\n0.0000,1.5,1\n0.001,-2.25,two\n0.002,3,three\n0.003,1,1\n",
            "line 3 has `two`",
        ),
        (
            "NaN",
            "Time (s),crank,b\n0.000,1.5,1\n0.001,-2.25,NaN\n0.002,3,2\n0.003,1,1\n",
            "line 3 has `NaN`",
        ),
        (
            "nothing but NaN",
            "Time (s),crank,b\n0.000,1.5,NaN\n0.001,-2.25,NaN\n0.002,3,NaN\n0.003,1,NaN\n",
            "line 2 has `NaN`",
        ),
    ];
    for (name, text, word) in rows {
        let capture = read_bytes(text.as_bytes(), "t.csv", &ReadOptions::default()).expect(name);
        assert_eq!(capture.channels.len(), 1, "{name}");
        assert_eq!(capture.channels[0].values, [1.5, -2.25, 3.0, 1.0], "{name}");
        let why = capture.notes.lost().next().expect(name).why.to_string();
        assert!(why.contains(word), "{name}: {why}");
    }
}

/// Names and units that users' files have, and shapes of rows.
#[test]
fn more_ways_of_writing_a_table() {
    let three = "0.000,1.5\n0.001,-2.25\n0.002,3\n";
    let rows: Vec<(&str, String, Want)> = vec![
        ("t / s", format!("t / s,crank / V\n{three}"), PLAIN),
        ("t/s", format!("t/s,crank\n{three}"), PLAIN),
        ("time_s", format!("time_s,crank\n{three}"), PLAIN),
        ("Time_ms", "Time_ms,crank\n0,1.5\n1,-2.25\n2,3\n".into(), PLAIN),
        ("Elapsed ms", "Elapsed ms,crank\n0,1.5\n1,-2.25\n2,3\n".into(), PLAIN),
        ("\"time, s\"", format!("\"time, s\",\"crank, V\"\n{three}"), PLAIN),
        ("Cyrillic", "Время (мс);crank (В)\n0;1,5\n1;-2,25\n2;3\n".into(), PLAIN),
        ("Cyrillic behind a comma", format!("\"Время, с\",\"crank, В\"\n{three}"), PLAIN),
        (
            "a third row, above the names",
            format!("Source,CH1\nTime,crank\n(s),(V)\n{three}"),
            PLAIN,
        ),
        ("a third row, below the units", format!("Time,crank\n(s),(V)\nprobe,x10\n{three}"), PLAIN),
        ("a third row, between", format!("Time,crank\nprobe,x10\n(s),(V)\n{three}"), PLAIN),
        ("a row of remarks below the names", format!("Time (s),crank\nprobe,x10\n{three}"), PLAIN),
        ("pipes", "Time (s)|crank\n0.000|1.5\n0.001|-2.25\n0.002|3\n".into(), PLAIN),
        (
            "aligned by blanks",
            "Time (s)   crank\n  0.000     1.5\n  0.001   -2.25\n  0.002       3\n".into(),
            PLAIN,
        ),
        ("one blank", "Time crank\n0.000 1.5\n0.001 -2.25\n0.002 3\n".into(), PLAIN),
        (
            "a time for each channel, all equal",
            "t1,crank,t2,cam\n0.000,1.5,0.000,5\n0.001,-2.25,0.001,0\n0.002,3,0.002,5\n".into(),
            TWO,
        ),
        (
            "words for levels",
            "Time (s),a,b\n0.000,True,low\n0.001,False,HIGH\n0.002,true,Low\n0.003,true,Low\n"
                .into(),
            Rows(
                &[0.0, 0.001, 0.002, 0.003],
                &[("a", &[1.0, 0.0, 1.0, 1.0]), ("b", &[0.0, 1.0, 0.0, 0.0])],
            ),
        ),
        (
            "whole numbers to the base 16",
            "Time (s),a\n0.000,0x1F\n0.001,0xff\n0.002,0x00\n".into(),
            Rows(T, &[("a", &[31.0, 255.0, 0.0])]),
        ),
        (
            "a column of words",
            "Time (s),state,crank\n0.000,run,1.5\n0.001,\"all ok\",-2.25\n0.002,,3\n0.003,run,1\n"
                .into(),
            Rows(&[0.0, 0.001, 0.002, 0.003], &[("crank", &[1.5, -2.25, 3.0, 1.0])]),
        ),
        (
            "more than 64 kB above the rows",
            format!("{}Time (s),crank\n{three}", "# a line of settings\n".repeat(5000)),
            PLAIN,
        ),
        (
            "times of day",
            "Time,crank\n23:59:59.000,1.5\n23:59:59.001,-2.25\n23:59:59.002,3\n".into(),
            Rows(&[86_399.0, 86_399.001, 86_399.002], &[("crank", CRANK)]),
        ),
        (
            "dates and times, ISO 8601, over midnight",
            "stamp;crank\n2026-01-31T23:59:59.999Z;1,5\n2026-02-01T00:00:00.000Z;-2,25\n2026-02-01T00:00:00.001Z;3,5\n".into(),
            Rows(&[86_399.999, 86_400.0, 86_400.001], &[("crank", &[1.5, -2.25, 3.5])]),
        ),
        (
            "a time of day beside seconds",
            "Clock,Time (s),crank\n12:00:00,0.000,1.5\n12:00:00,0.001,-2.25\n12:00:00,0.002,3\n".into(),
            PLAIN,
        ),
        (
            "words for over range",
            "Time (s),crank\n0.000,1.5\n0.001,OL\n0.002,-4\n0.003,-4\n".into(),
            Rows(&[0.0, 0.001, 0.002, 0.003], &[("crank", &[1.5, 1.5, -4.0, -4.0])]),
        ),
    ];
    for (name, text, want) in &rows {
        check(name, text.as_bytes(), &ReadOptions::default(), want);
    }
}

#[test]
fn the_user_names_the_time_column() {
    let text = "ticks of it,crank,clock\n7,1.5,0.000\n9,-2.25,0.001\n4,3,0.002\n";
    let want = Rows(T, &[("ticks of it", &[7.0, 9.0, 4.0]), ("crank", CRANK)]);
    for time in ["clock", "CLOCK", "3"] {
        let options = ReadOptions { time: Some(time.into()), ..ReadOptions::default() };
        check(time, text.as_bytes(), &options, &want);
    }
    let options = ReadOptions { time: Some("4".into()), ..ReadOptions::default() };
    check("4", text.as_bytes(), &options, &Refused(&["numbered `4`", "clock"]));
}
