//! Invented engines and measurements of them.

use std::path::Path;

use crate::cam::{
    CamPosition, CamResult, CyclePosition, DatumChoice, EdgeResult, Expected, ExpectedFrom,
    LeadOrder, SwappedFit,
};
use crate::crank::{Condition, Polarity};
use crate::edges::SignalFault;
use crate::engine::Engine;
use crate::units::{CrankDeg, CrankDelta, Rpm, Seconds};
use crate::verdict::{
    CompressionEvidence, ControllerReading, CrankFacts, Evidence, Kind, State, TdcEvidence,
    ValveEvidence, Verdict, Weighed, weigh,
};

/// V6, one primary chain over both intake cams, no phasers. 21 teeth: 17.14° a tooth.
pub const V6: &str = r#"
name = "invented V6"
firing_order = [1, 2, 3, 4, 5, 6]
[banks]
1 = [1, 3, 5]
2 = [2, 4, 6]
[crank]
wheel = "36-2"
sensor = "hall"
edge = "falling"
tdc = 74.0
[[cam]]
name = "B1"
bank = 1
shaft = "single"
wheel = "three-uneven"
sensor = "hall"
at = 113.0
at_sd = 1.0
[[cam]]
name = "B2"
bank = 2
shaft = "single"
same_as = { cam = "B1", later = 240.0 }
[[chain]]
name = "primary"
kind = "chain"
driver = { on = "crank", teeth = 21 }
driven = [ { on = "B1", teeth = 42 }, { on = "B2", teeth = 42 } ]
"#;

/// V6 with four cams: a primary chain to both intakes, a secondary chain on each bank
/// (28 teeth on 28: 25.7° a tooth). The intakes have phasers when `PHASER` is put in.
pub const V6_FOUR: &str = r#"
name = "invented four-cam V6"
firing_order = [1, 2, 3, 4, 5, 6]
[banks]
1 = [1, 3, 5]
2 = [2, 4, 6]
[crank]
wheel = "36-2"
sensor = "hall"
edge = "falling"
tdc = 74.0
[[cam]]
name = "B1 intake"
bank = 1
shaft = "intake"
wheel = "three-uneven"
sensor = "hall"
at = 113.0
at_sd = 1.0
PHASER
[[cam]]
name = "B1 exhaust"
bank = 1
shaft = "exhaust"
same_as = { cam = "B1 intake", later = 60.0 }
[[cam]]
name = "B2 intake"
bank = 2
shaft = "intake"
same_as = { cam = "B1 intake", later = 240.0 }
PHASER
[[cam]]
name = "B2 exhaust"
bank = 2
shaft = "exhaust"
same_as = { cam = "B1 intake", later = 300.0 }
[[chain]]
name = "primary"
kind = "chain"
driver = { on = "crank", teeth = 21 }
driven = [ { on = "B1 intake", teeth = 42 }, { on = "B2 intake", teeth = 42 } ]
[[chain]]
name = "bank 1 secondary"
kind = "chain"
driver = { on = "B1 intake", teeth = 28 }
driven = [ { on = "B1 exhaust", teeth = 28 } ]
[[chain]]
name = "bank 2 secondary"
kind = "chain"
driver = { on = "B2 intake", teeth = 28 }
driven = [ { on = "B2 exhaust", teeth = 28 } ]
"#;

/// The phaser most of these cases are about.
pub const PHASER: &str = "phaser = { rest = \"retarded\", travel = 50.0 }";

/// An engine whose cams have the phasers described, and no others.
pub fn engine(text: &str) -> Engine {
    let mut engine = open_about_phasers(text);
    for cam in &mut engine.cams {
        cam.without_phaser = cam.phaser.is_none();
    }
    engine
}

/// The same with phasers left open where none is described.
pub fn open_about_phasers(text: &str) -> Engine {
    Engine::parse(text, Path::new("engine.toml")).expect("the description is sound")
}

pub fn four_cams(phaser: bool) -> Engine {
    engine(&V6_FOUR.replace("PHASER", if phaser { PHASER } else { "" }))
}

