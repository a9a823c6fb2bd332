//! Signal health, codes and the words.

use super::bench::*;
use crate::crank::Polarity;
use crate::edges::{Glitches, SignalFault};
use crate::units::Seconds;
use crate::verdict::{Caveat, Kind, State};

#[test]
fn a_crank_that_was_not_counted_surely_holds_every_verdict_back() {
    for deviations in [[0.2, 0.1], [360.0 / 21.0, 0.0]] {
        let mut bench = Bench::new(engine(V6), &deviations);
        assert_ne!(bench.weigh().state, State::CannotTell);
        bench.crank.confidence = 0.9;
        let verdict = bench.weigh();
        assert_eq!(verdict.state, State::CannotTell, "{}", told(&verdict));
        assert_eq!(verdict.caveats[0], Caveat::CrankNotCounted);
        bench.crank.confidence = 1.0;
        bench.crank.missed = 90;
        assert_eq!(bench.weigh().state, State::CannotTell);
    }
}

#[test]
fn a_wheel_that_fits_two_ways_holds_a_jump_back() {
    let mut bench = Bench::new(engine(V6), &[360.0 / 21.0, 0.0]);
    bench.cams[0].measured.fit = 0.1;
    let verdict = bench.weigh();
    assert_ne!(verdict.state, State::Jumped, "{}", told(&verdict));
}

#[test]
fn every_fault_is_said_with_its_lead() {
    // A wheel given tooth by tooth says which way up the signal is; of slots the analysis tells
    // more.
    let as_teeth = V6.replace(
        "wheel = \"36-2\"\nsensor = \"hall\"\nedge = \"falling\"",
        "wheel = \"24-wide-narrow\"\nsensor = \"hall\"",
    );
    let mut bench = Bench::new(engine(&as_teeth), &[0.0, 0.0]);
    bench.crank.polarity = Polarity::Inverted;
    bench.faults = vec![
        ("B1".into(), SignalFault::Noisy(0.3)),
        ("B2".into(), SignalFault::Clipped(0.1)),
        ("starter".into(), SignalFault::Dead),
        ("B1".into(), SignalFault::Wrapped(2)),
        ("B1".into(), SignalFault::Glitches(Glitches { count: 7, longest: Seconds(2e-6) })),
    ];
    bench.cams[1].measured.edges.truncate(4);
    let caveats = bench.weigh().caveats;
    for (lead, fault) in &bench.faults {
        let said = Caveat::Signal { lead: lead.clone(), fault: *fault };
        assert!(caveats.contains(&said), "{said:?} in {caveats:#?}");
    }
    assert!(caveats.contains(&Caveat::EdgesNeverSeen { cam: 1, edges: 2 }), "{caveats:#?}");
}

#[test]
fn codes_are_answered_and_a_stranger_is_not_guessed() {
    // Names from memory of SAE J2012 / ISO 15031-6.
    let mut bench = Bench::new(engine(V6), &[360.0 / 21.0, 0.0]);
    bench.codes = ["p0016", " P0018 ", "P00 11", "P0012", "P9Z99", "P0335", "P0016", "P0008"]
        .map(String::from)
        .to_vec();
    let verdict = bench.weigh();
    assert_eq!(verdict.state, State::Jumped);
    let told: Vec<(&str, Option<bool>)> =
        verdict.codes.iter().map(|a| (a.code.as_str(), a.explained())).collect();
    let want = [
        ("P0016", Some(true)),
        ("P0018", Some(false)),
        ("P0011", Some(false)),
        ("P0012", Some(true)),
        ("P9Z99", None),
        ("P0335", Some(false)),
        ("P0008", Some(true)),
    ];
    assert_eq!(told, want, "{:#?}", verdict.codes);
    bench.faults = vec![("crank".into(), SignalFault::Noisy(0.4))];
    let verdict = bench.weigh();
    let crank = verdict.codes.iter().find(|a| a.code == "P0335").expect("answered");
    assert_eq!(crank.explained(), Some(true));
    // Codes that a cam off its place on one bank may set, and codes that it does not.
    bench.faults.clear();
    bench.codes =
        ["P0301", "P0302", "P0300", "P0312", "P000A", "P0013", "P0385"].map(str::to_owned).to_vec();
    let verdict = bench.weigh();
    let told: Vec<(&str, Option<bool>)> =
        verdict.codes.iter().map(|a| (a.code.as_str(), a.explained())).collect();
    let want = [
        ("P0301", Some(true)),
        ("P0302", Some(false)),
        ("P0300", Some(true)),
        ("P0312", Some(false)),
        ("P000A", Some(false)),
        ("P0013", Some(false)),
        ("P0385", None),
    ];
    assert_eq!(told, want, "{:#?}", verdict.codes);
}

#[test]
fn a_correlation_code_lifts_the_odds_of_a_skip() {
    let with = |codes: &[&str]| {
        let mut bench = Bench::new(engine(V6), &[0.0, 0.0]);
        bench.codes = codes.iter().map(|c| (*c).to_owned()).collect();
        bench.cams.clear();
        let verdict = bench.weigh();
        let skips = verdict.explanations.iter().filter(|e| e.kind == Kind::Skip);
        skips.map(|e| e.probability).sum::<f64>()
    };
    assert!(with(&["P0017"]) > 3.0 * with(&[]));
    assert!((with(&["P0335"]) - with(&[])).abs() < 1e-12);
}

#[test]
fn the_words_of_states_and_kinds_are_those_of_the_result() {
    use crate::verdict::State;
    for state in State::ALL {
        let json = serde_json::to_string(&state).expect("a word");
        assert_eq!(json, format!("\"{}\"", state.word()));
    }
    for kind in Kind::ALL {
        let json = serde_json::to_string(&kind).expect("a word");
        assert_eq!(json, format!("\"{}\"", kind.word()));
    }
}

#[test]
fn nothing_panics_on_odd_numbers() {
    for odd in [f64::NAN, f64::INFINITY, 1e300, -0.0] {
        let mut bench = Bench::new(engine(V6), &[3.0, 0.0]);
        bench.crank.confidence = odd;
        bench.cams[0].measured.half_width95.0 = odd;
        bench.cams[0].measured.fit = odd;
        bench.cams[1].measured.cycle_sd = Some(crate::units::CrankDelta(odd));
        bench.cams[1].measured.cycles[0].off.0 = odd;
        bench.cams[1].measured.edges[0].off.0 = odd;
        let verdict = bench.weigh();
        assert!(!verdict.explanations.is_empty());
    }
}
