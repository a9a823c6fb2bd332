//! Rules of the house that no compiler keeps.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every file below a folder, with its text where it is text.
fn texts(folder: &Path) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(texts(&path));
        } else if let Ok(text) = std::fs::read_to_string(&path) {
            found.push((path, text));
        }
    }
    found
}

/// Lines of sources that break a rule, as `file:line`.
fn broken(files: &[(PathBuf, String)], breaks: impl Fn(&str) -> bool) -> Vec<String> {
    let lines = files.iter().flat_map(|(path, text)| {
        let path = path.strip_prefix(root()).unwrap_or(path).display();
        text.lines().enumerate().map(move |(at, line)| (format!("{path}:{}", at + 1), line))
    });
    lines.filter(|(_, line)| breaks(line)).map(|(place, _)| place).collect()
}

#[test]
fn every_file_of_tests_is_a_module_of_one_program() {
    let programs = [include_str!("pipeline.rs"), include_str!("program.rs")];
    let mut seen = 0;
    for entry in std::fs::read_dir(root().join("tests")).expect("the folder of tests") {
        let path = entry.expect("an entry").path();
        let name = path.file_stem().and_then(|name| name.to_str()).expect("a name");
        let rust = path.extension().is_some_and(|end| end == "rs");
        if !(rust && !["pipeline", "program"].contains(&name) || path.join("main.rs").exists()) {
            continue;
        }
        let line = format!("mod {name};");
        let lines = programs.iter().flat_map(|program| program.lines());
        let times = lines.filter(|there| *there == line).count();
        assert_eq!(times, 1, "write `{line}` into tests/pipeline.rs or tests/program.rs");
        seen += 1;
    }
    assert!(seen > 15, "only {seen} files of tests were found");
}

#[test]
fn no_file_runs_over_400_lines() {
    let folders = ["src", "tests", "benches", "examples", "fuzz/fuzz_targets"];
    let files: Vec<_> = folders.iter().flat_map(|folder| texts(&root().join(folder))).collect();
    let code = files.iter().filter(|(path, _)| {
        path.extension().is_some_and(|end| end == "rs" || end == "js" || end == "css")
    });
    let long: Vec<String> = code
        .filter(|(_, text)| text.lines().count() > 400)
        .map(|(path, text)| format!("{}: {}", path.display(), text.lines().count()))
        .collect();
    assert!(files.len() > 400, "only {} files were found", files.len());
    assert_eq!(long, [""; 0], "one subject in each file: cut it in two");
}

#[test]
fn the_service_of_the_page_knows_no_server() {
    let files = texts(&root().join("src/page/service"));
    assert!(files.len() > 10, "only {} files were found", files.len());
    let server = |line: &str| {
        ["axum", "tokio", "http::", "hyper", "thread"].iter().any(|word| line.contains(word))
    };
    let code = |line: &str| !line.trim_start().starts_with("//");
    assert_eq!(broken(&files, |line| code(line) && server(line)), [""; 0]);
}

/// What stands between quotation marks on the lines of a file that are no comment, as (line, text).
/// A string may run over lines.
fn literals(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let mut inside: Option<String> = None;
    for (at, line) in text.lines().enumerate() {
        if inside.is_none() && line.trim_start().starts_with("//") {
            continue;
        }
        let mut letters = line.chars().peekable();
        while let Some(letter) = letters.next() {
            match (&mut inside, letter) {
                (Some(text), '\\') => text.extend(letters.next()),
                (Some(_), '"') => found.push((at + 1, inside.take().unwrap_or_default())),
                (Some(text), letter) => text.push(letter),
                // A quotation mark as a character.
                (None, '\'') if letters.peek() == Some(&'"') => drop(letters.next()),
                (None, '"') => inside = Some(String::new()),
                (None, '/') if letters.peek() == Some(&'/') => break,
                (None, _) => {}
            }
        }
        inside.iter_mut().for_each(|text| text.push('\n'));
    }
    found
}

/// Whether a text names an option of a command line: two dashes and a small letter, not the end of
/// a longer run of dashes.
fn names_an_option(text: &str) -> bool {
    text.match_indices("--").any(|(at, _)| {
        let before = text[..at].chars().next_back();
        let after = text[at + 2..].chars().next();
        after.is_some_and(|letter| letter.is_ascii_lowercase()) && before != Some('-')
    })
}

