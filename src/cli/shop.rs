//! This computer's shelf, as the page uses it.

use std::io::Read;
use std::path::Path;

use super::outcome;
use super::shelf::ShelfArgs;
use crate::engine::Engine;
use crate::known::KnownGood;
use crate::look::Look;
use crate::output::{Existing, write_whole};
use crate::page::service::{
    EngineOfShelf, Found, JobOfShelf, JobToKeep, JobsOfShelf, LISTED, OnShelf, Shop, Told,
    read_engine, safe_name, unpacked,
};
use crate::report::kept::described;
use crate::report::shelf as words;
use crate::shelf::{FindingWas, NewJob, Outcome, Packed, Shelf, ShelfError, likely, record};

/// The shelf at its place.
pub(super) struct LocalShop(pub(super) ShelfArgs);

/// A message as the page says it: what a command would begin is begun there by a button.
fn told(error: ShelfError) -> String {
    match error {
        ShelfError::NotThere(_) => {
            "Nothing is on the shelf yet: “Put on the shelf” and “Keep as a job” begin it".into()
        }
        ShelfError::EngineThere(name) => {
            format!("the shelf has another engine \"{name}\" already. Give this one another name")
        }
        ShelfError::NoJob { number, .. } => format!("the shelf has no job {number}"),
        other => other.to_string(),
    }
}

impl LocalShop {
    fn open(&self) -> Told<Shelf> {
        Shelf::open(&self.0.root().map_err(|error| error.to_string())?).map_err(told)
    }

    fn begun(&self) -> Told<Shelf> {
        Shelf::open_or_begin(&self.0.root().map_err(|error| error.to_string())?).map_err(told)
    }
}

/// The known-good of an engine, where there is one.
fn known_of(shelf: &Shelf, name: &str, engine: &Engine) -> Told<Option<KnownGood>> {
    let path = shelf.known_good(name);
    if !path.is_file() {
        return Ok(None);
    }
    super::check::read_known(&path, engine).map(Some).map_err(|error| error.to_string())
}

impl Shop for LocalShop {
    fn list(&self) -> Told<OnShelf> {
        let root = self.0.root().map_err(|error| error.to_string())?;
        let place = root.display().to_string();
        let shelf = match Shelf::open(&root) {
            Ok(shelf) => shelf,
            Err(ShelfError::NotThere(_)) => return Ok(OnShelf { place, engines: vec![] }),
            Err(error) => return Err(told(error)),
        };
        let engines = shelf.engines().map_err(told)?.into_iter().map(|entry| {
            let known = KnownGood::read(&shelf.known_good(&entry.name)).ok();
            EngineOfShelf {
                name: entry.name,
                known: known.map(|known| known.engines()),
                problem: entry.engine.err(),
            }
        });
        Ok(OnShelf { place, engines: engines.collect() })
    }

    fn engine(&self, name: &str) -> Told<(String, Option<KnownGood>)> {
        let shelf = self.open()?;
        let path = shelf.engine_file(name).map_err(told)?;
        let engine = Engine::read(&path).map_err(|error| error.to_string())?;
        let text = std::fs::read_to_string(&path)
            .map_err(|error| format!("{}: cannot be read: {error}", path.display()))?;
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        Ok((text, known_of(&shelf, &stem, &engine)?))
    }

    fn keep_engine(&self, text: &str, name: &str, replace: bool) -> Told<String> {
        let shelf = self.begun()?;
        let beside = tempfile::tempdir().map_err(|error| error.to_string())?;
        let file = beside.path().join("engine.toml");
        std::fs::write(&file, text).map_err(|error| error.to_string())?;
        Ok(shelf.keep_engine(&file, Some(name), replace).map_err(told)?.name)
    }

    fn keep_known(&self, engine: &str, known: &KnownGood) -> Told<()> {
        let path = self.begun()?.known_good(engine);
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)
                .map_err(|error| format!("{}: cannot be made: {error}", folder.display()))?;
        }
        write_whole(&path, known.text().as_bytes(), Existing::Replace)
            .map_err(|error| error.to_string())
    }

    fn keep_job(&self, job: JobToKeep) -> Told<u32> {
        let shelf = self.begun()?;
        let beside = tempfile::tempdir().map_err(|error| error.to_string())?;
        let mut files = Vec::new();
        for (name, packed) in job.captures {
            let path = beside.path().join(safe_name(name));
            let mut bytes = Vec::new();
            unpacked(packed).read_to_end(&mut bytes).map_err(|error| error.to_string())?;
            std::fs::write(&path, bytes).map_err(|error| error.to_string())?;
            files.push(path);
        }
        let begun = NewJob {
            shelf_engine: job.engine.map(str::to_owned),
            order: job.job.number.clone(),
            vehicle: job.job.vehicle.clone(),
            date: job.job.date.clone(),
            reading: job.reading.words(job.leads, job.stretch),
            ..NewJob::default()
        };
        let files: Vec<&Path> = files.iter().map(AsRef::as_ref).collect();
        let kept = described(job.checked, begun);
        shelf.keep_job(&files, kept, job.result, job.report).map_err(told)
    }

    fn jobs(&self) -> Told<JobsOfShelf> {
        let root = self.0.root().map_err(|error| error.to_string())?;
        let jobs = match Shelf::open(&root) {
            Ok(shelf) => shelf.jobs().map_err(told)?,
            Err(ShelfError::NotThere(_)) => crate::shelf::Jobs::default(),
            Err(error) => return Err(told(error)),
        };
        Ok(JobsOfShelf {
            count: jobs.jobs.len(),
            record: words::record_sentences(&record(&jobs.jobs)),
            broken: jobs.broken.iter().map(ToString::to_string).collect(),
            jobs: jobs.jobs.iter().rev().take(LISTED).map(JobOfShelf::from).collect(),
        })
    }

    fn outcome(&self, found: &Found) -> Told<String> {
        let shelf = self.open()?;
        let was =
            found.right.map(|right| if right { FindingWas::Right } else { FindingWas::Wrong });
        let outcome = Outcome::new(&found.text, was, found.sound);
        shelf.add_outcome(found.job, outcome).map_err(told)?;
        let job = shelf.job(found.job).map_err(told)?;
        let mut said = job.outcome_said();
        if found.sound {
            said += &outcome::grown(&shelf, &job);
        }
        Ok(said)
    }

    fn likely(&self, seen: &Look) -> Vec<String> {
        let Ok(engines) = self.open().and_then(|shelf| shelf.engines().map_err(told)) else {
            return vec![];
        };
        likely(seen, &engines).into_iter().map(|one| one.name).collect()
    }

    fn packed(&self) -> Told<Vec<u8>> {
        match Shelf::open(&self.0.root().map_err(|error| error.to_string())?) {
            Ok(shelf) => shelf.packed().map_err(told)?.write(),
            Err(ShelfError::NotThere(_)) => Packed::default().write(),
            Err(error) => Err(told(error)),
        }
    }

    fn unpack(&self, bytes: &[u8]) -> Told<(Packed, Vec<String>)> {
        // Read first: what is no shelf begins none.
        let other = Packed::read(bytes)?;
        let read = |text: &str, name: &str| read_engine(text, name);
        self.begun()?.add(other, read).map_err(told)
    }
}
