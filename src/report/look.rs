//! What was seen in a capture, for the screen.

use std::fmt::Write as _;

use super::numbers::{counted, fixed};
use super::wrap::{Lines, WIDTH, bullet, hanging, paragraph};
use crate::capture::{CaptureKind, Dialect, Encoding, LeftOut, TimeUnit, Why};
use crate::edges::SignalFault;
use crate::leads::RoleGuess;
use crate::look::{ChannelLook, Doubt, Look, Pair, SignalKind, WheelGuess};
use crate::units::{CYCLE_DEG, Rpm};
use crate::wheel::{EdgeKind, Form, Wheel};

/// Writes everything seen. `dialect` says how a text file was written.
#[must_use]
pub fn write(look: &Look, dialect: Option<&Dialect>) -> String {
    write_to_width(look, dialect, WIDTH)
}

/// [`write()`] wrapped to `width` characters.
#[must_use]
pub fn write_to_width(look: &Look, dialect: Option<&Dialect>, width: usize) -> String {
    let mut out = Lines::new(width);
    file(&mut out, look, dialect);
    for remark in &look.notes.remarks {
        hanging(&mut out, &remark.to_string(), "         ");
    }
    out.push_str("\nChannels\n");
    for channel in &look.channels {
        channel_lines(&mut out, channel, look.kind);
    }
    let no_time = |column: &&LeftOut| !matches!(column.why, Why::Time { .. });
    for column in look.notes.left_out.iter().filter(no_time) {
        let (at, name, why) = (column.column, &column.name, &column.why);
        let _ = writeln!(out, "  {at} \"{name}\": left out: {why}");
    }
    crank(&mut out, look);
    cams(&mut out, look);
    out.into_text()
}

fn file(out: &mut Lines, look: &Look, dialect: Option<&Dialect>) {
    let _ = writeln!(out, "Capture  {}", look.source);
    if let Some(dialect) = dialect {
        let separator = match dialect.separator {
            ',' => "comma".to_owned(),
            ';' => "semicolon".to_owned(),
            '\t' => "tab".to_owned(),
            '|' => "pipe".to_owned(),
            ' ' => "blanks".to_owned(),
            other => format!("\"{other}\""),
        };
        let decimal = if dialect.decimal == ',' { "comma" } else { "point" };
        let thousands = match dialect.thousands {
            Some(mark) => format!(", thousands {}", if mark == ',' { "comma" } else { "point" }),
            None => String::new(),
        };
        let encoding = match dialect.encoding {
            Encoding::Bytes => "",
            Encoding::Utf8Marked => ", UTF-8 with its mark",
            Encoding::Utf16Le | Encoding::Utf16Be => ", UTF-16",
        };
        let line = dialect.data_line;
        let _ = writeln!(
            out,
            "         separator {separator}, decimal {decimal}{thousands}, data from line {line}{encoding}"
        );
    }
    if let Some(column) = look.notes.time()
        && let Why::Time { unit } = column.why
    {
        let unit = unit.map_or("no unit stated, taken as s", TimeUnit::symbol);
        let _ =
            writeln!(out, "         times in column {} \"{}\", {unit}", column.column, column.name);
    }
    let kind = match look.kind {
        CaptureKind::Sampled => "sampled",
        CaptureKind::Events => "a row per change (logic analyser)",
    };
    let rate = look.rate.map_or(String::new(), |rate| format!(" at {rate:.0} per second"));
    let _ = writeln!(
        out,
        "         {kind}{rate}, {}, {} s to {} s",
        counted(look.rows, "row", "rows"),
        fixed(look.span.0.0, 3),
        fixed(look.span.1.0, 3)
    );
}

fn channel_lines(out: &mut Lines, channel: &ChannelLook, kind: CaptureKind) {
    let role = match channel.role {
        RoleGuess::Crank => "crank sensor",
        RoleGuess::Cam => "cam sensor",
        RoleGuess::Starter => "starter current",
        RoleGuess::Battery => "battery",
        RoleGuess::Ignition => "ignition",
        RoleGuess::Injector => "injector",
        RoleGuess::Pressure => "cylinder pressure",
        RoleGuess::Unknown => "not known",
    };
    let clipped = channel.faults.iter().any(|fault| matches!(fault, SignalFault::Clipped(_)));
    let _ = writeln!(
        out,
        "  {} \"{}\": {}{}",
        channel.column,
        channel.name,
        channel.kind.words(),
        if clipped { ", clipped" } else { "" }
    );
    if channel.kind == SignalKind::Dead {
        return;
    }
    let mut facts = Vec::new();
    if kind == CaptureKind::Sampled {
        facts.push(format!("{} to {}", fixed(channel.levels.0, 2), fixed(channel.levels.1, 2)));
    }
    if let Some(noise) = channel.noise {
        facts.push(format!("noise {noise:.3}"));
    }
    if let Some(rate) = channel.rate {
        facts.push(format!("strongest at {rate:.1} per second"));
    }
    facts.push(counted(channel.edges, "edge", "edges"));
    hanging(out, &facts.join(", "), "      ");
    hanging(out, &format!("likely {role}: {}", channel.reason), "      ");
}

