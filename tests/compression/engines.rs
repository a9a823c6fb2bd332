//! The engines on the bench: their description, and one of its own kind for each seed.

use std::path::Path;

use camwitness::engine::Engine;

use super::bench::{Bench, Random};

pub const TDC: f64 = 74.0;

/// An engine that fires evenly, banks alternating.
pub fn engine(cylinders: usize) -> Engine {
    let list = |numbers: Vec<usize>| {
        numbers.iter().map(ToString::to_string).collect::<Vec<String>>().join(", ")
    };
    let text = format!(
        "name = \"bench\"\nfiring_order = [{}]\n[banks]\n1 = [{}]\n2 = [{}]\n[crank]\nwheel = \"36-2\"\nsensor = \"hall\"\ntdc = {TDC}\n",
        list((1..=cylinders).collect()),
        list((1..=cylinders).step_by(2).collect()),
        list((2..=cylinders).step_by(2).collect()),
    );
    Engine::parse(&text, Path::new("bench.toml")).expect("a sound description")
}

/// An engine of its own kind for a seed.
pub fn varied(cylinders: usize, random: &mut Random) -> Bench {
    let mut bench = Bench::even(cylinders, TDC);
    bench.compression_ratio = random.between(9.0, 12.0);
    bench.rod_ratio = random.between(3.1, 4.0);
    bench.closes_before_tdc = random.between(115.0, 140.0);
    bench.opens_after_tdc = random.between(130.0, 150.0);
    bench.inertia = random.between(0.15, 0.35);
    bench.stall_torque *= random.between(0.9, 1.15);
    bench.free_speed = random.between(32.0, 46.0);
    bench.blow_by = random.between(0.005, 0.04);
    bench.bend = random.between(1.0, 1.2);
    bench
}
