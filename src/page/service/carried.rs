//! The shelf of a page that has no computer around it: held in memory, brought and taken along as
//! one file.

use std::io::Read;
use std::path::PathBuf;
use std::sync::Mutex;

use super::captures::{Reading, unpacked};
use super::engines;
use super::held::lock;
use super::shop::{
    EngineOfShelf, Found, JobOfShelf, JobToKeep, JobsOfShelf, LISTED, OnShelf, Shop, Told,
    safe_name,
};
use crate::capture::{ReadOptions, read_bytes};
use crate::engine::Engine;
use crate::known::KnownGood;
use crate::learn::{LearnOptions, learn};
use crate::look::Look;
use crate::report::counted;
use crate::report::kept::described;
use crate::report::shelf::record_sentences;
use crate::shelf::{
    EngineEntry, FindingWas, Job, JobFiles, MOST_PACKED, NewJob, Outcome, Packed, files, likely,
    proper_name, record,
};
use crate::units::Seconds;
use crate::watch::Watch;

/// A shelf in memory.
#[derive(Debug, Default)]
pub struct CarriedShelf(Mutex<Packed>);

fn read(text: &str, name: &str) -> Told<Engine> {
    engines::read(text, &format!("{name}.toml")).map_err(|error| error.to_string())
}

/// The name an engine has on the shelf, capitals or not.
fn found<'a>(shelf: &'a Packed, name: &str) -> Option<(&'a String, &'a String)> {
    let same = |other: &str| other.to_lowercase() == name.trim().to_lowercase();
    shelf
        .engines
        .get_key_value(name.trim())
        .or_else(|| shelf.engines.iter().find(|(one, _)| same(one)))
}

fn job(number: u32, stored: &JobFiles) -> Told<Job> {
    let text = |name: &str| {
        String::from_utf8_lossy(stored.get(name).map_or(&[], Vec::as_slice)).into_owned()
    };
    let odd = |why: String| format!("job {number} cannot be used: {why}");
    let kept: NewJob =
        toml::from_str(&text(files::RECORD)).map_err(|error| odd(error.message().to_owned()))?;
    let outcomes = files::outcomes(&text(files::OUTCOMES)).map_err(odd)?;
    Ok(Job { number, kept, outcomes })
}

/// That a shelf has not grown out of what one file of it may hold.
fn within(shelf: &Packed, more: usize) -> Told<()> {
    if shelf.bytes() + more as u64 <= MOST_PACKED {
        return Ok(());
    }
    Err(format!(
        "the shelf of this page is full: with this it would have more than {:.0} MB. Save it as one file, add that to the shelf of a computer, and open this page anew",
        MOST_PACKED as f64 / 1e6
    ))
}

impl CarriedShelf {
    fn job(&self, number: u32) -> Told<Job> {
        let shelf = lock(&self.0);
        let stored = shelf.jobs.get(&number).ok_or_else(|| no_job(number))?;
        job(number, stored)
    }

    /// Adds the captures of a job that was found sound to the known-good of its engine.
    fn grow(&self, kept: &Job) -> Told<usize> {
        let name = kept.kept.shelf_engine.as_ref().ok_or("the job's engine is not on the shelf")?;
        let (text, before) = self.engine(name)?;
        let engine = read(&text, name)?;
        let (reading, leads, (from, to)) = Reading::of_words(&kept.kept.reading)
            .ok_or("how the job was read is not understood")?;
        let options =
            reading.options(Watch::default()).map_err(|refused| refused.message().to_owned())?;
        let options = ReadOptions { from: from.map(Seconds), to: to.map(Seconds), ..options };
        let captures = {
            let shelf = lock(&self.0);
            let stored = shelf.jobs.get(&kept.number).ok_or_else(|| no_job(kept.number))?;
            let read = |name: &String| {
                let bytes =
                    stored.get(name).ok_or_else(|| format!("{name} is not with the job"))?;
                read_bytes(bytes, name, &options).map_err(|error| error.to_string())
            };
            kept.kept.captures.iter().map(read).collect::<Told<Vec<_>>>()?
        };
        let options = LearnOptions { leads, ..LearnOptions::default() };
        let known =
            learn(&captures, &engine, before, &options).map_err(|error| error.to_string())?;
        self.keep_known(name, &known)?;
        Ok(known.engines())
    }
}

fn no_job(number: u32) -> String {
    format!("the shelf has no job {number}")
}

impl Shop for CarriedShelf {
    fn list(&self) -> Told<OnShelf> {
        let shelf = lock(&self.0);
        let engines = shelf.engines.iter().map(|(name, text)| {
            let known = shelf.known_goods.get(name);
            EngineOfShelf {
                name: name.clone(),
                known: known
                    .and_then(|text| KnownGood::parse(text, name).ok())
                    .map(|known| known.engines()),
                problem: read(text, name).err(),
            }
        });
        let place = "In this page alone (save it as one file before you close it)".into();
        Ok(OnShelf { place, engines: engines.collect() })
    }

