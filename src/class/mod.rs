//! A class: a different capture with a hidden fault for every student, an engine file beside it, and
//! one key.
//!
//! Exercises are drawn (`draw`) or given ([`Exercise`]); each becomes a practice capture and the
//! engine file its student is given (`engine_file`); the right answers come from what was really
//! done ([`Answer`]); the [`Key`] keeps them under a seal, and [`mark`] holds what a class answered
//! against it. Nothing a student is given holds the seed or leads back to it (`dice`).

mod answer;
mod answers;
mod cause;
mod dice;
mod draw;
mod engine_file;
mod error;
mod exercise;
mod key;
mod marks;

pub use answer::Answer;
pub use answers::{COLUMNS, Given, Row, blank};
pub use cause::{Cause, NextTest};
pub use engine_file::ENGINE_FILE;
pub use error::{ClassError, Place};
pub use exercise::{EXERCISE_WORDS, Exercise};
pub use key::{Key, KeyStudent};
pub use marks::{Mark, Marks, mark};

use std::path::Path;

use rayon::prelude::*;

use crate::engine::{Engine, Sensor};
use crate::practice::{Practice, PracticeError, Scenario, generate};

use dice::Dice;
use draw::Seen;
use engine_file::EngineFile;

/// Most students of a class: their numbers have two digits.
pub const MOST_STUDENTS: u32 = 99;
/// A rate at which nothing can be recorded, to be told which one would do.
const NO_RATE: f64 = 1.0;
/// How much over the least rate a capture is recorded at least.
const LOW_RATE: f64 = 1.05;
/// Samples per second between which the output pulses of a direction-sensing sensor, tens of
/// microseconds long, mostly fall.
const PULSES_MISSED_AT: f64 = 4000.0;

/// What one student is given, and what is true of it.
#[derive(Debug, Clone)]
pub struct Student {
    /// Number, from 1.
    pub number: u32,
    /// What is wrong.
    pub exercise: Exercise,
    /// The capture with its truth.
    pub practice: Practice,
    /// The engine as the student's file describes it.
    pub engine: Engine,
    /// That file.
    pub engine_text: String,
    /// Wheel files it names: name and text.
    pub wheels: Vec<(String, String)>,
    /// What is right.
    pub answer: Answer,
}

/// A class.
#[derive(Debug, Clone)]
pub struct Class {
    /// Its name, on every sheet and in the key.
    pub name: String,
    /// The seed it was drawn from.
    pub seed: u64,
    /// The engine's name.
    pub engine: String,
    /// The students, by number.
    pub students: Vec<Student>,
}

impl Class {
    /// Makes a class. `scenario` says how everybody's capture is made but for its faults, its seed
    /// and, in one exercise, its rate; its engine was read from `file`. Exercises that are `given`
    /// are dealt out in an order drawn from the seed, those of a short list again and again;
    /// without any they are drawn. Without a seed one is drawn.
    ///
    /// # Errors
    /// An exercise that this engine, or what is recorded of it, cannot have.
    pub fn make(
        scenario: &Scenario,
        file: &Path,
        students: u32,
        given: &[Exercise],
        seed: Option<u64>,
    ) -> Result<Class, ClassError> {
        let seed = seed.or_else(dice::any_seed).unwrap_or(scenario.seed);
        let engine = &scenario.engine;
        let recorded = draw::recorded(engine, scenario.sensors.as_deref());
        let seen = Seen { engine, cams: recorded.clone(), leads: &scenario.leads };
        let mut dice = Dice::new(seed, "exercises");
        let mut exercises = if given.is_empty() {
            draw::draw(&seen, students as usize, &mut dice)
        } else {
            given.iter().cloned().cycle().take(students as usize).collect()
        };
        dice.shuffle(&mut exercises);
        let described = EngineFile::read(file)?;
        let made = exercises.into_par_iter().enumerate().map(|(index, exercise)| {
            let number = index as u32 + 1;
            let own = Dice::new(seed, &format!("student {number}")).seed();
            student(scenario, &described, number, exercise, own, &recorded)
        });
        let students = made.collect::<Result<Vec<Student>, ClassError>>()?;
        let all: Vec<String> =
            students.iter().map(|student| student.exercise.to_string()).collect();
        let purpose = format!("name of {} with {}", engine.name, all.join("; "));
        let name = Dice::new(seed, &purpose).name();
        Ok(Class { name, seed, engine: engine.name.clone(), students })
    }
}

fn student(
    scenario: &Scenario,
    described: &EngineFile,
    number: u32,
    exercise: Exercise,
    seed: u64,
    recorded: &[usize],
) -> Result<Student, ClassError> {
    let mut own = Scenario { faults: exercise.faults(), seed, ..scenario.clone() };
    if exercise == Exercise::LowRate {
        own.rate = low_rate(&own)?;
    }
    let file = described.with(&exercise, &scenario.engine)?;
    let practice = generate(&own)?;
    let (engine, engine_text, wheels) = (file.engine()?, file.text(), file.wheels());
    let answer = answer::answer(&exercise, &scenario.engine, &practice.truth, recorded);
    Ok(Student { number, exercise, practice, engine, engine_text, wheels, answer })
}

/// Samples per second between which the pulses of the crank's sensor fall.
fn low_rate(scenario: &Scenario) -> Result<f64, ClassError> {
    if scenario.engine.crank.sensor != Sensor::Pulse {
        return Err(ClassError::Exercise {
            exercise: Exercise::LowRate.to_string(),
            what: "the crank's sensor of this engine gives no short pulses, and at any rate that sees its teeth their \
                   edges can be placed. Take an engine with sensor = \"pulse\""
                .into(),
        });
    }
    match generate(&Scenario { rate: NO_RATE, ..scenario.clone() }) {
        Err(PracticeError::RateTooLow { enough, .. }) => {
            Ok((enough as f64 * LOW_RATE).ceil().max(PULSES_MISSED_AT))
        }
        Err(error) => Err(error.into()),
        Ok(_) => Ok(PULSES_MISSED_AT),
    }
}
