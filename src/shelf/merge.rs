//! What one shelf adds to another. Nothing that is there is changed but by more outcomes of a job
//! that both have.

use super::job::{self, NewJob};
use super::{JobFiles, Packed, outcome, proper_name};
use crate::engine::Engine;
use crate::error::DescriptionError;
use crate::known::KnownGood;

impl Packed {
    /// What `other` has and this one has not, with one sentence for each thing that is left out
    /// and why. Jobs get the next numbers here; one that is here already stands in the answer only
    /// where `other` knows more outcomes of it, and then with these alone. `read` reads an engine
    /// file by its text and name and opens no other file.
    #[must_use]
    pub fn added_by(
        &self,
        other: Packed,
        read: impl Fn(&str, &str) -> Result<Engine, DescriptionError>,
    ) -> (Packed, Vec<String>) {
        let (mut new, mut left) = (Packed::default(), Vec::new());
        // Engines of `other` whose name means another engine here.
        let mut others = Vec::new();
        for (name, text) in other.engines {
            let there =
                self.engines.iter().find(|(one, _)| one.to_lowercase() == name.to_lowercase());
            let why = match (proper_name(&name), read(&text, &name), there) {
                (_, _, Some((_, ours))) if *ours == text => continue,
                (_, _, Some(_)) => "another one has that name here".to_owned(),
                (Err(error), ..) => error.to_string(),
                (_, Err(error), _) => error.to_string(),
                (Ok(_), Ok(_), None) => {
                    new.engines.insert(name, text);
                    continue;
                }
            };
            left.push(left_out(&format!("engine {name}"), &why));
            others.push(name);
        }
        for (name, text) in other.known_goods {
            let engine = self.engines.get(&name).or_else(|| new.engines.get(&name));
            let why = match (engine, self.known_goods.get(&name)) {
                (_, Some(ours)) if *ours == text => continue,
                (_, Some(_)) => "this shelf has its own".to_owned(),
                (None, _) => "its engine is not on the shelf".to_owned(),
                (Some(_), None) if others.contains(&name) => "it is of another engine".to_owned(),
                (Some(engine), None) => match fits(&text, &name, engine, &read) {
                    Ok(()) => {
                        new.known_goods.insert(name, text);
                        continue;
                    }
                    Err(why) => why,
                },
            };
            left.push(left_out(&format!("known-good of {name}"), &why));
        }
        for (number, files) in other.jobs {
            match self.job_added(files, &others, &new) {
                Ok(Some((number, files))) => {
                    new.jobs.insert(number, files);
                }
                Ok(None) => {}
                Err(why) => left.push(left_out(&format!("job {number}"), &why)),
            }
        }
        (new, left)
    }

    /// Takes everything of another.
    pub fn extend(&mut self, new: Packed) {
        self.engines.extend(new.engines);
        self.known_goods.extend(new.known_goods);
        for (number, files) in new.jobs {
            self.jobs.entry(number).or_default().extend(files);
        }
    }

    fn job_added(
        &self,
        mut files: JobFiles,
        others: &[String],
        new: &Packed,
    ) -> Result<Option<(u32, JobFiles)>, String> {
        let [record, result] = [job::FILE, job::RESULT].map(|name| files.get(name).cloned());
        let (Some(record), Some(result)) = (record, result) else {
            return Err(format!("it has no {} or no {}", job::FILE, job::RESULT));
        };
        let text = String::from_utf8_lossy(&record);
        let mut kept: NewJob = toml::from_str(&text).map_err(|error| error.message().to_owned())?;
        let said = |files: &JobFiles| {
            let text = files.get(outcome::FILE).cloned().unwrap_or_default();
            outcome::read(&String::from_utf8_lossy(&text))
        };
        let outcomes = said(&files)?;
        let same = |files: &JobFiles| {
            files.get(job::RESULT) == Some(&result)
                && files.get(job::FILE).is_some_and(|ours| same_record(ours, &kept))
        };
        if let Some((number, ours)) = self.jobs.iter().find(|(_, ours)| same(ours)) {
            let known = said(ours)?;
            let more = outcomes.len() > known.len() && outcomes.starts_with(&known);
            files.retain(|name, _| name == outcome::FILE);
            return Ok(more.then_some((*number, files)));
        }
        // A name that cannot be a file's everywhere would lead out of its folder somewhere.
        if let Some(name) = files.keys().find(|name| !names_a_file(name)) {
            return Err(format!("it has a file {name:?}, which cannot be one everywhere"));
        }
        if kept.shelf_engine.as_ref().is_some_and(|name| others.contains(name)) {
            kept.shelf_engine = None;
            let text = toml::to_string(&kept).map_err(|error| error.to_string())?;
            files.insert(job::FILE.to_owned(), text.into_bytes());
        }
        let last = self.jobs.keys().chain(new.jobs.keys()).max().copied().unwrap_or(0);
        Ok(Some((last + 1, files)))
    }
}

/// The same job, whatever its engine is called on either shelf.
fn same_record(ours: &[u8], theirs: &NewJob) -> bool {
    let ours: Result<NewJob, _> = toml::from_str(&String::from_utf8_lossy(ours));
    ours.is_ok_and(|ours| NewJob { shelf_engine: theirs.shelf_engine.clone(), ..ours } == *theirs)
}

