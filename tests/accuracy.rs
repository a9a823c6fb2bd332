//! Truth recovered: practice captures of seeded engines over every wheel of the library, measured
//! by the decoder and held against what was really done.
//!
//! The practice model goes from angle to volts, the decoder from volts to angle; they share the
//! description of the engine and nothing else.

use std::path::Path;

use camwitness::analysis::{MeasuredCapture, Options};
use camwitness::engine::{Engine, Sensor};
use camwitness::practice::{Preset, Scenario, generate};
use camwitness::units::CrankDelta;
use camwitness::wheel::{EdgeKind, LIBRARY, parse_wheel};
use rayon::prelude::*;

use crate::calibration::harness::chance::Chance;

const CRANK_WHEELS: [&str; 9] = [
    "60-2",
    "36-1",
    "36-2",
    "36-2-2-2-thirds",
    "36-2-2-2-uneven",
    "36-2-1",
    "24-even",
    "12-plus-1",
    "24-wide-narrow",
];
const CAM_WHEELS: [&str; 5] =
    ["half-moon", "three-uneven", "two-narrow-two-wide", "four-plus-one", "six-minus-one"];
/// Seeds for each pair of wheels: 9 × 5 × 5 = 225 engines.
const SEEDS: u64 = 5;

/// A seeded engine: two banks with a cam sensor each. `wheel` is what its cams' wheel is, as an
/// engine file says it, where that is not `cam` of the library.
fn engine(crank: &str, cam: &str, seed: u64, wheel: Option<&str>) -> Engine {
    // Spread by the golden ratio: any seed lands somewhere else.
    let at = |salt: f64, range: f64| ((seed as f64 + salt) * 0.618_033_988_75).fract() * range;
    let crank_is_teeth = crank == "24-wide-narrow";
    let sensor = if seed.is_multiple_of(2) || crank_is_teeth { "hall" } else { "reluctance" };
    let edge = if crank_is_teeth { "" } else { "edge = \"falling\"" };
    // A reluctance sensor marks the middle of a narrow tooth. Over a wide one its voltage stays
    // near zero and marks nothing sharply, so such wheels carry Hall sensors (common practice, no
    // source).
    let narrow = matches!(cam, "four-plus-one" | "six-minus-one");
    let cam_sensor = if seed % 2 == 1 && narrow { "reluctance" } else { "hall" };
    let wheel = wheel.map_or(format!("\"{cam}\""), str::to_owned);
    let six = !seed.is_multiple_of(3);
    let (order, banks) = if six {
        ("[1, 2, 3, 4, 5, 6]", "1 = [1, 3, 5]\n2 = [2, 4, 6]")
    } else {
        ("[1, 3, 4, 2]", "1 = [1, 3]\n2 = [2, 4]")
    };
    let text = format!(
        r#"
name = "{crank} with {cam}, engine {seed}"
firing_order = {order}
[banks]
{banks}
[crank]
wheel = "{crank}"
sensor = "{sensor}"
{edge}
tdc = {:.1}
[[cam]]
name = "B1 intake"
bank = 1
shaft = "intake"
wheel = {wheel}
sensor = "{cam_sensor}"
at = {:.1}
at_sd = 1.0
[[cam]]
name = "B2 intake"
bank = 2
shaft = "intake"
same_as = {{ cam = "B1 intake", later = 360.0 }}
at_sd = 1.0
"#,
        at(0.1, 359.0),
        at(0.7, 719.0),
    );
    Engine::parse(&text, Path::new("engine.toml")).expect("a seeded engine")
}

/// Errors seen in one capture, in crank degrees.
#[derive(Default)]
struct Errors {
    cams: Vec<f64>,
    /// Edges inside a missing-tooth gap.
    gap_edges: Vec<f64>,
    inside: usize,
    intervals: usize,
    lost: Vec<String>,
}

/// How the teeth of the cams' wheels are cut.
#[derive(Debug, Clone, Copy)]
enum Cut {
    /// As drawn.
    Drawn,
    /// As the public recordings' are: their edges scatter about their pattern by 0.05 to 0.7 crank
    /// degrees, any proportion alike.
    Real,
}

/// Scatter of real wheels' edges, crank degrees.
const REAL_CUT: (f64, f64) = (0.05, 0.7);

