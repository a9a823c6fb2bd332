//! Why the shelf cannot do what was asked.

use std::path::PathBuf;

use crate::error::{DescriptionError, FileError};
use crate::remedy::{Insistence, Mend, Remedy, Setting, Task, mended_errors};

/// What is wrong with a shelf or with what was asked of it.
#[derive(Debug)]
pub enum ShelfError {
    /// Nothing is there yet.
    NotThere(PathBuf),
    /// A folder with other things in it.
    NoShelf(PathBuf),
    /// Written by a newer program.
    Newer {
        /// The shelf.
        path: PathBuf,
        /// Its version.
        version: u32,
        /// The newest that is read.
        reads: u32,
    },
    /// A file of the shelf that does not read.
    Broken {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// A name that cannot name a file everywhere.
    Name(String),
    /// No engine of that name.
    NoEngine {
        /// What was asked for.
        name: String,
        /// What is there.
        there: Vec<String>,
    },
    /// A name that fits two.
    TwoEngines {
        /// What was asked for.
        name: String,
        /// Their files.
        files: Vec<String>,
    },
    /// An engine of that name is there and differs.
    EngineThere(String),
    /// An engine file that names a wheel file elsewhere.
    WheelElsewhere {
        /// The engine file.
        engine: PathBuf,
        /// The wheel file.
        wheel: PathBuf,
    },
    /// No job of that number.
    NoJob {
        /// What was asked for.
        number: u32,
        /// The highest there is.
        last: Option<u32>,
    },
    /// Two files of a job with one name.
    TwoCaptures(String),
    /// An outcome without a word.
    NothingSaid,
    /// An engine file that does not read.
    Engine(DescriptionError),
    /// A file that cannot be read or written.
    File(FileError),
}

impl From<DescriptionError> for ShelfError {
    fn from(error: DescriptionError) -> Self {
        ShelfError::Engine(error)
    }
}

impl From<FileError> for ShelfError {
    fn from(error: FileError) -> Self {
        ShelfError::File(error)
    }
}

impl Mend for ShelfError {
    fn complaint(&self) -> String {
        match self {
            ShelfError::NotThere(path) => format!("{}: there is no shelf here yet", path.display()),
            ShelfError::NoShelf(path) => {
                format!("{}: this folder holds other things and is no shelf", path.display())
            }
            ShelfError::Newer { path, version, reads } => format!(
                "{}: this shelf is of version {version}, and this program reads up to {reads}. Nothing was changed",
                path.display()
            ),
            ShelfError::Broken { path, why } => {
                format!("{}: this file of the shelf cannot be used: {why}", path.display())
            }
            ShelfError::Name(name) => format!("\"{name}\" cannot be a name on the shelf"),
            ShelfError::NoEngine { name, there } if there.is_empty() => {
                format!("the shelf has no engine \"{name}\". It has none yet")
            }
            ShelfError::NoEngine { name, there } => {
                format!("the shelf has no engine \"{name}\". It has {}", there.join(", "))
            }
            ShelfError::TwoEngines { name, files } => {
                format!("two engines of the shelf are called \"{name}\": {}", files.join(" and "))
            }
            ShelfError::EngineThere(name) => {
                format!("the shelf has another engine \"{name}\" already")
            }
            ShelfError::WheelElsewhere { engine, wheel } => format!(
                "{}: this engine file names the wheel file {}, which would not come along",
                engine.display(),
                wheel.display()
            ),
            ShelfError::NoJob { number, last: Some(last) } => {
                format!("the shelf has no job {number}. Its jobs go up to {last}")
            }
            ShelfError::NoJob { number, last: None } => {
                format!("the shelf has no job {number}. It has no job at all yet")
            }
            ShelfError::TwoCaptures(name) => {
                format!("two captures are called {name}, and a job keeps them side by side")
            }
            ShelfError::NothingSaid => "an outcome says what was found, in words".into(),
            ShelfError::Engine(error) => error.complaint(),
            ShelfError::File(error) => error.complaint(),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            ShelfError::NotThere(_) => vec![Remedy::Task(Task::KeepEngine)],
            ShelfError::NoShelf(_) => {
                vec![Remedy::to("name an empty folder, or one that is not there yet")]
            }
            ShelfError::Newer { .. } => vec![Remedy::to("use the newer program")],
            ShelfError::Broken { .. } => {
                vec![Remedy::to("mend it"), Remedy::to("move it out of the shelf")]
            }
            ShelfError::Name(_) => vec![Remedy::to(
                "use letters, digits, blanks, - _ and . within, up to 60 characters",
            )],
            ShelfError::NoEngine { there, .. } if there.is_empty() => {
                vec![Remedy::Task(Task::KeepEngine)]
            }
            ShelfError::NoEngine { .. } => vec![Remedy::to("ask for one of these")],
            ShelfError::TwoEngines { .. } => vec![Remedy::to("ask for one by its file's name")],
            ShelfError::EngineThere(_) => vec![
                Remedy::Change(Setting::EngineName),
                Remedy::Insist(Insistence::Replace).only_if("it is to replace that one"),
            ],
            ShelfError::WheelElsewhere { .. } => {
                vec![Remedy::to("write that wheel into the engine file as a table, wheel = { … }")]
            }
            ShelfError::NoJob { last: Some(_), .. } => vec![Remedy::Task(Task::ListJobs)],
            ShelfError::NoJob { last: None, .. } => vec![],
            ShelfError::TwoCaptures(_) => vec![Remedy::to("rename one")],
            ShelfError::NothingSaid => {
                vec![Remedy::to("write for example \"B2 intake one tooth late, confirmed\"")]
            }
            ShelfError::Engine(error) => error.remedies(),
            ShelfError::File(error) => error.remedies(),
        }
    }
}

mended_errors!(ShelfError);