#[test]
fn the_command_line_alone_names_options() {
    let text = "let a = \"b --rate\"; // --from\n// \"--to\"\nlet c = '\"'; let d = \"x\n--kind\";";
    let found: Vec<usize> = literals(text)
        .into_iter()
        .filter(|(_, text)| names_an_option(text))
        .map(|(line, _)| line)
        .collect();
    assert_eq!(found, [1, 4]);
    let src = root().join("src");
    let files: Vec<(PathBuf, String)> = texts(&src)
        .into_iter()
        .filter(|(path, _)| path.extension().is_some_and(|end| end == "rs"))
        .filter(|(path, _)| !path.starts_with(src.join("cli")))
        .collect();
    assert!(files.len() > 150, "only {} files were found", files.len());
    let named: Vec<String> = files
        .iter()
        .flat_map(|(path, text)| {
            let path = path.strip_prefix(root()).unwrap_or(path).display();
            let options = literals(text).into_iter().filter(|(_, text)| names_an_option(text));
            options.map(move |(line, text)| format!("{path}:{line}: {text}")).collect::<Vec<_>>()
        })
        .collect();
    assert_eq!(named, [""; 0], "say it as a `Remedy`");
}

/// The rooms of `src/` that the code of each room names, tests left out: a file or a folder below
/// `src/` is a room.
fn rooms() -> BTreeMap<String, BTreeSet<String>> {
    let src = root().join("src");
    let mut rooms: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (path, text) in texts(&src) {
        let below = path.strip_prefix(&src).expect("a file of src");
        let name = below.iter().next().and_then(|part| part.to_str()).expect("a name");
        let room = name.trim_end_matches(".rs");
        let tests = below.iter().any(|part| part == "tests" || part == "tests.rs");
        if tests
            || path.extension().is_none_or(|end| end != "rs")
            || room == "lib"
            || room == "main"
        {
            continue;
        }
        let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
        let lines = code.lines().filter(|line| !line.trim_start().starts_with("//"));
        let named = lines.flat_map(|line| line.split("crate::").skip(1)).map(|rest| {
            let end = rest.find(|letter: char| !letter.is_alphanumeric() && letter != '_');
            rest[..end.unwrap_or(rest.len())].to_owned()
        });
        rooms.entry(room.to_owned()).or_default().extend(named.filter(|other| other != room));
    }
    rooms
}

#[test]
fn no_two_rooms_need_each_other() {
    let mut rooms = rooms();
    assert!(rooms.len() > 20, "only {} rooms were found", rooms.len());
    // Rooms that need none of those left are taken away; what stays is a circle and what needs it.
    loop {
        let left: BTreeSet<String> = rooms.keys().cloned().collect();
        let stays = |needs: &BTreeSet<String>| !needs.is_disjoint(&left);
        let before = rooms.len();
        rooms.retain(|_, needs| stays(needs));
        if rooms.len() == before {
            break;
        }
    }
    assert!(rooms.is_empty(), "a circle stands among {rooms:?}");
}

#[test]
fn comments_cite_headings_that_docs_sources_has() {
    let sources = include_str!("../docs/sources.md");
    let headings: Vec<&str> = sources.lines().filter_map(|line| line.strip_prefix("## ")).collect();
    let cited = "docs/sources.md, \"";
    let wrong = |line: &str| {
        line.split(cited).skip(1).any(|rest| {
            let heading = rest.split('"').next().unwrap_or_default();
            !headings.contains(&heading)
        })
    };
    // Of what no reader of this repository has.
    let elsewhere =
        |line: &str| ["captures README", "../shared/design"].iter().any(|at| line.contains(at));
    let files = [texts(&root().join("src")), texts(&root().join("tests"))].concat();
    let citing = files.iter().filter(|(_, text)| text.contains(cited)).count();
    assert!(citing >= 8, "only {citing} files cite their sources");
    // This file holds the words it looks for.
    let files: Vec<(PathBuf, String)> =
        files.into_iter().filter(|(path, _)| !path.ends_with("house.rs")).collect();
    assert_eq!(broken(&files, wrong), [""; 0]);
    assert_eq!(broken(&files, elsewhere), [""; 0]);
}