fn left_out(what: &str, why: &str) -> String {
    format!("Left out: {what}, since {}.", why.trim_end_matches('.'))
}

fn fits(
    text: &str,
    name: &str,
    engine: &str,
    read: impl Fn(&str, &str) -> Result<Engine, DescriptionError>,
) -> Result<(), String> {
    let engine = read(engine, name).map_err(|error| error.to_string())?;
    let known = KnownGood::parse(text, name).map_err(|error| error.to_string())?;
    known.belongs_to(&engine, name).map_err(|error| error.to_string())
}

/// A name of a file that leads nowhere else and is allowed on every system.
pub(crate) fn names_a_file(name: &str) -> bool {
    let letter = |letter: char| letter.is_alphanumeric() || " -_.()+".contains(letter);
    !name.is_empty() && !name.starts_with('.') && !name.ends_with('.') && name.chars().all(letter)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;

    const DEMO: &str = include_str!("../../demo-data/engine.toml");

    fn read(text: &str, name: &str) -> Result<Engine, DescriptionError> {
        Engine::parse(text, Path::new(name))
    }

    fn job(engine: &str, outcomes: &[&str]) -> JobFiles {
        let kept = NewJob {
            engine: "invented V6".into(),
            shelf_engine: Some(engine.into()),
            finding: "jumped".into(),
            probability: 0.995,
            sentence: "a sentence".into(),
            ..NewJob::default()
        };
        let said = outcomes.iter().map(|text| outcome::Outcome::new(text, None, false)).collect();
        let files = [
            (job::FILE, toml::to_string(&kept).expect("TOML")),
            (job::RESULT, format!("{{\"engine\": \"{engine}\"}}")),
            (outcome::FILE, outcome::written(said).expect("TOML")),
        ];
        files.map(|(name, text)| (name.to_owned(), text.into_bytes())).into()
    }

    fn shelf(engines: &[(&str, &str)], jobs: Vec<(u32, JobFiles)>) -> Packed {
        let engines = engines.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned()));
        Packed { engines: engines.collect(), jobs: jobs.into_iter().collect(), ..Packed::default() }
    }

    #[test]
    fn what_is_new_is_added_and_what_is_there_stays() {
        let changed = DEMO.replace("Demonstration V6", "Other V6");
        let ours = shelf(&[("Grey V6", DEMO)], vec![(3, job("Grey V6", &["open"]))]);
        let theirs = shelf(
            &[("Blue V6", &changed), ("grey v6", &changed), ("Broken", "x ="), ("a/b", DEMO)],
            vec![(1, job("Blue V6", &[])), (3, job("grey v6", &[])), (4, JobFiles::new())],
        );
        let (new, left) = ours.added_by(theirs, read);
        assert_eq!(new.engines.keys().collect::<Vec<_>>(), ["Blue V6"]);
        assert_eq!(new.jobs.keys().collect::<Vec<_>>(), [&4, &5], "the next numbers");
        // The job of the engine that stays out does not name the one that has its name here.
        let kept = |number| String::from_utf8_lossy(&new.jobs[number][job::FILE]).into_owned();
        assert!(kept(&4).contains("Blue V6") && !kept(&5).contains("grey v6"), "{}", kept(&5));
        let whole = left.join("\n");
        for want in ["engine grey v6, since another one", "Broken", "a/b", "job 4, since it has no"]
        {
            assert!(whole.contains(want), "{want}: {whole}");
        }
        assert_eq!(left.len(), 4, "{whole}");
    }

    #[test]
    fn the_same_shelf_adds_nothing_and_a_later_one_its_outcomes() {
        let ours = shelf(&[("Grey V6", DEMO)], vec![(3, job("Grey V6", &["open"]))]);
        assert_eq!(ours.added_by(ours.clone(), read), (Packed::default(), vec![]));
        let later = job("Grey V6", &["open", "late, confirmed"]);
        let (new, left) = ours.added_by(shelf(&[], vec![(9, later.clone())]), read);
        assert_eq!((new.jobs.len(), left.len()), (1, 0));
        assert_eq!(new.jobs[&3][outcome::FILE], later[outcome::FILE]);
        assert_eq!(new.jobs[&3].len(), 1);
        let mut whole = ours.clone();
        whole.extend(new);
        assert_eq!(whole.jobs[&3], later);
        // What was said differently on the two is nobody's to settle.
        let apart = shelf(&[], vec![(9, job("Grey V6", &["other", "late, confirmed"]))]);
        assert_eq!(ours.added_by(apart, read).0, Packed::default());
    }

    #[test]
    fn a_job_with_a_file_that_leads_elsewhere_is_left_out() {
        for bad in ["..", "a\\b.csv", "c:x.csv", ".hidden", "nul\u{0}", "end."] {
            let mut files = job("Grey V6", &[]);
            files.insert(bad.to_owned(), vec![]);
            let (new, left) = Packed::default().added_by(shelf(&[], vec![(1, files)]), read);
            assert!(new.jobs.is_empty() && left.len() == 1, "{bad}: {left:?}");
        }
    }
}
