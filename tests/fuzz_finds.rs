//! What the fuzzers of `fuzz/` found, held to what their targets hold every input to. The files are
//! the inputs as they were found, less nothing: the first byte is what the target takes from it.

use camwitness::capture::{Clock, ReadOptions, read_bytes};

#[path = "../fuzz/fuzz_targets/shared/mod.rs"]
mod shared;

/// The input behind its first byte, and the mark `read_formats` puts in front.
fn read(input: &[u8], mark: &[u8], rate: Option<f64>) {
    let options = ReadOptions { rate, limits: shared::limits(), ..ReadOptions::default() };
    shared::read_and_hold(&[mark, &input[1..]].concat(), &options);
}

#[test]
fn names_keep_no_control_characters() {
    let rate = Some(1000.0);
    // read_csv: a tab in a name between semicolons.
    read(include_bytes!("fixtures/fuzz/tab-in-a-name"), b"", rate);
    // read_formats, none of its marks: a delete in a quoted name.
    read(include_bytes!("fixtures/fuzz/delete-in-a-name"), b"", rate);
    // read_formats: an archive with a member that is no array, named with controls.
    read(include_bytes!("fixtures/fuzz/control-in-a-member"), b"", None);
}

#[test]
fn messages_quote_no_control_characters() {
    // read_formats, none of its marks: a tab in a cell that has a decimal point where another has a
    // comma.
    read(include_bytes!("fixtures/fuzz/tab-in-a-message"), b"", None);
}

#[test]
fn a_line_of_levels_alone_is_no_row() {
    // read_formats, none of its marks: "l" and "lo" between tabs, which stand for low.
    read(include_bytes!("fixtures/fuzz/levels-alone"), b"", None);
    // The same in what somebody might have, with and without a rate.
    for text in ["x low\thigh\nhigh\tlow\n", "x lo,hi,lo\n", "x high\thigh\n1\t2\n"] {
        read(text.as_bytes(), b"", Some(1000.0));
        read(text.as_bytes(), b"", None);
    }
}

/// Rows of one time, the second of which was cut off in the middle.
#[test]
fn a_spoilt_last_row_may_have_the_time_of_the_one_before() {
    // read_csv, what its search had kept.
    read(include_bytes!("fixtures/fuzz/spoilt-end-at-a-time-again"), b"", None);
    let changes = "xtime,a,b\n0,0,0\n1,1,0\n2,1,1\n3,0,1\n";
    let samples = "xtime,a,b\n0,0.1,5\n1,0.2,6\n2,0.4,7\n3,0.5,8\n";
    for rows in [changes, samples] {
        for last in ["3,0,", "3,0", "3,,", "3,0,x", "3,-,-", "3,NaN,NaN", "3,0.6,8.x"] {
            read(format!("{rows}{last}\n").as_bytes(), b"", None);
        }
    }
}

/// Rows of one time in several blocks of the reader, which are short for a fuzzer.
#[test]
fn rows_of_one_time_are_not_kept_because_they_come_in_blocks() {
    // read_events, rows by what the file says.
    read(include_bytes!("fixtures/fuzz/one-time-over-seams"), b"", None);
}

/// The list of changes as it is read, without a message.
fn clock(text: &str) -> Clock {
    read_bytes(text.as_bytes(), "input", &ReadOptions::default()).expect(text).clock
}

/// Found by reading what the fuzzers had kept in long and in short blocks: a row cut off in the
/// middle, at the time of the row before, had made every other time an even step.
#[test]
fn a_spoilt_last_row_leaves_the_times_of_the_others() {
    let changes = "time (us),a,b\n10,0,1\n375,1,0\n512,0,1\n1100,0,0\n1101,1,0\n";
    let times = Clock::Stamped(vec![10e-6, 375e-6, 512e-6, 1100e-6, 1101e-6]);
    assert_eq!(clock(changes), times);
    for last in ["1101,-", "1101,-,0", "1101,x,0", "1101,0,x1"] {
        assert_eq!(clock(&format!("{changes}{last}\n")), times, "{last}");
    }
}
