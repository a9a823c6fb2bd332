//! The shelf as a folder: what is written, what is refused, who may write.

use std::fs;
use std::path::Path;

use super::*;

fn shelf(folder: &Path) -> Shelf {
    Shelf::open_or_begin(&folder.join("shelf")).expect("a shelf")
}

fn a_job(finding: &str, probability: f64) -> NewJob {
    NewJob {
        engine: "invented V6".into(),
        finding: finding.into(),
        probability,
        sentence: "a sentence".into(),
        cams: vec![CamRecord { cam: "B2 intake".into(), deviation_deg: Some(17.25) }],
        ..NewJob::default()
    }
}

fn keep(shelf: &Shelf, capture: &Path, job: NewJob) -> u32 {
    shelf.keep_job(&[capture], job, "{}", "<html>").expect("kept")
}

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/engine.toml");

#[test]
fn a_job_is_kept_whole_and_its_outcomes_add_up() {
    let folder = tempfile::tempdir().expect("a folder");
    let capture = folder.path().join("cranking.csv");
    fs::write(&capture, "t,crank\n0,1\n").expect("a capture");
    let shelf = shelf(folder.path());
    assert_eq!(keep(&shelf, &capture, a_job("jumped", 0.995)), 1);
    assert_eq!(keep(&shelf, &capture, a_job("in_time", 0.999)), 2);
    let job = shelf.job(1).expect("a job");
    assert_eq!(job.kept.cams[0].deviation_deg, Some(17.25));
    let copy = &shelf.captures(&job)[0];
    assert_eq!(fs::read(copy).expect("a copy"), fs::read(&capture).expect("the capture"));
    for name in ["result.json", "report.html", "job.toml"] {
        assert!(folder.path().join("shelf/jobs/0001").join(name).is_file(), "{name}");
    }
    let say = |number, text: &str, was, sound| {
        shelf.add_outcome(number, Outcome::new(text, was, sound)).expect("added");
    };
    say(1, "marks seem right", Some(FindingWas::Wrong), false);
    say(1, "one tooth late after all, confirmed", None, false);
    let job = shelf.job(1).expect("a job");
    assert_eq!(job.outcomes.len(), 2, "the first is not lost");
    assert_eq!(job.finding_was(), Some(FindingWas::Right), "the last counts");
    say(2, "covers off: marks stood right", None, true);
    assert_eq!(shelf.job(2).expect("a job").finding_was(), Some(FindingWas::Right));
    let record = record(&shelf.jobs().expect("jobs").jobs);
    assert_eq!(record.total(), Tally { finding: "all".into(), stated: 2, right: 2, wrong: 0 });
}

#[test]
fn a_timing_found_sound_contradicts_a_jump() {
    // (finding, probability, sound, was)
    let rows = [
        ("jumped", 0.995, true, Some(FindingWas::Wrong)),
        ("drive_due", 0.995, true, Some(FindingWas::Wrong)),
        ("in_time", 0.995, true, Some(FindingWas::Right)),
        ("cannot_tell", 0.6, true, None),
        ("jumped", 0.995, false, None),
    ];
    for (finding, probability, sound, was) in rows {
        let job = Job {
            number: 1,
            kept: a_job(finding, probability),
            outcomes: vec![Outcome::new("looked at", None, sound)],
        };
        assert_eq!(job.finding_was(), was, "{finding}, sound {sound}");
    }
}

#[test]
fn many_who_write_at_once_lose_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let capture = folder.path().join("cranking.csv");
    fs::write(&capture, "t,crank\n0,1\n").expect("a capture");
    let root = folder.path().join("shelf");
    std::thread::scope(|scope| {
        for _ in 0..8 {
            scope.spawn(|| {
                // Begun by whoever comes first.
                let shelf = Shelf::open_or_begin(&root).expect("a shelf");
                let number = keep(&shelf, &capture, a_job("jumped", 0.99));
                for _ in 0..3 {
                    let outcome = Outcome::new("looked at", None, false);
                    shelf.add_outcome(number, outcome).expect("added");
                }
                shelf.add_outcome(1, Outcome::new("and by all", None, false)).expect("added");
            });
        }
    });
    let jobs = Shelf::open(&root).expect("a shelf").jobs().expect("jobs");
    let numbers: Vec<u32> = jobs.jobs.iter().map(|job| job.number).collect();
    assert_eq!(numbers, (1..=8).collect::<Vec<u32>>());
    assert_eq!(jobs.jobs[0].outcomes.len(), 3 + 8);
    assert!(jobs.jobs[1..].iter().all(|job| job.outcomes.len() == 3));
    assert!(jobs.broken.is_empty());
}

