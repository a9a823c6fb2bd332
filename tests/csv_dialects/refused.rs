//! What is refused, with its place and its remedy.

use super::*;

/// The beginning shows no decimal mark at all.
static WHOLE_THEN_COMMA: std::sync::LazyLock<String> = std::sync::LazyLock::new(|| {
    let rows: String = (0..20_000).map(|row| format!("{row};1\n")).collect();
    format!("Time (ms);a\n{rows}20000;0,5\n20001;0,5\n")
});

#[test]
fn refused_with_place_and_remedy() {
    let rows: &[(&str, &str, &[&str])] = &[
        ("empty", "", &["empty"]),
        ("blank lines only", "\n\n  \n", &["blank lines"]),
        ("words only", "hello\nworld\n", &["no row of numbers"]),
        ("header only", "Time (s),crank\n", &["no row of numbers"]),
        ("one row", "Time (s),crank\n0,1\n", &["only one row"]),
        ("one column", "crank\n1.5\n2.5\n3.5\n", &["only one column", "samples per second"]),
        ("only times", "Time (s)\n0.1\n0.2\n0.3\n", &["only one column"]),
        ("no time", "crank,cam\n1.5,2\n2.5,3\n1.5,4\n", &["no time column", "samples per second"]),
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
            &["line 6", "jumps", "the first and the last second"],
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
            &["line 2", "decimal marks", "the mark between cells, comma"],
        ),
        (
            "1,234 without a header",
            "1,234\n2,345\n3,456\n",
            &["decimal marks", "the mark between cells"],
        ),
        (
            "1,234 between semicolons",
            "Time (s);a\n1,234;2,345\n2,345;3,456\n",
            &["`1,234`", "the decimal mark"],
        ),
        (
            "both decimal marks",
            "Time (s);a\n0,1;2.34\n0,2;3.45\n",
            &["`2.34`", "`0,1`", "one number format"],
        ),
        (
            "decimal comma beside a doubtful point",
            "Time (s);a\n0,1;2.345\n0,2;3.456\n",
            &["`2.345`", "the decimal mark"],
        ),
        (
            "whole numbers as times without a unit",
            "Time,a\n0,1.5\n1,2.5\n2,3.5\n",
            &["no unit", "the unit of the times"],
        ),
        (
            "coarse times without a unit",
            "Time,a\n0.0,1.5\n0.1,2.5\n0.2,3.5\n",
            &["no unit", "the unit of the times"],
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
            &["two sample intervals", "samples per second"],
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
            &["goes up by 10", "samples per second"],
        ),
        (
            "a stated decimation, without times",
            "Sample interval (ms),1\nDecimation,10\ncrank\n1.5\n-2.25\n3\n",
            &["`Decimation 10`", "samples per second"],
        ),
        (
            "a stated decimation in other words",
            "Sample interval (ms),1\nExport every 10th sample\ncrank\n1.5\n-2.25\n3\n",
            &["`Export every 10th sample`", "samples per second"],
        ),
        (
            "samples left out",
            "Sample interval (ms),1\nSamples skipped: 9\ncrank\n1.5\n-2.25\n3\n",
            &["`Samples skipped: 9`", "samples per second"],
        ),
        (
            "data reduction",
            "Sample interval (ms),1\nReduction,1:10\ncrank\n1.5\n-2.25\n3\n",
            &["`Reduction 1:10`", "samples per second"],
        ),
        (
            "a count with a prefix",
            "Sample rate: 1 MS/s\nBuffer size;40 kS\ncrank;cam\n1.5;0\n-2.25;1\n3;0\n",
            &["40000 samples", "3 rows"],
        ),
        (
            "a count in groups",
            "Sample rate: 1 MS/s\nTotal samples = 40 000\ncrank\n1.5\n-2.25\n3\n",
            &["40000 samples", "3 rows"],
        ),
        (
            "a duration that is not that of the rows",
            "Sample rate: 1 kS/s\nDuration: 2 s\ncrank\n1.5\n-2.25\n3\n",
            &["2 s", "3 rows at the stated rate are 0.003 s"],
        ),
        (
            "a counter that starts again, without times",
            "Sample interval (ms),1\nindex,crank\n0,1\n1,2\n2,1\n3,2\n4,1\n5,2\n6,1\n7,2\n8,1\n9,2\n10,1\n11,3\n0,1\n1,5\n2,1\n",
            &["line 15", "2 pieces"],
        ),
        (
            "a column that numbers the pieces, without times",
            "Sample interval (ms),1\nSegment No.,crank\n1,1.5\n1,2.5\n2,1.5\n2,3.5\n",
            &["line 5", "2 pieces"],
        ),
        (
            "a channel of another rate, from the top, alone",
            "Time (s),crank\n0.0,1\n0.001,2\n0.002,\n0.003,\n0.004,\n",
            &["line 3, column 2", "values end here"],
        ),
        (
            "times under a name of their own",
            "clock of it,crank\n0.000,1.5\n0.001,2.5\n0.002,1\n",
            &["no time column", "the column of the times"],
        ),
        (
            "the memory's rate, without times",
            "Sample rate: 1 MS/s\nRecord length: 1000000 pts\ncrank\n1.5\n-2.25\n3\n",
            &["1000000 samples", "3 rows", "samples per second"],
        ),
        (
            "a blank level in a list of changes",
            "Time (s),a,b\n0.0,0,1\n0.12,1,1\n0.15,,0\n0.3,0,0\n0.31,1,0\n",
            &["line 4, column 2", "list of changes"],
        ),
        (
            "samples or changes",
            "Time (s),a\n0.0,0\n0.1,1\n0.15,1\n0.3,0\n0.37,1\n0.5,1\n0.61,0\n0.8,1\n",
            &["samples or changes", "the kind of the rows"],
        ),
        (
            "decimal commas after whole numbers only",
            &WHOLE_THEN_COMMA,
            &["line 20002, column 2", "`0,5`", "the decimal mark"],
        ),
        ("a number too large", "Time (s),a\n0.0,1\n0.1,1e200\n0.2,3\n", &["line 3, column 2"]),
        (
            "a row for each change, the channel by its name",
            "Time (s),Channel,Level\n0.0,crank,0\n0.12,crank,1\n0.15,cam,1\n0.3,crank,0\n",
            &[
                "line 2",
                "the change of one channel",
                "column 2 `Channel`",
                "a column for each channel",
            ],
        ),
        (
            "a row for each change, the channel by its number",
            "Time (s),Value,ch\n0.0,0,1\n0.12,1,1\n0.15,1,2\n0.3,0,1\n",
            &["the change of one channel", "column 3 `ch`", ".vcd"],
        ),
        (
            "a row for each change, under other names",
            "Time (s),what,on\n0.0,A,0\n0.11,B,1\n0.12,A,1\n0.15,B,0\n0.31,A,0\n",
            &["the change of one channel", "column 2 `what`"],
        ),
        ("zip archive", "PK\u{3}\u{4}...", &["spreadsheet"]),
        ("binary", "\u{1}\u{2}\u{3}abc,1,2\n", &["not a text file"]),
    ];
    for (name, text, words) in rows {
        check(name, text.as_bytes(), &ReadOptions::default(), &Refused(words));
    }
}
