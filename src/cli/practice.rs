//! `camwitness practice`: writes a realistic capture with a known fault.

use std::path::{Path, PathBuf};

use clap::Args;

use super::class::ClassArgs;
use super::shelf::ShelfArgs;
use super::{DONE, Failure, Job, existing};
use crate::capture::CaptureKind;
use crate::class::EXERCISE_WORDS;
use crate::engine::{Engine, wheel_files};
use crate::error::FileError;
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
    #[arg(long, value_name = "ENGINE.toml", required_unless_present = "grade")]
    pub engine: Option<PathBuf>,
    /// A fault to build in; give it again for another. Degrees are crank degrees, + is late.
    #[arg(long = "fault", value_name = "FAULT")]
    pub faults: Vec<Fault>,
    /// The capture to write; with --class the folder.
    #[arg(long, value_name = "CAPTURE.csv", required_unless_present = "grade")]
    pub out: Option<PathBuf>,
    /// Also write exactly what was done, as JSON.
    #[arg(long, value_name = "TRUTH.json")]
    pub truth: Option<PathBuf>,
    /// Another number gives another engine of the kind, or with --class another class. Without it
    /// an engine has 1, and a class a number that is drawn and kept in its key.
    #[arg(long)]
    pub seed: Option<u64>,
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
    /// Leads to leave out, crank and cams by name: --without "B2 intake"
    #[arg(long, value_name = "LEADS", value_delimiter = ',', conflicts_with = "only")]
    pub without: Vec<String>,
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
    pub(super) class: ClassArgs,
    #[command(flatten)]
    pub(super) place: ShelfArgs,
}

/// A comma between cells and within numbers.
pub(super) const COMMA_TWICE: &str =
    "--decimal comma needs another separator: give --separator semicolon or tab";

fn fault_help() -> String {
    let line = |(form, means): &(&str, &str)| format!("  {form:<26} {means}\n");
    let faults: String = FAULT_WORDS.iter().map(line).collect();
    let more: String = EXERCISE_WORDS.iter().map(line).collect();
    format!("Faults:\n{faults}\nWith --give also:\n{more}{MORE_EXAMPLES}")
}

/// Further examples, before the two that every command has.
const MORE_EXAMPLES: &str = "
Exercises of your own, and the marks of what comes back:
    camwitness practice --class 3 --engine engine.toml --out class --give sound --give wrong-edge:crank
    camwitness practice --grade class/instructor/answers.csv --key class/instructor/key.json
A sound engine, badly hooked up, without one of its leads:
    camwitness practice --engine engine.toml --preset nasty --without \"B2 intake\" --out nasty.csv
";

impl Job for PracticeArgs {
    fn files(&self) -> Files {
        let existing = existing(self.force);
        let engine = self.engine.as_deref();
        let files = Files::default()
            .reads_all(ReadAs::Engine, engine)
            .reads_all(ReadAs::Wheel, engine.map(wheel_files).unwrap_or_default());
        let files = self.class.files(files);
        let files = match (&self.out, self.class.class) {
            (Some(folder), Some(_)) => self.class.writes(files, folder, existing),
            (out, _) => files.writes(WrittenAs::Capture, out.as_deref(), existing),
        };
        files.writes(WrittenAs::Truth, self.truth.as_deref(), existing)
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        run(self).map(|said| (said, DONE))
    }
}

/// Makes a capture or a class, or marks one.
fn run(args: &PracticeArgs) -> Result<String, Failure> {
    let refuse = |why: &str| Err(Failure(why.into()));
    match (&args.engine, &args.out, &args.class.grade, &args.class.key) {
        (None, None, Some(answers), Some(key)) if args.class.class.is_none() => {
            args.class.marked(answers, key)
        }
        (Some(engine), Some(out), None, _) => {
            if args.separator == Separator::Comma && args.decimal == DecimalMark::Comma {
                return refuse(COMMA_TWICE);
            }
            if args.class.class.is_none() {
                return one(args, engine, out);
            }
            if !args.faults.is_empty() {
                return refuse(
                    "--fault builds one capture. For a class give what is dealt out with --give",
                );
            }
            if args.truth.is_some() {
                return refuse(
                    "--truth tells of one capture. The truth of a class stands in its key",
                );
            }
            let scenario = scenario(args, engine)?;
            args.class.make(&scenario, engine, out, dialect(args), (args.seed, args.force))
        }
        _ => refuse(
            "--grade marks answers with --key and makes nothing. Leave --engine, --out and --class away",
        ),
    }
}

