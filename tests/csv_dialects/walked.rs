//! Dialects that one file mixes: several habits of exporters at once.

use super::*;

const FOUR: &[f64] = &[0.0, 0.001, 0.002, 0.003];

#[test]
fn several_habits_at_once() {
    let rows: Vec<(&str, Vec<u8>, Want)> = vec![
        (
            "UTF-16, semicolons, decimal commas, units in brackets in a second row, a footer",
            utf16("Zeit;crank;cam\r\n[ms];[mV];[V]\r\n0,0;1500,0;5,0\r\n1,0;-2250,0;0,0\r\n2,0;3000,0;5,0\r\n\r\nEnde\r\n", true, true),
            TWO,
        ),
        (
            "carriage returns alone, thin spaces as thousands, microseconds",
            "time (µs);crank (mV)\r0;1\u{2009}500\r1\u{2009}000;-2\u{2009}250\r2\u{2009}000;3\u{2009}000\r"
                .into(),
            PLAIN,
        ),
        (
            "blanks that do not break as thousands, in Latin-1",
            b"time (\xb5s);crank (mV)\n0;1\xa0500\n1\xa0000;-2\xa0250\n2\xa0000;3\xa0000\n".into(),
            PLAIN,
        ),
        (
            "exponents with D, trailing separators",
            "Time (s),crank,\n0.00D+00,1.50D+00,\n1.00D-03,-2.25d+00,\n2.00D-03,0.30D+01,\n".into(),
            PLAIN,
        ),
        (
            "exponents with D and decimal commas",
            "Time (s);crank\n0,00D+00;1,50D+00\n1,00D-03;-2,25D+00\n2,00D-03;0,30D+01\n".into(),
            PLAIN,
        ),
        (
            "remarks between the rows, in quotation marks all",
            "\"Time (s)\",\"crank\"\n\"0.000\",\"1.5\"\n# trigger, 1\n\"0.001\",\"-2.25\"\n// end of it\n\"0.002\",\"3\"\n".into(),
            PLAIN,
        ),
        (
            "a slower channel, with a minus where it has nothing, times of day",
            "Time,crank,cam\n10:00:00.000,1.5,0\n10:00:00.001,-2.25,-\n10:00:00.002,3,4\n10:00:00.003,1,-\n10:00:00.004,1,2\n"
                .into(),
            Rows(
                &[36_000.0, 36_000.001, 36_000.002, 36_000.003, 36_000.004],
                &[("crank", &[1.5, -2.25, 3.0, 1.0, 1.0]), ("cam", &[0.0, 2.0, 4.0, 3.0, 2.0])],
            ),
        ),
        (
            "a slower channel in quotation marks, blank ones too, beside a Boolean",
            "Time (s),crank,cam\n\"0.000\",\"True\",\"0\"\n\"0.001\",\"False\",\"\"\n\"0.002\",\"True\",\"4\"\n\"0.003\",\"True\",\"\"\n\"0.004\",\"False\",\"2\"\n"
                .into(),
            Rows(
                &[0.0, 0.001, 0.002, 0.003, 0.004],
                &[("crank", &[1.0, 0.0, 1.0, 1.0, 0.0]), ("cam", &[0.0, 2.0, 4.0, 3.0, 2.0])],
            ),
        ),
        (
            "words of a German spreadsheet",
            "\u{feff}Zeit (s);a;b\r\n0,000;WAHR;FALSCH\r\n0,001;FALSCH;WAHR\r\n0,002;WAHR;FALSCH\r\n0,003;WAHR;FALSCH\r\n".into(),
            Rows(FOUR, &[("a", &[1.0, 0.0, 1.0, 1.0]), ("b", &[0.0, 1.0, 0.0, 0.0])]),
        ),
        (
            "words of a French spreadsheet, tabs",
            "Temps (s)\ta\n0,000\tVRAI\n0,001\tFAUX\n0,002\tVRAI\n0,003\tVRAI\n".into(),
            Rows(FOUR, &[("a", &[1.0, 0.0, 1.0, 1.0])]),
        ),
        (
            "a blank column in the middle, a row counter, seconds since 1970",
            "#,timestamp (s),crank,,cam\n1,1795771200.000,1.5,,5\n2,1795771200.001,-2.25,,0\n3,1795771200.002,3,,5\n".into(),
            Rows(
                &[1_795_771_200.0, 1_795_771_200.001, 1_795_771_200.002],
                &[("crank", CRANK), ("cam", &[5.0, 0.0, 5.0])],
            ),
        ),
        (
            "date and time apart, an AM",
            "Date,Time,crank\n2026-11-27,10:00:00.000 AM,1.5\n2026-11-27,10:00:00.001 AM,-2.25\n2026-11-27,10:00:00.002 AM,3\n".into(),
            Rows(&[36_000.0, 36_000.001, 36_000.002], &[("crank", CRANK)]),
        ),
        (
            "no zero before the point, a minus sign of typesetters, blanks about the commas",
            "Time (s) , crank\n.000 , 1.5\n.001 , \u{2212}2.25\n.002 , 3.\n".into(),
            PLAIN,
        ),
        (
            "a name for the separator, commas as thousands in quotation marks",
            "sep=,\nTime (us),crank (mV)\n\"0.0\",\"1,500.0\"\n\"1,000.0\",\"-2,250.0\"\n\"2,000.0\",\"3,000.0\"\n".into(),
            PLAIN,
        ),
        (
            "sample interval in a header with decimal comma, no times, two footers",
            "Sample interval (ms);1,0\ncrank;cam;b\n1,5;5;0\n-2,25;0;0\n3,0;5;0\n\nMin;-2,25\nMax;3\n".into(),
            Rows(T, &[("crank", CRANK), ("cam", &[5.0, 0.0, 5.0]), ("b", &[0.0, 0.0, 0.0])]),
        ),
    ];
    for (name, bytes, want) in &rows {
        check(name, bytes, &ReadOptions::default(), want);
    }
}

