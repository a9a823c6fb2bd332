//! `camwitness completions`: what a shell needs to complete this command line.

use clap::Args;
use clap_complete::Shell;

use super::{DONE, Failure, Job};
use crate::output::Files;

/// Options of `completions`.
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell
    shell: Shell,
}

impl Job for CompletionsArgs {
    /// It writes to standard output alone.
    fn files(&self) -> Files {
        Files::default()
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut super::command_line(), "camwitness", &mut script);
        Ok((String::from_utf8_lossy(&script).into_owned(), DONE))
    }
}
