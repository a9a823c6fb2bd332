//! The mistakes users make, each applied to a right description of the engine and its capture.

use camwitness::capture::Capture;
use camwitness::leads::LeadRequest;
use camwitness::verdict::Mistake;

use super::spec::{Phaser, Place, Spec, engines};

/// What a user hands in: a description, captures, which column is which lead, codes.
#[derive(Debug, Clone)]
pub struct HandedIn {
    pub spec: Spec,
    pub captures: Vec<Capture>,
    pub leads: Vec<LeadRequest>,
    pub codes: Vec<String>,
}

/// What is to be known of the engine to make a mistake on it.
pub struct Before<'a> {
    pub right: &'a Spec,
    pub capture: &'a Capture,
    /// A capture of another engine of the type.
    pub other: &'a Capture,
    /// Crank degrees by which a sound phaser was left off rest in `off_rest`, a capture of its own.
    pub off_rest: Option<&'a Capture>,
}

/// One kind of mistake.
pub struct Kind {
    pub name: &'static str,
    /// Makes it; `None` where this engine cannot have it.
    pub make: fn(&Before) -> Option<HandedIn>,
    /// Whether a mistake that the program names is this one.
    pub is: fn(&Mistake) -> bool,
    /// Why no measurement could tell it from a fault, where none can.
    pub alike: Option<&'static str>,
}

fn plain(before: &Before) -> HandedIn {
    HandedIn {
        spec: before.right.clone(),
        captures: vec![before.capture.clone()],
        leads: vec![],
        codes: vec![],
    }
}

/// Changes the description.
fn typed(before: &Before, change: impl FnOnce(&mut Spec)) -> Option<HandedIn> {
    let mut handed = plain(before);
    change(&mut handed.spec);
    (handed.spec != *before.right).then_some(handed)
}

/// Every `at` by so much.
fn all_at(before: &Before, by: f64) -> Option<HandedIn> {
    typed(before, |spec| {
        for cam in &mut spec.cams {
            if let Place::At(at) = &mut cam.place {
                *at += by;
            }
        }
    })
}

/// Every figure through one function: `at`, and `later` through another.
fn every(before: &Before, at: fn(f64) -> f64, later: fn(f64) -> f64) -> Option<HandedIn> {
    typed(before, |spec| {
        for cam in &mut spec.cams {
            cam.place = match cam.place {
                Place::At(place) => Place::At(at(place)),
                Place::Later(other, by) => Place::Later(other, later(by)),
            };
        }
    })
}

/// The last cam's `later`.
fn last_later(before: &Before, change: impl Fn(f64) -> f64) -> Option<HandedIn> {
    let cam = before.right.cams.iter().rposition(|cam| matches!(cam.place, Place::Later(..)))?;
    typed(before, |spec| {
        if let Place::Later(_, later) = &mut spec.cams[cam].place {
            *later = change(*later);
        }
    })
}

/// The last `at` of several.
fn last_at(before: &Before, by: f64) -> Option<HandedIn> {
    let places = |cam: &super::spec::Cam| matches!(cam.place, Place::At(_));
    if before.right.cams.iter().filter(|cam| places(cam)).count() < 2 {
        return None;
    }
    let cam = before.right.cams.iter().rposition(places)?;
    typed(before, |spec| {
        if let Place::At(at) = &mut spec.cams[cam].place {
            *at += by;
        }
    })
}

/// Leads put on by this order: the lead called like cam `i` is on the column of cam `on(i)`.
fn reordered(before: &Before, on: impl Fn(usize) -> Option<usize>) -> Option<HandedIn> {
    let cams = &before.right.cams;
    let order: Option<Vec<usize>> = (0..cams.len()).map(on).collect();
    let order = order?;
    if order.iter().enumerate().all(|(cam, &on)| cam == on) {
        return None;
    }
    let mut handed = plain(before);
    let lead = |(cam, &on): (usize, &usize)| LeadRequest {
        name: cams[cam].name.into(),
        column: cams[on].name.into(),
        amperes_per_volt: None,
    };
    handed.leads = order.iter().enumerate().map(lead).collect();
    Some(handed)
}

