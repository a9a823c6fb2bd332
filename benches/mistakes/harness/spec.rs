//! An engine description in parts, so that single figures of it can be mistyped, and the engines
//! whose truth is known.

use std::fmt::Write as _;
use std::path::Path;

use camwitness::engine::Engine;

/// What the description says of a cam's phaser.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Phaser {
    /// That it has none.
    None,
    /// Nothing.
    Unsaid,
    /// Where it rests, and how far it goes.
    Rests(&'static str, f64),
}

/// Where a cam belongs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// `at`.
    At(f64),
    /// `same_as`: index of the other cam, `later`.
    Later(usize, f64),
}

/// One cam.
#[derive(Debug, Clone, PartialEq)]
pub struct Cam {
    pub name: &'static str,
    pub bank: u32,
    pub shaft: &'static str,
    pub wheel: &'static str,
    pub place: Place,
    pub phaser: Phaser,
}

/// One chain: name, kind, driver and driven with their teeth.
pub type Chain = (&'static str, &'static str, (&'static str, u32), Vec<(&'static str, u32)>);

/// A description.
#[derive(Debug, Clone, PartialEq)]
pub struct Spec {
    pub name: &'static str,
    pub firing: &'static str,
    pub banks: &'static str,
    /// The crank's wheel as it is written, notation or table.
    pub crank_wheel: String,
    pub sensor: &'static str,
    pub edge: Option<&'static str>,
    pub tdc: f64,
    pub tolerance: f64,
    pub at_sd: Option<f64>,
    pub cams: Vec<Cam>,
    pub chains: Vec<Chain>,
}

impl Spec {
    /// The engine file.
    pub fn text(&self) -> String {
        let mut text = format!(
            "name = \"{}\"\nfiring_order = {}\ntolerance = {:.1}\n[banks]\n{}[crank]\nwheel = {}\nsensor = \"{}\"\n",
            self.name, self.firing, self.tolerance, self.banks, self.crank_wheel, self.sensor
        );
        if let Some(edge) = self.edge {
            let _ = writeln!(text, "edge = \"{edge}\"");
        }
        let _ = writeln!(text, "tdc = {:.1}", self.tdc);
        for cam in &self.cams {
            let _ = writeln!(
                text,
                "[[cam]]\nname = \"{}\"\nbank = {}\nshaft = \"{}\"",
                cam.name, cam.bank, cam.shaft
            );
            match cam.place {
                Place::At(at) => {
                    let at = at.rem_euclid(720.0);
                    let _ = writeln!(
                        text,
                        "wheel = \"{}\"\nsensor = \"hall\"\nat = {at:.1}",
                        cam.wheel
                    );
                    if let Some(sd) = self.at_sd {
                        let _ = writeln!(text, "at_sd = {sd:.1}");
                    }
                }
                Place::Later(other, later) => {
                    let (to, later) = (self.cams[other].name, later.rem_euclid(720.0));
                    let _ = writeln!(text, "same_as = {{ cam = \"{to}\", later = {later:.1} }}");
                }
            }
            match cam.phaser {
                Phaser::None => text += "phaser = \"none\"\n",
                Phaser::Unsaid => {}
                Phaser::Rests(rest, travel) => {
                    let _ =
                        writeln!(text, "phaser = {{ rest = \"{rest}\", travel = {travel:.1} }}");
                }
            }
        }
        for (name, kind, driver, driven) in &self.chains {
            let to: Vec<String> = driven
                .iter()
                .map(|(on, teeth)| format!("{{ on = \"{on}\", teeth = {teeth} }}"))
                .collect();
            let _ = writeln!(
                text,
                "[[chain]]\nname = \"{name}\"\nkind = \"{kind}\"\ndriver = {{ on = \"{}\", teeth = {} }}\ndriven = [{}]",
                driver.0,
                driver.1,
                to.join(", ")
            );
        }
        text
    }

    /// The description read.
    pub fn engine(&self) -> Result<Engine, String> {
        Engine::parse(&self.text(), Path::new("engine.toml")).map_err(|error| error.to_string())
    }

    /// Crank degrees a tooth of the first chain.
    pub fn tooth(&self) -> f64 {
        360.0 / f64::from(self.chains.first().map_or(20, |chain| chain.2.1))
    }
}

