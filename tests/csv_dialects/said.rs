//! What is said of a table beside its values.

use super::*;

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
            "a footer as wide as the rows, without times",
            "Sample interval (ms),1\ncrank,cam\n1.5,5\n-2.25,0\n3,5\n\n0.75,3.3\n",
            TWO,
            &["Line 7, the last, stands apart", "footer"],
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
    let rows: [(&str, &str, &str); 5] = [
        (
            "a channel of another rate, written from the top",
            "Time (s),crank,b\n0.000,1.5,1\n0.001,-2.25,2\n0.002,3,\n0.003,1,\n",
            "values end at line 3",
        ),
        (
            "a word for a level among numbers",
            "Time (s),crank,b\n0.000,1.5,3.3\n0.001,-2.25,high\n0.002,3,0.1\n0.003,1,3.3\n",
            "line 3 has `high`",
        ),
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

#[test]
fn a_footer_of_two_rows_without_times_is_left_out() {
    let rows: String = (0..300).map(|row| format!("{},5\n", row % 7)).collect();
    let text = format!("Sample interval (ms),1\ncrank,cam\n{rows}\n3.0,5.0\n2.0,0.0\n");
    let capture = read_bytes(text.as_bytes(), "f.csv", &ReadOptions::default()).expect("reads");
    assert_eq!(capture.rows(), 300);
    assert_eq!(capture.channels[0].values[299], 5.0);
    let said = capture.notes.remarks[0].to_string();
    assert!(said.contains("2 lines at the end, from line 304 on, stand apart"), "{said}");
    // Two rows more of a short recording may be another piece of it.
    let text = "Sample interval (ms),1\ncrank\n1\n2\n3\n4\n5\n\n1\n2\n";
    check("two of seven", text.as_bytes(), &ReadOptions::default(), &Refused(&["2 pieces"]));
}

#[test]
fn zeros_between_the_values_of_a_slower_channel_are_filled() {
    let cam = |row: u32| if row.is_multiple_of(2) { row + 1 } else { 0 };
    let rows: String =
        (0..49).map(|row| format!("0.{row:03},{},{}\n", row % 5, cam(row))).collect();
    let text = format!("Time (s),crank,cam\n{rows}");
    let capture = read_bytes(text.as_bytes(), "z.csv", &ReadOptions::default()).expect("reads");
    let want: Vec<f32> = (0..49_u8).map(|row| f32::from(row) + 1.0).collect();
    assert_eq!(capture.channels[1].values, want);
    let said = capture.notes.remarks[0].to_string();
    assert!(said.contains("Column 3 \"cam\" is zero but at regular steps"), "{said}");
    assert!(said.contains("24 cells were filled"), "{said}");
    // Zeros that come as they may are values.
    let text = text.replace("0.020,0,21", "0.020,0,0").replace("0.021,1,0", "0.021,1,22");
    let capture = read_bytes(text.as_bytes(), "z.csv", &ReadOptions::default()).expect("reads");
    assert_eq!(capture.channels[1].values[1], 0.0);
    assert!(capture.notes.remarks.is_empty());
}
