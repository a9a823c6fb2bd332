//! The small phrases that sentences are made of.

use crate::engine::{Chain, Engine};
use crate::units::CrankDelta;

/// "A", "A and B", "A, B and C".
pub(crate) fn list<S: AsRef<str>>(names: &[S]) -> String {
    match names {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [most @ .., last] => {
            let most: Vec<&str> = most.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", most.join(", "), last.as_ref())
        }
    }
}

/// Where to look: " (line 21 of the engine file)"; nothing where no line is known.
pub(crate) fn in_engine_file(line: Option<usize>) -> String {
    line.map_or_else(String::new, |line| format!(" (line {line} of the engine file)"))
}

/// With a capital first letter.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// With a small first letter.
pub(crate) fn small(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// "1 tooth", "3 teeth", of a count of either sign.
pub(crate) fn teeth_count(teeth: i32) -> String {
    let count = teeth.unsigned_abs();
    format!("{count} {}", if count == 1 { "tooth" } else { "teeth" })
}

/// "1 tooth (1 link) late", "2 teeth early": with the links of a chain, where it is one.
pub(crate) fn skipped_by(teeth: i32, links: Option<i32>) -> String {
    let side = if teeth > 0 { "late" } else { "early" };
    let links = links.map_or_else(String::new, |links| {
        let count = links.unsigned_abs();
        format!(" ({count} {})", if count == 1 { "link" } else { "links" })
    });
    format!("{}{links} {side}", teeth_count(teeth))
}

/// "varying by 0.4°"; a scatter that rounds to nothing is not said to be none.
pub(crate) fn varying(sd: CrankDelta) -> String {
    if sd.word().is_empty() {
        "varying by less than 0.1°".into()
    } else {
        format!("varying by {:.1}°", sd.0)
    }
}

/// The ends of an interval: "16.6° and 17.2° late", "0.2° early and 0.5° late".
pub(crate) fn between(low: CrankDelta, high: CrankDelta) -> String {
    match (low.word(), high.word()) {
        ("early", "early") => format!("{:.1}° and {}", high.0.abs(), low),
        ("late", "late") => format!("{:.1}° and {}", low.0, high),
        _ => format!("{low} and {high}"),
    }
}

/// Odds as a technician reads them: never a bare 100 or 0.
pub(crate) fn percent(probability: f64) -> String {
    match probability * 100.0 {
        odds if odds > 99.95 => "> 99.9 %".into(),
        odds if odds < 0.1 => "< 0.1 %".into(),
        odds => format!("{odds:.1} %"),
    }
}

/// A chain by name and kind: "primary chain"; a name that says its kind stays as it is, no "belt
/// belt".
pub(crate) fn chain(chain: &Chain) -> String {
    let kind = chain.kind.word();
    let said = chain.name.split_whitespace().any(|word| word.eq_ignore_ascii_case(kind));
    if said { chain.name.clone() } else { format!("{} {kind}", chain.name) }
}

/// Cams by name; all of many need none.
pub(super) fn cams(engine: &Engine, names: &[String]) -> String {
    if names.len() > 2 && names.len() == engine.cams.len() {
        return "all cams".into();
    }
    list(names)
}
