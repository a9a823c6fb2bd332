//! What is said of the engine beside the captures: codes, the controller's figures, a repair.

use clap::Args;

use super::Failure;
use crate::analysis::Options;
use crate::codes::read_codes;
use crate::engine::Engine;
use crate::verdict::read_controller;

/// Options of what the odds count beside the captures.
#[derive(Debug, Args)]
pub struct EvidenceArgs {
    /// Stored trouble codes, for example P0018,P0008
    #[arg(long, value_name = "CODES")]
    codes: Vec<String>,
    /// Leave out of the odds which bank the stored codes accuse
    #[arg(long)]
    no_code_evidence: bool,
    /// Where the scan tool shows a phaser, crank degrees from rest, 0 at rest: "B1 intake=0"; again
    /// for more
    #[arg(long, value_name = "CAM=DEG", allow_hyphen_values = true)]
    phaser: Vec<String>,
    /// The offset of a cam that the controller has learned since it was new, crank degrees, late
    /// above 0: "B1 intake=-1.5"
    #[arg(long, value_name = "CAM=DEG", allow_hyphen_values = true)]
    learned: Vec<String>,
    /// The drive was just put together: a chain laid on a tooth off is likelier, wear is not
    #[arg(long)]
    after_repair: bool,
}

impl EvidenceArgs {
    /// Puts what was said into the options.
    ///
    /// # Errors
    /// What is no code, and a figure that this engine cannot have.
    pub(super) fn add_to(&self, options: Options, engine: &Engine) -> Result<Options, Failure> {
        let controller = read_controller(&self.phaser, &self.learned, engine);
        Ok(Options {
            codes: read_codes(&self.codes).map_err(|error| Failure(error.to_string()))?,
            no_code_evidence: self.no_code_evidence,
            controller: controller.map_err(|error| Failure(error.to_string()))?,
            after_repair: self.after_repair,
            ..options
        })
    }

    /// The same without an engine file, which the controller's figures need.
    ///
    /// # Errors
    /// As [`EvidenceArgs::add_to`], and the controller's figures.
    pub(super) fn without_engine(
        &self,
        options: Options,
        engine: &Engine,
    ) -> Result<Options, Failure> {
        if !self.phaser.is_empty() || !self.learned.is_empty() {
            return Err(Failure(
                "--phaser and --learned go with an engine file. Give it with --engine, or leave them out".into(),
            ));
        }
        self.add_to(options, engine)
    }
}
