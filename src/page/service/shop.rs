//! What this computer has beside the page: the shop's shelf. Whoever starts the page hands it in; a
//! page without it hides what needs it.

use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::captures::Reading;
use super::engines;
use super::held::{HeldEngine, lock};
use super::request::Request;
use super::seen::seen_again;
use super::session::Session;
use crate::analysis::Checked;
use crate::known::KnownGood;
use crate::leads::LeadRequest;
use crate::look::Look;
use crate::report::job::Job;
use crate::report::shelf::counts;
use crate::shelf::{FindingWas, Job as Kept, Packed};

/// What goes wrong with it: one plain message.
pub type Told<T> = Result<T, String>;

/// The shelf, as the page uses it.
pub trait Shop: Send + Sync {
    /// What is on it.
    ///
    /// # Errors
    /// It cannot be read.
    fn list(&self) -> Told<OnShelf>;
    /// The text of an engine file, and what was learned of that engine.
    ///
    /// # Errors
    /// None of that name, or it cannot be read.
    fn engine(&self, name: &str) -> Told<(String, Option<KnownGood>)>;
    /// Puts an engine file on it; gives its name there.
    ///
    /// # Errors
    /// Another one has the name, or it cannot be written.
    fn keep_engine(&self, text: &str, name: &str, replace: bool) -> Told<String>;
    /// Writes what was learned of an engine of it.
    ///
    /// # Errors
    /// It cannot be written.
    fn keep_known(&self, engine: &str, known: &KnownGood) -> Told<()>;
    /// Keeps a job; gives its number.
    ///
    /// # Errors
    /// It cannot be written.
    fn keep_job(&self, job: JobToKeep) -> Told<u32>;
    /// The jobs, the last first, and how often a finding was right.
    ///
    /// # Errors
    /// They cannot be read.
    fn jobs(&self) -> Told<JobsOfShelf>;
    /// Says what was found when the engine of a job was opened; gives what came of it.
    ///
    /// # Errors
    /// No such job, no words, or it cannot be written.
    fn outcome(&self, found: &Found) -> Told<String>;
    /// Names of engines whose wheels those of a capture may be, the likeliest first.
    fn likely(&self, seen: &Look) -> Vec<String>;
    /// All of it as one file.
    ///
    /// # Errors
    /// It cannot be read, or is too large for one file.
    fn packed(&self) -> Told<Vec<u8>>;
    /// Joins such a file with it: what came new, and a sentence for each thing that was left out.
    ///
    /// # Errors
    /// It is no such file, or cannot be written.
    fn unpack(&self, bytes: &[u8]) -> Told<(Packed, Vec<String>)>;
}

/// What is on the shelf.
#[derive(Debug, Default, Serialize)]
pub struct OnShelf {
    /// Its folder.
    pub place: String,
    /// Its engines, by name.
    pub engines: Vec<EngineOfShelf>,
}

/// An engine of the shelf.
#[derive(Debug, Serialize)]
pub struct EngineOfShelf {
    /// Its name on the shelf.
    pub name: String,
    /// On how many engines its known-good rests; none without one.
    pub known: Option<usize>,
    /// Why it cannot be used.
    pub problem: Option<String>,
}

/// A job that is to be kept.
pub struct JobToKeep<'a> {
    /// What was found.
    pub checked: &'a Checked,
    /// Name of each capture, and its file packed with gzip.
    pub captures: &'a [(String, Vec<u8>)],
    /// The whole result.
    pub result: &'a str,
    /// The report.
    pub report: &'a str,
    /// What the workshop calls it.
    pub job: &'a Job,
    /// Name of the engine on the shelf.
    pub engine: Option<&'a str>,
    /// How the captures were read.
    pub reading: &'a Reading,
    /// Which column carries what.
    pub leads: &'a [LeadRequest],
    /// First and last second that were used.
    pub stretch: (Option<f64>, Option<f64>),
}

