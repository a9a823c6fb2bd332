//! What does the program say when the description or the leads are wrong? Practice captures of
//! engines of known truth, each with every kind of mistake made on it.
//!
//! `cargo bench --bench mistakes -- --seeds 2 --first 1 --write docs/mistakes.md` writes the table;
//! `--list` prints every trial, `--only WORD` takes the kinds whose names hold a word.

mod harness;

use std::path::PathBuf;

use clap::Parser;
use rayon::prelude::*;

use harness::spec::{Spec, engines};
use harness::table::{table, wrong};
use harness::trial::{Condition, Trial, trials};

#[derive(Debug, Parser)]
struct Args {
    /// Captures of each engine in each condition.
    #[arg(long, default_value_t = 2)]
    seeds: u64,
    /// First seed.
    #[arg(long, default_value_t = 1)]
    first: u64,
    /// Only engines from this on, counted from 1.
    #[arg(long, default_value_t = 1)]
    from_engine: usize,
    /// ... to this one.
    #[arg(long, default_value_t = 99)]
    to_engine: usize,
    /// Only kinds whose names hold this.
    #[arg(long, default_value = "")]
    only: String,
    /// Print every trial.
    #[arg(long)]
    list: bool,
    /// Writes the table to this file.
    #[arg(long)]
    write: Option<PathBuf>,
    /// Given by cargo.
    #[arg(long, hide = true)]
    bench: bool,
}

fn main() -> std::io::Result<()> {
    let args = Args::parse();
    let engines = engines();
    let mut jobs = Vec::new();
    let wanted = |place: usize| (args.from_engine..=args.to_engine).contains(&(place + 1));
    for (_, engine) in engines.iter().enumerate().filter(|(place, _)| wanted(*place)) {
        for condition in Condition::ALL {
            jobs.extend(
                (args.first..args.first + args.seeds).map(|seed| (engine, condition, seed)),
            );
        }
    }
    let wanted = |kind: &str| kind.contains(&args.only);
    let of = |&(engine, condition, seed): &(&Spec, Condition, u64)| {
        let made = trials(engine, condition, seed, wanted);
        // As they come: a run that is stopped has shown what it saw.
        for one in made.iter().filter(|_| args.list) {
            println!(
                "{:?} {} / {} / {:?} / seed {}: {}",
                one.outcome, one.kind, one.engine, one.condition, one.seed, one.said
            );
        }
        made
    };
    let all: Vec<Trial> = jobs.par_iter().flat_map_iter(of).collect();
    let wrong = wrong(&all);
    let table = format!("{}\n## Every wrong finding\n\n{wrong}", table(&all));
    println!("{table}");
    if let Some(path) = args.write {
        let preface = include_str!("preface.md");
        let last = args.first + args.seeds - 1;
        let head = format!("Seeds {} to {last}, {} trials.\n\n", args.first, all.len());
        std::fs::write(path, format!("{preface}\n{head}{table}"))?;
    }
    Ok(())
}
