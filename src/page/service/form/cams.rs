//! A camshaft of the form: with a wheel of its own, or the same as another one some degrees later.

use serde::Deserialize;
use toml::{Table, Value};

use super::fields::{Filled, number, wheel_of, wrong};
use super::key;

#[derive(Debug, Deserialize)]
pub(super) struct CamForm {
    name: String,
    bank: String,
    shaft: String,
    /// Name of the camshaft this one is the same as; empty where it has a wheel of its own.
    same_as: String,
    later: String,
    wheel: String,
    sensor: String,
    at: String,
    rest: String,
    travel: String,
}

impl CamForm {
    pub fn name(&self) -> &str {
        self.name.trim()
    }

    /// Writes it; `before` are the names of those above it.
    pub fn write(&self, out: &mut String, index: usize, before: &[&str]) -> Filled<()> {
        let field = |name: &str| format!("cam{index}_{name}");
        if self.name().is_empty() {
            return wrong(&field("name"), "Name this camshaft, for example B1 intake.");
        }
        if before.contains(&self.name()) {
            return wrong(
                &field("name"),
                "Another camshaft has this name. Give it one of its own.",
            );
        }
        let Ok(bank) = self.bank.trim().parse::<i64>() else {
            return wrong(&field("bank"), "Give the bank's number, 1 or 2.");
        };
        out.push_str("\n[[cam]]\n");
        key(out, "name", self.name());
        key(out, "bank", bank);
        key(out, "shaft", self.shaft.as_str());
        if self.same_as.trim().is_empty() {
            key(out, "wheel", wheel_of(&field("wheel"), &self.wheel)?);
            key(out, "sensor", self.sensor.as_str());
            if let Some(at) = number(&field("at"), &self.at)? {
                key(out, "at", at);
            }
        } else {
            let Some(later) = number(&field("later"), &self.later)? else {
                return wrong(
                    &field("later"),
                    "Say how many crank degrees later it stands; 0 for none.",
                );
            };
            let same_as = Table::from_iter([
                ("cam".into(), Value::from(self.same_as.trim())),
                ("later".into(), later.into()),
            ]);
            key(out, "same_as", same_as);
        }
        if let Some(travel) = number(&field("travel"), &self.travel)? {
            let phaser = Table::from_iter([
                ("rest".into(), Value::from(self.rest.as_str())),
                ("travel".into(), travel.into()),
            ]);
            key(out, "phaser", phaser);
        }
        Ok(())
    }
}