/// Shaft degrees that all teeth are turned by, so that none lies across zero.
const CLEAR_OF_ZERO: f64 = 3.0;

/// A library wheel tooth by tooth, as an engine file says it, each edge moved by a normal error of
/// `scatter` crank degrees; a tooth that a reluctance sensor sees moves as one, for its middle is
/// seen.
fn cut(cam: &str, scatter: f64, as_one: bool, chance: &mut Chance) -> String {
    // Irwin and Hall: twelve even numbers have a variance of one.
    let mut off = || scatter / 2.0 * ((0..12).map(|_| chance.unit()).sum::<f64>() - 6.0);
    let text = LIBRARY.iter().find(|wheel| wheel.name == cam).expect(cam).text;
    let wheel = parse_wheel(text, cam).expect(cam);
    let teeth: Vec<String> = wheel
        .teeth(EdgeKind::Falling)
        .iter()
        .map(|tooth| {
            let start = off();
            let end = if as_one { start } else { off() };
            let place = |at: f64, off: f64| (at + off + CLEAR_OF_ZERO).rem_euclid(360.0);
            format!(
                "{{ start = {:.4}, end = {:.4} }}",
                place(tooth.start.get(), start),
                place(tooth.end().get(), end)
            )
        })
        .collect();
    format!("{{ name = \"cut\", teeth = [{}] }}", teeth.join(", "))
}

/// What the engine file says, and the engine that is recorded.
fn described_and_real(crank: &str, cam: &str, seed: u64, how: Cut) -> (Engine, Engine) {
    match how {
        Cut::Drawn => (engine(crank, cam, seed, None), engine(crank, cam, seed, None)),
        Cut::Real => {
            let mut chance = Chance::new(seed ^ ((crank.len() * 64 + cam.len()) as u64) << 32);
            let (least, most) = REAL_CUT;
            let scatter = least * (most / least).powf(chance.unit());
            let as_one = engine(crank, cam, seed, None).cams[0].sensor == Sensor::Reluctance;
            let drawn = cut(cam, 0.0, as_one, &mut chance);
            let real = cut(cam, scatter, as_one, &mut chance);
            (engine(crank, cam, seed, Some(&drawn)), engine(crank, cam, seed, Some(&real)))
        }
    }
}

fn measure(crank: &str, cam: &str, seed: u64, preset: Preset, how: Cut) -> Errors {
    let (engine, real) = described_and_real(crank, cam, seed, how);
    let mut scenario = Scenario::new(real);
    scenario.preset = preset;
    scenario.seed = seed;
    scenario.seconds = 4.0;
    let mut errors = Errors::default();
    let name = engine.name.clone();
    let practice = generate(&scenario).unwrap_or_else(|error| panic!("{name}: {error}"));
    let measured = match MeasuredCapture::measure(&practice.capture, &engine, &Options::default()) {
        Ok(measured) => measured,
        Err(error) => {
            errors.lost.push(format!("{name}: {error}"));
            return errors;
        }
    };
    let period = measured.crank.angle.known_modulo();
    for truth in &practice.truth.cams {
        let index = engine.cam_index(&truth.cam).expect("a cam of the engine");
        let Some(cam) = measured.cams.iter().find(|cam| cam.measured.cam == index) else {
            errors.lost.push(format!("{name}: {} not found", truth.cam));
            continue;
        };
        // What two symmetric wheels leave open is not an error.
        let open = cam.known_modulo.0.min(period.0);
        let error =
            CrankDelta(cam.measured.position.get() - truth.position_deg).wrap(CrankDelta(open));
        errors.cams.push(error.0);
        errors.intervals += 1;
        errors.inside += usize::from(error.0.abs() <= cam.measured.half_width95.0);
        let marks = engine.crank.wheel.slot_marks().unwrap_or_default();
        for edge in cam.measured.edges.iter().filter(|_| marks.len() > 2) {
            if in_gap(edge.at.get().rem_euclid(360.0), &marks) {
                errors.gap_edges.push(edge.off.0 + error.0);
            }
        }
    }
    errors
}

