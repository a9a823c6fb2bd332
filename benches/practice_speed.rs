//! How long a practice capture takes in memory: `cargo bench --bench practice_speed`.

use std::path::Path;
use std::time::Instant;

use camwitness::engine::Engine;
use camwitness::practice::{Scenario, generate};

fn main() {
    let text = include_str!("../demo-data/engine.toml");
    let engine = Engine::parse(text, Path::new("engine.toml")).expect("the demonstration engine");
    for (rate, seconds) in [(20_000.0, 3.0), (50_000.0, 5.0)] {
        let runs = 50_u32;
        let start = Instant::now();
        for seed in 0..u64::from(runs) {
            let scenario = Scenario { seed, rate, seconds, ..Scenario::new(engine.clone()) };
            generate(&scenario).expect("a sound engine");
        }
        let each = start.elapsed().as_secs_f64() * 1e3 / f64::from(runs);
        println!("{seconds} s at {rate} S/s, 4 channels: {each:.1} ms a capture");
    }
}
