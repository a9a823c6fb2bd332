//! The technician's pages: the table, the odds, the pictures, what was recorded and what it does
//! not prove.

use maud::{Markup, html};

use super::typed;
use crate::analysis::{Analysis, LeadReport};
use crate::cam::CamResult;
use crate::compression::Source;
use crate::crank::{Condition, EdgeDoubt, EdgeFrom, Polarity, WhyDoubted};
use crate::edges::{Glitches, SignalFault};
use crate::leads::Role;
use crate::report::numbers::counted;
use crate::report::text::{MOST_SAID, WORTH_SAYING};
use crate::report::words::{self, between, capital, percent, repeats, teeth};
use crate::units::{CYCLE_DEG, CrankDelta};
use crate::verdict::Open;

/// What no capture of these sensors can show.
const NOT_PROVED: [&str; 6] = [
    "A sensor sees the wheel on the camshaft, not the valves. A wheel that turned on its shaft looks like a shaft that turned, unless compression or valve events agree.",
    "All camshafts off alike: a skip at the crank sprocket, a moved crank wheel or key, and a wrong reference look the same.",
    "A skip on either sprocket of a chain between two shafts looks the same.",
    "Relative compression cannot show all cylinders down alike.",
    "Why it happened, and whether chain, guides, tensioner, valves or pistons are damaged.",
    "It rests on the engine description used. If that is wrong, so is this.",
];

/// Finding and table. The signals stand below them, or further back.
pub(super) fn first_page(analysis: &Analysis) -> Markup {
    html! {
        h2 { "For the technician" }
        p.sentence { (words::whole_finding(analysis)) }
        (cam_table(analysis))
    }
}

/// What is asked, how likely each explanation is, what was typed in.
pub(super) fn answers(analysis: &Analysis) -> Markup {
    html! {
        (questions(analysis))
        @if !analysis.engine.cams.is_empty() { (explanations(analysis)) }
        (typed::codes(analysis))
        (typed::controller(analysis))
    }
}

/// What the second page says below the answers.
pub(super) struct Remark {
    /// 0 stays; of the others, the greatest goes into the annex first.
    pub less_urgent: u8,
    pub markup: Markup,
}

/// In the order in which they are read.
pub(super) fn remarks(analysis: &Analysis) -> Vec<Remark> {
    let all = [
        (2, signals(analysis)),
        (1, notes(analysis)),
        (5, capture(analysis)),
        (6, description(analysis)),
        // Page one points to them here.
        (0, assumed()),
        (4, not_proved(analysis)),
        (3, cautions()),
    ];
    all.into_iter().map(|(less_urgent, markup)| Remark { less_urgent, markup }).collect()
}

/// What stands in the table of cams behind their names. On a narrow screen every cell says its own.
const HEADS: [&str; 6] =
    ["Stands at", "Should be", "Off", "95 % sure between", "Teeth, left over", "Cycles, scatter"];

fn cam_table(analysis: &Analysis) -> Markup {
    if analysis.engine.cams.is_empty() {
        return html! {};
    }
    html! {
        div.wide tabindex="0" role="region" aria-label="Camshafts, as a table" { table.cams {
            thead { tr {
                th scope="col" { "Camshaft" }
                @for head in HEADS { th scope="col" { (head) } }
            } }
            tbody {
                @for cam in &analysis.cams { (cam_row(analysis, cam)) }
                @for &cam in &analysis.unmeasured {
                    tr {
                        th scope="row" { (analysis.engine.cams[cam].name) }
                        td colspan="6" {
                            "not measured: "
                            @if analysis.has_lead(cam) { "its wheel was not found on its lead" } @else { "no lead" }
                        }
                    }
                }
            }
        } }
        @for pair in &analysis.bank_differences {
            p.pair {
                (analysis.engine.cams[pair.cams.0].name) " against " (analysis.engine.cams[pair.cams.1].name) ": "
                b { (pair.difference) }
                " (95 % sure between "
                (between(pair.difference - pair.half_width95, pair.difference + pair.half_width95)) ")"
            }
        }
    }
}

