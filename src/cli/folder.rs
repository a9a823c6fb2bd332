//! `camwitness check FOLDER`: every capture in it by itself.
//!
//! Exit status: 1 when a capture could not be used, else 3 when one could not be told, else 0.

use std::path::{Path, PathBuf};

use super::door::STANDARD_INPUT;
use super::{CANNOT_TELL, DONE, Failure, UNUSABLE, width};
use crate::analysis::Options;
use crate::batch::{captures_in, check_all};
use crate::capture::ReadOptions;
use crate::engine::Engine;
use crate::output::{Existing, write_whole};
use crate::report::batch::{self, Found, Row};

/// Where a folder's results go.
pub(super) struct Outputs<'a> {
    pub json: Option<&'a Path>,
    pub table: Option<&'a Path>,
    pub replace_result: Existing,
    pub replace_table: Existing,
    pub recorded_only: bool,
    pub quiet: bool,
}

/// Runs the check over folders and files.
pub(super) fn run(
    paths: &[PathBuf],
    engine: &Engine,
    reading: &ReadOptions,
    options: &Options,
    outputs: &Outputs,
) -> Result<(String, u8), Failure> {
    let mut captures = Vec::new();
    for path in paths {
        if path.as_os_str() == STANDARD_INPUT {
            let what = "- stands for one capture on standard input, and does not go with a folder";
            return Err(Failure(format!("{what}. Check it by itself")));
        }
        if path.is_dir() {
            captures.extend(captures_in(path)?);
        } else {
            captures.push(path.clone());
        }
    }
    let bar = indicatif::ProgressBar::new(captures.len() as u64);
    if outputs.quiet || captures.len() < 3 {
        bar.set_draw_target(indicatif::ProgressDrawTarget::hidden());
    }
    let rows = check_all(&captures, engine, reading, options, Found::of, || bar.inc(1));
    bar.finish_and_clear();
    if let Some(path) = outputs.table {
        let text = batch::csv(engine, &rows)
            .map_err(|error| Failure(format!("the table cannot be written: {error}")))?;
        write_whole(path, &text, outputs.replace_table)?;
    }
    let status = status(&rows, outputs.recorded_only);
    if let Some(path) = outputs.json {
        let lines = batch::json_lines(&rows);
        if path == Path::new("-") {
            return Ok((lines, status));
        }
        write_whole(path, lines.as_bytes(), outputs.replace_result)?;
    }
    let text = if outputs.quiet {
        batch::summary(&rows)
    } else {
        batch::table_to_width(engine, &rows, width())
    };
    Ok((text, status))
}

fn status(rows: &[Row], recorded_only: bool) -> u8 {
    let untold =
        |row: &Row| row.outcome.as_ref().is_ok_and(|found| !found.is_decided(recorded_only));
    if rows.iter().any(|row| row.outcome.is_err()) {
        UNUSABLE
    } else if rows.iter().any(untold) {
        CANNOT_TELL
    } else {
        DONE
    }
}
