//! Are the verdict's odds right? Thousands of practice captures with known faults through the whole
//! program.
//!
//! `cargo bench --bench calibration -- --captures 2000 --first 90001 --write docs/calibration.md`
//! writes the table; `-- --show SEED --stock trade` looks at one capture.

#[path = "harness/mod.rs"]
mod harness;

use std::path::PathBuf;

use camwitness::report::{text, words::why};
use clap::{Parser, ValueEnum};
use rayon::prelude::*;

use camwitness::units::CrankDelta;
use harness::case::{Class, Stock};
use harness::run::{Closer, Outcome, closer, run};
use harness::table::{markdown, prices};
use harness::trust::Trust;

/// Text that stands above the tables.
const PREFACE: &str = include_str!("preface.md");

#[derive(Debug, Parser)]
struct Args {
    /// Captures in all, half of each of the first two stocks; a quarter more with other constants,
    /// and of two faults at once.
    #[arg(long, default_value_t = 2000)]
    captures: u64,
    /// First seed.
    #[arg(long, default_value_t = 1)]
    first: u64,
    /// Write the tables here, below the preface.
    #[arg(long, value_name = "FILE.md")]
    write: Option<PathBuf>,
    /// Look at the capture of one seed instead.
    #[arg(long, value_name = "SEED")]
    show: Option<u64>,
    /// This stock alone; of `--show`, the stock the seed is of.
    #[arg(long, value_enum)]
    stock: Option<StockArg>,
    /// List what held back the captures that could have been told.
    #[arg(long)]
    open: bool,
    /// The places confirmed by a known-good.
    #[arg(long)]
    confirmed: bool,
    /// The same captures once more with the places confirmed, to see what doubting the description
    /// costs either way.
    #[arg(long)]
    price: bool,
    /// List every cam's reading with its error instead.
    #[arg(long)]
    readings: bool,
    /// Given by cargo.
    #[arg(long, hide = true)]
    bench: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum StockArg {
    Trade,
    Alike,
    Together,
    Elsewhere,
}

impl StockArg {
    fn stock(self) -> Stock {
        match self {
            StockArg::Trade => Stock::Trade,
            StockArg::Alike => Stock::Alike,
            StockArg::Together => Stock::Together,
            StockArg::Elsewhere => Stock::Elsewhere,
        }
    }
}

fn main() {
    let args = Args::parse();
    if let Some(seed) = args.show {
        show(seed, args.stock.map_or(Stock::Trade, StockArg::stock), args.trust());
        return;
    }
    if args.readings {
        readings(args.first, args.captures);
        return;
    }
    let drawn = |trust| outcomes(&args, trust);
    let outcomes = drawn(args.trust());
    let mut tables = markdown(&outcomes);
    if args.price {
        tables += &prices(&outcomes, &drawn(Trust::Confirmed));
    }
    println!("{tables}");
    if args.open {
        list_open(&outcomes);
    }
    if let Some(path) = &args.write {
        let price = if args.price { "--price " } else { "" };
        let command = format!(
            "Written by `cargo bench --bench calibration -- --captures {} --first {} {price}--write \
             docs/calibration.md`. The same command gives the same text.\n\n",
            args.captures, args.first
        );
        std::fs::write(path, format!("{PREFACE}\n{command}{tables}"))
            .expect("the table is written");
    }
}

impl Args {
    fn trust(&self) -> Trust {
        if self.confirmed { Trust::Confirmed } else { Trust::Typed }
    }
}

fn outcomes(args: &Args, trust: Trust) -> Vec<Outcome> {
    let (first, captures) = (args.first, args.captures);
    let only = args.stock.map(StockArg::stock);
    let half = captures.div_ceil(2);
    let of = |stock: Stock| (first..first + half).map(move |seed| (seed, stock));
    let more = |stock: Stock| (first..first + captures / 4).map(move |seed| (seed, stock));
    let two = more(Stock::Together).chain(more(Stock::Elsewhere));
    let all = of(Stock::Trade).chain(of(Stock::Alike)).chain(two);
    let cases: Vec<(u64, Stock)> =
        all.filter(|(_, stock)| only.is_none_or(|only| only == *stock)).collect();
    cases.into_par_iter().map(|(seed, stock)| run(seed, stock, trust)).collect()
}

/// One line per cam: how the reading looked and how far it was off the truth, for whoever sets what
/// a reading's looks say of its worth.
fn readings(first: u64, captures: u64) {
    let cases: Vec<(u64, Stock)> = (first..first + captures)
        .map(|seed| (seed, if seed % 2 == 0 { Stock::Trade } else { Stock::Alike }))
        .collect();
    let lines: Vec<String> =
        cases.into_par_iter().map(|(seed, stock)| reading(seed, stock)).collect();
    println!(
        "seed stock dirt crank wheel sensor edges fit seen missed extra half sd cycles error faults confidence lost"
    );
    print!("{}", lines.concat());
}

fn reading(seed: u64, stock: Stock) -> String {
    let Closer { case, truth, analysis } = closer(seed, stock, Trust::Typed);
    let Ok(analysis) = analysis else { return String::new() };
    let crossed = case.class == Class::CrossedLeads;
    let mut lines = String::new();
    for cam in analysis.cams.iter().filter(|_| !crossed) {
        let one = &cam.measured;
        let described = &case.drawn.engine.cams[one.cam];
        let off = one.position.get() - truth.cams[one.cam].position_deg;
        // Which pass of the datum is which is another matter.
        let error = CrankDelta(off).wrap(CrankDelta(120.0)).get();
        let seen: usize = one.edges.iter().map(|edge| edge.n).sum();
        lines += &format!(
            "{seed} {stock:?} {:?} {} {} {:?} {} {:.3} {seen} {} {} {:.2} {:.2} {} {error:.2} {} {:.5} {:.3}\n",
            truth.preset,
            case.drawn.crank_wheel,
            described.wheel.name().replace(' ', "_"),
            described.sensor,
            one.edges.len(),
            one.fit,
            one.missed,
            one.extra,
            one.half_width95.get(),
            one.cycle_sd.map_or(0.0, CrankDelta::get),
            one.cycles.len(),
            analysis
                .leads
                .iter()
                .filter(|lead| lead.column == one.lead)
                .map(|lead| lead.faults.len())
                .sum::<usize>(),
            analysis.crank.confidence,
            (analysis.crank.missed + analysis.crank.extra) as f64
                / analysis.crank.teeth_seen as f64,
        );
    }
    lines
}

fn list_open(outcomes: &[Outcome]) {
    println!("## Claims at nine in ten and more that were false, as in the trade\n");
    for one in outcomes.iter().filter(|one| one.stock == Stock::Trade) {
        let Ok(told) = &one.told else { continue };
        let claimed = (0..3).find(|&claim| told.odds[claim] > 0.9 && told.truth != claim);
        if claimed.is_some() {
            println!(
                "{} {} | {} {} | {} | {:?} | {} | {} | {}",
                one.seed,
                one.class.word(),
                one.layout.word(),
                one.known.word(),
                one.crank_wheel,
                one.preset,
                one.faults,
                told.leading,
                told.untellable.unwrap_or("")
            );
        }
    }
    println!("## Answers that were wrong\n");
    for one in outcomes.iter().filter(|one| one.stock != Stock::Together) {
        let Ok(told) = &one.told else { continue };
        for (at, question) in told.questions.iter().enumerate() {
            if question.said().is_some_and(|said| said != question.yes) {
                println!(
                    "{at} {:.4} {} {:?} {} | {} | {} | {}",
                    question.odds,
                    one.seed,
                    one.stock,
                    one.class.word(),
                    one.layout.word(),
                    one.faults,
                    told.leading
                );
            }
        }
    }
    println!("## Left open though it could be told\n");
    for one in outcomes {
        let Ok(told) = &one.told else { continue };
        if told.untellable.is_none() && !told.state.answers() {
            println!(
                "{:?} {} {:?} {} | {} | {} | {:?} | {} | {}",
                told.price,
                one.seed,
                one.stock,
                one.class.word(),
                one.layout.word(),
                one.crank_wheel,
                one.preset,
                one.faults,
                told.leading
            );
        }
    }
}

fn show(seed: u64, stock: Stock, trust: Trust) {
    let Closer { case, truth, analysis } = closer(seed, stock, trust);
    println!("{}\n{:?}, left off {:?}", case.drawn.text, case.class, case.left_off);
    println!("faults {:?}\npreset {:?}", truth.faults, truth.preset);
    println!("crank {:?}\nmotion {:?}", truth.crank, truth.motion);
    for cam in &truth.cams {
        println!(
            "{} at {:.2}, off {:?}, {:?}",
            cam.cam, cam.position_deg, cam.deviation_deg, cam.parts
        );
    }
    match analysis {
        Err(error) => println!("refused: {error}"),
        Ok(analysis) => {
            println!("{}", text::write(&analysis));
            println!(
                "crank confidence {:.5}, {} teeth, {} missed, {} extra, tdc {:?}, compression {:?}",
                analysis.crank.confidence,
                analysis.crank.teeth_seen,
                analysis.crank.missed,
                analysis.crank.extra,
                analysis.compression.tdc,
                analysis.verdict.compression
            );
            for cam in &analysis.cams {
                let one = &cam.measured;
                println!(
                    "{} {:?} ±{:.2} sd {:?} missed {} extra {} fit {:.3} {:?} cycles {}",
                    one.lead,
                    cam.deviation(),
                    one.half_width95.get(),
                    one.cycle_sd,
                    one.missed,
                    one.extra,
                    one.fit,
                    one.polarity,
                    one.cycles.len()
                );
            }
            for one in analysis.verdict.explanations.iter().take(8) {
                println!(
                    "{:?} {:?} {:?} {:.5} {}",
                    one.kind,
                    one.on,
                    one.teeth,
                    one.probability,
                    why(&analysis.engine, one)
                );
            }
        }
    }
}
