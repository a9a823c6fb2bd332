//! The plan's arithmetic against hand-worked figures.

use std::path::Path;

use super::*;

/// The rates that the crank and the cams ask for.
fn timing(plan: &Plan) -> &TimingRate {
    plan.timing.as_ref().expect("a crank is described")
}

fn engine() -> Engine {
    let text = include_str!("../../demo-data/engine.toml");
    Engine::parse(text, Path::new("engine.toml")).expect("the demonstration engine")
}

#[test]
fn the_rate_follows_step_over_root_twelve() {
    // Worked by hand: 200 rpm is 1200°/s, 1500°/s at its fastest; 1.96 · √2 · 1500 / (0.3 · √12) =
    // 4000.8.
    let plan = Plan::for_engine(&engine(), PlanOptions::default()).expect("a plan");
    assert!(
        (timing(&plan).rate_for_timing - 4000.8).abs() < 0.5,
        "{}",
        timing(&plan).rate_for_timing
    );
    // 36 slots, half a slot high: 5° per level; 4 · 1500 / 5 = 1200.
    assert!(
        (timing(&plan).rate_for_shape - 1200.0).abs() < 1e-6,
        "{}",
        timing(&plan).rate_for_shape
    );
    assert_eq!(plan.rate, 5000.0);
    // 1500 / 5000 / √12 = 0.0866.
    assert!((timing(&plan).edge_sd.0 - 0.0866).abs() < 1e-4, "{:?}", timing(&plan).edge_sd);
}

#[test]
fn a_fine_reluctance_wheel_asks_for_more_samples() {
    let text = include_str!("../../demo-data/engine.toml").replace(
        "wheel  = \"36-2\"\nsensor = \"hall\"",
        "wheel = \"60-2\"\nsensor = \"reluctance\"",
    );
    let engine = Engine::parse(&text, Path::new("engine.toml")).expect("an engine");
    let plan = Plan::for_engine(&engine, PlanOptions::default()).expect("a plan");
    // Teeth 6° apart: 20 · 1500 / 6 = 5000.
    assert!(
        (timing(&plan).rate_for_shape - 5000.0).abs() < 1e-6,
        "{}",
        timing(&plan).rate_for_shape
    );
    assert_eq!(timing(&plan).finest.lead, "crank");
}

#[test]
fn output_pulses_ask_for_samples_by_their_length_at_any_speed() {
    let text = include_str!("../../demo-data/engine.toml").replacen("\"hall\"", "\"pulse\"", 1);
    let engine = Engine::parse(&text, Path::new("engine.toml")).expect("an engine");
    for rpm in [100.0, 200.0, 400.0] {
        let options = PlanOptions { rpm: Rpm(rpm), ..PlanOptions::default() };
        let plan = Plan::for_engine(&engine, options).expect("a plan");
        // 2.5 samples on 45 µs: 2.5 / 45e-6 = 55,556 per second, and the scope's next step.
        assert!(
            (timing(&plan).rate_for_shape - 55_555.6).abs() < 0.1,
            "{rpm}: {}",
            timing(&plan).rate_for_shape
        );
        assert_eq!((plan.rate, timing(&plan).finest.lead.as_str()), (100_000.0, "crank"), "{rpm}");
    }
}

#[test]
fn the_length_follows_students_t() {
    // NIST/SEMATECH e-Handbook 1.3.6.7.2: t(0.975; 4) = 2.776. 2.776 · 0.2 / √5 = 0.2483.
    let plan = Plan::for_engine(&engine(), PlanOptions::default()).expect("a plan");
    assert_eq!(plan.cycles, 5);
    assert!((plan.averaged.0 - 0.2483).abs() < 1e-3);
    // Five cycles of 0.6 s and 1.5 s of lead-in: 4.5 s, so 5 s.
    assert_eq!(plan.seconds, Seconds(5.0));
    // t(0.975; 17) = 2.110, 18 cycles: 2.110 · 0.2 / √18 = 0.0995; 17: 2.120 · 0.2 / √17 = 0.1028.
    let finer = PlanOptions { accuracy: CrankDelta(0.1), ..PlanOptions::default() };
    assert_eq!(Plan::for_engine(&engine(), finer).expect("a plan").cycles, 18);
}

#[test]
fn what_cannot_be_reached_is_refused_with_what_can() {
    let asked = |accuracy: f64, rpm: f64, channels: usize| {
        let options = PlanOptions { accuracy: CrankDelta(accuracy), rpm: Rpm(rpm), channels };
        Plan::for_engine(&engine(), options).expect_err("refused").to_string()
    };
    assert!(asked(0.05, 200.0, 4).contains("0.07 or more"), "{}", asked(0.05, 200.0, 4));
    assert!(asked(f64::NAN, 200.0, 4).contains("accuracy in crank degrees"));
    assert!(asked(0.3, 5.0, 4).contains("60 to 500"));
    assert!(asked(0.3, 200.0, 1).contains("1 is too much or too little for the channels"));
}

#[test]
fn few_channels_make_several_captures_with_the_crank_in_each() {
    let sets = sets::share_out(&engine(), 3);
    assert_eq!(sets.len(), 2);
    for set in &sets {
        assert_eq!(set.leads[0].name, "crank");
        assert_eq!(set.leads.last().map(|lead| lead.name.as_str()), Some("starter"));
    }
    assert_eq!(sets[1].leads[1].name, "B2 intake");
    assert_eq!(sets::share_out(&engine(), 4).len(), 1);
}

#[test]
fn two_channels_begin_with_the_clamp_and_a_coil_then_the_crank_and_each_cam() {
    let sets = sets::share_out(&engine(), 2);
    let names = |set: &CaptureSet| -> Vec<String> {
        set.leads.iter().map(|lead| lead.name.clone()).collect()
    };
    assert_eq!(names(&sets[0]), ["starter", "ignition 1"]);
    assert!(sets[0].has_coil());
    assert_eq!(sets.len(), 1 + engine().cams.len());
    for (set, cam) in sets[1..].iter().zip(&engine().cams) {
        assert_eq!(names(set), ["crank", &cam.name]);
        assert!(!set.has_coil());
    }
}

#[test]
fn an_engine_without_a_crank_asks_for_the_clamp_and_a_coil_and_for_their_rate() {
    let text =
        "name = \"V6\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n[banks]\n1 = [1, 2, 3]\n2 = [4, 5, 6]\n";
    let engine = Engine::parse(text, Path::new("engine.toml")).expect("an engine");
    let plan = Plan::for_engine(&engine, PlanOptions::default()).expect("a plan");
    assert_eq!(plan.sets.len(), 1);
    assert!(plan.timing.is_none());
    // 2.5 samples on 1 ms: 2500 per second, and the scope's next step.
    assert_eq!((plan.rate_for_coil, plan.rate), (Some(2500.0), 5000.0));
}

#[test]
fn rates_are_those_a_scope_offers() {
    for (value, want) in
        [(1.0, 1.0), (1.1, 2.0), (4000.0, 5000.0), (5000.1, 10_000.0), (99.0, 100.0)]
    {
        assert_eq!(round_up(value), want, "{value}");
    }
}
