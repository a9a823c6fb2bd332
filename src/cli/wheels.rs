//! `camwitness wheels`: lists, draws and validates tooth patterns.

use std::fmt::Write as _;

use clap::Args;

use super::{DONE, Failure, Job};
use crate::output::Files;
use crate::units::TURN_DEG;
use crate::wheel::{EdgeKind, Form, LIBRARY, Wheel, WheelSource, parse_wheel};

/// Options of `wheels`.
#[derive(Debug, Args)]
pub struct WheelsArgs {
    /// Name from the library, notation such as 60-2, or path of a wheel file. Without it, every
    /// wheel of the library is listed
    name: Option<String>,
}

/// Characters one turn takes in a drawing: 5° each.
const COLUMNS: usize = 72;

impl Job for WheelsArgs {
    /// It writes nothing.
    fn files(&self) -> Files {
        Files::default()
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        run(self).map(|text| (text, DONE))
    }
}

fn run(args: &WheelsArgs) -> Result<String, Failure> {
    match &args.name {
        Some(name) => {
            let wheel = WheelSource::Named(name.clone()).resolve(None, name, "")?;
            Ok(in_full(&wheel))
        }
        None => {
            let mut text = String::new();
            for entry in LIBRARY {
                let wheel = parse_wheel(entry.text, entry.name)?;
                let _ = writeln!(text, "{:<22} {}", entry.name, wheel.name());
                let _ = writeln!(text, "  {}", wheel.drawing(COLUMNS));
            }
            text.push_str(
                "\nOne line is one turn of the wheel's shaft, left to right in the direction of rotation. \
                 `camwitness wheels NAME` tells more.\n",
            );
            Ok(text)
        }
    }
}

fn teeth(count: usize) -> String {
    if count == 1 { "1 tooth".into() } else { format!("{count} teeth") }
}

/// Everything about one wheel.
fn in_full(wheel: &Wheel) -> String {
    let mut text = String::new();
    let _ = writeln!(text, "{}", wheel.name());
    let _ = writeln!(text, "  {}", wheel.drawing(COLUMNS));
    let _ = writeln!(text, "  0°{:>width$}", "360°", width = COLUMNS - 2);
    match wheel.form() {
        Form::Slots { slots, missing, width } => {
            let pitch = TURN_DEG / f64::from(*slots);
            let _ =
                writeln!(text, "  {slots} slots {pitch:.2}° apart, {}", teeth(wheel.tooth_count()));
            if !missing.is_empty() {
                let list: Vec<String> = missing.iter().map(u32::to_string).collect();
                let _ = writeln!(text, "  missing: {}", list.join(", "));
            }
            match width {
                Some(width) => _ = writeln!(text, "  a tooth is high for {:.1}°", width.get()),
                None => text.push_str("  width of a tooth not stated; drawn as half a slot\n"),
            }
        }
        Form::Teeth(list) => {
            let _ = writeln!(text, "  {}, in degrees of its shaft:", teeth(list.len()));
            for tooth in wheel.teeth(EdgeKind::Falling) {
                let (start, end) = (tooth.start.get(), tooth.end().get());
                let _ = writeln!(
                    text,
                    "    {start:6.1}° to {end:6.1}°  ({:.1}° wide)",
                    tooth.width.get()
                );
            }
        }
    }
    match wheel.repeats() {
        1 => text.push_str("  tells every angle of its turn apart\n"),
        k => {
            let _ = writeln!(
                text,
                "  looks the same every {:.0}° of its shaft",
                TURN_DEG / f64::from(k)
            );
        }
    }
    for (word, value) in [("notes", wheel.notes()), ("source", wheel.source())] {
        if let Some(value) = value {
            let _ = writeln!(text, "  {word}: {value}");
        }
    }
    text
}
