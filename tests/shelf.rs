//! The shop's shelf, as its user meets it: engines by name, jobs and their outcomes, the table, the
//! likely engine.

use std::path::Path;
use std::process::{Command, Output};

use super::cli::{ENGINE, folder, root, text, write};

fn run(shelf: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_camwitness"))
        .args(arguments)
        .current_dir(root())
        .env("CAMWITNESS_SHELF", shelf)
        .output()
        .expect("the program runs")
}

/// What a command says on standard output, whatever its status.
fn said(shelf: &Path, arguments: &[&str]) -> String {
    let output = run(shelf, arguments);
    assert!(output.stderr.is_empty(), "{arguments:?}: {}", text(&output.stderr));
    text(&output.stdout)
}

/// The message of a command that is refused.
fn refused(shelf: &Path, arguments: &[&str]) -> String {
    let output = run(shelf, arguments);
    let message = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{arguments:?}: {message}");
    assert!(message.starts_with("camwitness: ") && message.lines().count() == 1, "{message}");
    message
}

const LATE: &str = "demo-data/bank2-late.csv";
const SOUND: &str = "demo-data/sound.csv";

#[test]
fn a_job_goes_from_the_capture_to_the_record() {
    let home = folder();
    let shelf = home.path().join("shelf");
    assert!(refused(&shelf, &["shelf", "table"]).contains("no shelf here yet"));
    let kept = said(&shelf, &["shelf", "keep", ENGINE, "--name", "Grey V6"]);
    assert!(kept.contains("--engine \"Grey V6\" --keep"), "{kept}");
    let job = write(
        home.path(),
        "job.toml",
        "number = 4711\nvehicle = \"grey van\"\ndate = 2026-03-04\n",
    );
    let report = home.path().join("r.html").display().to_string();
    let words =
        ["check", LATE, "--engine", "grey v6", "--keep", "--report", &report, "--job", &job];
    let found = said(&shelf, &words);
    assert!(found.contains("Kept as job 1 on the shelf"), "{found}");
    // The same engine by its file gives the same finding.
    let by_file = said(&shelf, &["check", LATE, "--engine", ENGINE]);
    assert!(found.starts_with(by_file.trim_end()), "{found}\n{by_file}");
    assert!(said(&shelf, &["check", SOUND, "--engine", "Grey V6", "--keep"]).contains("job 2"));

    let says = said(&shelf, &["outcome", "1", "B2 intake one tooth late, confirmed"]);
    assert!(says.contains("the finding was right"), "{says}");
    let says = said(&shelf, &["outcome", "2", "covers off, marks right", "--sound"]);
    assert!(says.contains("rests on 1 engine"), "{says}");
    let known = shelf.join("known-goods/Grey V6.known.toml");
    assert!(std::fs::read_to_string(known).expect("a known-good").contains("B2 intake"));
    // It is used from now on without being named.
    let output = run(&shelf, &["check", LATE, "--engine", "Grey V6", "--json", "-"]);
    let result: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(result["cams"][0]["expected_from"], "known-good");
    assert_eq!(result["verdict"]["on"], "B2 intake");

    let table = said(&shelf, &["shelf", "table"]);
    assert!(table.contains("grey van") && table.contains("JUMPED"), "{table}");
    assert!(table.contains("Looked at: 2, of which 2 right and 0 wrong"), "{table}");
    assert!(table.contains("mostly those that were accused"), "{table}");
    // Found sound later: the finding is contradicted, and that shows.
    let says = said(
        &shelf,
        &["outcome", "1", "second opinion: marks right, sensor bracket bent", "--wrong"],
    );
    assert!(says.contains("WRONG"), "{says}");
    let table = said(&shelf, &["shelf", "table"]);
    assert!(table.contains("that was not so: second opinion"), "{table}");

    let lines = said(&shelf, &["shelf", "table", "--json", "-"]);
    let jobs: Vec<serde_json::Value> =
        lines.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    assert_eq!(jobs.len(), 2);
    assert_eq!(jobs[0]["finding_was_right"], false);
    assert_eq!(jobs[0]["order"], "4711");
    assert_eq!(jobs[1]["timing_found_sound"], true);
    // demo-data/README.md: the truth is +17.32°.
    let off = jobs[0]["cams"][1]["deviation_deg"].as_f64().expect("a number");
    assert!((off - 17.32).abs() < 0.3, "{off}");
    let csv = home.path().join("t.csv").display().to_string();
    said(&shelf, &["shelf", "table", "--of", "grey v6", "--csv", &csv]);
    let rows = std::fs::read_to_string(&csv).expect("a table");
    assert_eq!(rows.lines().count(), 1 + 2 * 2, "a row for each cam of each job: {rows}");
    assert!(refused(&shelf, &["shelf", "table", "--csv", &csv]).contains("there already"));
    let one = home.path().join("new").display().to_string();
    let both = refused(&shelf, &["shelf", "table", "--csv", &one, "--json", &one]);
    assert!(both.contains("written into one file"), "{both}");
}

