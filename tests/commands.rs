//! What is written whole or not at all, and the commands beside `check`: wheels, practice, the
//! demonstration, completions; and colour.

use std::path::Path;
use std::process::Command;

use crate::cli::{ENGINE, folder, root, run, text, write};

#[test]
fn the_wheel_library_is_listed_drawn_and_checked() {
    let list = text(&run(&["wheels"]).stdout);
    for wheel in camwitness::wheel::LIBRARY {
        assert!(list.contains(wheel.name), "{}", wheel.name);
        let shown = run(&["wheels", wheel.name]);
        assert_eq!(shown.status.code(), Some(0), "{}", wheel.name);
        assert!(text(&shown.stdout).contains('█'), "{}", wheel.name);
    }
    let folder = folder();
    let path = write(folder.path(), "mine.toml", "slots = 36\nmissing = [99]\n");
    let refused = run(&["wheels", &path]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(text(&refused.stderr).contains("`missing`: slot 99"), "{}", text(&refused.stderr));
    assert_eq!(run(&["wheels", "no-such-wheel"]).status.code(), Some(1));
}

#[test]
fn practice_refuses_what_the_engine_has_not_got_and_names_what_it_has() {
    let folder = folder();
    let out = folder.path().join("x.csv").display().to_string();
    let fails = |extra: &[&str]| {
        let mut arguments = vec!["practice", "--engine", ENGINE, "--out", &out];
        arguments.extend(extra);
        let output = run(&arguments);
        (output.status.code(), text(&output.stderr))
    };
    let (status, message) = fails(&["--fault", "skip:B3 intake@primary:+1"]);
    assert_eq!(status, Some(1), "{message}");
    assert!(message.contains("B1 intake") && message.contains("B2 intake"), "{message}");
    // What would do is said in the option that takes it.
    for (option, value) in
        [("--rate", "100"), ("--seconds", "0.3"), ("--seconds", "7000"), ("--bits", "99")]
    {
        let (status, message) = fails(&[option, value]);
        assert_eq!(status, Some(1), "{message}");
        assert!(message.contains(&format!("Give {option} ")), "{option} {value}: {message}");
    }
    assert!(!Path::new(&out).exists(), "nothing half written");
}

#[test]
fn a_lead_asked_for_twice_is_written_once() {
    let folder = folder();
    let out = folder.path().join("x.csv").display().to_string();
    let with = ["--with", "pressure 1", "--with", "pressure 1", "--with", "pressure 2"];
    let short = ["--seconds", "2.5", "--rate", "4000"];
    let practice = ["practice", "--engine", ENGINE, "--out", &out];
    let output = run(&[&practice[..], &with, &short].concat());
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let csv = std::fs::read_to_string(&out).expect("a capture");
    let header = csv.lines().next().expect("a header");
    let times = |lead: &str| header.matches(lead).count();
    assert_eq!((times("pressure 1"), times("pressure 2")), (1, 1), "{header}");
}

#[test]
fn demo_writes_the_demonstration_checks_it_and_writes_over_nothing_else() {
    let folder = folder();
    let demo = |words: &[&str]| {
        let program = Command::new(env!("CARGO_BIN_EXE_camwitness"))
            .arg("demo")
            .args(words)
            .current_dir(folder.path())
            .output();
        program.expect("it runs")
    };
    let first = demo(&[]);
    assert_eq!(first.status.code(), Some(0), "{}", text(&first.stderr));
    let said = text(&first.stdout);
    assert!(said.contains("JUMPED") && said.contains("1 tooth late"), "{said}");
    for name in ["engine.toml", "sound.csv", "bank2-late.csv", "repaired.csv"] {
        let own = std::fs::read(root().join("demo-data").join(name)).expect(name);
        let written = std::fs::read(folder.path().join("camwitness-demo").join(name)).expect(name);
        assert!(own == written, "{name}");
    }
    // Again: the same files are kept, and it runs.
    assert_eq!(demo(&[]).status.code(), Some(0));
    let mine = write(folder.path(), "camwitness-demo/engine.toml", "name = \"mine\"\n");
    let refused = demo(&[]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(text(&refused.stderr).contains("not the demonstration's"), "{refused:?}");
    assert_eq!(std::fs::read_to_string(&mine).expect("kept"), "name = \"mine\"\n");
    assert_eq!(demo(&["--force"]).status.code(), Some(0));
}

#[test]
fn colour_comes_when_it_is_asked_for_and_no_other_way() {
    let escape = '\u{1b}';
    let words = ["check", "demo-data/sound.csv", "--engine", ENGINE, "--quiet"];
    let shown = |color: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_camwitness"));
        command.args(words).args(color).current_dir(root()).env_remove("CLICOLOR_FORCE");
        text(&command.output().expect("it runs").stdout)
    };
    let plain = shown(&[]);
    assert!(!plain.contains(escape) && plain.starts_with("IN TIME\n"), "{plain:?}");
    assert_eq!(shown(&["--color", "never"]), plain);
    assert!(shown(&["--color", "always"]).starts_with("\u{1b}[1;32mIN TIME\u{1b}[0m\n"));
    // Help and mistakes as well, wherever the option stands.
    let help = |color: &str| text(&run(&["check", "--help", color]).stdout);
    assert!(help("--color=always").contains(escape) && !help("--color=never").contains(escape));
    assert_eq!(run(&["wheels", "--color", "blue"]).status.code(), Some(2));
}

/// What the program writes at a terminal that is so wide, by the `script` of util-linux; `None`, and
/// said, where it is not there.
#[cfg(target_os = "linux")]
fn at_a_terminal(columns: usize, said: &[(&str, &str)]) -> Option<String> {
    let program = env!("CARGO_BIN_EXE_camwitness");
    let line = format!(
        "stty cols {columns} rows 40 && \"{program}\" check demo-data/bank2-late.csv --engine {ENGINE} 2>/dev/null"
    );
    let mut command = Command::new("script");
    command.args(["-q", "-e", "-c", &line, "/dev/null"]).current_dir(root());
    for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLORTERM"] {
        command.env_remove(name);
    }
    command.env("TERM", "xterm").envs(said.iter().copied());
    match command.stdin(std::process::Stdio::null()).output() {
        Ok(output) => Some(text(&output.stdout).replace('\r', "")),
        Err(error) => {
            eprintln!("There is no terminal to be had ({error}): colour and width were NOT tried");
            None
        }
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_terminal_has_colour_unless_it_is_not_wanted_and_lines_of_its_width() {
    let Some(coloured) = at_a_terminal(60, &[]) else { return };
    assert!(coloured.contains("\u{1b}[1;31mJUMPED\u{1b}[0m"), "{coloured:?}");
    let widest = |text: &str| {
        let finding = text.split_once("JUMPED").expect("a finding").1;
        finding.split("\n\n").next().unwrap_or("").lines().map(|line| line.chars().count()).max()
    };
    let narrow = at_a_terminal(60, &[("NO_COLOR", "1")]).expect("as before");
    assert!(!narrow.contains('\u{1b}') && narrow.contains("JUMPED\n"), "{narrow:?}");
    let wide = at_a_terminal(100, &[("NO_COLOR", "1")]).expect("as before");
    assert!(widest(&narrow) <= Some(60), "{narrow}");
    assert!((Some(70)..=Some(100)).contains(&widest(&wide)), "{wide}");
}

#[test]
fn completions_know_every_command() {
    let line = camwitness::cli::command_line();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = text(&run(&["completions", shell]).stdout);
        for command in line.get_subcommands() {
            assert!(script.contains(command.get_name()), "{shell}: {}", command.get_name());
        }
    }
    assert_eq!(run(&["completions", "tea"]).status.code(), Some(2));
}

#[test]
fn practice_says_what_it_wrote_and_not_what_is_wrong() {
    let folder = folder();
    let out = folder.path().join("late.csv").display().to_string();
    let words =
        ["practice", "--engine", ENGINE, "--fault", "skip:B2 intake@primary:+1", "--out", &out];
    let said = text(&run(&words).stdout);
    assert!(said.contains("late.csv, 60000 rows of Demonstration V6, 3 s"), "{said}");
    assert!(said.contains("crank, B1 intake, B2 intake, starter"), "{said}");
    assert!(said.contains("--truth") && !said.contains("skip"), "{said}");
}

#[test]
fn results_are_written_whole_or_not_at_all() {
    let folder = folder();
    let path = folder.path().join("result.json").display().to_string();
    let arguments =
        ["check", "demo-data/sound.csv", "--engine", ENGINE, "--quiet", "--json", &path];
    assert_eq!(run(&arguments).status.code(), Some(0));
    let written = std::fs::read(&path).expect("written");
    assert!(serde_json::from_slice::<serde_json::Value>(&written).is_ok());
    assert_eq!(
        std::fs::read_dir(folder.path()).expect("folder").count(),
        1,
        "nothing left beside it"
    );
    let nowhere =
        ["check", "demo-data/sound.csv", "--engine", ENGINE, "--json", "no/such/folder/x.json"];
    let output = run(&nowhere);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stderr).contains("cannot write"), "{}", text(&output.stderr));
    // An existing capture is not replaced unless that is asked for.
    let kept = write(folder.path(), "kept.csv", "mine");
    let practice = ["practice", "--engine", ENGINE, "--out", &kept];
    assert_eq!(run(&practice).status.code(), Some(1));
    assert_eq!(std::fs::read(&kept).expect("kept"), b"mine");
}