fn cam_row(analysis: &Analysis, cam: &CamResult) -> Markup {
    let described = &analysis.engine.cams[cam.measured.cam];
    let measured = &cam.measured;
    html! {
        tr {
            th scope="row" { (described.name) }
            td data-head=(HEADS[0]) { (format!("{:.1}°", measured.position.get())) }
            td data-head=(HEADS[1]) { (cam.expected.map_or("unknown".into(), |expected| format!("{:.1}°", expected.at.get()))) }
            td data-head=(HEADS[2]) { b { (cam.deviation().map_or("unknown".into(), |off| off.to_string())) } }
            td data-head=(HEADS[3]) {
                @match cam.ci95() {
                    Some((low, high)) => { (between(low, high)) },
                    None => { (format!("± {:.1}°", measured.half_width95.0)) },
                }
            }
            td data-head=(HEADS[4]) { (teeth(cam)) }
            td data-head=(HEADS[5]) {
                (measured.cycles.len())
                @if let Some(sd) = measured.cycle_sd { ", " (scatter(sd)) }
                @if cam.known_modulo < CrankDelta(CYCLE_DEG) {
                    "; " (repeats(cam))
                }
            }
        }
    }
}

/// "± 0.3°", never "± 0.0°".
fn scatter(sd: CrankDelta) -> String {
    if sd.word().is_empty() { "under ± 0.1°".into() } else { format!("± {:.1}°", sd.0) }
}

/// What the owner asks, each with its odds and its reason.
fn questions(analysis: &Analysis) -> Markup {
    let answered = words::told_once(words::questions(&analysis.engine, &analysis.verdict));
    if answered.is_empty() {
        return html! {};
    }
    html! {
        h3 { "What is asked" }
        table.odds { tbody {
            @for one in answered {
                tr { td { (percent(one.probability)) } td { b { (one.question) " " (one.answer) ". " } (one.why) } }
            }
        } }
    }
}

fn explanations(analysis: &Analysis) -> Markup {
    let said = analysis
        .verdict
        .explanations
        .iter()
        .filter(|weighed| weighed.probability >= WORTH_SAYING)
        .take(MOST_SAID);
    // Odds that rest on an assumption say nothing of this engine.
    let assumed = matches!(analysis.verdict.open, Some(Open::Assumed { .. }));
    html! {
        @if !assumed { h3 { "How likely each explanation is" } }
        @if !assumed { table.odds { tbody {
            @for weighed in said {
                tr { td { (percent(weighed.probability)) } td { b { (capital(&words::explanation(&analysis.engine, weighed))) ". " } (words::why(&analysis.engine, weighed)) } }
            }
        } } }
        @if let Some(next) = words::next(&analysis.engine, &analysis.verdict) {
            p { b { "Measure next: " } (next) }
        }
    }
}

fn signals(analysis: &Analysis) -> Markup {
    html! {
        h3 { "Signals" }
        table.signals { tbody {
            @for lead in &analysis.leads {
                tr {
                    th scope="row" { (lead.name) }
                    td {
                        @if lead.column != lead.name { "column “" (lead.column) "”" }
                        @if analysis.captures.len() > 1 { " " (lead.capture) }
                    }
                    td { (health(analysis, lead)) }
                }
            }
        } }
    }
}

/// A lead's signal in a word or two.
fn health(analysis: &Analysis, lead: &LeadReport) -> String {
    let position = matches!(lead.role, Role::Crank | Role::Cam(_));
    if !position {
        return use_of(analysis, &lead.role).into();
    }
    if lead.faults.is_empty() {
        return "nothing wrong seen".into();
    }
    let words: Vec<String> = lead
        .faults
        .iter()
        .map(|fault| match fault {
            SignalFault::Dead => "no signal".into(),
            SignalFault::Clipped(share) => {
                format!("at the limit of the range {:.1} % of the time", share * 100.0)
            }
            SignalFault::Noisy(share) => format!("noise {:.0} % of the signal", share * 100.0),
            SignalFault::Wrapped(1) => "range overflowed once".into(),
            SignalFault::Wrapped(times) => format!("range overflowed {times} times"),
            SignalFault::Glitches(Glitches { count: 1, .. }) => {
                "1 pulse too short, left out".into()
            }
            SignalFault::Glitches(Glitches { count, .. }) => {
                format!("{count} pulses too short, left out")
            }
        })
        .collect();
    words.join("; ")
}

/// What became of a lead that is no position sensor.
fn use_of(analysis: &Analysis, role: &Role) -> &'static str {
    let source = match role {
        Role::Starter => Source::StarterCurrent,
        Role::Battery => Source::BatteryVoltage,
        _ => return "recorded",
    };
    let compression = &analysis.compression;
    if compression.measured.as_ref().is_some_and(|measured| measured.source == source) {
        "used for compression"
    } else if compression.withheld.iter().any(|(withheld, _)| *withheld == source) {
        "not used for compression"
    } else {
        "not needed"
    }
}

