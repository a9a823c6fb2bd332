//! Another engine's description or capture, phasers, wheels, and slips that touch nothing.

use camwitness::verdict::Mistake;

use super::super::spec::{Phaser, Place, Spec, engines};
use super::hand::{all_at, channel, plain, typed};
use super::{ALIKE, ELSEWHERE, FIGURE, Kind, LEADS, NAMES_NOTHING, harmless, kind};

/// Rows that a delay of 10 ms is at the rate of the trials.
const DELAY_ROWS: usize = 100;

/// In the order of the table.
pub fn kinds() -> Vec<Kind> {
    vec![
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
            |m| matches!(m, Mistake::Delayed(Some(_))),
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
