//! Engine files of the shelf, by name.

use std::path::{Path, PathBuf};

use super::folder::cannot_read;
use super::{ENGINES, EngineEntry, KNOWN_GOODS, Shelf, ShelfError, proper_name};
use crate::engine::{Engine, wheel_files};
use crate::output::{Existing, write_whole};

/// What became of an engine that was to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// Its name on the shelf.
    pub name: String,
    /// It was there already, the same to the byte.
    pub same: bool,
}

impl Shelf {
    /// The engines, by name. One that does not read is in the list, with the reason.
    ///
    /// # Errors
    /// The folder cannot be listed.
    pub fn engines(&self) -> Result<Vec<EngineEntry>, ShelfError> {
        let mut found: Vec<EngineEntry> = self
            .engine_files()?
            .into_iter()
            .map(|(name, path)| {
                let engine = Engine::read(&path).map_err(|error| error.to_string());
                EngineEntry { name, path, engine }
            })
            .collect();
        found.sort_by(|a, b| a.name.cmp(&b.name));
        Ok(found)
    }

    /// The file of an engine: by the name of its file, else by the `name` within it. Capitals do
    /// not matter.
    ///
    /// # Errors
    /// None of that name, or two.
    pub fn engine_file(&self, name: &str) -> Result<PathBuf, ShelfError> {
        let same = |other: &str| other.to_lowercase() == name.trim().to_lowercase();
        let files = self.engine_files()?;
        if let Some((_, path)) = files.iter().find(|(file, _)| file == name.trim()) {
            return Ok(path.clone());
        }
        let mut fits: Vec<&(String, PathBuf)> =
            files.iter().filter(|(file, _)| same(file)).collect();
        if fits.is_empty() {
            let called = |path: &Path| Engine::read(path).is_ok_and(|engine| same(&engine.name));
            fits = files.iter().filter(|(_, path)| called(path)).collect();
        }
        match &fits[..] {
            [(_, path)] => Ok(path.clone()),
            [] => {
                let mut there: Vec<String> = files.into_iter().map(|(name, _)| name).collect();
                there.sort();
                Err(ShelfError::NoEngine { name: name.to_owned(), there })
            }
            several => Err(ShelfError::TwoEngines {
                name: name.to_owned(),
                files: several.iter().map(|(file, _)| file.clone()).collect(),
            }),
        }
    }

    /// The known-good of an engine, whether it is there or not.
    #[must_use]
    pub fn known_good(&self, engine: &str) -> PathBuf {
        self.root.join(KNOWN_GOODS).join(format!("{engine}.known.toml"))
    }

    /// Puts an engine file on the shelf, as it is written, under a name: that of its file where
    /// none is given.
    ///
    /// # Errors
    /// It does not read, names a wheel file, or another engine has the name and `replace` is not
    /// set.
    pub fn keep_engine(
        &self,
        file: &Path,
        name: Option<&str>,
        replace: bool,
    ) -> Result<Kept, ShelfError> {
        Engine::read(file)?;
        if let Some(wheel) = wheel_files(file).into_iter().next() {
            return Err(ShelfError::WheelElsewhere { engine: file.to_owned(), wheel });
        }
        let stem = file.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let name = proper_name(name.unwrap_or(&stem))?;
        let bytes = std::fs::read(file).map_err(|source| cannot_read(file, source))?;
        let _lock = self.lock()?;
        let folder = self.folder(ENGINES)?;
        // A disk that takes capitals for small letters would write over the other.
        let taken = self
            .engine_files()?
            .into_iter()
            .find(|(other, _)| other.to_lowercase() == name.to_lowercase());
        if let Some((other, path)) = &taken {
            let same = std::fs::read(path).is_ok_and(|there| there == bytes);
            if same {
                return Ok(Kept { name: other.clone(), same });
            }
            if !replace || *other != name {
                return Err(ShelfError::EngineThere(other.clone()));
            }
        }
        write_whole(&folder.join(format!("{name}.toml")), &bytes, Existing::Replace)?;
        Ok(Kept { name, same: false })
    }

    pub(super) fn engine_files(&self) -> Result<Vec<(String, PathBuf)>, ShelfError> {
        let folder = self.root.join(ENGINES);
        let listed = match std::fs::read_dir(&folder) {
            Ok(listed) => listed,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(vec![]),
            Err(source) => return Err(cannot_read(&folder, source)),
        };
        let of = |path: PathBuf| {
            let name = path.file_stem()?.to_string_lossy().into_owned();
            let ours = path.extension()? == "toml" && !name.starts_with('.');
            ours.then_some((name, path))
        };
        Ok(listed.filter_map(Result::ok).filter_map(|entry| of(entry.path())).collect())
    }
}
