//! What holds a verdict back, in words; and what is wrong with a signal.

use super::phrases::list;
use crate::analysis::Analysis;
use crate::edges::{Glitches, SignalFault};
use crate::engine::{Engine, Sensor};
use crate::notice::Notice;
use crate::verdict::Caveat;

/// Everything the user should hear of a result: of the stages that measured, then of the verdict.
#[must_use]
pub fn warnings(analysis: &Analysis) -> Vec<Notice> {
    let of_verdict = analysis
        .verdict
        .caveats
        .iter()
        .map(|one| caveat(&analysis.engine, &analysis.crank_lead, one));
    analysis.warnings.iter().cloned().chain(of_verdict).collect()
}

/// A caveat of the verdict, with the lead, cam or subject that it is about.
#[must_use]
pub fn caveat(engine: &Engine, crank_lead: &str, caveat: &Caveat) -> Notice {
    let name = |cam: usize| engine.cams[cam].name.clone();
    let (about, text) = match caveat {
        Caveat::CrankNotCounted => (
            crank_lead.to_owned(),
            "The crank wheel's teeth could not be counted beyond doubt, so no angle is sure. Check the \
             wheel in the engine file and the crank lead."
                .into(),
        ),
        Caveat::CrankTeethLost { missed, extra, seen } => (
            crank_lead.to_owned(),
            format!(
                "{missed} teeth missing and {extra} extra edges among {seen}. Check the crank sensor's air gap, the wheel and \
                 the lead."
            ),
        ),
        Caveat::CrankJitters(by) => (
            crank_lead.to_owned(),
            format!(
                "The edges jitter by about {:.1}°: the sensor, its air gap, or the recorder. No tooth is \
                 missing for it.",
                by.0
            ),
        ),
        Caveat::CrankReversed => (crank_lead.to_owned(), reversed(false)),
        Caveat::Signal { lead, fault } => (lead.clone(), signal(*fault)),
        Caveat::CamReversed(cam) => {
            (name(*cam), reversed(engine.cams[*cam].sensor == Sensor::Reluctance))
        }
        Caveat::FewCycles { cam, cycles } => (
            name(*cam),
            format!(
                "Only {cycles} cycles: too few to see scatter. Crank longer, within the starter's limits."
            ),
        ),
        Caveat::EdgesNeverSeen { cam, edges } => (
            name(*cam),
            format!(
                "{edges} edges of the wheel were never seen. Check for a missing tooth and the air gap."
            ),
        ),
        Caveat::EdgeKindsApart { cam, apart } => (
            name(*cam),
            format!(
                "All rising edges lie {:.1}° from all falling ones: threshold or air gap, not timing.",
                apart.0
            ),
        ),
        Caveat::NotMeasured(cam) => {
            (name(*cam), "Not measured. The finding does not cover this cam.".into())
        }
        Caveat::RelationsOnly => (
            "reference".into(),
            "Some cams are only known against each other. A fault that moves them alike, such as a \
             skip at the crank, would not show."
                .into(),
        ),
        Caveat::CrankRepeats(every) => (
            "symmetry".into(),
            format!(
                "The crank wheel looks the same every {:.0}°, and no two cams of known place were measured to \
                 settle which group is which: a place is known only up to a multiple of that.",
                every.0
            ),
        ),
        Caveat::CamRepeats { cam, every } => (
            "symmetry".into(),
            format!(
                "The wheel of {} looks the same every {:.0} crank degrees: its place is known only up to a \
                 multiple of that.",
                name(*cam),
                every.0
            ),
        ),
        Caveat::FitEitherWay(first, second) => (
            list(&[name(*first), name(*second)]),
            "These two leads fit either way round. Make sure they are not exchanged: the \
             finding would move to the other cam."
                .into(),
        ),
        Caveat::NoDrive => (
            "drive".into(),
            "The engine file describes no chain, so degrees cannot be turned into teeth.".into(),
        ),
    };
    Notice { about, text }
}

fn reversed(reluctance: bool) -> String {
    if reluctance {
        "The signal is the other way up than described: the two wires, or the scope's leads, are \
         exchanged. The angles allow for it."
            .into()
    } else {
        "The signal is the other way up than described. The angles allow for it.".into()
    }
}

/// What is wrong with a signal, and what to check.
fn signal(fault: SignalFault) -> String {
    match fault {
        SignalFault::Dead => {
            "No signal: the level never changes. Check the lead, the sensor's supply and \
                              ground, and the scope's range."
                .into()
        }
        SignalFault::Clipped(share) => format!(
            "The signal lies on the limit of the scope's range for {:.0} % of the time. Choose a \
             wider range.",
            share * 100.0
        ),
        SignalFault::Noisy(share) => format!(
            "Noise of {:.0} % of the signal. Check the ground lead and keep clear of ignition leads.",
            share * 100.0
        ),
        SignalFault::Wrapped(times) => {
            let times = if times == 1 { "once".into() } else { format!("{times} times") };
            format!("The scope's range overflowed {times}. Choose a wider range.")
        }
        SignalFault::Glitches(Glitches { count, longest }) => {
            let pulses = if count == 1 { "pulse" } else { "pulses" };
            let micros = longest.0 * 1e6;
            // Three digits, in the unit people would say it in.
            let longest = if micros < 1e3 {
                format!("{micros:.0} µs")
            } else {
                format!("{:.1} ms", micros / 1e3)
            };
            format!(
                "Too short to be a tooth at this speed and left out: {count} {pulses}, the longest {longest}. \
                 Bounce, or ignition picked up by the lead."
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::units::Seconds;

    #[test]
    fn every_fault_of_a_signal_is_told_with_its_number() {
        let text = include_str!("../../../demo-data/engine.toml");
        let engine = Engine::parse(text, Path::new("engine.toml")).expect("the demonstration's");
        let glitches = Glitches { count: 7, longest: Seconds(2e-6) };
        // (fault, what is told)
        let rows = [
            (SignalFault::Noisy(0.3), "30 %"),
            (SignalFault::Clipped(0.1), "10 %"),
            (SignalFault::Dead, "never changes"),
            (SignalFault::Wrapped(1), "overflowed once"),
            (SignalFault::Wrapped(2), "2 times"),
            (SignalFault::Glitches(glitches), "7 pulses, the longest 2 µs"),
        ];
        for (fault, shows) in rows {
            let one = Caveat::Signal { lead: "B1".into(), fault };
            let told = caveat(&engine, "crank", &one);
            assert!(told.about == "B1" && told.text.contains(shows), "{told:?}");
        }
        let lost = caveat(&engine, "crank", &Caveat::EdgesNeverSeen { cam: 1, edges: 2 });
        assert_eq!(lost.about, engine.cams[1].name);
        assert!(lost.text.starts_with("2 edges"), "{lost:?}");
        assert_eq!(caveat(&engine, "crank A", &Caveat::CrankReversed).about, "crank A");
    }
}
