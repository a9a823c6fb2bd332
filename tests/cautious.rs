//! The cautious side, from capture to verdict: what spoils a measurement holds the verdict back, or
//! widens what is said of it, and is said in words.

use std::path::Path;

use camwitness::analysis::{Analysis, Options, analyse};
use camwitness::capture::Capture;
use camwitness::engine::Engine;
use camwitness::practice::{Fault, Preset, Scenario, generate};
use camwitness::report::words::{finding, warnings};
use camwitness::verdict::State;

/// The demonstration engine: a V6, a sensor on each bank's intake cam, one chain, phasers.
const DEMO: &str = include_str!("../demo-data/engine.toml");
/// A chain that jumped a tooth late on bank 1, which no phaser does: they advance.
const JUMP: &str = "skip:B1 intake@primary:+1";

fn engine(text: &str) -> Engine {
    Engine::parse(text, Path::new("engine.toml")).expect("the description is sound")
}

fn with(from: &str, to: &str) -> String {
    assert!(DEMO.contains(from), "the demonstration engine has {from}");
    DEMO.replacen(from, to, 1)
}

/// A capture of an engine as it is built, with these faults; clean, so that nothing else holds the
/// verdict back.
fn capture(built: &Engine, faults: &[&str]) -> Capture {
    let faults: Vec<Fault> = faults.iter().map(|words| words.parse().expect("a fault")).collect();
    let scenario = Scenario {
        faults,
        preset: Preset::Clean,
        seconds: 4.0,
        leads: vec![],
        ..Scenario::new(built.clone())
    };
    generate(&scenario).expect("a scenario that can be made").capture
}

fn check(capture: Capture, described: &Engine) -> Analysis {
    let options = Options { codes: vec!["P0018".into()], ..Options::default() };
    analyse(&[capture], described, &options).expect("there is a crank angle")
}

/// The values of a lead, to be spoiled.
fn lead<'a>(capture: &'a mut Capture, name: &str) -> &'a mut Vec<f32> {
    let of = capture.channels.iter_mut().find(|channel| channel.name == name);
    of.expect("the lead is there").values.to_mut()
}

fn assert_held_back(analysis: &Analysis, why: &str) {
    let verdict = &analysis.verdict;
    assert_eq!(verdict.state, State::CannotTell, "{why}: {}", finding(&analysis.engine, verdict));
}

/// Whether a warning about something contains these words.
fn warns(analysis: &Analysis, about: &str, words: &str) -> bool {
    warnings(analysis).iter().any(|one| one.about == about && one.text.contains(words))
}

#[test]
fn good_leads_are_believed() {
    // Without this the rest would pass on a program that never says anything.
    let demo = engine(DEMO);
    let sound = check(capture(&demo, &[]), &demo);
    assert_eq!(sound.verdict.state, State::InTime, "{}", finding(&sound.engine, &sound.verdict));
    let jumped = check(capture(&demo, &[JUMP]), &demo);
    assert_eq!(jumped.verdict.state, State::Jumped, "{}", finding(&jumped.engine, &jumped.verdict));
    assert_eq!(jumped.verdict.teeth, Some(1));
}

#[test]
fn a_dead_lead_is_said_and_its_cam_is_not_said_to_be_in_time() {
    let demo = engine(DEMO);
    for faults in [&[][..], &[JUMP][..]] {
        let mut capture = capture(&demo, faults);
        lead(&mut capture, "B1 intake").fill(2.5);
        let analysis = check(capture, &demo);
        // What was read of the other bank is no finding of this one.
        let verdict = &analysis.verdict;
        assert!(!verdict.is_decided(false), "the lead of the bank that may have jumped is dead");
        assert!(!verdict.covers.contains(&0) && !verdict.covers_every_cam, "{:?}", verdict.covers);
        assert!(warns(&analysis, "B1 intake", "No signal"), "{:?}", warnings(&analysis));
        assert!(warns(&analysis, "B1 intake", "Not measured"), "{:?}", warnings(&analysis));
    }
}

#[test]
fn a_clipped_lead_is_said_and_makes_nothing_surer() {
    let demo = engine(&DEMO.replace("sensor = \"hall\"\nat ", "sensor = \"reluctance\"\nat "));
    let whole = capture(&demo, &[JUMP]);
    let mut clipped = whole.clone();
    let values = lead(&mut clipped, "B1 intake");
    let limit = 0.3 * values.iter().fold(0.0_f32, |most, value| most.max(value.abs()));
    values.iter_mut().for_each(|value| *value = value.clamp(-limit, limit));
    let (whole, clipped) = (check(whole, &demo), check(clipped, &demo));
    assert!(warns(&clipped, "B1 intake", "limit of the scope's range"), "{:?}", warnings(&clipped));
    assert_ne!(clipped.verdict.state, State::InTime);
    let of = |analysis: &Analysis| analysis.verdict.explanations[0].probability;
    let read = |analysis: &Analysis| {
        let cam = &analysis.cams[0];
        format!(
            "{:?} ± {:?}, {:?}",
            cam.deviation(),
            cam.measured.half_width95,
            cam.measured.cycle_sd
        )
    };
    // The line through zero is fitted to samples within a share of the smaller peak, fewer of a
    // clipped lead: it reads 18.78 ± 0.20 in place of 18.83 ± 0.21, which moves the odds by 4e-6.
    assert!(
        of(&clipped) <= of(&whole) + 1e-5,
        "{} after {}: {} after {}",
        of(&clipped),
        of(&whole),
        read(&clipped),
        read(&whole)
    );
}

