//! The next measurement as an instruction.

use super::phrases::list;
use crate::engine::Engine;
use crate::verdict::{Cranking, Test, Verdict};

/// What to measure next, with what to mind before: a test that uses the starter on an engine whose
/// valves may stand wrong begins by hand.
#[must_use]
pub fn next(engine: &Engine, verdict: &Verdict) -> Option<String> {
    let next = verdict.next_test?;
    let by_hand = next.cranks() && verdict.cranking == Cranking::ByHandFirst;
    let before = if by_hand {
        "First turn the engine two revolutions by hand, by the maker's procedure; stop at any resistance and do not crank. "
    } else {
        ""
    };
    Some(format!("{before}{}", test(engine, next)))
}

/// A test as an instruction to the technician.
#[must_use]
pub fn test(engine: &Engine, test: Test) -> String {
    match test {
        Test::TraceLeads => {
            "Follow each scope lead to its sensor's connector: two may be exchanged.".into()
        }
        Test::Unfiltered => "Switch off the filter of every scope channel, put the same kind of lead on every sensor, and repeat \
                             the cranking capture: what a filter delays comes back to its place."
            .into(),
        Test::OtherCam(cam) => format!(
            "Put a lead on the sensor of {} as well and repeat the cranking capture.",
            engine.cams[cam].name
        ),
        Test::MendLead(cam) => format!(
            "See to the lead of {0}: no such wheel was found on it. Check lead, sensor and wheel, then repeat the cranking \
             capture.",
            engine.cams[cam].name
        ),
        Test::KnownGood => "Capture a sound engine of the same type, learn from it where the cams stand, and hold this \
                            one against that."
            .into(),
        Test::CorrectFile => "Put the named line of the engine file right and check the same recording again.".into(),
        Test::Cranking => {
            "Capture while cranking, engine prevented from starting: phasers are then at rest."
                .into()
        }
        Test::UnplugValves => {
            let with_phaser = engine.cams.iter().filter(|cam| cam.phaser.is_some());
            let names: Vec<&str> = with_phaser.map(|cam| cam.name.as_str()).collect();
            format!(
                "Repeat the cranking capture with the phaser control valve unplugged ({}).",
                list(&names)
            )
        }
        Test::Idle => {
            "Capture at idle: wear and a phaser move with speed, a fixed fault does not.".into()
        }
        Test::StarterCurrent => "Add a starter-current lead and repeat the cranking capture: a cam that is really off \
                                 changes its bank's compression."
            .into(),
        Test::Pressure => "Put a pressure sensor in the place of a spark or glow plug and crank: its peak shows top \
                           dead centre, and where it rises and falls shows when the valves really open and close."
            .into(),
        Test::LookAtWheel => "Take the cam sensor out and look at the trigger wheel through its hole while turning by \
                              hand."
            .into(),
        Test::InspectMarks => {
            "Take the cover off and look at the timing marks, by the maker's procedure.".into()
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::verdict::Test;

    #[test]
    fn what_needs_no_starter_does_not_speak_of_it() {
        let text = include_str!("../../../demo-data/engine.toml");
        let engine = Engine::parse(text, Path::new("engine.toml")).expect("the demonstration's");
        for which in Test::ALL {
            let words = test(&engine, which);
            assert!(words.ends_with('.') && !words.contains("  "), "{which:?}: {words}");
            let starter = ["crank", "starter", "idle"].iter().any(|word| words.contains(word));
            assert_eq!(starter, which.cranks(), "{which:?}: {words}");
        }
        assert!(test(&engine, Test::OtherCam(1)).contains(&engine.cams[1].name));
    }
}
