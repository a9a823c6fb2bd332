//! What a cam is called in a picture, which has less room for its name than a table.

use crate::engine::Engine;

/// Longer names are cut in the narrowest place that a picture has for them; capitals and blanks of
/// a name of this length fit.
const LONG: usize = 16;

/// The name of a cam: of long names, the words with which all of the engine's begin alike are left
/// out, so that what tells them apart has room.
pub(super) fn cam_name(engine: &Engine, cam: usize) -> String {
    let name = &engine.cams[cam].name;
    let alike = engine.cams.iter().map(|other| shared_words(name, &other.name)).min().unwrap_or(0);
    if name.chars().count() <= LONG || engine.cams.len() < 2 || alike == 0 {
        return name.clone();
    }
    let rest: Vec<&str> = name.split_whitespace().skip(alike).collect();
    if rest.is_empty() { name.clone() } else { format!("… {}", rest.join(" ")) }
}

/// Words with which two names begin alike.
fn shared_words(one: &str, other: &str) -> usize {
    one.split_whitespace().zip(other.split_whitespace()).take_while(|(a, b)| a == b).count()
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;

    #[test]
    fn long_names_are_told_apart_and_short_ones_stay() {
        let text = include_str!("../../../demo-data/engine.toml");
        let named = |first: &str, second: &str| {
            let text = text.replace("B1 intake", first).replace("B2 intake", second);
            let engine = Engine::parse(&text, Path::new("engine.toml")).expect("an engine");
            [0, 1].map(|cam| cam_name(&engine, cam))
        };
        assert_eq!(named("B1 intake", "B2 intake"), ["B1 intake", "B2 intake"]);
        let long = named("camshaft position sensor, bank 1", "camshaft position sensor, bank 2");
        assert_eq!(long, ["… 1", "… 2"]);
        let none = ["first camshaft of the engine", "second camshaft of the engine"];
        assert_eq!(named(none[0], none[1]), none, "they begin differently");
        // One that is the beginning of the other keeps its name.
        let part = named("camshaft position", "camshaft position of the second bank");
        assert_eq!(part, ["camshaft position", "… of the second bank"]);
    }
}
