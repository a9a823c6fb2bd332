//! The hook-up sheet, for printing and taking to the car.

use std::fmt::Write as _;

use super::wrap::{Lines, WIDTH, bullet, first_cell, hanging, paragraph};
use crate::edges::USUAL_PULSE;
use crate::engine::{Engine, Sensor};
use crate::leads::Role;
use crate::plan::{CaptureSet, Plan, PlannedLead, TimingRate};
use crate::report::words;

/// Room for the name of a lead.
const NAME_WIDE: usize = 16;

/// Writes the sheet. What is to be done with the captures then, the front says.
#[must_use]
pub fn write(engine: &Engine, plan: &Plan) -> String {
    write_to_width(engine, plan, WIDTH)
}

/// [`write()`] wrapped to `width` characters.
#[must_use]
pub fn write_to_width(engine: &Engine, plan: &Plan, width: usize) -> String {
    let mut out = Lines::new(width);
    let _ = writeln!(out, "Hook-up sheet: {}\n", engine.name);
    cautions(&mut out);
    odd(&mut out, engine);
    leads(&mut out, plan);
    ranges(&mut out, engine);
    settings(&mut out, plan);
    procedure(&mut out, plan);
    out.into_text()
}

fn cautions(out: &mut Lines) {
    out.push_str("Before anything else\n");
    for caution in words::cautions() {
        bullet(out, caution);
    }
}

/// What looks odd in the description: better found before the car is in the bay.
fn odd(out: &mut Lines, engine: &Engine) {
    if !engine.notes.is_empty() {
        out.push_str("\nThe engine file\n");
    }
    for note in &engine.notes {
        bullet(out, &note.to_string());
    }
}

fn leads(out: &mut Lines, plan: &Plan) {
    let count = plan.sets.len();
    for (number, set) in (1..).zip(&plan.sets) {
        let title = if count == 1 {
            "Leads".to_owned()
        } else {
            format!("Leads, capture {number} of {count}")
        };
        let _ = writeln!(out, "\n{title}");
        for lead in &set.leads {
            let mark = format!("  [ ] Channel {}  ", lead.channel);
            let row = first_cell(out, &lead.name, &mark, NAME_WIDE);
            hanging(out, on(lead), &format!("{row} "));
        }
    }
    paragraph(
        out,
        "Give the channels these names in the scope, and check finds them by itself. Leads go on at connectors that can be \
         reached without dismantling anything; back-probe, do not pierce insulation. Ground all leads at the engine, at one point.",
        "  ",
    );
    if plan.sets.iter().any(CaptureSet::has_coil) {
        paragraph(
            out,
            "The clamp and the coil come first: check tells from them which cylinders and which bank pull less, and so where to \
             look. Any coil that can be reached will do: give its channel the number of its cylinder, as in \"ignition 3\". \
             Where no coil can be reached, an injector serves (\"injector 3\").",
            "  ",
        );
    }
    if count > 1 {
        paragraph(
            out,
            "The engine has more sensors than the scope has free channels: make the captures one after the other, the engine \
             in one condition, and give all of them to check together.",
            "  ",
        );
    }
}

fn on(lead: &PlannedLead) -> &'static str {
    match (lead.role, lead.sensor) {
        (_, Some(Sensor::Hall)) => "signal wire of the sensor (square wave), DC coupled",
        (_, Some(Sensor::Reluctance)) => "the sensor's two wires (reluctance), DC coupled",
        (_, Some(Sensor::Pulse)) => "signal wire of the sensor (short pulses), DC coupled",
        (Role::Ignition(_), None) => {
            "control wire of that cylinder's coil (not the high-voltage side), DC coupled"
        }
        (_, None) => {
            "current clamp around the starter or battery cable, all strands, zeroed, DC coupled"
        }
    }
}

fn ranges(out: &mut Lines, engine: &Engine) {
    out.push_str(
        "\nScope range (common practice; widen it when a trace touches the top or bottom)\n",
    );
    let has = |sensor: Sensor| {
        engine.crank.described && engine.crank.sensor == sensor
            || engine.cams.iter().any(|cam| cam.sensor == sensor)
    };
    if has(Sensor::Hall) || has(Sensor::Pulse) {
        bullet(out, "Square-wave sensors: 10 V for a 5 V supply, 20 V for a 12 V supply.");
    }
    if has(Sensor::Reluctance) {
        bullet(
            out,
            "Reluctance sensors: start at ±5 V for cranking. The voltage grows with speed, from 0.3 V at slow cranking to tens \
             of volts running: ±50 V if the engine may start.",
        );
    }
    bullet(
        out,
        "Starter clamp: a range of 1000 A for the inrush, the clamp's own scale entered in the scope, or given to check as \
         \"starter=Channel 4:100A/V\".",
    );
}