/// Crank degrees a tooth of either engine's primary chain.
pub const TOOTH: f64 = 360.0 / 21.0;

/// An engine with measurements, to be changed and weighed.
pub struct Bench {
    pub engine: Engine,
    pub cams: Vec<CamResult>,
    pub crank: CrankFacts,
    pub condition: Condition,
    pub swapped: Vec<SwappedFit>,
    pub reordered: Vec<LeadOrder>,
    pub same_sensor: Vec<(usize, usize)>,
    pub other_wheels: Vec<(usize, String)>,
    pub faults: Vec<(String, SignalFault)>,
    pub compression: Option<CompressionEvidence>,
    pub tdc: Option<TdcEvidence>,
    pub pressure_tdc: Option<TdcEvidence>,
    pub valves: Vec<ValveEvidence>,
    pub controller: Vec<ControllerReading>,
    pub after_repair: bool,
    pub codes: Vec<String>,
    /// Cams with a lead beside those that were measured.
    pub with_lead: Vec<usize>,
    /// Whether the bank that the codes name counts: most cases are about readings alone.
    pub code_evidence: bool,
}

impl Bench {
    /// Every cam measured at the given deviation, clean and steady.
    pub fn new(engine: Engine, deviations: &[f64]) -> Bench {
        assert_eq!(engine.cams.len(), deviations.len(), "a deviation per cam");
        let cams = deviations
            .iter()
            .enumerate()
            .map(|(cam, &deviation)| result(&engine, cam, deviation))
            .collect();
        Bench {
            engine,
            cams,
            crank: CrankFacts {
                lead: "crank".into(),
                confidence: 1.0,
                known_modulo: CrankDelta(360.0),
                polarity: Polarity::Normal,
                teeth_seen: 600,
                missed: 0,
                extra: 0,
                jitter: None,
                other_edge: None,
            },
            condition: Condition::Cranking,
            swapped: vec![],
            reordered: vec![],
            same_sensor: vec![],
            other_wheels: vec![],
            faults: vec![],
            compression: None,
            tdc: None,
            pressure_tdc: None,
            valves: vec![],
            controller: vec![],
            after_repair: false,
            codes: vec!["P0016".into()],
            with_lead: vec![],
            code_evidence: false,
        }
    }

    /// Gives a cam this scatter from cycle to cycle.
    pub fn scatter(mut self, cam: usize, sd: f64) -> Bench {
        set_scatter(&mut self.cams[cam].measured, sd);
        self
    }

    /// The places confirmed on sound engines of the type, as well as `at_sd` of the demonstration
    /// says.
    pub fn confirmed(mut self) -> Bench {
        for cam in &mut self.cams {
            cam.expected = cam.expected.map(|expected| Expected {
                from: ExpectedFrom::KnownGood,
                sd: Some(CrankDelta(1.0)),
                ..expected
            });
        }
        self
    }

    pub fn without_code(mut self) -> Bench {
        self.codes.clear();
        self
    }

    pub fn condition(mut self, condition: Condition) -> Bench {
        self.condition = condition;
        self
    }

    pub fn weigh(&self) -> Verdict {
        weigh(&self.evidence())
    }

    pub fn evidence(&self) -> Evidence<'_> {
        Evidence {
            engine: &self.engine,
            cams: &self.cams,
            crank: self.crank.clone(),
            condition: self.condition,
            swapped: &self.swapped,
            reordered: &self.reordered,
            same_sensor: &self.same_sensor,
            other_wheels: &self.other_wheels,
            faults: &self.faults,
            compression: self.compression.clone(),
            has_starter_lead: self.compression.is_some(),
            has_pressure_lead: self.pressure_tdc.is_some() || !self.valves.is_empty(),
            with_lead: self.with_lead.clone(),
            tdc: self.tdc,
            pressure_tdc: self.pressure_tdc,
            valves: &self.valves,
            controller: &self.controller,
            after_repair: self.after_repair,
            codes: &self.codes,
            code_evidence: self.code_evidence,
        }
    }
}