/// Two sensors may change in one tick of the recorder.
#[test]
fn changes_of_two_leads_at_one_time_are_one_row() {
    let taken: [(&str, &str, Want); 4] = [
        (
            "two leads, one after the other",
            "Time (s),a,b\n0.0,0,1\n0.12,1,1\n0.15,0,1\n0.15,0,0\n0.31,1,0\n0.4,0,0\n",
            Rows(
                &[0.0, 0.12, 0.15, 0.31, 0.4],
                &[("a", &[0.0, 1.0, 0.0, 1.0, 0.0]), ("b", &[1.0, 1.0, 0.0, 0.0, 0.0])],
            ),
        ),
        (
            "at the beginning, three leads",
            "Time (s),a,b,c\n0.0,0,0,0\n0.0,1,0,0\n0.0,1,1,0\n0.12,0,1,0\n0.2,0,1,1\n",
            Rows(
                &[0.0, 0.12, 0.2],
                &[("a", &[1.0, 0.0, 0.0]), ("b", &[1.0, 1.0, 1.0]), ("c", &[0.0, 0.0, 1.0])],
            ),
        ),
        (
            "at the end, words for levels",
            "Time (s),a,b\n0.0,low,high\n0.12,high,high\n0.31,low,high\n0.31,low,low\n",
            Rows(&[0.0, 0.12, 0.31], &[("a", &[0.0, 1.0, 0.0]), ("b", &[1.0, 1.0, 0.0])]),
        ),
        (
            "before a closing row at time 0",
            "Time (s),a,b\n0.1,0,1\n0.12,1,1\n0.31,0,1\n0.31,0,0\n0,0,0\n",
            Rows(&[0.1, 0.12, 0.31], &[("a", &[0.0, 1.0, 0.0]), ("b", &[1.0, 1.0, 0.0])]),
        ),
    ];
    for (name, text, want) in &taken {
        check(name, text.as_bytes(), &ReadOptions::default(), want);
    }
    let refused: [(&str, &str, &[&str]); 6] = [
        (
            "one lead twice",
            "Time (s),a,b\n0.0,0,1\n0.12,1,1\n0.15,0,1\n0.15,1,1\n0.31,0,1\n",
            &["line 5", "stands still", "0.15 s comes twice"],
        ),
        (
            "two leads, and one of them once more",
            "Time (s),a,b\n0.0,0,1\n0.12,1,1\n0.15,0,1\n0.15,0,0\n0.15,1,0\n0.31,0,1\n",
            &["line 6", "stands still"],
        ),
        (
            "a row that comes twice",
            "Time (s),a,b\n0.0,0,1\n0.12,1,1\n0.12,1,1\n0.15,0,1\n0.31,1,1\n",
            &["line 4", "stands still", "rows that come twice"],
        ),
        (
            "samples whose times are rounded",
            "Time (s),a,b\n0.0,0,0\n0.0,0,0\n0.1,0,0\n0.1,1,0\n0.2,1,0\n0.2,1,1\n0.3,1,1\n",
            &["line 3", "stands still", "more digits"],
        ),
        (
            "more than two levels",
            "Time (s),a\n0.0,0\n0.12,1\n0.12,2\n0.15,3\n0.31,1\n",
            &["line 4", "stands still"],
        ),
        (
            "backwards behind them",
            "Time (s),a,b\n0.0,0,1\n0.12,1,1\n0.12,1,0\n0.1,0,0\n0.31,1,0\n",
            &["line 5", "backwards"],
        ),
    ];
    for (name, text, words) in refused {
        check(name, text.as_bytes(), &ReadOptions::default(), &Refused(words));
    }
    let sampled = ReadOptions { force_kind: Some(CaptureKind::Sampled), ..ReadOptions::default() };
    check("said to be samples", taken[0].1.as_bytes(), &sampled, &Refused(&["stands still"]));
}