#[test]
fn without_a_reference_nothing_is_judged() {
    let text = with("at     = 137.0\nat_sd  = 0.8\n", "");
    let text = text.replace(
        "same_as = { cam = \"B1 intake\", later = 360.0 }\nat_sd   = 0.8",
        "wheel = \"three-uneven\"\nsensor = \"hall\"",
    );
    let (demo, described) = (engine(DEMO), engine(&text));
    for faults in [&[][..], &[JUMP][..]] {
        let analysis = check(capture(&demo, faults), &described);
        assert_held_back(&analysis, "no cam has a place");
        assert_eq!(analysis.cams.len(), 2, "they are measured all the same");
        assert!(analysis.cams.iter().all(|cam| cam.deviation().is_none()));
    }
}

#[test]
fn cams_known_against_each_other_show_one_bank_and_not_all() {
    let described = engine(&with("at     = 137.0\nat_sd  = 0.8\n", ""));
    let demo = engine(DEMO);
    // A skip at the crank moves both alike.
    for faults in [&[][..], &["skip:crank@primary:+1"][..]] {
        let analysis = check(capture(&demo, faults), &described);
        assert_held_back(&analysis, "a skip at the crank would not show");
        assert!(warns(&analysis, "reference", "only known against each other"));
    }
    let one = check(capture(&demo, &[JUMP]), &described);
    assert_ne!(one.verdict.state, State::InTime, "{}", finding(&one.engine, &one.verdict));
}

#[test]
fn a_wheel_that_fits_as_well_one_tooth_round_accuses_nobody() {
    // Four teeth a quarter turn apart, but for one that stands 1° (2° of the crank) off: which is
    // which is guesswork.
    let wheel = "wheel = { teeth = [ { start = 0.0, end = 20.0 }, { start = 90.0, end = 110.0 }, \
                 { start = 180.0, end = 200.0 }, { start = 271.0, end = 291.0 } ] }";
    let described = engine(&with("wheel  = \"three-uneven\"", wheel));
    let analysis = check(capture(&described, &[]), &described);
    for cam in &analysis.cams {
        assert!(cam.measured.fit < 0.3, "the wheel is nearly even: {}", cam.measured.fit);
    }
    assert_ne!(
        analysis.verdict.state,
        State::Jumped,
        "{}",
        finding(&analysis.engine, &analysis.verdict)
    );
    // And where it did jump the odds are no surer than with a wheel that fits one way only.
    let jumped = check(capture(&described, &[JUMP]), &described).verdict;
    assert!(
        jumped.state == State::CannotTell || jumped.teeth == Some(1),
        "{}",
        finding(&described, &jumped)
    );
    let plain = engine(DEMO);
    let sure = check(capture(&plain, &[JUMP]), &plain).verdict;
    assert!(jumped.explanations[0].probability < sure.explanations[0].probability);
}

#[test]
fn a_three_way_crank_wheel_leaves_one_cam_open_and_says_so() {
    let text = with("wheel  = \"36-2\"", "wheel  = \"36-2-2-2-thirds\"");
    let described = engine(&text);
    let whole = check(capture(&described, &[]), &described);
    assert_eq!(whole.verdict.state, State::InTime, "{}", finding(&whole.engine, &whole.verdict));
    let mut one = capture(&described, &[]);
    one.channels.retain(|channel| channel.name != "B2 intake");
    let analysis = check(one, &described);
    assert_held_back(&analysis, "the other bank has no lead");
    assert!(warns(&analysis, "symmetry", "every 120°"), "{:?}", warnings(&analysis));
    // A wheel a third of a turn round looks right: the cam's place is known modulo 120° and no
    // more.
    assert_eq!(analysis.crank.angle.known_modulo().get(), 120.0);
}

#[test]
fn a_crank_that_loses_teeth_holds_every_verdict_back() {
    let demo = engine(DEMO);
    for faults in [&[][..], &[JUMP][..]] {
        let mut capture = capture(&demo, faults);
        // Twenty milliseconds in every two hundred without a signal: two or three teeth of some two
        // dozen.
        for stretch in lead(&mut capture, "crank").chunks_mut(4_000) {
            let gone = stretch.len().min(400);
            stretch[..gone].fill(0.0);
        }
        let analysis = check(capture, &demo);
        assert_held_back(&analysis, "teeth of the crank are lost all the time");
        assert!(warns(&analysis, "crank", "teeth missing"), "{:?}", warnings(&analysis));
    }
}