/// The engines: one, two and four cams, in line, V6 and V8, with phasers and without, with an idler
/// and secondary chains.
pub fn engines() -> Vec<Spec> {
    let v6 = ("[1, 6, 5, 4, 3, 2]", "1 = [1, 2, 3]\n2 = [4, 5, 6]\n");
    let v6_in_turn = ("[1, 2, 3, 4, 5, 6]", "1 = [1, 3, 5]\n2 = [2, 4, 6]\n");
    let v8 = ("[1, 8, 4, 3, 6, 5, 7, 2]", "1 = [1, 3, 5, 7]\n2 = [2, 4, 6, 8]\n");
    let four = ("[1, 3, 4, 2]", "1 = [1, 2, 3, 4]\n");
    let three = ("[1, 2, 3]", "1 = [1, 2, 3]\n");
    let cam =
        |name, bank, shaft, wheel, place, phaser| Cam { name, bank, shaft, wheel, place, phaser };
    let retarded = Phaser::Rests("retarded", 46.0);
    let advanced = Phaser::Rests("advanced", 38.0);
    let base = |name, (firing, banks): (&'static str, &'static str), wheel: &str, tdc| Spec {
        name,
        firing,
        banks,
        crank_wheel: format!("\"{wheel}\""),
        sensor: "hall",
        edge: Some("falling"),
        tdc,
        tolerance: 5.0,
        at_sd: Some(1.0),
        cams: vec![],
        chains: vec![],
    };
    let two = |wheel, at, later, phaser| {
        vec![
            cam("B1 intake", 1, "intake", wheel, Place::At(at), phaser),
            cam("B2 intake", 2, "intake", wheel, Place::Later(0, later), phaser),
        ]
    };
    let over_both = |crank| {
        (
            "primary",
            "chain",
            ("crank", crank),
            vec![("B1 intake", 2 * crank), ("B2 intake", 2 * crank)],
        )
    };
    let secondary = |name, from, to, teeth| (name, "chain", (from, teeth), vec![(to, teeth)]);
    let twin = |one, other, at: f64, exhaust: f64, later: f64, intake, outlet| {
        vec![
            cam("B1 intake", 1, "intake", one, Place::At(at), intake),
            cam("B1 exhaust", 1, "exhaust", other, Place::At(at + exhaust), outlet),
            cam("B2 intake", 2, "intake", one, Place::Later(0, later), intake),
            cam("B2 exhaust", 2, "exhaust", other, Place::Later(1, later), outlet),
        ]
    };
    vec![
        Spec {
            cams: two("three-uneven", 137.0, 360.0, retarded),
            chains: vec![over_both(19)],
            ..base("V6, banks half a cycle apart, phasers", v6, "36-2", 86.0)
        },
        Spec {
            cams: two("four-plus-one", 301.0, 240.0, Phaser::None),
            chains: vec![over_both(21)],
            ..base("V6, banks 240 apart", v6_in_turn, "60-2", 114.0)
        },
        Spec {
            cams: twin(
                "three-uneven",
                "two-narrow-two-wide",
                95.0,
                62.0,
                240.0,
                retarded,
                Phaser::None,
            ),
            chains: vec![
                over_both(20),
                secondary("bank 1 secondary", "B1 intake", "B1 exhaust", 28),
                secondary("bank 2 secondary", "B2 intake", "B2 exhaust", 28),
            ],
            ..base("V6, four cams, two kinds of wheel", v6_in_turn, "60-2", 78.0)
        },
        Spec {
            cams: twin(
                "six-minus-one",
                "six-minus-one",
                210.0,
                110.0,
                120.0,
                Phaser::None,
                Phaser::None,
            ),
            chains: vec![
                ("primary", "chain", ("crank", 24), vec![("idler", 32)]),
                ("cam drive", "chain", ("idler", 20), vec![("B1 intake", 30), ("B2 intake", 30)]),
                secondary("bank 1 secondary", "B1 intake", "B1 exhaust", 26),
                secondary("bank 2 secondary", "B2 intake", "B2 exhaust", 26),
            ],
            ..base("V6, four cams, idler, one kind of wheel", v6_in_turn, "36-2", 61.0)
        },
        Spec {
            cams: twin("three-uneven", "three-uneven", 402.0, 251.0, 270.0, retarded, advanced),
            chains: vec![
                over_both(22),
                secondary("bank 1 secondary", "B1 intake", "B1 exhaust", 30),
                secondary("bank 2 secondary", "B2 intake", "B2 exhaust", 30),
            ],
            ..base("V8, four cams, phasers on all", v8, "60-2", 132.0)
        },
        Spec {
            cams: two("two-narrow-two-wide", 533.0, 450.0, Phaser::None),
            chains: vec![over_both(23)],
            ..base("V8, one cam a bank", v8, "36-1", 45.0)
        },
        Spec {
            cams: vec![cam("cam", 1, "single", "three-uneven", Place::At(188.0), Phaser::None)],
            chains: vec![("timing", "belt", ("crank", 20), vec![("cam", 40)])],
            ..base("in line, one cam, belt", four, "60-2", 96.0)
        },
        Spec {
            cams: vec![
                cam("intake", 1, "intake", "three-uneven", Place::At(260.0), retarded),
                cam("exhaust", 1, "exhaust", "three-uneven", Place::At(14.0), advanced),
            ],
            chains: vec![("timing", "chain", ("crank", 18), vec![("intake", 36), ("exhaust", 36)])],
            ..base("in line, two cams, phasers", four, "60-2", 84.0)
        },
        Spec {
            cams: vec![
                cam("intake", 1, "intake", "four-plus-one", Place::At(71.0), Phaser::None),
                cam("exhaust", 1, "exhaust", "four-plus-one", Place::Later(0, 250.0), Phaser::None),
            ],
            chains: vec![("timing", "chain", ("crank", 21), vec![("intake", 42), ("exhaust", 42)])],
            ..base("in line, two cams by one figure", four, "36-2", 105.0)
        },
        Spec {
            cams: vec![
                cam("intake", 1, "intake", "six-minus-one", Place::At(615.0), retarded),
                cam("exhaust", 1, "exhaust", "three-uneven", Place::At(333.0), Phaser::None),
            ],
            chains: vec![("timing", "chain", ("crank", 19), vec![("intake", 38), ("exhaust", 38)])],
            ..base("three in line, two cams", three, "36-2", 70.0)
        },
    ]
}