/// The one other cam that fits.
fn partner(spec: &Spec, cam: usize, fits: impl Fn(usize) -> bool) -> Option<usize> {
    let mut others = (0..spec.cams.len()).filter(|&other| other != cam && fits(other));
    others.next().filter(|_| others.next().is_none())
}

fn other_bank(spec: &Spec, cam: usize) -> Option<usize> {
    let of = &spec.cams;
    partner(spec, cam, |other| of[other].bank != of[cam].bank && of[other].shaft == of[cam].shaft)
}

fn other_shaft(spec: &Spec, cam: usize) -> Option<usize> {
    let of = &spec.cams;
    partner(spec, cam, |other| of[other].bank == of[cam].bank && of[other].shaft != of[cam].shaft)
}

/// Two leads exchanged, the rest right.
fn pair(before: &Before, first: usize, second: usize) -> Option<HandedIn> {
    reordered(before, |cam| {
        Some(if cam == first {
            second
        } else if cam == second {
            first
        } else {
            cam
        })
    })
}

/// A channel changed.
fn channel(before: &Before, name: &str, change: impl Fn(&mut Vec<f32>)) -> Option<HandedIn> {
    let mut handed = plain(before);
    let found = handed.captures[0].channels.iter_mut().find(|channel| channel.name == name)?;
    change(&mut found.values);
    Some(handed)
}

/// The gap described so many slots later than it is, for a wheel with one gap.
fn gap(before: &Before, later: i32) -> Option<HandedIn> {
    let wheel = before.right.crank_wheel.trim_matches('"');
    let (slots, gone) = wheel.split_once('-')?;
    let (slots, gone): (i32, i32) = (slots.parse().ok()?, gone.parse().ok()?);
    let missing: Vec<String> = (0..gone)
        .map(|at| ((slots - gone + at + later).rem_euclid(slots) + 1).to_string())
        .collect();
    let table = format!(
        "{{ name = \"crank wheel\", slots = {slots}, missing = [{}] }}",
        missing.join(", ")
    );
    typed(before, |spec| spec.crank_wheel = table)
}

const NAMES_NOTHING: fn(&Mistake) -> bool = |_| false;
const FIGURE: fn(&Mistake) -> bool =
    |named| matches!(named, Mistake::Place(_) | Mistake::Later { .. });
const ALIKE: fn(&Mistake) -> bool = |named| {
    matches!(
        named,
        Mistake::Alike
            | Mistake::Slots { .. }
            | Mistake::HalfTurn { .. }
            | Mistake::CrankEdge { .. }
    )
};
const LEADS: fn(&Mistake) -> bool = |named| matches!(named, Mistake::Leads(_));
const ELSEWHERE: fn(&Mistake) -> bool =
    |named| matches!(named, Mistake::OtherEngine | Mistake::Wheel { .. });

const fn kind(
    name: &'static str,
    make: fn(&Before) -> Option<HandedIn>,
    is: fn(&Mistake) -> bool,
) -> Kind {
    Kind { name, make, is, alike: None }
}

/// A slip that touches nothing that is judged: the verdict on the engine is right as it stands.
const fn harmless(name: &'static str, make: fn(&Before) -> Option<HandedIn>) -> Kind {
    Kind { name, make, is: NAMES_NOTHING, alike: None }
}