#[test]
fn a_pattern_that_no_shell_filled_in_is_every_file_that_fits() {
    let folder = folder();
    write(folder.path(), "first car.csv", include_str!("../demo-data/bank2-late.csv"));
    write(folder.path(), "notes.txt", "no capture");
    let of = |pattern: &str| {
        let pattern = folder.path().join(pattern).display().to_string();
        run(&["check", &pattern, "--engine", ENGINE])
    };
    let found = of("first*.csv");
    assert_eq!(found.status.code(), Some(0), "{}", text(&found.stderr));
    assert!(text(&found.stdout).contains("JUMPED"), "{}", text(&found.stdout));
    let none = of("other*.csv");
    let message = text(&none.stderr);
    assert!(none.status.code() == Some(1) && message.contains("other*.csv"), "{message}");
}

#[test]
fn the_version_is_that_of_the_package_and_the_commit_is_of_what_is_given_away() {
    let said = text(&run(&["--version"]).stdout);
    let package = concat!("camwitness ", env!("CARGO_PKG_VERSION"));
    let rest = said.trim().strip_prefix(package).expect("the version");
    // Built to be tried: nothing. Built to be used: the commit, and whether files differ from it.
    let commit = |rest: &str| rest.starts_with(" (") && rest.ends_with(')');
    assert!(rest.is_empty() || commit(rest), "{said}");
}
