//! What was found when an engine was opened.

use serde::{Deserialize, Serialize};

#[cfg(feature = "output")]
use super::{Shelf, ShelfError, folder::cannot_read, jobs::job_folder};
#[cfg(feature = "output")]
use crate::output::{Existing, write_whole};

/// What the opened engine says of the finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum FindingWas {
    /// It was so.
    Right,
    /// It was not so.
    Wrong,
}

/// One thing that was found. A job may have several, of which the last counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Outcome {
    /// What was found, in the words of whoever looked.
    pub text: String,
    /// Whether the finding was right, where that was said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub finding_was: Option<FindingWas>,
    /// Whether the timing was found sound.
    #[serde(default)]
    pub sound: bool,
}

impl Outcome {
    /// An outcome in words. Where nobody says whether the finding was right, the word "confirmed"
    /// does, unless it is denied.
    #[must_use]
    pub fn new(text: &str, finding_was: Option<FindingWas>, sound: bool) -> Outcome {
        Outcome {
            text: text.trim().to_owned(),
            finding_was: finding_was.or_else(|| confirmed(text).then_some(FindingWas::Right)),
            sound,
        }
    }
}

/// Whether the words confirm the finding: "confirmed", with no denial anywhere.
fn confirmed(text: &str) -> bool {
    let text = text.to_lowercase();
    let mut words = text.split(|letter: char| !letter.is_alphanumeric() && letter != '\'');
    let denied = words.clone().any(|word| {
        matches!(word, "not" | "no" | "never" | "nothing" | "cannot") || word.ends_with("n't")
    });
    !denied && words.any(|word| word == "confirmed")
}

#[derive(Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct OutcomeFile {
    #[serde(default, rename = "outcome")]
    outcomes: Vec<Outcome>,
}

pub(crate) const FILE: &str = "outcome.toml";

/// Reads the outcomes of a job from its file's text.
pub(crate) fn read(text: &str) -> Result<Vec<Outcome>, String> {
    toml::from_str::<OutcomeFile>(text)
        .map(|file| file.outcomes)
        .map_err(|error| error.message().to_owned())
}

/// The file of all outcomes of a job.
pub(crate) fn written(outcomes: Vec<Outcome>) -> Result<String, String> {
    toml::to_string(&OutcomeFile { outcomes }).map_err(|error| error.to_string())
}

#[cfg(feature = "output")]
impl Shelf {
    /// Adds what was found to a job. Earlier outcomes stay in its file.
    ///
    /// # Errors
    /// No such job, no words, or the file cannot be read or written.
    pub fn add_outcome(&self, number: u32, outcome: Outcome) -> Result<(), ShelfError> {
        if outcome.text.is_empty() {
            return Err(ShelfError::NothingSaid);
        }
        let _lock = self.lock()?;
        self.job(number)?;
        let path = job_folder(self, number).join(FILE);
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => String::new(),
            Err(source) => return Err(cannot_read(&path, source)),
        };
        let broken = |why| ShelfError::Broken { path: path.clone(), why };
        let mut outcomes = read(&text).map_err(broken)?;
        outcomes.push(outcome);
        let text = written(outcomes).map_err(broken)?;
        write_whole(&path, text.as_bytes(), Existing::Replace)?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_confirm_unless_they_deny() {
        let rows = [
            ("B1 intake one tooth late, confirmed", true),
            ("Confirmed: chain one link off", true),
            ("not confirmed", false),
            ("wasn't confirmed", false),
            ("marks right; nothing confirmed", false),
            ("chain replaced", false),
            ("unconfirmed", false),
        ];
        for (text, want) in rows {
            let outcome = Outcome::new(text, None, false);
            assert_eq!(outcome.finding_was == Some(FindingWas::Right), want, "{text}");
        }
        let said = Outcome::new("confirmed", Some(FindingWas::Wrong), false);
        assert_eq!(said.finding_was, Some(FindingWas::Wrong), "what is said counts before words");
    }
}
