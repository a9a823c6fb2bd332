//! Every capture of a folder against one engine, a line of JSON for each; one that cannot be used
//! stops none of the others.
//!
//! `cargo run --example folder -- demo-data demo-data/engine.toml`

use std::path::Path;
use std::process::ExitCode;

use camwitness::batch::{captures_in, check_all};
use camwitness::report::json::write_checked_line;
use camwitness::{Engine, Options, ReadOptions};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [folder, engine] = arguments.as_slice() else {
        eprintln!("usage: folder FOLDER ENGINE.toml");
        return ExitCode::from(2);
    };
    match checked(Path::new(folder), Path::new(engine)) {
        Ok(every_one_used) => ExitCode::from(u8::from(!every_one_used)),
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

/// Prints results on standard output and complaints on standard error; whether every capture could
/// be used.
fn checked(folder: &Path, engine: &Path) -> Result<bool, Box<dyn std::error::Error + Send + Sync>> {
    let engine = Engine::read(engine)?;
    let captures = captures_in(folder)?;
    let (reading, options) = (ReadOptions::default(), Options::default());
    // Of each analysis only its line is kept.
    let rows = check_all(
        &captures,
        &engine,
        &reading,
        &options,
        write_checked_line,
        |error| error.plain(),
        || {},
    );
    for row in &rows {
        match &row.outcome {
            Ok(line) => print!("{line}"),
            Err(message) => eprintln!("{message}"),
        }
    }
    Ok(rows.iter().all(|row| row.outcome.is_ok()))
}
