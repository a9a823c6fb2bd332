//! What is wrong with the description, or with the leads: the technician's words.

use super::phrases::{cams, in_engine_file, list};
use crate::engine::Engine;
use crate::units::CrankDelta;
use crate::verdict::{CamDeviation, Mistake};

/// What is wrong, as a clause: "every `at` in the engine file is counted from TDC of cylinder 1 …".
/// `stand` is where the cams stand that it misplaces.
#[must_use]
pub fn mistake(engine: &Engine, mistake: &Mistake, stand: &[CamDeviation]) -> String {
    let name = |cam: usize| engine.cams[cam].name.as_str();
    match mistake {
        Mistake::FromTdc { missing } if missing.0 >= 0.0 => format!(
            "every `at` is {:.1}° too low, which is `tdc`: they are counted from TDC of cylinder 1 and belong counted from the \
             crank wheel's datum",
            missing.0
        ),
        Mistake::FromTdc { missing } => {
            format!("every `at` is {:.1}° too high, which is `tdc`: it was added twice", -missing.0)
        }
        Mistake::Scaled { factor, later_too } => {
            let what = if *later_too { "every `at` and `later`" } else { "every `at`" };
            if *factor > 1.0 {
                format!("{what} is in cam degrees: doubled, they fit")
            } else {
                format!("{what} is twice what it should be: halved, they fit")
            }
        }
        Mistake::HalfTurn { missing } => {
            format!("every `at` is half a turn of the crank, {:.0}°, off", missing.0.abs())
        }
        Mistake::Slots { slots, missing } => {
            let count = slots.unsigned_abs();
            let word = if count == 1 { "slot" } else { "slots" };
            format!(
                "the gap of the crank wheel is described {count} {word} from where it is: every angle is {:.1}° off",
                missing.0.abs()
            )
        }
        Mistake::CrankEdge { missing } => format!(
            "the places belong to the other edge of the crank wheel's teeth, {:.1}° away",
            missing.0.abs()
        ),
        Mistake::CamEdge { cams: of } => {
            let names: Vec<&str> = of.iter().map(|&cam| name(cam)).collect();
            format!("the places belong to the other edge of the wheel of {}", list(&names))
        }
        Mistake::Alike => {
            format!("every typed place is off alike{}: another variant, edge or datum", by(stand))
        }
        Mistake::Place { cam, missing: Some(missing) } => {
            format!("the `at` of {} should be {}", name(*cam), by_so_much(*missing))
        }
        Mistake::Place { cam, missing: None } => {
            format!("the `at` of {} is off{}", name(*cam), by(stand))
        }
        Mistake::Later { cam, missing: Some(missing) } => {
            format!("the `later` of {} should be {}", name(*cam), by_so_much(*missing))
        }
        Mistake::Later { cam, missing: None } => {
            format!("the `later` of {} is off{}", name(*cam), by(stand))
        }
        Mistake::Leads(leads) => {
            let moved: Vec<String> = leads
                .iter()
                .filter(|(called, on)| called != on)
                .map(|&(called, on)| {
                    format!("the lead called {} is on the sensor of {}", name(called), name(on))
                })
                .collect();
            list(&moved)
        }
        Mistake::Wheel { cam, with, fits } => {
            let fits = fits.as_ref().map_or_else(String::new, |fits| {
                format!("; the library's “{fits}” fits its signal")
            });
            let names: Vec<&str> = [*cam].iter().chain(with).map(|&cam| name(cam)).collect();
            format!("the wheel of {} is not the one described{fits}", list(&names))
        }
        Mistake::Delayed(None) => format!(
            "the crank's lead comes late by a delay, as a slow probe makes it, so that every cam looks early{}: the faster \
             the crank turns within a cycle, the earlier",
            by(stand)
        ),
        Mistake::Delayed(Some(cam)) => format!(
            "the lead of {} comes late{} by a delay, as a filter makes it: the faster the crank turns within a cycle, the later",
            name(*cam),
            by(stand)
        ),
        Mistake::OtherEngine => {
            let names: Vec<String> = engine.cams.iter().map(|cam| cam.name.clone()).collect();
            format!(
                "the engine file is of another engine, or the leads are elsewhere: {} stand nowhere near their places",
                cams(engine, &names)
            )
        }
    }
}

/// Whether every cam stands in its place once this is put right; `stand` as in [`mistake`], of
/// leads with them put right.
#[must_use]
pub fn puts_in_time(engine: &Engine, mistake: &Mistake, stand: &[CamDeviation]) -> bool {
    let in_place = |one: &CamDeviation| one.deviation.0.abs() <= engine.cams[one.cam].tolerance.0;
    mistake.leaves_all_in_time()
        && (!matches!(mistake, Mistake::Leads(_)) || stand.iter().all(in_place))
}

/// Where to look: " (line 21 of the engine file)".
#[must_use]
pub fn at_line(engine: &Engine, mistake: &Mistake) -> String {
    in_engine_file(mistake.line(engine))
}