#[test]
fn a_job_without_an_engine_file_and_one_without_a_crank_are_kept() {
    let home = folder();
    let shelf = home.path().join("shelf");
    let facts = ["--firing", "1-6-5-4-3-2", "--banks", "1-2-3/4-5-6"];
    let found = said(&shelf, &[&["check", LATE, "--keep"], &facts[..]].concat());
    assert!(found.contains("Kept as job 1"), "{found}");
    said(&shelf, &["shelf", "keep", ENGINE]);
    // The engine of the shelf that has these wheels is proposed.
    let found = said(&shelf, &[&["check", LATE], &facts[..]].concat());
    assert!(found.contains("On the shelf \"engine\" fits"), "{found}");
    let capture = home.path().join("clamp.csv").display().to_string();
    let made = ["practice", "--engine", ENGINE, "--only", "starter,ignition 3", "--out", &capture];
    said(&shelf, &made);
    let found = said(&shelf, &["check", &capture, "--engine", "engine", "--keep"]);
    assert!(found.contains("Kept as job 2"), "{found}");
    let lines = said(&shelf, &["shelf", "table", "--json", "-"]);
    let last = lines.lines().last().expect("two jobs");
    let last: serde_json::Value = serde_json::from_str(last).expect("JSON");
    assert_eq!(last["cams"].as_array().map(Vec::len), Some(0));
    let said_sound = said(&shelf, &["outcome", "2", "leak-down even", "--sound"]);
    assert!(said_sound.contains("Not added to the engine's known-good"), "{said_sound}");
}

#[test]
fn mistakes_about_the_shelf_end_in_one_plain_message() {
    let home = folder();
    let shelf = home.path().join("shelf");
    // Without a shelf an engine that is no file is a missing file.
    assert!(refused(&shelf, &["check", LATE, "--engine", "grey"]).contains("grey"));
    said(&shelf, &["shelf", "keep", ENGINE, "--name", "grey"]);
    let message = refused(&shelf, &["check", LATE, "--engine", "gray"]);
    assert!(message.contains("no engine \"gray\"") && message.contains("It has grey"), "{message}");
    assert!(refused(&shelf, &["outcome", "1", "x"]).contains("has no job 1"));
    let output = run(&shelf, &["outcome", "one", "x"]);
    assert_eq!(output.status.code(), Some(2), "no number");
    assert!(
        refused(&shelf, &["check", "demo-data", "--engine", "grey", "--keep"]).contains("--keep")
    );
    let other = home.path().join("other").display().to_string();
    let message = refused(&shelf, &["check", LATE, "--engine", "grey", "--shelf", &other]);
    assert!(message.contains("no shelf here yet"), "{message}");
    let message = refused(&shelf, &["shelf", "keep", LATE]);
    assert!(message.contains("capture") || message.contains("table"), "{message}");
    std::fs::write(shelf.join("shelf.toml"), "camwitness_shelf = 2\n").expect("newer");
    assert!(refused(&shelf, &["shelf", "engines"]).contains("Use the newer program"));
    assert!(refused(&shelf, &["check", LATE, "--engine", "grey"]).contains("version 2"));
}

#[test]
fn a_broken_file_and_two_engines_of_one_name_are_said_and_hide_nothing() {
    let home = folder();
    let shelf = home.path().join("shelf");
    said(&shelf, &["shelf", "keep", ENGINE, "--name", "first"]);
    for _ in 0..2 {
        said(&shelf, &["check", LATE, "--engine", "first", "--keep", "--quiet"]);
    }
    // Two files whose engines are called alike within.
    let demo = std::fs::read_to_string(root().join(ENGINE)).expect("the demonstration's engine");
    let file = write(home.path(), "second.toml", format!("# another of that name\n{demo}"));
    said(&shelf, &["shelf", "keep", &file]);
    let message = refused(&shelf, &["check", LATE, "--engine", "Demonstration V6"]);
    assert!(message.contains("first and second"), "{message}");
    assert!(message.contains("file's name"), "{message}");
    // And one name for two files.
    let message = refused(&shelf, &["shelf", "keep", &file, "--name", "First"]);
    assert!(
        message.contains("another engine \"first\"") && message.contains("--name"),
        "{message}"
    );
    // Broken files: what they are and where, beside everything else.
    std::fs::write(shelf.join("jobs/0001/job.toml"), "finding = [").expect("broken");
    std::fs::write(shelf.join("engines/third.toml"), "name = 3").expect("broken");
    let table = said(&shelf, &["shelf", "table"]);
    assert!(table.contains("    2  first"), "{table}");
    let flat: String = table.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("job.toml: this file of the shelf cannot be used"), "{flat}");
    assert!(flat.contains("Mend it, or move it out of the shelf"), "{flat}");
    assert!(refused(&shelf, &["outcome", "1", "marks right"]).contains("job.toml"));
    let engines = said(&shelf, &["shelf", "engines"]);
    assert!(
        engines.contains("third: cannot be used") && engines.contains("  first: "),
        "{engines}"
    );
    assert!(refused(&shelf, &["check", LATE, "--engine", "third"]).contains("third.toml"));
}