/// A lock that is less likely than not to hold.
const EVENS: f64 = 0.5;

fn crank(out: &mut Lines, look: &Look) {
    out.push_str("\nCrank wheel\n");
    let name = |index: Option<usize>| index.map_or("", |index| look.channels[index].name.as_str());
    match &look.wheel {
        Ok(guess) => {
            let (on, odds) = (name(look.crank), odds(guess.confidence));
            let _ = writeln!(out, "  {} on \"{on}\", odds {odds}", guess.name);
            wheel(out, guess);
        }
        Err(Doubt::NotSure { best, odds: likely }) => {
            let _ = writeln!(out, "  Not sure");
            let on = name(look.crank);
            // Its teeth are as it has them, and the turns are not.
            let held = if best.confidence < EVENS * likely {
                " by its pattern, but the turns cannot be followed by it"
            } else {
                ""
            };
            let text = format!(
                "Likeliest on \"{on}\" is {}, odds {}{held}. Before you rely on it, look at the wheel or capture more turns.",
                best.name,
                odds(*likely)
            );
            paragraph(out, &text, "  ");
            wheel(out, best);
        }
        Err(Doubt::Pair(pair)) => two_wheels(out, pair, name(look.crank), name(Some(pair.lead))),
        Err(doubt) => {
            let _ = writeln!(out, "  Not sure");
            paragraph(out, &format!("{doubt}."), "  ");
        }
    }
    if let Some(lock) = look.lock.as_ref().filter(|_| !matches!(look.wheel, Err(Doubt::Pair(_)))) {
        let (from, to) = lock.angle.turned_span();
        let polarity = lock.polarity.map_or("not told by this wheel", crate::crank::Polarity::word);
        let _ = writeln!(
            out,
            "  marked by {} edges, polarity {polarity}\n  {:.1} turns in sync, {:.0} to {:.0} rpm, mean {:.0}; {} missed, {} extra",
            lock.marking_edge.word(),
            to.since(from).0 / 360.0,
            lock.rpm_min.0,
            lock.rpm_max.0,
            lock.rpm_mean.0,
            counted(lock.missed, "tooth", "teeth"),
            counted(lock.extra, "edge", "edges")
        );
    }
}

/// "> 99.9 %" only above what "99.9" would round down from.
fn odds(probability: f64) -> String {
    if probability > 0.9995 {
        "> 99.9 %".to_owned()
    } else {
        format!("{:.1} %", 100.0 * probability)
    }
}

/// A wheel in words, and what it rests on.
fn wheel(out: &mut Lines, guess: &WheelGuess) {
    paragraph(out, &in_words(&guess.wheel), "  ");
    if guess.repeats > 1 && guess.wheel.tooth_count() > guess.repeats {
        let text = format!(
            "The pattern comes {} times a turn: crank angle alone is known up to a multiple of {:.0}°.",
            guess.repeats,
            360.0 / guess.repeats as f64
        );
        paragraph(out, &text, "  ");
    }
    if let Some(other) = &guess.runner_up {
        let _ = writeln!(out, "  runner-up: {other}");
    }
    if !guess.lost.is_empty() {
        let often: Vec<String> =
            guess.lost.iter().map(|(seen, of)| format!("in {seen} of {of} turns")).collect();
        let text = format!(
            "{} of its teeth do not always show ({}): the sensor or its conditioner loses them.",
            guess.lost.len(),
            often.join(", ")
        );
        paragraph(out, &text, "  ");
        let _ = writeln!(out, "  {}", speed(&guess.rpm));
    }
    if guess.rests_on.headers {
        let text =
            "That rests on a column being what its header says; the signals alone leave it open.";
        paragraph(out, text, "  ");
    } else if guess.rests_on.speed {
        let text = "That the pattern makes one turn is taken from the speed and from the wheels that are made; no cam in \
                    the capture tells.";
        paragraph(out, text, "  ");
    }
}

