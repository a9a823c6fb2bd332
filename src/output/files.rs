//! The one rule for files that are written, asked before any work: none of them is read, no two of
//! them are one, and nothing is replaced that was not meant to be.

use std::path::{Path, PathBuf};

use super::place::Place;
use super::whole::{Existing, followed};
use crate::error::FileError;
use crate::remedy::{Insistence, Mend, Remedy, mended_errors};

/// What a file is read as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadAs {
    /// A recording.
    Capture,
    /// A recording that was found in a folder.
    CaptureInFolder,
    /// An engine description.
    Engine,
    /// A wheel file that an engine description names.
    Wheel,
    /// A known-good reference.
    KnownGood,
    /// Job number, vehicle and the like.
    Job,
    /// A report that was written before.
    Report,
    /// What a class answered.
    Answers,
    /// The key of a class.
    ClassKey,
    /// Any file of the shop's shelf.
    Shelf,
}

/// What a file is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WrittenAs {
    /// The result as JSON.
    Result,
    /// The report, or the sheet to sign.
    Report,
    /// A picture.
    Picture,
    /// The table of many captures.
    Table,
    /// A practice capture.
    Capture,
    /// What was done to a practice capture.
    Truth,
    /// A known-good reference.
    KnownGood,
    /// An engine file that is begun.
    Engine,
    /// The worksheet of a student.
    Worksheet,
    /// The key of a class, and what goes with it.
    ClassKey,
}

impl std::fmt::Display for ReadAs {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(match self {
            ReadAs::Capture | ReadAs::CaptureInFolder => "capture",
            ReadAs::Engine => "engine file",
            ReadAs::Wheel => "wheel file",
            ReadAs::KnownGood => "known-good file",
            ReadAs::Job => "job file",
            ReadAs::Report => "report",
            ReadAs::Answers => "table of answers",
            ReadAs::ClassKey => "key",
            ReadAs::Shelf => "file of the shelf",
        })
    }
}

impl std::fmt::Display for WrittenAs {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(match self {
            WrittenAs::Result => "result",
            WrittenAs::Report => "report",
            WrittenAs::Picture => "picture",
            WrittenAs::Table => "table",
            WrittenAs::Capture => "practice capture",
            WrittenAs::Truth => "truth",
            WrittenAs::KnownGood => "known-good file",
            WrittenAs::Engine => "engine file",
            WrittenAs::Worksheet => "worksheet",
            WrittenAs::ClassKey => "key",
        })
    }
}

/// Why nothing was begun: something would be lost.
#[derive(Debug)]
pub enum OutputError {
    /// A file that is read would be written over.
    OverInput {
        /// What would be written.
        written: WrittenAs,
        /// Its name.
        path: PathBuf,
        /// What is read.
        read: ReadAs,
        /// Its name, which may differ: a link, another spelling.
        over: PathBuf,
    },
    /// Two files that are written would be one.
    Twice {
        /// The name of the second.
        path: PathBuf,
        /// What one is.
        first: WrittenAs,
        /// What the other is.
        second: WrittenAs,
    },
    /// A file is in the way and stays.
    Exists {
        /// The file.
        path: PathBuf,
        /// What would be written.
        written: WrittenAs,
    },
    /// A file is in the way that is not of the kind this program replaces without being told to.
    NotOurs {
        /// The file.
        path: PathBuf,
        /// What would be written.
        written: WrittenAs,
    },
    /// It cannot be written there at all.
    File(FileError),
}

impl From<FileError> for OutputError {
    fn from(error: FileError) -> Self {
        OutputError::File(error)
    }
}

