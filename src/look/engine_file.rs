//! An engine file begun from a capture, which `check` takes as it is. What the capture cannot show
//! is marked; no cam's place is taken from it, because a fault would be in it.

use std::fmt::Write as _;

use super::facts::{Facts, TdcProposal};
use super::{CamWheel, Look};
use crate::crank::{EdgeFrom, Polarity};
use crate::engine::{CamShaft, Sensor};
use crate::known::quoted;
use crate::leads::{LeadRequest, RoleGuess, Words};
use crate::units::{CYCLE_DEG, CrankDelta};

/// Teeth of two wheels this near are of one design, in cam degrees.
const SAME_WHEEL: f64 = 2.0;
/// A difference this far from a multiple of the firing interval, as a share of it, may belong to
/// the next one.
const BETWEEN_MULTIPLES: f64 = 0.35;

/// A cam as it is written.
struct Written<'a> {
    name: String,
    bank: Option<u32>,
    shaft: Option<CamShaft>,
    seen: &'a CamWheel,
}

/// The text of an engine file; `None` without a crank wheel. Of `requests` the cams have their
/// names.
#[must_use]
pub fn start_engine_file(look: &Look, requests: &[LeadRequest], facts: &Facts) -> Option<String> {
    let (wheel, sensor) = match (&facts.wheel, look.wheel.as_ref()) {
        (Some((_, value)), _) => (value.as_str(), look.crank_sensor()),
        (None, Ok(guess)) => (guess.value.as_str(), guess.sensor),
        (None, Err(_)) => return None,
    };
    let cams: Vec<Written> = look.cams.iter().map(|seen| written(look, seen, requests)).collect();
    let mut out = String::new();
    let _ = writeln!(
        out,
        "# Started by `camwitness look` from {}. Lines marked \"fill in:\" hold what the capture cannot show: put the\n\
         # engine's own values in, and take the # away. What is marked \"assumed\" finds nothing by itself.\n",
        look.source
    );
    let name = quoted(&format!("Engine of {}", look.source));
    let _ = writeln!(out, "name = {name}   # fill in: a name of your own");
    firing(&mut out, look, facts);
    out.push_str("tolerance = 5.0                      # crank degrees\n\n");
    banks(&mut out, look, facts, &cams);
    let _ = writeln!(out, "[crank]\nwheel  = {wheel}\nsensor = \"{}\"", sensor.word());
    let lock = look.lock.as_ref();
    let slots = match &facts.wheel {
        Some((wheel, _)) => wheel.slot_marks().is_some(),
        None => look.wheel.as_ref().is_ok_and(|guess| guess.wheel.slot_marks().is_some()),
    };
    let found =
        lock.filter(|lock| lock.edge_from != EdgeFrom::Assumed).map(|lock| lock.marking_edge);
    if let Some(edge) = facts.edge.or(found).filter(|_| slots) {
        let _ = writeln!(out, "edge   = \"{}\"", edge.word());
        let inverted = lock.is_some_and(|lock| lock.polarity == Some(Polarity::Inverted));
        if inverted && sensor == Sensor::Hall {
            out.push_str("over_tooth = \"low\"                 # as the gap shows it\n");
        }
    }
    tdc(&mut out, facts.tdc);
    let interval = facts
        .firing
        .as_ref()
        .map(|order| order.len() as u32)
        .or(look.cylinders())
        .map(|cylinders| CYCLE_DEG / f64::from(cylinders));
    let mut roots: Vec<usize> = Vec::new();
    for index in 0..cams.len() {
        let twin = roots.iter().copied().find(|&root| related(&cams[index], &cams[root]));
        if twin.is_none() || interval.is_none() {
            roots.push(index);
        }
        write_cam(&mut out, &cams, index, twin.zip(interval));
    }
    drive(&mut out, &cams);
    coils(&mut out, look, requests);
    Some(out)
}

