//! A recording of a sound engine laid over the one that is checked, in the close-up of the report.

use camwitness::analysis::{Options, Overlay, analyse};

use crate::cli::{ENGINE, folder, run, text};
use crate::report::{DEMO, measured, one_tooth_late};

/// One figure of a report with its drawing.
fn figure<'a>(page: &'a str, class: &str) -> &'a str {
    let start = page.find(&format!("<figure class=\"{class}\">")).expect(class);
    &page[start..start + page[start..].find("</figure>").expect("its end")]
}

fn check(more: &[&str]) -> (Option<i32>, String, String) {
    let output = run(&[&["check", "demo-data/bank2-late.csv", "--engine", ENGINE], more].concat());
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn a_sound_recording_is_drawn_over_the_capture_and_changes_nothing_else() {
    let folder = folder();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let (plain, over, known) = (at("plain.html"), at("over.html"), at("k.known.toml"));
    let learned = run(&["learn", "demo-data/sound.csv", "--engine", ENGINE, "--out", &known]);
    assert_eq!(learned.status.code(), Some(0), "{}", text(&learned.stderr));
    let (status, said, error) = check(&["--report", &plain, "--known", &known]);
    assert_eq!(status, Some(0), "{error}");
    let more = ["--report", &over, "--known", &known, "--overlay", "demo-data/sound.csv"];
    assert_eq!(check(&more), (Some(0), said, String::new()), "the same is found");
    let read = |path: &str| std::fs::read_to_string(path).expect("a report");
    let (plain, page) = (read(&plain), read(&over));
    // Named with its checksum, as any other tool works it out.
    let (_, annex) = page.split_once("Laid over it in the close-up").expect("the annex says so");
    let sum = camwitness_sum("demo-data/sound.csv");
    for part in ["sound.csv", sum.as_str(), "not measured against", "Nothing in it looks faulty"] {
        assert!(annex.contains(part), "{part}");
    }
    assert!(!plain.contains("Laid over it") && !plain.contains(&sum));
    // In the close-up: counts of its own edges, and where the engine that was learned from stood.
    let (before, close) = (figure(&plain, "gaps"), figure(&page, "gaps"));
    for part in ["laid over", "sound.csv, said to be of a sound engine"] {
        assert!(close.contains(part) && !before.contains(part), "{part}");
    }
    assert!(close.contains("1 sound engine") && before.contains("1 sound engine"));
    assert!(close.matches("<poly").count() > before.matches("<poly").count() + 40, "dashes");
    for other in ["traces", "wheels", "cycles"] {
        assert_eq!(figure(&plain, other), figure(&page, other), "{other}");
    }
    let verified = run(&["verify", &over, "demo-data/bank2-late.csv"]);
    assert_eq!(verified.status.code(), Some(0), "{}", text(&verified.stdout));
}

/// SHA-256 as the system's own tool works it out; the program's where there is none.
fn camwitness_sum(path: &str) -> String {
    let tool = std::process::Command::new("sha256sum").arg(crate::cli::root().join(path)).output();
    match tool {
        Ok(tool) if tool.status.success() => text(&tool.stdout)[..64].to_owned(),
        _ => String::new(),
    }
}

#[test]
fn a_recording_that_is_faulty_itself_is_said_to_be() {
    let folder = folder();
    let page = folder.path().join("r.html").display().to_string();
    let more = ["--report", page.as_str(), "--overlay", "demo-data/bank2-late.csv"];
    let words = [&["check", "demo-data/sound.csv", "--engine", ENGINE][..], &more].concat();
    let output = run(&words);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let page = std::fs::read_to_string(&page).expect("a report");
    assert!(page.contains("It looks faulty itself: it is not in time"), "in the annex");
}

#[test]
fn what_cannot_be_laid_over_is_one_plain_message() {
    let folder = folder();
    let page = folder.path().join("r.html").display().to_string();
    let report = ["--report", page.as_str()];
    let rows: [(&[&str], i32, &str); 5] = [
        (&["--overlay", "demo-data/sound.csv"], 2, "--report"),
        (&["--report", &page, "--no-verdict", "--overlay", "demo-data/sound.csv"], 2, "--overlay"),
        (&["--report", &page, "--overlay", "no-such.csv"], 1, "no-such.csv"),
        (&["--report", &page, "--overlay", ENGINE], 1, "engine file"),
        (&["--report", &page, "--overlay", "demo-data/README.md"], 1, "README.md"),
    ];
    for (more, status, said) in rows {
        let (code, out, error) = check(more);
        assert_eq!((code, out.as_str()), (Some(status), ""), "{more:?}: {error}");
        assert!(error.contains(said), "{more:?}: {error}");
    }
    // A folder of captures, and a capture that nobody described.
    for (first, said) in [
        (&["demo-data", "--engine", ENGINE][..], "--overlay is drawn over"),
        (&["demo-data/sound.csv"][..], "--overlay and --table go with an engine file"),
    ] {
        let words = [&["check"], first, &report, &["--overlay", "demo-data/sound.csv"]].concat();
        let output = run(&words);
        assert_eq!(output.status.code(), Some(1), "{first:?}");
        let error = text(&output.stderr);
        assert!(error.contains(said) && error.lines().count() == 1, "{first:?}: {error}");
    }
    assert!(!std::path::Path::new(&page).exists(), "nothing is half written");
}

/// Where the two turns of a cycle cannot be told apart, one recording may begin with the other turn:
/// it is laid over so that the same cams come together.
#[test]
fn recordings_whose_turns_cannot_be_told_apart_are_laid_cam_on_cam() {
    let unknown = DEMO.replacen("at     = 137.0\nat_sd  = 0.8\n", "", 1);
    assert_ne!(unknown, DEMO);
    // Made with the place known: practice draws an unknown one anew for every seed.
    let engine = measured(&unknown, |_| {}).0.engine;
    let plain = Options::default();
    let (_, captures) = measured(DEMO, |asked| asked.faults = one_tooth_late());
    let main = analyse(&captures, &engine, &plain).expect("read");
    assert!(main.known_modulo.0 < 720.0, "{:?}", main.known_modulo);
    let mut moved = 0;
    for seed in 1..=6 {
        let (_, captures) = measured(DEMO, |asked| {
            asked.seed = seed;
            asked.seconds = 2.0;
        });
        let capture = captures.into_iter().next().expect("a capture");
        let over = Overlay::of(&main, capture, &engine, &plain).expect("laid over");
        moved += usize::from(over.later.0 != 0.0);
        for (cam, other) in over.analysis.cams.iter().zip(&main.cams) {
            // One tooth of the chain is 18.9°, engines differ by a few degrees.
            let apart = (cam.measured.position + over.later - other.measured.position).0.abs();
            assert!(apart < 27.0, "seed {seed}, {}: {apart}° apart", cam.name);
        }
    }
    assert!((1..6).contains(&moved), "some begin with the other turn, some do not: {moved}");
}
