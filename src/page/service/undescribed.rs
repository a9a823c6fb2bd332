//! A measurement without an engine file: what the capture shows by itself, and two fields.

use std::sync::Arc;

use super::answer::Refusal;
use super::held::{HeldCapture, HeldEngine};
use crate::analysis::Analysis;
use crate::capture::Capture;
use crate::engine::Engine;
use crate::error::DescriptionError;
use crate::leads::LeadRequest;
use crate::look::{Facts, Undescribable, Undescribed, common_layouts, read_banks, read_firing};
use crate::practice::DEMONSTRATION_ENGINE;
use crate::report::words::capital;

/// What was typed into the two fields.
pub(super) fn facts(firing: &str, banks: &str) -> Result<Facts, Refusal> {
    let read = |text: &str| (!text.trim().is_empty()).then(|| text.trim().to_owned());
    let refused = |why: String, field| Refusal::unusable(capital(&why)).at(field);
    let order = read(firing).map(|text| read_firing(&text)).transpose();
    let order = order.map_err(|why| refused(why, "firing"))?;
    let lists = read(banks).map(|text| read_banks(&text)).transpose();
    let lists = lists.map_err(|why| refused(why, "banks"))?;
    if let Some(lists) = &lists {
        let Some(order) = &order else {
            let why =
                "Banks name cylinders, and their firing order is not known. Fill it in as well";
            return Err(Refusal::unusable(why).at("firing"));
        };
        let mut named: Vec<u32> = lists.values().flatten().copied().collect();
        let mut all = order.clone();
        named.sort_unstable();
        all.sort_unstable();
        if named != all {
            let why = "Firing order and banks do not name the same cylinders. Give each cylinder one bank";
            return Err(Refusal::unusable(why).at("banks"));
        }
    }
    Ok(Facts { firing: order, banks: lists, ..Facts::default() })
}

/// Stands for the engine until the capture has shown it.
pub(super) fn placeholder(captures: &[Arc<HeldCapture>]) -> Result<HeldEngine, Refusal> {
    if captures.len() > 1 {
        let why = "Without an engine one capture is measured at a time. Choose an engine, or take the others out";
        return Err(Refusal::unusable(why).at("engine"));
    }
    let held = Engine::parse(DEMONSTRATION_ENGINE, "engine.toml".as_ref());
    let mut engine = held.map_err(|error: DescriptionError| Refusal::broken(error))?;
    engine.name = "No engine chosen".into();
    engine.cams.iter_mut().for_each(|cam| cam.name.clear());
    Ok(HeldEngine::new(engine, String::new()))
}

/// Describes the engine of a capture; else why not, and the fields that would mend it.
pub(super) fn describe(
    capture: &Capture,
    leads: &[LeadRequest],
    facts: &Facts,
) -> Result<Undescribed, (String, Vec<&'static str>)> {
    crate::look::describe(capture, leads, facts).map_err(|error| match error {
        Undescribable::WheelGiven(why) => (format!("{}.", capital(&why)), vec![]),
        Undescribable::NoWheel(doubt) => (
            format!(
                "Without an engine the crank's wheel has to be seen, and {doubt}. Choose in step 1 which column is the crank, or write an engine with its wheel."
            ),
            vec!["leads"],
        ),
        Undescribable::NoCylinders => (
            "How many cylinders the engine has is not seen in its speed. Fill in its firing order."
                .into(),
            vec!["firing"],
        ),
        Undescribable::Engine(error) => (format!("{}.", capital(&error.what)), vec!["leads"]),
    })
}

/// What could be compared, and what one more fact would add.
pub(super) fn said(analysis: &Analysis) -> Vec<String> {
    let engine = &analysis.engine;
    let held = |cam: usize| engine.rests_on_assumption(cam);
    let names = analysis.cams.iter().filter(|cam| held(cam.measured.cam));
    let names: Vec<&str> = names.map(|cam| engine.cams[cam.measured.cam].name.as_str()).collect();
    let mut said = Vec::new();
    said.push(if names.is_empty() {
        "Compared: no cam, because no two wheels were seen that are alike. Places are measured and not judged.".to_owned()
    } else {
        format!(
            "Compared: {} with a cam whose wheel is alike. That both are clocked alike is assumed.",
            names.join(", ")
        )
    });
    if engine.firing_assumed {
        said.push("The firing order would name cylinders and banks.".into());
    } else if engine.banks.len() < 2 {
        said.push("The banks would compare their compression.".into());
    }
    if let Some(measured) = &analysis.compression.measured
        && !measured.is_named()
    {
        said.push(
            "A lead on one coil, as “ignition” with its cylinder, would say which cylinder is which."
                .into(),
        );
    }
    said.push("A known-good of this engine, or the maker's places in an engine file, would make a finding of it.".into());
    said
}

/// Layouts to choose from, by the number of cylinders: firing order and banks.
pub(super) fn layouts() -> Vec<(usize, &'static str, &'static str)> {
    let layouts = common_layouts(None).into_iter();
    layouts.map(|(order, banks)| (order.split('-').count(), order, banks)).collect()
}