/// A result that stands `deviation` off; where no position is known, off the relation's
/// own zero, which is put at 200.
pub fn result(engine: &Engine, cam: usize, deviation: f64) -> CamResult {
    let expected = engine.expected(cam);
    let zero = expected.map_or(200.0 + engine.relation_root(cam).1.0, |(at, _)| at.get());
    let measured = position(engine, cam, CrankDeg::new(zero + deviation));
    let expected = expected.map(|(at, sd)| Expected { at, sd, from: ExpectedFrom::EngineFile });
    let settled =
        DatumChoice { shift: CrankDelta(0.0), known_modulo: CrankDelta(720.0), confidence: 1.0 };
    CamResult::against(&engine.cams[cam], measured, expected, &settled, None)
}

/// A clean measurement over nine cycles.
pub fn position(engine: &Engine, cam: usize, at: CrankDeg) -> CamPosition {
    let description = &engine.cams[cam];
    let wheel_edges = description.sensor.shows(&description.wheel, description.edge);
    let edges = wheel_edges
        .iter()
        .map(|edge| EdgeResult {
            kind: edge.kind,
            at: at + edge.at.crank_after_zero(),
            off: CrankDelta(0.1),
            sd: Some(CrankDelta(0.2)),
            n: 9,
            speed: None,
            speed_after: None,
        })
        .collect();
    let mut position = CamPosition {
        cam,
        lead: description.name.clone(),
        polarity: Polarity::Normal,
        position: at,
        half_width95: CrankDelta(0.3),
        cycle_sd: None,
        cycles: vec![],
        edges,
        known_modulo: CrankDelta(720.0 / f64::from(description.wheel.repeats())),
        missed: 0,
        extra: 0,
        fit: 0.98,
    };
    set_scatter(&mut position, 0.2);
    position
}

/// Nine cycles whose offsets have this standard deviation and no trend with speed.
pub fn set_scatter(position: &mut CamPosition, sd: f64) {
    // Standard deviation of this pattern is 1 (sum of squares 8, n − 1 = 8), and it is even
    // about its middle while the speed is odd, so the slope is nothing.
    let pattern = [1.0, -1.0, 1.0, -1.0, 0.0, -1.0, 1.0, -1.0, 1.0];
    position.cycles = pattern
        .iter()
        .enumerate()
        .map(|(cycle, off)| CyclePosition {
            at: Seconds(cycle as f64 * 0.6),
            rpm: Rpm(190.0 + 3.0 * cycle as f64),
            off: CrankDelta(off * sd),
            edges: 6,
            faster: None,
            faster_after: None,
        })
        .collect();
    position.cycle_sd = Some(CrankDelta(sd));
    position.half_width95 = CrankDelta((2.0 * sd / 3.0).max(0.3));
}

/// A verdict in short, for the message of a test that failed.
pub fn told(verdict: &Verdict) -> String {
    let short = |one: &Weighed| {
        let (odds, reason, second) = (one.probability, &one.reason, &one.second_fault);
        format!("{:?} {:?} {:?} {odds:.4}: {reason:?}, {second:?}", one.kind, one.on, one.teeth)
    };
    let top: Vec<String> = verdict.explanations.iter().take(5).map(short).collect();
    format!(
        "{:?} {:.4} {:?}\n{}\nnext: {:?}",
        verdict.state,
        verdict.probability,
        verdict.open,
        top.join("\n"),
        verdict.next_test
    )
}

/// Odds of a kind, all its explanations together.
pub fn odds(verdict: &Verdict, kind: Kind) -> f64 {
    verdict.explanations.iter().filter(|e| e.kind == kind).map(|e| e.probability).sum()
}

/// The state, and that all odds make one.
pub fn assert_state(verdict: &Verdict, want: State) {
    assert_eq!(verdict.state, want, "{}", told(verdict));
    let sum: f64 = verdict.explanations.iter().map(|e| e.probability).sum();
    assert!((sum - 1.0).abs() < 1e-9, "probabilities sum to {sum}");
}
