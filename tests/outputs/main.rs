//! Nothing that is read is ever written over, and no two files that are written are one: every
//! input of every command against every output of it, under the same name, another spelling and
//! every kind of link.
//!
//! The trials are made from one list, [`USES`], which a test holds against the command line itself:
//! an option that takes a path and is not listed fails it.

mod collisions;
mod kept;

use std::any::TypeId;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const PROGRAM: &str = env!("CARGO_BIN_EXE_camwitness");
const ROOT: &str = env!("CARGO_MANIFEST_DIR");

#[derive(Debug, Clone, Copy, PartialEq)]
enum Use {
    /// A file that is read, of this name in the trials.
    In(&'static str),
    /// A file that is written.
    Out(&'static str),
    /// A folder into which files are written; one of them.
    OutFolder(&'static str, &'static str),
}

use Use::{In, Out, OutFolder};

/// Every path of every command: command, option, what it is.
const USES: [(&str, &str, Use); 35] = [
    ("check", "captures", In("capture.csv")),
    ("check", "engine", In("engine.toml")),
    ("check", "known", In("known.toml")),
    ("check", "job", In("job.toml")),
    ("check", "overlay", In("sound.csv")),
    ("check", "json", Out("result.json")),
    ("check", "report", Out("report.html")),
    ("check", "table", Out("table.csv")),
    ("check", "plots", OutFolder("pictures", "traces.svg")),
    ("compare", "before", In("before.csv")),
    ("compare", "after", In("after.csv")),
    ("compare", "engine", In("engine.toml")),
    ("compare", "known", In("known.toml")),
    ("compare", "job", In("job.toml")),
    ("compare", "json", Out("result.json")),
    ("compare", "report", Out("sheet.html")),
    ("learn", "captures", In("capture.csv")),
    ("learn", "engine", In("engine.toml")),
    ("learn", "add", In("known.toml")),
    ("learn", "out", Out("new.known.toml")),
    ("look", "capture", In("capture.csv")),
    ("look", "write_engine", Out("begun.toml")),
    ("look", "report", Out("signals.html")),
    ("plan", "engine", In("engine.toml")),
    ("practice", "engine", In("engine.toml")),
    ("practice", "out", Out("practice.csv")),
    ("verify", "report", In("report.html")),
    ("verify", "captures", In("capture.csv")),
    ("practice", "grade", In("answers.csv")),
    ("practice", "key", In("key.json")),
    ("demo", "folder", OutFolder("camwitness-demo", "engine.toml")),
    ("shelf keep", "engine", In("engine.toml")),
    ("shelf table", "csv", Out("jobs.csv")),
    ("shelf table", "json", Out("jobs.jsonl")),
    ("shelf likely", "capture", In("capture.csv")),
    // `--truth` is listed below, where the array's length is not in the way of reading it.
];
const TRUTH: (&str, &str, Use) = ("practice", "truth", Out("truth.json"));

fn uses() -> impl Iterator<Item = (&'static str, &'static str, Use)> {
    USES.into_iter().chain([TRUTH])
}

/// Files that are read without an option of their own: from a folder, and named by the engine file.
const FOLDER: &str = "many";
const IN_FOLDER: &str = "many/one.csv";
const WHEEL: &str = "wheels/own.toml";
/// Files of a shelf that are read by what lists its jobs.
const SHELF: [(&str, &str); 4] = [
    ("shelf/shelf.toml", "camwitness_shelf = 1\n"),
    ("shelf/jobs/0001/job.toml", "the job that must stay\n"),
    ("shelf/jobs/0001/outcome.toml", "the outcome that must stay\n"),
    ("shelf/engines/one.toml", "the engine that must stay\n"),
];

#[test]
fn every_path_on_the_command_line_is_listed() {
    let mut defined: Vec<(String, String)> = Vec::new();
    let line = camwitness::cli::command_line();
    let mut left: Vec<(String, &clap::Command)> =
        line.get_subcommands().map(|command| (command.get_name().to_owned(), command)).collect();
    while let Some((name, command)) = left.pop() {
        let within = command.get_subcommands();
        left.extend(within.map(|inner| (format!("{name} {}", inner.get_name()), inner)));
        for option in command.get_arguments() {
            if option.get_value_parser().type_id() == TypeId::of::<PathBuf>() {
                defined.push((name.clone(), option.get_id().to_string()));
            }
        }
    }
    let mut listed: Vec<(String, String)> =
        uses().map(|(command, option, _)| (command.to_owned(), option.to_owned())).collect();
    defined.sort();
    listed.sort();
    assert_eq!(defined, listed, "an option takes a path: say in USES what it is");
}

/// A folder with every input, and what stands for each option.
struct Bench {
    folder: tempfile::TempDir,
    command: &'static str,
    values: BTreeMap<&'static str, String>,
}

impl Bench {
    fn new(command: &'static str) -> Bench {
        let folder = tempfile::tempdir().expect("a folder");
        for name in [FOLDER, "sub", "wheels"] {
            fs::create_dir(folder.path().join(name)).expect(name);
        }
        let mut values = BTreeMap::new();
        for (_, option, use_) in uses().filter(|(of, ..)| *of == command) {
            let (In(name) | Out(name) | OutFolder(name, _)) = use_;
            values.insert(option, name.to_owned());
        }
        let bench = Bench { folder, command, values };
        for (_, option, use_) in uses().filter(|(of, ..)| *of == command) {
            if let In(name) = use_ {
                bench.write(name, &format!("the {option} that must stay\n"));
            }
        }
        bench.write(IN_FOLDER, "a capture that must stay\n");
        for (name, text) in SHELF {
            bench.write(name, text);
        }
        bench.engine(WHEEL);
        bench
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        let path = self.at(name);
        fs::create_dir_all(path.parent().expect("in a folder")).expect("its folder");
        fs::write(path, text).expect(name);
    }

    /// The demonstration's engine with a wheel from a file.
    fn engine(&self, wheel: &str) {
        let text = fs::read_to_string(format!("{ROOT}/demo-data/engine.toml")).expect("an engine");
        let named = text.replacen("wheel = \"36-2\"", &format!("wheel = \"{wheel}\""), 1);
        let named = named.replacen("wheel  = \"36-2\"", &format!("wheel  = \"{wheel}\""), 1);
        assert_ne!(text, named, "the demonstration's crank wheel is written otherwise");
        self.write("engine.toml", &named);
        self.write(wheel, "slots = 36\nmissing = [35, 36]\n");
    }

    /// Runs the command with everything it can be given.
    fn run(&self, force: bool) -> Output {
        let mut words: Vec<String> = self.command.split(' ').map(str::to_owned).collect();
        let line = camwitness::cli::command_line();
        let command = words.iter().fold(&line, |of, word| of.find_subcommand(word).expect(word));
        if words.len() > 1 {
            words.extend(["--shelf".to_owned(), "shelf".to_owned()]);
        }
        for option in command.get_arguments() {
            let Some(value) = self.values.get(option.get_id().as_str()) else { continue };
            if let Some(long) = option.get_long() {
                words.push(format!("--{long}"));
            }
            words.push(value.clone());
        }
        if force && command.get_arguments().any(|option| option.get_long() == Some("force")) {
            words.push("--force".into());
        }
        let mut run = Command::new(PROGRAM);
        run.args(words).current_dir(self.folder.path()).output().expect("the program runs")
    }

    /// Every file, whatever links lead to it.
    fn contents(&self) -> BTreeMap<PathBuf, String> {
        let mut all = BTreeMap::new();
        let mut folders = vec![self.folder.path().to_owned()];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder).expect("a folder") {
                let path = entry.expect("an entry").path();
                if path.is_dir() && !path.is_symlink() {
                    folders.push(path);
                } else if path.is_file() {
                    let bytes = fs::read(&path).expect("a file");
                    all.insert(path, String::from_utf8_lossy(&bytes).into_owned());
                }
            }
        }
        all
    }

