//! 60-2 with a reluctance sensor in the worst dirt: at the passage that does not mark the teeth the
//! signal has no long step, and a search that bridges the gap there must not win over the right
//! one.

use std::path::Path;

use camwitness::analysis::{Options, analyse};
use camwitness::engine::Engine;
use camwitness::practice::{Preset, Scenario, generate};
use camwitness::units::CrankDelta;

/// Error of a cam's position that only a tooth miscounted can cause: half the 6° pitch.
const HALF_TOOTH_DEG: f64 = 3.0;

/// The demonstration engine with another crank wheel and sensor.
fn engine() -> Engine {
    let text = include_str!("../demo-data/engine.toml");
    let other = text.replacen("wheel  = \"36-2\"", "wheel  = \"60-2\"", 1).replacen(
        "sensor = \"hall\"",
        "sensor = \"reluctance\"",
        1,
    );
    let engine = Engine::parse(&other, Path::new("engine.toml")).expect("the description is sound");
    assert_eq!((engine.crank.wheel.tooth_count(), engine.cams.len()), (58, 2));
    engine
}

#[test]
#[ignore = "wide: .ci/run runs it"]
fn the_crank_locks_and_every_cam_stands_where_it_was_put() {
    let engine = engine();
    for seed in 1..=20 {
        let scenario = Scenario {
            preset: Preset::Nasty,
            seed,
            leads: vec![],
            ..Scenario::new(engine.clone())
        };
        let practice = generate(&scenario).expect("a scenario that can be made");
        let analysis = analyse(&[practice.capture], &engine, &Options::default())
            .unwrap_or_else(|error| panic!("seed {seed}: {error}"));
        for cam in &analysis.cams {
            let truth = &practice.truth.cams[cam.measured.cam];
            let off = CrankDelta(cam.measured.position.get() - truth.position_deg);
            let off = off.wrap(CrankDelta(720.0));
            assert!(off.0.abs() < HALF_TOOTH_DEG, "seed {seed}, {}: off by {off}", truth.cam);
        }
        assert_eq!(analysis.cams.len(), 2, "seed {seed}: a cam was not measured");
    }
}
