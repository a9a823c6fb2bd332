//! Why the shelf cannot do what was asked.

use std::path::PathBuf;

use thiserror::Error;

use crate::error::{DescriptionError, FileError};

/// What is wrong with a shelf or with what was asked of it.
#[derive(Debug, Error)]
pub enum ShelfError {
    /// Nothing is there yet.
    #[error("{}: there is no shelf here yet. `camwitness shelf keep ENGINE.toml` begins one", .0.display())]
    NotThere(PathBuf),
    /// A folder with other things in it.
    #[error("{}: this folder holds other things and is no shelf. Name an empty folder, or one that is not there yet", .0.display())]
    NoShelf(PathBuf),
    /// Written by a newer program.
    #[error(
        "{}: this shelf is of version {version}, and this program reads up to {reads}. Nothing was changed. Use the newer program",
        path.display()
    )]
    Newer {
        /// The shelf.
        path: PathBuf,
        /// Its version.
        version: u32,
        /// The newest that is read.
        reads: u32,
    },
    /// A file of the shelf that does not read.
    #[error("{}: this file of the shelf cannot be used: {why}. Mend it, or move it out of the shelf", path.display())]
    Broken {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// A name that cannot name a file everywhere.
    #[error(
        "\"{0}\" cannot be a name on the shelf. Use letters, digits, blanks, - _ and . within, up to 60 characters"
    )]
    Name(String),
    /// No engine of that name.
    #[error("the shelf has no engine \"{name}\". {}", on_it(there))]
    NoEngine {
        /// What was asked for.
        name: String,
        /// What is there.
        there: Vec<String>,
    },
    /// A name that fits two.
    #[error("two engines of the shelf are called \"{name}\": {}. Ask for one by its file's name", files.join(" and "))]
    TwoEngines {
        /// What was asked for.
        name: String,
        /// Their files.
        files: Vec<String>,
    },
    /// An engine of that name is there and differs.
    #[error(
        "the shelf has another engine \"{0}\" already. Give this one another name, or have that one replaced"
    )]
    EngineThere(String),
    /// An engine file that names a wheel file elsewhere.
    #[error(
        "{}: this engine file names the wheel file {}, which would not come along. Write that wheel into the engine file as a table, wheel = {{ … }}",
        engine.display(), wheel.display()
    )]
    WheelElsewhere {
        /// The engine file.
        engine: PathBuf,
        /// The wheel file.
        wheel: PathBuf,
    },
    /// No job of that number.
    #[error("the shelf has no job {number}. {}", match last { Some(last) => format!("Its jobs go up to {last}; see `camwitness shelf table`"), None => "It has no job at all yet".into() })]
    NoJob {
        /// What was asked for.
        number: u32,
        /// The highest there is.
        last: Option<u32>,
    },
    /// Two files of a job with one name.
    #[error("two captures are called {0}, and a job keeps them side by side. Rename one")]
    TwoCaptures(String),
    /// An outcome without a word.
    #[error("an outcome says what was found, in words: \"B2 intake one tooth late, confirmed\"")]
    NothingSaid,
    /// An engine file that does not read.
    #[error(transparent)]
    Engine(#[from] DescriptionError),
    /// A file that cannot be read or written.
    #[error(transparent)]
    File(#[from] FileError),
}

fn on_it(there: &[String]) -> String {
    if there.is_empty() {
        return "It has none yet; `camwitness shelf keep ENGINE.toml` puts one there".into();
    }
    format!("It has {}", there.join(", "))
}
