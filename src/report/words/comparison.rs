//! In what two captures differ, in words.

use crate::compare::Difference;
use crate::crank::Condition;
use crate::engine::Engine;

/// Each difference as a sentence.
#[must_use]
pub fn differences(found: &[Difference], engine: &Engine) -> Vec<String> {
    found.iter().map(|one| difference(one, engine)).collect()
}

fn difference(one: &Difference, engine: &Engine) -> String {
    let names = |cams: &[usize]| {
        let names: Vec<&str> = cams.iter().map(|&cam| engine.cams[cam].name.as_str()).collect();
        names.join(", ")
    };
    match one {
        Difference::Condition { before, after } => format!(
            "Before, the engine was {}; after, {}. Phasers and wear show differently then: capture both cranking.",
            condition(*before),
            condition(*after)
        ),
        Difference::Speeds { before, after } => {
            format!("The speeds differ: {:.0} rpm before, {:.0} rpm after.", before.0, after.0)
        }
        Difference::NoCamInBoth => {
            "No cam was measured both before and after: connect the same leads.".into()
        }
        Difference::BeforeOnly(cams) => {
            format!("Measured before but not after: {}. Connect the same leads.", names(cams))
        }
        Difference::AfterOnly(cams) => format!(
            "Measured after but not before: {}. How far they moved is not known.",
            names(cams)
        ),
        Difference::Inverted(cam) => format!(
            "{}: the signal is the other way up than before. Was the sensor or its wiring changed?",
            engine.cams[*cam].name
        ),
        Difference::NoCylinderInBoth => {
            "No cylinder is known by its number both before and after: record one cylinder's coil \
             both times, and they can be held against each other."
                .into()
        }
    }
}

fn condition(condition: Condition) -> &'static str {
    match condition {
        Condition::Cranking => "cranked by the starter",
        Condition::Running => "running by itself",
        Condition::Mixed => "partly cranked and partly running",
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::units::Rpm;

    #[test]
    fn each_difference_names_what_it_is_of() {
        let text = include_str!("../../../demo-data/engine.toml");
        let engine = Engine::parse(text, Path::new("engine.toml")).expect("the demonstration");
        let found = [
            Difference::Condition { before: Condition::Cranking, after: Condition::Mixed },
            Difference::Speeds { before: Rpm(250.0), after: Rpm(120.4) },
            Difference::BeforeOnly(vec![0, 1]),
            Difference::Inverted(1),
        ];
        let said = differences(&found, &engine);
        assert!(said[0].starts_with(
            "Before, the engine was cranked by the starter; after, partly cranked and partly running."
        ));
        assert_eq!(said[1], "The speeds differ: 250 rpm before, 120 rpm after.");
        let (first, second) = (&engine.cams[0].name, &engine.cams[1].name);
        assert!(said[2].contains(&format!("not after: {first}, {second}.")), "{}", said[2]);
        assert!(said[3].starts_with(&format!("{second}: the signal is the other way up")));
    }
}