fn written<'a>(look: &Look, seen: &'a CamWheel, requests: &[LeadRequest]) -> Written<'a> {
    let column = look.channels.iter().find(|channel| channel.name == seen.name);
    let asked = requests.iter().find(|request| {
        request.column.eq_ignore_ascii_case(&seen.name)
            || column.is_some_and(|channel| request.column.parse() == Ok(channel.column))
    });
    let name = asked.map_or_else(|| seen.name.clone(), |request| request.name.clone());
    let words = Words::of(&name);
    Written { bank: words.bank, shaft: words.shaft, name, seen }
}

fn firing(out: &mut String, look: &Look, facts: &Facts) {
    match (&facts.firing, look.cylinders()) {
        (Some(order), _) => _ = writeln!(out, "firing_order = {order:?}"),
        (None, Some(cylinders)) => {
            let order: Vec<u32> = (1..=cylinders).collect();
            let _ = writeln!(
                out,
                "firing_order = {order:?}   # fill in: the engine's own order. The speed dips {cylinders} times a cycle; the order\n\
                 firing_order_assumed = true          # is not known. Take this line away when it is"
            );
        }
        (None, None) => out.push_str(
            "# firing_order = [1, 3, 4, 2]        # fill in: every cylinder once, cylinder 1 first (needed)\n",
        ),
    }
}

fn banks(out: &mut String, look: &Look, facts: &Facts, cams: &[Written]) {
    if let Some(banks) = &facts.banks {
        out.push_str("[banks]\n");
        for (bank, cylinders) in banks {
            let _ = writeln!(out, "{bank} = {cylinders:?}");
        }
        out.push('\n');
        return;
    }
    let named = cams.iter().filter_map(|cam| cam.bank).max().unwrap_or(1);
    let count = facts.firing.as_ref().map(|order| order.len() as u32).or(look.cylinders());
    match count {
        Some(count) if named > 1 => {
            let all: Vec<u32> = (1..=count).collect();
            let _ = writeln!(
                out,
                "[banks]                              # fill in: which cylinders are on which bank\n1 = {all:?}"
            );
            for bank in 2..=named {
                let _ = writeln!(out, "{bank} = []");
            }
            out.push('\n');
        }
        _ => out.push_str(
            "# [banks]                            # fill in: the cylinders of each bank, for engines with two\n\
             # 1 = [1, 3, 5]\n# 2 = [2, 4, 6]\n\n",
        ),
    }
}

fn tdc(out: &mut String, proposed: Option<TdcProposal>) {
    match proposed {
        Some(TdcProposal { at, sd, modulo }) => {
            let _ = writeln!(
                out,
                "# tdc  = {:.0}                        # fill in: crank degrees from the wheel's mark to TDC of cylinder 1. By the motion of\n\
                 #                                    # this capture it is {:.0}° ± {:.0}°, or a multiple of {:.0}° from there",
                at.0, at.0, 2.0 * sd.0, modulo.0
            );
        }
        None => out.push_str(
            "# tdc  = 74.0                        # fill in: crank degrees from the wheel's mark to TDC of cylinder 1, if known\n",
        ),
    }
}

fn drive(out: &mut String, cams: &[Written]) {
    out.push_str(
        "\n# [[chain]]                          # fill in: one for each chain or belt, teeth of every sprocket; without it\n\
         # name   = \"primary\"                 # offsets are told in degrees and not in teeth\n\
         # kind   = \"chain\"\n# driver = { on = \"crank\", teeth = 21 }\n",
    );
    let driven: Vec<String> =
        cams.iter().map(|cam| format!("{{ on = {}, teeth = 42 }}", quoted(&cam.name))).collect();
    let _ = writeln!(out, "# driven = [ {} ]", driven.join(", "));
}

/// Columns of coils whose cylinder nobody named.
fn coils(out: &mut String, look: &Look, requests: &[LeadRequest]) {
    for channel in &look.channels {
        let named = Words::of(&channel.name).cylinder.is_some()
            || requests.iter().any(|request| {
                request.column.eq_ignore_ascii_case(&channel.name)
                    || request.column.parse() == Ok(channel.column)
            });
        if channel.role == RoleGuess::Ignition && !named {
            let lead = quoted(&format!("ignition 3={}", channel.name));
            let _ = writeln!(
                out,
                "\n# {} looks like a coil. With its cylinder named, for example by the lead {lead}, cylinders are told apart.",
                quoted(&channel.name)
            );
        }
    }
}

