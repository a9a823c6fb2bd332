//! `camwitness plan`: the hook-up sheet.

use std::path::PathBuf;

use clap::Args;

use super::{DONE, Failure, Job, width};
use crate::engine::{Engine, wheel_files};
use crate::output::{Files, ReadAs};
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

impl Job for PlanArgs {
    fn files(&self) -> Files {
        Files::default()
            .reads(ReadAs::Engine, &self.engine)
            .reads_all(ReadAs::Wheel, wheel_files(&self.engine))
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        run(self).map(|sheet| (sheet, DONE))
    }
}

fn run(args: &PlanArgs) -> Result<String, Failure> {
    let engine = Engine::read(&args.engine)?;
    let options = PlanOptions {
        accuracy: CrankDelta(args.accuracy),
        rpm: Rpm(args.rpm),
        channels: args.channels,
    };
    let plan = Plan::for_engine(&engine, options)?;
    Ok(report::plan::write_to_width(&engine, &plan, &args.engine.display().to_string(), width()))
}
