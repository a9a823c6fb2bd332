//! `camwitness practice --class`: a capture, an engine file and a worksheet for every student, and
//! a key; and `--grade`, which marks what they answered.

use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::RangedU64ValueParser;
use rayon::prelude::*;

use super::{Failure, existing};
use crate::analysis::{Analysis, Options, analyse};
use crate::class::{
    Class, ClassError, ENGINE_FILE, Exercise, Key, MOST_STUDENTS, Student, blank, mark,
};
use crate::error::FileError;
use crate::output::{Existing, Files, ReadAs, Ready, WrittenAs};
use crate::practice::{Dialect, Scenario, csv_text};
use crate::report::class::marks;
use crate::report::html;
use crate::report::pictures::Sheet;

/// Options for a class.
#[derive(Debug, Clone, Args)]
pub struct ClassArgs {
    /// A class of so many students: --out is a folder then. Each student gets a folder with another
    /// capture, an engine file and a worksheet to print; the instructor's has the key
    #[arg(
        long,
        value_name = "STUDENTS",
        value_parser = RangedU64ValueParser::<u32>::new().range(1..=u64::from(MOST_STUDENTS))
    )]
    pub class: Option<u32>,
    /// With --class: deal these out instead of drawing them; a fault in its words below, or sound,
    /// low-rate, wrong-edge:WHEEL, wrong-file. Again for more; a short list is dealt out again
    #[arg(long, value_name = "EXERCISE", requires = "class")]
    pub give: Vec<Exercise>,
    /// Mark the answers of a class: a CSV table like the answers.csv beside the key
    #[arg(long, value_name = "ANSWERS.csv", requires = "key")]
    pub grade: Option<PathBuf>,
    /// The key of the class
    #[arg(long, value_name = "KEY.json", requires = "grade")]
    pub key: Option<PathBuf>,
    /// With --grade: how many crank degrees an answer may lie beside; else as the key says
    #[arg(long, value_name = "DEG", requires = "grade", value_parser = tolerance)]
    pub tolerance: Option<f64>,
}

/// Most that an answer may lie beside, in crank degrees: half a cycle takes every answer.
const MOST_TOLERANCE: f64 = 360.0;

fn tolerance(text: &str) -> Result<f64, String> {
    let number = text.trim().parse().ok().filter(|number| (0.0..=MOST_TOLERANCE).contains(number));
    number.ok_or_else(|| format!("give crank degrees, 0 to {MOST_TOLERANCE}"))
}

/// The instructor's folder, and its files.
const INSTRUCTOR: &str = "instructor";
const KEY: &str = "key.json";
const KEY_PAGE: &str = "key.html";
const ANSWERS: &str = "answers.csv";
/// A student's files beside the engine's.
const CAPTURE: &str = "capture.csv";
const WORKSHEET: &str = "worksheet.html";

fn of_student(folder: &Path, number: u32) -> PathBuf {
    folder.join(format!("student-{number:02}"))
}

impl ClassArgs {
    /// Adds the files that are read for marking.
    pub(super) fn files(&self, files: Files) -> Files {
        files.reads_all(ReadAs::Answers, &self.grade).reads_all(ReadAs::ClassKey, &self.key)
    }

    /// Adds the files of a class in a folder.
    pub(super) fn writes(&self, files: Files, folder: &Path, existing: Existing) -> Files {
        let students = 1..=self.class.unwrap_or_default();
        let names = [(WrittenAs::Capture, CAPTURE), (WrittenAs::Engine, ENGINE_FILE)];
        let files = students.fold(files, |files, number| {
            let own = of_student(folder, number);
            let files = names.iter().fold(files, |files, (what, name)| {
                files.writes_into(*what, vec![own.join(name)], existing)
            });
            files.writes_into(WrittenAs::Worksheet, vec![own.join(WORKSHEET)], existing)
        });
        let key = [KEY, KEY_PAGE, ANSWERS].map(|name| folder.join(INSTRUCTOR).join(name));
        files.writes_into(WrittenAs::ClassKey, key.to_vec(), existing)
    }

