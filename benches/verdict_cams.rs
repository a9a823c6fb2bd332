//! What a check costs by the number of cams: the whole analysis of a short cranking, of which all but
//! the verdict grows no faster than the cams do.
//!
//! ```text
//! cargo bench --bench verdict_cams                    # 1, 2, 4, 8, 12 and 16 cams
//! cargo bench --bench verdict_cams -- 8 16            # these
//! ```
//!
//! Every cam runs from one primary chain, all with the same wheel; the capture is a list of changes
//! of the practice model. Least of several runs.

use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;
use std::time::Instant;

use camwitness::analysis::{Options, analyse};
use camwitness::capture::CaptureKind;
use camwitness::engine::Engine;
use camwitness::practice::{Scenario, generate};

/// Runs of each; the least time counts, being the least disturbed.
const RUNS: usize = 3;

fn main() -> Result<(), Box<dyn Error + Send + Sync>> {
    let asked: Vec<usize> = std::env::args().filter_map(|word| word.parse().ok()).collect();
    let asked = if asked.is_empty() { vec![1, 2, 4, 8, 12, 16] } else { asked };
    println!("| cams | seconds |\n| --- | --- |");
    for cams in asked {
        let engine = Engine::parse(&engine(cams)?, Path::new("many.toml"))?;
        let whole = Scenario::new(engine.clone());
        let scenario = Scenario { kind: CaptureKind::Events, leads: Vec::new(), ..whole };
        let made = generate(&scenario)?;
        let mut least = f64::INFINITY;
        for _ in 0..RUNS {
            let started = Instant::now();
            let analysis =
                analyse(std::slice::from_ref(&made.capture), &engine, &Options::default())?;
            assert_eq!(analysis.cams.len(), cams);
            least = least.min(started.elapsed().as_secs_f64());
        }
        println!("| {cams} | {least:.3} |");
    }
    Ok(())
}

/// The demonstration's engine with so many cams on its chain, on its two banks in turn.
fn engine(cams: usize) -> Result<String, std::fmt::Error> {
    let mut text = String::from(
        "name = \"many cams\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n[banks]\n1 = [1, 2, 3]\n2 = [4, 5, 6]\n\
         [crank]\nwheel = \"36-2\"\nsensor = \"hall\"\nedge = \"falling\"\ntdc = 86.0\n",
    );
    for cam in 0..cams {
        let at = 137.0 + 7.0 * cam as f64;
        writeln!(
            text,
            "[[cam]]\nname = \"cam {cam}\"\nbank = {}\nshaft = \"{}\"\nwheel = \"three-uneven\"\nsensor = \"hall\"\n\
             at = {at:.1}\nat_sd = 0.8",
            cam % 2 + 1,
            if cam / 2 % 2 == 0 { "intake" } else { "exhaust" }
        )?;
    }
    let on = |cam: usize| format!("{{ on = \"cam {cam}\", teeth = 38 }}");
    let driven: Vec<String> = (0..cams).map(on).collect();
    writeln!(
        text,
        "[[chain]]\nname = \"primary\"\nkind = \"chain\"\ndriver = {{ on = \"crank\", teeth = 19 }}\ndriven = [ {} ]",
        driven.join(", ")
    )?;
    Ok(text)
}
