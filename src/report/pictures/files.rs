//! Pictures as files in a folder.

use std::path::{Path, PathBuf};

use super::render::{self, PictureError};
use super::sheet::Sheet;
use super::{Drawn, Picture};
use crate::error::FileError;
use crate::output::{Existing, write_whole};
use crate::remedy::{Mend, Remedy, Setting, mended_errors};

/// The files of pictures in a folder, SVG and PNG of each.
#[must_use]
pub fn files(folder: &Path) -> Vec<PathBuf> {
    let names = Picture::ALL.into_iter().map(Picture::name);
    names.flat_map(|name| ["svg", "png"].map(|end| folder.join(format!("{name}.{end}")))).collect()
}

/// Names of the pictures of a sheet, without extension.
const SHEET: [&str; 2] = ["signals", "described-wheels"];

/// The files of the pictures of a sheet in a folder.
#[must_use]
pub fn sheet_files(folder: &Path) -> Vec<PathBuf> {
    SHEET
        .iter()
        .flat_map(|name| ["svg", "png"].map(|end| folder.join(format!("{name}.{end}"))))
        .collect()
}

/// Why pictures were not written.
#[derive(Debug)]
pub enum WritePicturesError {
    /// A file cannot be written.
    File(FileError),
    /// A picture cannot be drawn.
    Picture(PictureError),
}

impl From<FileError> for WritePicturesError {
    fn from(error: FileError) -> Self {
        WritePicturesError::File(error)
    }
}

impl From<PictureError> for WritePicturesError {
    fn from(error: PictureError) -> Self {
        WritePicturesError::Picture(error)
    }
}

impl Mend for WritePicturesError {
    fn complaint(&self) -> String {
        match self {
            WritePicturesError::File(error) => error.complaint(),
            WritePicturesError::Picture(error) => error.to_string(),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            WritePicturesError::File(error) => error.remedies(),
            WritePicturesError::Picture(_) => vec![],
        }
    }
}

mended_errors!(WritePicturesError);

/// Writes pictures as SVG and PNG into a folder, which is made when it is not there.
///
/// # Errors
/// A folder or file that cannot be written, or a file that is there and must be kept.
pub fn write_all(
    pictures: &[Drawn],
    folder: &Path,
    existing: Existing,
) -> Result<(), WritePicturesError> {
    make(folder)?;
    for drawn in pictures {
        let name = drawn.picture.name();
        let svg = drawn.svg()?;
        write_whole(&folder.join(format!("{name}.svg")), svg.as_bytes(), existing)?;
        write_whole(&folder.join(format!("{name}.png")), &drawn.png()?, existing)?;
    }
    Ok(())
}

/// Writes the pictures of a sheet into a folder, as [`write_all`] does.
///
/// # Errors
/// As [`write_all`].
pub fn write_sheet(
    sheet: &Sheet,
    folder: &Path,
    existing: Existing,
) -> Result<(), WritePicturesError> {
    make(folder)?;
    for (name, drawing) in SHEET.iter().zip(sheet.drawings()) {
        let svg = render::svg(&drawing)?;
        write_whole(&folder.join(format!("{name}.svg")), svg.as_bytes(), existing)?;
        write_whole(&folder.join(format!("{name}.png")), &render::png(&drawing)?, existing)?;
    }
    Ok(())
}

fn make(folder: &Path) -> Result<(), FileError> {
    std::fs::create_dir_all(folder).map_err(|source| FileError {
        path: folder.to_owned(),
        doing: "make",
        source,
        advice: Remedy::All(vec![
            Remedy::Check(Setting::PicturesFolder),
            Remedy::to("see that its parent folder may be written"),
        ]),
    })
}