#[test]
fn what_a_killed_program_left_is_no_job() {
    let folder = tempfile::tempdir().expect("a folder");
    let capture = folder.path().join("cranking.csv");
    fs::write(&capture, "t,crank\n0,1\n").expect("a capture");
    let shelf = shelf(folder.path());
    keep(&shelf, &capture, a_job("jumped", 0.99));
    let jobs = folder.path().join("shelf/jobs");
    fs::create_dir(jobs.join(".camwitness-AbCdEf")).expect("half a job");
    fs::write(jobs.join(".camwitness-AbCdEf/job.toml"), "engine = \"x").expect("half a file");
    fs::create_dir(jobs.join("copy of 0001")).expect("somebody's folder");
    fs::write(folder.path().join("shelf/.camwitness-shelf.toml.lock"), "").expect("its lock");
    let all = shelf.jobs().expect("jobs");
    assert_eq!((all.jobs.len(), all.broken.len()), (1, 0));
    assert_eq!(keep(&shelf, &capture, a_job("jumped", 0.99)), 2);
}

#[test]
fn what_cannot_be_is_refused_in_one_plain_message() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let capture = at("cranking.csv");
    fs::write(&capture, "t,crank\n0,1\n").expect("a capture");
    let refused = |what: ShelfError, part: &str| {
        let text = what.to_string();
        assert!(text.contains(part), "{text} does not say {part}");
    };
    refused(Shelf::open(&at("none")).expect_err("none"), "no shelf here yet");
    refused(Shelf::open_or_begin(folder.path()).expect_err("a capture is in it"), "other things");
    let shelf = shelf(folder.path());
    refused(shelf.job(7).expect_err("none"), "has no job 7");
    refused(shelf.add_outcome(7, Outcome::new("x", None, false)).expect_err("none"), "no job 7");
    keep(&shelf, &capture, a_job("jumped", 0.99));
    refused(shelf.job(7).expect_err("none"), "go up to 1");
    refused(
        shelf.add_outcome(1, Outcome::new("  ", None, false)).expect_err("no word"),
        "in words",
    );
    let twice = shelf.keep_job(&[&capture, &capture], a_job("jumped", 0.99), "", "");
    refused(twice.expect_err("one name"), "two captures are called cranking.csv");
    assert_eq!(shelf.jobs().expect("jobs").jobs.len(), 1, "nothing is left of it");

    // A broken file is named, and the rest is listed.
    keep(&shelf, &capture, a_job("in_time", 0.99));
    fs::write(at("shelf/jobs/0001/outcome.toml"), "[[outcome]\n").expect("broken");
    let all = shelf.jobs().expect("jobs");
    assert_eq!((all.jobs.len(), all.broken.len()), (1, 1));
    assert!(all.broken[0].to_string().contains("outcome.toml"), "{}", all.broken[0]);
    let refuses = shelf.add_outcome(1, Outcome::new("x", None, false));
    refused(refuses.expect_err("broken"), "cannot be used");

    fs::write(at("shelf/shelf.toml"), "camwitness_shelf = 99\n").expect("newer");
    refused(Shelf::open(&at("shelf")).expect_err("newer"), "version 99");
    fs::write(at("shelf/shelf.toml"), "what?").expect("broken");
    refused(Shelf::open(&at("shelf")).expect_err("broken"), "shelf.toml");
}

#[cfg(unix)]
#[test]
fn a_shelf_without_permission_says_so() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().expect("a folder");
    let capture = folder.path().join("cranking.csv");
    fs::write(&capture, "t,crank\n0,1\n").expect("a capture");
    let shelf = shelf(folder.path());
    let allow = |mode| {
        fs::set_permissions(shelf.root(), fs::Permissions::from_mode(mode)).expect("its mode");
    };
    allow(0o555);
    // Whoever may do everything is not kept out by a mode.
    let all_powerful = fs::write(shelf.root().join("probe"), "").is_ok();
    if !all_powerful {
        let kept = shelf.keep_job(&[&capture], a_job("jumped", 0.99), "", "");
        let text = kept.expect_err("no permission").to_string();
        assert!(text.contains("may be written"), "{text}");
    }
    allow(0o755);
}

