//! Rules of the house that no compiler keeps.

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
fn the_service_of_the_page_knows_no_server() {
    let files = texts(&root().join("src/page/service"));
    assert!(files.len() > 10, "only {} files were found", files.len());
    let server = |line: &str| {
        ["axum", "tokio", "http::", "hyper", "thread"].iter().any(|word| line.contains(word))
    };
    let code = |line: &str| !line.trim_start().starts_with("//");
    assert_eq!(broken(&files, |line| code(line) && server(line)), [""; 0]);
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
    let files = [texts(&root().join("src")), texts(&root().join("tests"))].concat();
    let citing = files.iter().filter(|(_, text)| text.contains(cited)).count();
    assert!(citing >= 8, "only {citing} files cite their sources");
    // This file holds the words it looks for.
    let files: Vec<(PathBuf, String)> =
        files.into_iter().filter(|(path, _)| !path.ends_with("house.rs")).collect();
    assert_eq!(broken(&files, wrong), [""; 0]);
}
