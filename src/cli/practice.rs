//! `camwitness practice`: writes a realistic capture with a known fault.

use std::path::{Path, PathBuf};

use clap::Args;

use super::shelf::ShelfArgs;
use super::{DONE, Failure, Job, existing};
use crate::capture::CaptureKind;
use crate::engine::{Engine, wheel_files};
use crate::error::{DescriptionError, FileError};
use crate::leads::Role;
use crate::output::{Files, ReadAs, Ready, WrittenAs};
use crate::practice::{
    DecimalMark, Dialect, Ending, ExtraLead, FAULT_WORDS, Fault, Preset, Scenario, Separator,
    Truth, csv_text, generate,
};

/// Writes a practice capture with a known fault, made by a physical model of the engine.
#[derive(Debug, Clone, Args)]
#[command(after_help = fault_help())]
pub struct PracticeArgs {
    /// The engine description.
    #[arg(long, value_name = "ENGINE.toml")]
    pub engine: PathBuf,
    /// A fault to build in; give it again for another. Degrees are crank degrees, + is late.
    #[arg(long = "fault", value_name = "FAULT")]
    pub faults: Vec<Fault>,
    /// The capture to write.
    #[arg(long, value_name = "CAPTURE.csv")]
    pub out: PathBuf,
    /// Also write exactly what was done, as JSON.
    #[arg(long, value_name = "TRUTH.json")]
    pub truth: Option<PathBuf>,
    /// Another number gives another engine of the kind.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Another number gives another capture of the same engine: other noise, another start.
    #[arg(long, default_value_t = 1)]
    pub take: u64,
    /// How dirty the signals are.
    #[arg(long, value_enum, default_value_t = Preset::Workshop)]
    pub preset: Preset,
    /// Samples per second.
    #[arg(long, default_value_t = 20_000.0)]
    pub rate: f64,
    /// Length of the capture in seconds.
    #[arg(long, default_value_t = 3.0)]
    pub seconds: f64,
    /// Resolution of the scope in bits.
    #[arg(long)]
    pub bits: Option<u32>,
    /// Cranking speed the starter is sized for, rpm.
    #[arg(long)]
    pub rpm: Option<f64>,
    /// Swing of speed within a turn, greatest less least over the mean, that the flywheel is sized
    /// for: 0.25 is common, 1.6 a three-cylinder engine with a light one.
    #[arg(long, value_name = "SHARE")]
    pub ripple: Option<f64>,
    /// Scatter of every edge of a square-wave sensor, in crank degrees.
    #[arg(long, value_name = "DEG", default_value_t = 0.0)]
    pub jitter: f64,
    /// How the capture ends.
    #[arg(long, value_enum, default_value_t = Ending::Cranking)]
    pub ending: Ending,
    /// Seconds the engine stands still before the starter engages; a quarter of a second when not
    /// given.
    #[arg(long, value_name = "SECONDS")]
    pub standstill: Option<f64>,
    /// A lead beside crank and cams: starter, battery, "ignition 1", "pressure 1"; again for more.
    /// The starter's current is written when none is given.
    #[arg(long = "with", value_name = "LEAD")]
    pub with: Vec<ExtraLead>,
    /// Crank and cams only.
    #[arg(long, conflicts_with = "with")]
    pub bare: bool,
    /// These leads and no other, crank and cams by name too: --only starter,"ignition 3"
    #[arg(long, value_name = "LEADS", value_delimiter = ',', conflicts_with_all = ["with", "bare"])]
    pub only: Vec<String>,
    /// Cams of the sound engine stand exactly where the description says.
    #[arg(long)]
    pub exact: bool,
    /// Write the rows of a logic analyser: one per change.
    #[arg(long)]
    pub events: bool,
    /// Between the cells of a row.
    #[arg(long, value_enum, default_value_t = Separator::Comma)]
    pub separator: Separator,
    /// Within numbers.
    #[arg(long, value_enum, default_value_t = DecimalMark::Point)]
    pub decimal: DecimalMark,
    /// Units in a row of their own.
    #[arg(long)]
    pub unit_row: bool,
    /// Replace files that are there.
    #[arg(long)]
    pub force: bool,
    #[command(flatten)]
    pub(super) place: ShelfArgs,
}

/// A comma between cells and within numbers.
const COMMA_TWICE: &str =
    "--decimal comma needs another separator: give --separator semicolon or tab";