    /// Requires a refusal with these words that leaves everything as it was.
    fn refused(&self, words: &str, what: &str) {
        let before = self.contents();
        for force in [false, true] {
            let output = self.run(force);
            let message = String::from_utf8_lossy(&output.stderr).into_owned();
            assert_eq!(output.status.code(), Some(1), "{what}: {message}");
            assert!(message.contains(words), "{what}: {message}");
            assert_eq!(message.lines().count(), 1, "{what}: {message}");
            assert!(!message.contains("--force"), "{what}: {message}");
            assert_eq!(self.contents(), before, "{what}");
        }
    }
}

/// Ways to call one file by another name.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Way {
    Same,
    Spelling,
    Absolute,
    #[cfg(unix)]
    SoftLink,
    #[cfg(unix)]
    FolderLink,
    HardLink,
}

const WAYS: &[Way] = &[
    Way::Same,
    Way::Spelling,
    Way::Absolute,
    #[cfg(unix)]
    Way::SoftLink,
    #[cfg(unix)]
    Way::FolderLink,
    Way::HardLink,
];

impl Way {
    /// Another name for `file`; with links it is made, as `alias`.
    fn name(self, bench: &Bench, file: &str, alias: &str) -> String {
        match self {
            Way::Same => file.to_owned(),
            Way::Spelling => format!("./sub/../{file}"),
            Way::Absolute => bench.at(file).display().to_string(),
            #[cfg(unix)]
            Way::SoftLink => {
                fs::create_dir_all(bench.at(alias).parent().expect("a folder")).expect("a folder");
                std::os::unix::fs::symlink(bench.at(file), bench.at(alias)).expect("a link");
                alias.to_owned()
            }
            #[cfg(unix)]
            Way::FolderLink => {
                std::os::unix::fs::symlink(bench.folder.path(), bench.at("way")).expect("a link");
                format!("way/{file}")
            }
            Way::HardLink => {
                fs::create_dir_all(bench.at(alias).parent().expect("a folder")).expect("a folder");
                fs::hard_link(bench.at(file), bench.at(alias)).expect("a link");
                alias.to_owned()
            }
        }
    }