/// "360.0° more".
fn by_so_much(missing: CrankDelta) -> String {
    format!("{:.1}° {}", missing.0.abs(), if missing.0 > 0.0 { "more" } else { "less" })
}

/// " by 27.1°", of cams that stand alike.
fn by(stand: &[CamDeviation]) -> String {
    if stand.is_empty() {
        return String::new();
    }
    let mean = stand.iter().map(|one| one.deviation.0).sum::<f64>() / stand.len() as f64;
    let alike = stand.iter().all(|one| (one.deviation.0 - mean).abs() < ALIKE.0);
    if alike { format!(" by {:.1}°", mean.abs()) } else { String::new() }
}

/// Cams that are misplaced alike stand within this of one another: build scatter of two cams and a
/// worn strand (judgement).
const ALIKE: CrankDelta = CrankDelta(5.0);

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;

    #[test]
    fn every_mistake_has_its_words() {
        let text = include_str!("../../../demo-data/engine.toml");
        let engine = Engine::parse(text, Path::new("engine.toml")).expect("the demonstration's");
        let at = |cam: usize, late: f64| CamDeviation {
            cam,
            deviation: CrankDelta(late),
            against: None,
        };
        let alike = [at(0, 26.9), at(1, 27.3)];
        // (mistake, its words)
        let rows = [
            (
                Mistake::FromTdc { missing: CrankDelta(86.0) },
                "every `at` is 86.0° too low, which is `tdc`: they are counted from TDC of cylinder 1 and belong counted from the \
                 crank wheel's datum",
            ),
            (
                Mistake::FromTdc { missing: CrankDelta(-86.0) },
                "every `at` is 86.0° too high, which is `tdc`: it was added twice",
            ),
            (
                Mistake::Scaled { factor: 2.0, later_too: false },
                "every `at` is in cam degrees: doubled, they fit",
            ),
            (
                Mistake::Scaled { factor: 0.5, later_too: true },
                "every `at` and `later` is twice what it should be: halved, they fit",
            ),
            (
                Mistake::HalfTurn { missing: CrankDelta(180.0) },
                "every `at` is half a turn of the crank, 180°, off",
            ),
            (
                Mistake::Slots { slots: -1, missing: CrankDelta(-10.0) },
                "the gap of the crank wheel is described 1 slot from where it is: every angle is 10.0° off",
            ),
            (
                Mistake::CrankEdge { missing: CrankDelta(5.0) },
                "the places belong to the other edge of the crank wheel's teeth, 5.0° away",
            ),
            (
                Mistake::CamEdge { cams: vec![0, 1] },
                "the places belong to the other edge of the wheel of B1 intake and B2 intake",
            ),
            (
                Mistake::Alike,
                "every typed place is off alike by 27.1°: another variant, edge or datum",
            ),
            (Mistake::Place { cam: 0, missing: None }, "the `at` of B1 intake is off by 27.1°"),
            (
                Mistake::Place { cam: 0, missing: Some(CrankDelta(360.0)) },
                "the `at` of B1 intake should be 360.0° more",
            ),
            (
                Mistake::Later { cam: 1, missing: Some(CrankDelta(-360.0)) },
                "the `later` of B2 intake should be 360.0° less",
            ),
            (Mistake::Later { cam: 1, missing: None }, "the `later` of B2 intake is off by 27.1°"),
            (
                Mistake::Leads(vec![(0, 1), (1, 0)]),
                "the lead called B1 intake is on the sensor of B2 intake and the lead called B2 intake is on the sensor of \
                 B1 intake",
            ),
            (
                Mistake::Wheel { cam: 0, with: vec![], fits: Some("four-even".into()) },
                "the wheel of B1 intake is not the one described; the library's “four-even” fits its signal",
            ),
            (
                Mistake::Wheel { cam: 0, with: vec![1], fits: None },
                "the wheel of B1 intake and B2 intake is not the one described",
            ),
            (
                Mistake::Delayed(None),
                "the crank's lead comes late by a delay, as a slow probe makes it, so that every cam looks early by 27.1°: the \
                 faster the crank turns within a cycle, the earlier",
            ),
            (
                Mistake::Delayed(Some(0)),
                "the lead of B1 intake comes late by 27.1° by a delay, as a filter makes it: the faster the crank turns within \
                 a cycle, the later",
            ),
            (
                Mistake::OtherEngine,
                "the engine file is of another engine, or the leads are elsewhere: B1 intake and B2 intake stand nowhere near \
                 their places",
            ),
        ];
        for (wrong, words) in rows {
            assert_eq!(mistake(&engine, &wrong, &alike), words);
            // Where a line is named it is one of the file that speaks of it.
            if let Some(line) = wrong.line(&engine) {
                let said = text.lines().nth(line - 1).unwrap_or_default();
                let keys = ["at ", "same_as", "wheel", "edge"];
                assert!(
                    keys.iter().any(|key| said.starts_with(key)),
                    "{wrong:?}: line {line}: {said}"
                );
            }
        }
    }
}