#[test]
fn the_first_row_that_is_none_is_named() {
    let rows: &[(&str, &str, &[&str])] = &[
        (
            "units in the cells",
            "time,crank\n0.000 s,1.5 V\n0.001 s,-2.25 V\n0.002 s,3 V\n",
            &["line 2, column 1", "`0.000 s`", "the units in the names"],
        ),
        (
            "quotation marks of another kind",
            "time (s),crank\n'0.000','1.5'\n'0.001','-2.25'\n'0.002','3'\n",
            &["line 2, column 1", "0.000"],
        ),
        (
            "letters for levels",
            "probe;x10\ntime (s);crank;cam\n0,000;T;F\n0,001;F;T\n0,002;T;F\n",
            &["line 3, column 2", "`T`"],
        ),
        (
            "rows from the last to the first",
            "Time (s),a\n0.3,1\n0.2,2\n0.1,3\n",
            &["line 3", "backwards", "in the order of time"],
        ),
    ];
    for (name, text, words) in rows {
        check(name, text.as_bytes(), &ReadOptions::default(), &Refused(words));
    }
}

/// What was not measured before or after the seconds that are used is no matter.
#[test]
fn cells_without_a_number_beside_the_seconds_asked_for() {
    let text = "Time (s),crank\n0.000,NaN\n0.001,2\n0.002,3\n0.003,1\n0.004,one\n";
    let of = |from: f64, to: f64| ReadOptions {
        from: Some(Seconds(from)),
        to: Some(Seconds(to)),
        ..ReadOptions::default()
    };
    let want = Rows(&[0.001, 0.002, 0.003], &[("crank", &[2.0, 3.0, 1.0])]);
    check("beside", text.as_bytes(), &of(0.001, 0.003), &want);
    let inside = Refused(&["line 2, column 2", "`NaN`"]);
    check("inside", text.as_bytes(), &of(0.0, 0.003), &inside);
}