fn write_cam(out: &mut String, cams: &[Written], index: usize, twin: Option<(usize, f64)>) {
    let cam = &cams[index];
    let _ = writeln!(out, "\n[[cam]]\nname   = {}", quoted(&cam.name));
    let named = "as its name says";
    let _ = match cam.bank {
        Some(bank) => writeln!(out, "bank   = {bank:<27} # {named}"),
        None => writeln!(out, "bank   = 1                           # fill in: its bank"),
    };
    let _ = match cam.shaft {
        Some(shaft) => writeln!(out, "shaft  = {:<27} # {named}", quoted(shaft.word())),
        None => writeln!(
            out,
            "shaft  = \"single\"                    # fill in: intake, exhaust or single"
        ),
    };
    match twin {
        Some((twin, interval)) => relation(out, cam, &cams[twin], interval),
        None => {
            let _ = writeln!(out, "wheel  = {{ teeth = {} }}", cam.seen.table());
            let _ = writeln!(out, "sensor = \"{}\"", cam.seen.sensor.word());
        }
    }
    if cam.seen.sensor == Sensor::Reluctance {
        out.push_str(
            "# The teeth's widths are not seen on a reluctance sensor; their middles are.\n",
        );
    }
    if let Some(parts) = cam.seen.nearly_repeats() {
        let _ = writeln!(
            out,
            "# To within its scatter it looks the same {parts} times a turn: its place is known up to a multiple of {:.0} crank degrees.",
            CYCLE_DEG / f64::from(parts)
        );
    }
    if twin.is_none() {
        out.push_str(
            "# at   = 113.0                       # fill in: where it should stand on a sound engine, or let `camwitness learn`\n\
             #                                    # find it. Not from this capture: a fault would be in it\n",
        );
    }
    out.push_str("# phaser = { rest = \"retarded\", travel = 50.0 }   # fill in: if it has one\n");
}

/// The same wheel as another cam's, at the multiple of the firing interval that is nearest: what
/// this capture measured would put a fault of this engine into the relation.
fn relation(out: &mut String, cam: &Written, twin: &Written, interval: f64) {
    let measured = CrankDelta((cam.seen.at - twin.seen.at).0.rem_euclid(CYCLE_DEG));
    let multiple = (measured.0 / interval).round();
    let later = (multiple * interval).rem_euclid(CYCLE_DEG);
    let _ = writeln!(
        out,
        "same_as = {{ cam = {}, later = {later:.1}, assumed = true }}",
        quoted(&twin.name)
    );
    let _ = writeln!(
        out,
        "# assumed: its wheel is like that of {}, so that it should stand a multiple of the firing interval, {interval:.0}°, later.\n\
         # Take `assumed` away when the maker or a sound engine confirms it.",
        quoted(&twin.name)
    );
    if (measured.0 / interval - multiple).abs() > BETWEEN_MULTIPLES {
        let _ = writeln!(
            out,
            "# It stands about half-way between two such multiples: either may be meant."
        );
    }
}

/// Whether two cams may be held against each other: wheels alike, and no name that says they are no
/// pair.
fn related(a: &Written, b: &Written) -> bool {
    let differ = a.shaft.zip(b.shaft).is_some_and(|(a, b)| a != b);
    let one_bank = a.bank.is_some() && a.bank == b.bank;
    !differ && !one_bank && a.seen.sensor == b.seen.sensor && same_wheel(a.seen, b.seen)
}

fn same_wheel(a: &CamWheel, b: &CamWheel) -> bool {
    a.teeth.len() == b.teeth.len()
        && a.teeth
            .iter()
            .zip(&b.teeth)
            .all(|(a, b)| (a.0 - b.0).abs() <= SAME_WHEEL && (a.1 - b.1).abs() <= SAME_WHEEL)
}