    fn engine(&self, name: &str) -> Told<(String, Option<KnownGood>)> {
        let shelf = lock(&self.0);
        let (name, text) =
            found(&shelf, name).ok_or_else(|| format!("the shelf has no engine \"{name}\""))?;
        let engine = read(text, name)?;
        let known = shelf.known_goods.get(name).map(|text| {
            let known = KnownGood::parse(text, name).map_err(|error| error.to_string())?;
            known.belongs_to(&engine, name).map_err(|error| error.to_string())?;
            Ok::<_, String>(known)
        });
        Ok((text.clone(), known.transpose()?))
    }

    fn keep_engine(&self, text: &str, name: &str, replace: bool) -> Told<String> {
        read(text, name)?;
        let name = proper_name(name).map_err(|error| error.to_string())?;
        let mut shelf = lock(&self.0);
        if let Some((there, ours)) = found(&shelf, &name) {
            if ours == text {
                return Ok(there.clone());
            }
            if !replace || *there != name {
                return Err(format!(
                    "the shelf has another engine \"{there}\" already. Give this one another name"
                ));
            }
        }
        within(&shelf, text.len())?;
        shelf.engines.insert(name.clone(), text.to_owned());
        Ok(name)
    }

    fn keep_known(&self, engine: &str, known: &KnownGood) -> Told<()> {
        lock(&self.0).known_goods.insert(engine.to_owned(), known.text());
        Ok(())
    }

    fn keep_job(&self, kept: JobToKeep) -> Told<u32> {
        let mut stored = JobFiles::new();
        let mut captures = Vec::new();
        for (name, packed) in kept.captures {
            let name = safe_name(name);
            let mut bytes = Vec::new();
            unpacked(packed).read_to_end(&mut bytes).map_err(|error| error.to_string())?;
            if files::OURS.contains(&name.as_str()) || stored.insert(name.clone(), bytes).is_some()
            {
                return Err(format!(
                    "two files of this job are called {name}. Rename one and drop it again"
                ));
            }
            captures.push(name);
        }
        let begun = NewJob {
            shelf_engine: kept.engine.map(str::to_owned),
            captures,
            order: kept.job.number.clone(),
            vehicle: kept.job.vehicle.clone(),
            date: kept.job.date.clone(),
            reading: kept.reading.words(kept.leads, kept.stretch),
            ..NewJob::default()
        };
        let record = toml::to_string(&described(kept.checked, begun))
            .map_err(|error| format!("the job cannot be written: {error}"))?;
        let texts = [
            (files::RECORD, record.as_str()),
            (files::RESULT, kept.result),
            (files::REPORT, kept.report),
        ];
        stored.extend(texts.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec())));
        let mut shelf = lock(&self.0);
        within(&shelf, stored.values().map(Vec::len).sum())?;
        let number = shelf.jobs.keys().next_back().copied().unwrap_or(0) + 1;
        shelf.jobs.insert(number, stored);
        Ok(number)
    }

    fn jobs(&self) -> Told<JobsOfShelf> {
        let shelf = lock(&self.0);
        let (mut jobs, mut broken) = (Vec::new(), Vec::new());
        for (number, stored) in &shelf.jobs {
            match job(*number, stored) {
                Ok(job) => jobs.push(job),
                Err(why) => broken.push(why),
            }
        }
        Ok(JobsOfShelf {
            count: jobs.len(),
            record: record_sentences(&record(&jobs)),
            broken,
            jobs: jobs.iter().rev().take(LISTED).map(JobOfShelf::from).collect(),
        })
    }

    fn outcome(&self, said: &Found) -> Told<String> {
        let was = said.right.map(|right| if right { FindingWas::Right } else { FindingWas::Wrong });
        let outcome = Outcome::new(&said.text, was, said.sound);
        if outcome.text.is_empty() {
            return Err("an outcome says what was found, in words".into());
        }
        let mut outcomes = self.job(said.job)?.outcomes;
        outcomes.push(outcome);
        let text = files::outcomes_text(outcomes)?;
        if let Some(stored) = lock(&self.0).jobs.get_mut(&said.job) {
            stored.insert(files::OUTCOMES.to_owned(), text.into_bytes());
        }
        let kept = self.job(said.job)?;
        let grown = said.sound.then(|| match self.grow(&kept) {
            Ok(engines) => format!(
                "Added to the engine's known-good, which now rests on {}.\n",
                counted(engines, "engine", "engines")
            ),
            Err(why) => {
                format!("Not added to the engine's known-good: {}.\n", why.trim_end_matches('.'))
            }
        });
        Ok(kept.outcome_said() + &grown.unwrap_or_default())
    }

    fn likely(&self, seen: &Look) -> Vec<String> {
        let shelf = lock(&self.0);
        let engines = shelf.engines.iter().map(|(name, text)| EngineEntry {
            name: name.clone(),
            path: PathBuf::new(),
            engine: read(text, name),
        });
        likely(seen, &engines.collect::<Vec<_>>()).into_iter().map(|one| one.name).collect()
    }

    fn packed(&self) -> Told<Vec<u8>> {
        lock(&self.0).write()
    }

    fn unpack(&self, bytes: &[u8]) -> Told<(Packed, Vec<String>)> {
        let other = Packed::read(bytes)?;
        let mut shelf = lock(&self.0);
        let (new, left) = shelf.added_by(other, engines::read);
        within(&shelf, usize::try_from(new.bytes()).unwrap_or(usize::MAX))?;
        shelf.extend(new.clone());
        Ok((new, left))
    }
}
