//! Right values, whatever the dialect.

use super::*;

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
        (
            "no decimation, and the duration of the rows",
            "Sample interval (ms),1\nDownsampling: off\nDuration (ms),3\nRecord length: 3 pts\ncrank\n1.5\n-2.25\n3\n",
            PLAIN,
        ),
        (
            "a counter of 16 bits that begins again",
            "Sample interval (ms),1\nindex,crank\n65535,1.5\n0,-2.25\n1,3\n",
            PLAIN,
        ),
        (
            "times called by a quantity and its parts",
            "elapsed_time_s,crank\n0.000,1.5\n0.001,-2.25\n0.002,3\n",
            PLAIN,
        ),
        ("times in words", "Zeit in ms;crank\n0;1,5\n1;-2,25\n2;3\n", PLAIN),
        ("times in one word", "TimeMs,crank\n0,1.5\n1,-2.25\n2,3\n", PLAIN),
        ("times behind a colon", "Time:s,crank\n0.000,1.5\n0.001,-2.25\n0.002,3\n", PLAIN),
        ("times called by their unit alone", "ms,crank\n0,1.5\n1,-2.25\n2,3\n", PLAIN),
        (
            "single letters for levels",
            "Time (s),a,b\n0.000,H,L\n0.001,L,H\n0.002,h,l\n",
            Rows(T, &[("a", &[1.0, 0.0, 1.0]), ("b", &[0.0, 1.0, 0.0])]),
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