fn notes(analysis: &Analysis) -> Markup {
    let warnings = words::warnings(analysis);
    if warnings.is_empty() {
        return html! {};
    }
    html! {
        h3 { "Take note" }
        ul { @for warning in &warnings { li { b { (warning.about) ": " } (warning.text) } } }
    }
}

fn capture(analysis: &Analysis) -> Markup {
    let crank = &analysis.crank;
    let doing = match crank.condition {
        Condition::Cranking => "cranking",
        Condition::Running => "running",
        Condition::Mixed => "cranking and running",
    };
    // Of slots only the marking edge counts, and what is doubtful of that is said apart.
    let exchanged = |doubt: &EdgeDoubt| doubt.why == WhyDoubted::WiresExchanged;
    let allowed_for =
        crank.edge_from == EdgeFrom::Wheel || crank.edge_doubt.as_ref().is_some_and(exchanged);
    let wiring = match crank.polarity {
        Some(Polarity::Inverted) if allowed_for => {
            " The signal is the other way up than described; the angles allow for it."
        }
        _ => "",
    };
    html! {
        h3 { "The capture" }
        p {
            (analysis.captures.join(", ")) ": " (doing)
            (format!(
                " at {:.0} rpm ({:.0} to {:.0}), {}; {:.1} s used, {:.1} s left out.",
                crank.rpm_mean.0, crank.rpm_min.0, crank.rpm_max.0,
                counted(analysis.cycles, "whole cycle", "whole cycles"),
                analysis.seconds_used.0, analysis.seconds_dropped.0
            ))
            " Crank wheel read on “" (analysis.crank_lead) "” as " (analysis.engine.crank.wheel.name())
            (format!(
                ": {} teeth, {} missed, {} extra; slots identified with odds of {}.",
                crank.teeth_seen, crank.missed, crank.extra, percent(crank.confidence)
            ))
            (wiring)
            @if analysis.known_modulo.0 < CYCLE_DEG && !analysis.engine.cams.is_empty() {
                (format!(" Places are known only up to a multiple of {:.0}°.", analysis.known_modulo.0))
            }
        }
    }
}

fn description(analysis: &Analysis) -> Markup {
    let engine = &analysis.engine;
    let order: Vec<String> = engine.firing_order.iter().map(u32::to_string).collect();
    html! {
        h3 { "Engine description used" }
        p {
            (engine.name) "; firing order " (order.join("-")) "; crank wheel " (engine.crank.wheel.name())
            @if let Some(tdc) = engine.crank.tdc { (format!(", TDC 1 at {:.1}°", tdc.0)) }
            "."
            @for (index, cam) in engine.cams.iter().enumerate() {
                " " (cam.name) ": " (cam.wheel.name())
                @if let Some((at, sd)) = engine.expected(index) {
                    (format!(" at {:.1}°", at.get()))
                    @if let Some(sd) = sd { (format!(" ± {:.1}°", 2.0 * sd.0)) }
                }
                (format!(", tolerance {:.1}°.", cam.tolerance.0))
            }
            @for chain in &engine.drive.chains {
                " " (capital(&words::chain(chain))) ": " (chain.driver.on) " " (chain.driver.teeth) " teeth to "
                @for (index, driven) in chain.driven.iter().enumerate() {
                    @if index > 0 { ", " }
                    (driven.on) " " (driven.teeth)
                }
                (format!("; a tooth is {:.2}°.", chain.step().0))
            }
        }
    }
}

/// What the odds are given, so that "over 99 %" can be read for what it is.
const ASSUMED: [&str; 4] = [
    "The description of the engine is that of this engine: wheels, places, drive.",
    "The leads carry what they are named, or two of them exchanged.",
    "Faults come about as often as the trade believes; no published frequencies are known.",
    words::CALIBRATION,
];

fn assumed() -> Markup {
    html! {
        h3 { "What the odds assume" }
        ul { @for text in ASSUMED { li { (text) } } }
    }
}

fn not_proved(analysis: &Analysis) -> Markup {
    html! {
        h3 { "What this does not prove" }
        ul {
            @for text in NOT_PROVED { li { (text) } }
            @if !analysis.unmeasured.is_empty() {
                li { "Anything about the camshafts that were not measured." }
            }
        }
    }
}

fn cautions() -> Markup {
    html! {
        h3 { "Cautions" }
        ul.cautions { @for text in words::cautions() { li { (text) } } }
    }
}
