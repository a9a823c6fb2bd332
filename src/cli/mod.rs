//! The command line: one file per command, thin.

mod check;
mod compare;
mod completions;
mod demo;
mod door;
mod evidence;
mod examples;
mod folder;
mod habits;
mod keep;
mod learn;
mod look;
mod outcome;
#[cfg(feature = "page")]
mod page;
mod paper;
mod plan;
mod practice;
mod progress;
mod reading;
mod remedies;
mod shelf;
#[cfg(feature = "page")]
mod shop;
mod terminal;
mod undescribed;
#[cfg(feature = "page")]
mod watching;
mod wheels;

use std::io::{IsTerminal, Write};
use std::mem::take;
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

use crate::analysis::AnalysisError;
use crate::error::{DescriptionError, FileError, harmless};
use crate::output::{Existing, Files, OutputError};
use terminal::{Color, width};

/// Where each camshaft stands, from a capture of the crank and cam position sensors.
#[derive(Debug, Parser)]
#[command(name = "camwitness", version = env!("CAMWITNESS_VERSION"), about, max_term_width = 110)]
struct Cli {
    /// Colour: auto (at a terminal, unless NO_COLOR is set), always or never
    #[arg(
        long,
        global = true,
        value_enum,
        default_value_t,
        value_name = "WHEN",
        hide_possible_values = true
    )]
    color: Color,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Measure a capture against an engine description and say what is found
    Check(Box<check::CheckArgs>),
    /// Measure before and after a repair: what moved, and is every cam back
    Compare(compare::CompareArgs),
    /// Build a known-good reference from captures of sound engines
    Learn(learn::LearnArgs),
    /// Say what is in a capture: signals, likely leads, crank wheel, cam wheels
    Look(look::LookArgs),
    /// Print a hook-up sheet: leads, sample rate, length, procedure, cautions
    Plan(plan::PlanArgs),
    /// Write a realistic capture with a known fault
    Practice(practice::PracticeArgs),
    /// List, draw and validate tooth patterns
    Wheels(wheels::WheelsArgs),
    /// The same work in a browser, served on this computer only
    #[cfg(feature = "page")]
    Page(page::PageArgs),
    /// Write the demonstration, an invented engine and three captures of it, and check it
    Demo(demo::DemoArgs),
    /// The shop's shelf: its engine files, known-goods and jobs
    Shelf(shelf::ShelfCommand),
    /// Say what was found when the engine of a job was opened
    Outcome(outcome::OutcomeArgs),
    /// Print completions for a shell
    Completions(completions::CompletionsArgs),
}

/// What every command says of itself.
trait Job {
    /// Every file it reads and every file it writes, for the rule that nothing read is written
    /// over.
    fn files(&self) -> Files;

    /// Does it: the text for standard output, and the exit status.
    ///
    /// # Errors
    /// One message for whatever the user can mend.
    fn run(&self) -> Result<(String, u8), Failure>;
}

impl Command {
    /// Fills patterns in the names of captures in.
    fn expand(&mut self) {
        match self {
            Command::Check(args) => args.captures = habits::expanded(take(&mut args.captures)),
            Command::Learn(args) => args.captures = habits::expanded(take(&mut args.captures)),
            _ => {}
        }
    }

    fn job(&self) -> &dyn Job {
        match self {
            Command::Check(args) => args.as_ref(),
            Command::Compare(args) => args,
            Command::Learn(args) => args,
            Command::Look(args) => args,
            Command::Plan(args) => args,
            Command::Practice(args) => args,
            Command::Wheels(args) => args,
            #[cfg(feature = "page")]
            Command::Page(args) => args,
            Command::Demo(args) => args,
            Command::Shelf(args) => args,
            Command::Outcome(args) => args,
            Command::Completions(args) => args,
        }
    }
}

impl Command {
    /// Puts the file of the shelf in place of an engine that is asked for by its name.
    fn find_engine(&mut self) -> Result<(), Failure> {
        match self {
            Command::Check(args) => args.find_engine(),
            Command::Compare(args) => args.place.resolve(&mut args.engine, Some(&mut args.known)),
            Command::Learn(args) => args.place.resolve(&mut args.engine, None),
            Command::Plan(args) => args.place.resolve(&mut args.engine, None),
            Command::Practice(args) => args.place.resolve(&mut args.engine, None),
            _ => Ok(()),
        }
    }
}

