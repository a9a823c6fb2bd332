//! `camwitness demo`: writes the demonstration into a folder and checks it.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{Failure, Job, check, existing};
use crate::output::{Existing, Files, ReadAs, WrittenAs, write_whole};
use crate::practice::{DEMONSTRATION_ENGINE, Demonstration};

/// Options of `demo`.
#[derive(Debug, Args)]
pub struct DemoArgs {
    /// Folder to write it into; made when it is not there
    #[arg(value_name = "FOLDER", default_value = "camwitness-demo")]
    folder: PathBuf,
    /// Replace files of these names that are not the demonstration's
    #[arg(long)]
    force: bool,
}

/// Name of its engine file.
const ENGINE: &str = "engine.toml";

impl DemoArgs {
    fn engine(&self) -> PathBuf {
        self.folder.join(ENGINE)
    }

    fn capture(&self, which: Demonstration) -> PathBuf {
        self.folder.join(which.file())
    }

    /// Every file of it, with what it is.
    fn all(&self) -> Vec<(WrittenAs, PathBuf)> {
        let captures = Demonstration::ALL.map(|one| (WrittenAs::Capture, self.capture(one)));
        [(WrittenAs::Engine, self.engine())].into_iter().chain(captures).collect()
    }
}

impl Job for DemoArgs {
    fn files(&self) -> Files {
        // What is there is looked at, and kept when it is the demonstration already.
        self.all().into_iter().fold(Files::default(), |files, (what, path)| {
            let there = path.is_file() && !self.force;
            match what {
                _ if !there => files.writes_into(what, vec![path], existing(self.force)),
                WrittenAs::Engine => files.reads(ReadAs::Engine, path),
                _ => files.reads(ReadAs::Capture, path),
            }
        })
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        let failed = |error: &dyn std::error::Error| Failure(error.to_string());
        std::fs::create_dir_all(&self.folder).map_err(|error| {
            Failure(format!(
                "{}: this folder cannot be made: {error}. Give another one",
                self.folder.display()
            ))
        })?;
        self.write(&self.engine(), DEMONSTRATION_ENGINE)?;
        for one in Demonstration::ALL {
            self.write(&self.capture(one), &one.csv().map_err(|error| failed(&error))?)?;
        }
        let (engine, late) = (self.engine(), self.capture(Demonstration::Bank2Late));
        let (said, status) = check::demonstrate(&late, &engine)?;
        let sound = self.capture(Demonstration::Sound);
        let text = format!(
            "Written into {}: an invented engine, {ENGINE}; {} sound, {} with its chain one tooth late, {} repaired.\n\n\
             camwitness check \"{}\" --engine \"{}\"\n\n{said}\n\
             Try next\n  camwitness check \"{}\" --engine \"{}\"\n  camwitness look \"{}\"\n",
            self.folder.display(),
            Demonstration::Sound.file(),
            Demonstration::Bank2Late.file(),
            Demonstration::Repaired.file(),
            late.display(),
            engine.display(),
            sound.display(),
            engine.display(),
            late.display(),
        );
        Ok((text, status))
    }
}

impl DemoArgs {
    /// Writes one file, or leaves the same one that is there.
    fn write(&self, path: &Path, text: &str) -> Result<(), Failure> {
        if !self.force && path.is_file() {
            if std::fs::read(path).is_ok_and(|there| there == text.as_bytes()) {
                return Ok(());
            }
            return Err(Failure(format!(
                "{}: this file is there already, and it is not the demonstration's. Give another folder, or --force to replace it",
                path.display()
            )));
        }
        write_whole(path, text.as_bytes(), Existing::Replace).map_err(Failure::from)
    }
}
