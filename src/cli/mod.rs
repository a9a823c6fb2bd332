//! The commands, one file each.

pub mod practice;

use clap::Parser;

/// The command line.
#[derive(Debug, Parser)]
#[command(name = "camwitness", version, about)]
pub enum Cli {
    /// Write a realistic capture with a known fault.
    Practice(practice::PracticeArgs),
}