impl Mend for OutputError {
    fn complaint(&self) -> String {
        match self {
            OutputError::OverInput { written, path, read, over } => format!(
                "{}: the {written} would be written over the {read} {}",
                path.display(),
                over.display()
            ),
            OutputError::Twice { path, first, second } => {
                format!(
                    "{}: the {first} and the {second} would be written into one file",
                    path.display()
                )
            }
            OutputError::Exists { path, .. } => {
                format!("{}: this file is there already", path.display())
            }
            OutputError::NotOurs { path, written } => format!(
                "{}: this file is there already, and it is no {written} of this program",
                path.display()
            ),
            OutputError::File(error) => error.complaint(),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        let rename = |written: &WrittenAs| Remedy::to(format!("give the {written} another name"));
        match self {
            OutputError::OverInput { written, .. } => vec![rename(written)],
            OutputError::Twice { .. } => vec![Remedy::to("give them different names")],
            // A reference is only ever added to.
            OutputError::Exists { written: WrittenAs::KnownGood, .. } => {
                vec![rename(&WrittenAs::KnownGood)]
            }
            OutputError::Exists { written, .. } | OutputError::NotOurs { written, .. } => {
                vec![rename(written), Remedy::Insist(Insistence::Replace)]
            }
            OutputError::File(error) => error.remedies(),
        }
    }
}

mended_errors!(OutputError);

#[derive(Debug)]
struct Write {
    what: WrittenAs,
    path: PathBuf,
    existing: Existing,
    /// Whether its folder is made when it is missing.
    makes_folder: bool,
}

/// Everything one command reads and writes.
#[derive(Debug, Default)]
pub struct Files {
    reads: Vec<(ReadAs, PathBuf)>,
    writes: Vec<Write>,
}

impl Files {
    /// Adds a file that is read.
    #[must_use]
    pub fn reads(mut self, what: ReadAs, path: impl Into<PathBuf>) -> Files {
        self.reads.push((what, path.into()));
        self
    }

    /// Adds files that are read.
    #[must_use]
    pub fn reads_all<P: Into<PathBuf>>(
        mut self,
        what: ReadAs,
        paths: impl IntoIterator<Item = P>,
    ) -> Files {
        self.reads.extend(paths.into_iter().map(|path| (what, path.into())));
        self
    }

    /// Adds a file that is written, where one was asked for.
    #[must_use]
    pub fn writes(mut self, what: WrittenAs, path: Option<&Path>, existing: Existing) -> Files {
        self.writes.extend(path.map(|path| Write {
            what,
            path: path.to_owned(),
            existing,
            makes_folder: false,
        }));
        self
    }

    /// Adds files that are written into a folder, which is made when it is not there.
    #[must_use]
    pub fn writes_into(
        mut self,
        what: WrittenAs,
        paths: Vec<PathBuf>,
        existing: Existing,
    ) -> Files {
        let write = |path| Write { what, path, existing, makes_folder: true };
        self.writes.extend(paths.into_iter().map(write));
        self
    }

    /// Everything that is read, in the order in which it was added.
    pub fn inputs(&self) -> impl Iterator<Item = (ReadAs, &Path)> {
        self.reads.iter().map(|(what, path)| (*what, path.as_path()))
    }

    /// Everything that is written, in the order in which it was added.
    pub fn outputs(&self) -> impl Iterator<Item = (WrittenAs, &Path)> {
        self.writes.iter().map(|write| (write.what, write.path.as_path()))
    }

    /// Holds every file that is written against every file that is read, against every other that
    /// is written, and against what is there.
    ///
    /// # Errors
    /// The first [`OutputError`].
    pub fn check(&self) -> Result<(), OutputError> {
        let places: Vec<Place> = self.writes.iter().map(|write| Place::of(&write.path)).collect();
        let files = || self.writes.iter().zip(&places).filter(|(_, place)| !place.is_no_file());
        // Files that are read may be many, and an open handle each would be too many.
        for (read, over) in &self.reads {
            let input = Place::of(over);
            if let Some((write, _)) = files().find(|(_, output)| output.is(&input)) {
                let (written, path) = (write.what, write.path.clone());
                return Err(OutputError::OverInput {
                    written,
                    path,
                    read: *read,
                    over: over.clone(),
                });
            }
        }
        for (at, (second, place)) in files().enumerate() {
            let clash = files()
                .take(at)
                .find(|(_, other)| other.is(place) || other.holds(place) || place.holds(other));
            if let Some((first, _)) = clash {
                let path = second.path.clone();
                return Err(OutputError::Twice { path, first: first.what, second: second.what });
            }
        }
        files().try_for_each(|(write, _)| write.has_room())
    }
}

impl Write {
    fn has_room(&self) -> Result<(), OutputError> {
        let (path, written) = (self.path.clone(), self.what);
        let real = followed(&self.path)?;
        if real.is_file() && !self.existing.allows(&real) {
            return Err(match self.existing {
                Existing::ReplaceOurs(_) => OutputError::NotOurs { path, written },
                _ => OutputError::Exists { path, written },
            });
        }
        let folder = real.parent().filter(|folder| !folder.as_os_str().is_empty());
        if !self.makes_folder && folder.is_some_and(|folder| !folder.exists()) {
            return Err(super::whole::no_folder(&self.path).into());
        }
        Ok(())
    }
}