fn speed((mean, least, most): &(Rpm, Rpm, Rpm)) -> String {
    format!("{:.0} to {:.0} rpm, mean {:.0}", least.0, most.0, mean.0)
}

/// Two wheels of which only the relation is known.
fn two_wheels(out: &mut Lines, pair: &Pair, first: &str, second: &str) {
    let even = if pair.even { "even " } else { "" };
    let _ = writeln!(out, "  Not sure which shaft they turn with");
    let text = format!(
        "\"{first}\": {} {even}teeth in each period of \"{second}\", odds {}.",
        pair.teeth,
        odds(pair.odds)
    );
    paragraph(out, &text, "  ");
    for reading in &pair.readings {
        let with = if reading.with_cam { "cam" } else { "crank" };
        let text = format!(
            "If \"{second}\" turns with the {with}, the crank wheel has {} teeth and turned at {} (odds {}).",
            reading.teeth,
            speed(&reading.rpm),
            odds(reading.odds)
        );
        bullet(out, &text);
    }
    for place in &pair.places {
        let degrees: Vec<String> = pair
            .readings
            .iter()
            .map(|reading| format!("{:.1}°", place.degrees(reading.teeth).0))
            .collect();
        let text = format!(
            "\"{second}\" {} {:.2} steps after a {} edge of \"{first}\" (varying by {:.3}), that is {}.",
            if place.kind == EdgeKind::Rising { "rises" } else { "falls" },
            place.steps,
            place.after.word(),
            place.sd,
            degrees.join(" or ")
        );
        bullet(out, &text);
    }
    let text = "Neither edge of an even wheel is its mark, so an angle means nothing without the edge it is counted from. There is no \
                timing to be read here without knowing the shaft and the maker's mark.";
    paragraph(out, text, "  ");
}

/// "36 slots, missing 35, 36".
fn in_words(wheel: &Wheel) -> String {
    match wheel.form() {
        Form::Slots { slots, missing, .. } if missing.is_empty() => format!("{slots} even teeth."),
        Form::Slots { slots, missing, .. } => {
            let list: Vec<String> = missing.iter().map(u32::to_string).collect();
            format!("{slots} slots, missing {}.", list.join(", "))
        }
        Form::Teeth(teeth) => {
            let list: Vec<String> = teeth
                .iter()
                .map(|tooth| format!("{:.0}° to {:.0}°", tooth.start.get(), tooth.end().get()))
                .collect();
            format!("{}: {}.", counted(teeth.len(), "tooth", "teeth"), list.join(", "))
        }
    }
}

fn cams(out: &mut Lines, look: &Look) {
    for cam in &look.cams {
        let _ = writeln!(out, "\nCam wheel on \"{}\"", cam.name);
        paragraph(out, &format!("teeth = {}", cam.table()), "  ");
        let scatter = cam.scatter.map_or(String::new(), |sd| format!(", varying by {:.1}°", sd.0));
        let _ = writeln!(
            out,
            "  in cam degrees, the first after the longest low part; that stood {:.1} crank degrees after a crank mark{scatter}",
            cam.at.get()
        );
        if let Some(parts) = cam.nearly_repeats() {
            let text = format!(
                "It looks the same {parts} times a turn: its place is known up to a multiple of {:.0} crank degrees.",
                CYCLE_DEG / f64::from(parts)
            );
            paragraph(out, &text, "  ");
        }
    }
    if look.cams.is_empty() && look.lock.is_some() {
        out.push('\n');
        bullet(out, "No cam's wheel was found.");
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::engine::Engine;
    use crate::practice::{Scenario, generate};

    #[test]
    fn odds_of_a_pattern_that_does_not_hold_are_said_to_be_of_the_pattern_alone() {
        let text = include_str!("../../demo-data/engine.toml");
        let engine = Engine::parse(text, Path::new("engine.toml")).expect("the demonstration's");
        let scenario = Scenario { seconds: 3.0, ..Scenario::new(engine) };
        let capture = generate(&scenario).expect("a capture").capture;
        let mut look = crate::look::look(&capture, &[]);
        let guess = look.wheel.clone().expect("36-2");
        let said = |look: &mut Look, confidence: f64| {
            let best = Box::new(WheelGuess { confidence, ..guess.clone() });
            look.wheel = Err(Doubt::NotSure { best, odds: 0.98 });
            write(look, None).split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let alone =
            "is 36-2, odds 98.0 % by its pattern, but the turns cannot be followed by it. Before";
        assert!(said(&mut look, 0.0).contains(alone));
        assert!(said(&mut look, 0.95).contains("is 36-2, odds 98.0 %. Before"));
    }
}