fn fault_help() -> String {
    let lines = FAULT_WORDS.iter().map(|(form, means)| format!("  {form:<26} {means}\n"));
    format!("Faults:\n{}", lines.collect::<String>())
}

impl Job for PracticeArgs {
    fn files(&self) -> Files {
        let existing = existing(self.force);
        Files::default()
            .reads(ReadAs::Engine, &self.engine)
            .reads_all(ReadAs::Wheel, wheel_files(&self.engine))
            .writes(WrittenAs::Capture, Some(&self.out), existing)
            .writes(WrittenAs::Truth, self.truth.as_deref(), existing)
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        run(self).map(|said| (said, DONE))
    }
}

/// Makes the capture and writes it, whole or not at all. Says what was written.
fn run(args: &PracticeArgs) -> Result<String, Failure> {
    if args.separator == Separator::Comma && args.decimal == DecimalMark::Comma {
        return Err(Failure(COMMA_TWICE.into()));
    }
    let practice = generate(&scenario(args)?)?;
    let dialect =
        Dialect { separator: args.separator, decimal: args.decimal, unit_row: args.unit_row };
    let text = csv_text(&practice.capture, &practice.steps, dialect)
        .ok_or_else(|| Failure(COMMA_TWICE.into()))?;
    let said = written(args, &practice.truth);
    let truth = match &args.truth {
        Some(path) => Some((path, truth_text(&practice.truth, path)?)),
        None => None,
    };
    let existing = existing(args.force);
    let capture = Ready::write(&args.out, text.as_bytes())?;
    let truth = truth.as_ref().map(|(path, json)| Ready::write(path, json)).transpose()?;
    capture.place(existing)?;
    truth.map_or(Ok(()), |truth| truth.place(existing))?;
    // A device may be the very place where this would be said.
    Ok(if args.out.starts_with("/dev") { String::new() } else { said })
}

/// What was written. The faults stand in the truth alone: whoever shows the screen to a class gives
/// nothing away.
fn written(args: &PracticeArgs, truth: &Truth) -> String {
    let leads: Vec<&str> = truth.leads.iter().map(|lead| lead.lead.as_str()).collect();
    let rate = truth.rate.map_or("one row per change".to_owned(), |rate| {
        format!("{} s at {rate} samples per second", args.seconds)
    });
    let mut text = format!(
        "Written: {}, {} rows of {}, {rate}: {}.\n",
        args.out.display(),
        truth.rows,
        truth.engine,
        leads.join(", ")
    );
    text.push_str(&match &args.truth {
        Some(path) => format!("What was done to it: {}.\n", path.display()),
        None => "What was done to it is not written down; --truth FILE.json does that.\n".into(),
    });
    text
}

fn truth_text(truth: &Truth, path: &Path) -> Result<Vec<u8>, FileError> {
    let mut json = serde_json::to_vec_pretty(truth).map_err(|error| FileError {
        path: path.to_owned(),
        doing: "write",
        source: error.into(),
        advice: "Try again without --truth".into(),
    })?;
    json.push(b'\n');
    Ok(json)
}

fn scenario(args: &PracticeArgs) -> Result<Scenario, DescriptionError> {
    let engine = Engine::read(&args.engine)?;
    let (mut extra, mut sensors) = (Vec::new(), Vec::new());
    for name in &args.only {
        match Role::parse(name, &engine).and_then(Role::extra) {
            Some(lead) => extra.push(lead),
            None => sensors.push(name.clone()),
        }
    }
    let only = !args.only.is_empty();
    let leads = match (args.bare || args.events, args.with.is_empty()) {
        _ if only => extra,
        (true, true) => Vec::new(),
        (false, true) => vec![ExtraLead::Starter],
        (_, false) => args.with.clone(),
    };
    let kind = if args.events { CaptureKind::Events } else { CaptureKind::Sampled };
    Ok(Scenario {
        faults: args.faults.clone(),
        preset: args.preset,
        seed: args.seed,
        take: args.take,
        kind,
        rate: args.rate,
        seconds: args.seconds,
        sensors: only.then_some(sensors),
        leads,
        rpm: args.rpm,
        ripple: args.ripple,
        jitter: args.jitter,
        bits: args.bits,
        exact: args.exact,
        ending: args.ending,
        standstill: args.standstill,
        ..Scenario::new(engine)
    })
}