fn dialect(args: &PracticeArgs) -> Dialect {
    Dialect { separator: args.separator, decimal: args.decimal, unit_row: args.unit_row }
}

/// Makes one capture and writes it, whole or not at all. Says what was written.
fn one(args: &PracticeArgs, engine: &Path, out: &Path) -> Result<String, Failure> {
    let practice = generate(&scenario(args, engine)?)?;
    let text = csv_text(&practice.capture, &practice.steps, dialect(args))
        .ok_or_else(|| Failure(COMMA_TWICE.into()))?;
    let said = written(args, out, &practice.truth);
    let truth = match &args.truth {
        Some(path) => Some((path, truth_text(&practice.truth, path)?)),
        None => None,
    };
    let existing = existing(args.force);
    let capture = Ready::write(out, text.as_bytes())?;
    let truth = truth.as_ref().map(|(path, json)| Ready::write(path, json)).transpose()?;
    capture.place(existing)?;
    truth.map_or(Ok(()), |truth| truth.place(existing))?;
    // A device may be the very place where this would be said.
    Ok(if out.starts_with("/dev") { String::new() } else { said })
}

/// What was written. The faults stand in the truth alone: whoever shows the screen to a class gives
/// nothing away.
fn written(args: &PracticeArgs, out: &Path, truth: &Truth) -> String {
    let leads: Vec<&str> = truth.leads.iter().map(|lead| lead.lead.as_str()).collect();
    let rate = truth.rate.map_or("one row per change".to_owned(), |rate| {
        format!("{} s at {rate} samples per second", args.seconds)
    });
    let mut text = format!(
        "Written: {}, {} rows of {}, {rate}: {}.\n",
        out.display(),
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

/// What a class records beside the crank and its cams, where nothing is said: what the exercises
/// need.
fn leads_of_a_class(engine: &Engine) -> Vec<ExtraLead> {
    // The coil tells one turn from the other; a coil in the middle of the order is as good as any.
    let coil = engine.firing_order.get(engine.firing_order.len() / 2);
    let coil = coil.map(|cylinder| ExtraLead::Ignition(*cylinder));
    [ExtraLead::Starter, ExtraLead::Battery].into_iter().chain(coil).collect()
}

fn scenario(args: &PracticeArgs, engine: &Path) -> Result<Scenario, Failure> {
    let engine = Engine::read(engine)?;
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
        (false, true) if args.class.class.is_some() => leads_of_a_class(&engine),
        (false, true) => vec![ExtraLead::Starter],
        (_, false) => args.with.clone(),
    };
    let (only, sensors, leads) = without(args, &engine, (only, sensors, leads))?;
    let kind = if args.events { CaptureKind::Events } else { CaptureKind::Sampled };
    Ok(Scenario {
        faults: args.faults.clone(),
        preset: args.preset,
        seed: args.seed.unwrap_or(1),
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

/// Takes the leads away that are to be left out: whether position sensors are named, which, and the
/// other leads.
fn without(
    args: &PracticeArgs,
    engine: &Engine,
    (only, mut sensors, mut leads): (bool, Vec<String>, Vec<ExtraLead>),
) -> Result<(bool, Vec<String>, Vec<ExtraLead>), Failure> {
    if args.without.is_empty() {
        return Ok((only, sensors, leads));
    }
    sensors = [Role::Crank]
        .into_iter()
        .chain((0..engine.cams.len()).map(Role::Cam))
        .map(|role| role.name(engine))
        .collect();
    for name in &args.without {
        let role = Role::parse(name, engine);
        let before = sensors.len() + leads.len();
        sensors.retain(|sensor| role != Role::parse(sensor, engine));
        leads.retain(|lead| role != Some(Role::from(*lead)));
        if sensors.len() + leads.len() == before {
            let extra = leads.iter().map(ToString::to_string);
            let has: Vec<String> = sensors.into_iter().chain(extra).collect();
            return Err(Failure(format!(
                "--without: this capture has no lead called \"{}\". It has: {}",
                name.trim(),
                has.join(", ")
            )));
        }
    }
    Ok((true, sensors, leads))
}