/// A job of the shelf, as it is listed.
#[derive(Debug, Serialize)]
pub struct JobOfShelf {
    /// Its number.
    pub number: u32,
    /// Engine.
    pub engine: String,
    /// Vehicle, or what else names the job.
    pub vehicle: String,
    /// The finding in a word, as in the result.
    pub finding: String,
    /// The finding in a sentence.
    pub sentence: String,
    /// Its odds in words.
    pub odds: String,
    /// "right", "wrong", "open"; empty where nobody looked.
    pub was: &'static str,
    /// What was found.
    pub outcome: String,
}

impl From<&Kept> for JobOfShelf {
    fn from(job: &Kept) -> JobOfShelf {
        JobOfShelf {
            number: job.number,
            engine: job.kept.shelf_engine.clone().unwrap_or_else(|| job.kept.engine.clone()),
            vehicle: job
                .kept
                .vehicle
                .clone()
                .or_else(|| job.kept.order.clone())
                .unwrap_or_default(),
            finding: job.kept.finding.clone(),
            sentence: job.kept.sentence.clone(),
            odds: crate::report::odds(job.kept.probability),
            was: match (job.finding_was(), job.outcome()) {
                (Some(FindingWas::Right), _) => "right",
                (Some(FindingWas::Wrong), _) => "wrong",
                (None, Some(_)) => "open",
                (None, None) => "",
            },
            outcome: job.outcome().map_or_else(String::new, |outcome| outcome.text.clone()),
        }
    }
}

/// Jobs that the page lists: more than a workshop looks through on a screen.
pub const LISTED: usize = 200;

/// A name a file can have everywhere.
#[must_use]
pub fn safe_name(name: &str) -> String {
    let letter = |letter: char| {
        let good = letter.is_alphanumeric() || " -_.()+".contains(letter);
        if good { letter } else { '_' }
    };
    let name: String = name.chars().map(letter).collect();
    if name.starts_with('.') { format!("capture{name}") } else { name }
}

/// Jobs of the shelf.
#[derive(Debug, Serialize)]
pub struct JobsOfShelf {
    /// The last first.
    pub jobs: Vec<JobOfShelf>,
    /// How many there are in all.
    pub count: usize,
    /// How often a finding was right, in sentences.
    pub record: Vec<String>,
    /// Jobs that do not read.
    pub broken: Vec<String>,
}

/// What was found when an engine was opened.
#[derive(Debug, Deserialize)]
pub struct Found {
    /// Number of the job.
    pub job: u32,
    /// In words.
    pub text: String,
    /// Whether the finding was right; open where it is not said.
    pub right: Option<bool>,
    /// The timing was found sound.
    #[serde(default)]
    pub sound: bool,
}

fn shop(session: &Session) -> Result<&dyn Shop, Refusal> {
    session.shop().map(AsRef::as_ref).ok_or_else(|| Refusal::missing("shelf"))
}

/// Lists what is on it.
pub(super) fn list(session: &Session) -> Result<Answer, Refusal> {
    Ok(Answer::json(&shop(session)?.list().map_err(Refusal::unusable)?))
}

/// An engine of the shelf by its name.
#[derive(Deserialize)]
pub(super) struct Name {
    name: String,
}

/// Takes an engine of the shelf into the session, with its known-good.
pub(super) fn take(session: &Session, asked: &Name) -> Result<Answer, Refusal> {
    let (text, known) = shop(session)?.engine(&asked.name).map_err(Refusal::unusable)?;
    let name = format!("{}.toml", asked.name);
    let engine = engines::read(&text, &name).map_err(Refusal::unusable)?;
    // Taken before and the same since: it is in the session already.
    let there = session.engines.all().into_iter().find(|(_, held)| {
        held.shelf.as_ref() == Some(&asked.name) && held.text == text && held.taken.is_empty()
    });
    let (id, held) = there.unwrap_or_else(|| {
        let shelf = Some(asked.name.clone());
        session.add_engine(HeldEngine { shelf, ..HeldEngine::new(engine, text) })
    });
    *lock(&held.known) = known;
    Ok(engines::answer(id, &held))
}

/// An engine that is to be put on the shelf.
#[derive(Deserialize)]
pub(super) struct ToKeep {
    engine: u64,
    name: String,
    #[serde(default)]
    replace: bool,
}

