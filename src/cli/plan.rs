//! `camwitness plan`: the hook-up sheet.

use std::path::PathBuf;

use clap::Args;

use super::Failure;
use crate::engine::Engine;
use crate::plan::{Plan, PlanOptions};
use crate::report;
use crate::units::{CrankDelta, Rpm};

/// Options of `plan`.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// Description of the engine
    #[arg(long, value_name = "ENGINE.toml")]
    engine: PathBuf,
    /// Accuracy wanted for a cam's place, in crank degrees (95 % sure)
    #[arg(long, value_name = "DEGREES", default_value_t = 0.3)]
    accuracy: f64,
    /// Cranking speed
    #[arg(long, value_name = "RPM", default_value_t = 200.0)]
    rpm: f64,
    /// Channels of the scope
    #[arg(long, value_name = "N", default_value_t = 4)]
    channels: usize,
}

/// Runs the command: the sheet for standard output.
///
/// # Errors
/// An engine file that cannot be used, or an accuracy that cannot be reached.
pub fn run(args: &PlanArgs) -> Result<String, Failure> {
    let engine = Engine::read(&args.engine)?;
    let options = PlanOptions {
        accuracy: CrankDelta(args.accuracy),
        rpm: Rpm(args.rpm),
        channels: args.channels,
    };
    let plan = Plan::for_engine(&engine, options)?;
    Ok(report::plan::write(&engine, &plan, &args.engine.display().to_string()))
}