#[cfg(unix)]
#[test]
fn a_shelf_that_may_not_be_written_or_read_is_said_and_nothing_is_changed() {
    use std::os::unix::fs::PermissionsExt;
    let home = folder();
    let shelf = home.path().join("shelf");
    said(&shelf, &["shelf", "keep", ENGINE, "--name", "grey"]);
    let capture = home.path().join("late.csv");
    std::fs::copy(root().join(LATE), &capture).expect("a capture");
    let engine = home.path().join("other.toml");
    std::fs::copy(root().join(ENGINE), &engine).expect("an engine");
    let allow = |mode| {
        std::fs::set_permissions(&shelf, std::fs::Permissions::from_mode(mode)).expect("its mode");
    };
    let (capture, engine) = (capture.display().to_string(), engine.display().to_string());
    let mut tries = 0;
    let mut refused = |words: &[&str]| {
        tries += 1;
        let own = home.path().join(format!("try {tries}"));
        std::fs::create_dir(&own).expect("a folder");
        let mut command = super::cli::as_nobody(&own)?;
        let output = command.args(words).env("CAMWITNESS_SHELF", &shelf).output().expect("it runs");
        let message = text(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{words:?}: {message}");
        assert!(message.starts_with("camwitness: ") && message.lines().count() == 1, "{message}");
        Some(message)
    };
    allow(0o555);
    for words in [
        &["shelf", "keep", &engine, "--name", "new"][..],
        &["check", &capture, "--engine", "grey", "--keep"],
    ] {
        let Some(message) = refused(words) else { return };
        assert!(message.contains("may be written"), "{message}");
    }
    allow(0o000);
    let message = refused(&["shelf", "table"]).expect("as before");
    assert!(message.contains("may be read"), "{message}");
    allow(0o755);
    let inside: Vec<_> =
        std::fs::read_dir(&shelf).expect("listed").filter_map(Result::ok).collect();
    assert_eq!(inside.len(), 2, "its mark and its engines: {inside:?}");
}

/// Twenty engines of which four share the crank wheel of the capture.
#[test]
fn a_likely_engine_is_proposed_from_a_noisy_capture_among_twenty() {
    let home = folder();
    let shelf = home.path().join("shelf");
    let demo = std::fs::read_to_string(root().join(ENGINE)).expect("the demonstration's engine");
    let of = |crank: &str, cam: &str| {
        let text = demo.replacen("\"36-2\"", &format!("\"{crank}\""), 1);
        text.replacen("\"three-uneven\"", &format!("\"{cam}\""), 1)
    };
    let cams = ["three-uneven", "four-plus-one", "two-narrow-two-wide", "half-moon"];
    let mut names = Vec::new();
    for crank in ["36-2", "60-2", "36-1", "36-2-2-2-thirds", "36-2-1"] {
        for cam in cams {
            let name = format!("{crank} with {cam}");
            let file = write(home.path(), "engine.toml", of(crank, cam));
            said(&shelf, &["shelf", "keep", &file, "--name", &name]);
            names.push(name);
        }
    }
    for (seed, name) in names.iter().take(4).enumerate() {
        let capture = home.path().join(format!("{seed}.csv")).display().to_string();
        let seed = (seed + 1).to_string();
        let engine = shelf.join("engines").join(format!("{name}.toml")).display().to_string();
        said(
            &shelf,
            &[
                "practice", "--engine", &engine, "--preset", "nasty", "--seed", &seed, "--out",
                &capture,
            ],
        );
        let output = run(&shelf, &["shelf", "likely", &capture]);
        let found = text(&output.stdout);
        assert_eq!(output.status.code(), Some(0), "{name}: {found}");
        assert!(found.contains(&format!("\"{name}\" fits")), "{name}: {found}");
    }
}
