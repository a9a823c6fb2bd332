//! What is kept, what is replaced, what is added to.

use super::*;

fn own(name: &str) -> String {
    format!("{ROOT}/demo-data/{name}")
}

fn run(folder: &Path, words: &[&str]) -> (Option<i32>, String) {
    let output = Command::new(PROGRAM).args(words).current_dir(folder).output().expect("it runs");
    (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
}

#[test]
fn with_names_of_their_own_all_are_written() {
    let folder = tempfile::tempdir().expect("a folder");
    let (engine, capture) = (own("engine.toml"), own("sound.csv"));
    let engine = ["--engine", engine.as_str()];
    let with = |words: &[&str]| -> (Option<i32>, String) {
        run(folder.path(), &[words, &engine].concat())
    };
    let check =
        ["check", &capture, "--json", "a.json", "--report", "a.html", "--plots", "pictures"];
    assert_eq!(with(&check), (Some(0), String::new()));
    assert_eq!(with(&["check", ROOT_DEMO, "--table", "a.csv", "--json", "b.json"]).0, Some(0));
    let compare = ["compare", &own("bank2-late.csv"), &own("repaired.csv")];
    assert_eq!(
        with(&[&compare[..], &["--json", "c.json", "--report", "c.html"]].concat()).0,
        Some(0)
    );
    let practice = ["practice", "--seconds", "2", "--out", "p.csv", "--truth", "p.json"];
    assert_eq!(with(&practice), (Some(0), String::new()));
    for name in [
        "a.json",
        "a.html",
        "pictures/traces.svg",
        "a.csv",
        "b.json",
        "c.json",
        "c.html",
        "p.csv",
        "p.json",
    ] {
        assert!(folder.path().join(name).is_file(), "{name}");
    }
}

const ROOT_DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data");

#[test]
fn a_file_that_is_no_result_of_ours_is_kept_without_force() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let (engine, capture) = (own("engine.toml"), own("sound.csv"));
    let compare = [own("bank2-late.csv"), own("repaired.csv")];
    // (words, the option that names the file)
    let rows: [(&[&str], &str); 4] = [
        (&["check", &capture], "--json"),
        (&["check", ROOT_DEMO], "--json"),
        (&["check", ROOT_DEMO], "--table"),
        (&["compare", &compare[0], &compare[1]], "--json"),
    ];
    for (words, option) in rows {
        let line = [words, &["--engine", &engine, "--quiet", option, "mine"]].concat();
        let line: Vec<&str> =
            line.into_iter().filter(|word| words[0] == "check" || *word != "--quiet").collect();
        fs::write(at("mine"), "{\"notes\": \"years of them\"}").expect("a file");
        let (status, message) = run(folder.path(), &line);
        assert_eq!(status, Some(1), "{line:?}: {message}");
        assert!(message.contains("there already") && message.contains("--force"), "{message}");
        assert_eq!(fs::read(at("mine")).expect("kept"), b"{\"notes\": \"years of them\"}");
        // With the word it goes; what came of it is ours, and goes without.
        for more in [&["--force"][..], &[]] {
            let (status, message) = run(folder.path(), &[&line[..], more].concat());
            assert_eq!(status, Some(0), "{line:?}: {message}");
        }
        fs::remove_file(at("mine")).expect("written");
    }
}

#[test]
fn learn_adds_to_its_own_file_and_replaces_no_other() {
    let folder = tempfile::tempdir().expect("a folder");
    let (engine, sound) = (own("engine.toml"), own("sound.csv"));
    let learn =
        |words: &[&str]| run(folder.path(), &[&["learn", "--engine", &engine], words].concat());
    assert_eq!(learn(&[&sound, "--out", "a.toml"]).0, Some(0));
    assert_eq!(learn(&[&own("repaired.csv"), "--out", "b.toml"]).0, Some(0));
    let before = fs::read(folder.path().join("b.toml")).expect("written");
    let (status, message) = learn(&[&sound, "--add", "a.toml", "--out", "b.toml"]);
    assert!(
        status == Some(1) && message.contains("b.toml: this file is there already"),
        "{message}"
    );
    assert!(!message.contains("--force"), "{message}");
    assert_eq!(fs::read(folder.path().join("b.toml")).expect("kept"), before);
    // Its own file named twice is its own file.
    let twice = [&own("repaired.csv"), "--add", "./a.toml", "--out", "a.toml"];
    assert_eq!(learn(&twice), (Some(0), String::new()));
    let text = fs::read_to_string(folder.path().join("a.toml")).expect("written");
    assert_eq!(text.matches("[[capture]]").count(), 2, "{text}");
}

#[test]
fn runs_that_add_to_one_file_at_once_lose_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let engine = own("engine.toml");
    let captures: Vec<String> = (1..=3)
        .map(|seed| {
            let (name, seed) = (format!("{seed}.csv"), seed.to_string());
            let made = run(
                folder.path(),
                &["practice", "--engine", &engine, "--exact", "--seed", &seed, "--out", &name],
            );
            assert_eq!(made.0, Some(0), "{}", made.1);
            name
        })
        .collect();
    let running: Vec<_> = captures
        .iter()
        .map(|capture| {
            Command::new(PROGRAM)
                .args(["learn", capture, "--engine", &engine, "--out", "shared.known.toml"])
                .current_dir(folder.path())
                .spawn()
                .expect("it runs")
        })
        .collect();
    for mut child in running {
        assert!(child.wait().expect("it ends").success());
    }
    let text = fs::read_to_string(folder.path().join("shared.known.toml")).expect("written");
    for capture in &captures {
        assert!(text.contains(&format!("\"{capture}\"")), "{capture} is lost:\n{text}");
    }
    let left: Vec<_> = fs::read_dir(folder.path()).expect("a folder").collect();
    assert_eq!(left.len(), captures.len() + 1, "{left:?}");
}