fn settings(out: &mut Lines, plan: &Plan) {
    let options = &plan.options;
    let fast = options.rpm.degrees_per_second() * 1.25;
    let _ = writeln!(
        out,
        "\nSettings for ±{}° at {:.0} rpm cranking\n  Sample rate  {} per second and channel, or more\n  Length       {:.0} s, or more",
        options.accuracy.0,
        options.rpm.0,
        grouped(plan.rate),
        plan.seconds.0
    );
    out.push_str("  How these are worked out:\n");
    if let Some(timing) = &plan.timing {
        for line in timing_lines(plan, timing, fast) {
            bullet(out, &line);
        }
    }
    if let Some(rate) = plan.rate_for_coil {
        bullet(
            out,
            &format!(
                "Coil: its control is on for some milliseconds, its spark lasts one to two. At less than {} per second a pulse \
                 can fall between two samples, and the cycle it marks is lost.",
                grouped(rate)
            ),
        );
    }
    if plan.timing.is_none() {
        bullet(out, &format!("Up to the scope's next step: {}.", grouped(plan.rate)));
    }
    bullet(
        out,
        &format!(
            "Length: sound cams vary by about 0.2° from cycle to cycle. {} cycles average to ±{:.2}°; they take {:.1} s, and \
             1.5 s are for starting and run-up.",
            plan.cycles,
            plan.averaged.0,
            plan.cycles as f64 * 120.0 / options.rpm.0
        ),
    );
    if plan.timing.is_none() {
        return;
    }
    bullet(
        out,
        "Not in these figures: errors of the wheels themselves, some tenths of a degree, and how well the expected place is known.",
    );
}

/// How the rate follows from what the position sensors ask for.
fn timing_lines(plan: &Plan, timing: &TimingRate, fast: f64) -> [String; 4] {
    let options = &plan.options;
    let speed = options.rpm.degrees_per_second();
    [
        format!(
            "{:.0} rpm is {speed:.0}° of the crank per second; within a turn up to a quarter more, {fast:.0}°/s.",
            options.rpm.0
        ),
        format!(
            "Timing: an edge between two samples is known to step/√12. A cam edge and the crank beside it: √2 of that; 95 % \
             sure: 1.96 of that. 1.96 × √2 × {fast:.0} / ({} × √12) = {} per second.",
            options.accuracy.0,
            grouped(timing.rate_for_timing.ceil())
        ),
        shape(timing, fast),
        format!(
            "The larger, up to the scope's next step: {}. One edge is then known to {:.2}° (standard deviation).",
            grouped(plan.rate),
            timing.edge_sd.0
        ),
    ]
}

/// How the rate follows from the shortest feature; `fast` is the crank's highest speed in degrees
/// per second.
fn shape(timing: &TimingRate, fast: f64) -> String {
    let (lead, samples) = (&timing.finest.lead, timing.samples_per_feature);
    let rate = grouped(timing.rate_for_shape.ceil());
    let feature = match timing.finest.sensor {
        Sensor::Hall => "shortest level",
        Sensor::Reluctance => "closest teeth",
        Sensor::Pulse => {
            let pulse = USUAL_PULSE.0 * 1e6;
            return format!(
                "Shape: the sensor on \"{lead}\" gives a pulse of about {pulse:.0} µs per tooth at any speed (common practice; \
                 longer ones turning back). {samples} samples on each: {samples} / {pulse:.0} µs = {rate} per second. At a \
                 lower rate pulses fall between samples and teeth are lost."
            );
        }
    };
    let lasts = timing.finest.lasts.0;
    format!(
        "Shape: {feature} of any wheel, on \"{lead}\", {lasts:.1}° of the crank, {samples:.0} samples: {samples:.0} × {fast:.0} \
         / {lasts:.1} = {rate} per second."
    )
}

fn procedure(out: &mut Lines, plan: &Plan) {
    out.push_str("\nProcedure (the maker's service information comes first)\n");
    let coil = plan.sets.iter().any(CaptureSet::has_coil);
    let prevent = if coil {
        "Prevent starting by disabling fuel, by the maker's procedure. Leave the spark alive for the capture with a coil: it \
         marks the cycles. What fuel is left in the rail still fires: crank until its pressure has run out. Never prevent \
         starting by unplugging the crank sensor: without it no coil sparks."
    } else {
        "Prevent starting by the maker's procedure: disable fuel or ignition."
    };
    let steps = [
        "Read and note the stored codes. Do not clear them.".to_owned(),
        "Key off. Connect the leads as above; route them clear of belts, fans and hot parts.".to_owned(),
        prevent.to_owned(),
        "Support the battery with a charger, so that cranking is steady.".to_owned(),
        "Hold the throttle open, or as the maker's compression-test procedure says; on electronic throttles use clear-flood mode where there is one.".to_owned(),
        format!(
            "Start the scope, then crank for {:.0} s. Stop at once at unusual noise or binding.",
            plan.seconds.0 - 1.0
        ),
        if plan.timing.is_some() {
            "Look at every trace: no flat tops, no dead channel, teeth at even height.".to_owned()
        } else {
            "Look at every trace: no flat tops, no dead channel, a peak of current for every compression.".to_owned()
        },
        "Save as CSV with all samples and the channel names. Let the starter cool before the next try.".to_owned(),
        "Restore what was disabled. Do not start an engine whose timing may have jumped.".to_owned(),
    ];
    for (number, step) in (1..).zip(&steps) {
        hanging(out, step, &format!("  [ ] {number}. "));
    }
}

/// A rate with its thousands set apart.
fn grouped(rate: f64) -> String {
    let digits = format!("{rate:.0}");
    let count = digits.len();
    let mut out = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (count - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}
