//! Two examples for every command's help.

use clap::Command;

/// Command, what an example is for, and the example.
const EXAMPLES: &[(&str, [(&str, &str); 2])] = &[
    (
        "check",
        [
            ("The main job", "camwitness check capture.csv --engine engine.toml --codes P0018"),
            (
                "Columns that are called otherwise, and a report to print",
                "camwitness check scope.csv --engine engine.toml --lead \"crank=Channel 1\" --lead \"B1 intake=Channel 3\" --report report.html",
            ),
        ],
    ),
    (
        "compare",
        [
            ("Is every cam back?", "camwitness compare before.csv after.csv --engine engine.toml"),
            (
                "With a sheet to sign",
                "camwitness compare before.csv after.csv --engine engine.toml --report sign-off.html",
            ),
        ],
    ),
    (
        "learn",
        [
            (
                "From a sound engine",
                "camwitness learn good1.csv good2.csv --engine engine.toml --out engine.known.toml",
            ),
            (
                "Another engine of the type, added",
                "camwitness learn other.csv --engine engine.toml --out engine.known.toml --several-engines",
            ),
        ],
    ),
    (
        "look",
        [
            ("What is in this file?", "camwitness look capture.csv"),
            (
                "Begin an engine file",
                "camwitness look capture.csv --lead \"crank=Channel 1\" --firing 1-6-5-4-3-2 --banks 1-2-3/4-5-6 --write-engine begun.toml",
            ),
        ],
    ),
    (
        "plan",
        [
            ("The sheet for a scope of four channels", "camwitness plan --engine engine.toml"),
            ("For one of two", "camwitness plan --engine engine.toml --channels 2 --rpm 180"),
        ],
    ),
    (
        "practice",
        [
            (
                "A tooth late on bank 2",
                "camwitness practice --engine engine.toml --fault \"skip:B2 intake@primary:+1\" --out late.csv --truth late.json",
            ),
            (
                "A class of ten, each with another hidden fault",
                "camwitness practice --class 10 --engine engine.toml --out class",
            ),
        ],
    ),
    (
        "wheels",
        [("The library", "camwitness wheels"), ("One wheel in full", "camwitness wheels 36-2-1")],
    ),
    (
        "verify",
        [
            (
                "Is this report of this capture, and does it stand?",
                "camwitness verify report.html capture.csv",
            ),
            ("A report of two captures", "camwitness verify report.html crank.csv cams.csv"),
        ],
    ),
    (
        "shelf",
        [
            (
                "An engine that can be named from now on",
                "camwitness shelf keep engine.toml --name \"grey V6\"",
            ),
            ("Jobs, outcomes, how often a finding was right", "camwitness shelf table"),
        ],
    ),
    (
        "outcome",
        [
            ("The covers are off", "camwitness outcome 12 \"B2 intake one tooth late, confirmed\""),
            (
                "The engine was sound: its known-good grows",
                "camwitness outcome 13 \"marks photographed, all right\" --sound",
            ),
        ],
    ),
    (
        "page",
        [
            ("In the browser of this computer", "camwitness page"),
            ("For large captures", "camwitness page --port 8080 --max-upload 2G"),
        ],
    ),
    (
        "demo",
        [
            ("See what it does", "camwitness demo"),
            ("Into a folder of your own", "camwitness demo my-folder"),
        ],
    ),
    (
        "completions",
        [
            (
                "For bash",
                "camwitness completions bash > ~/.local/share/bash-completion/completions/camwitness",
            ),
            (
                "For fish",
                "camwitness completions fish > ~/.config/fish/completions/camwitness.fish",
            ),
        ],
    ),
];

/// The command line with the examples in its help.
pub(super) fn with_examples(line: Command) -> Command {
    EXAMPLES.iter().fold(line, |line, (name, examples)| {
        if line.find_subcommand(name).is_none() {
            return line;
        }
        line.mut_subcommand(name, |command| {
            let said = command.get_after_help().map(|text| format!("{text}\n")).unwrap_or_default();
            let lines = examples.iter().map(|(what, line)| format!("  {what}:\n    {line}\n"));
            command.after_help(format!("{said}Examples:\n{}", lines.collect::<String>()))
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Words as a shell splits them, as far as the examples go.
    fn words(line: &str) -> Vec<String> {
        let line = line.split(" > ").next().unwrap_or_default();
        let mut quoted = false;
        line.split(|letter: char| {
            quoted ^= letter == '"';
            letter == ' ' && !quoted
        })
        .map(|word| word.replace('"', ""))
        .collect()
    }

    #[test]
    fn every_command_has_two_examples_that_its_own_command_line_takes() {
        let line = super::super::command_line();
        for command in line.get_subcommands() {
            let name = command.get_name();
            let (_, examples) = EXAMPLES
                .iter()
                .find(|(of, _)| *of == name)
                .unwrap_or_else(|| panic!("{name} has no examples"));
            for (_, example) in examples {
                let taken = line.clone().try_get_matches_from(words(example));
                let matches = taken.unwrap_or_else(|error| panic!("{example}: {error}"));
                assert_eq!(matches.subcommand_name(), Some(name), "{example}");
            }
            let help = command.clone().render_help().to_string();
            assert!(help.matches("camwitness ").count() >= 2, "{help}");
        }
    }
}