/// The command line as it is defined, for tests that walk every option of every command.
#[must_use]
pub fn command_line() -> clap::Command {
    examples::with_examples(Cli::command())
}

/// Whether a file that is there may go, for a command that has `--force`.
fn existing(force: bool) -> Existing {
    if force { Existing::Replace } else { Existing::Keep }
}

/// Why a command could not do its work. Each ends as one plain message and exit status 1.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Failure(String);

macro_rules! failure_from {
    ($($error:ty),*) => {
        $(impl From<$error> for Failure {
            fn from(error: $error) -> Self {
                Failure(error.to_string())
            }
        })*
    };
}

failure_from!(crate::report::pictures::PictureError);
/// Errors that carry what would mend them.
macro_rules! failure_with_remedy_from {
    ($($error:ty),*) => {
        $(impl From<$error> for Failure {
            fn from(error: $error) -> Self {
                Failure(remedies::told(&error))
            }
        })*
    };
}

failure_with_remedy_from!(
    AnalysisError,
    crate::batch::FolderError,
    crate::known::KnownError,
    crate::shelf::ShelfError,
    DescriptionError,
    FileError,
    OutputError,
    crate::capture::CaptureError,
    crate::practice::PracticeError,
    crate::compare::CompareError,
    crate::learn::LearnError,
    crate::plan::PlanError,
    crate::report::pictures::WritePicturesError
);
#[cfg(feature = "page")]
failure_with_remedy_from!(crate::page::server::PageError);

/// Nothing was wrong and nothing is left to say.
const DONE: u8 = 0;
/// Something was measured, but not enough to tell.
const CANNOT_TELL: u8 = 3;
/// The capture or a description cannot be used.
const UNUSABLE: u8 = 1;

/// Runs the program: 0 a finding, 3 cannot tell, 1 unusable input, 2 a wrong command line.
#[must_use]
pub fn run() -> ExitCode {
    // Colour is asked for before the rest is read: help and mistakes are printed by the reader
    // itself.
    let line = command_line().color(terminal::asked_early(std::env::args_os()));
    let words: Vec<_> = std::env::args_os().collect();
    let clicked = cfg!(feature = "page")
        && habits::double_clicked(words.len(), habits::started_by().as_deref());
    let matches = if clicked {
        say(
            "started by a double click: the page opens in your browser. Closing this window ends it.",
        );
        line.get_matches_from(["camwitness", "page"])
    } else {
        line.get_matches_from(words)
    };
    let Cli { color, mut command } = match Cli::from_arg_matches(&matches) {
        Ok(cli) => cli,
        Err(error) => error.exit(),
    };
    command.expand();
    let status = match command.find_engine() {
        Ok(()) => done(&command, color),
        Err(failure) => fail(&failure.to_string()),
    };
    if clicked {
        habits::wait_to_be_read();
    }
    status
}

/// Does what a command asks, and prints what came of it.
fn done(command: &Command, color: Color) -> ExitCode {
    let job = command.job();
    let files = job.files();
    let done = files
        .check()
        .map_err(Failure::from)
        .and_then(|()| door::look_over(&files))
        .and_then(|()| job.run());
    match done {
        Ok((text, status)) => match print(&text, color) {
            Ok(()) => ExitCode::from(status),
            // The reader of a pipe may leave early; that is its business.
            Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::from(status),
            Err(error) => fail(&format!("cannot write to standard output: {error}")),
        },
        Err(failure) => fail(&failure.to_string()),
    }
}

/// The one place from which results reach a terminal.
fn print(text: &str, color: Color) -> std::io::Result<()> {
    let text = harmless(text, &['\n', '\t']);
    if habits::REDIRECTED_PLAIN && !std::io::stdout().is_terminal() {
        return terminal::write(&habits::plain(&text), color);
    }
    terminal::write(&text, color)
}

/// The one place from which messages reach a terminal.
fn fail(message: &str) -> ExitCode {
    let mut message = harmless(message.trim_end(), &[]).into_owned();
    if !message.ends_with(['.', '!', '?']) {
        message.push('.');
    }
    say(&message);
    ExitCode::from(UNUSABLE)
}

/// Standard error may be a full disk or closed; `eprintln!` would panic there.
fn say(message: &str) {
    let mut out = std::io::stderr();
    let _ = if habits::REDIRECTED_PLAIN && !out.is_terminal() {
        writeln!(out, "camwitness: {}", habits::plain(message))
    } else {
        writeln!(out, "camwitness: {message}")
    };
}
