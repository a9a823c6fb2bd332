//! Names and units that users' files have, and shapes of rows.

use super::*;

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
            "times of day with the thousandths behind a colon",
            "Time,crank\n10:59:59:999,1.5\n11:00:00:000,-2.25\n11:00:00:001,3\n".into(),
            Rows(&[39_599.999, 39_600.0, 39_600.001], &[("crank", CRANK)]),
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