#[test]
fn engines_are_found_by_name_and_never_by_guessing() {
    let folder = tempfile::tempdir().expect("a folder");
    let shelf = shelf(folder.path());
    let text = fs::read_to_string(DEMO).expect("the demonstration's engine");
    let kept = shelf.keep_engine(Path::new(DEMO), Some("Grey V6"), false).expect("kept");
    assert_eq!((kept.name.as_str(), kept.same), ("Grey V6", false));
    assert!(shelf.keep_engine(Path::new(DEMO), Some("grey v6"), false).expect("the same").same);
    let path = shelf.engine_file("grey V6 ").expect("by its file's name");
    assert_eq!(fs::read_to_string(path).expect("as it was"), text);

    // Another engine under a name that is taken.
    let other = folder.path().join("other.toml");
    fs::write(&other, text.replacen("name", "# another\nname", 1)).expect("another");
    let refused = shelf.keep_engine(&other, Some("GREY V6"), true).expect_err("taken");
    assert!(refused.to_string().contains("another engine \"Grey V6\""), "{refused}");
    assert!(shelf.keep_engine(&other, Some("Grey V6"), false).is_err(), "not without force");
    shelf.keep_engine(&other, Some("Grey V6"), true).expect("with force");

    // Two files whose engines have one name within.
    shelf.keep_engine(&other, Some("second"), false).expect("kept");
    let engine = crate::engine::Engine::read(Path::new(DEMO)).expect("an engine");
    let refused = shelf.engine_file(&engine.name).expect_err("two").to_string();
    assert!(refused.contains("two engines") && refused.contains("second"), "{refused}");
    let refused = shelf.engine_file("third").expect_err("none").to_string();
    assert!(refused.contains("It has Grey V6, second"), "{refused}");

    for name in ["", "a/b", "..", "a\\b", "con:", &"x".repeat(61)] {
        let refused = shelf.keep_engine(&other, Some(name), false).expect_err("no name");
        assert!(refused.to_string().contains("cannot be a name"), "{refused}");
    }

    // A wheel file elsewhere would not come along.
    fs::write(folder.path().join("own.toml"), "slots = 36\nmissing = [35, 36]\n").expect("a wheel");
    let wheel = text.replace("wheel  = \"36-2\"", "wheel = \"own.toml\"");
    let wheel = wheel.replace("wheel = \"36-2\"", "wheel = \"own.toml\"");
    fs::write(&other, wheel).expect("another");
    let refused = shelf.keep_engine(&other, None, false).expect_err("a wheel file");
    assert!(refused.to_string().contains("own.toml"), "{refused}");

    // One that does not read is listed with the reason, and keeps nobody from the others.
    fs::write(shelf.root().join("engines/broken.toml"), "name = 1").expect("broken");
    let listed = shelf.engines().expect("listed");
    assert_eq!(listed.len(), 3);
    assert!(listed.iter().any(|entry| entry.name == "broken" && entry.engine.is_err()));
    assert!(shelf.engine_file("second").is_ok());
}

#[test]
fn the_captures_of_a_job_are_within_its_folder_whatever_its_file_says() {
    let folder = tempfile::tempdir().expect("a folder");
    let shelf = shelf(folder.path());
    let number = keep(&shelf, Path::new(DEMO), a_job("in_time", 0.9));
    let file = shelf.root().join("jobs/0001/job.toml");
    let text = fs::read_to_string(&file).expect("its file");
    assert!(text.contains("captures = [\"engine.toml\"]"), "{text}");
    let other = text.replacen("\"engine.toml\"", "\"../../../a.csv\", \"/b.csv\", \"..\"", 1);
    fs::write(&file, other).expect("written");
    let job = shelf.job(number).expect("reads");
    let names: Vec<_> =
        ["a.csv", "b.csv"].map(|name| shelf.root().join("jobs/0001").join(name)).into();
    assert_eq!(shelf.captures(&job), names);
    let all = shelf.files();
    for file in ["shelf.toml", "jobs/0001/job.toml", "jobs/0001/engine.toml"] {
        assert!(all.contains(&shelf.root().join(file)), "{file}: {all:?}");
    }
}
