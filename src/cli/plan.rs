//! `camwitness plan`: the hook-up sheet.

use std::path::PathBuf;

use clap::Args;

use super::shelf::ShelfArgs;
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
    pub(super) engine: PathBuf,
    /// Accuracy wanted for a cam's place, in crank degrees (95 % sure)
    #[arg(long, value_name = "DEGREES", default_value_t = 0.3)]
    accuracy: f64,
    /// Cranking speed
    #[arg(long, value_name = "RPM", default_value_t = 200.0)]
    rpm: f64,
    /// Channels of the scope
    #[arg(long, value_name = "N", default_value_t = 4)]
    channels: usize,
    #[command(flatten)]
    pub(super) place: ShelfArgs,
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
    let captures: Vec<String> =
        (1..=plan.sets.len()).map(|number| format!("capture{number}.csv")).collect();
    Ok(format!(
        "{}\nThen\n  camwitness check {} --engine {} --codes P0018\n",
        report::plan::write_to_width(&engine, &plan, width()),
        captures.join(" "),
        args.engine.display()
    ))
}
