//! The short form: a few fields become an engine file.

mod cams;
mod drive;
mod fields;
mod place;
mod values;

use std::fmt::Write as _;

use serde::Deserialize;
use toml::Value;

pub(super) use values::{FormValues, values};

use cams::CamForm;
use drive::ChainForm;
use fields::{Filled, cylinders, number, wheel_of, wrong};

/// The form as it is sent. Numbers are text as typed, empty where nothing was.
#[derive(Debug, Deserialize)]
pub(super) struct EngineForm {
    name: String,
    firing_order: String,
    bank1: String,
    bank2: String,
    crank_wheel: String,
    crank_sensor: String,
    crank_edge: String,
    tdc: String,
    tolerance: String,
    cams: Vec<CamForm>,
    chains: Vec<ChainForm>,
}

impl EngineForm {
    /// The text of the engine file.
    pub fn to_toml(&self) -> Filled<String> {
        if self.name.trim().is_empty() {
            return wrong("name", "Give the engine a name.");
        }
        let mut out = String::new();
        key(&mut out, "name", self.name.trim());
        key(&mut out, "firing_order", cylinders("firing_order", &self.firing_order)?);
        if let Some(tolerance) = number("tolerance", &self.tolerance)? {
            key(&mut out, "tolerance", tolerance);
        }
        if !self.bank2.trim().is_empty() {
            out.push_str("\n[banks]\n");
            key(&mut out, "1", cylinders("bank1", &self.bank1)?);
            key(&mut out, "2", cylinders("bank2", &self.bank2)?);
        }
        self.crank(&mut out)?;
        for (index, cam) in self.cams.iter().enumerate() {
            let before = self.cams[..index].iter().map(CamForm::name);
            cam.write(&mut out, index, &before.collect::<Vec<&str>>())?;
        }
        for (index, chain) in self.chains.iter().enumerate() {
            chain.write(&mut out, index)?;
        }
        Ok(out)
    }

    fn crank(&self, out: &mut String) -> Filled<()> {
        out.push_str("\n[crank]\n");
        key(out, "wheel", wheel_of("crank_wheel", &self.crank_wheel)?);
        key(out, "sensor", self.crank_sensor.as_str());
        if !self.crank_edge.is_empty() {
            key(out, "edge", self.crank_edge.as_str());
        }
        if let Some(tdc) = number("tdc", &self.tdc)? {
            key(out, "tdc", tdc);
        }
        Ok(())
    }

    /// The field that wrote a key of the engine file; empty when no field alone did.
    pub fn field_of(&self, key: &str) -> String {
        let cams: Vec<&str> = self.cams.iter().map(CamForm::name).collect();
        let chains: Vec<&str> = self.chains.iter().map(ChainForm::name).collect();
        place::field_of(key, &cams, &chains)
    }
}

/// One line of the file.
fn key(out: &mut String, key: &str, value: impl Into<Value>) {
    let _ = writeln!(out, "{key} = {}", value.into());
}
