//! Compression by the two leads a technician clamps first, counted: a clamp on the starter's cable
//! and one cylinder's coil, on practice engines of three to eight cylinders that fire evenly and
//! unevenly, sound and not.
//!
//! `cargo bench --bench two_leads -- --captures 480 --first 1` prints the table; `--list` also what
//! was said wherever a low cylinder or bank was not named.

mod case;
mod judge;

use std::fmt::Write as _;

use case::{Kind, draw};
use clap::Parser;
use judge::{Judged, judge};
use rayon::prelude::*;

#[derive(Debug, Parser)]
struct Args {
    /// Captures.
    #[arg(long, default_value_t = 480)]
    captures: u64,
    /// First seed.
    #[arg(long, default_value_t = 1)]
    first: u64,
    /// One seed alone.
    #[arg(long)]
    only: Option<u64>,
    /// List every capture that was not named.
    #[arg(long)]
    list: bool,
    /// Hold every so many captures against the same capture with the crank; 0 for none.
    #[arg(long, default_value_t = 0)]
    with_crank: u64,
    /// Given by cargo.
    #[arg(long, hide = true)]
    bench: bool,
}

fn main() {
    let args = Args::parse();
    let seeds = args.only.map_or(args.first..args.first + args.captures, |seed| seed..seed + 1);
    let judged: Vec<Judged> = seeds
        .into_par_iter()
        .filter_map(|seed| {
            let crank = args.with_crank > 0 && seed % args.with_crank == 0;
            Some(judge(draw(seed).ok()?, crank))
        })
        .collect();
    for one in &judged {
        if one.wrong() || args.list && !one.right() {
            println!("{one}");
        }
    }
    println!("{}", table(&judged));
}

/// What was found, by what was true, by engine and by dirt.
fn table(judged: &[Judged]) -> String {
    let mut rows: Vec<(String, Vec<&Judged>)> = Vec::new();
    for kind in Kind::ALL {
        rows.push((
            kind.word().into(),
            judged.iter().filter(|one| one.case.kind == kind).collect(),
        ));
    }
    for engine in case::ENGINES {
        let of = judged.iter().filter(|one| one.case.engine.name == engine.name);
        rows.push((engine.name.into(), of.collect()));
    }
    for nasty in [false, true] {
        let word = if nasty { "nasty" } else { "workshop" };
        rows.push((word.into(), judged.iter().filter(|one| one.case.nasty == nasty).collect()));
    }
    let mut out = String::from(
        "| captures | n | right | withheld | refused | wrong | names right | with crank alike |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for (name, list) in rows {
        let count = |of: &dyn Fn(&Judged) -> bool| list.iter().filter(|one| of(one)).count();
        let share = |flag: &dyn Fn(&Judged) -> Option<bool>| {
            let known: Vec<bool> = list.iter().filter_map(|one| flag(one)).collect();
            format!("{} of {}", known.iter().filter(|yes| **yes).count(), known.len())
        };
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {} | {} | {} |",
            list.len(),
            count(&Judged::right),
            count(&|one| one.withheld()),
            count(&|one| one.refused()),
            count(&|one| one.wrong()),
            share(&|one| one.names_right),
            share(&|one| one.like_crank),
        );
    }
    out
}