/// Every kind.
pub fn kinds() -> Vec<Kind> {
    vec![
        harmless("nothing wrong", |b| Some(plain(b))),
        kind(
            "`at` counted from TDC",
            |b| all_at(b, -b.right.tdc),
            |m| matches!(m, Mistake::FromTdc { .. }),
        ),
        kind(
            "`tdc` added twice",
            |b| all_at(b, b.right.tdc),
            |m| matches!(m, Mistake::FromTdc { .. }),
        ),
        kind(
            "`at` in cam degrees",
            |b| every(b, |at| at / 2.0, |later| later),
            |m| matches!(m, Mistake::Scaled { .. }),
        ),
        kind(
            "`at` and `later` in cam degrees",
            |b| every(b, |at| at / 2.0, |later| later / 2.0),
            |m| matches!(m, Mistake::Scaled { .. }),
        ),
        kind(
            "`at` doubled",
            |b| every(b, |at| at * 2.0, |later| later),
            |m| matches!(m, Mistake::Scaled { .. }),
        ),
        kind("every `at` 27 too high", |b| all_at(b, 27.0), ALIKE),
        kind("every `at` 27 too low", |b| all_at(b, -27.0), ALIKE),
        kind("every `at` 8 too high", |b| all_at(b, 8.0), ALIKE),
        kind("every `at` 8 too low", |b| all_at(b, -8.0), ALIKE),
        kind("every `at` 60 too low", |b| all_at(b, -60.0), ALIKE),
        kind("every `at` half a turn off", |b| all_at(b, 180.0), ALIKE),
        harmless("every `at` a whole turn off", |b| all_at(b, 360.0)),
        Kind {
            alike: Some("a whole tooth on all cams is what a skip at the crank makes"),
            ..kind("every `at` one tooth too high", |b| all_at(b, b.right.tooth()), ALIKE)
        },
        Kind {
            alike: Some("a whole tooth on all cams is what a skip at the crank makes"),
            ..kind("every `at` one tooth too low", |b| all_at(b, -b.right.tooth()), ALIKE)
        },
        kind("one `at` 27 too high", |b| last_at(b, 27.0), FIGURE),
        kind("one `at` 110 too low", |b| last_at(b, -110.0), FIGURE),
        Kind {
            alike: Some("a whole tooth on one cam is what a skip at its sprocket makes"),
            ..kind("one `at` one tooth too low", |b| last_at(b, -b.right.tooth()), FIGURE)
        },
        kind(
            "one `at` in cam degrees",
            |b| {
                let Place::At(at) = b.right.cams.last()?.place else { return None };
                last_at(b, -at / 2.0)
            },
            FIGURE,
        ),
        kind("`later` left at 0", |b| last_later(b, |_| 0.0), FIGURE),
        kind("`later` one turn off", |b| last_later(b, |later| later + 360.0), FIGURE),
        Kind {
            alike: Some("a whole tooth on one cam is what a skip at its sprocket makes"),
            ..kind(
                "`later` one tooth off",
                |b| last_later(b, |later| later + b.right.tooth()),
                FIGURE,
            )
        },
        kind("`later` the wrong way round", |b| last_later(b, |later| -later), FIGURE),
        kind("`later` in cam degrees", |b| last_later(b, |later| later / 2.0), FIGURE),
        kind("`later` 33 too high", |b| last_later(b, |later| later + 33.0), FIGURE),
        kind(
            "places of intake and exhaust exchanged",
            |b| {
                let places: Option<Vec<Place>> = (0..b.right.cams.len())
                    .map(|cam| {
                        let place = b.right.cams[other_shaft(b.right, cam)?].place;
                        matches!(place, Place::At(_)).then_some(place)
                    })
                    .collect();
                let places = places?;
                typed(b, |spec| {
                    spec.cams.iter_mut().zip(places).for_each(|(cam, place)| cam.place = place)
                })
            },
            |m| FIGURE(m) || LEADS(m) || ELSEWHERE(m),
        ),
        harmless("`tdc` 30 too high", |b| typed(b, |spec| spec.tdc += 30.0)),
        harmless("`tdc` of the next cylinder", |b| {
            typed(b, |spec| spec.tdc = (spec.tdc + 120.0) % 360.0)
        }),
        kind(
            "gap described one slot early",
            |b| gap(b, -1),
            |m| matches!(m, Mistake::Slots { .. } | Mistake::Alike | Mistake::CrankEdge { .. }),
        ),
        kind(
            "gap described one slot late",
            |b| gap(b, 1),
            |m| matches!(m, Mistake::Slots { .. } | Mistake::Alike | Mistake::CrankEdge { .. }),
        ),
        kind(
            "the other edge of the crank wheel",
            |b| typed(b, |spec| spec.edge = Some("rising")),
            |m| matches!(m, Mistake::CrankEdge { .. } | Mistake::Slots { .. } | Mistake::Alike),
        ),
        harmless("the marking edge left out", |b| typed(b, |spec| spec.edge = None)),
        kind(
            "leads of both banks' first cams exchanged",
            |b| {
                let first =
                    (0..b.right.cams.len()).find(|&cam| other_bank(b.right, cam).is_some())?;
                pair(b, first, other_bank(b.right, first)?)
            },
            LEADS,
        ),
        kind(
            "leads of intake and exhaust of one bank exchanged",
            |b| pair(b, 0, other_shaft(b.right, 0)?),
            LEADS,
        ),
        kind(
            "leads of the banks exchanged wholesale",
            |b| {
                (b.right.cams.len() > 2)
                    .then(|| reordered(b, |cam| other_bank(b.right, cam)))
                    .flatten()
            },
            LEADS,
        ),
        kind(
            "leads of intake and exhaust exchanged on both banks",
            |b| {
                (b.right.cams.len() > 2)
                    .then(|| reordered(b, |cam| other_shaft(b.right, cam)))
                    .flatten()
            },
            LEADS,
        ),
        kind(
            "leads shifted by one",
            |b| {
                let count = b.right.cams.len();
                (count > 2).then(|| reordered(b, |cam| Some((cam + 1) % count))).flatten()
            },
            LEADS,
        ),
        kind(
            "leads shifted by one the other way",
            |b| {
                let count = b.right.cams.len();
                (count > 2).then(|| reordered(b, |cam| Some((cam + count - 1) % count))).flatten()
            },
            LEADS,
        ),
        kind(
            "one sensor on two channels",
            |b| {
                let mut handed = plain(b);
                let names = [b.right.cams.first()?.name, b.right.cams.get(1)?.name];
                let values = |name: &str| b.capture.channels.iter().find(|one| one.name == name);
                let first = values(names[0])?.values.clone();
                let second =
                    handed.captures[0].channels.iter_mut().find(|one| one.name == names[1])?;
                second.values = first;
                Some(handed)
            },
            NAMES_NOTHING,
        ),
        kind(
            "a cam's lead on the crank sensor",
            |b| {
                let mut handed = plain(b);
                let name = b.right.cams.last()?.name;
                let crank =
                    b.capture.channels.iter().find(|one| one.name == "crank")?.values.clone();
                handed.captures[0].channels.iter_mut().find(|one| one.name == name)?.values = crank;
                Some(handed)
            },
            ELSEWHERE,
        ),
        kind(
            "captures of two engines joined",
            |b| {
                let mut handed = plain(b);
                handed.captures.push(b.other.clone());
                Some(handed)
            },
            NAMES_NOTHING,
        ),
        kind(
            "phaser left out, the cam off rest",
            |b| {
                let mut handed = typed(b, |spec| {
                    spec.cams.iter_mut().for_each(|cam| cam.phaser = Phaser::Unsaid)
                })?;
                handed.captures = vec![b.off_rest?.clone()];
                Some(handed)
            },
            NAMES_NOTHING,
        ),
        kind(
            "phaser said to be absent, the cam off rest",
            |b| {
                let mut handed = typed(b, |spec| {
                    spec.cams.iter_mut().for_each(|cam| cam.phaser = Phaser::None)
                })?;
                handed.captures = vec![b.off_rest?.clone()];
                Some(handed)
            },
            NAMES_NOTHING,
        ),
        kind(
            "rest of the phaser the wrong way, the cam off rest",
            |b| {
                let turned = |phaser| match phaser {
                    Phaser::Rests("retarded", travel) => Phaser::Rests("advanced", travel),
                    Phaser::Rests(_, travel) => Phaser::Rests("retarded", travel),
                    other => other,
                };
                let mut handed = typed(b, |spec| {
                    spec.cams.iter_mut().for_each(|cam| cam.phaser = turned(cam.phaser))
                })?;
                handed.captures = vec![b.off_rest?.clone()];
                Some(handed)
            },
            NAMES_NOTHING,
        ),
        harmless("phasers left out, at rest", |b| {
            typed(b, |spec| spec.cams.iter_mut().for_each(|cam| cam.phaser = Phaser::Unsaid))
        }),
        harmless("phasers described where there are none", |b| {
            typed(b, |spec| {
                spec.cams.iter_mut().for_each(|cam| cam.phaser = Phaser::Rests("retarded", 50.0))
            })
        }),
        harmless("firing order of another engine", |b| {
            typed(b, |spec| {
                spec.firing = match spec.firing {
                    "[1, 3, 4, 2]" => "[1, 2, 4, 3]",
                    "[1, 2, 3]" => "[1, 3, 2]",
                    "[1, 8, 4, 3, 6, 5, 7, 2]" => "[1, 5, 4, 2, 6, 3, 7, 8]",
                    _ => "[1, 4, 3, 6, 5, 2]",
                }
            })
        }),
        harmless("cylinders of the banks exchanged", |b| {
            typed(b, |spec| {
                spec.banks = match spec.banks {
                    "1 = [1, 2, 3]\n2 = [4, 5, 6]\n" => "1 = [4, 5, 6]\n2 = [1, 2, 3]\n",
                    "1 = [1, 3, 5]\n2 = [2, 4, 6]\n" => "1 = [2, 4, 6]\n2 = [1, 3, 5]\n",
                    "1 = [1, 3, 5, 7]\n2 = [2, 4, 6, 8]\n" => {
                        "1 = [2, 4, 6, 8]\n2 = [1, 3, 5, 7]\n"
                    }
                    other => other,
                }
            })
        }),
        kind(
            "engine file of another engine with the same crank wheel",
            |b| {
                let fits = |spec: &&Spec| {
                    spec.name != b.right.name
                        && spec.crank_wheel == b.right.crank_wheel
                        && spec.cams.len() == b.right.cams.len()
                        && spec.cams.iter().zip(&b.right.cams).all(|(a, b)| a.name == b.name)
                };
                let other = engines().iter().find(fits).cloned()?;
                typed(b, |spec| *spec = other)
            },
            |m| ELSEWHERE(m) || FIGURE(m) || ALIKE(m) || LEADS(m),
        ),
        kind(
            "places of another engine of the book",
            |b| {
                let count = b.right.cams.len();
                let other = engines()
                    .into_iter()
                    .find(|spec| spec.cams.len() == count && spec.name != b.right.name)?;
                typed(b, |spec| {
                    spec.cams.iter_mut().zip(&other.cams).for_each(|(cam, of)| cam.place = of.place)
                })
            },
            |m| ELSEWHERE(m) || FIGURE(m) || ALIKE(m),
        ),
        kind(
            "one cam's wheel another of the library",
            |b| {
                typed(b, |spec| {
                    if let Some(cam) =
                        spec.cams.iter_mut().rfind(|cam| matches!(cam.place, Place::At(_)))
                    {
                        cam.wheel =
                            if cam.wheel == "half-moon" { "three-uneven" } else { "half-moon" };
                    }
                })
            },
            ELSEWHERE,
        ),
        kind(
            "all cam wheels another of the library",
            |b| {
                typed(b, |spec| {
                    spec.cams.iter_mut().for_each(|cam| {
                        cam.wheel = if cam.wheel == "three-uneven" {
                            "four-plus-one"
                        } else {
                            "three-uneven"
                        };
                    })
                })
            },
            ELSEWHERE,
        ),
        harmless("sprockets of another variant", |b| {
            typed(b, |spec| {
                spec.chains.iter_mut().take(1).for_each(|chain| {
                    if chain.2.1 != 24 {
                        chain.2.1 += 2;
                        chain.3.iter_mut().for_each(|driven| driven.1 += 4);
                    }
                })
            })
        }),
        kind(
            "a cam's lead delayed by a filter, 10 ms",
            |b| {
                let name = b.right.cams.last()?.name;
                channel(b, name, |values| {
                    let by = DELAY_ROWS.min(values.len());
                    values.rotate_right(by);
                })
            },
            |m| FIGURE(m) || ELSEWHERE(m),
        ),
        harmless("a cam's lead upside down", |b| {
            let name = b.right.cams.last()?.name;
            channel(b, name, |values| values.iter_mut().for_each(|volts| *volts = 5.0 - *volts))
        }),
        harmless("a stale code typed", |b| {
            let mut handed = plain(b);
            handed.codes = vec!["P0016".into()];
            Some(handed)
        }),
        harmless("tolerance far too wide", |b| typed(b, |spec| spec.tolerance = 25.0)),
        kind(
            "`at_sd` far too narrow and the figure 6 off",
            |b| {
                let mut handed = all_at(b, 6.0)?;
                handed.spec.at_sd = Some(0.1);
                Some(handed)
            },
            ALIKE,
        ),
    ]
}

/// Rows that a delay of 10 ms is at the rate of the trials.
pub const DELAY_ROWS: usize = 100;