    /// Makes a class and writes it. `scenario` was made of the engine file at `engine`.
    pub(super) fn make(
        &self,
        scenario: &Scenario,
        engine: &Path,
        folder: &Path,
        dialect: Dialect,
        (seed, force): (Option<u64>, bool),
    ) -> Result<String, Failure> {
        let students = self.class.unwrap_or_default();
        let class = Class::make(scenario, engine, students, &self.give, seed)?;
        let analyses: Vec<Option<Analysis>> =
            class.students.par_iter().map(|student| analysed(student).ok()).collect();
        let mut all: Vec<(PathBuf, String)> = Vec::new();
        for (student, analysis) in class.students.iter().zip(&analyses) {
            let own = of_student(folder, student.number);
            let capture = &student.practice.capture;
            let text = csv_text(capture, &student.practice.steps, dialect)
                .ok_or_else(|| Failure(super::practice::COMMA_TWICE.into()))?;
            all.push((own.join(CAPTURE), text));
            all.push((own.join(ENGINE_FILE), student.engine_text.clone()));
            for (name, text) in &student.wheels {
                all.push((own.join(name), text.clone()));
            }
            let captures = std::slice::from_ref(capture);
            let sheet = analysis.as_ref().and_then(|found| Sheet::of(found, captures, &[]));
            let time = || Sheet::against_time(capture, Some(&student.engine), &[]);
            let sheet = sheet.unwrap_or_else(time);
            let page = html::write_worksheet(&class.name, student.number, &sheet)?;
            all.push((own.join(WORKSHEET), page));
        }
        let key = Key::of(&class, &scenario.engine).map_err(unwritable)?;
        let instructor = folder.join(INSTRUCTOR);
        all.push((instructor.join(KEY), key.sealed().map_err(unwritable)?));
        all.push((instructor.join(KEY_PAGE), html::write_key(&class, &key, &analyses)?));
        all.push((instructor.join(ANSWERS), blank(&class.name, students)));
        write_all(&all, existing(force))?;
        let mut said = format!(
            "Written: class {} of {students} in {}: a folder for each student with {CAPTURE}, {ENGINE_FILE} and {WORKSHEET}.\n\
             For the instructor alone: {}, with the key, and {ANSWERS} to be filled in.\n",
            class.name,
            folder.display(),
            instructor.display()
        );
        if seed.is_some() {
            said.push_str("The seed was given: whoever knows or guesses it can make this class again, key and all. Without --seed one is drawn that nobody guesses.\n");
        }
        Ok(said)
    }

    /// Marks the answers of a class.
    pub(super) fn marked(&self, answers: &Path, key: &Path) -> Result<String, Failure> {
        let key = Key::read(&text_of(key)?, &key.display().to_string())?;
        let file = answers.display().to_string();
        let marked = mark(&text_of(answers)?, &file, &key, self.tolerance)?;
        Ok(marks(&key, &marked, self.tolerance.unwrap_or(key.within_deg)))
    }
}

/// The crank of a student's capture as that student's engine file has it.
fn analysed(student: &Student) -> Result<Analysis, crate::analysis::AnalysisError> {
    let captures = std::slice::from_ref(&student.practice.capture);
    analyse(captures, &student.engine, &Options::default())
}

fn unwritable(error: serde_json::Error) -> Failure {
    Failure(format!("the key cannot be written: {error}"))
}

/// Makes the folders, then writes every file or none.
fn write_all(all: &[(PathBuf, String)], existing: Existing) -> Result<(), Failure> {
    for folder in all.iter().filter_map(|(path, _)| path.parent()) {
        std::fs::create_dir_all(folder).map_err(|source| FileError {
            path: folder.to_owned(),
            doing: "make",
            source,
            advice: "Give another folder, or see that its parent folder may be written".into(),
        })?;
    }
    let ready = all
        .iter()
        .map(|(path, text)| Ready::write(path, text.as_bytes()))
        .collect::<Result<Vec<Ready>, FileError>>()?;
    Ok(ready.into_iter().try_for_each(|ready| ready.place(existing))?)
}

/// Most bytes of a key or a table of answers: a class of 99 has a key of a megabyte.
const MOST_BYTES: u64 = 16 << 20;

fn text_of(path: &Path) -> Result<String, Failure> {
    let failed = |source: std::io::Error| FileError {
        path: path.to_owned(),
        doing: "read",
        source,
        advice: "Check its name, and that it is a text file in UTF-8".into(),
    };
    let length = std::fs::metadata(path).map_err(failed)?.len();
    if length > MOST_BYTES {
        let too_long = std::io::Error::other(format!("it has more than {MOST_BYTES} bytes"));
        return Err(ClassError::from(failed(too_long)).into());
    }
    Ok(std::fs::read_to_string(path).map_err(failed)?)
}