/// Puts an engine of the session on the shelf, with what was learned of it, and gives it anew under
/// its name there.
pub(super) fn keep_engine(session: &Session, asked: &ToKeep) -> Result<Answer, Refusal> {
    let held = session.engine(asked.engine).ok_or_else(|| Refusal::missing("engine"))?;
    let shop = shop(session)?;
    let name = shop.keep_engine(&held.text, &asked.name, asked.replace);
    let name = name.map_err(Refusal::unusable)?;
    let known = lock(&held.known).clone();
    if let Some(known) = &known {
        shop.keep_known(&name, known).map_err(Refusal::unusable)?;
    }
    let kept = HeldEngine {
        shelf: Some(name),
        taken: held.taken.clone(),
        ..HeldEngine::new(held.engine.clone(), held.text.clone())
    };
    *lock(&kept.known) = known;
    let (id, kept) = session.add_engine(kept);
    Ok(engines::answer(id, &kept))
}

/// Lists the jobs.
pub(super) fn jobs(session: &Session) -> Result<Answer, Refusal> {
    Ok(Answer::json(&shop(session)?.jobs().map_err(Refusal::unusable)?))
}

/// Under which name all of the shelf is saved.
pub(super) const FILE: &str = "camwitness-shelf.tar.gz";

/// All of the shelf as one file.
pub(super) fn file(session: &Session) -> Result<Answer, Refusal> {
    let packed = shop(session)?.packed().map_err(Refusal::unusable)?;
    Ok(Answer::file("application/gzip", FILE, packed))
}

/// A shelf that came as one file.
pub(super) fn add_file(session: &Session, request: &mut Request) -> Result<Answer, Refusal> {
    let bytes = std::mem::take(&mut request.body);
    let (new, left) = shop(session)?.unpack(&bytes).map_err(Refusal::unusable)?;
    let said = format!("Added: {}. What was there is there still.", counts(&new));
    Ok(Answer::json(&Said { said: [vec![said], left].concat().join("\n") }))
}

/// What is said after something was done.
#[derive(Serialize)]
struct Said {
    said: String,
}

/// Takes an outcome.
pub(super) fn outcome(session: &Session, found: &Found) -> Result<Answer, Refusal> {
    let said = shop(session)?.outcome(found).map_err(Refusal::unusable)?;
    Ok(Answer::json(&Said { said }))
}

/// Names of engines of the shelf that a capture is likely of.
pub(super) fn likely(session: &Session, capture: u64) -> Result<Answer, Refusal> {
    let capture = session.capture(capture).ok_or_else(|| Refusal::missing("capture"))?;
    let none = || Answer::json(&Vec::<String>::new());
    Ok(session
        .shop()
        .map_or_else(none, |shop| Answer::json(&shop.likely(&seen_again(&capture.capture)))))
}

/// A measurement that is to be kept.
#[derive(Deserialize)]
pub(super) struct RunToKeep {
    run: u64,
}

/// The number of a job that was kept.
#[derive(Serialize)]
struct KeptAs {
    job: u32,
}

/// Keeps a measurement as a job: captures, result and report.
pub(super) fn keep_job(session: &Session, asked: &RunToKeep) -> Result<Answer, Refusal> {
    let run = session.run(asked.run).ok_or_else(|| Refusal::missing("measurement"))?;
    let shop = shop(session)?;
    let Some(captures) = run.originals() else {
        return Err(Refusal::unusable(
            "A capture of this measurement is not in the session any more. Drop it again, measure and keep that",
        ));
    };
    let about = run.about();
    let kept = run.read(|outcome| {
        outcome.map(|outcome| {
            shop.keep_job(JobToKeep {
                checked: &outcome.checked,
                captures: &captures,
                result: &outcome.json,
                report: &outcome.report,
                job: &about.job,
                engine: run.engine().shelf.as_deref(),
                reading: &about.reading,
                leads: &about.leads,
                stretch: about.stretch,
            })
        })
    });
    let job = kept.ok_or_else(|| Refusal::missing("result yet"))?.map_err(Refusal::unusable)?;
    run.kept(job);
    Ok(Answer::json(&KeptAs { job }))
}
