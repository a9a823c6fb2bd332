//! How often is `look` right, and does "sure" mean it? Practice captures with the traps that
//! recordings have, counted.
//!
//! `cargo bench --bench look_count -- --captures 2000 --first 1` prints the table; `--list` also
//! what was said wherever it was not right and sure.
//!
//! Measured, 300 captures each, the odds averaged over how well the priors are known: from 230001 260 right
//! and sure (87 %; the aim is 90), 249 of the 282 whose turn anything tells apart (88 %), none wrong and
//! sure; from 240001, which nobody had looked at, 274 (91 %), 261 of 282 (93 %), none wrong and sure.
//! Before that average, with the priors as they stand: from 230001 264 and 254; over 2,100 captures
//! (160001 to 230001) 1,857 right and sure (88 %), and two wrong and sure, at 0.992, by headers and priors alone:
//! 190107, both headers exchanged, and 220208, a cam and an igniter of four even pulses each, which are one in a
//! cycle at four times the speed. Nothing in the captures tells either; both are left open now. Of the rest most are
//! four or six uneven teeth on a cranking engine: its swing may come again as they do, and that its teeth
//! may not be as wide as each other, one wheel in five, leaves a thirtieth of doubt; and fine wheels whose
//! edges are moved by half a millisecond after the engine has started.

mod case;
#[path = "../calibration/harness/chance.rs"]
#[allow(dead_code, reason = "the calibration draws more kinds of numbers")]
mod chance;
mod count;
mod judge;

use clap::Parser;
use judge::Outcome;

#[derive(Debug, Parser)]
struct Args {
    /// Captures.
    #[arg(long, default_value_t = 2000)]
    captures: u64,
    /// First seed.
    #[arg(long, default_value_t = 1)]
    first: u64,
    /// List every capture that was not named rightly.
    #[arg(long)]
    list: bool,
    /// Given by cargo.
    #[arg(long, hide = true)]
    bench: bool,
}

fn main() {
    let args = Args::parse();
    let counted = count::count(args.first..args.first + args.captures);
    println!("{}", count::table(&counted));
    for one in &counted {
        let wrong = one.outcome == Outcome::WrongAndSure;
        if wrong || args.list && one.outcome != Outcome::RightAndSure {
            let (seed, wheel, outcome) = (one.seed, one.wheel, one.outcome);
            println!(
                "seed {seed}, {wheel}, {:?}, decided {}: {outcome:?}: {}",
                one.traps, one.decided, one.said
            );
        }
    }
}