    fn links(self) -> bool {
        !matches!(self, Way::Same | Way::Spelling | Way::Absolute)
            && format!("{self:?}") != "FolderLink"
    }
}

/// What a command reads, option by option, and beyond its options.
fn inputs(command: &'static str) -> Vec<&'static str> {
    let own = uses().filter(|(of, ..)| *of == command);
    let mut all: Vec<&str> =
        own.filter(|(_, _, use_)| matches!(use_, In(_))).map(|(_, option, _)| option).collect();
    if all.contains(&"engine") {
        all.push("a wheel");
    }
    if command == "check" {
        all.push("a folder");
    }
    if command == "shelf table" {
        all.extend(SHELF.map(|(name, _)| name));
    }
    all
}

fn outputs(command: &'static str) -> Vec<(&'static str, Use)> {
    uses()
        .filter(|(of, _, use_)| *of == command && !matches!(use_, In(_)))
        .map(|(_, option, use_)| (option, use_))
        .collect()
}

fn commands() -> Vec<&'static str> {
    let mut all: Vec<&str> = uses().map(|(command, ..)| command).collect();
    all.dedup();
    all
}

/// Puts an input where it is read from, under a name of one's own where it can have one, and gives
/// that name.
fn place_input(bench: &mut Bench, input: &'static str, name: Option<&str>) -> Option<String> {
    match (input, name) {
        ("a folder", None) => {
            bench.values.insert("captures", FOLDER.into());
            Some(IN_FOLDER.into())
        }
        // A folder's captures are known by their endings, and no picture ends so.
        ("a folder", Some(_)) => None,
        (shelf, None) if shelf.starts_with("shelf/") => Some(shelf.to_owned()),
        ("a wheel", None) => Some(WHEEL.into()),
        ("a wheel", Some(name)) => {
            bench.engine(name);
            Some(name.to_owned())
        }
        (option, None) => Some(bench.values[option].clone()),
        (option, Some(name)) => {
            let text = fs::read_to_string(bench.at(&bench.values[option])).expect("an input");
            bench.write(name, &text);
            bench.values.insert(option, name.to_owned());
            Some(name.to_owned())
        }
    }
}
