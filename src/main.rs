//! The `camwitness` program: exit status, nothing else.

use std::process::ExitCode;

use camwitness::cli::{Cli, practice};
use clap::Parser;

fn main() -> ExitCode {
    let Cli::Practice(args) = Cli::parse();
    match practice::run(&args) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(1)
        }
    }
}
