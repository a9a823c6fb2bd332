//! Compression by the two leads a technician clamps first, counted: a clamp on the starter's cable
//! and one cylinder's coil, on practice engines of three to eight cylinders that fire evenly and
//! unevenly, sound and not.
//!
//! `cargo bench --bench two_leads -- --captures 480 --first 1` prints the table; `--list` also what
//! was said wherever a low cylinder or bank was not named.

mod case;
mod judge;

use std::fmt::Write as _;

use camwitness::practice::{Dialect, csv_text};
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
    /// Write the captures that were not named as CSV into this folder.
    #[arg(long)]
    dump: Option<std::path::PathBuf>,
    /// Write the table here.
    #[arg(long)]
    write: Option<std::path::PathBuf>,
    /// Given by cargo.
    #[arg(long, hide = true)]
    bench: bool,
}

fn main() {
    let args = Args::parse();
    let seeds = args.only.map_or(args.first..args.first + args.captures, |seed| seed..seed + 1);
    let drawn: Vec<Result<Judged, String>> = seeds
        .clone()
        .into_par_iter()
        .map(|seed| {
            let crank = args.with_crank > 0 && seed % args.with_crank == 0;
            let case =
                draw(seed).map_err(|error| format!("seed {seed} cannot be made: {error}"))?;
            Ok(judge(case, crank))
        })
        .collect();
    let (mut judged, mut not_made) = (Vec::new(), Vec::new());
    for one in drawn {
        match one {
            Ok(one) => judged.push(one),
            Err(error) => not_made.push(error),
        }
    }
    not_made.iter().for_each(|error| println!("{error}"));
    for one in &judged {
        if one.wrong() || args.list && !one.right() {
            println!("{one}");
            if let Some(folder) = &args.dump {
                let practice = &one.case.practice;
                let text = csv_text(&practice.capture, &practice.steps, Dialect::default());
                let file = folder.join(format!("{}.csv", one.case.seed));
                std::fs::write(file, text.expect("a dialect")).expect("the folder is there");
                let engine = folder.join(format!("{}.toml", one.case.seed));
                std::fs::write(engine, one.case.engine.text()).expect("the folder is there");
            }
        }
    }
    let mut text = format!(
        "Seeds {} to {}, {} captures, {} that could not be made.\n\n",
        seeds.start,
        seeds.end - 1,
        judged.len(),
        not_made.len()
    );
    text += &goals(&judged);
    text += "\n";
    text += &table(&judged);
    println!("{text}");
    if let Some(path) = args.write {
        std::fs::write(path, format!("{HEAD}\n{text}")).expect("a file that can be written");
    }
}

const HEAD: &str = "# Compression by two leads, counted\n\n\
    A clamp on the starter's cable (or the battery's voltage) and one cylinder's coil (or injector), no crank: practice\n\
    captures of eight engines of three to eight cylinders, four to six seconds, 2 to 10 kHz, a third of them with the worst\n\
    dirt there is (`nasty`). Simulated, every one. `cargo bench --bench two_leads -- --write docs/two-leads.md` writes this page.\n";

/// What was asked for, and how often it is so.
fn goals(judged: &[Judged]) -> String {
    let mut out = String::from(
        "| asked for | goal | all | workshop | nasty |\n| --- | --- | --- | --- | --- |\n",
    );
    let mut row = |what: &str, goal: &str, of: &dyn Fn(&Judged) -> Option<bool>| {
        let share = |keep: &dyn Fn(&Judged) -> bool| {
            let flags: Vec<bool> = judged.iter().filter(|one| keep(one)).filter_map(of).collect();
            format!("{} of {}", flags.iter().filter(|yes| **yes).count(), flags.len())
        };
        let _ = writeln!(
            out,
            "| {what} | {goal} | {} | {} | {} |",
            share(&|_| true),
            share(&|one| !one.case.nasty),
            share(&|one| one.case.nasty)
        );
    };
    let spoken = |one: &Judged| !one.withheld() && !one.refused();
    row("measured: cylinders carry their names", "100 %", &Judged::named);
    row("low bank by 6 % and more: said right, of those said", "99 %", &|one| {
        (one.case.kind == Kind::BankLow && one.counts() && spoken(one)).then(|| one.right())
    });
    row("the same, of all", "", &|one| {
        (one.case.kind == Kind::BankLow && one.counts()).then(|| one.right())
    });
    row("one cylinder low by 15 % and more: named, of those said", "99 %", &|one| {
        (one.case.kind == Kind::OneLow && one.counts() && spoken(one)).then(|| one.right())
    });
    row("the same, of all", "", &|one| {
        (one.case.kind == Kind::OneLow && one.counts()).then(|| one.right())
    });
    row("one cylinder low: called a bank", "0", &|one| {
        (one.case.kind == Kind::OneLow).then(|| one.called_a_bank())
    });
    row("sound: accused of anything", "under 2 %", &|one| {
        (one.case.kind == Kind::Sound).then(|| one.wrong())
    });
    row("the same with the crank beside it, within both intervals", "all", &|one| one.like_crank);
    out
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
