//! 60-2 with a reluctance sensor in the worst dirt: at the passage that does not mark the teeth the signal has no
//! long step, and a search that bridges the gap there must not win over the right one.

use std::path::Path;

use camwitness::analysis::{Options, analyse};
use camwitness::engine::Engine;
use camwitness::practice::{Preset, Scenario, generate};
use camwitness::units::CrankDelta;

const ENGINE: &str = r#"
name = "invented V6 with a reluctance crank sensor"
firing_order = [1, 2, 3, 4, 5, 6]
[banks]
1 = [1, 3, 5]
2 = [2, 4, 6]
[crank]
wheel = "60-2"
sensor = "reluctance"
edge = "falling"
tdc = 74.0
[[cam]]
name = "B1 intake"
bank = 1
shaft = "intake"
wheel = "three-uneven"
sensor = "hall"
at = 113.0
at_sd = 0.8
"#;

/// Error of a cam's position that only a tooth miscounted can cause: half the 6° pitch.
const HALF_TOOTH_DEG: f64 = 3.0;

#[test]
fn the_crank_locks_and_every_cam_stands_where_it_was_put() {
    let engine = Engine::parse(ENGINE, Path::new("engine.toml")).expect("the description is sound");
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
        let truth = practice.truth.cams[0].position_deg;
        for cam in &analysis.cams {
            let off = CrankDelta(cam.measured.position.get() - truth).wrap(CrankDelta(720.0));
            assert!(off.0.abs() < HALF_TOOTH_DEG, "seed {seed}: off by {off}");
        }
        assert_eq!(analysis.cams.len(), 1, "seed {seed}: the cam was not measured");
    }
}
