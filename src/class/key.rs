//! The key of a class: what is right for every student, under a seal that shows whether it was
//! changed.

use serde::{Deserialize, Serialize};

use super::answer::Answer;
use super::error::{ClassError, Place};
use super::{Class, Student};
use crate::checksum::sha256;
use crate::engine::Engine;

/// What a key says it is.
const FORMAT: &str = "camwitness-class-key/1";
/// How far an answer in degrees may lie beside, where nothing else is asked for: what can be read
/// off paper with the short ticks of the ruler 2° apart, at both ends.
const WITHIN_DEG: f64 = 3.0;
/// Begins the seal, and stands for it while it is not known.
const SEAL: &str = "\"seal\": \"";
const SEAL_DIGITS: usize = 64;
const ADVICE: &str =
    "Take the key as it was written with the class, or make the class again with its seed";

/// The key of a class.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Key {
    format: String,
    /// The class.
    pub class: String,
    /// With this seed, and the same engine and options, the same class is made.
    pub seed: u64,
    /// The engine's name.
    pub engine: String,
    /// Every cam of the engine with its bank, so that an answer can be checked.
    pub cams: Vec<(String, u32)>,
    /// Every bank.
    pub banks: Vec<u32>,
    /// How far an answer in degrees may lie beside.
    pub within_deg: f64,
    /// The students, by number.
    pub students: Vec<KeyStudent>,
    /// SHA-256 of the whole file with nothing here, in hexadecimal digits.
    seal: String,
}

/// One student of a key.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeyStudent {
    /// Number, from 1.
    pub student: u32,
    /// What is wrong, in the words that make it.
    pub exercise: String,
    /// What is right.
    pub answer: Answer,
    /// What was really done, as a practice capture tells it.
    pub truth: serde_json::Value,
}

impl Key {
    /// The key of a class.
    ///
    /// # Errors
    /// None that a class of this program brings about.
    pub fn of(class: &Class, engine: &Engine) -> Result<Key, serde_json::Error> {
        let student = |student: &Student| {
            Ok(KeyStudent {
                student: student.number,
                exercise: student.exercise.to_string(),
                answer: student.answer.clone(),
                truth: serde_json::to_value(&student.practice.truth)?,
            })
        };
        Ok(Key {
            format: FORMAT.into(),
            class: class.name.clone(),
            seed: class.seed,
            engine: class.engine.clone(),
            cams: engine.cams.iter().map(|cam| (cam.name.clone(), cam.bank)).collect(),
            banks: engine.banks.keys().copied().collect(),
            within_deg: WITHIN_DEG,
            students: class
                .students
                .iter()
                .map(student)
                .collect::<Result<Vec<KeyStudent>, serde_json::Error>>()?,
            seal: String::new(),
        })
    }

    /// The text of a key, sealed.
    ///
    /// # Errors
    /// None that a key of this program brings about.
    pub fn sealed(&self) -> Result<String, serde_json::Error> {
        let open = Key { seal: String::new(), ..self.clone() };
        let text = serde_json::to_string_pretty(&open)? + "\n";
        let seal = sha256(text.as_bytes());
        let Some(place) = text.rfind(SEAL) else { return Ok(text) };
        let (before, after) = text.split_at(place + SEAL.len());
        Ok(format!("{before}{seal}{after}"))
    }

    /// Reads the text of a key. `file` names it in messages.
    ///
    /// # Errors
    /// A text that is no key, or one that was changed after it was sealed.
    pub fn read(text: &str, file: &str) -> Result<Key, ClassError> {
        let refuse = |line: u64, column: usize, what: String| {
            let place = Place { file: file.to_owned(), line, column, name: String::new() };
            Err(ClassError::At { place, what, advice: ADVICE.into() })
        };
        let key: Key = match serde_json::from_str(text) {
            Ok(key) => key,
            Err(error) => {
                let said = error.to_string();
                let said = said.split(" at line ").next().unwrap_or_default().to_owned();
                return refuse(
                    error.line().max(1) as u64,
                    error.column().max(1),
                    format!("this is no key of a class: {said}"),
                );
            }
        };
        if key.format != FORMAT {
            let what = format!("this is \"{}\", and a key of a class is \"{FORMAT}\"", key.format);
            return refuse(1, 1, what);
        }
        // Line ends may have been changed on the way; nothing else may.
        let plain = text.replace("\r\n", "\n");
        let place = plain.rfind(SEAL).map(|place| place + SEAL.len());
        let Some(place) = place else {
            return refuse(1, 1, "this key has no seal".into());
        };
        let line = plain[..place].matches('\n').count() as u64 + 1;
        let end = plain[place..].find('"').map_or(plain.len(), |length| place + length);
        let open = format!("{}{}", &plain[..place], &plain[end..]);
        if end - place != SEAL_DIGITS || sha256(open.as_bytes()) != plain[place..end] {
            let column = place - plain[..place].rfind('\n').map_or(0, |at| at + 1) + 1;
            let what = "the key was changed after it was made: its seal does not fit".to_owned();
            return refuse(line, column, what);
        }
        Ok(key)
    }
}
