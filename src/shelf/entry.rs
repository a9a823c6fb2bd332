//! An engine of the shelf, and what it may be called.

use std::path::PathBuf;

use super::ShelfError;
use crate::engine::Engine;

/// Longest name on the shelf, in characters.
const LONGEST_NAME: usize = 60;

/// An engine file of the shelf.
#[derive(Debug)]
pub struct EngineEntry {
    /// Its name on the shelf: that of its file.
    pub name: String,
    /// The file.
    pub path: PathBuf,
    /// The engine, or one plain message why it does not read.
    pub engine: Result<Engine, String>,
}

/// A name that can be a file's on every system.
pub(crate) fn proper_name(name: &str) -> Result<String, ShelfError> {
    let name = name.trim();
    let letters =
        |letter: char| letter.is_alphanumeric() || matches!(letter, ' ' | '-' | '_' | '.');
    let edges = name.starts_with('.') || name.ends_with('.');
    let length = name.chars().count();
    if length == 0 || length > LONGEST_NAME || edges || !name.chars().all(letters) {
        return Err(ShelfError::Name(name.to_owned()));
    }
    Ok(name.to_owned())
}
