//! What the user settles where the file leaves it open.

use super::*;

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
            Refused(&["sample rate", "above 0"]),
        ),
        (
            "rate against times",
            "Time (s),crank\n0.000,1.5\n0.001,-2.25\n0.002,3\n",
            ReadOptions { rate: Some(500.0), ..base() },
            Refused(&["500 samples per second"]),
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
            Refused(&["the seconds that are to be used", "0.002 s"]),
        ),
    ];
    for (name, text, options, want) in rows {
        check(name, text.as_bytes(), options, want);
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
