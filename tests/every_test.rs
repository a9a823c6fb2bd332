//! No test is left out: every file of this folder is a module of one of the two programs.

use std::path::Path;

const PROGRAMS: [&str; 2] = [include_str!("pipeline.rs"), include_str!("program.rs")];

#[test]
fn every_file_is_a_module_of_one_program() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).expect("the folder of tests") {
        let path = entry.expect("an entry").path();
        let name = path.file_stem().and_then(|name| name.to_str()).expect("a name").to_owned();
        let holds_tests = path.extension().is_some_and(|end| end == "rs")
            && !["pipeline", "program"].contains(&name.as_str())
            || path.join("main.rs").exists();
        if !holds_tests {
            continue;
        }
        let line = format!("mod {name};");
        let times: usize =
            PROGRAMS.iter().map(|text| text.lines().filter(|l| *l == line).count()).sum();
        assert_eq!(
            times, 1,
            "tests/{name}: write `{line}` into tests/pipeline.rs or tests/program.rs"
        );
        seen += 1;
    }
    assert!(seen > 15, "only {seen} files of tests were found");
}
