//! A shelf whose files anybody may have written: its mark, jobs, outcomes and engine files hold any
//! text, names and numbers are any, and everything the shelf can do is done with it.
#![no_main]

use std::path::Path;

use camwitness::report::shelf as words;
use camwitness::shelf::{CamRecord, FindingWas, NewJob, Outcome, Shelf, job_number, record};
use libfuzzer_sys::fuzz_target;

const ENGINE: &str = include_str!("../../demo-data/engine.toml");

fuzz_target!(|input: &[u8]| {
    let folder = tempfile::tempdir().expect("a folder");
    let root = folder.path().join("shelf");
    let outside = folder.path().join("given.toml");
    std::fs::write(&outside, ENGINE).expect("an engine file");
    let shelf = Shelf::open_or_begin(&root).expect("a new shelf");
    let mut rest = input;
    while let [kind, number, length, after @ ..] = rest {
        let own = &after[..usize::from(*length).min(after.len())];
        rest = &after[own.len()..];
        step(&shelf, &outside, *kind, *number, &String::from_utf8_lossy(own));
        let inside = std::fs::read_dir(folder.path()).expect("the folder").count();
        assert_eq!(inside, 2, "something was written beside the shelf");
        assert_eq!(std::fs::read_to_string(&outside).expect("kept"), ENGINE);
    }
    let Ok(shelf) = Shelf::open(&root) else { return };
    if let Ok(jobs) = shelf.jobs() {
        // Control characters of a file are taken out where text reaches the terminal.
        let text = words::table_to_width(&jobs, &record(&jobs.jobs), 80);
        assert!(!text.is_empty());
        for line in words::json_lines(&jobs.jobs).lines() {
            assert!(line.starts_with('{') && line.ends_with('}'), "{line}");
        }
        assert!(words::csv(&jobs.jobs).is_ok());
    }
    let _ = shelf.engines();
});

fn step(shelf: &Shelf, outside: &Path, kind: u8, number: u8, text: &str) {
    let write = |path: &str| {
        let path = shelf.root().join(path);
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).expect("a folder of the shelf");
        }
        std::fs::write(path, text).expect("a file of the shelf");
    };
    match kind % 9 {
        0 => {
            let _ = shelf.keep_engine(outside, Some(text), number % 2 == 0);
        }
        1 => {
            let _ = shelf.engine_file(text);
            let _ = shelf.known_good(text);
            let _ = job_number(text);
        }
        2 => {
            let job = NewJob {
                engine: text.to_owned(),
                shelf_engine: (number % 2 == 0).then(|| text.to_owned()),
                finding: if number % 3 == 0 { "jumped".into() } else { text.to_owned() },
                probability: f64::from(number) / 255.0,
                sentence: text.to_owned(),
                cams: vec![CamRecord {
                    cam: text.to_owned(),
                    deviation_deg: Some(f64::from(number)),
                }],
                ..NewJob::default()
            };
            let kept = shelf.keep_job(&[outside], job, "{}", "<html></html>");
            if let Ok(number) = kept {
                assert!(shelf.job(number).is_ok(), "a job that was kept is not read");
            }
        }
        3 => {
            let was = [None, Some(FindingWas::Right), Some(FindingWas::Wrong)];
            let was = was[usize::from(number) % 3];
            let outcome = Outcome::new(text, was, number % 2 == 0);
            let _ = shelf.add_outcome(u32::from(number) % 4, outcome);
        }
        4 => {
            if let Ok(job) = shelf.job(u32::from(number) % 4) {
                for capture in shelf.captures(&job) {
                    assert!(capture.starts_with(shelf.root()), "{}", capture.display());
                }
            }
        }
        5 => write(&format!("jobs/{:04}/job.toml", number % 4)),
        6 => write(&format!("jobs/{:04}/outcome.toml", number % 4)),
        7 => write(&format!("engines/{}.toml", number % 4)),
        _ => write("shelf.toml"),
    }
}
