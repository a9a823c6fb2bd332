//! Figures of the description: places, relations, TDC, the crank wheel's edge and gap.

use camwitness::verdict::Mistake;

use super::super::spec::Place;
use super::hand::{all_at, every, gap, last_at, last_later, other_shaft, plain, typed};
use super::{ALIKE, ELSEWHERE, FIGURE, Kind, LEADS, harmless, kind};

/// In the order of the table.
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
        Kind {
            alike: Some("two places exchanged are what their leads exchanged make"),
            ..kind(
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
            )
        },
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
    ]
}
