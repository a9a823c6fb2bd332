//! Where each camshaft stands against where it should, from one capture.
//!
//! `cargo run --example deviation -- demo-data/bank2-late.csv demo-data/engine.toml`

use std::path::Path;
use std::process::ExitCode;

use camwitness::{Engine, Options, ReadOptions, analyse, read};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [capture, engine] = arguments.as_slice() else {
        eprintln!("usage: deviation CAPTURE.csv ENGINE.toml");
        return ExitCode::from(2);
    };
    match deviations(Path::new(capture), Path::new(engine)) {
        Ok(lines) => {
            println!("{}", lines.join("\n"));
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

/// One line per cam. A deviation says by itself whether it is late or early.
fn deviations(
    capture: &Path,
    engine: &Path,
) -> Result<Vec<String>, Box<dyn std::error::Error + Send + Sync>> {
    let engine = Engine::read(engine)?;
    let capture = read(capture, &ReadOptions::default())?;
    let analysis = analyse(std::slice::from_ref(&capture), &engine, &Options::default())?;
    let lines = analysis.cams.iter().map(|cam| {
        let name = &analysis.engine.cams[cam.measured.cam].name;
        match cam.deviation() {
            Some(deviation) => format!("{name}: {deviation}"),
            None => format!("{name}: nothing says where it should stand"),
        }
    });
    let verdict = [format!("found: {}", analysis.verdict.state.word())];
    Ok(lines.chain(verdict).collect())
}