/// Whether an angle lies strictly between two marks further apart than the common step.
fn in_gap(angle: f64, marks: &[camwitness::units::ShaftDeg]) -> bool {
    let places: Vec<f64> = marks.iter().map(|mark| mark.get()).collect();
    let common = places[1] - places[0];
    let after = places.partition_point(|&place| place <= angle);
    let from = if after == 0 { places[places.len() - 1] - 360.0 } else { places[after - 1] };
    let to = if after == places.len() { places[0] + 360.0 } else { places[after] };
    to - from > 1.5 * common
}

/// Value below which `share` of the sizes lie.
fn quantile(errors: &[f64], share: f64) -> f64 {
    let mut sizes: Vec<f64> = errors.iter().map(|error| error.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    sizes[((sizes.len() - 1) as f64 * share).round() as usize]
}

fn sweep(preset: Preset, seeds: std::ops::Range<u64>, how: Cut) -> Errors {
    let mut cases = Vec::new();
    for crank in CRANK_WHEELS {
        for cam in CAM_WHEELS {
            cases.extend(seeds.clone().map(|seed| (crank, cam, seed)));
        }
    }
    let all: Vec<Errors> = cases
        .par_iter()
        .map(|&(crank, cam, seed)| measure(crank, cam, seed, preset, how))
        .collect();
    println!("wheel by wheel, 95 % of the cam errors within:");
    for (wheel, part) in CRANK_WHEELS.iter().zip(all.chunks(all.len() / CRANK_WHEELS.len())) {
        let errors: Vec<f64> = part.iter().flat_map(|one| one.cams.iter().copied()).collect();
        println!(
            "  {wheel:<18} {:.3}°  worst {:.3}°",
            quantile(&errors, 0.95),
            quantile(&errors, 1.0)
        );
    }
    all.into_iter().fold(Errors::default(), |mut sum, one| {
        sum.cams.extend(one.cams);
        sum.gap_edges.extend(one.gap_edges);
        sum.inside += one.inside;
        sum.intervals += one.intervals;
        sum.lost.extend(one.lost);
        sum
    })
}

fn check(preset: Preset, first_seed: u64, allowed: f64) {
    let errors = sweep(preset, first_seed..first_seed + SEEDS, Cut::Drawn);
    let (cams, gaps) = (quantile(&errors.cams, 0.95), quantile(&errors.gap_edges, 0.95));
    println!(
        "{preset:?}: {} cams, 95 % within {cams:.3}° (allowed {allowed}°), worst {:.3}°; {} edges inside gaps, 95 % within \
         {gaps:.3}°; stated 95 % intervals hold {} of {}; lost {:?}",
        errors.cams.len(),
        quantile(&errors.cams, 1.0),
        errors.gap_edges.len(),
        errors.inside,
        errors.intervals,
        errors.lost,
    );
    assert!(errors.lost.is_empty(), "{:?}", errors.lost);
    assert!(cams <= allowed, "cams: {cams:.3}°");
    assert!(gaps <= 2.0 * allowed, "edges inside gaps: {gaps:.3}°");
    let held = errors.inside as f64 / errors.intervals as f64;
    assert!(held >= 0.95, "stated 95 % intervals hold {held:.3}");
}

#[test]
#[ignore = "wide: .ci/run runs it"]
fn clean_captures_give_every_cam_within_a_tenth_of_a_degree() {
    check(Preset::Clean, 100, 0.1);
}

#[test]
#[ignore = "wide: .ci/run runs it"]
fn workshop_captures_give_every_cam_within_three_tenths() {
    check(Preset::Workshop, 200, 0.3);
}

/// Not more than this many standard errors of a share from what is promised: chance goes further
/// one time in three hundred.
const CHANCE: f64 = 3.0;

/// Of five seeds, 450 intervals, 95.3 % held; three are tried here.
#[test]
#[ignore = "wide: .ci/run runs it"]
fn on_wheels_cut_as_real_ones_are_the_intervals_hold_what_they_say() {
    let errors = sweep(Preset::Workshop, 300..303, Cut::Real);
    let all = errors.intervals as f64;
    let held = errors.inside as f64 / all;
    println!("{held:.3} of {all}; lost {:?}", errors.lost);
    assert!(errors.lost.is_empty(), "{:?}", errors.lost);
    let chance = CHANCE * (0.95 * 0.05 / all).sqrt();
    assert!((0.94 - chance..0.97 + chance).contains(&held), "{held:.3}");
}
