//! The technician's sentences, read whole: one row for each kind, reason and thing left open.

use std::path::Path;

use super::*;
use crate::engine::Engine;
use crate::units::CrankDelta;
use crate::verdict::{
    CamDeviation, Cranking, Kind, Mistake, Open, PhaserSaid, Place, Questions, Reason, SecondFault,
    SkipShift, State, Unobservable, Verdict, Weighed,
};

mod explanations;
mod findings;

/// An invented V6 with four cams: a primary chain to the intakes, one of 28 on 28 teeth on each
/// bank.
fn engine() -> Engine {
    let cam = |name: &str, bank: u32, shaft: &str, at: f64| {
        format!(
            "[[cam]]\nname = \"{name}\"\nbank = {bank}\nshaft = \"{shaft}\"\nsensor = \"hall\"\n\
             wheel = \"three-uneven\"\nat = {at}\nphaser = {{ rest = \"retarded\", travel = 50.0 }}\n"
        )
    };
    let chain = |name: &str, driver: &str, driven: &str| {
        format!(
            "[[chain]]\nname = \"{name}\"\nkind = \"chain\"\ndriver = {driver}\ndriven = [{driven}]\n"
        )
    };
    let on = |on: &str, teeth: u32| format!("{{ on = \"{on}\", teeth = {teeth} }}");
    let text = [
        "name = \"invented V6\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n[banks]\n1 = [1, 2, 3]\n2 = [4, 5, 6]\n\
         [crank]\nwheel = \"36-2\"\nsensor = \"hall\"\nedge = \"falling\"\n"
            .to_owned(),
        cam("B1 intake", 1, "intake", 113.0),
        cam("B1 exhaust", 1, "exhaust", 173.0),
        cam("B2 intake", 2, "intake", 353.0),
        cam("B2 exhaust", 2, "exhaust", 413.0),
        chain("primary", &on("crank", 21), &[on("B1 intake", 42), on("B2 intake", 42)].join(", ")),
        chain("bank 1", &on("B1 intake", 28), &on("B1 exhaust", 28)),
        chain("bank 2 chain", &on("B2 intake", 28), &on("B2 exhaust", 28)),
    ];
    Engine::parse(&text.concat(), Path::new("engine.toml")).expect("a sound description")
}

fn at(cam: usize, late: f64) -> CamDeviation {
    CamDeviation { cam, deviation: CrankDelta(late), against: None }
}

fn weighed(kind: Kind, on: Option<&str>, moves: &[&str], reason: Reason) -> Weighed {
    Weighed {
        kind,
        on: on.map(str::to_owned),
        chain: None,
        teeth: None,
        links: None,
        moves: moves.iter().map(|&name| name.to_owned()).collect(),
        crossed_with: None,
        probability: 0.6,
        reason,
        second_fault: SecondFault::None,
    }
}

/// A tooth late at the intake of bank 1, by 25.1° and 24.6°.
fn skip() -> Weighed {
    let shift = Some(SkipShift { by: CrankDelta(17.142_857), tooth: CrankDelta(17.142_857) });
    let reason = Reason::Skip { stand: vec![at(0, 17.4), at(1, 16.9)], shift, same_as: vec![] };
    let moves = ["B1 intake", "B1 exhaust"];
    Weighed {
        chain: Some("primary".into()),
        teeth: Some(1),
        links: Some(1),
        ..weighed(Kind::Skip, Some("B1 intake"), &moves, reason)
    }
}

fn skip_of_unknown_size(moves: &[&str]) -> Weighed {
    let reason = Reason::Skip { stand: vec![at(3, -22.0)], shift: None, same_as: vec![] };
    weighed(Kind::Skip, None, moves, reason)
}

fn wear(chain: Option<&str>, moves: &[&str], scatter: Option<f64>) -> Weighed {
    let reason = Reason::Wear { stand: vec![at(0, 6.2)], scatter: scatter.map(CrankDelta) };
    Weighed { chain: chain.map(str::to_owned), ..weighed(Kind::Wear, None, moves, reason) }
}

fn phasers(on: Option<&str>, moves: &[&str], travel: Option<f64>) -> Weighed {
    let travel = travel.map(CrankDelta);
    let reason =
        Reason::PhaserOffRest { stand: vec![at(0, -20.0)], travel, said: PhaserSaid::Described };
    weighed(Kind::PhaserOffRest, on, moves, reason)
}

/// The phaser of B1 intake, of which the description says this.
fn said(said: PhaserSaid) -> Weighed {
    let reason = Reason::PhaserOffRest { stand: vec![at(0, -20.0)], travel: None, said };
    weighed(Kind::PhaserOffRest, Some("B1 intake"), &["B1 intake"], reason)
}

const ALL: [&str; 4] = ["B1 intake", "B1 exhaust", "B2 intake", "B2 exhaust"];
