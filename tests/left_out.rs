//! Columns that are no channel: `look` and `check` name them, and asking for one says why it is
//! none.

use std::path::Path;

use camwitness::analysis::{Options, analyse};
use camwitness::capture::{Capture, ReadOptions, read_bytes_described};
use camwitness::engine::Engine;
use camwitness::look::look;
use camwitness::report;

fn engine() -> Engine {
    Engine::parse(include_str!("../demo-data/engine.toml"), Path::new("engine.toml"))
        .expect("an engine")
}

/// The demonstration's capture with columns added: a header, and what stands in every row.
fn with_columns(added: &[(&str, &str)]) -> String {
    let lines = include_str!("../demo-data/bank2-late.csv").lines();
    let line = |(number, line): (usize, &str)| {
        let cells = added.iter().map(|&(name, cell)| if number == 0 { name } else { cell });
        [line].into_iter().chain(cells).collect::<Vec<_>>().join(",") + "\n"
    };
    lines.enumerate().map(line).collect()
}

fn read(text: &str) -> (Capture, String) {
    let (capture, dialect) =
        read_bytes_described(text.as_bytes(), "c.csv", &ReadOptions::default()).expect("reads");
    let seen = report::look::write(&look(&capture, &[]), dialect.as_ref());
    (capture, seen)
}

fn asked(lead: &str) -> Options {
    Options { leads: vec![lead.parse().expect("a lead")], ..Options::default() }
}

#[test]
fn a_blank_column_is_named_by_look_and_check() {
    let (capture, seen) = read(&with_columns(&[("spare", "")]));
    assert!(seen.contains("7 \"spare\": left out: there is not one number in it"), "{seen}");
    assert!(seen.contains("times in column 1 \"time\", s"), "{seen}");
    let captures = [capture];
    let analysis = analyse(&captures, &engine(), &Options::default()).expect("a finding");
    let text = report::text::write(&analysis);
    assert!(text.contains("\"spare\" was left out: there is not one number in it."), "{text}");
}

#[test]
fn asking_for_a_column_that_is_no_channel_says_why() {
    let (capture, _) = read(&with_columns(&[("spare", "")]));
    let rows = [
        (
            "crank=spare",
            "column \"spare\", named for the lead \"crank\", is no channel: there is not one number",
        ),
        ("crank=7", "is no channel: there is not one number in it"),
        ("crank=1", "is no channel: it carries the times"),
        ("crank=8", "no column \"8\" for the lead \"crank\""),
    ];
    for (lead, part) in rows {
        let captures = [capture.clone()];
        let message = analyse(&captures, &engine(), &asked(lead)).expect_err(lead).to_string();
        assert!(message.contains(part), "{lead}: {message}");
    }
}

#[test]
fn a_crank_that_is_no_channel_is_said_and_not_missed() {
    let text = with_columns(&[]).replacen("\n0.0010,", "\n0.0010,broken", 1);
    let (capture, seen) = read(&text);
    assert!(
        seen.contains("2 \"crank\": left out: a number is expected, and line 12 has `broken"),
        "{seen}"
    );
    let message = analyse(&[capture], &engine(), &Options::default()).expect_err("no crank");
    let message = message.to_string();
    assert!(message.contains("column \"crank\"") && message.contains("line 12 has"), "{message}");
}
