//! An engine file begun from a capture, with what is still unknown marked for the user to fill.

use std::fmt::Write as _;

use super::{CamWheel, Look};
use crate::crank::EdgeFrom;
use crate::engine::Sensor;
use crate::known::quoted;
use crate::units::{CYCLE_DEG, CrankDelta};

/// Teeth of two wheels this near are of one design, in cam degrees.
const SAME_WHEEL: f64 = 2.0;

/// The text of an engine file; `None` without a crank wheel.
#[must_use]
pub fn start_engine_file(look: &Look) -> Option<String> {
    let wheel = look.wheel.as_ref().ok()?;
    let mut out = String::new();
    let _ = writeln!(
        out,
        "# Started by `camwitness look` from {}. What the capture cannot show is marked \"fill in:\".\n\
         # Take the # from in front of those lines and put the engine's own values in.\n",
        look.source
    );
    out.push_str("name = \"Unnamed engine\"              # fill in: a name of your own\n");
    out.push_str("# firing_order = [1, 3, 4, 2]        # fill in: every cylinder once, cylinder 1 first (needed)\n");
    out.push_str("tolerance = 5.0                      # crank degrees\n\n");
    out.push_str("# [banks]                            # fill in: the cylinders of each bank, for engines with two\n");
    out.push_str("# 1 = [1, 3, 5]\n# 2 = [2, 4, 6]\n\n[crank]\n");
    let _ = writeln!(out, "wheel  = {}", wheel.value);
    let _ = writeln!(out, "sensor = \"{}\"", wheel.sensor.word());
    if let Some(lock) = look
        .lock
        .as_ref()
        .filter(|lock| lock.edge_from != EdgeFrom::Assumed && wheel.wheel.slot_marks().is_some())
    {
        let _ = writeln!(out, "edge   = \"{}\"", lock.marking_edge.word());
    }
    out.push_str("# tdc  = 74.0                        # fill in: crank degrees from the wheel's mark to TDC of cylinder 1, if known\n");
    for (index, cam) in look.cams.iter().enumerate() {
        write_cam(&mut out, &look.cams, index, cam);
    }
    out.push_str(
        "\n# [[chain]]                          # fill in: one for each chain or belt, teeth of every sprocket\n\
         # name   = \"primary\"\n# kind   = \"chain\"\n# driver = { on = \"crank\", teeth = 21 }\n",
    );
    let driven: Vec<String> = look
        .cams
        .iter()
        .map(|cam| format!("{{ on = {}, teeth = 42 }}", quoted(&cam.name)))
        .collect();
    let _ = writeln!(out, "# driven = [ {} ]", driven.join(", "));
    Some(out)
}

fn write_cam(out: &mut String, cams: &[CamWheel], index: usize, cam: &CamWheel) {
    let _ = writeln!(out, "\n[[cam]]\nname   = {}", quoted(&cam.name));
    let (bank, shaft) = (bank_of(&cam.name), shaft_of(&cam.name));
    let named = "as the column's name says";
    let _ = match bank {
        Some(bank) => writeln!(out, "bank   = {bank:<27} # {named}"),
        None => writeln!(out, "bank   = 1                           # fill in: its bank"),
    };
    let _ = match shaft {
        Some(shaft) => writeln!(out, "shaft  = {:<27} # {named}", quoted(shaft)),
        None => {
            writeln!(
                out,
                "shaft  = \"single\"                    # fill in: intake, exhaust or single"
            )
        }
    };
    let _ = writeln!(out, "wheel  = {{ teeth = {} }}", cam.table());
    let _ = writeln!(out, "sensor = \"{}\"", cam.sensor.word());
    if cam.sensor == Sensor::Reluctance {
        out.push_str(
            "# The teeth's widths are not seen on a reluctance sensor; their middles are.\n",
        );
    }
    if let Some(parts) = cam.nearly_repeats() {
        let _ = writeln!(
            out,
            "# To within its scatter it looks the same {parts} times a turn: its place is known up to a multiple of {:.0} crank degrees.",
            CYCLE_DEG / f64::from(parts)
        );
    }
    out.push_str("# at   = 113.0                       # fill in: where it should stand; or let `camwitness learn` find it on sound engines\n");
    out.push_str("# phaser = { rest = \"retarded\", travel = 50.0 }   # fill in: if it has one\n");
    let twin = cams[..index].iter().find(|other| same_wheel(cam, other));
    if let Some(twin) = twin {
        let later = cam.at - twin.at;
        let _ = writeln!(
            out,
            "# Same wheel as {}; in this capture it stood {:.1}° later.",
            quoted(&twin.name),
            CrankDelta(later.0.rem_euclid(720.0)).0
        );
    }
}

/// The bank a column's name speaks of: "B2 intake", "bank 2 exhaust", "intake bank2".
fn bank_of(name: &str) -> Option<u32> {
    let words = words(name);
    let number = |text: &str| text.parse::<u32>().ok().filter(|bank| (1..=2).contains(bank));
    words.iter().enumerate().find_map(|(i, word)| match word.strip_prefix("bank") {
        Some("") => number(words.get(i + 1)?),
        Some(rest) => number(rest),
        None => number(word.strip_prefix('b')?),
    })
}

/// The shaft a column's name speaks of.
fn shaft_of(name: &str) -> Option<&'static str> {
    let words = words(name);
    let speaks = |of: &[&str]| words.iter().any(|word| of.contains(&word.as_str()));
    match (speaks(&["intake", "inlet"]), speaks(&["exhaust"])) {
        (true, false) => Some("intake"),
        (false, true) => Some("exhaust"),
        _ => None,
    }
}

fn words(name: &str) -> Vec<String> {
    let lower = name.to_lowercase();
    let words = lower.split(|letter: char| !letter.is_alphanumeric());
    words.filter(|word| !word.is_empty()).map(str::to_owned).collect()
}

fn same_wheel(a: &CamWheel, b: &CamWheel) -> bool {
    a.teeth.len() == b.teeth.len()
        && a.teeth
            .iter()
            .zip(&b.teeth)
            .all(|(a, b)| (a.0 - b.0).abs() <= SAME_WHEEL && (a.1 - b.1).abs() <= SAME_WHEEL)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_columns_tell_bank_and_shaft() {
        let rows = [
            ("B2 intake", Some(2), Some("intake")),
            ("Bank 1 exhaust (V)", Some(1), Some("exhaust")),
            ("inlet cam bank2", Some(2), Some("intake")),
            ("cam", None, None),
            ("Channel 2", None, None),
            ("intake/exhaust", None, None),
            ("B3 intake", None, Some("intake")),
        ];
        for (name, bank, shaft) in rows {
            assert_eq!((bank_of(name), shaft_of(name)), (bank, shaft), "{name}");
        }
    }
}
